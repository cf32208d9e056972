package picture

import (
	_ "embed"
	"fmt"
	"regexp"
	"strings"
)

// Style is the style sheet of the pictures. The page that shows them sets the variables.
//
//go:embed picture.css
var Style string

// Palette gives the variables of Style their values.
type Palette map[string]string

const dataFont = `system-ui, "Noto Sans", "DejaVu Sans", sans-serif`

// The palettes of files. Print is ink only.
var (
	Light = Palette{
		"--data": dataFont, "--sheet": "#ffffff", "--well": "#efece5", "--ink": "#191b1f", "--ink-2": "#535862",
		"--rule": "#dcd8cf", "--edge": "#807b70", "--measured": "#124f97", "--measured-soft": "#bcd2ec",
		"--claim": "#7b2467", "--doubt": "#7d4600", "--band": "#d6d1c4", "--on-band": "#2b2a26",
		"--fit": "#46423a", "--on-fit": "#ffffff", "--haze": "#e9e5db",
	}
	Dark = Palette{
		"--data": dataFont, "--sheet": "#1a1d21", "--well": "#23272d", "--ink": "#eeece7", "--ink-2": "#adb2bb",
		"--rule": "#343940", "--edge": "#7d838d", "--measured": "#8dbdf5", "--measured-soft": "#294a70",
		"--claim": "#eba6da", "--doubt": "#f1b968", "--band": "#444a53", "--on-band": "#f0eee9",
		"--fit": "#d8d2c3", "--on-fit": "#17181a", "--haze": "#2b3037",
	}
	Print = Palette{
		"--data": dataFont, "--sheet": "#ffffff", "--well": "#f2f2f2", "--ink": "#000000", "--ink-2": "#333333",
		"--rule": "#d0d0d0", "--edge": "#707070", "--measured": "#000000", "--measured-soft": "#c8c8c8",
		"--claim": "#000000", "--doubt": "#000000", "--band": "#d4d4d4", "--on-band": "#000000",
		"--fit": "#3c3c3c", "--on-fit": "#ffffff", "--haze": "#ececec",
	}
)

var variable = regexp.MustCompile(`var\((--[a-z0-9-]+)(?:,\s*([^()]*))?\)`)

// Standalone is the picture as a file of its own: the style within, every variable resolved, the
// ground painted. The error names a variable that the palette lacks.
func (p Picture) Standalone(palette Palette) ([]byte, error) {
	style, err := resolve(Style, palette)
	if err != nil {
		return nil, err
	}
	ground := "#ffffff"
	if sheet, ok := palette["--sheet"]; ok {
		ground = sheet
	}
	whole := string(p.SVG)
	head, body, ok := strings.Cut(whole, "</title>")
	if !ok {
		return nil, fmt.Errorf("picture %q is empty", p.Title)
	}
	var out strings.Builder
	out.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n" + head + "</title>\n<style>\n" + escape(style) + "</style>\n")
	fmt.Fprintf(&out, `<rect width="%d" height="%d" fill="%s"/>`, p.Width, p.Height, escape(ground))
	out.WriteString(body + "\n")
	return []byte(out.String()), nil
}

// resolve puts the palette's values into a style sheet.
func resolve(style string, palette Palette) (string, error) {
	var missing string
	out := variable.ReplaceAllStringFunc(style, func(use string) string {
		parts := variable.FindStringSubmatch(use)
		switch value, ok := palette[parts[1]]; {
		case ok:
			return value
		case parts[2] != "":
			return parts[2]
		}
		missing = parts[1]
		return use
	})
	if missing != "" {
		return "", fmt.Errorf("the palette has no %s", missing)
	}
	return out, nil
}
