package desk

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wreath/internal/ledger"
	"wreath/internal/store"
	"wreath/internal/tables"
)

// claims is the table of claims as a CSV file.
func (w *world) claims() []byte {
	w.t.Helper()
	var out bytes.Buffer
	w.ok(tables.Write(&out, tables.CSV, must[tables.Table](w.t)(w.ClaimsTable(w.t.Context(), w.who["boss"]))))
	return out.Bytes()
}

// here are all items, in the order in which they came, without what differs from one import to the next.
func (w *world) here() (items []Item) {
	w.t.Helper()
	w.ok(w.o.Store.Read(w.t.Context(), w.Shop(), func(tx *store.Tx) (err error) {
		items, err = itemsInOrder(tx)
		return err
	}))
	names := map[string]string{}
	for n := range items {
		i := &items[n]
		names[i.ID] = fmt.Sprint("item ", n)
		if whole, known := names[i.PartOf]; known {
			i.PartOf = whole
		}
		i.ID, i.Entered = names[i.ID], morning
		if i.Declared != nil {
			d := *i.Declared
			d.List = ""
			i.Declared = &d
		}
	}
	return items
}

const listOfAll = "serial,marks,description,condition,metal,\"fineness, parts per thousand\",mass,mass unit,claim,claimed by,barcode,reference,part of,place\r\n" +
	",,\"wooden box, sealed\",,,,,,,,BOX-1,,,\r\n" +
	"A 1001,INVENTED WORKS,,one corner dented,gold,999.9,1000.500,g,,,T-1,2026/17,BOX-1,\r\n" +
	"A 1002,INVENTED WORKS,cast bar,,gold,999.9,0.10,kg,fine gold,refiner's certificate,T-2,2026/17,BOX-1,safe\r\n" +
	"'=1+1,'-MARK,'@band,,silver,925,,,,stamp,,,T-2,\r\n" +
	"0012,,,,palladium,999.5,31.1034768,ozt,,,,,,\r\n"

// TestListThereAndBack imports a list into an empty shop, and that shop's table of claims into a second one:
// both tables are the list, byte by byte, and both shops have the same items.
func TestListThereAndBack(t *testing.T) {
	first, second := openWorld(t), openWorld(t)
	done := must[*Imported](t)(first.ImportItems(t.Context(), first.boss(), ListFile{"all.csv", []byte(listOfAll)}))
	if got := string(first.claims()); got != listOfAll {
		t.Errorf("the claims are\n%s\nwant\n%s", got, listOfAll)
	}
	must[*Imported](t)(second.ImportItems(t.Context(), second.boss(), ListFile{"claims.csv", first.claims()}))
	if got := string(second.claims()); got != listOfAll {
		t.Errorf("the claims of the second shop are\n%s", got)
	}
	a, b := first.here(), second.here()
	if !reflect.DeepEqual(a, b) {
		t.Errorf("the first shop has\n%+v\nthe second\n%+v", a, b)
	}
	if len(a) != 5 || len(done.Items) != 5 || done.Rows != 5 {
		t.Errorf("%d items, %+v", len(a), done)
	}
	bar := a[1]
	if bar.Claim != "gold 999.9, 1000.500 g" || bar.ClaimBy != DeclaredByList || bar.Description != "listed item no. A 1001" || bar.PartOf != "item 0" {
		t.Errorf("a bar is %+v", bar)
	}
	if d := bar.Declared; d.Serial != "A 1001" || d.Mass != "1000.500" || d.MassUnit != "g" || d.Fineness != "999.9" || d.Reference != "2026/17" || d.Row != 3 {
		t.Errorf("it was declared as %+v", d)
	}
	if other := a[2]; other.ClaimBy != "declared by list: refiner's certificate" || other.Claim != "fine gold" {
		t.Errorf("another is %+v", other)
	}
	if strange := a[3]; strange.Description != "@band" || strange.Marks != "-MARK" || strange.Declared.Serial != "=1+1" || strange.PartOf != "item 2" {
		t.Errorf("a third is %+v", strange)
	}
	verified(t, first.Desk)
	verified(t, second.Desk)
}

