package value

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/bojanz/currency"

	"wreath/internal/strictjson"
)

// TermsFormat is the format of Terms that this program writes.
const TermsFormat = 1

// What a house may do with a finding, see OnFinding.
const (
	NoPrice         = "no price"
	SafeFigure      = "safe figure"
	ClaimedFineness = "claimed fineness"
)

// Directions of rounding a payout. Half-up and half-even round to the nearest step; from the middle
// between two, up and to the even one.
const (
	Down     = "down"
	HalfEven = "half-even"
	HalfUp   = "half-up"
	Up       = "up"
)

// Terms are what a house pays, in one currency. They are a document of the house: nothing in them
// is law, and none is built in.
type Terms struct {
	Format   int    `json:"format" doc:"1"`
	Key      string `json:"key" doc:"short name that stays the same from version to version"`
	Version  int    `json:"version" doc:"1, 2, …: a change makes a new version"`
	Name     string `json:"name" doc:"as printed"`
	Note     string `json:"note,omitempty" doc:"anything worth keeping; not used"`
	Currency string `json:"currency" doc:"ISO 4217 code; prices must be in it"`

	MaxPriceAgeMin int `json:"max_price_age_min" doc:"minutes after which a price is stale"`

	Metals   []MetalTerms `json:"metals" doc:"what is paid for each metal; a metal that is not named is not bought"`
	Charges  []Charge     `json:"charges,omitempty" doc:"what is taken off, such as refining or assay"`
	Rounding Rounding     `json:"rounding" doc:"how the payout is rounded"`

	MinimumPayout *Decimal `json:"minimum_payout,omitempty" doc:"a payout below this is not made"`

	FinenessDecimals *int `json:"fineness_decimals,omitempty" doc:"digits that the safe figure keeps after the point of the parts per thousand, 0 to 3; it is cut, never rounded up; 1 unless said"`

	OnFinding OnFinding `json:"on_finding,omitzero" doc:"what each finding leads to; never a price from a doubt unless said"`
}

// MetalTerms are what is paid for one metal, as a percentage of the value of the fine metal.
type MetalTerms struct {
	Metal      string         `json:"metal" doc:"gold, silver, platinum or palladium"`
	Percent    Decimal        `json:"percent" doc:"percentage paid of the value of the fine metal, where no band says otherwise"`
	ByFineness []FinenessBand `json:"by_fineness,omitempty" doc:"other percentages from a fineness on, ascending"`
	ByMass     []MassBand     `json:"by_mass,omitempty" doc:"other percentages from a mass of metal on, ascending; in a lot, the mass of this metal in it"`
}

// FinenessBand is the percentage from a fineness to pay by on.
type FinenessBand struct {
	FromPpt Decimal `json:"from_ppt" doc:"parts per thousand"`
	Percent Decimal `json:"percent" doc:"percentage paid from there on"`
}

// MassBand is the percentage from a mass of metal on.
type MassBand struct {
	FromG   Decimal `json:"from_g" doc:"grams"`
	Percent Decimal `json:"percent" doc:"percentage paid from there on"`
}

// Charge is taken off the value: so much per item, or a percentage of the value of the fine metal.
type Charge struct {
	Name    string   `json:"name" doc:"as printed"`
	PerItem *Decimal `json:"per_item,omitempty" doc:"so much for each item, that is for each determination"`
	Percent *Decimal `json:"percent,omitempty" doc:"percentage of the value of the fine metal"`
}

// Rounding is how a payout is rounded.
type Rounding struct {
	Step      Decimal `json:"step" doc:"such as 0.01, 0.05 or 1"`
	Direction string  `json:"direction" doc:"down, half-even, half-up or up"`
}

// OnFinding says what each finding leads to: `no price` or `safe figure`. An item whose finding is
// suspended has no price under any terms.
type OnFinding struct {
	Met       string `json:"met,omitempty" doc:"safe figure (unless said), or claimed fineness: pay by what is claimed"`
	Undecided string `json:"undecided,omitempty" doc:"no price (unless said) or safe figure"`
	NotMet    string `json:"not_met,omitempty" doc:"no price (unless said) or safe figure"`
	NoClaim   string `json:"no_claim,omitempty" doc:"nothing was claimed: no price (unless said) or safe figure"`
}

// MaxTerms is the largest document of terms that is read, in bytes.
const MaxTerms = 1 << 16

// The longest lists of terms; chosen here.
const (
	maxBands   = 100
	maxCharges = 20
)

// DecodeTerms reads terms from JSON and checks them. The error is a *strictjson.FieldError where
// the document can't be read, and Faults where it can and its contents can't be used.
func DecodeTerms(data []byte) (*Terms, error) {
	if len(data) > MaxTerms {
		return nil, fileFault("Give one set of terms.", "the document is larger than %d bytes", MaxTerms)
	}
	t := &Terms{}
	if err := strictjson.Unmarshal(data, t); err != nil {
		return nil, err
	}
	if err := t.Check(); err != nil {
		return nil, err
	}
	return t, nil
}

