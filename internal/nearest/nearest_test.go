package nearest

import "testing"

func TestWord(t *testing.T) {
	known := []string{"temperature_c", "air_g", "liquid_g", "density_kg_m3"}
	for _, c := range []struct{ got, want string }{
		{"temprature_c", "temperature_c"},
		{"air_mg", "air_g"},
		{"iar_g", "air_g"},
		{"temperature", "temperature_c"},
		{"colour_of_the_moon", ""},
	} {
		if got := Word(c.got, known); got != c.want {
			t.Errorf("Word(%q) = %q, want %q", c.got, got, c.want)
		}
	}
}
