package web

import (
	"fmt"
	"html/template"
	"image/color"
	"net/http"
	"strings"

	"github.com/boombuler/barcode/code128"

	"wreath/internal/desk"
)

// card is a barcode that does something on the sheet that is open.
type card struct {
	Code string // what the scanner types
	Act  string // the act of the page's script
	Name string
	Does string
}

// cardsKnown are the cards. Their letters lie at the same place on the common keyboard layouts, so that a
// scanner set to another country types them too; capitals and small letters are one.
var cardsKnown = []card{
	{"BENCHGET", "take", say("take"), say("takes the reading that stands in the field, or that the balance shows")},
	{"BENCHREDO", "again", say("again"), say("goes to the next immersion")},
	{"BENCHOUT", "aside", say("set aside"), say("sets the last reading aside; it stays on the sheet")},
	{"BENCHNEXT", "next", say("next"), say("goes on to the next item")},
}

// cardActs is what each card does, for the script of the pages.
var cardActs = func() map[string]string {
	out := map[string]string{}
	for _, c := range cardsKnown {
		out[c.Code] = c.Act
	}
	return out
}()

func isCard(code string) bool { return cardActs[strings.ToUpper(code)] != "" }

// Bars draws the code as Code 128, with its check symbol and a quiet zone of ten modules on both sides
// (ISO/IEC 15417).
func (c card) Bars() (template.HTML, error) {
	const quiet, high = 10, 60
	code, err := code128.Encode(c.Code)
	if err != nil {
		return "", err
	}
	wide := code.Bounds().Dx()
	var bars strings.Builder
	for x := 0; x < wide; x++ {
		from := x
		for x < wide && dark(code, x) {
			x++
		}
		if x > from {
			fmt.Fprintf(&bars, "M%d 0h%dv%dh-%dz", quiet+from, x-from, high, x-from)
		}
	}
	return template.HTML(fmt.Sprintf(`<svg class="bars" viewBox="0 0 %d %d" width="%d" height="%d" role="img" aria-label="%s"><rect width="%d" height="%d" fill="#fff"/><path d="%s" fill="#000"/></svg>`,
		wide+2*quiet, high, 2*(wide+2*quiet), 2*high, c.Code, wide+2*quiet, high, bars.String())), nil
}

// cards prints the cards.
func (s *Server) cards(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	s.render(w, r, http.StatusOK, "cards", view{Title: "Cards", Who: who, Body: cardsKnown})
	return nil
}

// dark is true where a module is a bar.
func dark(code interface{ At(x, y int) color.Color }, x int) bool {
	level, _, _, _ := code.At(x, 0).RGBA()
	return level < 1<<15
}
