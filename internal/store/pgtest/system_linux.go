package pgtest

import (
	"bytes"
	"fmt"
	"os"
	"os/user"
	"strconv"
	"strings"
	"syscall"
)

// attributes start a program as the user that may run the server, and end it with this process.
func attributes() *syscall.SysProcAttr {
	a := &syscall.SysProcAttr{Pdeathsig: syscall.SIGQUIT}
	if os.Geteuid() == 0 {
		if uid, gid, err := servant(); err == nil {
			a.Credential = &syscall.Credential{Uid: uid, Gid: gid}
		}
	}
	return a
}

// servant is the user postgres: the server refuses to run as root.
func servant() (uid, gid uint32, err error) {
	u, err := user.Lookup("postgres")
	if err != nil {
		return 0, 0, fmt.Errorf("PostgreSQL does not run as root, and its own user is not here: %w", err)
	}
	a, err := strconv.ParseUint(u.Uid, 10, 32)
	if err != nil {
		return 0, 0, err
	}
	b, err := strconv.ParseUint(u.Gid, 10, 32)
	return uint32(a), uint32(b), err
}

// give makes a folder the server's own.
func give(folder string) error {
	if os.Geteuid() != 0 {
		return nil
	}
	uid, gid, err := servant()
	if err != nil {
		return err
	}
	return os.Chown(folder, int(uid), int(gid))
}

// children lists the processes that a process started.
func children(pid int) (out []int) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/task/%d/children", pid, pid))
	if err != nil {
		return nil
	}
	for _, field := range strings.Fields(string(text)) {
		if child, err := strconv.Atoi(field); err == nil {
			out = append(out, child)
		}
	}
	return out
}

// gone says whether a process has ended, waited for or not.
func gone(pid int) bool {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return true
	}
	_, rest, _ := bytes.Cut(text, []byte(") "))
	return bytes.HasPrefix(rest, []byte("Z"))
}
