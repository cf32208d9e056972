package proof

import (
	"crypto/ed25519"
	"encoding/base64"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"
)

// inventedList is a list about nothing that exists.
func inventedList() List {
	return List{Shop: "river-street", Issued: time.Date(2026, 12, 1, 8, 0, 0, 0, time.UTC), Size: 2000, Root: [20]byte{1, 2, 3}, Rows: []Row{
		{"D-000007", Withdrawn, ""}, {"D-000122", Superseded, "D-000123"}, {"R-000004", Superseded, "R-000005"},
	}}
}

func TestListGivesWhatWasSigned(t *testing.T) {
	for name, l := range map[string]List{
		"rows": inventedList(),
		"none": {Shop: "river-street", Issued: inventedList().Issued, Size: 1},
		"keys": {Shop: "river-street", Issued: inventedList().Issued, Size: 1, Keys: []GivenUp{{[4]byte{1, 2, 3, 4}, inventedList().Issued}}},
	} {
		text := must[string](t)(SignList(l, testKey))
		if !IsList(text) {
			t.Errorf("%s: %.20q is no list", name, text)
		}
		got := must[*List](t)(OpenList("\n"+text[:30]+"\r\n "+text[30:]+"\n", public("river-street")))
		if !reflect.DeepEqual(&l, got) {
			t.Errorf("%s: signed %+v\nopened %+v", name, l, *got)
		}
	}
}

// TestEveryLetterOfAList changes each letter of a list by one bit.
func TestEveryLetterOfAList(t *testing.T) {
	text, key := must[string](t)(SignList(inventedList(), testKey)), public("river-street")
	for bit := range 8 * len(text) {
		changed := []byte(text)
		changed[bit/8] ^= 1 << (bit % 8)
		if l, err := OpenList(string(changed), key); err == nil {
			t.Fatalf("bit %d is free: %+v", bit, l)
		}
	}
}

func TestListsThatAreNone(t *testing.T) {
	_, other, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	text := must[string](t)(SignList(inventedList(), testKey))
	proved := Text(must[[]byte](t)(Sign(invented(), testKey)))
	for _, row := range []struct {
		text string
		key  Key
		want Kind
	}{
		{text, NewKey("river-street", other.Public().(ed25519.PublicKey)), UnknownKey},
		{text, NewKey("hill-road", other.Public().(ed25519.PublicKey)), OtherShop},
		{text, Key{"hill-road", public("river-street").Mark, testKey.Public().(ed25519.PublicKey)}, Forged},
		{"", public("river-street"), NoProof},
		{proved, public("river-street"), NoProof},
		{listPrefix + "!", public("river-street"), Damaged},
		{text[:len(text)-4], public("river-street"), Damaged},
	} {
		if _, err := OpenList(row.text, row.key); kind(err) != row.want {
			t.Errorf("%.30q: %v, want %s", row.text, err, row.want)
		}
	}
	// A list and a proof never pass for each other, though one key signs both.
	message := must[[]byte](t)(Sign(invented(), testKey))
	if _, err := OpenList(listPrefix+strings.TrimRight(urlBase64(message), "="), public("river-street")); kind(err) != Newer {
		t.Errorf("a proof as a list: %v", err)
	}
	for name, spoil := range map[string]func(*List){
		"twice": func(l *List) { l.Rows = append(l.Rows, l.Rows[0]) }, "standing": func(l *List) { l.Rows[0].State = Standing },
		"by nothing": func(l *List) { l.Rows[1].By = "" }, "withdrawn by": func(l *List) { l.Rows[0].By = "D-1" }, "no shop": func(l *List) { l.Shop = "" },
	} {
		l := inventedList()
		spoil(&l)
		if _, err := SignList(l, testKey); err == nil {
			t.Errorf("%s: signed", name)
		}
	}
}

