package main

import (
	"embed"
	"reflect"
	"slices"
	"strings"
	"text/template"

	"github.com/alecthomas/kong"
)

type completionCmd struct {
	Shell string `arg:"" enum:"bash,zsh,fish,powershell" help:"bash, zsh, fish or powershell."`
}

func (completionCmd) Help() string {
	return `Examples:

  wreath completion bash
  wreath completion zsh
  wreath completion fish
  wreath completion powershell

To load it in a running shell: source <(wreath completion bash), the same for zsh; wreath completion fish | source; wreath completion powershell | Out-String | Invoke-Expression. To keep it, put that line in the file the shell reads at its start.`
}

//go:embed completion/*.tmpl
var completionFiles embed.FS

// Run prints the script, made from the command line as it is built.
func (c *completionCmd) Run(s *streams, k *kong.Kong) error {
	t, err := template.New("").Funcs(template.FuncMap{"single": singleQuoted, "zsh": zshEntry, "fish": fishQuoted, "powershell": powershellList, "join": strings.Join}).
		ParseFS(completionFiles, "completion/*.tmpl")
	if err != nil {
		return err
	}
	return t.ExecuteTemplate(s.Out, c.Shell+".tmpl", spotsUnder(k.Model.Node, ""))
}

// spot is one place in the command line: what can be typed after the commands of its path.
type spot struct {
	Path     string // "/liquid/water", "" for the program itself
	Commands []choice
	Flags    []flagSpot
	Values   []string // of the next argument
	Files    bool     // the next argument is a file
}

// choice is a word that can be typed, with its help.
type choice struct{ Name, Help string }

// flagSpot is a flag and what can follow it.
type flagSpot struct {
	Name, Help string // name with its dashes
	TakesValue bool
	Values     []string
	Files      bool
}

// chooser is a type of argument that knows its values.
type chooser interface{ Choices() []string }

// fileNames are the arguments that name a file; the others name a record, an item or a person.
var fileNames = []string{"file", "target", "to"}

// spotsUnder lists the places at and below a command.
func spotsUnder(n *kong.Node, path string) []spot {
	here := spot{Path: path}
	for _, group := range n.AllFlags(true) {
		for _, f := range group {
			values, files := valuesOf(f.Value)
			takes := !f.IsBool() && !f.IsCounter()
			here.Flags = append(here.Flags, flagSpot{"--" + f.Name, brief(f.Help), takes, values, files && takes && strings.Contains(f.FormatPlaceHolder(), "FILE")})
		}
	}
	for _, p := range n.Positional {
		values, files := valuesOf(p)
		here.Values = append(here.Values, values...)
		here.Files = here.Files || files && slices.Contains(fileNames, p.Name)
	}
	var below []spot
	for _, child := range n.Children {
		if child.Type == kong.CommandNode && !child.Hidden {
			here.Commands = append(here.Commands, choice{child.Name, brief(child.Help)})
			below = append(below, spotsUnder(child, path+"/"+child.Name)...)
		}
	}
	return append([]spot{here}, below...)
}

// valuesOf lists the values that an argument can have; where there is no list it may be a file.
func valuesOf(v *kong.Value) (values []string, files bool) {
	one := v.Target.Type()
	if v.IsSlice() {
		one = one.Elem()
	}
	if c, ok := reflect.Zero(one).Interface().(chooser); ok {
		return c.Choices(), false
	}
	if v.Enum == "" {
		return nil, true
	}
	for _, word := range v.EnumSlice() {
		if word != "" {
			values = append(values, word)
		}
	}
	return values, false
}

// brief is the first clause of a help text.
func brief(help string) string {
	if i := strings.IndexAny(help, ":;"); i > 0 {
		help = help[:i]
	}
	return strings.TrimSuffix(help, ".")
}

// singleQuoted is a text in single quotes for bash and zsh.
func singleQuoted(s string) string { return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'" }

// zshEntry is a word with its help, as _describe reads it.
func zshEntry(name, help string) string {
	return singleQuoted(strings.ReplaceAll(name, ":", `\:`) + ":" + help)
}

// fishQuoted is a text in single quotes for fish.
func fishQuoted(s string) string {
	return "'" + strings.NewReplacer(`\`, `\\`, "'", `\'`).Replace(s) + "'"
}

// powershellList is a list of texts for PowerShell.
func powershellList(words []string) string {
	quoted := make([]string, len(words))
	for i, w := range words {
		quoted[i] = "'" + strings.ReplaceAll(w, "'", "''") + "'"
	}
	return "@(" + strings.Join(quoted, ", ") + ")"
}

// CommandNames lists the names of the commands at a place.
func (s spot) CommandNames() []string {
	var names []string
	for _, c := range s.Commands {
		names = append(names, c.Name)
	}
	return names
}

// FlagNames lists the flags at a place, with their dashes.
func (s spot) FlagNames() []string {
	var names []string
	for _, f := range s.Flags {
		names = append(names, f.Name)
	}
	return names
}

// Words lists what can be typed next, apart from flags and files.
func (s spot) Words() []string { return append(s.CommandNames(), s.Values...) }
