package people

import (
	_ "embed"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// The blocklist. SP 800-63B-4 3.1.1.2 compares the whole password with it, not parts: a sentence
// that has a listed word somewhere is fine. What counts as listed here is the word, the word
// repeated, two words, and these with digits, signs, runs and small words around them: what a
// guesser makes from a list ("derivatives thereof").
//
//go:embed data/common.txt
var commonFile string

// joining holds small words that make a guess no harder.
var joining = []string{"my", "the", "our", "your", "is", "i", "a", "an", "and", "to", "for", "of", "at", "in", "new", "old", "you", "me", "we"}

var common = readCommon(commonFile)

func readCommon(text string) []string {
	var words []string
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if line != "" && !strings.HasPrefix(line, "#") {
			words = append(words, line)
		}
	}
	return words
}

// longestGuess bounds the search; a longer password that is not a repetition is left alone.
const longestGuess = 128

// guessable says why a guesser would find the password early, or "".
func guessable(password string, context []string) string {
	text := fold(password)
	whole := text
	for len(whole) > 0 && strings.ContainsRune("@$!", whole[len(whole)-1]) {
		whole = whole[:len(whole)-1] // "Summer2026Summer2026!" repeats
	}
	if len(whole) == 0 { // signs alone, or pictures: as good as any, unless they repeat
		whole = []rune(password)
	}
	if n := period(whole); n < len(whole) {
		return "repeats one short piece"
	}
	if len(text) > longestGuess {
		return ""
	}
	if onlyRuns(whole) {
		return "is made of runs and repetitions (abcd, 1234, aaaa)"
	}
	var words []guess
	for _, c := range context {
		for _, w := range append(strings.FieldsFunc(c, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), c) {
			if f := fold(w); len(f) >= 3 {
				words = append(words, guess{f, true})
			}
		}
	}
	for _, w := range common {
		words = append(words, guess{[]rune(w), false})
	}
	found, ofContext := covered(text, words)
	switch {
	case !found:
		return ""
	case ofContext:
		return "is made of a name or word that belongs to this desk, which a guesser tries first"
	}
	return "is made of words and runs that guessers try first"
}

// fold leaves letters, digits and the signs that stand for letters, in small letters without accents.
func fold(s string) []rune {
	var out []rune
	for _, r := range norm.NFKD.String(s) {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune("@$!", r) {
			out = append(out, unicode.ToLower(r))
		}
	}
	return out
}

// period returns the length of the shortest piece of which s is a whole number of repetitions.
func period(s []rune) int {
	for n := 1; n <= len(s)/2; n++ {
		if len(s)%n != 0 {
			continue
		}
		same := true
		for i := n; i < len(s) && same; i++ {
			same = s[i] == s[i-n]
		}
		if same {
			return n
		}
	}
	return len(s)
}

// run returns how many characters from i on follow each other by one step (abc, 321) or are the same.
func run(s []rune, i int) int {
	if i+1 >= len(s) {
		return len(s) - i
	}
	step := s[i+1] - s[i]
	if step < -1 || step > 1 {
		return 1
	}
	n := 2
	for i+n < len(s) && s[i+n]-s[i+n-1] == step {
		n++
	}
	return n
}

func onlyRuns(s []rune) bool {
	for i := 0; i < len(s); {
		n := run(s, i)
		if n < 3 {
			return false
		}
		i += n
	}
	return true
}

// standsFor lists the letters that digits and signs are written for.
var standsFor = map[rune]string{'0': "o", '1': "il", '3': "e", '4': "a", '5': "s", '7': "t", '8': "b", '@': "a", '$': "s", '!': "i"}

type guess struct {
	word      []rune
	ofContext bool
}

func (g guess) startsAt(s []rune, i int) bool {
	if len(s)-i < len(g.word) {
		return false
	}
	for k, w := range g.word {
		c := s[i+k]
		if c != w && !strings.ContainsRune(standsFor[c], w) {
			return false
		}
	}
	return true
}

// mostDigits is how many digits and signs may stand beside the words for the whole to count as a
// guess: a date. A random number of more digits is worth something by itself.
const mostDigits = 8

// covered tells whether s is nothing but at most two different words of the list, each as often
// as you like, with up to mostDigits digits and signs, runs and joining words between. ofContext
// tells whether one of the words belongs to the desk. Digits alone are not covered.
func covered(s []rune, words []guess) (found, ofContext bool) {
	if !slices.ContainsFunc(s, unicode.IsLetter) {
		return false, false
	}
	type state struct{ at, first, second, digits int }
	seen := map[state]bool{}
	var walk func(state) bool
	walk = func(st state) bool {
		if st.at == len(s) {
			found = true
			ofContext = ofContext || st.first >= 0 && words[st.first].ofContext || st.second >= 0 && words[st.second].ofContext
			return true
		}
		if seen[st] {
			return false
		}
		seen[st] = true
		for i, g := range words {
			if !g.startsAt(s, st.at) {
				continue
			}
			next := state{st.at + len(g.word), st.first, st.second, st.digits}
			switch {
			case i == st.first || i == st.second:
			case st.first < 0:
				next.first = i
			case st.second < 0:
				next.second = i
			default:
				continue
			}
			if walk(next) {
				return true
			}
		}
		if !unicode.IsLetter(s[st.at]) && st.digits < mostDigits && walk(state{st.at + 1, st.first, st.second, st.digits + 1}) {
			return true
		}
		if n := run(s, st.at); n >= 3 && walk(state{st.at + n, st.first, st.second, st.digits}) {
			return true
		}
		for _, w := range joining {
			if n := utf8.RuneCountInString(w); (guess{word: []rune(w)}).startsAt(s, st.at) && walk(state{st.at + n, st.first, st.second, st.digits}) {
				return true
			}
		}
		return false
	}
	walk(state{0, -1, -1, 0})
	return found, ofContext
}
