package press

import (
	"fmt"
	"html"
	"html/template"
	"io"
	"math"
	"strings"

	"wreath/internal/paper"
	"wreath/internal/picture"
)

// SlipStyle is the style of a slip on a page, for paper of the given size in mm. Pictures are styled by
// picture.Style and take their colours from here: ink, and nothing between it and paper.
func SlipStyle(roll Roll, tall float64) string {
	size, margin := roll.sizes(), (float64(roll)-roll.Printable())/2
	var colours strings.Builder
	for _, name := range slipInkNames {
		fmt.Fprintf(&colours, " %s: %s;", name, slipInk[name])
	}
	return fmt.Sprintf(`@page { size: %[1]dmm %[2]smm; margin: 0 }
.slip { box-sizing: border-box; width: %[1]dmm; padding: 4mm %[3]smm; margin: 0; color: #000; background: #fff; font: %[4]spt/1.2 "DejaVu Sans Condensed", "Noto Sans", sans-serif;%[9]s }
.slip p { margin: 0 0 .5mm; overflow-wrap: anywhere }
.slip .banner { background: #000; color: #fff; font-weight: 700; text-align: center; padding: .8mm 2mm; margin-bottom: 1mm; print-color-adjust: exact; -webkit-print-color-adjust: exact }
.slip .centred, .slip .large { text-align: center }
.slip .large { font-size: %[5]spt; font-weight: 700; line-height: 1.2 }
.slip hr { border: 0; border-top: .25mm solid #000; margin: 1.2mm 0 }
.slip .pair { display: grid; grid-template-columns: %[6]smm 1fr }
.slip .pair > * { overflow-wrap: anywhere; min-width: 0 }
.slip .finding { display: flex; gap: 2mm; font-size: %[7]spt; font-weight: 700; align-items: flex-start }
.slip .finding svg { width: 8.3mm; height: 4.4mm; flex: none }
.slip .item { padding-left: 2.2mm; text-indent: -2.2mm }
.slip .strong { font-weight: 700; margin-top: .8mm }
.slip .small, .slip figcaption { font-size: %[8]spt; margin-top: .8mm }
.slip figure { margin: 1.5mm 0 .5mm }
.slip figure svg.pic { width: 100%%; height: auto }
.slip figure.code { margin: 0 -%[3]smm }
.slip figure.code svg { display: block; margin: 0 auto }
`, int(roll), dotted(tall), dotted(margin), dotted(size.text), dotted(size.number), dotted(size.labels), dotted(size.word), dotted(size.small), colours.String())
}

// slipInkNames are the colours of slipInk that a style sheet sets, in the order in which it does.
var slipInkNames = []string{"--data", "--sheet", "--well", "--ink", "--ink-2", "--rule", "--edge", "--measured", "--measured-soft", "--claim", "--doubt",
	"--band", "--on-band", "--fit", "--on-fit", "--haze", "--haze-line"}

// SlipFragment is a slip as a piece of a page that has SlipStyle and picture.Style.
func SlipFragment(f *paper.Facts, o SlipOptions) (template.HTML, error) {
	parts, err := SlipParts(f, o)
	if err != nil {
		return "", err
	}
	var out strings.Builder
	out.WriteString("<article class=\"slip\">\n")
	for _, p := range parts {
		text := html.EscapeString(plain(p.Text))
		switch p.Kind {
		case "rule":
			out.WriteString("<hr>\n")
		case "pair":
			fmt.Fprintf(&out, `<div class="pair" lang="%s"><span>%s</span><span dir="auto">%s</span></div>`+"\n", p.Lang, html.EscapeString(p.Label), text)
		case "scale":
			fmt.Fprintf(&out, `<figure lang="%s">%s`, p.Lang, p.Picture)
			if text != "" {
				fmt.Fprintf(&out, "<figcaption>%s</figcaption>", text)
			}
			out.WriteString("</figure>\n")
		case "code":
			fmt.Fprintf(&out, `<figure class="code">%s</figure>`+"\n", p.Picture)
		case "finding":
			fmt.Fprintf(&out, `<div class="finding" lang="%s">%s<span>%s</span></div>`+"\n", p.Lang, p.Picture, text)
		case "item":
			fmt.Fprintf(&out, `<p class="item" lang="%s">– %s</p>`+"\n", p.Lang, text)
		default:
			fmt.Fprintf(&out, `<p class="%s" lang="%s" dir="auto">%s</p>`+"\n", p.Kind, p.Lang, text)
		}
	}
	out.WriteString("</article>\n")
	return template.HTML(out.String()), nil
}

// SlipHTML writes a slip as a page of its own for a browser's print dialog. The paper is as long as the
// slip with a tenth to spare, since the fonts of browsers differ.
func SlipHTML(w io.Writer, f *paper.Facts, o SlipOptions) error {
	fragment, err := SlipFragment(f, o)
	if err != nil {
		return err
	}
	_, laid, err := laidOut(f, o)
	if err != nil {
		return err
	}
	lang := "en"
	if len(o.Languages) > 0 {
		lang = o.Languages[0]
	}
	_, err = fmt.Fprintf(w, "<!doctype html>\n<html lang=\"%s\"><head><meta charset=\"utf-8\"><title>%s</title><style>\nbody { margin: 0 }\n%s%s</style></head><body>\n%s</body></html>\n",
		lang, html.EscapeString(plain(f.Shop.Name+", "+f.Record.Number)), SlipStyle(o.roll(), math.Ceil(laid.y*1.1)), picture.Style, fragment)
	return err
}
