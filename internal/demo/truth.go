package demo

import (
	"fmt"

	"wreath/alloy"
	"wreath/gem"
)

// Material is what a part of an item really is.
type Material struct {
	Density   float64 // g/cm³ at 20 °C
	Expansion float64 // cubic, per kelvin
	Source    string  // of the density
}

// Piece is a part of an item.
type Piece struct {
	Grams float64
	Of    Material
}

// body is what the balance feels of an item.
type body struct {
	mass, volume float64 // g, and cm³ at 20 °C
	expansion    float64
}

// bodyOf adds up the pieces of an item and the sealed space in it.
func bodyOf(pieces []Piece, voidCm3 float64) body {
	var b body
	for _, p := range pieces {
		v := p.Grams / p.Of.Density
		b.mass += p.Grams
		b.volume += v
		b.expansion += v * p.Of.Expansion
	}
	b.expansion /= b.volume
	b.volume += voidCm3
	return b
}

// melt is a sound alloy of a composition in parts, such as "Au=750,Ag=125,Cu=125".
func melt(parts string) Material {
	p, err := alloy.ParseParts(parts)
	if err != nil {
		panic(err)
	}
	m, err := alloy.Mix(p, alloy.Options{})
	if err != nil {
		panic(err)
	}
	return Material{m.Density.GramPerCm3(), float64(m.Expansion), fmt.Sprintf("package alloy, mixture of %s", m.Parts)}
}

// stone is a species of package gem.
func stone(key string) Material {
	s, ok := gem.ByKey(key)
	if !ok {
		panic("no stone " + key)
	}
	// Stones expand by 3e-6 to 30e-6 per kelvin; 15e-6 is chosen here.
	return Material{s.Typical.GramPerCm3(), 15e-6, s.Source}
}
