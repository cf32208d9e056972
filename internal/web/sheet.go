package web

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
	"wreath/internal/strictjson"
	"wreath/internal/value"
	"wreath/uncertainty"
)

// sheetView is a determination under way, as its page shows it.
type sheetView struct {
	ID         string
	Seq        int64
	Sheet      record.Sheet
	Draft      *determination.Draft
	Claim      string
	Fixed      time.Time // when the claim was written down
	Late       bool      // after the first reading
	Slots      []slotView
	Last       *record.Reading // taken last, shown large
	LastName   string
	Next       next
	Answer     *determination.Answer
	Density    densityView
	Why        *problem // why there is no answer yet
	Worth      *value.Worth
	NoWorth    string
	Picture    pictures
	Marks      []string
	Notes      []record.Note
	Item       *desk.ItemSheet       // nil: not entered as a thing of its own
	Others     []tray                // other sheets that are open
	CheckPiece bool                  // the station has one
	Carry      bool                  // the check piece of another sheet can be carried over
	Caution    string                // what density can't see, in short
	Checked    string                // when the tray was scanned
	Undone     int                   // number of the reading whose setting aside was the last act at the readings
	Odd        *oddity               // a typed number that may be misread
	Proposed   []*oddity             // typed numbers that may read otherwise, as the answer proposes it
	Refused    []determination.Doubt // what may be wrong with readings that can't be evaluated
	Stop       *stopView             // whether enough was weighed; nil: no rule asks
	Evidence   []pieceView           // further tests: those that count, then those set aside
	Outlook    *outlook              // whether the balance can answer the claim; nil: there is none to plan for
	Stations   []station.Station     // the sheet can go on to
	Now        *nowView              // what its balance says; nil where none is linked
	Warmth     *nowView              // what its thermometer says
}

// slotView is one row of readings.
type slotView struct {
	Slot     string // the draft's field
	Name     string
	Key      string // goes to its field
	Unit     string
	Readings []record.Reading
	Away     []awayReading // taken at another station
	Wanted   bool          // the next reading belongs here
}

// awayReading is a reading that was taken at another station and isn't evaluated at this one.
type awayReading struct {
	record.Reading
	At string
}

// Kept are the readings that count.
func (s slotView) Kept() (out []record.Reading) {
	for _, r := range s.Readings {
		if r.Withdrawn == nil {
			out = append(out, r)
		}
	}
	return out
}

// Aside are the readings that were set aside.
func (s slotView) Aside() (out []record.Reading) {
	for _, r := range s.Readings {
		if r.Withdrawn != nil {
			out = append(out, r)
		}
	}
	return out
}

// densityView is a density as it is printed.
type densityView struct {
	Value, U, K  string
	Cause, Share string // of the uncertainty, the largest
	Low, High    string
	Odd          bool // the interval is lopsided or open
}

// next is the one line that says what to do.
type next struct {
	Text  string
	Short string // at most 24 letters, to be read from afar
	Kind  string // "", doubt or stop
	Slot  string // where the next reading goes
	Ready bool   // nothing is missing

	Why, Expect, Minutes string               // of the act, where the answer proposes it
	Evidence             string               // kind of evidence that the act brings
	Others               []determination.Step // that would do too
}

func (s *Server) sheet(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	body, err := s.sheetView(r, who, r.PathValue("id"))
	var user *desk.UserError
	if errors.As(err, &user) && user.Missing {
		// Whoever goes back to a sheet that was kept is led to its record.
		if kept, found := s.current().Show(r.Context(), who, r.PathValue("id")); found == nil {
			http.Redirect(w, r, "/record/"+kept.Record.Number, http.StatusSeeOther)
			return nil
		}
	}
	if err != nil {
		return err
	}
	w.Header().Set("ETag", fmt.Sprintf(`"%d"`, body.Seq))
	title := "Sheet"
	if body.Draft.Item != nil && body.Draft.Item.Description != "" {
		title = body.Draft.Item.Description
	}
	station := ""
	if body.Sheet.Station != nil {
		station = body.Sheet.Station.ID
	}
	page := "sheet"
	if strings.HasSuffix(r.URL.Path, "/far") {
		page = "far"
	}
	s.render(w, r, http.StatusOK, page, view{Title: title, Nav: "bench", Who: who, Station: station, Body: body})
	return nil
}

