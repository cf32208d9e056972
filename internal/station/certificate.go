package station

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Certificate is a calibration certificate. Its points stand under the unit that they are in.
type Certificate struct {
	Number    string `json:"number" doc:"of the certificate"`
	Issuer    string `json:"issuer" doc:"who calibrated"`
	Date      Date   `json:"date" doc:"when it was calibrated"`
	ValidFrom Date   `json:"valid_from,omitempty" doc:"the first day on which it counts here; its date unless said"`
	NextDue   Date   `json:"next_due" doc:"the last day before the next calibration is overdue"`

	PointsG       []Point `json:"points_g,omitempty" doc:"balance and mass standard: results in grams"`
	PointsC       []Point `json:"points_c,omitempty" doc:"thermometer: results in °C"`
	PointsHPa     []Point `json:"points_hpa,omitempty" doc:"barometer: results in hPa"`
	PointsPercent []Point `json:"points_percent,omitempty" doc:"hygrometer: results in percent relative humidity"`
	PointsMM      []Point `json:"points_mm,omitempty" doc:"caliper: results in millimetres"`
	Note          string  `json:"note,omitempty" doc:"anything worth keeping, such as adjustments made"`
}

// Point is one result of a calibration, in the unit of its list.
type Point struct {
	Shown      float64 `json:"shown" doc:"what the instrument showed"`
	Correction float64 `json:"correction" doc:"what must be added to what it shows"`
	ExpandedU  float64 `json:"expanded_u" doc:"expanded uncertainty of the correction"`
	K          float64 `json:"k" doc:"coverage factor of the expanded uncertainty"`
}

func (i *Instrument) checkCertificates() error {
	for n := range i.Certificates {
		c, at := &i.Certificates[n], fmt.Sprintf("certificates[%d]", n)
		switch {
		case c.Number == "":
			return bad(at+".number", "Give the number that stands on the certificate.", "is missing")
		case c.Issuer == "":
			return bad(at+".issuer", "Say who calibrated it.", "is missing")
		}
		for _, other := range i.Certificates[:n] {
			if other.Number == c.Number && other.Issuer == c.Issuer {
				return bad(at+".number", "Keep one of the two.", "the certificate %s of %s is given twice", c.Number, c.Issuer)
			}
		}
		if err := first(checkDate(at+".date", c.Date, true), checkDate(at+".valid_from", c.ValidFrom, false), checkDate(at+".next_due", c.NextDue, true)); err != nil {
			return err
		}
		if c.ValidFrom != "" && c.ValidFrom < c.Date {
			return bad(at+".valid_from", "A certificate counts from its own date at the earliest.", "%s is before the calibration of %s", c.ValidFrom, c.Date)
		}
		if c.NextDue <= c.from() {
			return bad(at+".next_due", "Were the dates swapped?", "%s is not after %s", c.NextDue, c.from())
		}
		for _, list := range []struct {
			name   string
			points []Point
			kinds  []string
		}{
			{"points_g", c.PointsG, []string{Balance, MassStandard}}, {"points_c", c.PointsC, []string{Thermometer}},
			{"points_hpa", c.PointsHPa, []string{Barometer}}, {"points_percent", c.PointsPercent, []string{Hygrometer}},
			{"points_mm", c.PointsMM, []string{Caliper}},
		} {
			if len(list.points) > 0 && !slices.Contains(list.kinds, i.Kind) {
				return bad(at+"."+list.name, "Leave it out, or correct the kind.", "does not belong to a %s", i.Kind)
			}
			if err := checkPoints(at+"."+list.name, list.points); err != nil {
				return err
			}
		}
	}
	return nil
}

func checkPoints(path string, points []Point) error {
	for n, p := range points {
		at := fmt.Sprintf("%s[%d]", path, n)
		switch {
		case math.Abs(p.Shown) > 1e6:
			return bad(at+".shown", "Check the value and its unit.", "%g cannot be right", p.Shown)
		case !(p.K >= 1 && p.K <= 14):
			return bad(at+".k", "Give the coverage factor that stands with the uncertainty, mostly 2.", "%g is no coverage factor", p.K)
		case !(p.ExpandedU > 0) || p.ExpandedU > 1e5:
			return bad(at+".expanded_u", "Give the expanded uncertainty of the result.", "%g is no uncertainty of a calibration", p.ExpandedU)
		case !(math.Abs(p.Correction) <= 100*p.ExpandedU+math.Abs(p.Shown)+10):
			return bad(at+".correction", "Give what must be added to the reading, not the true value.", "%g is too large to be a correction of %g", p.Correction, p.Shown)
		}
		if n > 0 && !(p.Shown > points[n-1].Shown) {
			return bad(at+".shown", "List the points from the lowest reading to the highest, each once.", "%g does not come after %g", p.Shown, points[n-1].Shown)
		}
	}
	return nil
}

