package record

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wreath/internal/determination"
	"wreath/internal/station"
	"wreath/internal/strictjson"
)

// TestSlotsFollowTheDraft asks that every list of readings of the draft is a slot, and no more.
func TestSlotsFollowTheDraft(t *testing.T) {
	var found []string
	var walk func(reflect.Type, string)
	walk = func(group reflect.Type, path string) {
		for _, f := range strictjson.Fields(group) {
			field, at := group.Field(f.Index).Type, strictjson.Join(path, f.Name)
			switch {
			case field == reflect.TypeFor[[]determination.Reading]():
				found = append(found, at)
			case field.Kind() == reflect.Pointer && field.Elem().Kind() == reflect.Struct:
				walk(field.Elem(), at)
			}
		}
	}
	walk(reflect.TypeFor[determination.Draft](), "")
	if !slices.Equal(found, Slots) {
		t.Errorf("the draft has %v, the slots are %v", found, Slots)
	}
	for _, slot := range Slots {
		d := &determination.Draft{}
		*readingsOf(d, slot) = []determination.Reading{{Gram: 1, Text: "1"}}
		text := must[[]byte](t)(station.WriteDraft(d))
		last := slot[strings.LastIndex(slot, ".")+1:]
		if !strings.Contains(string(text), `"`+last+`":[1]`) || strings.Count(string(text), "{") != 1+strings.Count(slot, ".") {
			t.Errorf("%s writes %s", slot, text)
		}
	}
}

// TestReadingsAsTyped lists what people and balances write, and what the draft then says.
func TestReadingsAsTyped(t *testing.T) {
	for _, c := range []struct {
		text, unit string
		gram       float64
		document   string
		interval   float64
	}{
		{"7.4218", "", 7.4218, "7.4218", 0.0001},
		{"5.10", "", 5.1, "5.10", 0.01},
		{"5.10", "g", 5.1, "5.10", 0.01},
		{"5,10", "", 5.1, "5.10", 0.01},
		{"5,10 g", "", 5.1, "5.10", 0.01},
		{" 5.10", "", 5.1, "5.10", 0.01},
		{"5.10 g", "", 5.1, `"5.10 g"`, 0.01},
		{"7.102 ct", "", 1.4204, `"7.102 ct"`, 0.0002},
		{"7.102", "ct", 1.4204, `"7.102 ct"`, 0.0002},
		{"7,102ct", "ct", 1.4204, `"7.102 ct"`, 0.0002},
		{"+  7.4218 g", "", 7.4218, "7.4218", 0.0001},
		{"-  0.0020", "g", -0.002, "-0.0020", 0.0001},
		{"007.42", "", 7.42, `"007.42 g"`, 0.01},
		{"12.4 kg", "kg", 12400, `"12.4 kg"`, 100},
		{"1e1", "", 10, "1e1", 0},
	} {
		r := reading("air_g", c.text, 0)
		r.Unit = c.unit
		d, err := r.draft()
		if err != nil {
			t.Errorf("%q %q: %v", c.text, c.unit, err)
			continue
		}
		text := must[[]byte](t)(station.WriteDraft(&determination.Draft{AirG: []determination.Reading{d}}))
		got := strings.TrimSuffix(strings.TrimPrefix(string(text), `{"air_g":[`), "]}")
		if near := d.Gram - c.gram; near > 1e-12*12400 || near < -1e-12*12400 || got != c.document || d.Interval != c.interval {
			t.Errorf("%q %q: %g g, interval %g, written %s, want %+v", c.text, c.unit, d.Gram, d.Interval, got, c)
		}
	}
	for _, c := range []struct{ slot, text, unit, path, says string }{
		{"air_g", "", "", "text", ""},
		{"air_g", "7.42 g", "ct", "text", "one of the two units"},
		{"air_g", "7.42 stone", "", "text", "unknown unit"},
		{"air_g", "1.234,5", "", "text", ""},
		{"air_g", "NaN", "", "text", ""},
		{"air_g", "0x10", "", "text", ""},
		{"air_g", "1e999", "", "text", ""},
		{"air_g", "123456789012345678901234567890", "", "text", "was a point lost"},
		{"air_g", strings.Repeat("1", 101), "", "text", "too long"},
		{"air", "1", "", "slot", "Did you mean air_g"},
		{"balance.resolution_g", "1", "", "slot", "no reading"},
		{"liquid.temperature_c", "70 F", "", "text", "°C"},
		{"liquid.temperature_c", "warm", "", "text", ""},
	} {
		r := reading(c.slot, c.text, 0)
		r.Unit = c.unit
		_, err := opened(t, claimDoc, nil).Take(r)
		refused(t, err, c.path, c.says)
	}
	for text, want := range map[string]float64{"21.4": 21.4, "21,4 °C": 21.4, "+ 21.4 C": 21.4, "-3": -3} {
		r := reading("liquid.temperature_c", text, 0)
		if x, err := r.Value(); err != nil || x != want {
			t.Errorf("%q: %g, %v", text, x, err)
		}
	}
}

