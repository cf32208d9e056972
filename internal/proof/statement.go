package proof

import (
	"strconv"
	"strings"
	"time"
)

// Format is the layout of the statement that this program writes.
const Format = 1

// MaxSize is the largest proof, in bytes of the signed message: so much fits a QR code that a 58 mm
// printer prints and a phone reads. Chosen here.
const MaxSize = 350

// The findings that a statement can hold.
const (
	NoFinding = "none" // nothing was claimed
	Met       = "met"
	NotMet    = "not met"
	Undecided = "undecided"
)

// findings are as they are numbered in the message.
var findings = []string{NoFinding, Met, NotMet, Undecided}

// Statement is what a proof says of one record.
type Statement struct {
	Shop         string    // short name, as its log is called
	ShopName     string    // as printed on paper; cut when the proof would grow too long
	Number       string    // of the record
	Report       string    // number of the report that carries the proof; "" on a slip
	Issued       time.Time // when the proof was made, UTC, in whole seconds
	Made         time.Time // when the record was made, likewise
	Supersedes   string    // number of the record that this one corrects; "" for none
	SupersededBy string    // number of the record that had taken its place by then; "" for none

	Hash  [32]byte // of the record's entry in the log: SHA-256 of 0x00 and its bytes (RFC 6962, section 2.1)
	Entry int64    // place of that entry in the log, from 0
	Size  int64    // entries of the log at the checkpoint
	Root  [20]byte // first 160 bits of the checkpoint's root

	Item      string // in words; cut when the proof would grow too long
	Claim     string // in words, where it is no metal with a fineness, such as a stone; cut likewise
	Metal     string // symbol of the metal claimed, or of the only one found: Au, Ag, Pt, Pd; "" for none
	Claimed   Number // fineness claimed, parts per thousand; the zero Number for none
	Low, High Number // ends of the fineness, 95 %, parts per thousand; both zero where none is told
	Finding   string // NoFinding, Met, NotMet or Undecided
	Density   Number // g/cm³ at 20 °C
	Mass      Number // g, free of the buoyancy of the air; without an uncertainty

	Suspended bool // a doubt about the weighing holds the finding back
	Approved  bool // all signatures that the house asks for were given
	Demo      bool // everything in this shop is invented
	Cut       bool // a text was cut to fit; it then ends in "…"
}

// Number is a decimal number as it is printed.
type Number struct {
	Digits int   // after the point
	Value  int64 // in units of the last digit
	U      int64 // expanded uncertainty, 95 %, in units of the last digit; 0 where none is told
}

// String is the number as printed, without its uncertainty.
func (n Number) String() string { return shifted(n.Value, n.Digits) }

// Uncertainty is the expanded uncertainty as printed.
func (n Number) Uncertainty() string { return shifted(n.U, n.Digits) }

func shifted(value int64, digits int) string {
	if digits == 0 {
		return strconv.FormatInt(value, 10)
	}
	sign, text := "", strconv.FormatInt(value, 10)
	if text[0] == '-' {
		sign, text = "-", text[1:]
	}
	if missing := digits + 1 - len(text); missing > 0 {
		text = strings.Repeat("0", missing) + text
	}
	return sign + text[:len(text)-digits] + "." + text[len(text)-digits:]
}

// number reads a number as printed.
func number(text string) (Number, error) {
	whole, after, _ := strings.Cut(text, ".")
	value, err := strconv.ParseInt(whole+after, 10, 64)
	return Number{Digits: len(after), Value: value}, err
}
