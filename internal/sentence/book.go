package sentence

import (
	"cmp"
	"embed"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"
)

//go:embed *.json
var catalogues embed.FS

// Languages are those that there is a catalogue of, beside English.
var Languages = []string{"de", "es"}

// Book says sentences in one language. A nil Book says them in English.
type Book struct {
	lang     string
	decimal  string
	lines    map[string]string // of texts that hold nothing to fill in
	patterns []pattern         // those that fix most first
	formats  map[string]int    // place in patterns
}

// pattern is a format string in English and in the language of the book.
type pattern struct {
	from, to []part
	letters  int
}

// In returns the book of a language; nil, which is English, where there is none.
func In(lang string) *Book {
	book, found := books[lang]
	if !found {
		return nil
	}
	return book()
}

var books = func() map[string]func() *Book {
	out := map[string]func() *Book{}
	for _, lang := range Languages {
		out[lang] = sync.OnceValue(func() *Book {
			book, err := read(lang)
			if err != nil {
				panic(err)
			}
			return book
		})
	}
	return out
}()

func read(lang string) (*Book, error) {
	data, err := catalogues.ReadFile(lang + ".json")
	if err != nil {
		return nil, err
	}
	var lines map[string]string
	if err := json.Unmarshal(data, &lines); err != nil {
		return nil, fmt.Errorf("%s.json: %w", lang, err)
	}
	return newBook(lang, lines)
}

func newBook(lang string, lines map[string]string) (*Book, error) {
	b := &Book{lang: lang, decimal: ",", lines: map[string]string{}, formats: map[string]int{}}
	var formats []string
	for english, other := range lines {
		from, args := parse(english)
		to, same := parse(other)
		if args != same {
			return nil, fmt.Errorf("%s.json: %q has %d arguments, its translation %q has %d", lang, english, args, other, same)
		}
		if args == 0 {
			b.lines[strings.ReplaceAll(english, "%%", "%")] = strings.ReplaceAll(other, "%%", "%")
			continue
		}
		b.patterns = append(b.patterns, pattern{from, to, letters(from)})
		formats = append(formats, english)
	}
	order := make([]int, len(formats))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int {
		return cmp.Or(cmp.Compare(b.patterns[j].letters, b.patterns[i].letters), strings.Compare(formats[i], formats[j]))
	})
	sorted := make([]pattern, len(order))
	for place, i := range order {
		sorted[place] = b.patterns[i]
		b.formats[formats[i]] = place
	}
	b.patterns = sorted
	return b, nil
}

// Number writes a number, as fmt gives it, with the decimal mark of the language.
func (b *Book) Number(text string) string {
	if b == nil {
		return text
	}
	return strings.Replace(text, ".", b.decimal, 1)
}

// Say is a sentence of the program in the language of the book.
func (b *Book) Say(english string) string {
	said, _ := b.Knows(english)
	return said
}

// Knows is Say; false where some of the sentence stayed English.
func (b *Book) Knows(english string) (string, bool) {
	if b == nil || english == "" {
		return english, true
	}
	t := translation{b, map[string]answer{}}
	a := t.say(english, 0)
	return a.text, a.known
}

// Sayf is fmt.Sprintf in the language of the book: texts among the arguments are said too.
func (b *Book) Sayf(format string, args ...any) string {
	if b == nil {
		return fmt.Sprintf(format, args...)
	}
	place, found := b.formats[format]
	if !found {
		return b.Say(fmt.Sprintf(format, args...))
	}
	p := b.patterns[place]
	var texts []string
	for _, from := range p.from {
		if from.verb != 0 {
			texts = append(texts, from.print(args[from.arg]))
		}
	}
	t := translation{b, map[string]answer{}}
	said, _ := t.write(p, texts, 0)
	return said
}

type answer struct {
	text  string
	known bool
}

// translation is of one sentence; it remembers what was said of its pieces.
type translation struct {
	*Book
	memo map[string]answer
}

const deepest = 8 // pieces within pieces; no sentence of the program has more

