package demo

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"time"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
	"wreath/internal/value"
)

// handle takes one thing over the counter, to the bench and into the register, as far as it gets.
func (s *story) handle(ctx context.Context, n int) error {
	t := &Things[n]
	item, err := s.enter(ctx, t)
	if err != nil {
		return err
	}
	got := started{item: item}
	defer func() { s.started[t.Key] = got }()
	s.clock.wait(time.Minute)
	j := &job{
		story: s, ctx: ctx, thing: t, item: item, draft: t.request(),
		w: newWeighing(t.At, uint64(n), t.Trouble == swapped), body: bodyOf(t.Pieces, t.VoidCm3),
	}
	r, err := j.measure()
	if err != nil || r == nil {
		return err
	}
	if got.record = r.Number; t.Trouble == notSigned {
		return nil
	}
	if t.Trouble == slip {
		if r, err = s.correct(ctx, t, r, j.meant); err != nil {
			return err
		}
		got.record = r.Number
	}
	s.clock.wait(time.Minute)
	if _, err := s.desk.Sign(ctx, s.by, r.Number, people.Approved); err != nil {
		return err
	}
	got.deal, err = s.deal(ctx, t, item, r)
	return err
}

// open is true of a thing that still lies on its tray when the demo ends.
func (t *Thing) open() bool {
	return t.Trouble == leftOpen || t.Trouble == halfDone || t.Trouble == justBegun
}

func (s *story) enter(ctx context.Context, t *Thing) (string, error) {
	i := desk.Item{Description: t.Description, Marks: t.Marks, Barcode: t.Barcode, Place: "safe, shelf 2"}
	if t.open() {
		i.Place = "on its tray"
	}
	if c := t.Claim; c != nil {
		i.ClaimBy, i.Claim = c.MadeBy, c.Stone
		if c.Fineness != nil {
			i.Claim = fmt.Sprintf("%s %g", c.Metal, *c.Fineness)
		}
	}
	item, err := s.desk.EnterItem(ctx, s.by, i)
	if err != nil || t.Picture == "" {
		return item.ID, err
	}
	drawn, err := draw(t.Picture, t.Colour)
	if err == nil {
		s.clock.wait(20 * time.Second)
		_, err = s.desk.AddPhoto(ctx, s.by, item.ID, drawn, "a drawing; the item is invented")
	}
	return item.ID, err
}

// request is what is asked of a thing before it is weighed.
func (t *Thing) request() *determination.Draft {
	d := &determination.Draft{
		Item:  &determination.Item{Description: t.Description, Colour: t.Colour, Stones: t.Stones, Hollow: t.Hollow},
		Claim: t.Claim, Note: "Invented item and readings.",
	}
	if t.Trouble == soaked {
		d.Method, d.Coating = "impregnated", &determination.Filler{DensityKgM3: p(880.0), DensityUKgM3: p(3.0)}
	}
	return d
}

// job is a thing on the bench. After an error nothing more is done.
type job struct {
	*story
	ctx   context.Context
	thing *Thing
	item  string
	draft *determination.Draft
	w     *weighing
	body  body
	sheet string // "" when the readings come as a table
	last  int    // number of the last reading
	meant string // the reading that was mistyped
	err   error
}

// onSheet is true of things that were weighed at the screen, reading by reading. The others stood in
// the table of the bench, which was imported: a fill that took every reading by itself would let
// whoever wants to look around wait.
func (t *Thing) onSheet() bool {
	return t.open() || t.Trouble == bubbleSeen || t.Trouble == touched || t.Trouble == lateClaim
}

// measure weighs a thing and records what comes out; nil for one that stays open.
func (j *job) measure() (*record.Record, error) {
	if j.thing.onSheet() {
		j.openSheet()
	}
	j.weigh()
	if j.err != nil || j.thing.open() {
		return nil, j.err
	}
	j.clock.wait(30 * time.Second)
	if j.sheet != "" {
		return j.desk.Conclude(j.ctx, j.by, j.sheet)
	}
	text, err := station.WriteDraft(j.draft)
	if err != nil {
		return nil, err
	}
	g := desk.Given{Begin: desk.Begin{Station: j.thing.At.station, Item: j.item, Document: text}, Source: record.Imported}
	return j.desk.Record(j.ctx, j.by, g)
}

