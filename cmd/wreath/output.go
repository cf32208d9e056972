package main

import (
	"cmp"
	"io"
	"strings"
	"time"
	"unicode"
)

// harmless takes out what could steer a terminal: texts in records come from many hands.
func harmless(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.In(r, unicode.Bidi_Control) {
			return ' '
		}
		return r
	}, text)
}

// safeGrid prints rows of texts that come from anywhere, in columns under their heads.
func safeGrid(w io.Writer, head string, rows [][]string) error {
	for _, row := range rows {
		for i, cell := range row {
			row[i] = cmp.Or(harmless(cell), "-")
		}
	}
	return grid(w, head, rows)
}

// moment prints a time to the second, with the offset of the place.
func moment(t time.Time, in *time.Location) string {
	return t.In(in).Format("2006-01-02 15:04:05 -07:00")
}

// day reads a day of the shop's calendar, or a moment. A day that ends a span counts whole.
func day(flag, text string, in *time.Location, end bool) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	t, err := time.ParseInLocation(time.DateOnly, text, in)
	if err != nil {
		return t, wrong("Write a day as 2026-03-01, or a moment as 2026-03-01T09:30:00+01:00.", "--%s %q is no day", flag, text)
	}
	if end {
		t = t.AddDate(0, 0, 1)
	}
	return t, nil
}

// short cuts a text that would break a table.
func short(text string, most int) string {
	if r := []rune(text); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return text
}

// newPage is a page with labels as wide as those of an answer.
func newPage() *sheet { return &sheet{label: 11} }
