package main

import (
	"bufio"
	"io"
	"os"
	"strings"

	"golang.org/x/term"
)

// ask reads a secret: from the terminal without showing it, otherwise one line of standard input.
func ask(s *streams, prompt string) (string, error) {
	if f, isFile := s.In.(*os.File); isFile && term.IsTerminal(int(f.Fd())) {
		// Nothing is shown from before the prompt on: who types early is not seen either.
		before, err := term.MakeRaw(int(f.Fd()))
		if err != nil {
			return "", err
		}
		defer term.Restore(int(f.Fd()), before)
		return term.NewTerminal(struct {
			io.Reader
			io.Writer
		}{f, s.Err}, "").ReadPassword(prompt + ": ")
	}
	line, err := s.line()
	if line == "" {
		return "", wrong("Type it at the prompt, or give it as a line of standard input.", "%s is missing", prompt)
	}
	return line, err
}

// askTwice reads a new password.
func askTwice(s *streams) (string, error) {
	first, err := ask(s, "new password")
	if err != nil {
		return "", err
	}
	second, err := ask(s, "the same again")
	if err != nil {
		return "", err
	}
	if first != second {
		return "", wrong("Type it twice, the same each time.", "the two passwords differ")
	}
	return first, nil
}

// line reads one line of standard input and leaves the rest for the next.
func (s *streams) line() (string, error) {
	if s.lines == nil {
		s.lines = bufio.NewScanner(s.In)
	}
	if s.lines.Scan() {
		return strings.TrimSuffix(s.lines.Text(), "\r"), nil
	}
	return "", s.lines.Err()
}