// TestAnyItemsThereAndBack takes any items, by hand and by list, through the table of claims into another
// shop and compares.
func TestAnyItemsThereAndBack(t *testing.T) {
	word := rapid.OneOf(rapid.Just(""), rapid.StringMatching(`[=+@'" a-zé金,;-]{0,12}`), rapid.SampledFrom([]string{"'=x", "declared by list", "listed item", "gold 750", "_x0041_"}))
	rapid.Check(t, func(rt *rapid.T) {
		first, second := openWorld(t), openWorld(t)
		for n := range rapid.IntRange(1, 4).Draw(rt, "items") {
			i := Item{Description: "item " + word.Draw(rt, "description"), Marks: word.Draw(rt, "marks"), Condition: word.Draw(rt, "condition"), Claim: word.Draw(rt, "claim"), Place: word.Draw(rt, "place")}
			if rapid.Bool().Draw(rt, "tray") {
				i.Barcode = fmt.Sprint("T-", n)
			}
			must[Item](t)(first.EnterItem(t.Context(), first.boss(), i))
		}
		must[*Imported](t)(second.ImportItems(t.Context(), second.boss(), ListFile{"claims.csv", first.claims()}))
		a, b := string(first.claims()), string(second.claims())
		if a != b {
			rt.Fatalf("the second shop claims\n%s\nthe first\n%s", b, a)
		}
		for n, i := range second.here() {
			want := first.here()[n]
			if i.Description != want.Description || i.Marks != want.Marks || i.Condition != want.Condition || i.Claim != want.Claim || i.Place != want.Place || i.Barcode != want.Barcode {
				rt.Fatalf("%+v became %+v", want, i)
			}
		}
	})
}

// TestListAllOrNothing refuses a list with one bad row whole.
func TestListAllOrNothing(t *testing.T) {
	w := openWorld(t)
	before := w.all()
	f := ListFile{"bars.csv", []byte("serial,metal\nA 1,gold\nA 2,gould\n")}
	_, err := w.ImportItems(t.Context(), w.boss(), f)
	var refused *ListError
	if !errors.As(err, &refused) || refused.Trial.Mends() != 1 {
		t.Fatalf("%v, want a fault in one row", err)
	}
	trial := must[*Trial](t)(w.TryImport(t.Context(), w.who["boss"], f))
	if !reflect.DeepEqual(trial, refused.Trial) {
		t.Errorf("tried: %+v, refused: %+v", trial, refused.Trial)
	}
	if w.all() != before {
		t.Error("a list that was refused changed the store")
	}
}

// TestListTwice imports a file twice, under other names and marks too: it is entered once.
func TestListTwice(t *testing.T) {
	w := openWorld(t)
	first := must[*Imported](t)(w.ImportItems(t.Context(), w.boss(), bars))
	before := w.all()
	again := must[*Imported](t)(w.ImportItems(t.Context(), By{Who: w.who["boss"], Key: "another mark"}, ListFile{"same.csv", bars.Data}))
	if !again.Again || again.ID != first.ID || again.File != "bars.csv" || first.Again {
		t.Errorf("first %+v, again %+v", first, again)
	}
	trial := must[*Trial](t)(w.TryImport(t.Context(), w.who["boss"], bars))
	if trial.Before == nil || trial.Before.ID != first.ID || len(trial.Items) > 0 || trial.Mends() > 0 {
		t.Errorf("a trial says %+v", trial)
	}
	if w.all() != before {
		t.Error("the second import changed the store")
	}
	// The same rows saved anew are found bar by bar.
	saved := ListFile{"saved.csv", bytes.ReplaceAll(bars.Data, []byte("\r\n"), []byte("\n"))}
	trial = must[*Trial](t)(w.TryImport(t.Context(), w.who["boss"], saved))
	if got := wrongs(trial); len(got) != 4 || !strings.Contains(got[0], "T-901") || !strings.Contains(got[1], "same serial number") || !strings.Contains(got[3], first.Items[2]) {
		t.Errorf("%q", got)
	}
	// What left may come again.
	for _, id := range first.Items {
		must[Item](t)(w.MoveItem(t.Context(), w.boss(), id, "", "returned", "taken home", nil))
	}
	must[*Imported](t)(w.ImportItems(t.Context(), w.boss(), saved))
}

