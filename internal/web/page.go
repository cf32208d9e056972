package web

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"net/url"
	"path"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"wreath/alloy"
	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/picture"
	"wreath/uncertainty"
)

// view is one page before it is drawn.
type view struct {
	Title string
	Nav   string // the entry of the top line that it belongs to
	Body  any

	// Filled in by render.
	Words   words
	Shop    desk.Shop
	Who     *desk.Who
	Station string
	Now     time.Time
	Theme   string
	Path    string
}

// Name is who works here, as printed.
func (v view) Name() string {
	if v.Who == nil {
		return ""
	}
	return v.Who.Person().Name
}

// May tells whether the person may do an act, so that a page offers no more than that.
func (v view) May(a people.Action) bool {
	return v.Who != nil && v.Who.May(a)
}

// Demo says that everything in this shop is invented.
func (v view) Demo() bool { return v.Shop.Demo }

// buildMark changes with the files, so that a browser never keeps an old style for a new page.
var buildMark = func() string {
	sum := sha256.New()
	for _, folder := range []string{"static", "templates"} {
		entries, err := files.ReadDir(folder)
		if err != nil {
			panic(err)
		}
		for _, e := range entries {
			data, err := files.ReadFile(path.Join(folder, e.Name()))
			if err != nil {
				panic(err)
			}
			sum.Write(data)
		}
	}
	return hex.EncodeToString(sum.Sum(nil)[:6])
}()

// functions are what templates can call beside the methods of what they show.
var functions = template.FuncMap{
	"mark":    drawMark,
	"inGrams": inGrams,
	"safe":    safePpt,
	"bare":    bare,
	"json": func(v any) (string, error) {
		text, err := json.Marshal(v)
		return string(text), err
	},
	"cards":   func() map[string]string { return cardActs },
	"build":   func() string { return buildMark },
	"day":     func(t time.Time) string { return t.Format(time.DateOnly) },
	"clock":   func(t time.Time) string { return t.Format("15:04") },
	"seconds": func(t time.Time) string { return t.Format("15:04:05") },
	"full":    func(t time.Time) string { return t.Format("2006-01-02 15:04:05 -07:00") },
	"dict": func(pairs ...any) (map[string]any, error) {
		out := map[string]any{}
		for i := 0; i+1 < len(pairs); i += 2 {
			key, isText := pairs[i].(string)
			if !isText {
				return nil, fmt.Errorf("dict: %v is no name", pairs[i])
			}
			out[key] = pairs[i+1]
		}
		return out, nil
	},
	"grams":   func(kgM3 float64) string { return strconv.FormatFloat(kgM3/1000, 'f', 2, 64) },
	"mass":    func(g float64) string { return strconv.FormatFloat(g, 'f', 4, 64) },
	"percent": percent,
	"amount":  amount, "estimate": estimate,
	"bar": func(row determination.BudgetRow, all []determination.BudgetRow) template.HTML {
		largest := 0.0
		for _, r := range all {
			largest = max(largest, r.Contribution)
		}
		return picture.BudgetBar(row, largest).SVG
	},
	"two": twoDigits,
	"dof": func(v *float64) string {
		if v == nil {
			return "–"
		}
		return strconv.FormatFloat(*v, 'f', 0, 64)
	},
	"densityWorkings": densityWorkings, "finenessWorkings": finenessWorkings,
	"long": longNumber,
	"density": func(kgM3, u float64) string {
		value, expanded := uncertainty.Round(kgM3/1000, u/1000)
		return value + " ± " + expanded
	},
	"list":  func(items ...string) []string { return items },
	"join":  strings.Join,
	"plain": plain,
	"short": firstSentence,
	"brief": brief,
	"yesno": func(b *bool) string {
		switch {
		case b == nil:
			return ""
		case *b:
			return "yes"
		}
		return "no"
	},
	"families": alloy.Families,
	"itemform": formOf, "typeName": typeName, "toolWords": func(key string) string { return toolWords[key] },
	"formatName": formatName, "upper": upperFirst, "listField": listField, "proofNumber": proofNumber, "documentName": func(d string) string { return documentWords[d] }, "printerName": printerName, "labelSizes": labelSizes, "rolls": func() []string { return []string{"58", "80"} }, "spoken": func() []spokenName { return spokenNames },
	"kinds": func() []evidenceKind { return evidenceKinds },
	"few":   few,
	"inCm3": func(kgM3 *float64) string { return strconv.FormatFloat(*kgM3/1000, 'g', 6, 64) },
	"rest":  rest, "sized": sized, "likely": likely, "within95": within95, "chance": chance,
}

