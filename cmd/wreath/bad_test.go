package main

import (
	"bytes"
	"strings"
	"testing"
)

// sound is one command line of each command that takes numbers; it works as it stands.
var sound = []string{
	"air --temperature-c=20 --pressure-hpa=1000 --humidity-percent=50 --temperature-u-c=0.5 --pressure-u-hpa=1 --humidity-u-percent=5",
	"air --temperature-c=20 --altitude-m=500",
	"alloy --parts=Au=750,Cu=200,Zn=50 --zinc-cm3-mol=8.5",
	"fineness --density-g-cm3=15.44 --u-g-cm3=0.02 --dof=9 --family=gold-yellow --claim=750 --tolerance-ppt=3",
	"fineness --density-g-cm3=15.44 --u-g-cm3=0.02 --claim-carat=18",
	"liquid water --temperature-c=20 --temperature-u-c=0.1 --pressure-hpa=1000 --air-saturation=1 --purity-u-kg-m3=0.01",
	"liquid ethanol-water --temperature-c=20 --temperature-u-c=0.1 --mass-percent=40 --strength-u-percent=0.1",
	"liquid ethanol-water --temperature-c=20 --volume-percent=40",
	"liquid measured --temperature-c=20 --density-kg-m3=790 --u-kg-m3=0.1 --at-c=21 --expansion-per-k=0.001 --expansion-u-per-k=0.0001",
	"liquid sinker --temperature-c=20 --air-g=24.5 --liquid-g=16.5 --reading-u-g=0.001 --expansion-per-k=1e-5 --air-density-kg-m3=1.2 --air-density-u-kg-m3=0.01 --volume-cm3=10 --volume-u-cm3=0.001",
	"liquid solid --temperature-c=20 --air-g=10 --liquid-g=8.75 --reading-u-g=0.001 --expansion-per-k=1e-5 --air-density-kg-m3=1.2 --air-density-u-kg-m3=0.01 --solid-kg-m3=8000 --solid-u-kg-m3=1",
}

// never are values that no flag with a number takes.
var never = []string{"", "NaN", "nan", "Inf", "-Inf", "infinity", "1e999", "12,5", "0x10", "1_000", "twenty", "1 2", "-1e300", "1e300", "--"}

// odd are values that some flags take and others refuse.
var odd = []string{"0", "-0", "-1", "1e-300", "1e-9", "1e9", "22.7", "0.5", "100.000001"}

// TestBadNumbers puts bad values into every flag with a number, one at a time: what cannot be a
// number is refused in two lines; nothing ever panics, prints NaN, or prints half an answer.
func TestBadNumbers(t *testing.T) {
	for _, line := range sound {
		args := strings.Fields(line)
		check(t, args, true, false)
		for i, arg := range args {
			name, _, isFlag := strings.Cut(arg, "=")
			if !isFlag || name == "--parts" || name == "--family" {
				continue
			}
			for _, value := range never {
				check(t, with(args, i, name+"="+value), false, true)
			}
			for _, value := range odd {
				check(t, with(args, i, name+"="+value), false, false)
			}
		}
	}
}

func with(args []string, i int, arg string) []string {
	changed := append([]string(nil), args...)
	changed[i] = arg
	return changed
}

// check runs a command line in both forms of answer.
func check(t *testing.T, args []string, mustWork, mustFail bool) {
	t.Helper()
	for _, format := range []string{"text", "json"} {
		var out, complaints bytes.Buffer
		code := run(append(args[:len(args):len(args)], "--format", format), streams{In: strings.NewReader(""), Out: &out, Err: &complaints})
		switch {
		case code == exitFine && mustFail, code != exitFine && mustWork, code != exitFine && code != exitUsage:
			t.Errorf("%q: exit code %d, %s", args, code, complaints.String())
		case code == exitUsage && (out.Len() > 0 || strings.Count(complaints.String(), "\n") != 2 || !strings.HasPrefix(complaints.String(), "wreath: error: ")):
			t.Errorf("%q: prints %q and complains %q, want two lines on standard error alone", args, out.String(), complaints.String())
		case code == exitFine && (out.Len() == 0 || complaints.Len() > 0):
			t.Errorf("%q: prints %q and complains %q", args, out.String(), complaints.String())
		}
		for _, word := range []string{"NaN", "Inf", "%!", "<nil>"} {
			if strings.Contains(out.String(), word) {
				t.Errorf("%q prints %s: %s", args, word, out.String())
			}
		}
		if strings.Contains(complaints.String(), "%!") || strings.Contains(complaints.String(), "  ") {
			t.Errorf("%q complains in bad form: %q", args, complaints.String())
		}
	}
}
