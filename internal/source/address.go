package source

import (
	"errors"
	"fmt"
	"math"
	"net"
	"net/url"
	"slices"
	"strconv"
	"strings"
)

// Kind is the way by which bytes come.
type Kind string

// The kinds of addresses; each is also the word before the colon.
const (
	Serial    Kind = "serial"    // serial:///dev/ttyUSB0?speed=9600&data=8&parity=none&stop=1
	TCP       Kind = "tcp"       // tcp://host:port, where something waits to be called
	Listen    Kind = "listen"    // listen://:port, where we wait to be called
	File      Kind = "file"      // file:///path, a text or CSV file that another program writes
	Push      Kind = "push"      // push:name, bytes that a web request brings
	Wedge     Kind = "wedge"     // wedge:name, what an instrument types into a field of the page
	Play      Kind = "play"      // play:///path?speed=4, a recording
	Simulated Kind = "simulated" // simulated:case?..., an invented instrument
)

var kinds = []Kind{Serial, TCP, Listen, File, Push, Wedge, Play, Simulated}

// Address names where bytes come from. It is comparable; ParseAddress makes it from text.
type Address struct {
	Kind Kind
	// Where is the port's name, host:port, the path of a file, or a free name.
	Where string
	// Speed in bits per second, data bits, parity (none, odd, even, mark, space) and stop bits (1,
	// 1.5, 2) of a serial line; RTS and DTR are "on", "off" or empty for as the system has it.
	Speed, Data  int
	Parity, Stop string
	RTS, DTR     string
	// Network lets a Listen address hear other computers. Without it only this one is heard.
	Network bool
	// FromStart reads a File that is there already from its start. Without it only what is added
	// after Run started counts, because the rest is old.
	FromStart bool
	// Pace is how many times faster than real a Play runs; +Inf is as fast as it goes.
	Pace float64
	// More is what stands after the question mark of a Simulated address, for whoever opens it.
	More string
}

// AddressError says what is wrong with an address and how to mend it.
type AddressError struct {
	Text string // the address as given
	What string
	Hint string
}

func (e *AddressError) Error() string { return fmt.Sprintf("address %q: %s", e.Text, e.What) }

// ParseAddress reads the text of an address. The error is an *AddressError.
func ParseAddress(text string) (Address, error) {
	a, what, hint := parseAddress(text)
	if what != "" {
		return Address{}, &AddressError{Text: shorten(text), What: what, Hint: hint}
	}
	return a, nil
}

func shorten(text string) string {
	if len(text) > 200 {
		return strings.ToValidUTF8(text[:200], "") + "…"
	}
	return text
}

func parseAddress(text string) (a Address, what, hint string) {
	if len(text) > 2000 {
		return a, "it is longer than 2000 bytes", "give the port, the host or the path alone"
	}
	for _, r := range text {
		if r < ' ' || r == 0x7f || r == '\uFFFD' {
			return a, "it holds a character that can't be printed", "type the address again"
		}
	}
	scheme, rest, found := strings.Cut(text, ":")
	a.Kind = Kind(strings.ToLower(scheme))
	if !found || !slices.Contains(kinds, a.Kind) {
		return a, "it does not start with a known kind", kindsHint
	}
	where, query, _ := strings.Cut(rest, "?")
	switch a.Kind {
	case Push, Wedge, Simulated:
		where = strings.TrimLeft(where, "/")
	default:
		where = strings.TrimPrefix(where, "//")
	}
	where, err := url.PathUnescape(where)
	if err != nil {
		return a, "a percent sign is not followed by two hexadecimal digits", "write a percent sign as %25"
	}
	if strings.ContainsFunc(where, func(r rune) bool { return r < ' ' || r == 0x7f || r == '\uFFFD' }) {
		return a, "it holds a character that can't be printed", "type the address again"
	}
	a.Where = where
	if a.Kind == Simulated {
		a.More = query
		return a.checked(nil)
	}
	values, err := url.ParseQuery(query)
	if err != nil {
		return a, "what stands after the question mark can't be read", "write name=value, with & between two"
	}
	return a.checked(values)
}

var kindsHint = "start with one of serial://, tcp://, listen://, file://, push:, wedge:, play://, simulated:"