func (j *job) openSheet() {
	text, err := station.WriteDraft(j.draft)
	if err != nil {
		j.err = err
		return
	}
	s, err := j.desk.OpenSheet(j.ctx, j.by, desk.Begin{Station: j.thing.At.station, Item: j.item, Document: text})
	j.sheet, j.err = s.Sheet.ID, err
}

// take is one reading: on the sheet, or in the table.
func (j *job) take(slot, text string) {
	if j.err != nil {
		return
	}
	j.clock.wait(25 * time.Second)
	if j.sheet == "" {
		j.err = j.note(slot, text)
		return
	}
	r := record.Reading{Slot: slot, Text: text, Source: record.Received, Settled: true}
	if j.thing.At.station == counter.station || slot == temperature {
		r.Source, r.Settled = record.Typed, false
	}
	var s desk.Sheet
	if s, j.err = j.desk.Take(j.ctx, j.by, j.sheet, r); j.err == nil {
		j.last = len(s.Sheet.Readings)
	}
}

const temperature = "liquid.temperature_c"

// note writes a reading into the table. The correction of the thermometer is added there by hand.
func (j *job) note(slot, text string) error {
	d := j.draft
	if slot == temperature {
		shown, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return err
		}
		corrected := math.Round(1e4*(shown+j.w.thermoOff)) / 1e4
		d.Liquid = &determination.Liquid{TemperatureC: &corrected, TemperatureUC: p(0.05)}
		return nil
	}
	var r determination.Reading
	if err := r.FromNumber(text); err != nil {
		return err
	}
	if d.Liquid.Proof == nil && j.w.piece.mass > 0 {
		d.Liquid.Proof = &determination.Proof{}
	}
	list, ok := map[string]*[]determination.Reading{
		"air_g": &d.AirG, "liquid_g": &d.LiquidG, "closing_air_g": &d.ClosingAirG, "closing_zero_g": &d.ClosingZeroG, "impregnated_air_g": &d.ImpregnatedAirG,
	}[slot]
	switch {
	case slot == "liquid.proof.air_g":
		list = &d.Liquid.Proof.AirG
	case slot == "liquid.proof.liquid_g":
		list = &d.Liquid.Proof.LiquidG
	case !ok:
		return fmt.Errorf("the table has no column for %s", slot)
	}
	*list = append(*list, r)
	return nil
}

func (j *job) setAside(reason string) {
	if j.err == nil {
		j.clock.wait(10 * time.Second)
		_, j.err = j.desk.Withdraw(j.ctx, j.by, j.sheet, j.last, reason)
	}
}

// weigh takes the readings of a thing in the usual order: liquid, air, immersed, air once more.
func (j *job) weigh() {
	t := j.thing
	if t.Trouble == justBegun {
		return
	}
	j.prove()
	j.take("air_g", j.w.inAir(j.body))
	if t.Trouble == soaked {
		j.soak()
		return
	}
	j.take("air_g", j.w.inAir(j.body))
	if t.Trouble == lateClaim {
		j.readAgain()
	}
	j.immerse()
	if t.Trouble != halfDone {
		j.take("closing_zero_g", j.w.empty())
		j.take("closing_air_g", j.w.inAir(j.body))
	}
}

// prove reads the temperature of the liquid and weighs the check piece in it.
func (j *job) prove() {
	if j.thing.Trouble == warmGuess {
		j.take(temperature, "16")
	} else {
		j.take(temperature, j.w.thermometer())
	}
	if j.w.piece.mass > 0 {
		j.take("liquid.proof.air_g", j.w.inAir(j.w.piece))
		j.take("liquid.proof.liquid_g", j.w.immersed(j.w.piece, 0))
	}
}

