package press

import (
	"fmt"
	"strings"
	"sync"

	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"
)

// The faces of slips and labels: narrow ones, since the paper is.
const slipFamily = "condensed"

var slipFaces = map[bool]struct {
	style string
	ttf   []byte
	has   func() map[rune]bool
}{
	false: {"", dejavusanscondensed.TTF, sync.OnceValue(func() map[rune]bool { return letterTable(dejavusanscondensed.TTF) })},
	true:  {"B", dejavusanscondensedbold.TTF, sync.OnceValue(func() map[rune]bool { return letterTable(dejavusanscondensedbold.TTF) })},
}

// inFace writes words with the letters of a face. One that it lacks is written as its number in Unicode.
func inFace(words string, bold bool) string {
	has := slipFaces[bold].has()
	words, _ = printable(plain(words))
	var out strings.Builder
	for _, r := range words {
		if has[r] {
			out.WriteRune(r)
		} else {
			fmt.Fprintf(&out, "[U+%04X]", r)
		}
	}
	return out.String()
}
