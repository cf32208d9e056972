// Package storetest is the one suite that every kind of store has to pass. All names in it are
// invented.
package storetest
