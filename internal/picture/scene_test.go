package picture

import (
	"strings"
	"testing"
)

func TestSceneReadsItsOwnDrawing(t *testing.T) {
	c := canvas{width: 100}
	c.rect("band fit", 1, 2, 30, 4)
	c.line("bar weak", 0, 5, 50, 5)
	c.circle("dot", 10, 20, 3)
	c.path("claim", new(track).add('M', 1, 2).add('l', 3, -1).add('v', 4).add('H', 0).add('Z').String())
	c.text("b halo", 7, 8, middle, "750 & more")
	p := c.finish("test", "A test.", 40)
	shapes, err := p.Scene(Print)
	if err != nil {
		t.Fatal(err)
	}
	if len(shapes) != 5 {
		t.Fatalf("%d shapes: %+v", len(shapes), shapes)
	}
	if s := shapes[0]; s.Fill != "#3c3c3c" || s.Stroke != "" || len(s.Path) != 5 || s.Path[2].To[0] != 31 || s.Path[2].To[1] != 6 {
		t.Errorf("a band that fits is %+v", s)
	}
	if s := shapes[1]; s.Fill != "" || s.Stroke != "#000000" || s.Width != 5 || len(s.Dash) != 2 || s.Dash[0] != 6 {
		t.Errorf("a weak bar is %+v", s)
	}
	if s := shapes[2]; s.Fill != "#000000" || len(s.Path) != 6 || s.Path[0].To[0] != 13 || s.Path[2].To[4] != 7 {
		t.Errorf("a dot is %+v", s)
	}
	if s := shapes[3]; s.Stroke != "#000000" || s.Width != 2 || !s.Square || len(s.Path) != 5 || s.Path[1].To[0] != 4 || s.Path[2].To[1] != 5 || s.Path[3].To[0] != 0 {
		t.Errorf("a claim is %+v", s)
	}
	if s := shapes[4]; s.Path != nil || s.Text != "750 & more" || !s.Bold || !s.Halo || s.Anchor != middle || s.Size != 13 || s.Stroke != "#ffffff" {
		t.Errorf("a text is %+v", s)
	}
}

func TestSceneRefuses(t *testing.T) {
	c := canvas{width: 100}
	c.path("claim", "M1 2Q3 4 5 6")
	if _, err := c.finish("test", "A test.", 40).Scene(Print); err == nil || !strings.Contains(err.Error(), "has a step") {
		t.Errorf("a curve that no picture draws: %v", err)
	}
	if _, err := c.finish("test", "A test.", 40).Scene(Palette{}); err == nil || !strings.Contains(err.Error(), "the palette has no") {
		t.Errorf("no palette: %v", err)
	}
}
