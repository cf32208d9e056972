package web

import (
	"fmt"
	"math"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/record"
)

// oddity is a typed number that may have been misread: it is asked about and never blocked.
type oddity struct {
	Readings   []int // the numbers it is about
	Question   string
	Texts      []string // the readings, as typed
	Candidates []candidate
	Asks       bool // the answer proposes it
}

// candidate is what a reading may have been.
type candidate struct {
	No   int
	Name string
	Text string // as it may read; "" exchanges the two readings

	Gives string // density that it would give, in g/cm³; "" where none is said
}

// standsAsTyped begins the remark that numbers which were asked about are right.
const standsAsTyped = "Read again and right as typed: reading "

// Limits of what is asked, chosen here: a shifted mark is recognised within 0.5 %, exchanged digits are
// asked about from fifty steps of the last digit on, where a repeat no longer scatters.
const (
	shiftedWithin = 0.005
	exchangedFrom = 50
)

// odd finds the first number of a sheet that looks misread beside the others and was not looked at again.
func odd(rows []slotView, d *determination.Draft, notes []record.Note) *oddity {
	kept := map[string][]record.Reading{}
	for _, row := range rows {
		if row.Unit == "g" {
			kept[row.Slot] = row.Kept()
		}
	}
	kept["air_g"] = append(kept["air_g"], kept["closing_air_g"]...) // one item, one mass
	delete(kept, "closing_air_g")
	var found []*oddity
	for _, row := range rows {
		all := kept[row.Slot]
		for i := 1; i < len(all); i++ {
			if o := beside(all[0], all[i]); o != nil {
				found = append(found, o)
			}
		}
		if len(all) > 0 {
			found = append(found, thousands(all[0], d))
		}
	}
	if in, under := kept["air_g"], kept["liquid_g"]; len(in) > 0 && len(under) > 0 && (d.Method == "" || d.Method == "immersion") {
		found = append(found, immersed(in[0], under[len(under)-1], d))
	}
	for _, o := range found {
		if o != nil && !slices.ContainsFunc(notes, func(n record.Note) bool { return n.Text == o.About() }) {
			return o
		}
	}
	return nil
}

// About is the remark that the numbers are right as they are; by it a question is known.
func (o *oddity) About() string {
	var parts []string
	for i, no := range o.Readings {
		parts = append(parts, fmt.Sprintf("%d, %s", no, o.Texts[i]))
	}
	return standsAsTyped + strings.Join(parts, "; reading ") + "."
}

// about asks about two readings.
func about(question string, a, b record.Reading, candidates ...candidate) *oddity {
	return &oddity{Readings: []int{a.No, b.No}, Question: question, Texts: []string{a.Text, b.Text}, Candidates: candidates}
}

// beside holds a repeat against the first reading of the same thing.
func beside(first, again record.Reading) *oddity {
	a, errA := first.Value()
	b, errB := again.Value()
	if errA != nil || errB != nil || a <= 0 || b <= 0 {
		return nil
	}
	for _, k := range []int{1, 2, 3, -1, -2, -3} {
		if math.Abs(b*math.Pow10(k)-a) <= shiftedWithin*a {
			return about(say("The decimal mark stands otherwise in two readings of the same thing. What do they read?"), first, again,
				candidate{No: again.No, Text: shifted(again.Text, k)}, candidate{No: first.No, Text: shifted(first.Text, -k)})
		}
	}
	if p := exchanged(first.Text, again.Text); p {
		return about(say("Two digits are exchanged between two readings of the same thing. What do they read?"), first, again,
			candidate{No: again.No, Text: first.Text}, candidate{No: first.No, Text: again.Text})
	}
	return nil
}

// immersed holds the reading in the liquid against that in air.
func immersed(air, under record.Reading, d *determination.Draft) *oddity {
	a, errA := air.Value()
	l, errL := under.Value()
	if errA != nil || errL != nil || a <= 0 || l <= 0 || d.Arrangement == "standing" {
		return nil
	}
	metal := d.Claim != nil && d.Claim.Metal != ""
	for _, k := range []int{1, -1} {
		if ratio := l * math.Pow10(k) / a; metal && ratio > 0.8 && ratio < 1 { // 5 g/cm³ and denser, in water
			return about(say("One of the two is ten times too large or too small for a metal. What do they read?"), air, under,
				candidate{No: under.No, Text: shifted(under.Text, k)}, candidate{No: air.No, Text: shifted(air.Text, -k)})
		}
	}
	if l > a*1.0005 { // more than a wet hanger adds
		return about(say("It is heavier in the liquid than in air. Were the two exchanged?"), air, under, candidate{})
	}
	return nil
}

// threeDecimals are numbers that may be whole thousands, written with a mark for them.
var threeDecimals = regexp.MustCompile(`^\s*[1-9]\d{0,2}[.,]\d{3}\s*(g|)$`)

// thousands asks where a balance can't show three decimals.
func thousands(r record.Reading, d *determination.Draft) *oddity {
	if d.Balance == nil || d.Balance.ResolutionG == nil || *d.Balance.ResolutionG < 0.0015 || !threeDecimals.MatchString(r.Text) {
		return nil
	}
	return &oddity{Readings: []int{r.No}, Texts: []string{r.Text}, Question: say("It is taken as a number with three decimals, which this balance does not show. Is it in thousands?"),
		Candidates: []candidate{{No: r.No, Text: shifted(r.Text, 3)}}}
}