func (s *Server) sheetView(r *http.Request, who *desk.Who, id string) (*sheetView, error) {
	d := s.current()
	sheet, err := d.Sheet(r.Context(), who, id)
	if err != nil {
		return nil, err
	}
	asked := sheet.Sheet.Requests[len(sheet.Sheet.Requests)-1]
	since, err := fixed(sheet.Sheet.Requests)
	if err != nil {
		return nil, err
	}
	v := &sheetView{ID: id, Seq: sheet.Seq, Sheet: sheet.Sheet, Fixed: since.Made.Time, Late: since.Late, Marks: sheet.Sheet.Marks(), Notes: sheet.Sheet.Notes}
	if err := s.beside(r, who, v); err != nil {
		return nil, err
	}
	if v.Now, v.Warmth, err = s.nowOf(r, who, sheet, v.Others); err != nil {
		return nil, err
	}
	if v.Draft, err = determination.Decode(asked.Document); err != nil {
		return nil, err
	}
	said := claimMade(v.Draft)
	v.Claim = claimWords(said)
	so, err := d.Evaluate(r.Context(), who, id)
	complete := v.Draft
	var field *strictjson.FieldError
	switch {
	case err == nil:
		v.Answer = so.Answer
		if complete, err = determination.Decode(so.Complete.Document); err != nil {
			return nil, err
		}
		v.Density = printDensity(so.Answer)
	case errors.As(err, &field):
		v.Why = asProblem(err)
	default:
		return nil, err
	}
	if v.Answer == nil {
		// The station still says how it is weighed.
		if filled, err := d.Filled(r.Context(), who, id); err == nil {
			complete = filled
			v.Refused = determination.Reread(filled)
		}
	}
	v.Picture = draw(wordsFor(r), v.Answer, said, false)
	v.Slots = slots(sheet.Sheet, complete, v.CheckPiece)
	if a := v.Answer; a != nil && a.Finding != nil && asksForZero(a.Finding.Missing) {
		v.Slots = append(v.Slots, slotView{Slot: "closing_zero_g", Name: say("empty hanger at the end"), Unit: "g"})
	}
	for i := range sheet.Sheet.Readings {
		if reading := &sheet.Sheet.Readings[i]; sheet.Sheet.Counts(*reading) && unitOf(reading.Slot) == "g" {
			v.Last, v.LastName = reading, slotName(v.Slots, reading.Slot)
		}
	}
	v.Undone = undone(sheet.Sheet.Readings)
	v.Odd = odd(v.Slots, complete, v.Notes)
	doubts := v.Refused
	if v.Answer != nil {
		doubts = v.Answer.Doubts[:min(len(v.Answer.Doubts), mostShown)]
	}
	v.Proposed = proposals(doubts, v)
	v.Stop = stopOf(sheet.Sheet.Requests, v.Answer)
	if v.Evidence, err = piecesOf(sheet.Sheet.Requests, v.Draft, v.Answer); err != nil {
		return nil, err
	}
	v.Caution, _ = cautions(v.Answer)
	v.Outlook = outlookOf(v, complete)
	v.Next = nextLine(v, complete)
	for i := range v.Slots {
		v.Slots[i].Wanted = v.Slots[i].Slot == v.Next.Slot
	}
	if v.Answer != nil && who.May(people.SeePrices) {
		if v.Worth, err = d.Estimate(r.Context(), who, id); err != nil {
			v.NoWorth = err.Error()
		}
	}
	return v, nil
}

