package record

import "testing"

// TestStopRuleIsPartOfTheQuestion: who changes when to stop after readings were taken changes the
// question, and that is marked.
func TestStopRuleIsPartOfTheQuestion(t *testing.T) {
	for _, row := range []struct {
		before, after string
		other         bool
	}{
		{`{"stop_rule": {"most": 4}}`, `{"stop_rule": {"most": 6}}`, true},
		{`{}`, `{"stop_rule": {"most": 6}}`, true},
		{`{"stop_rule": {"most": 4}}`, `{"note": "x", "stop_rule": {"most": 4}}`, false},
	} {
		got, err := otherQuestion([]byte(row.before), []byte(row.after))
		if err != nil || got != row.other {
			t.Errorf("%s after %s: %v, %v", row.after, row.before, got, err)
		}
	}
}
