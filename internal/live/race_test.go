//go:build race

package live

func init() { soakLines = 100_000 } // the race detector makes a line fifteen times as dear
