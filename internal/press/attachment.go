package press

import (
	"bytes"
	"fmt"
	"strings"
)

// nameAttachment writes the name of the attachment where every reader looks for it. The library leaves
// one of its two places empty, and writes the other with two bytes a letter; in the same room stands the
// name in letters of one byte, twice.
func nameAttachment(pdf []byte, name string) error {
	const before = "/Type /Filespec /F () /UF ("
	at := bytes.Index(pdf, []byte(before))
	if at < 0 || bytes.Count(pdf, []byte(before)) != 1 {
		return fmt.Errorf("the attachment of the report has no place for the name %s", name)
	}
	place := pdf[at : at+len(before)+2+2*len(name)+1]
	named := fmt.Sprintf("/Type /Filespec /F (%s) /UF (%s)", name, name)
	if place[len(place)-1] != ')' || len(named) > len(place) {
		return fmt.Errorf("the attachment of the report can't be called %q", name)
	}
	copy(place, named+strings.Repeat(" ", len(place)-len(named)))
	return nil
}