// printDensity rounds as ISO 80000-1 says: the value ends where its uncertainty ends.
func printDensity(a *determination.Answer) densityView {
	d := a.Density20C
	v := densityView{K: strconv.FormatFloat(d.K, 'f', 2, 64)}
	v.Value, v.U = uncertainty.Round(d.KgM3/1000, d.UExpanded/1000)
	v.Low = strconv.FormatFloat(d.LowKgM3/1000, 'g', 4, 64)
	if d.HighKgM3 == nil {
		v.Odd, v.High = true, "∞"
	} else {
		low, high := d.KgM3-d.LowKgM3, *d.HighKgM3-d.KgM3
		v.Odd = math.Abs(high-low) > 0.1*(high+low)
		v.High = strconv.FormatFloat(*d.HighKgM3/1000, 'g', 4, 64)
	}
	if len(a.Budget) > 0 {
		v.Cause = a.Budget[0].Input
		v.Share = fmt.Sprintf("%.0f %%", 100*a.Budget[0].Share)
	}
	return v
}

// slots lays out the rows of readings that the arrangement and method need, and those of the check piece where the
// station has one.
func slots(s record.Sheet, d *determination.Draft, checkPiece bool) []slotView {
	immersed := slotView{Slot: "liquid_g", Name: say("in water"), Key: "L"}
	proof := slotView{Slot: "liquid.proof.liquid_g", Name: say("check piece in water")}
	inLiquid := d.Liquid != nil && d.Liquid.Kind != "water"
	warmth := slotView{Slot: "liquid.temperature_c", Name: say("water"), Unit: "°C", Key: "T"}
	if inLiquid {
		immersed.Name, proof.Name, warmth.Name = say("in the liquid"), say("check piece in the liquid"), say("liquid")
	}
	if d.Arrangement == "standing" {
		immersed.Slot, immersed.Name = "gain_g", say("gain in water")
		proof.Slot, proof.Name = "liquid.proof.gain_g", say("check piece, gain")
		if inLiquid {
			immersed.Name = say("gain in the liquid")
		}
	}
	rows := []slotView{{Slot: "air_g", Name: say("in air"), Key: "A"}, immersed, {Slot: "closing_air_g", Name: say("in air again")}, warmth}
	if checkPiece || d.Liquid != nil && d.Liquid.Proof != nil {
		rows = append(rows, slotView{Slot: "liquid.proof.air_g", Name: say("check piece in air")}, proof)
	}
	known := map[string]bool{}
	for _, row := range rows {
		known[row.Slot] = true
	}
	for _, reading := range s.Readings { // of another method, or of the room
		if !known[reading.Slot] {
			known[reading.Slot] = true
			rows = append(rows, slotView{Slot: reading.Slot, Name: plain(reading.Slot), Unit: unitOf(reading.Slot)})
		}
	}
	for i := range rows {
		if rows[i].Unit == "" {
			rows[i].Unit = "g"
		}
		for _, reading := range s.Readings {
			switch {
			case reading.Slot != rows[i].Slot:
			case reading.Withdrawn == nil && !s.Here(reading.No):
				at := say("no station")
				if from := s.TakenAt(reading.No); from != nil {
					at = from.String()
				}
				rows[i].Away = append(rows[i].Away, awayReading{reading, at})
			default:
				rows[i].Readings = append(rows[i].Readings, reading)
			}
		}
	}
	return rows
}

// taken counts the readings of a row that were not set aside.
func (s slotView) taken() (n int) {
	for _, r := range s.Readings {
		if r.Withdrawn == nil {
			n++
		}
	}
	return n
}

// unitOf is the unit that a reading is typed in.
func unitOf(slot string) string {
	switch {
	case strings.HasSuffix(slot, "_c"):
		return "°C"
	case strings.HasSuffix(slot, "_hpa"):
		return "hPa"
	case strings.HasSuffix(slot, "_percent"):
		return "%"
	}
	return "g"
}