func wrongs(t *Trial) (out []string) {
	for _, f := range t.Findings {
		out = append(out, fmt.Sprintf("%d %s: %s", f.Row, f.Column, f.Wrong))
	}
	return out
}

// TestRowsAgainstEachOtherAndTheShop says for each row what speaks against it.
func TestRowsAgainstEachOtherAndTheShop(t *testing.T) {
	for _, row := range []struct {
		data string
		want []string // what each finding says; those with a star are warnings
	}{
		{"serial,marks\nA,X\nA,Y\n", nil},
		{"serial,marks\nA,X\nA,X\n", []string{"3 serial: row 2 has the same serial"}},
		{"serial,barcode\nA,BOX\n", []string{"2 barcode: the tray or bag BOX holds the item BOX-ID"}},
		{"serial,barcode\nA,BOX-ID\n", []string{"2 barcode: BOX-ID is the name of an item"}},
		{"serial,barcode\nA,T\nB,T\n", []string{"3 barcode: row 2 lies in the same tray"}},
		{"serial,part of\nA,BOX\nB,BOX-ID\n", nil},
		{"serial,part of\nA,Lot 12\n", []string{`2 part of: there is no item "Lot 12"`}},
		{"serial,lot\nA,l-none\n", []string{`2 lot: there is no lot "l-none"`}},
		{"serial,barcode,part of\nA,P,Q\nB,Q,\n", nil}, // the part stands before its whole
		{"serial,barcode,part of\nA,P,Q\nB,Q,P\n", []string{"2 part of: the rows are parts of each other", "3 part of: the rows are parts of each other"}},
		{"serial,barcode,part of\nA,P,P\n", []string{"2 part of: the rows are parts of each other"}},
		{"metal,mass (g)\ngold,31.1\ngold,31.1\n", []string{"3 : it says the same as row 2*"}},
		{"serial,marks\nA,\"two\nlines\"\n", []string{"2 marks: \"two\\nlines\" holds characters"}},
		{"serial,marks\nA," + strings.Repeat("m", 2001) + "\n", []string{"2 marks: "}},
		{"serial,colour\nA,red\n", []string{`0 colour: the column "colour" is not entered*`}},
	} {
		w := openWorld(t)
		box := must[Item](t)(w.EnterItem(t.Context(), w.boss(), Item{Description: "box", Barcode: "BOX"}))
		row.data = strings.ReplaceAll(row.data, "BOX-ID", box.ID)
		trial := must[*Trial](t)(w.TryImport(t.Context(), w.who["boss"], ListFile{"rows.csv", []byte(row.data)}))
		got, mends := wrongs(trial), 0
		ok := len(got) == len(row.want)
		for i := 0; ok && i < len(got); i++ {
			want, warning := strings.CutSuffix(strings.ReplaceAll(row.want[i], "BOX-ID", box.ID), "*")
			ok = strings.HasPrefix(got[i], want) && trial.Findings[i].Warning == warning
			if !warning {
				mends++
			}
		}
		if !ok {
			t.Errorf("%q: %q, want %q", row.data, got, row.want)
			continue
		}
		// What the trial says of the file is what the import does with it.
		if _, err := w.ImportItems(t.Context(), w.boss(), ListFile{"rows.csv", []byte(row.data)}); (err == nil) != (mends == 0) {
			t.Errorf("%q: the import says %v, the trial %q", row.data, err, got)
		}
	}
}

