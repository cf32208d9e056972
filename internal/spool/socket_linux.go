package spool

import (
	"net"
	"syscall"

	"golang.org/x/sys/unix"
)

// unacknowledged is how many bytes the other side has not acknowledged yet.
func unacknowledged(c *net.TCPConn) (left int) {
	control(c, func(fd int) { left, _ = unix.IoctlGetInt(fd, unix.SIOCOUTQ) })
	return left
}

// pendingError is what went wrong with the connection since the last call; a reset that came after
// the other side's end is seen nowhere else.
func pendingError(c *net.TCPConn) (err error) {
	control(c, func(fd int) {
		if n, failed := unix.GetsockoptInt(fd, unix.SOL_SOCKET, unix.SO_ERROR); failed == nil && n != 0 {
			err = syscall.Errno(n)
		}
	})
	return err
}

func control(c *net.TCPConn, do func(fd int)) {
	if raw, err := c.SyscallConn(); err == nil {
		raw.Control(func(fd uintptr) { do(int(fd)) }) // it fails on a closed connection, which has its own error
	}
}
