package spool

import (
	"fmt"
	"net"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"wreath/internal/strictjson"
)

// Format is the version of a printer's document.
const Format = 1

// What a printer takes.
const (
	Text = "text" // lines of letters, of one width
	PDF  = "pdf"
)

// The encodings of a text.
const (
	UTF8  = "utf-8"
	ASCII = "ascii" // letters that it lacks are written with those that it has
)

// Printer is the document of a printer: where it is, and what it takes.
type Printer struct {
	Format  int    `json:"format"`
	Name    string `json:"name"`    // short, such as "counter"
	Version int    `json:"version"` // counted by the desk
	// Address is device:///dev/usb/lp0, tcp://192.0.2.20:9100, ipp://host/printers/queue or ipps://.
	Address string `json:"address"`
	Takes   string `json:"takes"` // Text or PDF

	Columns   int    `json:"columns,omitempty"`    // of a text: letters in a line, 24 to 80
	Encoding  string `json:"encoding,omitempty"`   // of a text: UTF8 or ASCII
	FeedLines int    `json:"feed_lines,omitempty"` // of a text: empty lines after it, up to the tear-off edge

	Paper string `json:"paper,omitempty"` // of a PDF: A4, Letter, 58 mm, 80 mm, or a label such as 50x30 mm
}

// MaxPrinter is the largest document of a printer, in bytes.
const MaxPrinter = 64 << 10

// DecodePrinter reads the document of a printer and checks it.
func DecodePrinter(data []byte) (*Printer, error) {
	p := &Printer{}
	if err := strictjson.Unmarshal(data, p); err != nil {
		return nil, err
	}
	return p, p.Check()
}