func slotName(rows []slotView, slot string) string {
	for _, row := range rows {
		if row.Slot == slot {
			return row.Name
		}
	}
	return ""
}

// nextLine is the one sentence that says what to do.
func nextLine(v *sheetView, d *determination.Draft) next {
	count := map[string]int{}
	for _, row := range v.Slots {
		count[row.Slot] = row.taken()
	}
	immersed := v.Slots[1].Slot
	switch {
	case count["air_g"] == 0 && len(v.Slots[0].Away) > 0:
		return next{Text: say("Weigh it in air here too. What was weighed at another station does not count on this balance."), Short: say("Weigh in air"), Slot: "air_g"}
	case count["air_g"] == 0:
		return next{Text: say("Weigh the item in air, and write down what the balance shows."), Short: say("Weigh in air"), Slot: "air_g"}
	case count[immersed] == 0:
		return next{Text: say("Hang it in the liquid, brush the bubbles off, and weigh it there."), Short: say("Weigh in the liquid"), Slot: immersed}
	case count["liquid.temperature_c"] == 0 && (d.Liquid == nil || d.Liquid.TemperatureC == nil && d.Liquid.DensityKgM3 == nil):
		return next{Text: say("Read the thermometer in the liquid."), Short: say("Read the thermometer"), Slot: "liquid.temperature_c"}
	case len(v.Slots) > 5 && count["liquid.proof.air_g"] > 0 && count[v.Slots[5].Slot] == 0 && v.Slots[4].Slot == "liquid.proof.air_g":
		return next{Text: say("Hang the check piece in the liquid, and weigh it there."), Short: say("Check piece in liquid"), Slot: v.Slots[5].Slot}
	case v.Why != nil:
		return next{Text: v.Why.Title + ". " + v.Why.Hint, Short: say("Look at the sheet"), Kind: "stop"}
	case len(v.Answer.Doubts) > 0 && v.Answer.Next != nil:
		return stepLine(v, count)
	case len(v.Answer.Doubts) > 0:
		return next{Text: v.Answer.Doubts[0].Settles, Short: say("Look at the doubt"), Kind: "doubt"}
	case v.Answer.Finding != nil && len(v.Answer.Finding.Missing) > 0:
		return missingLine(v, count, immersed).because(v.Answer.Next)
	case v.Stop != nil && v.Stop.Verdict == determination.OneMore:
		return next{Text: say("Take it out, hang it in the liquid once more, and weigh it there again."), Short: say("Weigh immersed again"), Slot: immersed, Why: v.Stop.Why}
	case v.Answer.Next != nil:
		return stepLine(v, count)
	case v.Stop != nil && v.Stop.Verdict == determination.Useless:
		return next{Text: say("More weighings do not help here. Look at the answer, then keep the record."), Short: say("Keep the record"), Ready: true, Why: v.Stop.Why}
	}
	return next{Text: say("Nothing is missing. Look at the answer, then keep the record."), Short: say("Keep the record"), Ready: true}
}

// missingLine says what the house rule still asks for.
func missingLine(v *sheetView, count map[string]int, immersed string) next {
	switch missing := v.Answer.Finding.Missing[0]; {
	case strings.Contains(missing, "immersed"):
		return next{Text: say("Take it out, hang it in the liquid once more, and weigh it there again."), Short: say("Weigh immersed again"), Slot: immersed}
	case strings.Contains(missing, "closing_air_g"):
		return next{Text: say("Dry it, and weigh it in air once more."), Short: say("Dry it, weigh in air"), Slot: "closing_air_g"}
	case strings.Contains(missing, "liquid.proof") && v.Carry && count["liquid.proof.air_g"] == 0:
		return next{Text: say("Carry the check piece over from the last sheet, or weigh it in air and in the liquid."), Short: say("Carry the check piece"), Slot: "liquid.proof.air_g"}
	case strings.Contains(missing, "liquid.proof") && count["liquid.proof.air_g"] == 0 && len(v.Slots) > 5:
		return next{Text: say("Weigh the check piece in air, then in the liquid: it proves the liquid."), Short: say("Weigh the check piece"), Slot: "liquid.proof.air_g"}
	case strings.Contains(missing, "liquid.proof") && len(v.Slots) > 5:
		return next{Text: say("Hang the check piece in the liquid, and weigh it there."), Short: say("Check piece in liquid"), Slot: v.Slots[5].Slot}
	case strings.Contains(missing, "liquid.proof"):
		return next{Text: say("Give the station a check piece, on the page of stations: weighed in the liquid, it proves the liquid."), Short: say("Name a check piece")}
	case asksForZero([]string{missing}):
		return next{Text: say("Take the item off, let the empty hanger down to its mark, and read the balance before it is set to zero."), Short: say("Read the empty hanger"), Slot: "closing_zero_g"}
	default:
		return next{Text: "Still missing: " + missing + ".", Short: say("Look at the sheet")}
	}
}

