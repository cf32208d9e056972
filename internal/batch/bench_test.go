package batch

import (
	"io"
	"os"
	"runtime"
	"strings"
	"testing"

	"wreath/internal/determination"
)

// tray returns n rows of the invented tray of the examples, again and again, and its base.
func tray(tb testing.TB, n int) (rows string, base *determination.Draft) {
	tb.Helper()
	text, err := os.ReadFile("../../examples/tray.csv")
	if err != nil {
		tb.Fatal(err)
	}
	station, err := os.ReadFile("../../examples/station.json")
	if err != nil {
		tb.Fatal(err)
	}
	if base, err = determination.Decode(station); err != nil {
		tb.Fatal(err)
	}
	lines := strings.SplitAfter(strings.TrimRight(string(text), "\n")+"\n", "\n")
	header, lines := lines[0], lines[1:len(lines)-1]
	var all strings.Builder
	all.WriteString(header)
	for i := range n {
		all.WriteString(lines[i%len(lines)])
	}
	return all.String(), base
}

var whereNeeded = determination.Options{MonteCarlo: determination.WhereNeeded}

// benchmark answers an input of n rows again and again.
func benchmark(b *testing.B, n int, input string, o Options, evaluate func(*determination.Draft, determination.Options) (*determination.Answer, error)) {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	for b.Loop() {
		batch, err := Open(strings.NewReader(input), "rows", o)
		if err != nil {
			b.Fatal(err)
		}
		if evaluate != nil {
			batch.evaluate = evaluate
		}
		sum, err := batch.Run(b.Context(), io.Discard, io.Discard)
		if err != nil || sum.Rows != n || sum.Failed > 0 {
			b.Fatalf("%v, %v, want %d rows answered", sum, err, n)
		}
	}
	runtime.ReadMemStats(&after)
	rows := float64(n * b.N)
	b.ReportMetric(rows/b.Elapsed().Seconds(), "rows/s")
	b.ReportMetric(float64(after.Mallocs-before.Mallocs)/rows, "allocs/row")
}

// BenchmarkBatch is the whole way of a row on all processors.
func BenchmarkBatch(b *testing.B) {
	const n = 1200
	input, base := tray(b, n)
	benchmark(b, n, input, Options{Base: base, Evaluate: whereNeeded}, nil)
}

// BenchmarkReadAndWrite leaves the evaluation out: one worker reads rows and writes each time the
// same answer.
func BenchmarkReadAndWrite(b *testing.B) {
	const n = 6000
	rows, base := tray(b, n)
	draft := `{"id": "a", "claim": {"metal": "gold", "fineness": 750}, "air_g": 7.4218, "liquid_g": [6.9431, 6.9428]}` + "\n"
	d, err := determination.Decode([]byte(draft))
	if err != nil {
		b.Fatal(err)
	}
	fill(d, base)
	answer, err := determination.Evaluate(d, whereNeeded)
	if err != nil {
		b.Fatal(err)
	}
	same := func(*determination.Draft, determination.Options) (*determination.Answer, error) { return answer, nil }
	b.Run("CSV", func(b *testing.B) { benchmark(b, n, rows, Options{Base: base, Workers: 1}, same) })
	b.Run("JSONLines", func(b *testing.B) {
		benchmark(b, n, strings.Repeat(draft, n), Options{Base: base, Workers: 1}, same)
	})
}
