package sentence

import (
	"fmt"
	"strconv"
	"strings"
)

// part is a piece of a format string: fixed text, or a verb with the number of its argument.
type part struct {
	text string
	verb byte // 0: fixed text
	flag string
	arg  int
}

// parse cuts a format string into its parts. A % that begins no verb stands for itself, so that a plain
// text such as "5 % of the pull" needs no other spelling.
func parse(format string) (parts []part, args int) {
	next := 0
	put := func(text string) {
		if n := len(parts); n > 0 && parts[n-1].verb == 0 {
			parts[n-1].text += text
			return
		}
		parts = append(parts, part{text: text})
	}
	for format != "" {
		before, after, found := strings.Cut(format, "%")
		if before != "" {
			put(before)
		}
		if !found {
			break
		}
		if strings.HasPrefix(after, "%") {
			put("%")
			format = after[1:]
			continue
		}
		arg, rest := next, after
		if number, tail, numbered := strings.Cut(strings.TrimPrefix(after, "["), "]"); numbered && strings.HasPrefix(after, "[") {
			if n, err := strconv.Atoi(number); err == nil {
				arg, rest = n-1, tail
			}
		}
		flags := rest[:len(rest)-len(strings.TrimLeft(rest, "+#-.0123456789"))]
		if rest = rest[len(flags):]; rest == "" || !strings.Contains("sqvwdgfeUxcT", rest[:1]) {
			put("%")
			format = after
			continue
		}
		parts = append(parts, part{verb: rest[0], flag: flags, arg: arg})
		next, format = arg+1, rest[1:]
		args = max(args, next)
	}
	return parts, args
}

// isNumber tells whether a part is filled in with a number.
func (p part) isNumber() bool { return strings.IndexByte("dgfe", p.verb) >= 0 && p.verb != 0 }

// print fills an argument in as fmt does.
func (p part) print(arg any) string { return fmt.Sprintf("%"+p.flag+string(p.verb), arg) }

// fill finds the arguments with which a format gives a text; accept is asked about each way to do it,
// until it takes one.
func fill(parts []part, text string, args []string, accept func([]string) bool) bool {
	if len(parts) == 0 {
		return text == "" && accept(args)
	}
	p := parts[0]
	if p.verb == 0 {
		rest, ok := strings.CutPrefix(text, p.text)
		return ok && fill(parts[1:], rest, args, accept)
	}
	ok := func(arg string) bool {
		switch {
		case p.isNumber():
			return isNumber(arg)
		case p.verb == 'q':
			return len(arg) >= 2 && strings.HasPrefix(arg, `"`) && strings.HasSuffix(arg, `"`)
		}
		return true
	}
	next := func(arg, rest string) bool {
		return ok(arg) && fill(parts[1:], rest, append(args[:len(args):len(args)], arg), accept)
	}
	if len(parts) == 1 {
		return next(text, "")
	}
	after := parts[1]
	if after.verb != 0 { // nothing stands between two arguments
		for i := 0; i <= len(text); i++ {
			if next(text[:i], text[i:]) {
				return true
			}
		}
		return false
	}
	for from := 0; ; {
		i := strings.Index(text[from:], after.text)
		if i < 0 {
			return false
		}
		if at := from + i; next(text[:at], text[at:]) {
			return true
		}
		from += i + 1
	}
}

// letters counts the letters that a format fixes; one without any holds nothing to recognise.
func letters(parts []part) (n int) {
	for _, p := range parts {
		for _, r := range p.text {
			if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' {
				n++
			}
		}
	}
	return n
}

// isNumber recognises a number as fmt writes it.
func isNumber(text string) bool {
	if text == "" || strings.Trim(text, "+-−0123456789.eInfNa∞") != "" {
		return false
	}
	_, err := strconv.ParseFloat(strings.NewReplacer("∞", "Inf", "−", "-").Replace(text), 64)
	return err == nil
}
