package press

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"

	"wreath/alloy"
	"wreath/conformity"
	"wreath/internal/determination"
	"wreath/internal/paper"
	"wreath/internal/picture"
	"wreath/internal/sentence"
	"wreath/internal/value"
	"wreath/uncertainty"
)

// Roll is the width of the paper of a slip, in mm.
type Roll int

// The usual rolls. What can be printed on is narrower than the paper: 48 and 72 mm are common practice.
const (
	Roll58 Roll = 58
	Roll80 Roll = 80
)

// Rolls lists them.
var Rolls = []Roll{Roll58, Roll80}

// Printable is the width that can be printed on, in mm.
func (r Roll) Printable() float64 {
	if r == Roll58 {
		return 48
	}
	return 72
}

// Columns is how many letters of the usual size stand on a line: 32 and 48 (12 dots each).
func (r Roll) Columns() int { return int(r.Printable() / (12 * Dot)) }

// LeastColumns and MostColumns bound the lines of a slip as text.
const (
	LeastColumns = 24
	MostColumns  = 80
)

// SlipOptions choose how a slip is printed. The zero value is in English on paper of 58 mm.
type SlipOptions struct {
	Roll      Roll     // 58 mm unless said
	Languages []string // one or two, the first for the reader at the counter; English unless said

	Columns int  // of a text; those of the roll unless said
	ASCII   bool // of a text: letters that every printer has
	Feed    int  // of a text: empty lines after the last one, so that it passes the edge where it is torn
	Typed   bool // of a text: the proof too, in letters that can be typed
}

// books are the languages of a slip. The error names what can't be printed.
func (o *SlipOptions) books() ([]*sentence.Book, error) {
	if o.Roll == 0 {
		o.Roll = Roll58
	}
	if o.Roll != Roll58 && o.Roll != Roll80 {
		return nil, fmt.Errorf("paper of %d mm is not known: choose 58 or 80", o.Roll)
	}
	if o.Columns == 0 {
		o.Columns = o.Roll.Columns()
	}
	if o.Columns < LeastColumns || o.Columns > MostColumns {
		return nil, fmt.Errorf("lines of %d letters: choose %d to %d; 32, 42 and 48 are usual", o.Columns, LeastColumns, MostColumns)
	}
	if o.Feed < 0 || o.Feed > 50 {
		return nil, fmt.Errorf("%d empty lines at the end: choose 0 to 50", o.Feed)
	}
	if len(o.Languages) == 0 {
		o.Languages = []string{"en"}
	}
	if len(o.Languages) > 2 {
		return nil, fmt.Errorf("%d languages: a slip has one or two", len(o.Languages))
	}
	var books []*sentence.Book
	for _, lang := range o.Languages {
		book := sentence.In(lang)
		if book == nil && lang != "en" {
			return nil, fmt.Errorf("there is no language %q: choose en, %s", lang, strings.Join(sentence.Languages, ", "))
		}
		books = append(books, book)
	}
	return books, nil
}

// slipKind is what a block of a slip is.
type slipKind int

const (
	slipBanner  slipKind = iota // COPY, SUPERSEDED, INVENTED: white on black
	slipCentred                 // small, in the middle
	slipLarge                   // the number
	slipLine                    // a rule across
	slipPair                    // a label and what it says
	slipScale                   // the density scale
	slipFinding                 // the sign and the word
	slipSays                    // a paragraph
	slipStrong                  // the same, bold
	slipItem                    // one of several points
	slipSmall                   // what is said on every slip
	slipCode                    // the proof
)

// slipBlock is a piece of a slip, in the order in which it is read.
type slipBlock struct {
	kind  slipKind
	label string
	text  string
	book  *sentence.Book // the language that it is in
	sign  picture.Finding
}

// slip is what a slip says, apart from the form that it is printed in.
type slip struct {
	f      *paper.Facts
	answer *determination.Answer
	draft  *determination.Draft
	worth  *value.Worth
	zone   slipZone
	blocks []slipBlock

	in *sentence.Book // of the blocks that are being added
}