var (
	printerName = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,39}$`)
	labelSize   = regexp.MustCompile(`^([1-9][0-9]{1,2})x([1-9][0-9]{1,2}) mm$`)
)

// Sheets and rolls of a printer that takes PDF, beside the sizes of labels.
const (
	A4     = "A4"
	Letter = "Letter"
	Roll58 = "58 mm"
	Roll80 = "80 mm"
)

// Check says what is wrong with a printer's document. The error is a *strictjson.FieldError.
func (p *Printer) Check() error {
	wrong := func(path, hint, reason string, args ...any) error {
		return &strictjson.FieldError{Path: path, Reason: fmt.Sprintf(reason, args...), Hint: hint}
	}
	if p.Format != Format {
		return wrong("format", "Write \"format\": 1.", "is %d, and this program reads 1", p.Format)
	}
	if !printerName.MatchString(p.Name) {
		return wrong("name", "Use 1 to 40 small letters, digits and hyphens, such as counter.", "%.60q is no short name", p.Name)
	}
	if _, err := parseAddress(p.Address); err != nil {
		return err
	}
	switch p.Takes {
	case Text:
		if p.Columns < 24 || p.Columns > 80 {
			return wrong("columns", "Count the letters of a full line: often 32 on paper of 58 mm, 42 or 48 on 80 mm (common practice).", "%d letters in a line are outside 24 to 80", p.Columns)
		}
		if p.Encoding != UTF8 && p.Encoding != ASCII {
			return wrong("encoding", "Write utf-8, or ascii where the printer garbles letters with accents.", "there is no encoding %.40q", p.Encoding)
		}
		if p.FeedLines < 0 || p.FeedLines > 40 {
			return wrong("feed_lines", "Count the lines from the print head to the tear-off edge: mostly 3 to 6.", "%d empty lines are outside 0 to 40", p.FeedLines)
		}
		if p.Paper != "" {
			return wrong("paper", "Leave it out; say the columns.", "belongs to a printer that takes PDF")
		}
	case PDF:
		if p.Columns != 0 || p.Encoding != "" || p.FeedLines != 0 {
			return wrong("columns", "Leave columns, encoding and feed_lines out; say the paper.", "belongs to a printer that takes text")
		}
		if _, _, known := p.PaperMM(); !known {
			return wrong("paper", "Write A4, Letter, 58 mm, 80 mm, or the width and height of a label such as 50x30 mm (30 to 110 wide, 18 to 100 high).", "there is no paper %.40q", p.Paper)
		}
	default:
		return wrong("takes", "Write text or pdf.", "a printer takes text or pdf, not %.40q", p.Takes)
	}
	return nil
}

// PaperMM is the size of the paper of a printer that takes PDF, in millimetres. A roll has the height 0.
func (p *Printer) PaperMM() (wide, high float64, known bool) {
	switch p.Paper {
	case A4: // ISO 216
		return 210, 297, true
	case Letter: // ANSI/ASME Y14.1: 8.5 by 11 inches
		return 215.9, 279.4, true
	case Roll58:
		return 58, 0, true
	case Roll80:
		return 80, 0, true
	}
	size := labelSize.FindStringSubmatch(p.Paper)
	if size == nil {
		return 0, 0, false
	}
	w, _ := strconv.Atoi(size[1])
	h, _ := strconv.Atoi(size[2])
	return float64(w), float64(h), w >= 30 && w <= 110 && h >= 18 && h <= 100
}

// Where says in words what is at the address, for lists and errors.
func (p *Printer) Where() string {
	u, err := parseAddress(p.Address)
	if err != nil {
		return p.Address
	}
	switch u.Scheme {
	case "device":
		return "the device " + u.Path
	case "tcp":
		return "the network address " + u.Host
	}
	return "the system's print queue " + p.Address
}

// Takings says in words what the printer takes.
func (p *Printer) Takings() string {
	if p.Takes == Text {
		return fmt.Sprintf("text of %d columns in %s", p.Columns, p.Encoding)
	}
	return "PDF on " + p.Paper
}

// Fits refuses a document that the printer can't take.
func (p *Printer) Fits(document string) error {
	if !slices.Contains(Documents, document) {
		return &FitError{fmt.Sprintf("there is no document %.40q", document), "Documents are " + strings.Join(Documents, ", ") + "."}
	}
	if document == Report && p.Paper != A4 && p.Paper != Letter {
		return &FitError{fmt.Sprintf("the printer %s takes %s, and a report needs a sheet", p.Name, p.Takings()), "Print the slip there, or the report on a printer that takes PDF on A4 or Letter."}
	}
	return nil
}

// FitError says why a document is not for a printer.
type FitError struct{ Reason, hint string }

func (e *FitError) Error() string { return e.Reason }

// Hint says what to do instead.
func (e *FitError) Hint() string { return e.hint }

// rawPort is where network printers take bytes by common practice.
const rawPort = "9100"

// parseAddress reads the address of a printer and fills in the usual port.
func parseAddress(text string) (*url.URL, error) {
	wrong := func(hint, reason string) error {
		return &strictjson.FieldError{Path: "address", Reason: fmt.Sprintf("%.100q %s", text, reason), Hint: hint}
	}
	u, err := url.Parse(text)
	if err != nil || len(text) > 500 {
		return nil, wrong("Write device:///dev/usb/lp0, tcp://192.0.2.20:9100 or ipp://localhost/printers/NAME.", "is no address")
	}
	if u.User != nil || u.RawQuery != "" || u.Fragment != "" {
		return nil, wrong("Leave out user, question mark and hash.", "holds more than a place")
	}
	switch u.Scheme {
	case "device":
		if u.Host != "" || !strings.HasPrefix(u.Path, "/") || strings.HasSuffix(u.Path, "/") || u.Path == "" {
			return nil, wrong("Write the whole path, such as device:///dev/usb/lp0.", "names no device")
		}
	case "tcp":
		if u.Hostname() == "" || u.Path != "" && u.Path != "/" {
			return nil, wrong("Write host and port, such as tcp://192.0.2.20:9100.", "names no host")
		}
		if u.Port() == "" {
			u.Host = net.JoinHostPort(u.Hostname(), rawPort)
		}
		u.Path = ""
	case "ipp", "ipps":
		if u.Hostname() == "" || len(u.Path) < 2 {
			return nil, wrong("Write host and queue, such as ipp://localhost/printers/counter; lpstat -v lists the queues.", "names no queue")
		}
		if u.Port() == "" {
			u.Host = net.JoinHostPort(u.Hostname(), "631") // RFC 8010, section 4.1
		}
	default:
		return nil, wrong("Begin with device:// for a device of this machine, tcp:// for a printer on the network, ipp:// or ipps:// for a print queue.", "begins with no known kind")
	}
	if port := u.Port(); port != "" {
		if n, err := strconv.Atoi(port); err != nil || n < 1 || n > 65535 {
			return nil, wrong("A port is a number from 1 to 65535.", "has no such port")
		}
	}
	return u, nil
}
