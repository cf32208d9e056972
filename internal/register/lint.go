package register

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"wreath/internal/nearest"
	"wreath/internal/strictjson"
)

// Finding is something about rules that a person should mend, or at least know.
type Finding struct {
	strictjson.FieldError
	Caution bool // the rules can be used, but look at this
}

// Lint lists everything that is wrong with rules, and what may be meant otherwise.
func Lint(r Rules) []Finding {
	l := &linter{}
	if r.Format != Format {
		l.bad("format", fmt.Sprintf("This program knows format %d.", Format), "is %d", r.Format)
	}
	l.text("name", r.Name, 200, true)
	l.text("note", r.Note, 2000, false)
	// "Local" is the zone of whatever machine reads the rules.
	if _, err := time.LoadLocation(r.TimeZone); err != nil || r.TimeZone == "" || r.TimeZone == "Local" {
		l.bad("time_zone", "Use a name of the IANA table, such as Europe/Vienna or America/New_York.", "%q is not a known time zone", r.TimeZone)
	}
	for i, e := range r.Editions {
		l.edition(fmt.Sprintf("editions[%d]", i), e)
	}
	l.sequence(r.Editions)
	return l.found
}

type linter struct{ found []Finding }

func (l *linter) bad(path, hint, reason string, args ...any) {
	l.found = append(l.found, Finding{strictjson.FieldError{Path: path, Reason: fmt.Sprintf(reason, args...), Hint: hint}, false})
}

func (l *linter) caution(path, hint, reason string, args ...any) {
	l.found = append(l.found, Finding{strictjson.FieldError{Path: path, Reason: fmt.Sprintf(reason, args...), Hint: hint}, true})
}

// err takes over an error of a parser; path is put before its own.
func (l *linter) err(path string, err error) {
	if f, ok := err.(*strictjson.FieldError); ok {
		l.bad(path, f.Hint, "%s", f.Reason)
	}
}

func (l *linter) text(path, text string, longest int, needed bool) {
	switch {
	case needed && strings.TrimSpace(text) == "":
		l.bad(path, "Fill it in.", "is missing")
	case !utf8.ValidString(text) || strings.ContainsFunc(text, func(r rune) bool { return unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) }):
		l.bad(path, "Type it again instead of pasting it.", "holds characters that cannot be shown")
	case utf8.RuneCountInString(text) > longest:
		l.bad(path, "Shorten it.", "is longer than %d characters", longest)
	}
}

func (l *linter) word(path, word string, known []string) {
	if !slices.Contains(known, word) {
		l.bad(path, hintOf(word, known), "%q is not known", word)
	}
}

// words checks a list of known words.
func (l *linter) words(path string, words, known []string, needed bool) {
	if needed && len(words) == 0 {
		l.bad(path, "Known are: "+strings.Join(known, ", ")+".", "is missing")
	}
	for i, w := range words {
		at := fmt.Sprintf("%s[%d]", path, i)
		l.word(at, w, known)
		if slices.Contains(words[:i], w) {
			l.bad(at, "Keep one of them.", "%q is given twice", w)
		}
	}
}

func hintOf(word string, known []string) string {
	if n := nearest.Word(word, known); n != "" {
		return "Did you mean " + n + "?"
	}
	return "Known are: " + strings.Join(known, ", ") + "."
}

func (l *linter) period(path string, p Period) {
	given := 0
	for _, f := range []struct {
		name    string
		n, most int
	}{{"days", p.Days, 36525}, {"months", p.Months, 1200}, {"years", p.Years, 100}} {
		switch {
		case f.n < 0:
			l.bad(path+"."+f.name, "Give a number of 1 or more.", "%d is negative", f.n)
			return
		case f.n > f.most:
			l.bad(path+"."+f.name, "Check the number and its unit.", "%d is more than a hundred years", f.n)
			return
		case f.n > 0:
			given++
		}
	}
	if given != 1 {
		l.bad(path, `Give one of days, months and years: {"days": 12}.`, "gives %d lengths instead of one", given)
	}
}

func (l *linter) money(path string, m Money) {
	if _, err := parseAmount("", m.Amount); err != nil {
		l.err(path+".amount", err)
	}
	if err := checkCurrency("", m.Currency); err != nil {
		l.err(path+".currency", err)
	}
}

func (l *linter) days(path string, n int) {
	if n < 0 {
		l.bad(path, "Give the number of days, or leave it out.", "%d is negative", n)
	} else if n > 3660 {
		l.bad(path, "Check the number.", "%d days are more than ten years", n)
	}
}