func (t *translation) say(text string, depth int) answer {
	if a, found := t.memo[text]; found {
		return a
	}
	a := t.translate(text, depth)
	t.memo[text] = a
	return a
}

func (t *translation) translate(text string, depth int) answer {
	if text == "" || strings.TrimSpace(text) == "" {
		return answer{text, true}
	}
	if a, known := t.named(text); known {
		return a
	}
	if depth >= deepest {
		return answer{text, false}
	}
	// A space or a full stop that the program put around a text.
	if head := strings.TrimLeft(text, " "); head != text {
		a := t.say(head, depth+1)
		return answer{text[:len(text)-len(head)] + a.text, a.known}
	}
	if head := strings.TrimRight(text, " "); head != text {
		a := t.say(head, depth+1)
		return answer{a.text + text[len(head):], a.known}
	}
	partly, found := answer{}, false
	for _, p := range t.patterns {
		if p.letters < fixed {
			break
		}
		if a, ok := t.by(p, text, depth); ok && a.known {
			return a
		} else if ok && !found {
			partly, found = a, true
		}
	}
	if sentences := split(text); len(sentences) > 1 {
		between := make([]string, len(sentences)-1)
		for i := range between {
			between[i] = " "
		}
		if a := t.joined(sentences, between, depth); a.known || !found {
			return a
		}
	}
	if head, stopped := strings.CutSuffix(text, "."); stopped {
		if a := t.say(head, depth+1); a.known {
			return answer{a.text + ".", true}
		}
	}
	for _, marks := range [][]string{{"; "}, {": "}, {", ", " and ", " or "}, {" + "}, {" / "}} {
		if pieces, between := cut(text, marks); len(between) > 0 {
			if a := t.joined(pieces, between, depth); a.known {
				return a
			}
		}
	}
	for _, p := range t.patterns {
		if p.letters >= fixed {
			continue
		}
		if a, ok := t.by(p, text, depth); ok && a.known {
			return a
		}
	}
	if found {
		return partly
	}
	return answer{text, false}
}

// fixed is how many letters a format fixes at least to be recognised by them. One that fixes fewer counts
// only where everything in it is known.
const fixed = 5

// mark is what joins pieces, in the language of the book.
func (b *Book) mark(english string) string {
	if word := strings.Trim(english, " "); word == "or" || word == "and" {
		return " " + b.lines[word] + " "
	}
	return english
}

// word says a text that has a line of its own, a number, a number with its unit, or a name of a field.
func (t *translation) word(text string) (answer, bool) {
	if line, found := t.lines[text]; found {
		return answer{line, true}, true
	}
	if isNumber(text) {
		return answer{t.Number(text), true}, true
	}
	if units[text] {
		return answer{text, true}, true
	}
	if number, unit, found := strings.Cut(text, " "); found && isNumber(number) && units[unit] {
		return answer{t.Number(number) + " " + unit, true}, true
	}
	if len(text) > 2 && text[0] == '"' && text[len(text)-1] == '"' {
		if line, found := t.lines[text[1:len(text)-1]]; found {
			return answer{`"` + line + `"`, true}, true
		}
		return answer{text, !strings.Contains(text[1:len(text)-1], `"`)}, true
	}
	if field(text) {
		return answer{text, true}, true
	}
	if first, size := utf8.DecodeRuneInString(text); unicode.IsUpper(first) {
		if line, found := t.lines[string(unicode.ToLower(first))+text[size:]]; found {
			return answer{capital(line), true}, true
		}
	}
	return answer{}, false
}

func capital(text string) string {
	first, size := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(first)) + text[size:]
}

// units are the same in every language.
var units = map[string]bool{"g": true, "mg": true, "kg": true, "kg/m³": true, "g/cm³": true, "cm³": true, "mm": true, "m": true, "°C": true, "K": true, "%": true, "ppm": true, "hPa": true, "ct": true, "u": true, "h": true, "min": true, "mS/m": true, "MS/m": true, "m/s": true}