func TestActsAreChecked(t *testing.T) {
	s := taken(t, opened(t, claimDoc, nil), reading("air_g", "7.4218", 1))
	nobody, never := at(2), at(2)
	nobody.Person, never.Time = " ", Act{}.Time
	for _, c := range []struct {
		name string
		do   func() (Sheet, error)
		path string
	}{
		{"a reading of nobody", func() (Sheet, error) { r := reading("air_g", "1", 1); r.Person = ""; return s.Take(r) }, "person"},
		{"a reading of no source", func() (Sheet, error) { r := reading("air_g", "1", 1); r.Source = "guessed"; return s.Take(r) }, "source"},
		{"evidence that is none", func() (Sheet, error) { r := reading("air_g", "1", 1); r.Evidence = "ABC"; return s.Take(r) }, "evidence"},
		{"an instrument without version", func() (Sheet, error) {
			r := reading("air_g", "1", 1)
			r.Instrument = &station.Ref{ID: "B-1"}
			return s.Take(r)
		}, "instrument"},
		{"set aside at once", func() (Sheet, error) {
			r := reading("air_g", "1", 1)
			r.Withdrawn = &Withdrawal{}
			return s.Take(r)
		}, "withdrawn"},
		{"no such reading", func() (Sheet, error) { return s.Withdraw(2, at(2), "bubble") }, "no"},
		{"restored what counts", func() (Sheet, error) { return s.Restore(1, at(2), "bubble") }, "no"},
		{"restored what is not there", func() (Sheet, error) { return s.Restore(2, at(2), "bubble") }, "no"},
		{"moved without a reason", func() (Sheet, error) { return s.Move(station.Ref{ID: "S-9", Version: 1}, at(2), "") }, "reason"},
		{"moved nowhere", func() (Sheet, error) { return s.Move(station.Ref{}, at(2), "better") }, "station"},
		{"moved by nobody", func() (Sheet, error) { return s.Move(station.Ref{ID: "S-9", Version: 1}, nobody, "better") }, "person"},
		{"withdrawn without a reason", func() (Sheet, error) { return s.Withdraw(1, at(2), " ") }, "reason"},
		{"withdrawn by nobody", func() (Sheet, error) { return s.Withdraw(1, nobody, "bubble") }, "person"},
		{"withdrawn never", func() (Sheet, error) { return s.Withdraw(1, never, "bubble") }, "time"},
		{"changed without a reason", func() (Sheet, error) { return s.Change([]byte(`{}`), at(2), "") }, "reason"},
		{"changed to the same", func() (Sheet, error) { return s.Change([]byte(claimDoc), at(2), "why") }, ""},
		{"readings in a request", func() (Sheet, error) { return s.Change([]byte(`{"liquid": {"proof": {"air_g": 3}}}`), at(2), "why") }, "liquid.proof.air_g"},
		{"an unknown field", func() (Sheet, error) { return s.Change([]byte(`{"clame": {}}`), at(2), "why") }, "clame"},
		{"an empty note", func() (Sheet, error) { return s.Note(at(2), " ") }, "text"},
		{"no id", func() (Sheet, error) { return Open(Sheet{Opened: at(0)}, []byte(`{}`)) }, "id"},
		{"opened by nobody", func() (Sheet, error) { return Open(Sheet{ID: "D"}, []byte(`{}`)) }, "opened.person"},
	} {
		after, err := c.do()
		if err == nil {
			t.Errorf("%s: no error", c.name)
			continue
		}
		refused(t, err, c.path, "")
		if c.path != "id" && c.path != "opened.person" && !reflect.DeepEqual(after, s) {
			t.Errorf("%s: the sheet changed", c.name)
		}
	}
	twice := must[Sheet](t)(s.Withdraw(1, at(2), "bubble"))
	_, err := twice.Withdraw(1, at(3), "again")
	refused(t, err, "no", "bubble")
}

