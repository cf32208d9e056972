package value

import (
	"fmt"
	"strings"
	"time"
)

// WorthFormat is the format of Worth and LotWorth that this program writes.
const WorthFormat = 1

// valueDecimals is how many decimals of the currency's unit the value of fine metal keeps. It is
// cut there: a price per troy ounce divided by 31.1034768 has no end in decimals.
const valueDecimals = 8

// Line is one step of a computation. The working is written so that a person can do it again.
type Line struct {
	What    string  `json:"what"`
	Working string  `json:"working"`
	Result  Decimal `json:"result"`
	Unit    string  `json:"unit"` // g, parts per thousand, or the currency
}

// Worth is the value of one item. The lines of Money add up to the payout exactly. Without a price
// there is no sum of money in it at all.
type Worth struct {
	Format int    `json:"format"`
	ID     string `json:"id,omitempty"`   // of the determination
	Item   string `json:"item,omitempty"` // in words

	Terms        string `json:"terms"` // key
	TermsVersion int    `json:"terms_version"`
	Currency     string `json:"currency"`

	State   string `json:"state"`              // of the finding: Met, NotMet, Undecided, Suspended or NoClaim
	WouldBe string `json:"would_be,omitempty"` // what the numbers alone say of an undecided claim
	Finding string `json:"finding,omitempty"`  // sentence of the finding

	Metal      string  `json:"metal"`
	WeightG    Decimal `json:"weight_g"`     // shown by the balance in air
	NonMetalG  Decimal `json:"non_metal_g"`  // declared
	MetalG     Decimal `json:"metal_g"`      // what is left
	Fineness   Decimal `json:"fineness_ppt"` // paid by
	FinenessBy string  `json:"fineness_by"`  // SafeFigure or ClaimedFineness
	FineG      Decimal `json:"fine_g"`
	Grams      []Line  `json:"grams"` // how FineG comes about

	Price   *Price    `json:"price,omitempty"` // nil without a price
	Stale   bool      `json:"stale,omitempty"` // the price was older than the terms allow
	At      time.Time `json:"at"`              // when it was valued
	Gross   *Decimal  `json:"gross,omitempty"` // value of the fine metal
	Money   []Line    `json:"money,omitempty"` // from the value to the payout
	Payout  *Decimal  `json:"payout,omitempty"`
	NoPrice string    `json:"no_price,omitempty"` // why there is none

	Warnings []string `json:"warnings"`
	Sentence string   `json:"sentence"`
}

// Of values one item at a price under terms, at the time now. The error is Faults or a
// *strictjson.FieldError that names what can't be used, and wraps ErrMixedHeap for several pieces
// weighed as one. A finding that the terms give no price for is not an error: Worth.NoPrice says so.
func Of(item Item, price Price, terms *Terms, now time.Time) (*Worth, error) {
	if err := terms.Check(); err != nil {
		return nil, err
	}
	if err := terms.fits(&price, now); err != nil {
		return nil, err
	}
	if item.Answer == nil {
		return nil, fault("", "Give the draft and its answer.", "the answer is missing")
	}
	state := State(item.Answer)
	w, err := terms.weigh(&item, terms.OnFinding.leadsTo(state))
	if err != nil {
		return nil, err
	}
	if price.Metal != w.metal {
		return nil, fault("price.metal", "Give a price of "+w.metal+".", "the price is of %s, the item is of %s", price.Metal, w.metal)
	}
	metal, ok := terms.metal(w.metal)
	if !ok {
		return nil, fault("metals", "Use terms that name it.", "%s do not buy %s", terms.Title(), w.metal)
	}
	out := &Worth{
		Format: WorthFormat, ID: item.Answer.ID, Item: item.Answer.Item,
		Terms: terms.Key, TermsVersion: terms.Version, Currency: terms.Currency,
		State: state, Metal: w.metal, WeightG: w.weightG, NonMetalG: w.nonMetalG, MetalG: w.metalG,
		Fineness: w.ppt, FinenessBy: w.by, FineG: w.fineG, Grams: w.lines, At: now, Warnings: append([]string{}, w.warnings...),
	}
	if f := item.Answer.Finding; f != nil {
		out.WouldBe, out.Finding = f.WouldBe, f.Sentence
	}
	if out.NoPrice = terms.unpriced(&item, state); out.NoPrice == "" {
		bill := newBill(terms)
		gross := bill.metal(&price, []portion{{fineG: w.fineG, percent: metal.rate(w.ppt, w.metalG)}})
		out.Payout, out.NoPrice = bill.close(1)
		if out.Payout != nil {
			out.Price, out.Stale, out.Gross, out.Money = &price, terms.stale(&price, now), &gross, bill.lines
			if state != Met {
				out.Warnings = append(out.Warnings, stateWarning(state))
			}
		}
	}
	if out.Stale {
		out.Warnings = append(out.Warnings, terms.staleWarning(&price, now))
	}
	out.Sentence = out.sentence(terms, now)
	return out, nil
}

