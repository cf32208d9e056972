package determination

import (
	_ "embed"
	"encoding/json"
	"fmt"

	"wreath/conformity"
)

// HouseRule says what a finding needs and how it is decided. House rules are data: the file
// data/house-rules.json, named in every answer.
type HouseRule struct {
	Key         string  `json:"key"`
	Version     int     `json:"version"`
	Name        string  `json:"name"`
	Immersions  int     `json:"immersions"`   // immersed readings needed for `met`
	ClosingAir  bool    `json:"closing_air"`  // the item must be weighed in air again at the end
	LiquidProof bool    `json:"liquid_proof"` // a check piece must prove the liquid
	Accept      float64 `json:"accept"`       // probability from which the claim is met
	Reject      float64 `json:"reject"`       // sceptic probability up to which it is not met
	Clean       float64 `json:"clean"`        // least probability that nothing is wrong for `met`
	ZeroSeen    float64 `json:"zero_seen"`    // scale intervals: a zero that moved by up to so many is ruled out by a reading of the empty hanger
	Note        string  `json:"note"`

	Printed string `json:"-"` // house rule and decision rule, as they stand beside a finding
}

//go:embed data/house-rules.json
var houseRulesFile []byte

// HouseRules lists the house rules; the first is the default.
var HouseRules = readHouseRules()

func readHouseRules() []HouseRule {
	var rules []HouseRule
	if err := json.Unmarshal(houseRulesFile, &rules); err != nil {
		panic("data/house-rules.json: " + err.Error())
	}
	for i := range rules {
		r := &rules[i]
		r.Printed = r.Title() + "; " + conformity.ByProbability{Accept: r.Accept, Reject: r.Reject}.Name()
	}
	return rules
}

// HouseRuleByKey finds a house rule; "" is the default.
func HouseRuleByKey(key string) (HouseRule, error) {
	if key == "" {
		return HouseRules[0], nil
	}
	var keys []string
	for _, r := range HouseRules {
		if r.Key == key {
			return r, nil
		}
		keys = append(keys, r.Key)
	}
	return HouseRule{}, oneOf("house_rule", key, keys...)
}

// Title names the rule as it is printed.
func (r HouseRule) Title() string { return fmt.Sprintf("house rule %q, version %d", r.Name, r.Version) }
