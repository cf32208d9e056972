// Package storetest is the one suite that every kind of store has to pass.
package storetest
