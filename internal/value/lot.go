package value

import (
	"cmp"
	"errors"
	"fmt"
	"strings"
	"time"

	"wreath/alloy"
	"wreath/internal/strictjson"
)

// How much the recipes of the items of a lot have in common; it decides the lot's safe figure.
const (
	MixedScrap = "mixed scrap" // alloy.MixedScrapR
	OneMaker   = "one maker"   // one maker or one melt: alloy.OneMelt
)

// lotDecimals is how many decimals of a gram the safe fine mass of a lot keeps.
const lotDecimals = 4

// MaxItems is the largest lot.
const MaxItems = 100_000

// Lot is several items, each judged by a determination of its own, that are valued together.
//
// The fine metal of a lot is known better than the sum of the safe figures says: not every item is
// at its lowest at once. How much better depends on what the items share. Items with the same
// SharedWith share liquid, thermometer, air and balance; those with different marks share the
// formula of the liquid's density only. Leave it empty for all when unsure: sharing lowers the
// lot's safe figure.
type Lot struct {
	Items   []Item
	Recipes string // MixedScrap (unless said) or OneMaker
}

// LotWorth is the value of a lot. The lines of Money add up to the payout exactly.
type LotWorth struct {
	Format int `json:"format"`

	Terms        string `json:"terms"`
	TermsVersion int    `json:"terms_version"`
	Currency     string `json:"currency"`
	Recipes      string `json:"recipes"`

	Metals []LotMetal `json:"metals"` // one sum for each metal
	Items  []LotLine  `json:"items"`  // in the order given

	At      time.Time `json:"at"`
	Money   []Line    `json:"money,omitempty"`
	Payout  *Decimal  `json:"payout,omitempty"`
	NoPrice string    `json:"no_price,omitempty"`

	Warnings []string `json:"warnings"`
	Sentence string   `json:"sentence"`
}

// LotMetal is the sum of one metal in a lot.
type LotMetal struct {
	Metal  string  `json:"metal"`
	Items  int     `json:"items"`
	MetalG Decimal `json:"metal_g"` // weights in air less non-metal

	FineG         float64 `json:"fine_g"`   // likeliest, a little low
	FineUG        float64 `json:"u_fine_g"` // standard uncertainty
	FineUExpanded float64 `json:"U_fine_g"` // k times that
	K             float64 `json:"k"`

	SafeG    Decimal `json:"safe_g"`    // exceeded with 95 % probability; paid by
	SinglesG Decimal `json:"singles_g"` // sum of the items' own safe figures, never more than SafeG

	Price *Price   `json:"price,omitempty"`
	Stale bool     `json:"stale,omitempty"`
	Gross *Decimal `json:"gross,omitempty"`
}

// LotLine is one item of a lot.
type LotLine struct {
	ID       string  `json:"id,omitempty"`
	Item     string  `json:"item,omitempty"`
	State    string  `json:"state"`
	WouldBe  string  `json:"would_be,omitempty"`
	Metal    string  `json:"metal"`
	MetalG   Decimal `json:"metal_g"`
	Fineness Decimal `json:"fineness_ppt"` // safe figure, cut
	FineG    Decimal `json:"fine_g"`       // by the safe figure
	Grams    []Line  `json:"grams"`
}

// OfLot values a lot at prices, one for each metal in it, under terms, at the time now. Each metal
// is summed apart and paid by its own safe figure, the house's choice to pay by claimed fineness
// being left aside. The error names the item at fault: one that is suspended, given twice, or a
// heap (ErrMixedHeap). Where the terms give no price for an item, the lot has none, and NoPrice
// names the item.
func OfLot(lot Lot, prices []Price, terms *Terms, now time.Time) (*LotWorth, error) {
	r, err := lot.check()
	if err != nil {
		return nil, err
	}
	if err := terms.Check(); err != nil {
		return nil, err
	}
	out := &LotWorth{
		Format: WorthFormat, Terms: terms.Key, TermsVersion: terms.Version, Currency: terms.Currency,
		Recipes: cmp.Or(lot.Recipes, MixedScrap), At: now, Warnings: []string{},
	}
	sums := map[string]*sum{}
	var notPriced []string
	for i := range lot.Items {
		item := &lot.Items[i]
		name := fmt.Sprintf("items[%d]", i)
		w, s, err := terms.member(item)
		if err != nil {
			return nil, below(name, err)
		}
		out.Items = append(out.Items, lineOf(item, w))
		if why := terms.unpriced(item, w.state); why != "" {
			notPriced = append(notPriced, fmt.Sprintf("%s (%s): %s", name, cmp.Or(item.Answer.ID, "without mark"), why))
		}
		if sums[w.metal] == nil {
			sums[w.metal] = &sum{metal: w.metal}
		}
		sums[w.metal].add(w, s)
	}
	bill := newBill(terms)
	for _, metal := range Metals {
		if sums[metal] == nil {
			continue
		}
		total, err := sums[metal].total(r)
		if err != nil {
			return nil, err
		}
		if len(notPriced) == 0 {
			price, err := terms.priceOf(metal, prices, now)
			if err != nil {
				return nil, err
			}
			gross := bill.metal(price, sums[metal].portions(terms, total))
			total.Price, total.Stale, total.Gross = price, terms.stale(price, now), &gross
		}
		out.Metals = append(out.Metals, total)
	}
	switch {
	case len(notPriced) > 0:
		out.NoPrice = "items without a price: " + strings.Join(notPriced, "; ")
	default:
		out.Payout, out.NoPrice = bill.close(len(lot.Items))
	}
	out.finish(lot, bill, terms, now)
	return out, nil
}