// compose says everything that a slip says.
func compose(f *paper.Facts, books []*sentence.Book) (*slip, error) {
	s := &slip{f: f}
	var err error
	if s.answer, err = f.Answer(); err != nil {
		return nil, err
	}
	if s.draft, err = f.Draft(); err != nil {
		return nil, err
	}
	place, err := f.Zone()
	if err != nil {
		return nil, fmt.Errorf("the time zone of the shop: %w", err)
	}
	s.zone = slipZone{place}
	// A value that a correction overtook is no offer.
	if f.Worth != nil && f.SupersededBy == "" {
		s.worth = &value.Worth{}
		if err := json.Unmarshal(f.Worth, s.worth); err != nil {
			return nil, fmt.Errorf("the value of %s can't be read: %w", f.Record.Number, err)
		}
	}
	s.head(books)
	for i, book := range books {
		s.in = book
		s.body(i == 0)
	}
	s.in = books[0]
	s.foot()
	return s, nil
}

func (s *slip) add(kind slipKind, label, format string, args ...any) {
	s.blocks = append(s.blocks, slipBlock{kind: kind, label: s.in.Say(label), text: s.in.Sayf(format, args...), book: s.in})
}

// given adds words that somebody typed: no language touches them.
func (s *slip) given(kind slipKind, label, words string) {
	s.blocks = append(s.blocks, slipBlock{kind: kind, label: s.in.Say(label), text: words, book: s.in})
}

func (s *slip) rule() { s.blocks = append(s.blocks, slipBlock{kind: slipLine}) }

// head names shop, record, time and place, once for all languages.
func (s *slip) head(books []*sentence.Book) {
	f, r := s.f, s.f.Record
	for _, s.in = range books {
		if f.SupersededBy != "" {
			s.add(slipBanner, "", "SUPERSEDED by %s", f.SupersededBy)
		}
		if f.Copy > 0 {
			s.add(slipBanner, "", "COPY %d", f.Copy)
		}
		if f.Shop.Demo {
			s.add(slipBanner, "", "INVENTED: no real item, no real shop")
		}
	}
	s.in = books[0]
	s.given(slipCentred, "", f.Shop.Name)
	if f.Shop.Address != "" {
		s.given(slipCentred, "", f.Shop.Address)
	}
	s.given(slipLarge, "", r.Number)
	s.given(slipCentred, "", s.zone.minute(r.Made.Time))
	if f.Report != nil {
		s.add(slipCentred, "", "report %s", f.Report.Number)
	}
	s.rule()
}

// body answers the five questions in one language.
func (s *slip) body(first bool) {
	if !first {
		s.rule()
	}
	s.what()
	s.howDense()
	if first && s.answer.Density20C.KgM3 > 0 {
		s.blocks = append(s.blocks, slipBlock{kind: slipScale, book: s.in})
	}
	s.canBe()
	s.rule()
	s.meets()
	s.notExcluded()
	s.trust()
	s.rule()
	s.payBy()
	s.rule()
	s.who()
}

func (s *slip) what() {
	f := s.f
	if words := f.Description(); words != "" {
		s.given(slipPair, "item", words)
	} else {
		s.add(slipPair, "item", "not described")
	}
	if f.Item != nil && f.Item.Marks != "" {
		s.given(slipPair, "marks", f.Item.Marks)
	}
	for _, d := range f.Declared {
		by := d.By
		if by == "" {
			by = "customer"
		}
		s.given(slipPair, "declared", fmt.Sprintf("%s: %s (%s)", s.in.Say(d.What), s.in.Say(d.Text), s.in.Sayf("by %s, not measured", by)))
	}
	if list := s.draft.AirG; len(list) > 0 {
		s.add(slipPair, "in air", "%s g", list[0].Text)
	} else {
		s.add(slipPair, "mass", "%s g", s.mass())
	}
}

func (s *slip) mass() string {
	text, _ := uncertainty.Round(s.answer.TrueMassG, 2*s.answer.TrueMassUG)
	return text
}

// howDense is the density with its uncertainty.
func (s *slip) howDense() {
	d := s.answer.Density20C
	text, u := uncertainty.Round(d.KgM3/1000, d.UExpanded/1000)
	s.add(slipPair, "density", "%s ± %s g/cm³ at 20 °C (95 %%)", text, u)
	if d.HighKgM3 == nil {
		s.add(slipPair, "", "no upper limit: the buoyancy is hardly more than its uncertainty")
	} else if low, high := d.KgM3-d.LowKgM3, *d.HighKgM3-d.KgM3; math.Abs(high-low) > 0.1*(high+low) {
		s.add(slipPair, "", "lopsided: %.4g to %.4g g/cm³", d.LowKgM3/1000, *d.HighKgM3/1000)
	}
	s.add(slipPair, "by", "%s", s.answer.Method)
}

