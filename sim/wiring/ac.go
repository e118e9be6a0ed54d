package wiring

import "tideover/sim/limit"

// Bond is where the neutral of the inverter's output is joined to earth.
type Bond int

// The bonds. Nothing typed is BondUnknown.
const (
	BondUnknown Bond = iota
	OnePoint
	Floating
)

// ACSide is what hangs on the inverter's outlets, as far as it is fixed.
type ACSide struct {
	VoltageV float64
	BreakerA float64 // 0: not known
	AreaMM2  float64 // of one conductor of its cable; 0: not known
	AWG      string
	Bond     Bond
}

// DefaultAC returns outlets of which nothing is known but a usual voltage.
func DefaultAC() ACSide { return ACSide{VoltageV: 230} }

// Keys declares the parameters.
func (s *ACSide) Keys() []limit.Key {
	return append([]limit.Key{
		limit.Num("voltage_v", &s.VoltageV, limit.Between(90, 260), "their voltage", "120").From("common practice"),
		limit.Num("breaker_a", &s.BreakerA, limit.Between(0, 200), "breaker or fuse behind the inverter; 0 means not known", "10").
			From("not known"),
		limit.OneOf("neutral_earth_bond", &s.Bond, []string{"unknown", "one_point", "floating"},
			"where the neutral of the outlets is joined to earth: a residual-current device works only with one_point", "one_point").
			From("not known"),
	}, sizeKeys("cable", "not known", &s.AreaMM2, &s.AWG)...)
}

// Check returns what is wrong with the parameters.
func (s *ACSide) Check() []limit.Fault {
	faults := limit.Check(s.Keys())
	if len(faults) == 0 && s.AreaMM2 > 0 && s.AWG != "" {
		faults = append(faults, twoSizes("cable"))
	}
	return faults
}

// Cable is the cable behind the breaker, laid as l; ok is false where its size is not known.
func (s *ACSide) Cable(l Lay) (r Run, ok bool) {
	return Run{AreaMM2: s.AreaMM2, AWG: s.AWG, Lay: l}, s.AreaMM2 > 0 || s.AWG != ""
}
