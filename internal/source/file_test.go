package source

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// fileTest is a source on a file in virtual time: what was heard after each step is looked at once the
// source has had time to look.
type fileTest struct {
	t    *testing.T
	path string
	text strings.Builder
	last Event
}

func (f *fileTest) write(flag int, text string) {
	f.t.Helper()
	file, err := os.OpenFile(f.path, flag|os.O_WRONLY|os.O_CREATE, 0o600)
	if err != nil {
		f.t.Fatal(err)
	}
	if _, err := file.WriteString(text); err != nil {
		f.t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		f.t.Fatal(err)
	}
}

func (f *fileTest) hears(want string) { f.t.Helper(); f.within(10*time.Second, want) }

func (f *fileTest) within(d time.Duration, want string) {
	f.t.Helper()
	time.Sleep(d) // of the bubble's clock
	synctest.Wait()
	if got := f.text.String(); got != want {
		f.t.Errorf("heard %.200q, want %.200q", got, want)
	}
	f.text.Reset()
}

func watchTest(t *testing.T, before, settings string, steps func(f *fileTest)) {
	path := filepath.Join(t.TempDir(), "readings.csv")
	synctest.Test(t, func(t *testing.T) {
		f := &fileTest{t: t, path: path}
		if before != "" {
			f.write(0, before)
		}
		a, err := ParseAddress("file://" + path + settings)
		if err != nil {
			t.Fatal(err)
		}
		s, err := Open(a, Options{})
		if err != nil {
			t.Fatal(err)
		}
		e := follow(t, s)
		go func() {
			for x := range e.events {
				if x.Kind == Heard {
					f.text.Write(x.Bytes)
				}
				if x.Kind == LinkChanged {
					f.last = x
				}
			}
		}()
		steps(f)
		e.cancel()
		time.Sleep(10 * time.Second)
		synctest.Wait()
		close(e.events)
	})
}

func TestFileGrows(t *testing.T) {
	watchTest(t, "old;1\nolder;2\nhalf", "", func(f *fileTest) {
		f.hears("half")
		f.write(os.O_APPEND, " done;3\nnew;4\n")
		f.hears(" done;3\nnew;4\n")
		f.write(os.O_APPEND, "")
		f.hears("")
		long := strings.Repeat("a line of some length;1.2345\n", 2000)
		f.write(os.O_APPEND, long)
		f.hears(long)
		f.write(os.O_TRUNC, "first;1\n")
		f.hears("first;1\n")
		f.write(os.O_TRUNC, "second;2\nthird;3\n") // longer than before, and another
		f.hears("second;2\nthird;3\n")
	})
}

// Many programs write the latest reading alone into their file, over the one before.
func TestFileIsWrittenOverAndOver(t *testing.T) {
	watchTest(t, "", "", func(f *fileTest) {
		f.hears("")
		for i := range 20 {
			line := fmt.Sprintf("%d g\n", i)
			f.write(os.O_TRUNC, line)
			wait := time.Second // a look and a short pause
			if i == 0 {
				wait = 3 * time.Second // it was not there, so it was missed for longer
			}
			f.within(wait, line)
		}
	})
}

func TestFileFromItsStart(t *testing.T) {
	watchTest(t, "head\n1;2\n", "?from=start", func(f *fileTest) { f.hears("head\n1;2\n") })
}

func TestFileComesAndGoes(t *testing.T) {
	watchTest(t, "", "", func(f *fileTest) {
		f.hears("")
		if f.last.Link != Connecting || f.last.Err == nil || !strings.Contains(f.last.Err.Error(), "memory stick") {
			t.Errorf("without a file the link says %v, %v", f.last.Link, f.last.Err)
		}
		f.write(0, "a file that comes is new\n")
		f.hears("a file that comes is new\n")
		if f.last.Link != Connected || !f.last.Whole {
			t.Errorf("with a file the link says %+v", f.last)
		}
		kept, err := os.ReadFile(f.path)
		if err != nil {
			t.Fatal(err)
		}
		os.Remove(f.path)
		f.hears("")
		// The stick was written to elsewhere: only what is new counts.
		f.write(0, string(kept)+"more\n")
		f.hears("more\n")
		// Written anew under the same name with the old lines first, as many programs save.
		other := f.path + ".new"
		if err := os.WriteFile(other, []byte(string(kept)+"more\nand more\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(other, f.path); err != nil {
			t.Fatal(err)
		}
		f.hears("and more\n")
		os.Remove(f.path)
		if err := os.Mkdir(f.path, 0o700); err != nil {
			t.Fatal(err)
		}
		f.hears("")
		if f.last.Err == nil || !strings.Contains(f.last.Err.Error(), "folder") {
			t.Errorf("of a folder the link says %v", f.last.Err)
		}
	})
}
