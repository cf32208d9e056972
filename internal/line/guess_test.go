package line

import "testing"

func TestGuessFraming(t *testing.T) {
	for _, c := range []struct {
		raw  string
		want Framing
	}{
		{" 1.00 g\r\n 1.01 g\r\n", Framing{End: "any"}},
		{" 1.00 g\r 1.01 g\r", Framing{End: "any"}},
		{"\x02 1.00 g\x03\x02 1.01 g\x03", Framing{Start: "STX", End: "ETX"}},
		{"\x02 1.00 g\r\n\x02 1.01 g\r\n", Framing{Start: "STX", End: "any"}},
		{" 1.00 g 1.01 g", Framing{IdleS: usualPause}},
		{" 22.4 °C\n 22.5 \xc2", Framing{End: "any", Text: "utf-8"}},
		{" 22.4 \xb0C\n", Framing{End: "any", Text: "latin-1"}},
	} {
		if got := GuessFraming([]byte(c.raw)); got != c.want {
			t.Errorf("%q: %+v, want %+v", c.raw, got, c.want)
		}
	}
}
