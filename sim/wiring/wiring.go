// Package wiring turns a two-wire copper run into the resistance that stands in the way, and from it voltage drop and
// loss; and into the current that it may carry, with the fuse that protects it.
package wiring

import (
	"fmt"

	"tideover/sim/limit"
)

// CopperOhmMM2PerM is the usual round figure for copper wire at 20 C, ohm mm2/m: common practice. Annealed copper as such
// has 0.01724.
const CopperOhmMM2PerM = 0.0175

// Run is one pair of wires, out and back. Its size is AreaMM2 or AWG, not both.
type Run struct {
	LengthM float64 // one way; 0: none
	AreaMM2 float64 // of one conductor's copper
	AWG     string  // American wire gauge, "18" to "4/0"; "": by AreaMM2
	Lay
}

// Keys declares `NAME_length_m`, `NAME_area_mm2` and `NAME_awg`. How it is made and laid has Keys of its own.
func (r *Run) Keys(name string) []limit.Key {
	where := map[string]string{"array": " from array to controller", "controller": " from controller to fuse board", "battery": " from battery to fuse board",
		"inverter": " from fuse board to inverter", "dc_loads": " from fuse board to the DC loads"}[name]
	return append([]limit.Key{
		limit.Num(name+"_length_m", &r.LengthM, limit.Between(0, 200), "length of the cable"+where+", one way; 0 means none", "1.5").
			From("no cable"),
	}, sizeKeys(name, "no cable", &r.AreaMM2, &r.AWG)...)
}

// sizeKeys declares the two ways in which a cable's size may be typed.
func sizeKeys(name, origin string, areaMM2 *float64, awg *string) []limit.Key {
	return []limit.Key{
		limit.Num(name+"_area_mm2", areaMM2, limit.Between(0, 400), "copper of one of its two conductors", "16").From(origin),
		limit.Parsed(name+"_awg", func(words []string) error {
			size, err := gaugeNamed(words)
			if err == nil {
				*awg = size
			}
			return err
		}, "the same as American wire gauge, in place of the area", "6").From(origin),
	}
}

// Check returns what is wrong with the run whose keys begin with name.
func (r *Run) Check(name string) []limit.Fault {
	faults := limit.Check(r.Keys(name))
	switch {
	case len(faults) > 0:
	case r.AreaMM2 > 0 && r.AWG != "":
		faults = append(faults, twoSizes(name))
	case r.LengthM > 0 && r.AreaMM2 == 0 && r.AWG == "":
		faults = append(faults, limit.Fault{Key: name + "_area_mm2", Msg: "is missing beside " + name + "_length_m", Example: "16"})
	case r.AreaMM2 > 0 && r.LengthM == 0:
		faults = append(faults, limit.Fault{Key: name + "_length_m", Msg: "is missing beside " + name + "_area_mm2", Example: "1.5"})
	case r.AWG != "" && r.LengthM == 0:
		faults = append(faults, limit.Fault{Key: name + "_length_m", Msg: "is missing beside " + name + "_awg", Example: "1.5"})
	}
	return faults
}

func twoSizes(name string) limit.Fault {
	return limit.Fault{Key: name + "_awg", Msg: "stands beside " + name + "_area_mm2: type one of the two"}
}

// There reports whether there is such a cable.
func (r Run) There() bool { return r.LengthM > 0 }

// Size names the size: "16 mm2", "6 AWG".
func (r Run) Size() string {
	if r.AWG != "" {
		return r.AWG + " AWG"
	}
	return fmt.Sprintf("%.4g mm2", r.AreaMM2)
}

// OhmPerM is the resistance of one metre of one fine-stranded conductor at 20 C: the highest that the standard allows where
// the size is one of its, else CopperOhmMM2PerM over the area. It panics on an area that is not above 0: our bug.
func OhmPerM(areaMM2 float64) float64 { return ohmPerM20(areaMM2, Fine) }

func ohmPerM20(areaMM2 float64, s Strands) float64 {
	if !(areaMM2 > 0) {
		panic(fmt.Sprintf("wiring: OhmPerM: areaMM2 is %v, want > 0", areaMM2))
	}
	for _, m := range metric {
		if m.areaMM2 == areaMM2 {
			return m.ohmPerKm[s] / 1000
		}
	}
	return CopperOhmMM2PerM / areaMM2
}

// ohmPerM is that of one metre of one conductor of the run, as warm as it is. From 20 C by exact copper, 234.5 + T (from
// memory); from the 75 C of the gauges' table by 0.00323 for each kelvin, as printed below that table.
func (r Run) ohmPerM() float64 {
	if r.AWG != "" {
		const ohmPerKmOfKft = 3.28084
		return gaugeOf(r.AWG).ohmPerKft * ohmPerKmOfKft / 1000 * (1 + 0.00323*(r.CopperC()-75))
	}
	if r.WarmK == 0 {
		return ohmPerM20(r.AreaMM2, r.Strands)
	}
	return ohmPerM20(r.AreaMM2, r.Strands) * (234.5 + r.CopperC()) / 254.5
}

// ResistanceOhm is that of both wires together, at the temperature of the copper.
func (r Run) ResistanceOhm() float64 {
	if r.LengthM == 0 {
		return 0
	}
	return 2 * r.LengthM * r.ohmPerM()
}

// DropV is the voltage lost at currentA over a run of lengthM one way, V = 2 L I R', out and back.
func DropV(lengthM, currentA, ohmPerM float64) float64 { return 2 * lengthM * currentA * ohmPerM }
