package ledger

import (
	"bytes"
	"errors"
	"iter"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// decoded gives the entries of a log.
func (l *log) decoded() iter.Seq2[Entry, error] {
	return func(yield func(Entry, error) bool) {
		for _, raw := range l.raws {
			if !yield(Decode(raw)) {
				return
			}
		}
	}
}

func exported(t testing.TB, l *log) []byte {
	t.Helper()
	var out bytes.Buffer
	n, err := WriteLog(&out, l.decoded())
	if err != nil || n != l.tree.Size() {
		t.Fatalf("wrote %d of %d: %v", n, l.tree.Size(), err)
	}
	return out.Bytes()
}

func TestLogInAFile(t *testing.T) {
	for _, n := range []int{0, 1, 33} {
		l := newLog(t, "demo", n)
		file := exported(t, l)
		if want := append(bytes.Join(l.raws, []byte("\n")), "\n"[:min(n, 1)]...); !bytes.Equal(file, want) {
			t.Errorf("%d entries: the file is not the bytes of the entries", n)
		}
		c := NewChecker("demo")
		if err := c.Expect("the checkpoint", l.checkpoint()); err != nil {
			t.Fatal(err)
		}
		if got, err := CheckLog(bytes.NewReader(file), c); err != nil || got != int64(n) {
			t.Errorf("%d entries: %d, %v", n, got, err)
		}
	}
}

// TestEveryBitOfALogInAFile flips each bit of a file that has a checkpoint.
func TestEveryBitOfALogInAFile(t *testing.T) {
	l := newLog(t, "demo", 5)
	file := exported(t, l)
	for bit := range len(file) * 8 {
		c := NewChecker("demo")
		if err := c.Expect("the checkpoint", l.checkpoint()); err != nil {
			t.Fatal(err)
		}
		if _, err := CheckLog(strings.NewReader(flip(string(file), bit)), c); !errors.Is(err, ErrBroken) {
			t.Errorf("bit %d of byte %d (%q): %v", bit%8, bit/8, file[bit/8], err)
		}
	}
}

func TestWriteLogStopsAtTheFirstError(t *testing.T) {
	l := newLog(t, "demo", 3)
	l.raws[1] = []byte("{}")
	var out bytes.Buffer
	if n, err := WriteLog(&out, l.decoded()); err == nil || n != 1 {
		t.Errorf("%d, %v", n, err)
	}
	if _, err := WriteLog(full{}, newLog(t, "demo", 100).decoded()); err == nil {
		t.Error("a full disk is not noticed")
	}
	if _, err := CheckLog(bytes.NewReader(bytes.Repeat([]byte("x"), MaxEntry+2)), NewChecker("demo")); err == nil {
		t.Error("an endless line is taken")
	}
}

// full is a disk without room.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no room") }

// TestVerifierInPython runs doc/verify.py, which shares no code with this program.
func TestVerifierInPython(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		t.Fatal("this test needs python3: on Debian, apt-get install python3")
	}
	script, err := filepath.Abs("../../doc/verify.py")
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	file := func(name string, data []byte) string {
		t.Helper()
		name = filepath.Join(folder, name)
		if err := os.WriteFile(name, data, 0o644); err != nil {
			t.Fatal(err)
		}
		return name
	}
	run := func(words string, args ...string) {
		t.Helper()
		c := exec.Command(python, append([]string{"-I", script}, args...)...)
		out, err := c.CombinedOutput()
		if good := strings.HasPrefix(words, "OK"); (err == nil) != good || !strings.Contains(string(out), words) {
			t.Errorf("%v: %v, %s want %q", args, err, out, words)
		}
		if strings.Contains(string(out), "Traceback") {
			t.Errorf("%v: the verifier fell over:\n%s", args, out)
		}
	}
	l := newLog(t, "demo", 21)
	private, public := testKey(t, "demo", 1)
	_, stranger := testKey(t, "demo", 2)
	signed := l.signed(t, private)
	checkpoint := file("checkpoint", []byte(signed))
	whole := file("log", exported(t, l))

	// A whole log.
	run("OK: the log of demo begins with the 21 entries", "log", whole, checkpoint, public)
	longer := newLog(t, "demo", 30)
	run("OK: the log of demo begins with the 21 entries", "log", file("longer", exported(t, longer)), checkpoint, public)
	for n := range 10 {
		some := newLog(t, "demo", n)
		run("OK", "log", file("some", exported(t, some)), file("some-checkpoint", []byte(some.signed(t, private))), public)
	}
	run("isn't signed with this key", "log", whole, checkpoint, stranger)
	run("the public key is damaged", "log", whole, checkpoint, strings.Replace(public, "demo", "dem0", 1))
	run("the log ends after 20 entries", "log", file("cut", bytes.Join(l.raws[:20], []byte("\n"))), checkpoint, public)
	run("entry 3 is missing", "log", file("deleted", bytes.Join(slices.Delete(slices.Clone(l.raws), 3, 4), []byte("\n"))), checkpoint, public)
	run("is not the one", "log", file("changed", bytes.Replace(exported(t, l), []byte("invented person"), []byte("somebody else!!"), 1)), checkpoint, public)
	run("is not the one", "log", file("changed last", bytes.Replace(exported(t, l), []byte(`"20.25"`), []byte(`"20.26"`), 1)), checkpoint, public)
	run("signature does not hold", "log", whole, file("other size", []byte(strings.Replace(signed, "\n21\n", "\n20\n", 1))), public)
	run("BROKEN", "log", file("no json", []byte("hello\n")), checkpoint, public)
	for i, bit := range []int{3, 900, len(signed)*8 - 30, len(signed)*8 - 400} {
		run("BROKEN", "log", whole, file("flipped"+string(rune('a'+i)), []byte(flip(signed, bit))), public)
	}

	// Bundles of several sizes and places.
	for _, n := range []int{1, 2, 3, 7, 21} {
		some := newLog(t, "demo", n)
		var all []int
		for i := range n {
			all = append(all, i)
		}
		b, _ := newBundle(t, some, all...)
		run("OK: "+strconv.Itoa(n)+" entries are in the log of demo", "bundle", file("bundle", encoded(t, b)), public)
	}
	b, _ := newBundle(t, l, 4, 20)
	run("isn't signed with this key", "bundle", file("bundle", encoded(t, b)), stranger)
	b.Entries[1].Proof[0], b.Entries[1].Proof[1] = b.Entries[1].Proof[1], b.Entries[1].Proof[0]
	run("entry 20 is not in the log", "bundle", file("swapped", encoded(t, b)), public)
	b, _ = newBundle(t, l, 4)
	b.Entries[0].Entry = strings.Replace(b.Entries[0].Entry, "invented", "Invented", 1)
	run("entry 4 is not in the log", "bundle", file("altered", encoded(t, b)), public)
	b, _ = newBundle(t, l, 4)
	b.Entries[0].Proof = b.Entries[0].Proof[1:]
	run("entry 4 is not in the log", "bundle", file("short", encoded(t, b)), public)
	b.Entries[0].Proof[0] = "AAAA"
	run("damaged base64", "bundle", file("damaged", encoded(t, b)), public)
	run("verify.py bundle FILE KEY", "bundle")
}
