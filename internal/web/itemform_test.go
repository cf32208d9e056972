package web

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"reflect"
	"strings"
	"testing"

	"wreath/internal/determination"
)

// rich is a draft of an invented item with everything that a short form does not show.
const rich = `{"item": {"description": "ring (invented)", "type": "", "intake_mass_g": 5.1, "stones_set": [{"species": "diamond", "number": 1, "carat_each": 0.5, "carat_u_each": 0.01}]},
 "claim": {"metal": "gold", "fineness": 750, "tolerance_ppt": 3}, "stop_rule": {"least": 3, "expanded_kg_m3": 60}, "weights": {"use": "known-sender", "look_alike": 0.02},
 "at_hand": ["magnet"], "evidence": [{"kind": "magnet", "result": "none"}]}`

// sent is a form as a browser sends it.
func sent(pairs ...string) *http.Request {
	form := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		form.Add(pairs[i], pairs[i+1])
	}
	r := httptest.NewRequest("POST", "/", strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return r
}

func TestShortFormKeepsWhatItDoesNotShow(t *testing.T) {
	for name, document := range map[string]string{
		"stones": rich,
		"layers": `{"item": {"description": "bar (invented)", "layers": {"core": "copper", "plate_density_kg_m3": 19300}}}`,
		"quartz": `{"item": {"description": "nugget (invented)", "quartz": {"density_kg_m3": 2700}}}`,
		"heap":   `{"item": {"description": "rings (invented)", "heap": true}}`,
		"stone":  `{"item": {"description": "stone (invented)"}, "claim": {"stone": "ruby"}}`,
	} {
		before, err := determination.Decode([]byte(document))
		if err != nil {
			t.Fatal(err)
		}
		fields := []string{"description", "another word (invented)", "colour", "", "stones", "", "hollow", "", "metal", "", "fineness", "", "family", "", "made_by", ""}
		if before.Claim != nil && before.Claim.Metal != "" {
			fields[9], fields[11] = "gold", "750"
		}
		changed, err := documentOf(sent(fields...), before)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		after, err := determination.Decode(changed)
		if err != nil {
			t.Fatal(err)
		}
		if after.Item.Description != "another word (invented)" {
			t.Errorf("%s: the description is %q", name, after.Item.Description)
		}
		after.Item.Description = before.Item.Description
		x, _ := json.Marshal(before)
		y, _ := json.Marshal(after)
		if !reflect.DeepEqual(x, y) {
			t.Errorf("%s: the form changed what it does not show:\n%s\n%s", name, x, y)
		}
	}
}

// TestLongFormKeepsRows asks that what a row of stones does not ask stays with it.
func TestLongFormKeepsRows(t *testing.T) {
	before, err := determination.Decode([]byte(rich))
	if err != nil {
		t.Fatal(err)
	}
	changed, err := documentOf(sent("made_of", "stones", "species-0", "diamond", "number-0", "2", "carat-0", "0,5", "species-1", "", "stop_least", "3", "stop_most", "6", "stop_enough", "0.06",
		"weighting", "known-sender", "at_hand_asked", "yes", "at_hand", "touchstone"), before)
	if err != nil {
		t.Fatal(err)
	}
	after, err := determination.Decode(changed)
	if err != nil {
		t.Fatal(err)
	}
	set := after.Item.StonesSet
	if len(set) != 1 || *set[0].Number != 2 || *set[0].CaratUEach != 0.01 {
		t.Errorf("the stones are %+v", set)
	}
	if r := after.StopRule; *r.Least != 3 || *r.Most != 6 || *r.ExpandedKgM3 != 60 {
		t.Errorf("the rule is %+v", r)
	}
	if w := after.Weights; w.Use != "known-sender" || *w.LookAlike != 0.02 || !reflect.DeepEqual(after.AtHand, []string{"touchstone"}) || after.Claim == nil {
		t.Errorf("weights %+v, at hand %v, claim %+v", w, after.AtHand, after.Claim)
	}
	for _, wrong := range [][]string{{"made_of", "cheese"}, {"made_of", "stones"}, {"intake", "about five"}, {"stop_least", "some"}, {"made_of", "stones", "species-0", "diamond", "number-0", "few"}} {
		if _, err := documentOf(sent(wrong...), before); err == nil {
			t.Errorf("%v is taken", wrong)
		}
	}
}

func TestGramsAreWrittenAsTheReadingIs(t *testing.T) {
	for _, c := range []struct {
		grams float64
		text  string
		want  string
	}{{4.6801, "4.6081", "4.6801"}, {4.6801, "46,801", "4.6801 g"}, {25, "5.0000", "25.0000"}, {4.6801, "23.4005 ct", "4.6801 g"}, {5, "50", "5"}} {
		if got := gramsLike(c.grams, c.text); got != c.want {
			t.Errorf("gramsLike(%g, %q) = %q, want %q", c.grams, c.text, got, c.want)
		}
	}
}