// TestUnreadableList is refused with what helps.
func TestUnreadableList(t *testing.T) {
	w := openWorld(t)
	var said *tables.ReadError
	if _, err := w.TryImport(t.Context(), w.who["boss"], ListFile{"x.csv", []byte("nothing,known\n1,2\n")}); !errors.As(err, &said) || said.Hint == "" {
		t.Errorf("%v", err)
	}
	if _, err := w.ImportItems(t.Context(), w.boss(), ListFile{"x.csv", make([]byte, MaxListBytes+1)}); !errors.As(err, &said) {
		t.Errorf("a file that is too large: %v", err)
	}
	var long strings.Builder
	long.WriteString("serial\n")
	for n := range MaxListItems + 1 {
		fmt.Fprintln(&long, n)
	}
	if _, err := w.ImportItems(t.Context(), w.boss(), ListFile{"x.csv", []byte(long.String())}); !errors.As(err, &said) {
		t.Errorf("a list that is too long: %v", err)
	}
}

// TestEvidenceOfAListedItem shows one bar without the rest of the list.
func TestEvidenceOfAListedItem(t *testing.T) {
	w := openWorld(t)
	done := must[*Imported](t)(w.ImportItems(t.Context(), w.boss(), bars))
	b := must[*ledger.Bundle](t)(w.Evidence(t.Context(), w.who["boss"], done.Items[:1]))
	_, entries, err := b.Verify(w.o.Public)
	w.ok(err)
	if len(entries) != 1 || entries[0].Kind != "item-entered" || !strings.Contains(b.Entries[0].Entry, "A 1001") || strings.Contains(b.Entries[0].Entry, "A 1002") {
		t.Errorf("%+v", b.Entries)
	}
}

// TestListOnPostgres imports a list there too.
func TestListOnPostgres(t *testing.T) {
	onBoth(t, func(t *testing.T, w *world) {
		must[*Imported](t)(w.ImportItems(t.Context(), w.boss(), ListFile{"all.csv", []byte(listOfAll)}))
		if got := string(w.claims()); got != listOfAll {
			t.Errorf("the claims are\n%s", got)
		}
		again := must[*Imported](t)(w.ImportItems(t.Context(), w.boss(), ListFile{"all.csv", []byte(listOfAll)}))
		if !again.Again {
			t.Error("it was imported twice")
		}
		b, _, err := w.EvidenceOf(t.Context(), w.who["boss"], morning, morning.AddDate(0, 0, 1))
		w.ok(err)
		if _, entries, err := b.Verify(w.o.Public); err != nil || len(entries) != 6 {
			t.Errorf("%d entries of the day: %v", len(entries), err)
		}
	})
}

// BenchmarkImport imports a list of a thousand bars.
func BenchmarkImport(b *testing.B) {
	var list strings.Builder
	list.WriteString("serial,marks,metal,fineness,mass,mass unit,barcode\n")
	for n := range 1000 {
		fmt.Fprintf(&list, "A %d,INVENTED WORKS,gold,999.9,1000.%02d,g,T-%d\n", n, n%100, n)
	}
	f := ListFile{"bars.csv", []byte(list.String())}
	for b.Loop() {
		b.StopTimer()
		w := openWorld(b)
		b.StartTimer()
		must[*Imported](b)(w.ImportItems(b.Context(), w.boss(), f))
	}
}

// TestNothingIsUnpackedForOthers refuses whoever may not import before the file is read.
func TestNothingIsUnpackedForOthers(t *testing.T) {
	w := openWorld(t)
	broken := ListFile{"broken.xlsx", []byte("PK\x03\x04 and no more")}
	_, err := w.TryImport(t.Context(), w.who["boss"], broken)
	if !errors.As(err, new(*tables.ReadError)) {
		t.Fatalf("a broken workbook: %v", err)
	}
	by := w.as("audit")
	_, err = w.TryImport(t.Context(), by.Who, broken)
	refused(t, "a trial by an auditor", err)
	_, err = w.ImportItems(t.Context(), by, broken)
	refused(t, "an import by an auditor", err)
}
