package line

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// lines feeds a framer in packets of the given sizes and writes what comes as "text" or "!why: text".
func lines(f *Framer, data string, sizes func() int) []string {
	var got []string
	yield := func(l Line) {
		if l.Damaged != "" {
			got = append(got, "!"+l.Damaged)
			return
		}
		got = append(got, string(l.Bytes))
	}
	for len(data) > 0 {
		n := min(sizes(), len(data))
		f.Write([]byte(data[:n]), 1, yield)
		data = data[n:]
	}
	return got
}

func TestFramer(t *testing.T) {
	for _, row := range []struct {
		name    string
		framing Framing
		data    string
		want    []string
	}{
		{"CR and LF in any mixture", Framing{End: "any"}, "one\r\n\r\ntwo\rthree\n\nfour", []string{"one", "two", "three"}},
		{"CRLF", Framing{End: "CRLF"}, "one\r\ntwo\r\n\r\n", []string{"one", "two"}},
		{"a CR alone is not the end", Framing{End: "CRLF"}, "one\rtwo\r\nthree\r\n", []string{"!" + strayEnd, "three"}},
		{"CR", Framing{End: "CR"}, "one\rtwo\r", []string{"one", "two"}},
		{"LF", Framing{End: "LF"}, "one\ntwo\r\nthree\n", []string{"one", "!" + controlChar, "three"}},
		{"start and end", Framing{Start: "STX", End: "ETX"}, "junk\x02one\x03junk\x02two\x03", []string{"one", "two"}},
		{"a start inside", Framing{Start: "STX", End: "ETX"}, "\x02on\x02two\x03", []string{"!" + startTwice, "two"}},
		{"check behind the end", Framing{Start: "STX", End: "ETX", After: 1}, "\x02one\x03\r\x02two\x03\x02\x02three\x03\x00", []string{"one0D", "two02", "three00"}},
		{"length behind a start", Framing{Start: "STX", Length: 3}, "zz\x02one\x02two", []string{"one", "two"}},
		{"NUL", Framing{End: "any"}, "o\x00e\ntwo\n", []string{"!" + controlChar, "two"}},
		{"parity noise", Framing{End: "any"}, "12.3\xb4 g\n12.34 g\n", []string{"!" + highBit, "12.34 g"}},
		{"escape", Framing{End: "any"}, "\x1b[2J12.34 g\n12.34 g\n", []string{"!" + controlSeq, "12.34 g"}},
		{"UTF-8", Framing{End: "any", Text: "utf-8"}, "21.3 °C\n", []string{"21.3 °C"}},
		{"half of a character", Framing{End: "any", Text: "utf-8"}, "21.3 \xc2\n21.3 \xb0C\nok\n", []string{"!" + notText, "!" + notText, "ok"}},
		{"Latin-1", Framing{End: "any", Text: "latin-1"}, "21.3 \xb0C\n\x85\n", []string{"21.3 °C", "!" + controlChar}},
		{"too long", Framing{End: "any", Longest: 4}, "12345678\nfour\nfive5\nsix\n", []string{"!the line is longer than 4 bytes", "four", "!the line is longer than 4 bytes", "six"}},
		{"as long as can be, with CRLF", Framing{End: "CRLF", Longest: 4}, "four\r\nfour5\r\nsix\r\n", []string{"four", "!the line is longer than 4 bytes", "six"}},
	} {
		for _, size := range []int{1, 2, 3, 1000} {
			f := NewFramer(row.framing)
			f.Whole()
			if got := lines(f, row.data, func() int { return size }); !slices.Equal(got, row.want) {
				t.Errorf("%s, packets of %d: %q, want %q", row.name, size, got, row.want)
			}
		}
	}
}

func TestFramerJoinedLate(t *testing.T) {
	f := NewFramer(Framing{End: "any"})
	all := func() int { return 100 }
	if got := lines(f, "34 g\r\n12.34 g\r\n", all); !slices.Equal(got, []string{"!" + joinedLate, "12.34 g"}) {
		t.Errorf("joined late: %q", got)
	}
	f.Broken()
	if got := lines(f, "4 g\r\n12.34 g\r\n", all); !slices.Equal(got, []string{"!" + joinedLate, "12.34 g"}) {
		t.Errorf("after a break: %q", got)
	}
}

