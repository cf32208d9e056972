package tables

// Field is one thing that a list may say of an item.
type Field string

// The fields of a list.
const (
	Serial      Field = "serial"       // number of the bar or coin
	Marks       Field = "marks"        // maker's mark, stamps
	Description Field = "description"  // what it is
	Condition   Field = "condition"    // how it arrived
	Metal       Field = "metal"        // what it is said to be of: gold, silver, platinum, palladium
	Fineness    Field = "fineness_ppt" // as claimed, in parts per thousand
	Mass        Field = "mass"         // as claimed
	MassUnit    Field = "mass_unit"    // g, kg, oz t, ...
	Claim       Field = "claim"        // in words
	Barcode     Field = "barcode"      // of its tray or bag
	Reference   Field = "reference"    // the owner's own
	PartOf      Field = "part_of"      // the lot, bag or item that it belongs to
	Place       Field = "place"        // where it lies
)

// Declared is one row of a list: what the list says of an item. Nobody here has looked at the item yet.
type Declared struct {
	Row int // the line of the file, or the row of the sheet

	Serial, Marks, Description, Condition  string
	Metal, Fineness, Mass, MassUnit, Claim string
	Barcode, Reference, PartOf, Place      string
}

// Finding says what is wrong with a list, or strange about it.
type Finding struct {
	Row     int    `json:"row,omitempty" doc:"the line of the file, or the row of the sheet; 0 for the file as a whole"`
	Field   string `json:"field,omitempty" doc:"the heading of the column, as in the file"`
	Wrong   string `json:"wrong" doc:"what is wrong"`
	Mend    string `json:"mend" doc:"how to mend it"`
	Warning bool   `json:"warning,omitempty" doc:"it can be entered all the same"`
}

// Read columns: what a heading was taken for.
type Heading struct {
	Text string `json:"heading" doc:"as in the file"`
	As   Field  `json:"as,omitempty" doc:"the field that it was taken for; left out where the column is not entered"`
	Unit string `json:"unit,omitempty" doc:"the unit that the heading names"`
}

// List is a list of items as it was read.
type List struct {
	Headings []Heading
	Items    []Declared // of the rows that could be read
	Findings []Finding  // in the order of the rows
	Rows     int        // rows in the file
}
