//go:build unix

package main

import (
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"wreath/internal/line"
	"wreath/internal/source"
)

// speaker is an invented balance on the network that says one value again and again.
type speaker struct {
	mu    sync.Mutex
	value float64
}

func (s *speaker) put(value float64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.value = value
}

// speak says its value to whoever calls first, until the other side ends.
func (s *speaker) speak(l net.Listener) {
	c, err := l.Accept()
	if err != nil {
		return
	}
	defer c.Close()
	beat := time.NewTicker(20 * time.Millisecond)
	defer beat.Stop()
	for range beat.C {
		s.mu.Lock()
		value := s.value
		s.mu.Unlock()
		if _, err := fmt.Fprintf(c, "%9.3f g\r\n", value); err != nil {
			return
		}
	}
}

// TestLearnsAtATerminal types what the display shows, as a person does.
func TestLearnsAtATerminal(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	balance := &speaker{}
	ended := make(chan struct{})
	go func() { defer close(ended); balance.speak(l) }()
	t.Cleanup(func() { l.Close(); <-ended })
	file := filepath.Join(t.TempDir(), "line.json")
	x := onTerminal(t, "instrument", "learn", "tcp://"+l.Addr().String(), "--out", file, "--unsure")
	sees := func(text string) {
		t.Helper()
		for deadline := time.Now().Add(time.Minute); !strings.Contains(x.text(), text); time.Sleep(5 * time.Millisecond) {
			if time.Now().After(deadline) {
				t.Fatalf("the terminal does not say %q: %s", text, x.text())
			}
		}
	}
	types := func(text string) {
		t.Helper()
		if _, err := x.file.WriteString(text + "\n"); err != nil {
			t.Fatal(err)
		}
	}
	sees("heard:")
	types("heavy")
	sees(`"heavy" is no number`)
	for _, value := range []float64{0, 12.345, -3.21, 104.5} {
		balance.put(value)
		before := strings.Count(x.text(), "Sure: ")
		sees(fmt.Sprintf("heard: %s", nine(value)))
		types(fmt.Sprintf("%.3f g", value))
		for deadline := time.Now().Add(time.Minute); strings.Count(x.text(), "Sure: ")+strings.Count(x.text(), "Nothing yet") <= before; time.Sleep(5 * time.Millisecond) {
			if time.Now().After(deadline) {
				t.Fatalf("nothing came of %g: %s", value, x.text())
			}
		}
	}
	types("")
	sees("The pattern is in " + file)
	document, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	p, err := line.DecodePattern(document)
	if err != nil {
		t.Fatal(err)
	}
	v, err := p.Read([]byte("   77.001 g"))
	if err != nil || v.Number != 77.001 || v.Unit != "g" {
		t.Errorf("a further line reads %+v, %v", v, err)
	}
}

// TestInterruptEndsListening presses Ctrl-C while a balance speaks: the command ends in order, and a recording is
// whole.
func TestInterruptEndsListening(t *testing.T) {
	file := filepath.Join(t.TempDir(), "balance.txt")
	for _, c := range []struct {
		name string
		args []string
		says string
		sees func(x *terminal) bool
	}{
		{"watch", []string{"--raw"}, "12.345 g", func(x *terminal) bool { return strings.Count(x.text(), "12.345 g") >= 3 }},
		{"record", []string{file}, " are in " + file, func(*terminal) bool {
			data, err := os.ReadFile(file)
			return err == nil && strings.Count(string(data), "12.345 g") >= 3
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			l, err := net.Listen("tcp", "127.0.0.1:0")
			if err != nil {
				t.Fatal(err)
			}
			balance := &speaker{value: 12.345}
			ended := make(chan struct{})
			go func() { defer close(ended); balance.speak(l) }()
			t.Cleanup(func() { l.Close(); <-ended })
			x := onTerminal(t, append([]string{"instrument", c.name, "tcp://" + l.Addr().String()}, c.args...)...)
			for deadline := time.Now().Add(time.Minute); !c.sees(x); time.Sleep(5 * time.Millisecond) {
				if time.Now().After(deadline) {
					t.Fatalf("nothing is heard: %s", x.text())
				}
			}
			if _, err := x.file.Write([]byte{3}); err != nil { // what a terminal sends for Ctrl-C
				t.Fatal(err)
			}
			if text := x.end(); !strings.Contains(text, c.says) {
				t.Errorf("it says %q, want %q", text, c.says)
			}
		})
	}
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	heard := 0
	if _, err := source.ReadRecording(f, func(e source.Event) bool {
		if e.Kind == source.Heard {
			heard++
		}
		return true
	}); err != nil || heard < 3 {
		t.Errorf("the recording holds %d pieces, %v", heard, err)
	}
}

// nine is a value as the invented balance shows it.
func nine(value float64) string { return fmt.Sprintf("%9.3f g", value) }
