package main

import "testing"

func TestShortNames(t *testing.T) {
	for name, want := range map[string]string{
		"Invented Gold Desk": "invented-gold-desk", "Schmiede Müller": "schmiede-muller", "Señor Ibáñez & Cía.": "senor-ibanez-cia",
		"金": "shop", "": "shop",
	} {
		if got := shortName(name); got != want {
			t.Errorf("%q is called %q, want %q", name, got, want)
		}
	}
}