// asksForZero says whether the house rule still asks for a reading of the empty hanger.
func asksForZero(missing []string) bool {
	return slices.ContainsFunc(missing, func(m string) bool { return strings.Contains(m, "closing_zero_g") })
}

// beside fills in what lies beside a sheet: its item, and the other sheets that are open.
func (s *Server) beside(r *http.Request, who *desk.Who, v *sheetView) error {
	d := s.current()
	if v.Sheet.Item != "" {
		item, err := d.ItemBy(r.Context(), who, v.Sheet.Item)
		if err != nil {
			return err
		}
		v.Item = &item
	}
	sheets, err := d.Sheets(r.Context(), who)
	if err != nil {
		return err
	}
	for _, other := range sheets {
		if other.ID != v.ID && len(v.Others) < 6 {
			v.Others = append(v.Others, trayOf(other))
		}
	}
	if who.May(people.SeeStations) && who.May(people.ChangeDraft) {
		equipment, err := d.Equipment(r.Context(), who)
		if err != nil {
			return err
		}
		for _, at := range equipment.Stations {
			if v.Sheet.Station == nil || at.Ref() != *v.Sheet.Station {
				v.Stations = append(v.Stations, at)
			} else {
				v.CheckPiece = at.CheckPiece != nil
			}
		}
	}
	v.Carry, err = d.ProofAtHand(r.Context(), who, v.ID)
	for _, note := range v.Sheet.Notes {
		if strings.HasPrefix(note.Text, trayChecked) {
			v.Checked = note.Made.Time.Format("15:04")
		}
	}
	return err
}

// carryProof takes the check piece's readings over from the last sheet of the station.
func (s *Server) carryProof(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	id := r.PathValue("id")
	_, err := s.current().CarryProof(r.Context(), by(r, who), id)
	return s.done(w, r, id, err)
}

func (s *Server) takeReading(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	id := r.PathValue("id")
	unit := r.FormValue("unit")
	if unit == "g" {
		unit = "" // grams unless the text says otherwise
	}
	_, err := s.current().Take(r.Context(), by(r, who), id, record.Reading{
		Slot: r.FormValue("slot"), Text: strings.TrimSpace(r.FormValue("text")), Unit: unit, Source: record.Typed,
	})
	return s.done(w, r, id, err)
}

// readingAct is an act of the desk at one reading of a sheet.
type readingAct func(ctx context.Context, by desk.By, id string, no int, reason string) (desk.Sheet, error)

// setAside sets a reading aside; it stays visible.
func (s *Server) setAside(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	return s.atReading(w, r, who, s.current().Withdraw, "taken by mistake")
}

// restore lets a reading that was set aside count again.
func (s *Server) restore(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	return s.atReading(w, r, who, s.current().RestoreReading, "set aside by mistake")
}

