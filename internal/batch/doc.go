// Package batch answers many determinations, one a row, in the order of the rows.
//
// A row is one line of a CSV file, whose columns are named after the fields of a draft, or one
// line of JSON Lines, which holds a draft. A row that cannot be answered is reported with its
// reason and passed over. Rows are read, evaluated and written as they come: what is held in
// memory does not grow with their number.
//
// The number of a row is the line of the file on which it begins; the first line is 1, so that
// with a CSV file it is the row number that a spreadsheet shows.
//
// CSV follows RFC 4180, with these freedoms: columns may be parted by commas, semicolons or tabs;
// blanks around a cell do not count; the file may begin with a UTF-8 byte order mark.
package batch
