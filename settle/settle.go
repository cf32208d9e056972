package settle

// Options describe the instrument. Interval alone is needed.
type Options struct {
	// Interval is the scale interval d: one unit of the last digit sent. 0 means that the stream is
	// not rounded.
	Interval float64
	// Repeatability is the standard deviation of repeated readings, 0 when it is not known. It is used
	// to tell unusual scatter from usual; unknown, half an interval is taken until the stream has shown
	// its own.
	Repeatability float64
	// Target is the standard uncertainty at which the estimator stops waiting. 0 takes the larger of
	// 0.35 d and half the noise.
	Target float64
	// Silence is the time in seconds after which a missing sample makes the state Silent. 0 takes ten
	// times the usual gap between samples, at least 5 s.
	Silence float64
	// Place is where the load is at first; Estimator.SetPlace changes it.
	Place Place
	// UnitName is put behind sizes in sentences, such as "g". Empty leaves the number bare.
	UnitName string
	// Density of the immersion liquid in units of value per cubic millimetre, for the size of bubbles:
	// 0.000998 for water and grams. 0 takes that.
	Density float64
}

// Estimator follows one instrument. It is not safe for use by several goroutines at once.
type Estimator struct {
	o    Options
	last Event
}

// New makes an estimator. Options that are negative or no number count as 0.
func New(o Options) *Estimator { return &Estimator{o: o} }

// SetPlace tells where the load is now. It takes effect from the next sample on.
func (e *Estimator) SetPlace(p Place) { e.o.Place = p }

// Add takes the next sample and returns the state after it. A sample that is no number, infinite or
// older than the one before changes nothing and comes back with Refused.
func (e *Estimator) Add(s Sample) Event { return e.last }

// At returns the state at a time at or after the last sample: the same with its Age, Silent if it is
// too old.
func (e *Estimator) At(seconds float64) Event { return e.last }

// Reset forgets the stream and keeps what was learned of the instrument: its noise and its response.
// It is for a line that was interrupted.
func (e *Estimator) Reset() {}
