package station

import (
	"testing"
	"time"

	"wreath/internal/determination"
)

// TestStopRuleOfAStation: a station may say when to stop repeating; a draft that has a rule of its own
// keeps it whole.
func TestStopRuleOfAStation(t *testing.T) {
	least, most := 3, 6
	s := &Station{Defaults: &Draft{StopRule: &determination.StopRule{Least: &least, Most: &most}}}
	applied, err := Apply(s, nil, &determination.Draft{}, nil, time.Unix(0, 0))
	if err != nil {
		t.Fatal(err)
	}
	if r := applied.Draft.StopRule; r == nil || *r.Least != 3 || *r.Most != 6 {
		t.Errorf("without a rule of its own: %+v", r)
	}
	two := 2
	applied, err = Apply(s, nil, &determination.Draft{StopRule: &determination.StopRule{Most: &two}}, nil, time.Unix(0, 0))
	if err != nil {
		t.Fatal(err)
	}
	if r := applied.Draft.StopRule; r.Least != nil || *r.Most != 2 {
		t.Errorf("with a rule of its own: %+v", r)
	}
}
