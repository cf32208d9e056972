// Package tables writes tables for spreadsheets and programs, and reads lists that others made.
//
// A table is written as CSV, as a workbook (XLSX) or as JSON Lines from the same columns and cells. A
// cell is a text: a number stands there digit by digit as it is kept, so that no exact decimal is
// rounded on its way out. What is written can be read again without loss; see Read.
//
// A list is a file of items with what is claimed of them, such as the list of bars that comes with a
// delivery. Its headings are understood in English, German and Spanish; see ReadList.
package tables