func (l *Lot) check() (recipesCorrelate float64, err error) {
	switch {
	case len(l.Items) == 0:
		return 0, fault("items", "Give one determination at least.", "is empty")
	case len(l.Items) > MaxItems:
		return 0, fault("items", "Part the lot.", "are more than %d", MaxItems)
	}
	lines := map[string]int{}
	for i, item := range l.Items {
		if item.Answer == nil || item.Answer.ID == "" {
			continue
		}
		if before, twice := lines[item.Answer.ID]; twice {
			return 0, fault(fmt.Sprintf("items[%d]", i), "Take one of them out.", "%q stands in the lot already, as items[%d]", item.Answer.ID, before)
		}
		lines[item.Answer.ID] = i
	}
	switch l.Recipes {
	case "", MixedScrap:
		return alloy.MixedScrapR, nil
	case OneMaker:
		return alloy.OneMelt, nil
	}
	return 0, fault("recipes", "Write mixed scrap or one maker.", "is %q", l.Recipes)
}

// member weighs one item of a lot, by its safe figure.
func (t *Terms) member(item *Item) (*weighed, spread, error) {
	w, err := t.weigh(item, SafeFigure)
	if err != nil {
		return nil, spread{}, err
	}
	if w.state == Suspended {
		return nil, spread{}, fault("", "Take the item out of the lot, or settle the doubt and weigh it again.", "%s", t.unpriced(item, w.state))
	}
	s, err := spreadOf(w, item)
	return w, s, err
}

// below puts the name of an item in front of the path of an error.
func below(name string, err error) error {
	f, ok := errors.AsType[*strictjson.FieldError](err)
	if !ok {
		return fmt.Errorf("%s: %w", name, err)
	}
	path := name
	if f.Path != "" {
		path += "." + f.Path
	}
	named := fault(path, f.Hint, "%s", f.Reason)
	if errors.Is(err, ErrMixedHeap) {
		return fmt.Errorf("%w: %w", ErrMixedHeap, named)
	}
	return named
}

func lineOf(item *Item, w *weighed) LotLine {
	line := LotLine{
		ID: item.Answer.ID, Item: item.Answer.Item, State: w.state, Metal: w.metal, MetalG: w.metalG,
		Fineness: w.ppt, FineG: w.fineG, Grams: w.lines,
	}
	if f := item.Answer.Finding; f != nil {
		line.WouldBe = f.WouldBe
	}
	return line
}

// priceOf finds the one price of a metal.
func (t *Terms) priceOf(metal string, prices []Price, now time.Time) (*Price, error) {
	if _, ok := t.metal(metal); !ok {
		return nil, fault("metals", "Use terms that name it, or take its items out of the lot.", "%s do not buy %s", t.Title(), metal)
	}
	var found *Price
	for i := range prices {
		if prices[i].Metal != metal {
			continue
		}
		if found != nil {
			return nil, fault("prices", "Give one price for each metal.", "hold two of %s", metal)
		}
		found = &prices[i]
	}
	if found == nil {
		return nil, fault("prices", "Enter a price of "+metal+".", "hold none of %s", metal)
	}
	copied := *found
	return &copied, t.fits(&copied, now)
}

// finish writes the money, or takes all of it away where there is no price, and says it in words.
func (l *LotWorth) finish(lot Lot, b *bill, t *Terms, now time.Time) {
	assumed, claimed, doubtful := 0, 0, map[string]int{}
	for i, line := range l.Items {
		if len(lot.Items[i].Answer.Assumed) > 0 {
			assumed++
		}
		if line.State == Met && t.OnFinding.Met == ClaimedFineness {
			claimed++
		}
		if line.State != Met {
			doubtful[line.State]++
		}
	}
	if assumed > 0 {
		l.Warnings = append(l.Warnings, fmt.Sprintf("in %d of %s something was taken for granted, because nobody said otherwise", assumed, counted(len(l.Items), "determination")))
	}
	if claimed > 0 {
		l.Warnings = append(l.Warnings, "a lot is paid by its safe figure, also where these terms pay single items by the claimed fineness")
	}
	var sentence []string
	for i := range l.Metals {
		m := &l.Metals[i]
		if l.Payout == nil {
			m.Price, m.Stale, m.Gross = nil, false, nil
		}
		sentence = append(sentence, fmt.Sprintf("%s of %s, %s g of metal: at least %s g of fine %s (95 %%; sum of the single safe figures %s g).",
			counted(m.Items, "item"), m.Metal, m.MetalG, m.SafeG.cut(lotDecimals), m.Metal, m.SinglesG.cut(lotDecimals)))
		if m.Stale {
			l.Warnings = append(l.Warnings, t.staleWarning(m.Price, now))
		}
	}
	for _, state := range []string{NotMet, Undecided, NoClaim} {
		if n := doubtful[state]; n > 0 {
			sentence = append(sentence, fmt.Sprintf("The finding on %s is: %s.", counted(n, "item"), state))
			if l.Payout != nil {
				l.Warnings = append(l.Warnings, counted(n, "item")+": "+stateWarning(state))
			}
		}
	}
	if l.Payout == nil {
		sentence = append(sentence, "No price: "+l.NoPrice+".")
	} else {
		l.Money = b.lines
		sentence = append(sentence, fmt.Sprintf("Payout %s %s by %s.", l.Payout, l.Currency, t.Title()))
		for i := range l.Metals {
			if m := &l.Metals[i]; m.Stale {
				sentence = append(sentence, fmt.Sprintf("The price of %s is stale: %s old.", m.Metal, words(m.Price.Age(now))))
			}
		}
	}
	l.Sentence = strings.Join(sentence, " ")
}
