package main

import (
	"bytes"
	"encoding/xml"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"
)

// TestPlanIsPlain runs plans of many kinds: 80 columns, no control characters, and a picture that is
// one XML document.
func TestPlanIsPlain(t *testing.T) {
	workshop(t)
	golden := map[string]string{"ring": "", "coarse": "", "bar": ""}
	for name, args := range map[string][]string{
		"ring":   {"--mass", "2 g", "--claim", "gold 750 yellow", "--resolution-g", "0.001"},
		"coarse": {"--mass", "0.2 g", "--claim", "gold 18 ct", "--resolution-g", "0.1"},
		"bar":    {"--mass", "12.4 kg", "--claim", "gold 999", "--resolution-g", "0.1", "--against", "tungsten"},
		"tray":   {"--mass", "12.4 g", "--claim", "silver 925", "--draft", "examples/station.json", "--repeats", "3"},
		"vessel": {"--mass", "31.1 g", "--claim", "platinum 950", "--resolution-g", "0.01", "--arrangement", "standing", "--temperature-c", "23"},
	} {
		for _, format := range []string{"text", "svg"} {
			var out, problems bytes.Buffer
			if code := run(append([]string{"plan", "--format", format}, args...), streams{In: strings.NewReader(""), Out: &out, Err: &problems}); code != 0 {
				t.Fatalf("%s: exit code %d: %s", name, code, problems.String())
			}
			if format == "text" {
				for line := range strings.Lines(out.String()) {
					line = strings.TrimRight(line, "\n")
					if n := utf8.RuneCountInString(line); n > planWidth {
						t.Errorf("%s: a line of %d columns: %s", name, n, line)
					}
					if strings.ContainsAny(line, "\x1b\t\r") || strings.TrimRight(line, " ") != line {
						t.Errorf("%s: not plain: %q", name, line)
					}
				}
			} else if err := xml.Unmarshal(out.Bytes(), new(struct {
				XMLName xml.Name `xml:"svg"`
			})); err != nil {
				t.Errorf("%s: %v", name, err)
			}
			if _, kept := golden[name]; !kept {
				continue
			}
			// Made by this program (regression): it tells when a plan changes. The style sheet is that of
			// all pictures.
			got := style.ReplaceAll(out.Bytes(), nil)
			file := filepath.Join(home, "testdata", "plan", name+"."+strings.Replace(format, "text", "txt", 1))
			if *update {
				if err := os.WriteFile(file, got, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(want, got) {
				t.Errorf("%s is not as it was (go test ./cmd/wreath -run TestPlanIsPlain -update writes it anew):\n%s", file, got)
			}
		}
	}
}

var style = regexp.MustCompile(`(?s)<style>.*</style>\n`)

// home is the folder of this package: tests change theirs.
var home = func() string {
	folder, err := os.Getwd()
	if err != nil {
		panic(err)
	}
	return folder
}()
