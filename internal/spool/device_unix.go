//go:build unix

package spool

import "syscall"

// openAtOnce opens a device without waiting for it, and without making it the terminal of the program.
const openAtOnce = syscall.O_NONBLOCK | syscall.O_NOCTTY