func (c *Certificate) from() Date { return cmp.Or(c.ValidFrom, c.Date) }

// points are those of the unit that the instrument shows.
func (c *Certificate) points(kind string) []Point {
	switch kind {
	case Thermometer:
		return c.PointsC
	case Barometer:
		return c.PointsHPa
	case Hygrometer:
		return c.PointsPercent
	case Caliper:
		return c.PointsMM
	}
	return c.PointsG
}

// CertificateOn is the certificate that counts on a day: the one that started to count last, or
// nil where none does yet. It counts on after it is overdue.
func (i *Instrument) CertificateOn(day Date) *Certificate {
	var found *Certificate
	for n := range i.Certificates {
		c := &i.Certificates[n]
		if c.from() <= day && (found == nil || c.from() > found.from() || c.from() == found.from() && c.Date >= found.Date) {
			found = c
		}
	}
	return found
}

// Corrected is a reading with the correction of a certificate added.
type Corrected struct {
	Value       float64 // in the unit of the instrument
	U           float64 // standard uncertainty: of the correction and of the reading's last digit
	Correction  float64
	Certificate string // number and issuer
}

// Correct adds the correction that the certificate of the day gives for a reading. Between two
// points it goes in a straight line; outside the points it refuses with a *FieldError. Of the
// uncertainties of two neighbours the larger is taken. ok is false where there is no certificate,
// or one without points: then nothing is corrected.
func (i *Instrument) Correct(shown float64, day Date) (c Corrected, ok bool, err error) {
	certificate := i.CertificateOn(day)
	if certificate == nil || len(certificate.points(i.Kind)) == 0 {
		return Corrected{}, false, nil
	}
	points := certificate.points(i.Kind)
	low, high := points[0], points[len(points)-1]
	if !(shown >= low.Shown && shown <= high.Shown) {
		return Corrected{}, false, bad("", "Use an instrument that was calibrated there, or have this one calibrated over a wider range.",
			"%s shows %g %s, and certificate %s covers only %g to %g %s", i.title(), shown, i.unit(), certificate.Number, low.Shown, high.Shown, i.unit())
	}
	n, exact := slices.BinarySearchFunc(points, shown, func(p Point, x float64) int { return cmp.Compare(p.Shown, x) })
	b := points[n]
	correction, u := b.Correction, b.ExpandedU/b.K
	if !exact {
		a := points[n-1]
		t := (shown - a.Shown) / (b.Shown - a.Shown)
		correction = a.Correction + t*(b.Correction-a.Correction)
		u = math.Max(u, a.ExpandedU/a.K)
	}
	// A reading is rounded to its last digit (JCGM 100:2008, F.2.2.1).
	u = math.Hypot(u, i.scaleInterval()/math.Sqrt(12))
	return Corrected{
		Value: tidy(shown + correction), U: u, Correction: tidy(correction),
		Certificate: certificate.title(),
	}, true, nil
}

func (c *Certificate) title() string { return fmt.Sprintf("%s (%s, %s)", c.Number, c.Issuer, c.Date) }

// tidy takes the noise of binary fractions off a sum of decimal ones.
func tidy(x float64) float64 {
	if math.Abs(x) > 1e8 {
		return x
	}
	return math.Round(x*1e7) / 1e7
}

// unit is the unit that an instrument shows.
func (i *Instrument) unit() string {
	return map[string]string{Thermometer: "°C", Barometer: "hPa", Hygrometer: "%", Caliper: "mm"}[i.Kind]
}

// scaleInterval is the step of the last digit in the unit that the instrument shows, 0 where the
// file does not say.
func (i *Instrument) scaleInterval() float64 {
	for _, d := range []*float64{i.ScaleIntervalG, i.ScaleIntervalC, i.ScaleIntervalHPa, i.ScaleIntervalPercent, i.ScaleIntervalMM} {
		if d != nil {
			return *d
		}
	}
	return 0
}
