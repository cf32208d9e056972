//go:build !linux

package pgtest

import (
	"os"
	"syscall"
)

// Elsewhere the tests run as a user that may run the server, and its processes end with it.
func attributes() *syscall.SysProcAttr { return nil }

func give(string) error { return nil }

func children(int) []int { return nil }

func gone(pid int) bool {
	p, err := os.FindProcess(pid)
	return err != nil || p.Signal(syscall.Signal(0)) != nil
}
