package tables

// Limits bound what is read. What is 0 is not bounded.
type Limits struct {
	Bytes    int64 // of the file
	Unpacked int64 // of a workbook, unpacked
	Rows     int   // below the headings
	Columns  int
	Cell     int // bytes of one cell
}

// Sheet is a table as it was read.
type Sheet struct {
	Format   Format
	Headings []string // the headings of a CSV file or a workbook, the names of JSON Lines
	Rows     []Row

	Comma bool // numbers may be written with a decimal comma
}

// Row is one row.
type Row struct {
	No    int      // the line of the file, or the row of the sheet, from 1
	Cells []string // as many as there are headings
}

// ReadError says what can't be read, where, and how to mend it.
type ReadError struct {
	Row          int // the line of the file or the row of the sheet; 0 for the file as a whole
	Reason, Hint string
}

func (e *ReadError) Error() string { return e.Reason }