// Check returns Faults that name every field at fault, or nil.
func (t *Terms) Check() error {
	var f Faults
	if t.Format != TermsFormat {
		f.add("format", "Write 1; a newer document needs a newer program.", "is %d", t.Format)
	}
	if t.Key == "" || strings.Trim(t.Key, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" {
		f.add("key", "Write small letters, digits and hyphens, such as counter-gold.", "%q can't be a key", t.Key)
	}
	checkText(&f, "key", t.Key)
	if t.Version < 1 {
		f.add("version", "Count versions from 1.", "is %d", t.Version)
	}
	if t.Name == "" {
		f.add("name", "Give the name that is printed.", "is missing")
	}
	checkText(&f, "name", t.Name)
	checkText(&f, "note", t.Note)
	checkCurrency(&f, "currency", t.Currency)
	if t.MaxPriceAgeMin < 1 || t.MaxPriceAgeMin > 366*24*60 {
		f.add("max_price_age_min", "Say after how many minutes a price is stale, up to a year: 60 is an hour.", "is %d", t.MaxPriceAgeMin)
	}
	if d := t.FinenessDecimals; d != nil && (*d < 0 || *d > 3) {
		f.add("fineness_decimals", "Give 0 to 3; density does not tell the fineness more finely.", "is %d", *d)
	}
	t.checkMetals(&f)
	t.checkCharges(&f)
	t.checkRounding(&f)
	t.OnFinding.check(&f)
	return f.orNil()
}

func (t *Terms) checkMetals(f *Faults) {
	if len(t.Metals) == 0 {
		f.add("metals", "Say what is paid for a metal at least.", "is empty")
	}
	if len(t.Metals) > len(Metals) {
		f.add("metals", "Name each metal once.", "holds more than the %d metals", len(Metals))
		return
	}
	for i, m := range t.Metals {
		path := fmt.Sprintf("metals[%d]", i)
		checkMetal(f, path+".metal", m.Metal)
		if slices.ContainsFunc(t.Metals[:i], func(other MetalTerms) bool { return other.Metal == m.Metal }) {
			f.add(path+".metal", "Name each metal once.", "%s is named twice", m.Metal)
		}
		checkPercent(f, path+".percent", m.Percent)
		if len(m.ByFineness) > 0 && len(m.ByMass) > 0 {
			f.add(path+".by_mass", "Keep one of the two tables.", "is given together with by_fineness")
		}
		if len(m.bands()) > maxBands {
			f.add(path, fmt.Sprintf("Give at most %d bands.", maxBands), "has a table that is too long")
			continue
		}
		from, percent := Decimal{}, m.Percent
		for j, b := range m.bands() {
			at := fmt.Sprintf("%s.%s[%d]", path, b.table, j)
			checkPercent(f, at+".percent", b.percent)
			if b.from.Cmp(from) <= 0 {
				f.add(at+"."+b.field, "Let the bands begin above 0 and ascend.", "%s does not lie above the band before", b.from)
			}
			if b.percent.Cmp(percent) < 0 {
				f.add(at+".percent", "Let the percentages ascend: a finer or heavier item must not fetch less.", "%s is less than in the band before", b.percent)
			}
			from, percent = b.from, b.percent
		}
		if n := len(m.ByFineness); n > 0 && m.ByFineness[n-1].FromPpt.Cmp(fromInt(1000)) > 0 {
			f.add(fmt.Sprintf("%s.by_fineness[%d].from_ppt", path, n-1), "Give parts per thousand.", "is more than 1000")
		}
	}
}

// band is a line of either table.
type band struct {
	table, field  string
	from, percent Decimal
}

func (m *MetalTerms) bands() []band {
	var all []band
	for _, b := range m.ByFineness {
		all = append(all, band{"by_fineness", "from_ppt", b.FromPpt, b.Percent})
	}
	for _, b := range m.ByMass {
		all = append(all, band{"by_mass", "from_g", b.FromG, b.Percent})
	}
	return all
}

func checkPercent(f *Faults, path string, percent Decimal) {
	if percent.Sign() <= 0 || percent.Cmp(fromInt(100)) > 0 {
		f.add(path, "Give a percentage above 0 and up to 100.", "is %s", percent)
	}
}

