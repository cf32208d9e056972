package line

// Framing says where a line begins and ends. It is part of a pattern's document.
type Framing struct {
	// Start is the control character before every line, or "" when there is none: "STX" or "SOH".
	// With it, everything between an end and the next start is dropped.
	Start string `json:"start,omitempty" doc:"character before every line: STX, SOH; none when left out"`
	// End is "CR", "LF", "CRLF", "ETX", "EOT"; "any" takes CR, LF and both; "" when nothing ends a line.
	End string `json:"end,omitempty" doc:"what ends a line: CR, LF, CRLF, ETX, EOT, or any (CR, LF or both)"`
	// After is how many bytes of check follow the end. They come to the line as upper-case hexadecimal pairs.
	After int `json:"after,omitempty" doc:"bytes of check that follow the end; they are read as two hexadecimal digits each"`
	// Length is the length of a line in bytes when nothing ends it. It needs a start or an idle gap to find step.
	Length int `json:"length,omitempty" doc:"bytes of a line when nothing ends it"`
	// IdleS is the pause that ends a line when nothing else does, in seconds.
	IdleS float64 `json:"idle_s,omitempty" doc:"pause that ends a line when nothing else does, in seconds"`
	// Longest is the most bytes a line may have; what is longer is damaged. 0 stands for 256; at most 4096.
	Longest int `json:"longest,omitempty" doc:"most bytes a line may have; 256 when left out"`
	// Text is the code of the characters: "ascii" (the default), "utf-8" or "latin-1" (turned into UTF-8).
	Text string `json:"text,omitempty" doc:"code of the characters: ascii, utf-8 or latin-1; ascii when left out"`
}

// Line is one line as it came, without its start and its end.
type Line struct {
	Bytes   []byte  // valid until the function that got the line returns
	Seconds float64 // when its last byte came
	Damaged string  // why it can't be trusted, in words; "" when it is whole. A damaged line must not be read
}

// Framer cuts a stream of bytes into lines. It holds one line and never more than its longest.
type Framer struct {
	framing Framing
}

// NewFramer returns a framer. It assumes to have joined a stream that was already running, so its
// first line is given as damaged; call Whole first when the stream begins with a line.
func NewFramer(f Framing) *Framer { return &Framer{framing: f} }

// Whole says that the next byte begins a line: a file from its start, an answer to a request, a
// message that was pushed. What was held is dropped.
func (f *Framer) Whole() {}

// Broken says that bytes were or may have been lost here (unplugged, connected again). What was
// held is dropped and the next line is given as damaged.
func (f *Framer) Broken() {}

// Write takes bytes in packets of any size and calls yield for each line that is complete.
// Seconds is when the packet came; it must not run backwards.
func (f *Framer) Write(p []byte, seconds float64, yield func(Line)) {}

// Idle tells that nothing came until now. It ends a line where the framing says that a pause does.
func (f *Framer) Idle(seconds float64, yield func(Line)) {}
