package desk

import (
	"context"
	"errors"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/store"
	"wreath/internal/tables"
)

var errNotYet = errors.New("this table can't be written yet")

// DayBookTable is what a search of the records finds, newest first, all pages of it.
func (d *Desk) DayBookTable(ctx context.Context, who *Who, q store.Query) (tables.Table, error) {
	return tables.Table{}, errNotYet
}

// LotTable is one lot as it was valued: its items, a sum for each metal, and the money.
func (d *Desk) LotTable(ctx context.Context, who *Who, id string) (tables.Table, error) {
	return tables.Table{}, errNotYet
}

// RegisterTable is the register of deals from one moment until before another; zero times leave it open.
// With a reason, the data of each customer are opened for it: that needs the right to see them, and each
// look stands in the log with the reason.
func (d *Desk) RegisterTable(ctx context.Context, who *Who, from, until time.Time, reason string) (tables.Table, error) {
	return tables.Table{}, errNotYet
}

// HistoryTable is the history of a station or an instrument: versions, certificates, services and what its
// check piece showed.
func (d *Desk) HistoryTable(ctx context.Context, who *Who, id string) (tables.Table, error) {
	return tables.Table{}, errNotYet
}

// ItemsTable is all items as they stand.
func (d *Desk) ItemsTable(ctx context.Context, who *Who) (tables.Table, error) {
	return tables.Table{}, errNotYet
}

// ClaimsTable is all items in the columns that an import reads: what is claimed of them, without what the
// shop knows besides.
func (d *Desk) ClaimsTable(ctx context.Context, who *Who) (tables.Table, error) {
	return tables.Table{}, errNotYet
}

// EvidenceOf makes a bundle of every entry of a period, from one moment until before another.
func (d *Desk) EvidenceOf(ctx context.Context, who *Who, from, until time.Time) (*ledger.Bundle, error) {
	return nil, errNotYet
}