func TestFramerPauses(t *testing.T) {
	var got []string
	yield := func(l Line) { got = append(got, fmt.Sprintf("%s %g %s", l.Bytes, l.Seconds, l.Damaged)) }
	f := NewFramer(Framing{IdleS: 0.1})
	f.Write([]byte("te"), 0, yield) // the end of a line that began earlier
	f.Write([]byte("12."), 1, yield)
	f.Write([]byte("34 g"), 1.05, yield)
	f.Write([]byte("56"), 2, yield)
	f.Idle(2.05, yield)
	f.Idle(2.2, yield)
	want := []string{"te 0 " + joinedLate, "12.34 g 1.05 ", "56 2 "}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	got = nil
	f = NewFramer(Framing{Length: 4, IdleS: 0.1})
	f.Write([]byte("ab"), 0, yield)
	f.Write([]byte("1234"), 1, yield)
	f.Write([]byte("12"), 2, yield)
	f.Write([]byte("5678"), 3, yield)
	want = []string{"ab 0 " + joinedLate, "1234 1 ", "12 2 " + cutShort, "5678 3 "}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// TestFramerEndless feeds what never ends and looks at what is held.
func TestFramerEndless(t *testing.T) {
	for name, f := range map[string]Framing{"any": {End: "any"}, "CRLF": {End: "CRLF"}, "pause": {IdleS: 1}, "start": {Start: "STX", End: "ETX", After: 4},
		"longest": {End: "LF", Longest: mostLongest}, "latin-1": {End: "LF", Text: "latin-1"}} {
		for _, piece := range []string{"x", "\r", "\x02", "\xff", "\xe9", "\x02a\x03", " \r"} {
			fr := NewFramer(f)
			fr.Whole()
			room := cap(fr.buf)
			packet := []byte(strings.Repeat(piece, 1<<16))
			given := 0
			allocs := testing.AllocsPerRun(4, func() {
				fr.Write(packet, 1, func(l Line) {
					given++
					if len(l.Bytes) > room {
						t.Errorf("%s: a line of %d bytes", name, len(l.Bytes))
					}
				})
			})
			if cap(fr.buf) != room || cap(fr.check) > mostAfter {
				t.Errorf("%s, %q: room grew from %d to %d", name, piece, room, cap(fr.buf))
			}
			if allocs > 2 && given < 1000 {
				t.Errorf("%s, %q: %v allocations", name, piece, allocs)
			}
		}
	}
}

// FuzzFramer: any bytes in any packets give the same lines as one byte at a time, hold no more than
// they may, and a line that counts as whole has no byte that text can't have.
func FuzzFramer(f *testing.F) {
	f.Add([]byte("12.34 g\r\n\x00\xff\x1b[0m\r"), uint8(0), uint64(1))
	f.Add([]byte("\x02S 12.34\x03\x7f\x02\x03\x02"), uint8(3), uint64(2))
	framings := []Framing{{End: "any"}, {End: "CRLF"}, {End: "LF", Text: "utf-8"}, {Start: "STX", End: "ETX", After: 1}, {Start: "SOH", Length: 7}, {End: "CR", Text: "latin-1"}, {IdleS: 0.5}, {End: "EOT", Longest: 5}}
	f.Fuzz(func(t *testing.T, data []byte, which uint8, seed uint64) {
		framing := framings[int(which)%len(framings)]
		r := rand.New(rand.NewPCG(seed, 1))
		one, many := NewFramer(framing), NewFramer(framing)
		room := cap(one.buf)
		a := lines(one, string(data), func() int { return 1 })
		b := lines(many, string(data), func() int { return 1 + r.IntN(9) })
		if !slices.Equal(a, b) {
			t.Errorf("%q in one byte each, %q in packets", a, b)
		}
		if cap(one.buf) != room {
			t.Errorf("room grew to %d", cap(one.buf))
		}
		for _, l := range a {
			if strings.HasPrefix(l, "!") {
				continue
			}
			if !printable(l) || l == "" {
				t.Errorf("%q counts as whole", l)
			}
		}
	})
}

func TestFramingCheck(t *testing.T) {
	for _, f := range []Framing{{}, {End: "FF"}, {Start: "ETX", End: "CR"}, {End: "any", After: 1}, {Length: 5}, {Length: 5, End: "CR"}, {IdleS: -1}, {End: "CR", Longest: 1 << 20}, {Length: 300, Start: "STX"}, {End: "CR", Text: "utf-16"}, {End: "CR", After: 5}} {
		if f.Check() == nil {
			t.Errorf("%+v passes", f)
		}
		NewFramer(f).Write(bytes.Repeat([]byte("x"), 1000), 0, func(Line) {})
	}
}
