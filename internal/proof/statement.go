package proof

import "time"

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

// Statement is what a proof says of one record.
type Statement struct {
	Shop       string // short name, as its log is called
	ShopName   string // as printed on paper; cut when the proof would grow too long
	Number     string // of the record
	Report     string // of the report that carries the proof; "" on a slip
	Issued     time.Time
	Made       time.Time // when the record was made
	Supersedes string    // number of the record that this one corrects; "" for none
	// SupersededBy is the number of the record that had taken its place when the proof was issued
	// already; "" for none.
	SupersededBy string

	Hash  [32]byte // of the record's entry in the log: SHA-256 of 0x00 and its bytes
	Entry int64    // place of that entry in the log, from 0
	Size  int64    // entries of the log at the checkpoint
	Root  [20]byte // first 160 bits of the checkpoint's root

	Item       string   // in words; cut when the proof would grow too long
	Method     string   // method and arrangement, in words; cut likewise
	Mass       Number   // g, free of the buoyancy of the air; Value with the digits that count
	Density    Number   // g/cm3 at 20 °C, with its expanded uncertainty, 95 %
	Metal      string   // symbol of the metal claimed, or found; "" where neither
	ClaimedPpt *float64 // fineness claimed, parts per thousand
	LowPpt     *float64 // lower end of the fineness, 95 %
	HighPpt    *float64 // upper end
	Finding    string   // none, met, not met or undecided
	Suspended  bool     // a doubt about the weighing holds the finding back
	Approved   bool     // all signatures that the house asks for were given
	Demo       bool     // everything in this shop is invented
	CutShort   bool     // a text was cut to fit; it then ends in "…"
}

// Number is a decimal number as it is printed, with its expanded uncertainty in the same last digit.
type Number struct {
	Digits int   // after the point
	Value  int64 // in units of the last digit
	U      int64 // expanded uncertainty in units of the last digit; 0 where the weighing sets none
}
