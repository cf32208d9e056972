package web

import (
	"testing"
)

// walks are what people do at the pages, done in a real browser.
var walks = []struct {
	name string
	do   func(t *testing.T, c *chrome)
}{
	{"every page is seen", walkPictures},
}

func TestInBrowser(t *testing.T) {
	c := startChrome(t)
	for _, walk := range walks {
		t.Run(walk.name, func(t *testing.T) { walk.do(t, c) })
	}
}
