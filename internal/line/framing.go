package line

import (
	"fmt"
	"math"

	"wreath/internal/strictjson"
)

// Framing says where a line begins and ends. It is part of a pattern's document.
type Framing struct {
	// Start is the control character before every line, or "" when there is none. With it, everything between
	// an end and the next start is dropped.
	Start string `json:"start,omitempty" doc:"character before every line: STX or SOH; none when left out"`
	// End is what ends a line; "" when nothing does. "any" is CR, LF or both.
	End string `json:"end,omitempty" doc:"what ends a line: CR, LF, CRLF, ETX, EOT, or any (CR, LF or both)"`
	// After is how many bytes of check follow the end. They come at the end of the line, each as two upper-case
	// hexadecimal digits. At most 4.
	After int `json:"after,omitempty" doc:"bytes of check that follow the end; they are read as two hexadecimal digits each"`
	// Length is the length of a line in bytes when nothing ends it. It needs a start or an idle gap to find step.
	Length int `json:"length,omitempty" doc:"bytes of a line when nothing ends it"`
	// IdleS is the pause that ends a line when nothing else does, in seconds. Beside an end or a length it is the
	// pause after which half a line is given up.
	IdleS float64 `json:"idle_s,omitempty" doc:"pause that ends a line when nothing else does, in seconds"`
	// Longest is the most bytes a line may have; what is longer is damaged. 0 stands for 256; at most 4096.
	Longest int `json:"longest,omitempty" doc:"most bytes a line may have; 256 when left out"`
	// Text is the code of the characters: "ascii" (the default), "utf-8", or "latin-1", which is turned into UTF-8.
	Text string `json:"text,omitempty" doc:"code of the characters: ascii, utf-8 or latin-1; ascii when left out"`
}

// controls are the characters that may begin or end a line, by their names in ASCII (ISO/IEC 646).
var controls = map[string]byte{"SOH": soh, "STX": stx, "ETX": etx, "EOT": eot, "CR": cr, "LF": lf}

// Check says what is wrong with a framing; the error is a *strictjson.FieldError.
func (f Framing) Check() error {
	wrong := func(field, reason, hint string) error {
		return &strictjson.FieldError{Path: "framing." + field, Reason: reason, Hint: hint}
	}
	if f.Start != "" && f.Start != "STX" && f.Start != "SOH" {
		return wrong("start", fmt.Sprintf("is %q, which is no start known here", f.Start), "Give STX or SOH, or leave it out.")
	}
	switch f.End {
	case "", "CR", "LF", "CRLF", "ETX", "EOT", "any":
	default:
		return wrong("end", fmt.Sprintf("is %q, which is no end known here", f.End), "Give CR, LF, CRLF, ETX, EOT or any.")
	}
	switch f.Text {
	case "", "ascii", "utf-8", "latin-1":
	default:
		return wrong("text", fmt.Sprintf("is %q, which is no code known here", f.Text), "Give ascii, utf-8 or latin-1.")
	}
	switch longest := f.Longest; {
	case longest < 0 || longest > mostLongest:
		return wrong("longest", fmt.Sprintf("is %d", longest), fmt.Sprintf("Give 1 to %d bytes.", mostLongest))
	case longest == 0:
		if f.Length > usualLongest {
			return wrong("length", "is more than the longest line", "Give longest as well.")
		}
	case f.Length > longest:
		return wrong("length", "is more than the longest line", "Make longest larger.")
	}
	switch {
	case f.After < 0 || f.After > mostAfter:
		return wrong("after", fmt.Sprintf("is %d", f.After), fmt.Sprintf("Give 0 to %d bytes.", mostAfter))
	case f.After > 0 && (f.End == "" || f.End == "any"):
		return wrong("after", "needs an end before it", "Give the end: ETX, CR, LF, CRLF or EOT.")
	case f.Length < 0:
		return wrong("length", "is negative", "Give the number of bytes.")
	case f.Length > 0 && f.End != "":
		return wrong("length", "stands beside an end", "Leave one of them out.")
	case math.IsNaN(f.IdleS) || f.IdleS < 0 || f.IdleS > 60:
		return wrong("idle_s", "is not a pause of 0 to 60 seconds", "Give a pause such as 0.05.")
	case f.End == "" && f.Length == 0 && f.IdleS == 0:
		return wrong("end", "is missing", "Give what ends a line: an end, a length, or a pause (idle_s).")
	case f.Length > 0 && f.Start == "" && f.IdleS == 0:
		return wrong("length", "is not enough to find where a line begins", "Give a start as well, or the pause between lines (idle_s).")
	}
	return nil
}