// TestStatus holds proofs against lists.
func TestStatus(t *testing.T) {
	issued := invented().Issued
	listed := inventedList().Issued
	for name, row := range map[string]struct {
		proof func(*Statement)
		list  func(*List)
		want  Status
		fault Kind
	}{
		"no list":                   {nil, nil, Status{State: Unknown, AsOf: issued}, ""},
		"no list, said by itself":   {func(s *Statement) { s.SupersededBy = "D-000200" }, nil, Status{State: Superseded, By: "D-000200", AsOf: issued}, ""},
		"stands":                    {nil, func(*List) {}, Status{State: Standing, AsOf: listed}, ""},
		"superseded":                {func(s *Statement) { s.Number = "D-000122" }, func(*List) {}, Status{State: Superseded, By: "D-000123", AsOf: listed}, ""},
		"withdrawn":                 {func(s *Statement) { s.Number = "D-000007" }, func(*List) {}, Status{State: Withdrawn, AsOf: listed}, ""},
		"report amended":            {func(s *Statement) { s.Report = "R-000004" }, func(*List) {}, Status{State: Superseded, By: "R-000005", AsOf: listed}, ""},
		"list before the record":    {nil, func(l *List) { l.Size = 1234 }, Status{State: Unknown, AsOf: issued, Older: true}, ""},
		"list that just holds it":   {nil, func(l *List) { l.Size = 1235 }, Status{State: Standing, AsOf: listed}, ""},
		"proof newer than the list": {nil, func(l *List) { l.Issued = issued.Add(-time.Hour) }, Status{State: Standing, AsOf: issued}, ""},
		"list of before it was so":  {func(s *Statement) { s.SupersededBy = "D-000200" }, func(*List) {}, Status{State: Superseded, By: "D-000200", AsOf: issued}, ""},
		"key given up":              {nil, func(l *List) { l.Keys = []GivenUp{{public("river-street").Mark, listed}} }, Status{State: KeyGivenUp, AsOf: listed, Since: listed}, ""},
		"another key given up":      {nil, func(l *List) { l.Keys = []GivenUp{{[4]byte{9}, listed}} }, Status{State: Standing, AsOf: listed}, ""},
		"another shop":              {nil, func(l *List) { l.Shop = "hill-road" }, Status{}, OtherShop},
		"two logs":                  {nil, func(l *List) { l.Size = 1240 }, Status{}, Contradict},
		"the same log":              {nil, func(l *List) { l.Size, l.Root = 1240, invented().Root }, Status{State: Standing, AsOf: listed}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			o := &Opened{invented(), public("river-street")}
			if row.proof != nil {
				row.proof(&o.Statement)
			}
			var l *List
			if row.list != nil {
				made := inventedList()
				row.list(&made)
				l = &made
			}
			got, err := StatusOf(o, l)
			if row.fault != "" {
				if kind(err) != row.fault {
					t.Errorf("%+v, %v; want %s", got, err, row.fault)
				}
				return
			}
			if got != row.want || err != nil {
				t.Errorf("%+v, %v; want %+v", got, err, row.want)
			}
		})
	}
}

// TestListSize says how long a list of many rows grows.
func TestListSize(t *testing.T) {
	l := List{Shop: "river-street", Issued: inventedList().Issued, Size: 1_000_000}
	for i := range 1000 {
		l.Rows = append(l.Rows, Row{fmt.Sprintf("D-%06d", 2*i+1), Superseded, fmt.Sprintf("D-%06d", 2*i+2)})
	}
	text := must[string](t)(SignList(l, testKey))
	if per := float64(len(text)) / 1000; per > 28 {
		t.Errorf("%.1f bytes a row", per)
	}
	if got := must[*List](t)(OpenList(text, public("river-street"))); len(got.Rows) != 1000 {
		t.Errorf("%d rows", len(got.Rows))
	}
}

func urlBase64(b []byte) string { return base64.RawURLEncoding.EncodeToString(b) }
