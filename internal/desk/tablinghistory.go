package desk

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/station"
	"wreath/internal/store"
	"wreath/internal/tables"
)

// historyRow is one thing that is known of a station or an instrument.
type historyRow struct {
	at                             time.Time
	what, document, person, reason string
	field, before, after           string

	certificate, issuer string
	day, from, due      station.Date
	shown, correction   string
	expandedU, k, unit  string
	record, air, liquid string
	density, densityU   float64
	remark              string
}

var historyColumns = []column[historyRow]{
	{"at", "at", "", tables.Time, func(r *historyRow) string { return tables.Moment(r.at) }},
	{"what", "what", "", tables.Text, func(r *historyRow) string { return r.what }},
	{"document", "version", "", tables.Text, func(r *historyRow) string { return r.document }},
	{"person", "person", "", tables.Text, func(r *historyRow) string { return r.person }},
	{"reason", "reason", "", tables.Text, func(r *historyRow) string { return r.reason }},
	{"field", "field", "", tables.Text, func(r *historyRow) string { return r.field }},
	{"old", "before", "", tables.Text, func(r *historyRow) string { return r.before }},
	{"new", "after", "", tables.Text, func(r *historyRow) string { return r.after }},
	{"certificate", "certificate", "", tables.Text, func(r *historyRow) string { return r.certificate }},
	{"issuer", "issuer", "", tables.Text, func(r *historyRow) string { return r.issuer }},
	{"day", "day", "", tables.Day, func(r *historyRow) string { return string(r.day) }},
	{"valid_from", "counts from", "", tables.Day, func(r *historyRow) string { return string(r.from) }},
	{"next_due", "next due", "", tables.Day, func(r *historyRow) string { return string(r.due) }},
	{"shown", "shown, in the unit of the certificate", "", tables.Number, func(r *historyRow) string { return r.shown }},
	{"correction", "correction, in the same unit", "", tables.Number, func(r *historyRow) string { return r.correction }},
	{"expanded_u", "expanded uncertainty of the correction, in the same unit", "", tables.Number, func(r *historyRow) string { return r.expandedU }},
	{"k", "coverage factor k", "", tables.Number, func(r *historyRow) string { return r.k }},
	{"unit", "unit of the certificate", "", tables.Text, func(r *historyRow) string { return r.unit }},
	{"record", "record", "", tables.Text, func(r *historyRow) string { return r.record }},
	{"check_air_g", "check piece in air, as read", "", tables.Text, func(r *historyRow) string { return r.air }},
	{"check_liquid_g", "check piece in the liquid, as read", "", tables.Text, func(r *historyRow) string { return r.liquid }},
	{"liquid_density_kg_m3", "density of the liquid that was used", "kg/m3", tables.Number, func(r *historyRow) string { return figure(r.density) }},
	{"liquid_density_u_kg_m3", "its standard uncertainty", "kg/m3", tables.Number, func(r *historyRow) string { return figure(r.densityU) }},
	{"remark", "remark", "", tables.Text, func(r *historyRow) string { return r.remark }},
}

// HistoryTable is the history of a station or an instrument: its versions with what changed, the
// certificates of an instrument with their points, and what the check piece showed in each record in which
// it took part.
func (d *Desk) HistoryTable(ctx context.Context, who *Who, id string) (tables.Table, error) {
	versions, err := d.Versions(ctx, who, id)
	if err != nil {
		return tables.Table{}, err
	}
	rows, err := versionRows(versions)
	if err != nil {
		return tables.Table{}, err
	}
	err = d.look(ctx, who, people.SeeStations, func(tx *store.Tx) error {
		checks, err := checkRows(tx, id)
		rows = append(rows, checks...)
		return err
	})
	return tableOf("history "+id, historyColumns, inHand(rows)), err
}

