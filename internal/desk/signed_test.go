package desk

import (
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/store"
	"wreath/internal/value"
)

// TestAMovedSignature gives a signature to another record than it was made for, in an entry of its own
// that the log takes: verification with the views tells.
func TestAMovedSignature(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	first, second := w.recorded(w.as("measure")), w.recorded(w.as("measure"))
	w.sign("sign", first, people.Approved)
	genuine := lastEntry(t, w.Desk)
	other := must[Recorded](t)(w.Show(ctx, w.who["boss"], second))
	body := strings.Replace(string(genuine.Body), must[Recorded](t)(w.Show(ctx, w.who["boss"], first)).Record.ID, other.Record.ID, 1)
	w.ok(w.o.Store.Write(ctx, w.Shop(), func(tx *store.Tx) error {
		e, err := tx.Append(ledger.Entry{Head: ledger.Head{Time: w.clock.now(), Kind: genuine.Kind, Subject: other.Record.ID, Person: genuine.Person}, Body: []byte(body)})
		if err != nil {
			return err
		}
		return view(tx, e)
	}))
	_, err := w.Verify(ctx, nil, nil, openFile(t, filepath.Join(t.TempDir(), "scratch")), nil)
	if !errors.Is(err, ledger.ErrBroken) || !strings.Contains(err.Error(), "the signature is not of the record") {
		t.Errorf("a signature that was moved: %v", err)
	}
}

// TestEvidenceHoldsNoPrices hands evidence of a valued record out by somebody who sees no prices.
func TestEvidenceHoldsNoPrices(t *testing.T) {
	ctx, w := t.Context(), stocked(t)
	number := w.recorded(w.as("measure"))
	must[*value.Worth](t)(w.Value(ctx, w.boss(), Valuing{Records: []string{number}}))
	for who, want := range map[string]int{"audit": 1, "sign": 0} {
		bundle := must[*ledger.Bundle](t)(w.Evidence(ctx, w.who[who], []string{number}))
		got := 0
		for _, e := range bundle.Entries {
			if strings.Contains(e.Entry, `"kind":"item-valued"`) {
				got++
			}
		}
		if got != want {
			t.Errorf("%s hands out %d values, want %d", who, got, want)
		}
	}
}
