package spool

import (
	"fmt"
	"strings"
	"time"
)

// TestPage is what shows whether a printer that takes text is set up rightly: the width of a line, letters
// and signs that papers use, and where the paper is torn.
func TestPage(p Printer, shop string, at time.Time) string {
	ruler := strings.Repeat("1234567890", p.Columns/10+1)[:p.Columns]
	return fmt.Sprintf(`Test page of the printer %s
%s, %s

The next line is as long as a line can be. It must not be broken:
%s

Letters and signs of papers:
ä ö ü ß é ñ ± · ³ ≥ %%
`, p.Name, shop, at.Format("2006-01-02 15:04 -07:00"), ruler) + "The paper is torn below this line.\n"
}