func versionRows(versions []Version) (rows []historyRow, err error) {
	for _, v := range versions {
		ref, err := read[station.Ref](v.Document)
		if err != nil {
			return nil, err
		}
		rows = append(rows, historyRow{at: v.Time, what: "version", document: ref.String(), person: v.Person, reason: cmp.Or(v.Reason, v.Because)})
		for _, c := range v.Changes {
			rows = append(rows, historyRow{at: v.Time, what: "change", document: ref.String(), person: v.Person, field: c.Path, before: c.Old, after: c.New})
		}
	}
	// The last version holds all certificates that there are. A station has none.
	last, err := read[struct {
		ID           string                `json:"id"`
		Version      int                   `json:"version"`
		Certificates []station.Certificate `json:"certificates"`
		Acceptance   *station.Acceptance   `json:"acceptance"`
	}](versions[len(versions)-1].Document)
	if err != nil {
		return nil, err
	}
	document := station.Ref{ID: last.ID, Version: last.Version}.String()
	if a := last.Acceptance; a != nil {
		passed := "did not pass"
		if a.Passed {
			passed = "passed"
		}
		rows = append(rows, historyRow{what: "acceptance", document: document, person: a.Person, day: a.Date, remark: strings.TrimSuffix(passed+"; "+a.Note, "; ")})
	}
	for _, c := range last.Certificates {
		one := historyRow{document: document, certificate: c.Number, issuer: c.Issuer, day: c.Date, from: cmp.Or(c.ValidFrom, c.Date), due: c.NextDue}
		row := one
		row.what, row.remark = "certificate", c.Note
		rows = append(rows, row)
		for _, list := range []struct {
			unit   string
			points []station.Point
		}{{"g", c.PointsG}, {"degC", c.PointsC}, {"hPa", c.PointsHPa}, {"percent", c.PointsPercent}, {"mm", c.PointsMM}} {
			for _, p := range list.points {
				row := one
				row.what, row.unit = "calibration point", list.unit
				row.shown, row.correction, row.expandedU, row.k = exactly(p.Shown), exactly(p.Correction), exactly(p.ExpandedU), exactly(p.K)
				rows = append(rows, row)
			}
		}
	}
	return rows, nil
}

// checkRows lists what the check piece showed in the records of a station, or in those in which an
// instrument took part, oldest first.
func checkRows(tx *store.Tx, id string) (rows []historyRow, err error) {
	versions, err := list[station.Station](tx, "station-version")
	if err != nil {
		return nil, err
	}
	var at []string
	for _, s := range versions {
		document, err := json.Marshal(s)
		if err != nil {
			return nil, err
		}
		if s.ID == id || strings.Contains(string(document), fmt.Sprintf("%q", id)) {
			at = append(at, s.ID)
		}
	}
	slices.Sort(at)
	for _, s := range slices.Compact(at) {
		for found, err := range everyRecord(tx, store.Query{Station: s}) {
			if err != nil {
				return nil, err
			}
			row, there, err := checkRow(tx, found, id)
			if err != nil {
				return nil, err
			}
			if there {
				rows = append(rows, row)
			}
		}
	}
	slices.SortStableFunc(rows, func(a, b historyRow) int { return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.record, b.record)) })
	return rows, nil
}

// checkRow reads one record; there says that a check piece was weighed, and that the station or instrument
// took part.
func checkRow(tx *store.Tx, found store.Determination, id string) (row historyRow, there bool, err error) {
	e, err := tx.Entry(found.Seq)
	if err != nil {
		return row, false, err
	}
	r, err := decodeRecord(e)
	if err != nil {
		return row, false, err
	}
	proof := proofOn(r.Sheet, time.Time{})
	part := r.Station != nil && r.Station.ID == id || slices.ContainsFunc(r.Used, func(ref station.Ref) bool { return ref.ID == id })
	if len(proof) == 0 || !part {
		return row, false, nil
	}
	answer, err := read[determination.Answer](r.Answer)
	if err != nil {
		return row, false, err
	}
	row = historyRow{at: found.At, what: "check piece", person: found.Person, record: found.Number, density: answer.LiquidDensityKgM3, densityU: answer.LiquidDensityUKgM3}
	if r.Station != nil {
		row.document = r.Station.Ref().String()
	}
	var air, liquid []string
	for _, p := range proof {
		text := strings.TrimSpace(p.Text + " " + cmp.Or(p.Unit, "g"))
		if strings.HasPrefix(p.Slot, proofSlots+"air") {
			air = append(air, text)
		} else {
			liquid = append(liquid, text)
		}
	}
	row.air, row.liquid = strings.Join(air, "; "), strings.Join(liquid, "; ")
	var signs []string
	for _, d := range answer.Doubts {
		if strings.Contains(d.Sign, "check piece") {
			signs = append(signs, d.Sign)
		}
	}
	row.remark = cmp.Or(strings.Join(signs, "; "), "no doubt came of it")
	if found.SupersededBy != "" {
		row.remark += "; superseded by " + found.SupersededBy
	}
	return row, true, nil
}
