package batch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"testing"
)

// small is a disk with room for some bytes, which keeps them.
type small struct {
	strings.Builder
	room int
}

func (s *small) Write(p []byte) (int, error) {
	n := min(len(p), s.room-s.Len())
	s.Builder.Write(p[:n])
	if n < len(p) {
		return n, &fs.PathError{Op: "write", Path: "out.csv", Err: errFull}
	}
	return n, nil
}

// TestWhatIsWrittenBeforeAFullDisk: wherever the room ends, what stands there is the beginning of the
// answers, whole up to the row that the error names, and the error says so in plain words.
func TestWhatIsWrittenBeforeAFullDisk(t *testing.T) {
	input := plainHead + strings.Repeat(plainRow, 200)
	var all strings.Builder
	if _, err := quick(t, strings.NewReader(input)).Run(t.Context(), &all, io.Discard); err != nil {
		t.Fatal(err)
	}
	for room := 0; room < all.Len(); room += 331 {
		disk := &small{room: room}
		sum, err := quick(t, strings.NewReader(input)).Run(t.Context(), disk, io.Discard)
		var stopped *StoppedError
		if !errors.As(err, &stopped) || !errors.Is(err, errFull) {
			t.Fatalf("room for %d bytes: %v", room, err)
		}
		want := "the answers can't be written before the first row: no space left on device"
		if stopped.After > 0 {
			want = fmt.Sprintf("the answers can't be written after row %d: no space left on device", stopped.After)
			if sum.Rows != stopped.After-1 { // the first row stands on line 2
				t.Errorf("room for %d bytes: %v, stopped after row %d", room, sum, stopped.After)
			}
			if !strings.Contains(disk.String(), fmt.Sprintf("\r\n%d,a,", stopped.After)) || strings.Count(disk.String(), "\r\n") < stopped.After {
				t.Errorf("room for %d bytes: row %d is not written whole", room, stopped.After)
			}
		}
		if err.Error() != want {
			t.Errorf("room for %d bytes: %q, want %q", room, err, want)
		}
		if !strings.HasPrefix(all.String(), disk.String()) {
			t.Errorf("room for %d bytes: what is written is not the beginning of the answers", room)
		}
	}
}

func TestCancelledBeforeTheFirstRow(t *testing.T) {
	ctx, cancel := context.WithCancelCause(t.Context())
	cancel(errors.New("interrupted"))
	var out strings.Builder
	sum, err := quick(t, strings.NewReader(plainHead+plainRow)).Run(ctx, &out, io.Discard)
	if want := "stopped before the first row: interrupted"; err == nil || err.Error() != want || sum.Rows != 0 || len(cells(t, out.String())) != 0 {
		t.Errorf("%v, %v, wrote %q; want %s", sum, err, out.String(), want)
	}
}
