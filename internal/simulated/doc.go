// Package simulated lets the bench of package simulation speak as instruments do: lines of text
// over a pseudo-terminal, over TCP, or inside the program, in real time, faster, or on virtual time.
//
// A Station is one bench with its clock and the hands that work at it, by themselves or act by act.
// Any number of Instruments stand on it: a balance, a thermometer, the same balance twice. Each
// speaks one Format and can be asked to misbehave.
//
// All formats are invented here; no balance speaks them. Each has its line pattern beside it. What
// a simulated instrument says is marked: its first line says that it is simulated, is said
// again now and then, and Info says so. Nothing of it may enter a ledger unmarked.
package simulated