// canBe is the fineness with the alloys that it assumes.
func (s *slip) canBe() {
	a := s.answer
	if c := a.Composite; c != nil && c.Sentence != "" {
		s.add(slipPair, "parts", "%s", c.Sentence)
	}
	if f := a.Fineness; f != nil {
		s.add(slipPair, "can be", "%s, fineness %.0f to %.0f (95 %%)", families(f.Family), f.Low, f.High)
		s.add(slipPair, "", "any usual recipe: %.0f to %.0f", f.RangeLow, f.RangeHigh)
		if len(a.OtherMetals) > 0 {
			s.add(slipPair, "", "%s has such a density too", strings.Join(a.OtherMetals, " and "))
		}
		return
	}
	if names, more := s.fitting("alloy", "stone"); len(names) > 0 {
		s.add(slipPair, "can be", "%s", s.list(names, more))
		return
	}
	s.add(slipPair, "can be", "nothing in the tables has this density")
}

// families names the families that an answer joins by +.
func families(keys string) string {
	names := strings.Split(keys, " + ")
	for i, key := range names {
		if family, ok := alloy.FamilyByKey(key); ok {
			names[i] = family.Name
		}
	}
	return strings.Join(names, " or ")
}

// slipNamed is how many materials a slip names before it counts the rest.
const slipNamed = 4

// fitting are the materials of some kinds that fit, and how many more there are.
func (s *slip) fitting(kinds ...string) (names []string, more int) {
	for _, kind := range kinds {
		for _, c := range s.answer.Candidates {
			switch {
			case c.Kind != kind || !c.Fits:
			case len(names) == slipNamed:
				more++
			default:
				names = append(names, c.Name)
			}
		}
	}
	return names, more
}

// list says names in the language of the slip.
func (s *slip) list(names []string, more int) string {
	said := make([]string, 0, len(names)+1)
	for _, name := range names {
		said = append(said, s.in.Say(name))
	}
	if more > 0 {
		said = append(said, s.in.Sayf("%d more", more))
	}
	return strings.Join(said, ", ")
}

// meets is the finding, never without its rule.
func (s *slip) meets() {
	a := s.answer
	f := a.Finding
	word := func(text string) {
		s.blocks = append(s.blocks, slipBlock{kind: slipFinding, text: text, book: s.in, sign: picture.FindingOf(a)})
	}
	if f == nil {
		word(s.in.Say("nothing was claimed"))
		return
	}
	word(s.in.Say(f.Claim) + ": " + s.in.Say(f.Result))
	if f.WouldBe != "" {
		s.add(slipSays, "", "On the numbers alone: %s.", f.WouldBe)
	}
	s.add(slipSays, "", "%s", f.Sentence)
	for _, reason := range f.Reasons {
		s.add(slipItem, "", "%s", reason)
	}
	for _, what := range f.Missing {
		s.add(slipItem, "", "missing: %s", what)
	}
	var rule []string
	if f.Probability != nil && f.Against != nil {
		rule = append(rule, s.in.Sayf("Chance that it is nearer the claim than %.4g: %s.", *f.Against, conformity.Percent(*f.Probability)))
	}
	if l := a.LegalLimit; l != nil {
		rule = append(rule, s.in.Sayf("Legal limit %.4g: %s (chance %s).", l.LimitPpt, l.Result, conformity.Percent(l.Probability)))
	}
	s.given(slipSays, "", strings.Join(append(rule, s.in.Sayf("Decided by %s.", f.Rule)), " "))
}

// notExcluded is what density can't tell from the claim.
func (s *slip) notExcluded() {
	s.add(slipStrong, "", "Density alone can't exclude")
	var all []string
	if names, more := s.fitting("look-alike"); len(names) > 0 {
		all = append(all, s.list(names, more)+".")
	} else if names, more := s.fitting("alloy"); len(names) > 0 {
		all = append(all, s.list(names, more)+".")
	}
	for _, words := range s.answer.NeverExcluded {
		if !strings.HasPrefix(words, listsMixtures) {
			all = append(all, s.in.Say(words))
		}
	}
	if len(all) == 0 {
		all = append(all, s.in.Say("what has the same density and is not in the tables."))
	}
	s.given(slipSays, "", strings.Join(all, " "))
}

// listsMixtures begins the sentence that lists what stands among the names above already.
const listsMixtures = "Mixtures that are made to any density"

