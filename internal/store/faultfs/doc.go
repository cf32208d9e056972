// Package faultfs is a file layer for SQLite that tests put between a store and the disk. It tells
// what SQLite does to its files in the order in which it does it, makes single steps fail, and
// computes what a disk may hold after the power went away.
//
// Only tests import it.
package faultfs
