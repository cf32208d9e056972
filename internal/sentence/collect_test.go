package sentence

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// rooms are the packages whose texts are said in every language, and the files of them whose texts no page
// shows. doc/languages.md says which packages are not yet among them.
var rooms = []struct {
	dir    string
	except []string
}{
	{"../determination", []string{"schema.go", "simulate.go"}},
	{"../strictjson", nil},
	{"../../quantity", nil},
	{"../../fluid", nil},
	{"../../hydrostatic", nil},
	{"../picture", nil},
	{"../value", nil},
	{"../desk", []string{"backup.go"}},
	{"../plan", nil},
	{"../practice", nil},
	{"../handsfree", nil},
	{"../../settle", nil},
	{"../live", nil},
	{"../line", []string{"check.go", "framing.go", "pattern.go"}},
	{"../source", []string{"recording.go"}},
	{"../paper", nil},
	{"../press", []string{"attachment.go", "code.go", "drawing.go", "label.go", "slipascii.go", "sliphtml.go"}},
}

// silent are calls whose texts no page shows: they stop the program, go into its log, or are no sentences.
var silent = []string{"panic", "Errorf", "MustCompile", "Error", "Info", "Warn"}

// collect gathers every text and format string of a package that holds words, with where it stands. A sum
// of texts is one format: "There is no "+name+"." is "There is no %s.".
func collect(t *testing.T, dir string, except []string) map[string]string {
	t.Helper()
	out := map[string]string{}
	names, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil || len(names) == 0 {
		t.Fatalf("%s: %d files, %v", dir, len(names), err)
	}
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") || slices.Contains(except, filepath.Base(name)) {
			continue
		}
		file := token.NewFileSet()
		tree, err := parser.ParseFile(file, name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		drawn := strings.HasSuffix(dir, "picture") // what a picture says goes through Say; all else is drawing
		var walk func(ast.Node) bool
		note := func(e ast.Expr) {
			text, inner, is := folded(e)
			if is && worded(text) {
				out[text] = file.Position(e.Pos()).String()
			}
			for _, summand := range inner {
				if summand != e {
					ast.Inspect(summand, walk)
				}
			}
		}
		walk = func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.ImportSpec:
				return false
			case *ast.Field:
				ast.Inspect(n.Type, walk)
				return false
			case *ast.CallExpr:
				called := callee(n)
				if slices.Contains(silent, called) {
					return false
				}
				if drawn && (called == "Say" || called == "Sayf") {
					note(n.Args[0])
				}
			case *ast.BinaryExpr:
				if _, _, is := folded(n); is && !drawn {
					note(n)
					return false
				}
			case *ast.BasicLit:
				if !drawn && n.Kind == token.STRING {
					note(n)
				}
			}
			return true
		}
		ast.Inspect(tree, walk)
	}
	return out
}

func callee(call *ast.CallExpr) string {
	switch f := call.Fun.(type) {
	case *ast.Ident:
		return f.Name
	case *ast.SelectorExpr:
		return f.Sel.Name
	}
	return ""
}

// folded is the format of a sum of texts; inner are its summands that are no texts themselves.
func folded(e ast.Expr) (format string, inner []ast.Expr, is bool) {
	switch e := e.(type) {
	case *ast.BasicLit:
		if e.Kind == token.STRING {
			text, err := strconv.Unquote(e.Value)
			return text, nil, err == nil
		}
	case *ast.ParenExpr:
		return folded(e.X)
	case *ast.BinaryExpr:
		if e.Op == token.ADD {
			left, a, isLeft := folded(e.X)
			right, b, isRight := folded(e.Y)
			return left + right, append(a, b...), isLeft || isRight
		}
	}
	return "%s", []ast.Expr{e}, false
}

// worded tells a text of words from a key, a name, or what only joins others.
func worded(text string) bool {
	parts, _ := parse(text)
	return strings.Contains(text, " ") && letters(parts) >= 3 && !strings.Contains(text, "\x00")
}

// sources is everything that needs a line.
func sources(t *testing.T) map[string]string {
	t.Helper()
	all := map[string]string{}
	for _, room := range rooms {
		for text, where := range collect(t, room.dir, room.except) {
			all[text] = where
		}
	}
	if len(all) < 700 {
		t.Fatalf("only %d texts were found", len(all))
	}
	return all
}

// TestEverySentenceHasALine asks the catalogues for every text of the sources.
func TestEverySentenceHasALine(t *testing.T) {
	texts := sources(t)
	for _, lang := range Languages {
		book := In(lang)
		for text, where := range texts {
			if !book.has(text) {
				t.Errorf("%s.json has no line for %q of %s", lang, text, where)
			}
		}
	}
}

func (b *Book) has(english string) bool {
	if _, found := b.formats[english]; found {
		return true
	}
	_, found := b.lines[strings.ReplaceAll(english, "%%", "%")]
	return found
}