// atReading does an act at the reading that a form names by its number, with the reason given or the usual one.
func (s *Server) atReading(w http.ResponseWriter, r *http.Request, who *desk.Who, act readingAct, usual string) error {
	id := r.PathValue("id")
	no, err := strconv.Atoi(r.FormValue("no"))
	if err != nil {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "No reading was named.", Hint: "Go back and choose one."}
	}
	_, err = act(r.Context(), by(r, who), id, no, cmp.Or(strings.TrimSpace(r.FormValue("reason")), usual))
	return s.done(w, r, id, err)
}

// undone is the number of the reading whose setting aside was the last act at the readings; 0 is none.
func undone(readings []record.Reading) (no int) {
	var last time.Time
	for _, r := range readings {
		at, aside := r.Time, false
		if n := len(r.Restored); n > 0 && r.Restored[n-1].Time.After(at) {
			at = r.Restored[n-1].Time
		}
		if w := r.Withdrawn; w != nil && !w.Time.Before(at) {
			at, aside = w.Time, true
		}
		if at.Before(last) {
			continue
		}
		last = at
		if no = 0; aside {
			no = r.No
		}
	}
	return no
}

// moveSheet takes the sheet on to another station.
func (s *Server) moveSheet(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	id := r.PathValue("id")
	_, err := s.current().MoveSheet(r.Context(), by(r, who), id, r.FormValue("station"), strings.TrimSpace(r.FormValue("reason")))
	return s.done(w, r, id, err)
}

// remark writes down what else was seen.
func (s *Server) remark(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	id := r.PathValue("id")
	_, err := s.current().Note(r.Context(), by(r, who), id, strings.TrimSpace(r.FormValue("text")))
	return s.done(w, r, id, err)
}

// changeItem writes down another item or claim. After the first reading it says why.
func (s *Server) changeItem(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	id := r.PathValue("id")
	d := s.current()
	sheet, err := d.Sheet(r.Context(), who, id)
	if err != nil {
		return err
	}
	before, err := determination.Decode(sheet.Sheet.Requests[len(sheet.Sheet.Requests)-1].Document)
	if err != nil {
		return err
	}
	document, err := documentOf(r, before)
	if err != nil {
		return err
	}
	reason := strings.TrimSpace(r.FormValue("reason"))
	if reason == "" && len(sheet.Sheet.Readings) > 0 {
		reason = "written down late"
	}
	_, err = d.Change(r.Context(), by(r, who), id, document, reason)
	return s.done(w, r, id, err)
}

// done tells the balance and the other pages, and goes back to the sheet.
func (s *Server) done(w http.ResponseWriter, r *http.Request, id string, err error) error {
	if err != nil {
		return err
	}
	who, err := s.who(r, false)
	if err == nil {
		err = s.keepUp(r.Context(), who, id)
	}
	if err != nil {
		return err
	}
	s.hub.tell(id)
	back(w, r, "/sheet/"+id)
	return nil
}

// seen is the entry that the sender of a form last saw; 0 where it does not say.
func seen(r *http.Request) int64 {
	entry, err := strconv.ParseInt(r.FormValue("seen"), 10, 64)
	if err != nil {
		return 0
	}
	return entry
}

// conclude keeps the record.
func (s *Server) conclude(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	id := r.PathValue("id")
	d := s.current()
	doer := by(r, who)
	doer.Seen = seen(r)
	made, err := d.Conclude(r.Context(), doer, id, s.unanswered(id)...)
	if err != nil {
		return err
	}
	s.leave(id)
	s.hub.tell(id)
	s.hub.tell("bench")
	if r.FormValue("slip") != "" && who.May(people.PrintSlip) {
		return s.printSlip(w, r, desk.By{Who: who, Key: part(r, "slip")}, made.Number)
	}
	back(w, r, "/record/"+made.Number)
	return nil
}

func (s *Server) dropSheet(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	id := r.PathValue("id")
	if err := s.current().Drop(r.Context(), by(r, who), id, strings.TrimSpace(r.FormValue("reason"))); err != nil {
		return err
	}
	s.leave(id)
	s.hub.tell(id)
	back(w, r, "/")
	return nil
}