// TestClaimIsFixedFirst: a claim or a rule that changes once the item was read is marked; other
// conditions, and readings of the room and the check piece, are not.
func TestClaimIsFixedFirst(t *testing.T) {
	const other = `{"claim": {"metal": "gold", "fineness": 585}}`
	for _, c := range []struct {
		name, slot, document string
		late                 bool
	}{
		{"before any reading", "", other, false},
		{"the room was read", "liquid.temperature_c", other, false},
		{"the check piece was read", "liquid.proof.air_g", other, false},
		{"the item was read", "air_g", other, true},
		{"another rule", "air_g", strings.Replace(claimDoc, `{"item"`, `{"house_rule": "strict", "item"`, 1), true},
		{"another condition", "air_g", strings.Replace(claimDoc, `{"item"`, `{"air": {"pressure_hpa": 990}, "item"`, 1), false},
	} {
		s := opened(t, claimDoc, nil)
		if c.slot != "" {
			s = taken(t, s, reading(c.slot, "21", 1))
		}
		s = must[Sheet](t)(s.Change([]byte(c.document), at(2), "the customer says so"))
		last := s.Requests[len(s.Requests)-1]
		if len(s.Requests) != 2 || last.Version != 2 || last.Late != c.late || last.Readings != len(s.Readings) {
			t.Errorf("%s: %+v", c.name, last)
		}
		if marked := strings.Contains(strings.Join(s.Marks(), " "), "Claim or rule was changed"); marked != c.late {
			t.Errorf("%s: marks %q", c.name, s.Marks())
		}
	}
}

// TestNothingIsLost draws sequences of acts. Every reading, request and note that was ever on the
// sheet stays on it as it was, but for being set aside; the sheet before an act is not touched;
// and the sheet reads back as it was written.
func TestNothingIsLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := opened(t, claimDoc, nil)
		for step := range rapid.IntRange(1, 40).Draw(t, "acts") {
			before := s
			text := must[[]byte](t)(s.Encode())
			var err error
			switch rapid.SampledFrom([]string{"take", "take", "withdraw", "restore", "move", "change", "note"}).Draw(t, "act") {
			case "take":
				r := reading(rapid.SampledFrom(Slots).Draw(t, "slot"), rapid.StringMatching(`[0-9]{1,4}[.,][0-9]{0,4}( g| ct)?`).Draw(t, "text"), step)
				s, err = s.Take(r)
			case "withdraw":
				s, err = s.Withdraw(rapid.IntRange(1, 10).Draw(t, "no"), at(step), "drawn")
			case "restore":
				s, err = s.Restore(rapid.IntRange(1, 10).Draw(t, "no"), at(step), "drawn")
			case "move":
				s, err = s.Move(station.Ref{ID: "S-1", Version: rapid.IntRange(1, 3).Draw(t, "version")}, at(step), "drawn")
			case "change":
				doc := fmt.Sprintf(`{"claim": {"fineness": %d, "metal": "gold"}, "expansion_per_k": %g}`, rapid.IntRange(1, 3).Draw(t, "fineness")*100+75, float64(step)*1e-6)
				s, err = s.Change([]byte(doc), at(step), "drawn")
			case "note":
				s, err = s.Note(at(step), "drawn")
			}
			if string(must[[]byte](t)(before.Encode())) != string(text) {
				t.Fatal("an act changed the sheet before it")
			}
			if err != nil && !reflect.DeepEqual(s, before) {
				t.Fatalf("a refused act changed the sheet: %v", err)
			}
			if len(s.Readings) < len(before.Readings) || len(s.Requests) < len(before.Requests) || len(s.Notes) < len(before.Notes) {
				t.Fatal("something is gone")
			}
			for i, was := range before.Readings {
				is := s.Readings[i]
				switch {
				case was.Withdrawn == nil:
					is.Withdrawn = nil
				case is.Withdrawn == nil: // restored: that it was set aside stands in the last line of its past
					is.Withdrawn = &is.Restored[len(is.Restored)-1].Withdrawal
					if is.Restored = is.Restored[:len(is.Restored)-1]; len(is.Restored) == 0 {
						is.Restored = nil
					}
				}
				if !reflect.DeepEqual(was, is) {
					t.Fatalf("reading %d was %+v and is %+v", i+1, was, is)
				}
			}
			if len(s.Moves) < len(before.Moves) || len(before.Moves) > 0 && !reflect.DeepEqual(before.Moves, s.Moves[:len(before.Moves)]) {
				t.Fatal("an earlier move was changed")
			}
			if !reflect.DeepEqual(before.Requests, s.Requests[:len(before.Requests)]) || !slices.Equal(before.Notes, s.Notes[:len(before.Notes)]) {
				t.Fatal("an earlier request or note was changed")
			}
			written := must[[]byte](t)(s.Encode())
			again, err := DecodeSheet(written)
			if err != nil {
				t.Fatalf("%v: %s", err, written)
			}
			if string(must[[]byte](t)(again.Encode())) != string(written) {
				t.Fatalf("%s reads back as another sheet", written)
			}
		}
	})
}

