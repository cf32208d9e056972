package desk

import (
	"strings"

	"wreath/internal/ledger"
	"wreath/internal/record"
	"wreath/internal/store"
)

// keepReadings gives a correction the readings of the wrong record that it repeats unchanged: they
// were taken when they were taken, by whom they were taken. What is new or changed keeps the time and
// the person of the correction. Readings that were set aside stay behind, on the wrong record.
func keepReadings(tx *store.Tx, wrong standing, sheet *record.Sheet) error {
	raw, err := tx.Raw(wrong.Seq)
	if err != nil {
		return err
	}
	e, err := ledger.Decode(raw)
	if err != nil {
		return &ledger.Broken{Seq: wrong.Seq, Reason: err.Error()}
	}
	r, err := decodeRecord(e)
	if err != nil {
		return err
	}
	used := map[int]bool{}
	for i := range sheet.Readings {
		given := &sheet.Readings[i]
		for _, was := range r.Sheet.Readings {
			if used[was.No] || was.Withdrawn != nil || was.Slot != given.Slot || shown(was) != shown(*given) {
				continue
			}
			used[was.No] = true
			no := given.No
			*given = was
			given.No = no
			break
		}
	}
	return nil
}

// shown is what an instrument showed, whatever the decimal mark that it was written with.
func shown(r record.Reading) string {
	text := strings.Replace(strings.TrimSpace(r.Text), ",", ".", 1)
	unit := r.Unit
	if at := strings.IndexFunc(text, func(c rune) bool { return c == ' ' || c >= 'a' && c <= 'z' }); at >= 0 {
		text, unit = text[:at], strings.TrimSpace(text[at:])
	}
	if unit == "" {
		unit = "g"
	}
	return text + " " + unit
}
