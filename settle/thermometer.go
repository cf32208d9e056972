package settle

// ThermometerOptions describe a thermometer.
type ThermometerOptions struct {
	Interval float64 // one unit of the last digit, degrees Celsius
	// Steady is the rate of change, in degrees a minute, below which a temperature counts as settled.
	// 0 takes 0.1.
	Steady float64
	// Old is the age in seconds beyond which a reading is stale. 0 takes 60.
	Old float64
}

// Temperature is the state of a thermometer.
type Temperature struct {
	Phase   Phase
	Value   float64 // degrees Celsius
	U       float64 // standard uncertainty of Value as an estimate of the reading at rest
	Age     float64 // seconds since the last sample
	Rate    float64 // degrees a minute
	N       int
	Refused string
}

// Thermometer follows one thermometer.
type Thermometer struct {
	o ThermometerOptions
}

// NewThermometer makes one.
func NewThermometer(o ThermometerOptions) *Thermometer { return &Thermometer{o: o} }

// Add takes the next sample and returns the state after it.
func (t *Thermometer) Add(s Sample) Temperature { return Temperature{} }

// At returns the state at a time at or after the last sample.
func (t *Thermometer) At(seconds float64) Temperature { return Temperature{} }
