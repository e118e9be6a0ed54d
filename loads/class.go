package loads

// Class is what a load is as the inverter sees it: how far its current is out of step with the voltage, and how much more
// it takes while it starts.
type Class int

// The classes. ByKind is that of the load's kind: lamps and chargers are electronics, what cycles is a compressor or, where
// it runs more as it gets colder, resistive; the rest is mixed.
const (
	ByKind Class = iota
	Mixed
	Resistive
	Electronics
	BrushedMotor
	Motor
	Compressor
)

var classWords = []string{"by_kind", "mixed", "resistive", "electronics", "brushed_motor", "motor", "compressor"}

// String returns the class as typed.
func (c Class) String() string { return classWords[c] }

// ofClass holds the power factor while running, the power at the start over that while running, and how long the start lasts.
// Trade rules, none of them from one measured source: power factor 1.0 resistive, 0.6 to 0.85 motors, 0.5 to 0.9
// electronics without correction, 0.8 to 0.9 mixed, of which the middle, and the upper end for brushed motors (a guess);
// start 2 to 3 times for brushed tools and, by makers of generators, about 1 to 2 without soft start; 3 times for induction
// motors; 3 to 6 times for compressors, up to 5 s. The second of the two motors is a guess.
var ofClass = [...]struct{ powerFactor, startFactor, startS float64 }{
	Mixed:        {0.85, 1, 0},
	Resistive:    {1, 1, 0},
	Electronics:  {0.7, 1, 0},
	BrushedMotor: {0.85, 2, 1},
	Motor:        {0.75, 3, 1},
	Compressor:   {0.75, 5, 5},
}

// class resolves ByKind.
func (l *Load) class() Class {
	if l.Class != ByKind {
		return l.Class
	}
	switch l.Kind {
	case DuskToDawn, MotionLight, Packs:
		return Electronics
	case DutyCycle:
		if l.DutyRisePerK < 0 {
			return Resistive
		}
		return Compressor
	}
	return Mixed
}

// RunningPF is the power factor while the load runs, above 0 and at most 1: that typed, or that of its class; 1 on the DC
// bus.
func (l *Load) RunningPF() float64 {
	switch {
	case l.Bus == DC:
		return 1
	case l.PowerFactor > 0:
		return l.PowerFactor
	}
	return ofClass[l.class()].powerFactor
}

// Start is the power while the load starts over its running power, at least 1, and how long the start lasts, s: as typed,
// or those of its class.
func (l *Load) Start() (factor, seconds float64) {
	factor, seconds = ofClass[l.class()].startFactor, ofClass[l.class()].startS
	if l.StartFactor > 0 {
		factor = l.StartFactor
		if seconds == 0 {
			seconds = 1 // a guess, for a class that has none
		}
	}
	if l.StartS > 0 {
		seconds = l.StartS
	}
	if factor == 1 {
		seconds = 0
	}
	return factor, seconds
}
