package web

import (
	"testing"

	"wreath/internal/store"
)

// walks are what people do at the pages, done in a real browser.
var walks = []struct {
	name string
	do   func(t *testing.T, c *chrome)
}{
	{"first run to first result", walkFirstRun},
	{"by keyboard only", walkKeyboard},
	{"single keys off", walkKeysOff},
	{"by touch only", walkTouch},
	{"scanner", walkScanner},
	{"two tabs", walkTwoTabs},
	{"tab killed", walkKilledTab},
	{"program restarted", walkRestart},
	{"network cut", walkCutNetwork},
	{"wet touches", walkWetTouches},
	{"no such page", walkLost},
	{"correction", walkCorrection},
	{"check piece carried over", walkCarry},
	{"every page", walkPages},
}

var everything = store.Query{Limit: 100}

func TestInBrowser(t *testing.T) {
	c := startChrome(t)
	for _, walk := range walks {
		t.Run(walk.name, func(t *testing.T) { walk.do(t, c) })
	}
}
