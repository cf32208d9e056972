package web

import (
	"embed"
	"encoding/json"
	"html/template"
	"net/http"
	"strings"

	"golang.org/x/text/language"

	"wreath/internal/determination"
	"wreath/internal/picture"
	"wreath/internal/sentence"
)

//go:embed locale/*.json
var locales embed.FS

// words are the texts of the pages in one language. The English text itself is the name of a text.
type words struct {
	Lang    string // of the IANA registry: en, de, es, ar
	Dir     string // ltr or rtl
	Decimal string // mark before the decimals
	texts   map[string]string
	book    *sentence.Book // nil: English
}

// T is a text in the language of the page; one that is not translated stays English.
func (w words) T(english string) string {
	if t, found := w.texts[english]; found && t != "" {
		return t
	}
	return w.book.Say(english)
}

// S is a sentence that the program made: in the language of the page, and with the fields of a draft in
// words.
func (w words) S(english string) string {
	if w.book == nil {
		return plain(english)
	}
	if t, found := w.texts[english]; found && t != "" {
		return t
	}
	return plainly(w.book.Say(english), w.T)
}

// Bar is the bar of a row of a budget.
func (w words) Bar(row determination.BudgetRow, all []determination.BudgetRow) template.HTML {
	largest := 0.0
	for _, r := range all {
		largest = max(largest, r.Contribution)
	}
	return picture.Language{Book: w.book}.BudgetBar(row, largest).SVG
}

// N writes a number with the decimal mark of the language.
func (w words) N(number string) string { return strings.ReplaceAll(number, ".", w.Decimal) }

var spoken = []language.Tag{language.English, language.German, language.Spanish}

var dictionaries = func() map[string]words {
	out := map[string]words{"en": {Lang: "en", Dir: "ltr", Decimal: "."}}
	for _, lang := range []string{"de", "es"} {
		data, err := locales.ReadFile("locale/" + lang + ".json")
		if err != nil {
			panic(err)
		}
		w := words{Lang: lang, Dir: "ltr", Decimal: ",", book: sentence.In(lang)}
		if err := json.Unmarshal(data, &w.texts); err != nil {
			panic("locale/" + lang + ".json: " + err.Error())
		}
		out[lang] = w
	}
	return out
}()

var matcher = language.NewMatcher(spoken)

// wordsFor chooses the language: by what was chosen on this device, or by what the browser asks for.
func wordsFor(r *http.Request) words {
	if c, err := r.Cookie("wreath-language"); err == nil {
		if c.Value == "mirror" { // English from right to left, to test the lay-out
			return words{Lang: "en", Dir: "rtl", Decimal: "."}
		}
		if w, found := dictionaries[c.Value]; found {
			return w
		}
	}
	_, i := language.MatchStrings(matcher, r.Header.Get("Accept-Language"))
	base, _ := spoken[i].Base()
	return dictionaries[base.String()]
}
