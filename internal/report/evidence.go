package report

import (
	"fmt"
	"strings"

	"wreath/internal/determination"
)

// evidence writes what further tests and the type say, between what the item can be and the finding.
func (t *page) evidence(a *determination.Answer, details bool) {
	t.shares(a, details)
	t.itemType(a, details)
	label := "Evidence"
	for i := range a.Evidence {
		x := &a.Evidence[i]
		words := x.Says
		if x.Off {
			words += " (switched off)"
		}
		switch {
		case x.Contradiction != "":
			words = "contradiction: " + strings.TrimSuffix(x.Contradiction, ".")
		case len(x.Against) > 0:
			words += "; speaks against " + few(x.Against, details)
		default:
			words += "; speaks against nothing that fits"
		}
		t.say(label, "%s: %s", x.Kind, words)
		label = ""
		if len(x.Shares) > 0 {
			var changes []string
			for _, c := range x.Shares {
				changes = append(changes, fmt.Sprintf("%s %s without it, %s with it", c.Name, percent(c.Without), percent(c.With)))
			}
			t.say("", "%s", strings.Join(changes[:min(len(changes), 3)], "; "))
		}
		if details {
			t.say("", "sees %s; misleads %s of the time; says nothing of %d that fit", x.Sees, percent(x.ErrorRate), x.NothingOf)
		}
	}
}

// shares writes the likeliest of what fits. What fits with a small share is listed above all the same.
func (t *page) shares(a *determination.Answer, details bool) {
	if !details {
		return
	}
	var words []string
	for i := range a.Candidates {
		c := &a.Candidates[i]
		share := c.Share
		if c.ShareWithEvidence != nil {
			share = *c.ShareWithEvidence
		}
		if share >= 0.001 {
			words = append(words, fmt.Sprintf("%s %s", c.Name, percent(share)))
		}
	}
	if len(words) > 0 {
		t.say("Shares", "%s", strings.Join(words, ", "))
		t.say("", "%s; a small share excludes nothing", a.Weighting)
	}
	label := "Never"
	for _, s := range a.NeverExcluded {
		t.say(label, "excluded by density: %s", s)
		label = ""
	}
}

// itemType writes how the item agrees with its type.
func (t *page) itemType(a *determination.Answer, details bool) {
	x := a.Type
	if x == nil {
		return
	}
	t.say("Type", "%s: %s", x.Name, x.Sentence)
	for _, r := range x.Rows {
		if details || r.Verdict != "agrees" {
			t.say("", "%s %.5g %s, a true piece %.5g to %.5g (%s): %s", r.Property, r.Measured, r.Unit, r.Low, r.High, r.Rule, r.Verdict)
		}
	}
	if x.DiscMM != nil && details {
		t.say("", "a solid piece has %.4g cm³, a plain disc of that %.3g mm", *x.VolumeCm3, *x.DiscMM)
	}
	if details {
		t.say("", "from: %s; %s", x.Law, x.Source)
	}
}

// few lists names, the first of them in a short answer.
func few(names []string, details bool) string {
	if more := len(names) - 3; more > 0 && !details {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:3], ", "), more)
	}
	return strings.Join(names, ", ")
}

// percent writes a share so that a small one is not none.
func percent(share float64) string {
	switch {
	case share >= 0.9995:
		return "over 99.9 %"
	case share < 0.001:
		return "under 0.1 %"
	}
	return fmt.Sprintf("%.3g %%", 100*share)
}