func stateWarning(state string) string {
	if state == NoClaim {
		return "nothing was claimed: the price rests on the safe figure alone, because these terms allow it"
	}
	return "the finding is " + state + ": the price rests on the safe figure alone, because these terms allow it"
}

func (t *Terms) staleWarning(p *Price, now time.Time) string {
	return fmt.Sprintf("stale: the price of %s is %s old, the terms allow %s", p.Metal, words(p.Age(now)), words(time.Duration(t.MaxPriceAgeMin)*time.Minute))
}

func (w *Worth) sentence(t *Terms, now time.Time) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s g of metal at %s parts per thousand (%s) hold %s g of fine %s.", w.MetalG, w.Fineness, w.FinenessBy, w.FineG.cut(4), w.Metal)
	fmt.Fprintf(&b, " %s", findingWords(w.State))
	if w.Payout == nil {
		fmt.Fprintf(&b, " No price: %s.", w.NoPrice)
		return b.String()
	}
	fmt.Fprintf(&b, " Payout %s %s at %s, by %s.", w.Payout, w.Currency, w.Price, t.Title())
	if w.Stale {
		fmt.Fprintf(&b, " The price is stale: %s old.", words(w.Price.Age(now)))
	}
	return b.String()
}

func findingWords(state string) string {
	switch state {
	case NoClaim:
		return "Nothing was claimed."
	case Suspended:
		return "The finding is suspended."
	}
	return "The claim is " + state + "."
}

// portion is fine metal that is paid at one percentage.
type portion struct {
	fineG, percent Decimal
	why            string // in a lot: what the portion is
}

// bill adds up the money.
type bill struct {
	terms *Terms
	lines []Line
	sum   Decimal
	gross Decimal
}

func newBill(t *Terms) *bill { return &bill{terms: t} }

func (b *bill) add(what string, amount Decimal, working string, args ...any) {
	b.lines = append(b.lines, Line{what, fmt.Sprintf(working, args...), amount, b.terms.Currency})
	b.sum = b.sum.plus(amount)
}

// metal adds the value of fine metal and takes off what is not paid of it.
func (b *bill) metal(p *Price, portions []portion) Decimal {
	grams, symbol, _ := gramsPer(p.Per)
	per := ""
	if symbol != "g" {
		per = fmt.Sprintf(" ÷ %s g", grams)
	}
	total := Decimal{}
	for _, part := range portions {
		value := part.fineG.times(p.Amount).per(grams, valueDecimals).plain()
		total = total.plus(value)
		b.add("fine "+p.Metal+part.why, value, "%s g × %s %s%s, cut after %d decimals", part.fineG, p.Amount, p.Currency, per, valueDecimals)
		if rest := fromInt(100).minus(part.percent); rest.Sign() > 0 {
			b.add("paid: "+part.percent.String()+" %", fromInt(0).minus(value.percent(rest).plain()), "less %s %% of %s", rest, value)
		}
	}
	b.gross = b.gross.plus(total)
	return total
}

// close takes off the charges and rounds. There is no payout where nothing is left, or less than
// the terms pay out; the reason is then given.
func (b *bill) close(items int) (payout *Decimal, noPrice string) {
	t := b.terms
	for _, c := range t.Charges {
		if c.PerItem != nil {
			b.add(c.Name, fromInt(0).minus(c.PerItem.times(fromInt(items))), "%s × %d", c.PerItem, items)
		} else {
			b.add(c.Name, fromInt(0).minus(b.gross.percent(*c.Percent).plain()), "%s %% of %s", c.Percent, b.gross)
		}
	}
	if b.sum.Sign() <= 0 {
		return nil, "nothing is left after the charges"
	}
	rounded := b.sum.inSteps(t.Rounding.Step, t.Rounding.Direction)
	b.add("rounding", rounded.minus(b.sum), "%s to a multiple of %s, %s", b.sum, t.Rounding.Step, t.Rounding.Direction)
	switch {
	case rounded.Sign() <= 0:
		return nil, "nothing is left after rounding"
	case t.MinimumPayout != nil && rounded.Cmp(*t.MinimumPayout) < 0:
		return nil, fmt.Sprintf("the payout would be below the smallest that these terms make, %s %s", t.MinimumPayout, t.Currency)
	}
	return &rounded, ""
}
