// Package wiring turns a two-wire copper run into the resistance that stands in the way, and from it voltage drop and
// loss.
package wiring

import (
	"fmt"

	"tideover/sim/limit"
)

// CopperOhmMM2PerM is the usual round figure for copper wire at 20 C, ohm mm2/m: common practice. Annealed copper as such
// has 0.01724.
const CopperOhmMM2PerM = 0.0175

// class5 is the highest resistance at 20 C that IEC 60228 allows fine-stranded plain copper conductors (class 5), ohm/km.
var class5 = map[float64]float64{
	0.5: 39.0, 0.75: 26.0, 1: 19.5, 1.5: 13.3, 2.5: 7.98, 4: 4.95, 6: 3.30, 10: 1.91, 16: 1.21, 25: 0.780, 35: 0.554,
}

// Run is one pair of wires, out and back.
type Run struct {
	LengthM float64 // one way; 0: none
	AreaMM2 float64 // of one conductor's copper
}

// Keys declares `NAME_length_m` and `NAME_area_mm2`.
func (r *Run) Keys(name string) []limit.Key {
	return []limit.Key{
		limit.Num(name+"_length_m", &r.LengthM, limit.Between(0, 200), "length of the cable, one way; 0 means none", "1.5").
			From("no cable"),
		limit.Num(name+"_area_mm2", &r.AreaMM2, limit.Between(0, 400), "copper of one of its two conductors", "16").
			From("no cable"),
	}
}

// Check returns what is wrong with the run whose keys begin with name.
func (r *Run) Check(name string) []limit.Fault {
	faults := limit.Check(r.Keys(name))
	switch {
	case len(faults) > 0:
	case r.LengthM > 0 && r.AreaMM2 == 0:
		faults = append(faults, limit.Fault{Key: name + "_area_mm2", Msg: "is missing beside " + name + "_length_m", Example: "16"})
	case r.AreaMM2 > 0 && r.LengthM == 0:
		faults = append(faults, limit.Fault{Key: name + "_length_m", Msg: "is missing beside " + name + "_area_mm2", Example: "1.5"})
	}
	return faults
}

// OhmPerM is the resistance of one metre of one conductor at 20 C: the highest that the standard allows where the size is
// one of its, else CopperOhmMM2PerM over the area. It panics on an area that is not above 0: our bug.
func OhmPerM(areaMM2 float64) float64 {
	if !(areaMM2 > 0) {
		panic(fmt.Sprintf("wiring: OhmPerM: areaMM2 is %v, want > 0", areaMM2))
	}
	if r, ok := class5[areaMM2]; ok {
		return r / 1000
	}
	return CopperOhmMM2PerM / areaMM2
}

// ResistanceOhm is that of both wires together.
func (r Run) ResistanceOhm() float64 {
	if r.LengthM == 0 {
		return 0
	}
	return 2 * r.LengthM * OhmPerM(r.AreaMM2)
}

// DropV is the voltage lost at currentA over a run of lengthM one way, V = 2 L I R', out and back.
func DropV(lengthM, currentA, ohmPerM float64) float64 { return 2 * lengthM * currentA * ohmPerM }