func (t *Terms) checkCharges(f *Faults) {
	if len(t.Charges) > maxCharges {
		f.add("charges", fmt.Sprintf("Give at most %d.", maxCharges), "are %d", len(t.Charges))
		return
	}
	total := Decimal{}
	for i, c := range t.Charges {
		path := fmt.Sprintf("charges[%d]", i)
		if c.Name == "" {
			f.add(path+".name", "Name the charge as it is printed.", "is missing")
		}
		checkText(f, path+".name", c.Name)
		switch {
		case (c.PerItem == nil) == (c.Percent == nil):
			f.add(path, "Give per_item or percent, one of the two.", "has both or neither of per_item and percent")
		case c.PerItem != nil && c.PerItem.Sign() < 0:
			f.add(path+".per_item", "A charge is taken off: write it without a sign.", "is %s", c.PerItem)
		case c.Percent != nil && (c.Percent.Sign() < 0 || c.Percent.Cmp(fromInt(100)) > 0):
			f.add(path+".percent", "Give a percentage from 0 to 100.", "is %s", c.Percent)
		case c.Percent != nil:
			total = total.plus(*c.Percent)
		}
	}
	for i, m := range t.Metals {
		if m.Percent.Sign() > 0 && m.Percent.Cmp(total) <= 0 {
			f.add(fmt.Sprintf("metals[%d].percent", i), "Check the percentages.", "%s %% paid less %s %% of charges leaves nothing", m.Percent, total)
		}
	}
}

func (t *Terms) checkRounding(f *Faults) {
	r := t.Rounding
	if !slices.Contains([]string{Down, HalfEven, HalfUp, Up}, r.Direction) {
		f.add("rounding.direction", "Write down, half-even, half-up or up.", "is %q", r.Direction)
	}
	digits, known := currency.GetDigits(t.Currency)
	smallest := lastDigit(int(digits))
	switch {
	case r.Step.Sign() <= 0:
		f.add("rounding.step", "Give the step, such as 0.01, 0.05 or 1.", "is %s", r.Step)
	case r.Step.Cmp(fromInt(1_000_000)) > 0:
		f.add("rounding.step", "Give the step, such as 0.01, 0.05 or 1.", "%s is too large", r.Step)
	case known && r.Step.inSteps(smallest, Down).Cmp(r.Step) != 0:
		f.add("rounding.step", fmt.Sprintf("Give a multiple of %s %s.", smallest, t.Currency), "%s is not a sum that can be paid in %s", r.Step, t.Currency)
	}
	if m := t.MinimumPayout; m != nil && m.Sign() < 0 {
		f.add("minimum_payout", "Give the smallest sum that is paid out.", "is %s", m)
	}
}

func (o OnFinding) check(f *Faults) {
	for _, c := range []struct {
		path, is string
		allowed  []string
	}{
		{"on_finding.met", o.Met, []string{SafeFigure, ClaimedFineness, NoPrice}},
		{"on_finding.undecided", o.Undecided, []string{NoPrice, SafeFigure}},
		{"on_finding.not_met", o.NotMet, []string{NoPrice, SafeFigure}},
		{"on_finding.no_claim", o.NoClaim, []string{NoPrice, SafeFigure}},
	} {
		if c.is != "" && !slices.Contains(c.allowed, c.is) {
			f.add(c.path, "Write "+strings.Join(c.allowed, " or ")+".", "is %q", c.is)
		}
	}
}

// leadsTo says what the terms do with a finding.
func (o OnFinding) leadsTo(state string) string {
	choice := ""
	switch state {
	case Met:
		choice = o.Met
		if choice == "" {
			return SafeFigure
		}
	case Undecided:
		choice = o.Undecided
	case NotMet:
		choice = o.NotMet
	case NoClaim:
		choice = o.NoClaim
	}
	if choice == "" {
		return NoPrice
	}
	return choice
}

// Title names the terms as they are printed.
func (t *Terms) Title() string { return fmt.Sprintf("terms %q, version %d", t.Name, t.Version) }

func (t *Terms) metal(name string) (*MetalTerms, bool) {
	i := slices.IndexFunc(t.Metals, func(m MetalTerms) bool { return m.Metal == name })
	if i < 0 {
		return nil, false
	}
	return &t.Metals[i], true
}

// rate is the percentage paid for a fineness and a mass of metal.
func (m *MetalTerms) rate(ppt, grams Decimal) Decimal {
	percent := m.Percent
	for _, b := range m.ByFineness {
		if ppt.Cmp(b.FromPpt) >= 0 {
			percent = b.Percent
		}
	}
	for _, b := range m.ByMass {
		if grams.Cmp(b.FromG) >= 0 {
			percent = b.Percent
		}
	}
	return percent
}

func (t *Terms) finenessDecimals() int {
	if t.FinenessDecimals == nil {
		return 1
	}
	return *t.FinenessDecimals
}

// fits checks a price against the terms and the clock.
func (t *Terms) fits(p *Price, now time.Time) error {
	var f Faults
	if err := p.Check(now); err != nil {
		for _, fault := range err.(Faults) {
			f.add("price."+fault.Path, fault.Hint, "%s", fault.Reason)
		}
	}
	if p.Currency != t.Currency {
		f.add("price.currency", "Enter a price in "+t.Currency+", or use terms in "+p.Currency+"; no rate of exchange is taken for granted.",
			"the price is in %s, the terms are in %s", p.Currency, t.Currency)
	}
	return f.orNil()
}

func (t *Terms) stale(p *Price, now time.Time) bool {
	return p.Stale(now, time.Duration(t.MaxPriceAgeMin)*time.Minute)
}
