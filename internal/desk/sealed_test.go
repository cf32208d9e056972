package desk

import (
	"errors"
	"strings"
	"testing"

	"wreath/internal/ledger"
)

// TestVerifyOpensWhatIsSealed changes personal data and keys behind the desk's back.
func TestVerifyOpensWhatIsSealed(t *testing.T) {
	for what, statement := range map[string]string{
		"the key is gone":          `delete from secret where kind = 'customer-key' and id = ?`,
		"the key is another":       `update secret set value = (select value from secret where kind = 'customer-key' and id <> ?1) where kind = 'customer-key' and id = ?1`,
		"the data are gone":        `delete from secret where kind = 'customer-data' and id like ? || '@%'`,
		"the data are another's":   `update secret set value = (select value from secret where kind = 'customer-data' and id not like ?1 || '@%') where kind = 'customer-data' and id like ?1 || '@%'`,
		"the key came back erased": `insert into secret (shop, kind, id, value) select shop, kind, ?, value from secret where kind = 'customer-key'`,
	} {
		t.Run(what, func(t *testing.T) {
			ctx, w := t.Context(), openWorld(t)
			id := w.customer()
			w.customer()
			if strings.HasSuffix(what, "erased") {
				w.ok(w.EraseCustomer(ctx, w.boss(), id, "asked for"))
			}
			verified(t, w.Desk)
			exec(t, w.path, statement, id)
			_, err := w.Verify(ctx, nil, nil, nil, nil)
			if !errors.Is(err, ledger.ErrBroken) || !strings.Contains(err.Error(), id) {
				t.Errorf("Verify says %v", err)
			}
			if err != nil && strings.Contains(err.Error(), somebody.Name) {
				t.Errorf("the error names the customer: %v", err)
			}
		})
	}
}
