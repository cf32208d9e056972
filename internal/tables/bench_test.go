package tables

import (
	"bytes"
	"fmt"
	"io"
	"runtime"
	"testing"
)

// hundredThousand is an invented day book of 100 000 rows, made row by row.
func hundredThousand(each func(n int)) Table {
	columns := []Column{{"number", "number", "", Text}, {"at", "recorded at", "", Time}, {"description", "item", "", Text}, {"claim", "claim", "", Text},
		{"mass_g", "mass", "g", Number}, {"density", "density", "kg/m3", Number}, {"u", "expanded uncertainty", "kg/m3", Number}, {"amount", "amount", "EUR", Number}}
	return Table{"day-book", columns, func(yield func([]string, error) bool) {
		cells := make([]string, len(columns))
		for n := range 100_000 {
			copy(cells, []string{fmt.Sprintf("D-%06d", n), "2026-03-04T09:30:00Z", "plain band, stamp 750", "gold 750", fmt.Sprintf("%d.%04d", n%50+1, n%10000), "15123.4567", "12.3", fmt.Sprintf("%d.50", n)})
			each(n)
			if !yield(cells, nil) {
				return
			}
		}
	}}
}

func BenchmarkWrite(b *testing.B) {
	for _, f := range Formats {
		b.Run(string(f), func(b *testing.B) {
			b.ReportAllocs()
			peak := uint64(0)
			for b.Loop() {
				err := Write(io.Discard, f, hundredThousand(func(n int) {
					if n%10_000 == 9_999 {
						var m runtime.MemStats
						runtime.ReadMemStats(&m)
						peak = max(peak, m.HeapInuse)
					}
				}))
				if err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(peak)/(1<<20), "MiB-heap")
			b.ReportMetric(100_000*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
		})
	}
}

func BenchmarkRead(b *testing.B) {
	for _, f := range Formats {
		var out bytes.Buffer
		if err := Write(&out, f, hundredThousand(func(int) {})); err != nil {
			b.Fatal(err)
		}
		b.Run(string(f), func(b *testing.B) {
			b.ReportAllocs()
			b.SetBytes(int64(out.Len()))
			for b.Loop() {
				s, err := Read(out.Bytes(), wide)
				if err != nil || len(s.Rows) != 100_000 {
					b.Fatal(err)
				}
			}
			b.ReportMetric(100_000*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
		})
	}
}