func (j *job) immerse() {
	switch j.thing.Trouble {
	case bubbleLeft:
		j.take("liquid_g", j.w.immersed(j.body, 2.4))
	case bubbleSeen:
		j.take("liquid_g", j.w.immersed(j.body, 1.8))
		j.setAside("bubble seen in the open work")
		j.take("liquid_g", j.w.immersed(j.body, 0))
	case touched:
		carried := j.body
		carried.mass -= 0.061 // that much rests on the wall of the vessel
		j.take("liquid_g", j.w.immersed(carried, 0))
		j.setAside("the ring touched the wall of the vessel")
		j.take("liquid_g", j.w.immersed(j.body, 0))
	case slip:
		j.meant = j.w.immersed(j.body, 0)
		j.take("liquid_g", swap(j.meant))
	case oneImmersed, halfDone:
		j.take("liquid_g", j.w.immersed(j.body, 0))
		return
	default:
		j.take("liquid_g", j.w.immersed(j.body, 0))
	}
	j.take("liquid_g", j.w.immersed(j.body, 0))
}

// swap types the third and second digit from the end the wrong way round, as happens.
func swap(text string) string {
	b := []byte(text)
	n := len(b)
	b[n-2], b[n-3] = b[n-3], b[n-2]
	return string(b)
}

// soak fills the open pores with oil and weighs on.
func (j *job) soak() {
	const pores, oil = 0.03, 0.88
	full := j.body
	full.volume /= 1 - pores
	full.mass += full.volume * pores * oil
	j.take("impregnated_air_g", j.w.inAir(full))
	j.take("liquid_g", j.w.immersed(full, 0))
	j.take("liquid_g", j.w.immersed(full, 0))
}

// readAgain changes the claim after weighing began.
func (j *job) readAgain() {
	if j.err != nil {
		return
	}
	d := j.thing.request()
	d.Claim = of("gold", 585, "gold-yellow")
	text, err := station.WriteDraft(d)
	if err != nil {
		j.err = err
		return
	}
	j.clock.wait(time.Minute)
	_, j.err = j.desk.Change(j.ctx, j.by, j.sheet, text, "stamp read again under the glass: 585")
}

// correct puts the reading as it was meant in the place of the mistyped one.
func (s *story) correct(ctx context.Context, t *Thing, wrong *record.Record, meant string) (*record.Record, error) {
	d, err := determination.Decode(wrong.Document)
	if err != nil {
		return nil, err
	}
	if err := d.LiquidG[0].FromNumber(meant); err != nil {
		return nil, err
	}
	text, err := station.WriteDraft(d)
	if err != nil {
		return nil, err
	}
	s.clock.wait(4 * time.Minute)
	g := desk.Given{Begin: desk.Begin{Station: t.At.station, Item: wrong.Sheet.Item, Document: text}, Source: record.Typed}
	return s.desk.Correct(ctx, s.by, wrong.Number, g, "first immersed reading mistyped: the balance showed "+meant+" g")
}

// deal puts a value on a record whose claim is met, and enters what came of the item. What is not
// bought goes home with its owner.
func (s *story) deal(ctx context.Context, t *Thing, item string, r *record.Record) (string, error) {
	deal := desk.Deal{Kind: t.Deal, Items: []string{item}, Note: "invented"}
	summary, err := r.Summary()
	if err != nil {
		return "", err
	}
	var payout *value.Decimal
	if summary.Finding == "met" {
		s.clock.wait(30 * time.Second)
		worth, err := s.desk.Value(ctx, s.by, desk.Valuing{Records: []string{r.Number}})
		if err != nil {
			return "", err
		}
		payout = worth.Payout
	}
	switch t.Deal {
	case "buy", "pledge":
		if payout == nil {
			return "", s.home(ctx, item)
		}
		deal.Customer, deal.Amount, deal.Currency = s.seller, payout.String(), "EUR"
	case "consign":
		deal.Customer = s.seller
	case "measure-only":
		if t.Key == visitorsItem {
			deal.Customer = s.visitor
		}
	case "":
		return "", s.home(ctx, item)
	}
	s.clock.wait(2 * time.Minute)
	entered, err := s.desk.Register(ctx, s.by, deal)
	if err == nil && t.Deal == "measure-only" {
		err = s.home(ctx, item)
	}
	return entered.Number, err
}

// home is where an item goes that stays with its owner.
func (s *story) home(ctx context.Context, item string) error {
	s.clock.wait(30 * time.Second)
	_, err := s.desk.MoveItem(ctx, s.by, item, "", "returned", "stays with its owner", nil)
	return err
}