// checked reads the settings of the kind and refuses what does not belong to it.
func (a Address) checked(values url.Values) (_ Address, what, hint string) {
	take := func(name, usual string) string {
		got := values[name]
		delete(values, name)
		if len(got) == 0 {
			return usual
		}
		return got[len(got)-1]
	}
	choose := func(name, usual string, known ...string) string {
		got := take(name, usual)
		if what == "" && !slices.Contains(known, got) {
			what = fmt.Sprintf("%s=%s is not known", name, shorten(got))
			hint = fmt.Sprintf("%s is one of %s", name, strings.Join(known, ", "))
		}
		return got
	}
	for name, got := range values {
		if len(got) > 1 {
			return a, fmt.Sprintf("%s is set twice", shorten(name)), "set it once"
		}
	}
	switch a.Kind {
	case Serial:
		speed, err := strconv.Atoi(take("speed", "9600"))
		if err != nil || speed < 50 || speed > 4_000_000 {
			return a, "the speed is not a whole number from 50 to 4000000", "write speed=9600, as the instrument's menu says"
		}
		a.Speed = speed
		a.Data, _ = strconv.Atoi(choose("data", "8", "5", "6", "7", "8"))
		a.Parity = choose("parity", "none", "none", "odd", "even", "mark", "space")
		a.Stop = choose("stop", "1", "1", "1.5", "2")
		a.RTS = choose("rts", "", "", "on", "off")
		a.DTR = choose("dtr", "", "", "on", "off")
		if a.Where == "" {
			return a, "no port is named", "write serial:///dev/ttyUSB0 on Linux, serial:///dev/cu.usbserial-1 on macOS, serial://COM3 on Windows"
		}
	case TCP, Listen:
		a.Network = choose("network", "no", "yes", "no") == "yes"
		if a.Kind == TCP {
			a.Network = false
		}
		if w, h := a.checkHost(); w != "" {
			return a, w, h
		}
	case File:
		a.FromStart = choose("from", "end", "end", "start") == "start"
		if a.Where == "" {
			return a, "no file is named", "write file:///media/stick/readings.txt"
		}
	case Play:
		pace := take("speed", "1")
		a.Pace = math.Inf(1)
		if pace != "most" {
			n, err := strconv.ParseFloat(pace, 64)
			if err != nil || !(n >= 0.01 && n <= 10000) {
				return a, "the speed of the playback is not a number from 0.01 to 10000", "write speed=4 for four times as fast, speed=most for as fast as it goes"
			}
			a.Pace = n
		}
		if a.Where == "" {
			return a, "no recording is named", "write play:///path/of/the/recording"
		}
	}
	if what != "" {
		return a, what, hint
	}
	for name := range values {
		return a, fmt.Sprintf("%s has no setting %q", a.Kind, shorten(name)), "leave it out"
	}
	return a, "", ""
}

func (a *Address) checkHost() (what, hint string) {
	host, port, err := net.SplitHostPort(a.Where)
	if err != nil {
		var addr *net.AddrError
		if errors.As(err, &addr) && a.Where != "" {
			return "it is not host:port", "write " + string(a.Kind) + "://192.0.2.7:4001; an IPv6 address goes in square brackets"
		}
		return "host and port are missing", "write " + string(a.Kind) + "://host:4001"
	}
	if n, err := strconv.Atoi(port); err != nil || n < 0 || n > 65535 || n == 0 && a.Kind == TCP {
		return "the port is not a number from 1 to 65535", "write " + string(a.Kind) + "://host:4001"
	}
	if a.Kind == TCP {
		if host == "" {
			return "no host is named", "write tcp://host:4001, or listen://:4001 to be called"
		}
		return "", ""
	}
	if host == "" {
		host = "127.0.0.1"
		if a.Network {
			host = ""
		}
	}
	a.Where = net.JoinHostPort(host, port)
	ip := net.ParseIP(host)
	if !a.Network && host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return "other computers could reach it", "write listen://127.0.0.1:" + port + ", or add ?network=yes if whoever is in your network may send readings"
	}
	return "", ""
}

// String returns the text of the address. ParseAddress reads it back to the same address.
func (a Address) String() string {
	q := url.Values{}
	set := func(name, value, usual string) {
		if value != usual {
			q.Set(name, value)
		}
	}
	text := string(a.Kind) + ":"
	switch a.Kind {
	case Simulated:
		text += escapeName(a.Where)
		if a.More != "" {
			text += "?" + a.More
		}
		return text
	case Push, Wedge:
		return text + escapeName(a.Where)
	case Serial:
		q.Set("speed", strconv.Itoa(a.Speed))
		set("data", strconv.Itoa(a.Data), "8")
		set("parity", a.Parity, "none")
		set("stop", a.Stop, "1")
		set("rts", a.RTS, "")
		set("dtr", a.DTR, "")
	case Listen:
		if a.Network {
			q.Set("network", "yes")
		}
	case File:
		if a.FromStart {
			q.Set("from", "start")
		}
	case Play:
		pace := strconv.FormatFloat(a.Pace, 'g', -1, 64)
		if math.IsInf(a.Pace, 1) {
			pace = "most"
		}
		set("speed", pace, "1")
	}
	text += "//" + escape(a.Where)
	if len(q) > 0 {
		text += "?" + q.Encode()
	}
	return text
}

// escape writes the characters of a path that have a meaning of their own as their code.
func escape(where string) string {
	return strings.NewReplacer("%", "%25", "?", "%3F", "#", "%23", " ", "%20").Replace(where)
}

// escapeName does so for a name, which does not start with a slash.
func escapeName(name string) string {
	name = escape(name)
	if rest, ok := strings.CutPrefix(name, "/"); ok {
		return "%2F" + rest
	}
	return name
}
