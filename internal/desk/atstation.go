package desk

import (
	"context"
	"slices"

	"wreath/internal/determination"
	"wreath/internal/station"
)

// AtStation fills what a draft leaves out with what the newest version of a station knows, now. The
// draft itself is not changed.
func (d *Desk) AtStation(ctx context.Context, who *Who, id string, own *determination.Draft) (*determination.Draft, error) {
	all, err := d.Equipment(ctx, who)
	if err != nil {
		return nil, err
	}
	at := slices.IndexFunc(all.Stations, func(st station.Station) bool { return st.ID == id })
	if at < 0 {
		return nil, missing("Name one of the stations that are written down.", "there is no station %q", id)
	}
	applied, err := station.Apply(&all.Stations[at], all.Instruments, own, nil, d.o.Now())
	if err != nil {
		return nil, err
	}
	return applied.Draft, nil
}
