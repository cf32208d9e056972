package batch

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"wreath/internal/determination"
)

const plainHead, plainRow = "id,air_g,liquid_g,liquid.kind\n", "a,7.4218,6.9431,water\n"

// quick opens an input whose rows all get the same answer.
func quick(t *testing.T, in io.Reader) *Batch {
	t.Helper()
	b, err := Open(in, "rows", Options{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	b.evaluate = func(d *determination.Draft, _ determination.Options) (*determination.Answer, error) {
		return &determination.Answer{ID: d.ID, Density20C: determination.Density{KgM3: 15450, UExpanded: 14}}, nil
	}
	return b
}

// isWhole asks that the answers end with a whole row, that of the line named by the error.
func isWhole(t *testing.T, what, out string, err error) {
	t.Helper()
	var stopped *StoppedError
	if !errors.As(err, &stopped) || stopped.After == 0 {
		t.Errorf("%s: ends with %v, want a StoppedError after some row", what, err)
		return
	}
	rows := cells(t, out) // fails on half a row
	if len(rows) == 0 || rows[len(rows)-1][0] != fmt.Sprint(stopped.After) {
		t.Errorf("%s: the last of %d rows written is not the one named by %v", what, len(rows), err)
	}
}

// failing takes n bytes and then no more.
type failing struct{ n int }

var errFull = errors.New("no space left on device")

func (f *failing) Write(p []byte) (int, error) {
	if len(p) > f.n {
		n := f.n
		f.n = 0
		return n, errFull
	}
	f.n -= len(p)
	return len(p), nil
}

func TestFullDisk(t *testing.T) {
	for _, room := range []int{0, 20_000} {
		b := quick(t, strings.NewReader(plainHead+strings.Repeat(plainRow, 1000)))
		_, err := b.Run(t.Context(), &failing{room}, io.Discard)
		var stopped *StoppedError
		if !errors.As(err, &stopped) || !errors.Is(err, errFull) || (stopped.After > 0) != (room > 0) {
			t.Errorf("room for %d bytes: %v", room, err)
		}
	}
}

func TestCancelled(t *testing.T) {
	b := quick(t, strings.NewReader(plainHead+strings.Repeat(plainRow, 10_000)))
	ctx, cancel := context.WithCancel(t.Context())
	b.options.Progress = func(int, int64) { cancel() }
	var out bytes.Buffer
	_, err := b.Run(ctx, &out, io.Discard)
	isWhole(t, "cancelled", out.String(), err)
}

// TestCancelledWhileWaiting: rows are answered as they come, not when there are many, and an input
// that sends no more does not keep a batch from ending.
func TestCancelledWhileWaiting(t *testing.T) {
	in, to := io.Pipe()
	go to.Write([]byte(plainHead + plainRow + plainRow))
	b := quick(t, in)
	ctx, cancel := context.WithCancel(t.Context())
	b.options.Progress = func(rows int, _ int64) {
		if rows == 2 {
			cancel()
		}
	}
	var out bytes.Buffer
	ended := make(chan error, 1)
	go func() {
		_, err := b.Run(ctx, &out, io.Discard)
		ended <- err
	}()
	select {
	case err := <-ended:
		isWhole(t, "waiting", out.String(), err)
	case <-time.After(20 * time.Second):
		t.Fatal("the batch goes on waiting")
	}
	to.Close()
}

func TestInputBreaksOff(t *testing.T) {
	broken := errors.New("input/output error")
	b := quick(t, io.MultiReader(strings.NewReader(plainHead+strings.Repeat(plainRow, 1000)), iotest.ErrReader(broken)))
	var out bytes.Buffer
	sum, err := b.Run(t.Context(), &out, io.Discard)
	if !errors.Is(err, broken) || sum.Rows != 1000 {
		t.Errorf("%v, %v, want 1000 rows and the error of the input", sum, err)
	}
	isWhole(t, "broken input", out.String(), err)
}

// TestProgramFailsOnOneRow: a row on which the program itself fails is a row without an answer.
func TestProgramFailsOnOneRow(t *testing.T) {
	b := quick(t, strings.NewReader(plainHead+plainRow+strings.Replace(plainRow, "a", "odd", 1)+plainRow))
	same := b.evaluate
	b.evaluate = func(d *determination.Draft, o determination.Options) (*determination.Answer, error) {
		if d.ID == "odd" {
			panic("a flaw")
		}
		return same(d, o)
	}
	var out, said bytes.Buffer
	sum, err := b.Run(t.Context(), &out, &said)
	if err != nil || sum.Rows != 3 || sum.Failed != 1 || !strings.Contains(said.String(), "row 3: the program failed on this row (a flaw)") {
		t.Errorf("%v, %v, said %q", sum, err, said.String())
	}
}