// shifted moves the decimal mark of a reading to the right by k digits; every digit stays.
func shifted(text string, k int) string {
	s := strings.TrimSpace(text)
	end := strings.LastIndexAny(s, "0123456789.,") + 1
	number, unit := s[:end], s[end:]
	mark := "."
	at := strings.IndexAny(number, ".,")
	if at < 0 {
		at = len(number)
	} else {
		mark = number[at : at+1]
		number = number[:at] + number[at+1:]
	}
	at += k
	for at > len(number) {
		number += "0"
	}
	for at < 1 {
		number, at = "0"+number, at+1
	}
	for at > 1 && number[0] == '0' {
		number, at = number[1:], at-1
	}
	if at == len(number) {
		return number + unit
	}
	return number[:at] + mark + number[at:] + unit
}

// exchanged is true of two texts that differ by two neighbouring digits which changed places, by so much
// that it is no scatter.
func exchanged(a, b string) bool {
	a, b = strings.ReplaceAll(strings.TrimSpace(a), ",", "."), strings.ReplaceAll(strings.TrimSpace(b), ",", ".")
	if len(a) != len(b) || a == b || strings.Index(a, ".") != strings.Index(b, ".") {
		return false
	}
	var differ []int
	for i := range a {
		if a[i] != b[i] {
			differ = append(differ, i)
		}
	}
	if len(differ) != 2 || a[differ[0]] != b[differ[1]] || a[differ[1]] != b[differ[0]] || strings.Trim(a[differ[0]:differ[1]+1], ".") == "" {
		return false
	}
	if between := strings.Trim(a[differ[0]+1:differ[1]], "."); between != "" {
		return false
	}
	x, errX := strconv.Atoi(strings.ReplaceAll(a, ".", ""))
	y, errY := strconv.Atoi(strings.ReplaceAll(b, ".", ""))
	return errX == nil && errY == nil && max(x-y, y-x) >= exchangedFrom
}

// R is a reading as it was taken, with the decimal mark of the language: a reading has no other mark.
func (w words) R(text string) string {
	return strings.NewReplacer(".", w.Decimal, ",", w.Decimal).Replace(text)
}

// inGrams says what a reading in another unit is in grams; "" where it is in grams.
func inGrams(r record.Reading) string {
	x, err := r.Value()
	if err != nil || unitOf(r.Slot) != "g" || !strings.ContainsFunc(strings.TrimSuffix(strings.TrimSpace(r.Text), "g")+r.Unit, isLetter) {
		return ""
	}
	return strconv.FormatFloat(x, 'g', 7, 64)
}

// bare is true of a reading without a unit of its own.
func bare(text string) bool { return !strings.ContainsFunc(text, isLetter) }

func isLetter(r rune) bool { return r >= 'A' && r <= 'z' }

// reread answers what was asked about odd numbers: they stand, one of them reads otherwise, or the two
// were exchanged. What was typed stays on the sheet.
func (s *Server) reread(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	id, d := r.PathValue("id"), s.current()
	v, err := s.sheetView(r, who, id)
	if err != nil {
		return err
	}
	o := v.asks(r.FormValue("about"))
	choice, chosen := strings.CutPrefix(r.FormValue("choice"), "candidate-")
	n, bad := strconv.Atoi(choice)
	stands := r.FormValue("choice") == "stands"
	switch {
	case !stands && (!chosen || bad != nil || n < 0 || o != nil && n >= len(o.Candidates)):
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "No answer was chosen.", Hint: "Choose what the balance showed, or that the numbers stand."}
	case o == nil: // answered meanwhile
		return s.done(w, r, id, nil)
	case stands:
		_, err = d.Note(r.Context(), by(r, who), id, o.About())
		return s.done(w, r, id, err)
	}
	c := o.Candidates[n]
	type correction struct {
		no         int
		slot, text string
	}
	var corrections []correction
	old := map[int]record.Reading{}
	for _, no := range o.Readings {
		old[no] = v.Sheet.Readings[no-1]
	}
	if c.Text != "" {
		corrections = []correction{{c.No, old[c.No].Slot, c.Text}}
	} else {
		a, b := old[o.Readings[0]], old[o.Readings[1]]
		corrections = []correction{{a.No, a.Slot, b.Text}, {b.No, b.Slot, a.Text}}
	}
	for _, c := range corrections {
		taken := desk.By{Who: who, Key: part(r, fmt.Sprintf("take-%d", c.no))}
		unit := old[c.no].Unit
		if !bare(c.text) {
			unit = "" // it names its own
		}
		if _, err := d.Take(r.Context(), taken, id, record.Reading{Slot: c.slot, Text: c.text, Unit: unit, Source: record.Typed}); err != nil {
			return err
		}
		aside := desk.By{Who: who, Key: part(r, fmt.Sprintf("aside-%d", c.no))}
		if _, err := d.Withdraw(r.Context(), aside, id, c.no, "misread: "+old[c.no].Text+" was typed for "+c.text); err != nil {
			return err
		}
	}
	return s.done(w, r, id, nil)
}