func (l *linter) edition(at string, e Edition) {
	l.text(at+".edition", e.Edition, 100, true)
	l.text(at+".source", e.Source, 1000, true)
	if e.ValidFrom.IsZero() {
		l.bad(at+".valid_from", "Give the first day.", "is missing")
	} else if e.ValidUntil != nil && e.ValidUntil.Before(e.ValidFrom) {
		l.bad(at+".valid_until", "Check both days.", "%s lies before valid_from %s", e.ValidUntil, e.ValidFrom)
	}
	if e.Numbering != nil {
		l.numbering(at+".numbering", *e.Numbering)
	}
	names := map[string]bool{}
	rule := func(path, name string, deals []string) {
		l.text(path+".name", name, 200, true)
		if names[name] {
			l.bad(path+".name", "Give every rule a name of its own: reasons name the rule.", "%q is the name of another rule", name)
		}
		names[name] = true
		l.words(path+".deals", deals, Kinds, true)
	}
	for i, h := range e.Holds {
		path := fmt.Sprintf("%s.holds[%d]", at, i)
		rule(path, h.Name, h.Deals)
		l.period(path+".for", h.For)
		l.words(path+".forbids", h.Forbids, Actions, false)
		if h.Ends != "" {
			l.word(path+".ends", h.Ends, []string{DayEnd, SameTime})
		}
	}
	asks := ""
	for i, r := range e.Identity {
		path := fmt.Sprintf("%s.identity[%d]", at, i)
		rule(path, r.Name, r.Deals)
		if r.From != nil {
			l.money(path+".from", *r.From)
		} else if r.WithinDays != 0 {
			l.caution(path+".within_days", "Leave it out, or give from.", "has no effect without an amount")
		}
		l.days(path+".within_days", r.WithinDays)
		l.words(path+".ask", r.Ask, Personal, true)
		if slices.Contains(r.Deals, "measure-only") {
			l.caution(path+".deals", "Ask only what a law needs.", "asks personal data of customers who only have something measured")
		}
		asks = path
	}
	for i, r := range e.CashCeilings {
		path := fmt.Sprintf("%s.cash_ceilings[%d]", at, i)
		rule(path, r.Name, r.Deals)
		l.money(path+".above", r.Above)
		l.days(path+".within_days", r.WithinDays)
	}
	keeps := false
	for i, r := range e.Retention {
		path := fmt.Sprintf("%s.retention[%d]", at, i)
		rule(path, r.Name, r.Deals)
		l.word(path+".of", r.Of, Things)
		l.word(path+".from", r.From, Events)
		l.period(path+".for", r.For)
		keeps = keeps || r.Of == "personal-data"
	}
	if asks != "" && !keeps {
		l.caution(at+".retention", "Say how long personal-data are kept.", "%s asks personal data, but nothing says how long they must be kept", asks)
	}
}

func (l *linter) numbering(path string, n Numbering) {
	p, err := parsePattern(n.Pattern)
	if err != nil {
		l.err(path+".pattern", err)
		return
	}
	switch n.Restart {
	case "", Never:
	case Yearly:
		if !p.hasYear() {
			l.bad(path+".pattern", "Put {year} into it, or let restart be never.", "a number would be given again every year")
		}
	default:
		l.bad(path+".restart", hintOf(n.Restart, []string{Yearly, Never}), "%q is not known", n.Restart)
	}
}

// sequence looks at what editions do to each other.
func (l *linter) sequence(editions []Edition) {
	order := make([]int, len(editions))
	names := map[string]bool{}
	for i, e := range editions {
		order[i] = i
		if names[e.Edition] {
			l.bad(fmt.Sprintf("editions[%d].edition", i), "Give every edition a name of its own: records name the edition.", "%q is the name of another edition", e.Edition)
		}
		names[e.Edition] = true
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(editions[a].ValidFrom.utc().Unix(), editions[b].ValidFrom.utc().Unix())
	})
	for i := 1; i < len(order); i++ {
		before, e := editions[order[i-1]], editions[order[i]]
		path := fmt.Sprintf("editions[%d].valid_from", order[i])
		switch {
		case before.ValidUntil == nil || !before.ValidUntil.Before(e.ValidFrom):
			l.bad(path, fmt.Sprintf("Let edition %q end the day before: \"valid_until\": %q.", before.Edition, e.ValidFrom.AddDays(-1)),
				"on %s edition %q holds too", e.ValidFrom, before.Edition)
		case before.ValidUntil.AddDays(1).Before(e.ValidFrom):
			l.caution(path, "Check the days, or add an edition.", "no edition holds from %s to %s", before.ValidUntil.AddDays(1), e.ValidFrom.AddDays(-1))
		}
	}
	l.numberings(editions, order)
}

// numberings refuses changes by which a number could be given again.
func (l *linter) numberings(editions []Edition, order []int) {
	yearly := ""
	var earlier []pattern
	for _, i := range order {
		n := editions[i].Numbering
		if n == nil {
			continue
		}
		p, err := parsePattern(n.Pattern)
		if err != nil {
			continue // told already
		}
		path := fmt.Sprintf("editions[%d].numbering.pattern", i)
		if n.Restart == Yearly {
			yearly = editions[i].Edition
		} else if yearly != "" && !p.hasYear() {
			l.bad(path, "Put {year} into it.", "numbers could be given again, because they restarted yearly in edition %q", yearly)
		}
		for _, q := range earlier {
			letters, shape := p.shape()
			otherLetters, otherShape := q.shape()
			if letters == otherLetters && shape != otherShape {
				l.bad(path, "Let it differ from the earlier one in a letter.", "numbers could look like those of an earlier edition")
				break
			}
		}
		earlier = append(earlier, p)
	}
}

// shape gives what a number looks like when every run of digits is taken as one, and what it is
// made of. Two patterns that look alike and are made alike keep their numbers apart by counting on.
func (p pattern) shape() (letters, made string) {
	var look strings.Builder
	run := false
	digit := func() {
		if !run {
			look.WriteByte('#')
		}
		run = true
	}
	for _, part := range p.parts {
		if part == yearPart || part == numberPart {
			digit()
			continue
		}
		for _, r := range part {
			if r >= '0' && r <= '9' {
				digit()
				continue
			}
			look.WriteRune(r)
			run = false
		}
	}
	return look.String(), strings.Join(p.parts, "\x01")
}