// TestHundredAmendments (ISO/IEC 17025:2017, 7.5.2: both versions are kept).
func TestHundredAmendments(t *testing.T) {
	s := opened(t, claimDoc, nil)
	for i := range 100 {
		s = taken(t, s, reading("air_g", fmt.Sprintf("7.%04d", i), i))
		s = must[Sheet](t)(s.Withdraw(i+1, at(i), fmt.Sprintf("reason %d", i)))
		s = must[Sheet](t)(s.Change(fmt.Appendf(nil, `{"note": "version %d"}`, i), at(i), fmt.Sprintf("change %d", i)))
	}
	again := must[*Sheet](t)(DecodeSheet(must[[]byte](t)(s.Encode())))
	if len(again.Readings) != 100 || len(again.Requests) != 101 {
		t.Fatalf("%d readings, %d requests", len(again.Readings), len(again.Requests))
	}
	for i, r := range again.Readings {
		if r.Text != fmt.Sprintf("7.%04d", i) || r.Withdrawn.Reason != fmt.Sprintf("reason %d", i) || again.Requests[i+1].Reason != fmt.Sprintf("change %d", i) {
			t.Errorf("amendment %d: %+v, %+v", i, r, again.Requests[i+1])
		}
	}
}

func FuzzDecodeSheet(f *testing.F) {
	s, _ := ring(f)
	text, err := s.Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	small := taken(f, opened(f, `{}`, nil), reading("air_g", "7,4 g", 1))
	f.Add(must[[]byte](f)(small.Encode()))
	f.Add([]byte(`{}`))
	f.Add([]byte(strings.Replace(string(text), `"no":2`, `"no":3`, 1)))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := DecodeSheet(data)
		if err != nil {
			return
		}
		text, err := s.Encode()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := DecodeSheet(text); err != nil {
			t.Fatalf("%v: %s", err, text)
		}
		if c, err := Document(s, nil, nil); err == nil {
			if _, err := determination.Decode(c.Document); err != nil {
				t.Fatalf("%v: %s", err, c.Document)
			}
		}
	})
}

func TestSheetsAreReadStrictly(t *testing.T) {
	s, _ := ring(t)
	text := string(must[[]byte](t)(s.Encode()))
	for _, c := range []struct{ from, to, path, says string }{
		{`"no":2`, `"no":3`, "readings[1].no", "without a gap"},
		{`"format":1`, `"format":7`, "format", "not known"},
		{`"text":"21,5"`, `"text":"warm"`, "readings[0].text", "no number"},
		{`"reason":"bubble seen"`, `"reason":""`, "readings[4].withdrawn.reason", "missing"},
		{`"version":1`, `"version":4`, "requests[0].version", ""},
		{`"readings":0`, `"readings":9`, "requests[0].readings", ""},
		{`"metal":"gold"`, `"metall":"gold"`, "requests[0].document.claim.metall", "no such field"},
		{`"fineness":750`, `"fineness":750.0`, "requests[0].document", "form"},
		{`"item":"I-1"`, `"item":"I-1","item":"I-2"`, "", "not in the form"},
		{`"item":"I-1"`, `"Item":"I-1"`, "", "not in the form"},
		{`"item":"I-1"`, `"itme":"I-1"`, "", "unknown field"},
		{`}]}`, `}]}{}`, "", "after top-level"},
		{`}]}`, `}]`, "", "cut off"},
	} {
		if !strings.Contains(text, c.from) {
			t.Fatalf("%s does not hold %s", text, c.from)
		}
		_, err := DecodeSheet([]byte(strings.Replace(text, c.from, c.to, 1)))
		if err == nil {
			t.Errorf("%s: no error", c.to)
			continue
		}
		refused(t, err, c.path, c.says)
	}
	if !json.Valid([]byte(text)) {
		t.Error("not JSON")
	}
}
