//go:build !linux

package sqlite

import (
	"os"
	"runtime"
)

// networkFolder is known on Linux only.
func networkFolder(string) string { return "" }

// syncFolder does nothing on Windows, where a folder can't be synced.
func syncFolder(f *os.File) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	return f.Sync()
}
