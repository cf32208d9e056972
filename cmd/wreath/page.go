package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"text/tabwriter"
	"time"

	"wreath/internal/strictjson"
	"wreath/internal/value"
)

// formatted is the choice between people and programs.
type formatted struct {
	Format string `enum:"text,json" default:"text" help:"text for people, json for programs."`
}

func (f formatted) forPrograms() bool { return f.Format == "json" }

// grid prints rows in columns under their heads.
func grid(w io.Writer, head string, rows [][]string) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, strings.ReplaceAll(head, "|", "\t"))
	for _, row := range rows {
		fmt.Fprintln(t, strings.Join(row, "\t"))
	}
	return t.Flush()
}

// pairs prints what is given of labels and values, label by label.
func pairs(w io.Writer, all ...[2]string) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, p := range all {
		if p[1] != "" {
			lines := strings.Split(p[1], "\n")
			for i := range lines {
				lines[i] = harmless(lines[i])
			}
			fmt.Fprintf(t, "%s\t%s\n", p[0], strings.Join(lines, "\n\t"))
		}
	}
	return t.Flush()
}

// shopZone is where the shop's clock stands.
func shopZone(ctx context.Context, r *room) (*time.Location, error) {
	shop, err := r.AboutShop(ctx)
	if err != nil {
		return nil, err
	}
	return time.LoadLocation(shop.TimeZone)
}

// between reads the days of two flags as the shop counts days: from the beginning of one to the end of the other.
func between(ctx context.Context, r *room, fromFlag, from, untilFlag, until string) (begin, end time.Time, err error) {
	zone, err := shopZone(ctx, r)
	if err != nil {
		return begin, end, err
	}
	if begin, err = day(fromFlag, from, zone, false); err != nil {
		return begin, end, err
	}
	end, err = day(untilFlag, until, zone, true)
	return begin, end, err
}

// stamp writes a time for people of the shop.
func stamp(t time.Time, zone *time.Location) string {
	if t.IsZero() {
		return ""
	}
	return t.In(zone).Format("2006-01-02 15:04 -07:00")
}

// fields lists every field of a JSON document with its path, in the order in which they stand.
func fields(document []byte) (out [][2]string, err error) {
	d := json.NewDecoder(bytes.NewReader(document))
	d.UseNumber()
	err = flatten(d, "", &out)
	return out, err
}

func flatten(d *json.Decoder, path string, out *[][2]string) error {
	token, err := d.Token()
	if err != nil {
		return err
	}
	switch token {
	case json.Delim('{'):
		for d.More() {
			name, err := d.Token()
			if err != nil {
				return err
			}
			if err := flatten(d, strings.TrimPrefix(fmt.Sprintf("%s.%v", path, name), "."), out); err != nil {
				return err
			}
		}
		_, err = d.Token()
	case json.Delim('['):
		for n := 0; d.More(); n++ {
			if err := flatten(d, fmt.Sprintf("%s[%d]", path, n), out); err != nil {
				return err
			}
		}
		_, err = d.Token()
	default:
		*out = append(*out, [2]string{path, fmt.Sprint(token)})
	}
	return err
}

// printFields prints a document for people: field by field.
func printFields(w io.Writer, document any) error {
	data, err := json.Marshal(document)
	if err != nil {
		return err
	}
	all, err := fields(data)
	if err != nil {
		return err
	}
	return pairs(w, all...)
}

// readUpTo reads a whole file, or standard input for "-". One byte more than the limit tells the
// reader of the document that it is too large.
func readUpTo(name string, in io.Reader, limit int64) ([]byte, error) {
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return nil, openFailure(name, err)
		}
		defer f.Close()
		in = f
	}
	data, err := io.ReadAll(io.LimitReader(in, limit+1))
	if err != nil {
		return nil, wrong("Name a file, not a folder.", "%s can't be read: %v", name, err)
	}
	return data, nil
}

// every turns all faults of one document into one failure; otherwise only the first would be seen.
func every(err error) error {
	var all value.Faults
	if !errors.As(err, &all) || len(all) < 2 {
		return err
	}
	var reasons []string
	for _, f := range all {
		reasons = append(reasons, f.Error())
	}
	return wrong(all[0].Hint, "%s", strings.Join(reasons, "; "))
}

// named says of which argument an error speaks.
func named(argument string, err error) error {
	var f *strictjson.FieldError
	if errors.As(err, &f) && f.Path == "" {
		return wrong(f.Hint, "%s: %s", argument, f.Reason)
	}
	return err
}

// plural counts things: 1 item, 2 items.
func plural(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}
