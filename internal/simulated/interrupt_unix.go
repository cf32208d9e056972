//go:build unix

package simulated

import (
	"fmt"
	"os"
	"syscall"
)

// interruptible returns the same file in a way that Close ends a Read and a Write that wait.
func interruptible(f *os.File) (*os.File, error) {
	defer f.Close()
	fd, err := syscall.Dup(int(f.Fd()))
	if err != nil {
		return nil, fmt.Errorf("double the pseudo-terminal: %w", err)
	}
	syscall.CloseOnExec(fd)
	if err := syscall.SetNonblock(fd, true); err != nil {
		syscall.Close(fd)
		return nil, fmt.Errorf("set the pseudo-terminal: %w", err)
	}
	return os.NewFile(uintptr(fd), f.Name()), nil
}