// trust is whether the weighing can be relied on, with every doubt.
func (s *slip) trust() {
	a, r := s.answer, s.f.Record
	switch {
	case len(a.Doubts) > 0:
		s.add(slipStrong, "", "The weighing is in doubt")
		for _, d := range a.Doubts {
			s.add(slipItem, "", "%s: %s", d.Cause, d.Sign)
		}
	case a.Clean == nil:
		s.add(slipSays, "", "The readings show no fault.")
	default:
		s.add(slipSays, "", "Nothing odd in the readings; chance that nothing is wrong, as far as density sees: %s.", conformity.Chance(*a.Clean))
	}
	if a.NotJudged != "" {
		s.add(slipSays, "", "%s", a.NotJudged)
	}
	for _, statement := range r.Statements {
		if statement.Caution {
			s.add(slipItem, "", "%s", statement.Text)
		}
	}
	for _, mark := range r.Marks {
		s.add(slipItem, "", "%s", mark)
	}
	if by := r.Supersedes; by != nil {
		s.add(slipItem, "", "Corrects %s: %s", by.Number, by.Reason)
	}
}

// payBy is the figure that is safe to pay by, and the worth where it may be shown.
func (s *slip) payBy() {
	a := s.answer
	f := a.Fineness
	switch {
	case picture.Doubtful(a):
		s.add(slipPair, "safe", "no figure while the weighing is in doubt")
	case len(a.OtherMetals) > 0 && f != nil:
		s.add(slipPair, "safe", "no figure: it may be %s or %s", f.Metal, strings.Join(a.OtherMetals, " or "))
	case a.Density20C.HighKgM3 == nil:
		s.add(slipPair, "safe", "no figure: the weighing says next to nothing")
	case f == nil:
		s.add(slipPair, "safe", "no figure: no alloy of a precious metal has this density")
	default:
		s.add(slipPair, "safe", "at least %.0f ppt of %s (95 %%), if sound and %s at all", math.Floor(f.Safe), f.Metal, f.Metal)
	}
	w := s.worth
	switch {
	case w == nil:
	case w.Payout == nil:
		s.add(slipPair, "worth", "no price: %s", w.NoPrice)
	default:
		s.given(slipPair, "worth", s.in.Number(w.Payout.String())+" "+w.Currency)
		s.add(slipPair, "", "for %s g fine %s", w.FineG, w.Metal)
		if w.Price != nil {
			s.given(slipPair, "price", s.in.Say(w.Price.String())+", "+s.zone.minute(w.Price.HeldAt.Time))
		}
		if w.Stale {
			s.add(slipPair, "", "STALE: older than the terms allow")
		}
	}
}

// who is who answers for it, when and where.
func (s *slip) who() {
	f := s.f
	for _, by := range f.Signatures {
		words := by.Name + ", " + s.zone.minute(by.At)
		if by.Mark != "" {
			words += " (" + s.in.Say(by.Mark) + ")"
		}
		s.given(slipPair, string(by.Meaning), words)
	}
	for _, words := range f.Unsigned {
		s.add(slipPair, "open", "not signed: %s", words)
	}
	if len(f.Signatures) == 0 && len(f.Unsigned) == 0 {
		s.add(slipPair, "open", "recorded by %s, not signed", f.Record.Made.Person)
	}
	if at := f.Record.Station; at != nil {
		name := at.Name
		if name == "" {
			name = at.ID
		}
		s.given(slipPair, "station", strings.TrimSuffix(name+", "+at.Place, ", "))
	}
	s.add(slipSmall, "", "Of this item only. A density determination; not a hallmark, not an assay certificate, not legal advice.")
}

// foot carries what the slip can be checked by, once for all languages.
func (s *slip) foot() {
	f := s.f
	s.rule()
	s.blocks = append(s.blocks, slipBlock{kind: slipCode, text: f.Proof, book: s.in})
	s.given(slipPair, "number", f.Number())
	s.given(slipPair, "record", inFours(f.Hash, 16))
	if f.Checkpoint != "" {
		s.given(slipPair, "log", f.Checkpoint)
	} else {
		s.add(slipPair, "log", "no checkpoint covers it yet")
	}
}

// inFours writes the first digits of a hash in groups of four.
func inFours(hash string, digits int) string {
	hash = hash[:min(digits, len(hash))]
	var out []string
	for len(hash) > 4 {
		out, hash = append(out, hash[:4]), hash[4:]
	}
	return strings.Join(append(out, hash), " ")
}

// slipZone writes times as they stand on paper.
type slipZone struct{ *time.Location }

func (z slipZone) minute(t time.Time) string {
	return t.In(z.Location).Format("2006-01-02 15:04 -07:00")
}
