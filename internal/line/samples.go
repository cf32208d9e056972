package line

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"wreath/quantity"
)

// said is what a person told of one sample.
type said struct {
	number   bool // a number was told
	value    float64
	interval float64
	unit     unit
	hasUnit  bool
	state    string // "overload", "underload", "fault"
}

// sample is one sample line with its pieces.
type sample struct {
	index   int // its place among all samples
	text    string
	tokens  []token
	hard    []token // those that are neither spaces nor signs
	seconds float64
	said    said
	settled *bool
	checked bool // it carries the check that the others carry
	body    string
}

func (s *sample) piece(k int) string { return s.body[s.hard[k].from:s.hard[k].to] }

// parseSaid reads what a person told.
func parseSaid(text string) (said, error) {
	t := strings.TrimSpace(strings.ReplaceAll(text, "−", "-"))
	switch strings.ToLower(t) {
	case "":
		return said{}, nil
	case "overload", "over", "overloaded":
		return said{state: "overload"}, nil
	case "underload", "under", "underloaded":
		return said{state: "underload"}, nil
	case "fault", "error", "err":
		return said{state: "fault"}, nil
	}
	end := strings.LastIndexAny(t, "0123456789") + 1
	number, word := strings.TrimSpace(t[:end]), strings.TrimSpace(t[end:])
	if rest, ok := strings.CutPrefix(number, "- "); ok {
		number = "-" + rest
	}
	value, err := quantity.ParseNumber(number, true)
	if err != nil {
		return said{}, err
	}
	if math.Abs(value) > 1e9 {
		return said{}, &quantity.NumberError{Text: text, Reason: "is too large", Hint: "Give what the display shows."}
	}
	s := said{number: true, value: value, interval: quantity.Interval(number)}
	if word != "" {
		u, ok := unitSaid(word)
		if !ok {
			return said{}, &quantity.NumberError{Text: text, Reason: fmt.Sprintf("has the unit %q, which is not known", word),
				Hint: "Units known: " + unitSymbols() + "."}
		}
		s.unit, s.hasUnit = u, true
	}
	return s, nil
}

// readSamples takes the usable samples; what was said is read even of lines that are not used.
func readSamples(samples []Sample, longest int) ([]*sample, error) {
	var list []*sample
	for i, raw := range samples {
		told, err := parseSaid(raw.Shown)
		if err != nil {
			return nil, fmt.Errorf("sample %d, what was shown: %w", i+1, err)
		}
		text := string(raw.Line)
		if len(text) == 0 || len(text) > longest || !printable(text) {
			continue
		}
		list = append(list, &sample{index: i, text: text, body: text, seconds: raw.Seconds, said: told, settled: raw.Settled, checked: true})
	}
	return list, nil
}

// printable is true of text that no framing would call damaged.
func printable(s string) bool {
	if !utf8.ValidString(s) {
		return false
	}
	for i := range len(s) {
		if c := s[i]; c < ' ' && c != '\t' || c == del {
			return false
		}
	}
	return true
}

// findChecksum looks for a check that most lines carry. Four lines by chance would need 2^-32 for each
// of the about thousand ways that are tried.
func findChecksum(list []*sample) *Checksum {
	const fewest = 4
	var best *Checksum
	most := 0
	for _, kind := range checkKinds {
		for _, lower := range []bool{false, true} {
			for _, before := range []string{"", "*", " ", ",", ";", ":", "#", "=", "/", "|", " *", "\t"} {
				for from := range 3 {
					for _, counts := range []string{"", "\x03", "\x02", "\x02\x03", "\r", "\r\n"} {
						c := Checksum{kind.name, lower, from, before, counts}
						hits := 0
						seen := map[string]bool{}
						for i, s := range list {
							if i == 8 && hits == 0 {
								break
							}
							if body, ok := c.strip([]byte(s.text)); ok && !seen[s.text] {
								seen[s.text] = true
								if len(body) > 0 {
									hits++
								}
							}
						}
						if hits > most {
							best, most = &c, hits
						}
					}
				}
			}
		}
	}
	distinct := map[string]bool{}
	for _, s := range list {
		distinct[s.text] = true
	}
	if most < fewest || most*2 < len(distinct) {
		return nil
	}
	return best
}

// tolerance is by how much a number may differ from what was said, both in the unit of the number.
func (l *learner) tolerance(told said, interval, scale float64) float64 {
	own := 5 * interval
	if l.o.ToleranceG > 0 {
		own = l.o.ToleranceG / scale
	}
	return own + told.interval/2 + 1e-9*math.Abs(told.value)
}
