package sqlite

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
)

// TestAlone asks that a store in use is refused, and that nothing of one that is not lies beside it.
func TestAlone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.wreath")
	s, err := Open(t.Context(), path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Shops(t.Context()); err != nil { // a connection of its own
		t.Fatal(err)
	}
	if err := Alone(t.Context(), path); err == nil {
		t.Error("a store in use was taken for one that nobody has open")
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if err := Alone(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	for _, beside := range []string{"-wal", "-shm", "-journal"} {
		if _, err := os.Stat(path + beside); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s is there: %v", filepath.Base(path+beside), err)
		}
	}
}
