package press

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wreath/internal/paper"
	"wreath/internal/people"
	"wreath/internal/station"
)

// reportOf are the facts of an example, issued as a report. Everything is invented.
func reportOf(t failing, example string) *paper.Facts {
	t.Helper()
	f := slipOf(t, example)
	came := slipNoon.Add(-31 * time.Minute)
	f.Received = &came
	f.Customer = paper.Party{Why: "no customer is kept with this item"}
	f.Signatures = append(f.Signatures, paper.Signature{
		Person: "r.second", Name: "R. Second", At: slipNoon.Add(74 * time.Minute), Meaning: people.Approved, Sentence: "I answer for this record and its finding.",
	})
	f.Instruments = []paper.Instrument{
		{ID: "B-1", Version: 2, Kind: station.Balance, Title: "Invented Works XB 210 000417", Certificate: "B-77", Issuer: "Invented Calibration", Calibrated: "2026-03-01", Due: "2027-03-01"},
		{ID: "T-1", Version: 1, Kind: station.Thermometer, Title: "Invented Works TH-1 88", Certificate: "T-11", Issuer: "Invented Calibration", Calibrated: "2026-06-01", Due: "2027-06-01"},
		{ID: "K-1", Version: 1, Kind: station.CheckPiece, Title: "steel ball"},
	}
	f.Report = &paper.Report{
		Number: "R-000204", Issued: slipNoon.Add(80 * time.Minute), Person: "r.second", Name: "R. Second", Function: []string{"sign"},
	}
	f.Photo = reportPhoto(t)
	f.Item.Photo, f.Item.Caption = strings.Repeat("ab", 32), "from the front"
	return f
}

// reportPhoto draws a ring, as large as a phone takes it.
func reportPhoto(t failing) *paper.Picture {
	t.Helper()
	const wide, tall = 1600, 1200
	img := image.NewRGBA(image.Rect(0, 0, wide, tall))
	for y := range tall {
		for x := range wide {
			r := math.Hypot(float64(x-wide/2), 1.2*float64(y-tall/2))
			c := color.RGBA{228, 226, 221, 255}
			if r > 330 && r < 470 {
				shade := uint8(60 * math.Abs(math.Sin(r/40+float64(x)/300)))
				c = color.RGBA{205 - shade, 165 - shade, 62, 255}
			}
			img.SetRGBA(x, y, c)
		}
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, img, nil); err != nil {
		t.Fatal(err)
	}
	return &paper.Picture{MediaType: "image/jpeg", Bytes: out.Bytes(), Width: wide, Height: tall}
}

// reportLogo draws a circle of leaves with a transparent ground.
func reportLogo(t failing) *paper.Picture {
	t.Helper()
	const wide, tall = 360, 120
	img := image.NewNRGBA(image.Rect(0, 0, wide, tall))
	for y := range tall {
		for x := range wide {
			r := math.Hypot(float64(x-60), float64(y-60))
			if r > 40 && r < 52 || x > 130 && y > 52 && y < 68 {
				img.SetNRGBA(x, y, color.NRGBA{30, 30, 30, 255})
			}
		}
	}
	var out bytes.Buffer
	if err := png.Encode(&out, img); err != nil {
		t.Fatal(err)
	}
	return &paper.Picture{MediaType: "image/png", Bytes: out.Bytes(), Width: wide, Height: tall}
}

func reportPDF(t failing, f *paper.Facts, o Options) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := Report(&out, f, o); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// tool runs another program on a file that holds data, and gives what it prints.
func tool(t *testing.T, data []byte, name string, args ...string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "report.pdf")
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	for i, a := range args {
		if a == "FILE" {
			args[i] = path
		}
	}
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
	return string(out)
}