// field recognises the name of a field of a document: it stays as it is.
func field(text string) bool {
	return strings.ContainsAny(text, "._[") && strings.Trim(text, "abcdefghijklmnopqrstuvwxyz0123456789._[]-") == ""
}

// by says a text by one pattern; false where the pattern is of another text.
func (t *translation) by(p pattern, text string, depth int) (answer, bool) {
	out, found := answer{}, false
	fill(p.from, text, nil, func(args []string) bool {
		for _, arg := range args {
			if arg == text {
				return false
			}
		}
		said, known := t.write(p, args, depth+1)
		if known || !found {
			out, found = answer{said, known}, true
		}
		return known
	})
	return out, found
}

// write puts the arguments, in the order of the English, into the translation.
func (t *translation) write(p pattern, args []string, depth int) (string, bool) {
	said := make(map[int]string, len(args))
	known := true
	n := 0
	for _, from := range p.from {
		if from.verb == 0 {
			continue
		}
		arg := args[n]
		n++
		switch {
		case from.isNumber():
			said[from.arg] = t.Number(arg)
		default:
			a := t.say(arg, depth)
			if said[from.arg] = a.text; !a.known {
				known = false
			}
		}
	}
	var out strings.Builder
	for _, to := range p.to {
		if to.verb == 0 {
			out.WriteString(to.text)
		} else {
			out.WriteString(said[to.arg])
		}
	}
	return out.String(), known
}

// joined says pieces apart; those that are one name together are kept together.
func (t *translation) joined(pieces, between []string, depth int) answer {
	out := answer{known: true}
	for i := 0; i < len(pieces); {
		n, a := 1, answer{}
		for n = min(longest, len(pieces)-i); n > 1; n-- {
			together := pieces[i]
			for k := range n - 1 {
				together += between[i+k] + pieces[i+k+1]
			}
			if named, known := t.named(together); known && n < len(pieces) {
				a = named
				break
			}
		}
		if n <= 1 {
			n, a = 1, t.say(pieces[i], depth+1)
		}
		if i > 0 {
			out.text += t.mark(between[i-1])
		}
		out.text += a.text
		out.known = out.known && a.known
		i += n
	}
	return out
}

// longest is of how many pieces a name may be made: "dense core (tungsten or lead ...".
const longest = 5

// named says a name with what may follow it: a fineness, a range of densities.
func (t *translation) named(text string) (answer, bool) {
	if a, known := t.word(text); known {
		return a, true
	}
	words := strings.Split(text, " ")
	n := len(words)
	for n > 1 && (isNumber(words[n-1]) || words[n-1] == "to") {
		n--
	}
	name, known := t.word(strings.Join(words[:n], " "))
	if n == len(words) || !known {
		return answer{}, false
	}
	for _, word := range words[n:] {
		if word == "to" {
			word = t.lines["to"]
		}
		name.text += " " + t.Number(word)
	}
	return name, true
}

// cut cuts a text at each of several marks; between are the marks.
func cut(text string, marks []string) (pieces, between []string) {
	for {
		at, mark := -1, ""
		for _, m := range marks {
			if i := strings.Index(text, m); i >= 0 && (at < 0 || i < at) {
				at, mark = i, m
			}
		}
		if at < 0 {
			return append(pieces, text), between
		}
		pieces, between, text = append(pieces, text[:at]), append(between, mark), text[at+len(mark):]
	}
}

// split cuts a text after each full stop that a capital letter follows.
func split(text string) (out []string) {
	for {
		at := -1
		for i := 0; i+2 < len(text); i++ {
			if (text[i] == '.' || text[i] == '?') && text[i+1] == ' ' {
				if next, _ := utf8.DecodeRuneInString(text[i+2:]); unicode.IsUpper(next) || unicode.IsDigit(next) {
					at = i + 1
					break
				}
			}
		}
		if at < 0 {
			return append(out, text)
		}
		out, text = append(out, text[:at]), text[at+1:]
	}
}
