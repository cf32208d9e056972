package web

import (
	"fmt"
	"testing"
)

// everyPage lists the pages of a bench, with something on each.
func everyPage(w *benchWorld) map[string]string {
	number := w.keep()
	return map[string]string{
		"bench": "/", "day": "/day", "keys": "/nowhere", "correct": "/record/" + number + "/correct", "far": "/sheet/" + w.openSheet("T-21", weighed...) + "/far", "compare": "/compare?record=" + number + "&record=" + w.keep(), "sheet-empty": "/sheet/" + w.openSheet("T-17"), "sheet-half": "/sheet/" + w.openSheet("T-19", weighed[:1]...),
		"sheet-done": "/sheet/" + w.openSheet("T-18", weighed...), "sheet-plain": "/sheet/" + w.openSheet("T-20", weighed[0], weighed[1], weighed[4]),
		"record": "/record/" + number, "book": "/book", "stations": "/stations", "station": "/stations/bench", "materials": "/materials", "settings": "/settings",
	}
}

func walkPictures(t *testing.T, c *chrome) {
	w := openWorld(t)
	b := c.open(t, w.home())
	pages := everyPage(w)
	for name, path := range pages {
		for _, size := range [][2]int64{{1280, 800}, {768, 1024}, {390, 844}} {
			b.size(size[0], size[1])
			b.visit(path)
			b.picture(fmt.Sprintf("%s-%d", name, size[0]), false)
			b.picture(fmt.Sprintf("%s-%d-whole", name, size[0]), true)
		}
	}
}
