//go:build !unix

package spool

// openAtOnce is not needed where devices open at once.
const openAtOnce = 0
