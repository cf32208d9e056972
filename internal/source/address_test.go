package source

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func TestParseAddress(t *testing.T) {
	usual := Address{Kind: Serial, Where: "/dev/ttyUSB0", Speed: 9600, Data: 8, Parity: "none", Stop: "1"}
	special := Address{Kind: Serial, Where: "COM3", Speed: 1200, Data: 7, Parity: "even", Stop: "2", RTS: "off", DTR: "on"}
	for text, want := range map[string]Address{
		"serial:///dev/ttyUSB0": usual,
		"serial:/dev/ttyUSB0":   usual,
		"SERIAL:///dev/ttyUSB0?speed=9600&data=8&parity=none&stop=1":        usual,
		"serial://COM3?speed=1200&data=7&parity=even&stop=2&rts=off&dtr=on": special,
		"tcp://192.0.2.7:4001":                         {Kind: TCP, Where: "192.0.2.7:4001"},
		"tcp://[2001:db8::7]:4001":                     {Kind: TCP, Where: "[2001:db8::7]:4001"},
		"listen://:4001":                               {Kind: Listen, Where: "127.0.0.1:4001"},
		"listen://[::1]:4001":                          {Kind: Listen, Where: "[::1]:4001"},
		"listen://:4001?network=yes":                   {Kind: Listen, Where: ":4001", Network: true},
		"listen://192.0.2.7:4001?network=yes":          {Kind: Listen, Where: "192.0.2.7:4001", Network: true},
		"file:///media/stick/read%20ings.txt":          {Kind: File, Where: "/media/stick/read ings.txt"},
		"file:///a%3Fb?from=start":                     {Kind: File, Where: "/a?b", FromStart: true},
		`file://C:\data\out.csv`:                       {Kind: File, Where: `C:\data\out.csv`},
		"push:left":                                    {Kind: Push, Where: "left"},
		"wedge:":                                       {Kind: Wedge},
		"play:///tmp/x.rec?speed=4":                    {Kind: Play, Where: "/tmp/x.rec", Pace: 4},
		"play:x.rec?speed=most":                        {Kind: Play, Where: "x.rec", Pace: math.Inf(1)},
		"simulated:hanging?draught=2&seed=7":           {Kind: Simulated, Where: "hanging", More: "draught=2&seed=7"},
		"serial:///dev/serial/by-id/usb-A_b-if00-x%25": {Kind: Serial, Where: "/dev/serial/by-id/usb-A_b-if00-x%", Speed: 9600, Data: 8, Parity: "none", Stop: "1"},
	} {
		got, err := ParseAddress(text)
		if err != nil || got != want {
			t.Errorf("ParseAddress(%q) = %+v, %v, want %+v", text, got, err, want)
			continue
		}
		if again, err := ParseAddress(got.String()); err != nil || again != got {
			t.Errorf("%q is written as %q, which reads as %+v, %v", text, got.String(), again, err)
		}
	}
}

func TestParseAddressRefuses(t *testing.T) {
	for text, part := range map[string]string{
		"":                                       "known kind",
		"/dev/ttyUSB0":                           "known kind",
		"http://x":                               "known kind",
		"serial:":                                "no port",
		"serial:///dev/x?speed=fast":             "speed",
		"serial:///dev/x?speed=-1":               "speed",
		"serial:///dev/x?data=9":                 "data=9",
		"serial:///dev/x?parity=never":           "parity=never",
		"serial:///dev/x?stop=3":                 "stop=3",
		"serial:///dev/x?rts=maybe":              "rts=maybe",
		"serial:///dev/x?sped=9600":              `no setting "sped"`,
		"serial:///dev/x?speed=1200&speed=75":    "twice",
		"serial:///dev/x?%zz=1":                  "can't be read",
		"serial:///dev/%x":                       "percent",
		"serial:///dev/%00":                      "printed",
		"serial:///dev/\x1b[2J":                  "printed",
		"tcp://":                                 "missing",
		"tcp://host":                             "host:port",
		"tcp://:4001":                            "no host",
		"tcp://host:0":                           "port",
		"tcp://host:99999":                       "port",
		"tcp://host:4001?network=yes&x=1":        `"x"`,
		"listen://0.0.0.0:4001":                  "other computers",
		"listen://scale.example:4001":            "other computers",
		"file:":                                  "no file",
		"file:///x?from=middle":                  "from=middle",
		"play:///x?speed=0":                      "speed",
		"play:///x?speed=NaN":                    "speed",
		"push:x?y=1":                             `"y"`,
		"serial:///" + strings.Repeat("x", 3000): "longer",
	} {
		_, err := ParseAddress(text)
		var bad *AddressError
		if !errors.As(err, &bad) || !strings.Contains(bad.What, part) || bad.Hint == "" {
			t.Errorf("ParseAddress(%.80q): %v, want %q and a hint", text, err, part)
		}
	}
}

func FuzzParseAddress(f *testing.F) {
	for _, text := range []string{"serial:///dev/ttyUSB0?speed=9600&data=8&parity=none&stop=1", "tcp://[::1]:1", "listen://:4001?network=yes",
		"file:///a%20b?from=start", "push:////x", "play:///x?speed=0.5", "simulated:a?b=c", "wedge:%2F", "serial:////%3F%25"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		a, err := ParseAddress(text)
		if err != nil {
			var bad *AddressError
			if !errors.As(err, &bad) || bad.What == "" || bad.Hint == "" {
				t.Fatalf("%q: %v is no AddressError with a hint", text, err)
			}
			return
		}
		again, err := ParseAddress(a.String())
		if err != nil || again != a {
			t.Fatalf("%q reads as %+v, written %q, which reads as %+v, %v", text, a, a.String(), again, err)
		}
	})
}
