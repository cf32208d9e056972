package demo

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
)

// Size of a drawing, in pixels.
const wide, high = 200, 150

// metals are the colours that things are drawn in.
var metals = map[string]color.RGBA{
	"yellow": {0xd4, 0xa8, 0x3a, 0xff}, "red": {0xc8, 0x80, 0x5a, 0xff}, "white": {0xb4, 0xb8, 0xbc, 0xff}, "": {0x6a, 0x7f, 0xb5, 0xff},
}

var paper = color.RGBA{0xee, 0xec, 0xe6, 0xff}

// shapes say for a point how bright it is, from 0 to 1; below 0 it lies outside. Points are counted
// from the middle, in units of half the height.
var shapes = map[string]func(x, y float64) float64{
	"ring":  ring,
	"chain": chain,
	"coin":  coin,
	"bar":   bar,
	"spoon": spoon,
	"stone": facets,
}

// draw makes a picture of an invented item, as a PNG file.
func draw(shape, colour string) ([]byte, error) {
	lit, ok := shapes[shape]
	metal, known := metals[colour]
	if !ok || !known {
		return nil, fmt.Errorf("nobody knows how to draw a %s %s", colour, shape)
	}
	img := image.NewRGBA(image.Rect(0, 0, wide, high))
	for py := range high {
		for px := range wide {
			x, y := (float64(px)-wide/2)/(high/2), (float64(py)-high/2)/(high/2)
			c := paper
			if light := lit(x, y); light >= 0 {
				c = shade(metal, light)
			}
			img.SetRGBA(px, py, c)
		}
	}
	var out bytes.Buffer
	err := png.Encode(&out, img)
	return out.Bytes(), err
}

// shade takes a colour from dark to nearly white.
func shade(c color.RGBA, light float64) color.RGBA {
	mix := func(v uint8) uint8 {
		x := float64(v) * (0.45 + 0.75*light)
		return uint8(min(255, x+40*max(0, light-0.7)))
	}
	return color.RGBA{mix(c.R), mix(c.G), mix(c.B), 0xff}
}

func ring(x, y float64) float64 {
	r := math.Hypot(x, y)
	if r < 0.55 || r > 0.78 {
		return -1
	}
	return 0.5 + 0.5*math.Cos(9*(r-0.66))*math.Cos(math.Atan2(y, x)+2.2)
}

func chain(x, y float64) float64 {
	curve := y - 0.45*math.Cos(2.4*x)
	link := math.Mod(x+4, 0.16) - 0.08
	r := math.Hypot(link/0.09, curve/0.12)
	if math.Abs(x) > 1.2 || r > 1 || r < 0.45 {
		return -1
	}
	return 0.9 - 0.6*math.Abs(curve)/0.12
}

func coin(x, y float64) float64 {
	r := math.Hypot(x, y)
	switch {
	case r > 0.75:
		return -1
	case r > 0.68:
		return 0.9
	}
	return 0.55 - 0.3*(x+y)/1.5
}

func bar(x, y float64) float64 {
	side := 0.95 + 0.15*y
	switch {
	case math.Abs(y) > 0.4 || math.Abs(x) > side:
		return -1
	case math.Abs(x) > side-0.12 || y > 0.28:
		return 0.3
	}
	return 0.75 - 0.2*x
}

func spoon(x, y float64) float64 {
	bowl := math.Hypot((x+0.75)/0.36, y/0.24)
	switch {
	case bowl <= 1:
		return 0.9 - 0.5*bowl
	case x > -0.45 && x < 1.1 && math.Abs(y) < 0.04+0.05*max(0, x):
		return 0.7 - 3*math.Abs(y)
	}
	return -1
}

func facets(x, y float64) float64 {
	const sides = 8
	a := math.Mod(math.Atan2(y, x)+4*math.Pi, 2*math.Pi/sides) - math.Pi/sides
	r := math.Hypot(x, y) * math.Cos(a)
	if r > 0.62 {
		return -1
	}
	n := math.Floor((math.Atan2(y, x) + math.Pi) * sides / (2 * math.Pi))
	if r < 0.32 {
		return 0.9
	}
	return 0.25 + 0.5*math.Abs(math.Sin(1.7*n))
}
