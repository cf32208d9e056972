package batch

import (
	"context"
	"io"
	"runtime"
	"strings"
	"testing"

	"wreath/internal/determination"
)

// endless gives one row n times without holding them.
type endless struct {
	row  string
	n    int
	rest string
}

func (e *endless) Read(p []byte) (int, error) {
	if e.rest == "" {
		if e.n == 0 {
			return 0, io.EOF
		}
		e.n--
		e.rest = e.row
	}
	n := copy(p, e.rest)
	e.rest = e.rest[n:]
	return n, nil
}

// mostHeap answers n rows without evaluating them and returns the largest heap met on the way.
func mostHeap(t *testing.T, header, row string, n int) (most uint64) {
	t.Helper()
	b, err := Open(io.MultiReader(strings.NewReader(header), &endless{row: row, n: n}), "rows", Options{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	b.evaluate = func(d *determination.Draft, _ determination.Options) (*determination.Answer, error) {
		return &determination.Answer{ID: d.ID}, nil
	}
	looks := 0
	b.options.Progress = func(rows int, _ int64) {
		if rows < looks*n/20 {
			return
		}
		looks++
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		most = max(most, m.HeapAlloc)
	}
	sum, err := b.Run(context.Background(), io.Discard, io.Discard)
	if err != nil || sum.Rows != n || sum.Failed > 0 || looks < 10 {
		t.Fatalf("%v, %v, %d looks at the heap; want %d rows answered", sum, err, looks, n)
	}
	return most
}

func TestMemoryDoesNotGrow(t *testing.T) {
	for _, c := range []struct{ name, header, row string }{
		{"CSV", "id,air_g,liquid_g\n", "r,12.4431,11.6472\n"},
		{"JSON Lines", "", `{"id": "r", "air_g": 12.4431, "liquid_g": 11.6472}` + "\n"},
	} {
		few, many := mostHeap(t, c.header, c.row, 10_000), mostHeap(t, c.header, c.row, 100_000)
		if many > few+1<<20 {
			t.Errorf("%s: heap %d bytes with 100 000 rows, %d with 10 000: it grows", c.name, many, few)
		}
	}
}

// TestLongRowsFillNoMemory reads 180 MB in rows of 0.9 MB. Nine chunks go round between two
// workers; each holds one such row as read and as written.
func TestLongRowsFillNoMemory(t *testing.T) {
	row := "r,12.4431," + strings.Repeat("x", 900_000) + "\n"
	if most := mostHeap(t, "id,air_g,note\n", row, 200); most > 64<<20 {
		t.Errorf("heap of %d bytes, want at most 64 MiB", most)
	}
}