// upperFirst begins a sentence with a capital letter.
func upperFirst(sentence string) string {
	first, size := utf8.DecodeRuneInString(sentence)
	return string(unicode.ToUpper(first)) + sentence[size:]
}

// brief is the beginning of a long text; the whole stands in the document itself.
func brief(text string) string {
	const most = 160
	letters := []rune(text)
	if len(letters) <= most {
		return text
	}
	return string(letters[:most]) + " …"
}

// longNumber is the class of a large number that must be set closer: from 8 characters, and from 9.
func longNumber(text string) string {
	switch n := utf8.RuneCountInString(text); {
	case n > 8:
		return "longer"
	case n == 8:
		return "long"
	}
	return ""
}

// drawMark is the mark of an act that a form will send; sent twice, it is done once.
func drawMark() string { return "page-" + rand.Text() }

func readPages() (map[string]*template.Template, error) {
	layout, err := template.New("").Funcs(functions).ParseFS(files, "templates/layout.html", "templates/parts.html", "templates/hands.html", "templates/judgement.html", "templates/live.html", "templates/papers.html")
	if err != nil {
		return nil, err
	}
	names, err := fs.Glob(files, "templates/*.html")
	if err != nil {
		return nil, err
	}
	pages := map[string]*template.Template{}
	for _, name := range names {
		short := strings.TrimSuffix(path.Base(name), ".html")
		if short == "layout" || short == "parts" || short == "hands" || short == "judgement" || short == "live" || short == "papers" {
			continue
		}
		t, err := template.Must(layout.Clone()).ParseFS(files, name)
		if err != nil {
			return nil, err
		}
		pages[short] = t
	}
	return pages, nil
}

// render draws a page. A page that can't be drawn is not begun.
func (s *Server) render(w http.ResponseWriter, r *http.Request, status int, page string, v view) {
	v.Words = wordsFor(r)
	v.Now = s.o.Now()
	v.Path = r.URL.Path
	v.Theme = themeOf(r)
	if d := s.current(); d != nil {
		if shop, err := d.AboutShop(r.Context()); err == nil {
			v.Shop = shop
			if zone, err := time.LoadLocation(shop.TimeZone); err == nil {
				v.Now = v.Now.In(zone)
			}
		}
		if v.Who == nil && page != "sign-in" {
			v.Who, _ = s.who(r, false)
		}
	}
	var out bytes.Buffer
	if err := s.pages[page].ExecuteTemplate(&out, "layout", v); err != nil {
		s.o.Log.Error("page could not be drawn", "page", page, "error", err)
		http.Error(w, "The page could not be drawn. Nothing that was kept is lost.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	w.Write(bytes.ReplaceAll(out.Bytes(), []byte(` xmlns="http://www.w3.org/2000/svg"`), nil)) // within a page a drawing needs no name space
}

// themeOf is the theme that was chosen on this device; "" follows the system.
func themeOf(r *http.Request) string {
	c, err := r.Cookie("wreath-theme")
	if err != nil {
		return ""
	}
	switch c.Value {
	case "light", "dark", "high", "high-dark":
		return c.Value
	}
	return ""
}

func escapePath(r *http.Request) string { return url.QueryEscape(r.URL.RequestURI()) }

// back sends the browser to a page of ours after a form was done.
func back(w http.ResponseWriter, r *http.Request, to string) {
	http.Redirect(w, r, to, http.StatusSeeOther)
}
