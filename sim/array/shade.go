package array

import (
	"fmt"
	"math"
)

// Point is a working point of the array: its power (W) at the module terminals, the voltage there (V), and the
// open-circuit voltage at that moment (V).
type Point struct{ PowerW, MpVoltageV, OcVoltageV float64 }

// Clear is the maximum-power point under usableWm2 everywhere, with cells at cellC: PowerW, MpVoltageV, OcVoltageV.
func (a Array) Clear(usableWm2, cellC float64) Point {
	return Point{a.PowerW(usableWm2, cellC), a.MpVoltageV(cellC), a.OcVoltageV(usableWm2, cellC)}
}

// diodeV is the drop of a bypass diode that carries the string's current: typical of a Schottky diode, from memory.
const diodeV = 0.5

// Shaded returns the two points between which a tracker may choose when a share of the array, above 0 to 1, gets dimWm2 and
// the rest clearWm2 (usable light, W/m2, dim <= clear), cells at cellC everywhere.
//
// Across (along is false), the shadow lies over the same share of every string, in whole groups of cells, rounded up. Then
// held: all cells carry the current of the dim ones, at full voltage; what the bright ones would gain in voltage above
// their maximum-power point is left out, so that this is low by some 5 to 10 % of their part. Bypassed: the bright groups
// run at their best, the dim ones pass the current through their diodes. Along, it lies over one string after another: the
// strings that it touches are held, the others are not; nothing is bypassed. One string alone is always across.
//
// It panics on a share outside (0, 1], or on dim light brighter than clear: our bug.
func (a Array) Shaded(clearWm2, dimWm2, share, cellC float64, along bool) (held, bypassed Point) {
	if !(share > 0 && share <= 1) || !(dimWm2 <= clearWm2) {
		panic(fmt.Sprintf("array: Shaded: share %v, dim %v W/m2, clear %v W/m2: want 0 < share <= 1 and dim <= clear",
			share, dimWm2, clearWm2))
	}
	clear, dim := a.Clear(clearWm2, cellC), a.Clear(dimWm2, cellC)
	touched, across, dropV := a.touched(share, along)
	if !across {
		held = clear
		if touched == 1 {
			held.OcVoltageV = dim.OcVoltageV
		}
		held.PowerW = clear.PowerW*(1-touched) + dim.PowerW*touched
		return held, Point{}
	}
	openV := clear.OcVoltageV*(1-touched) + dim.OcVoltageV*touched
	held = Point{dim.PowerW, dim.MpVoltageV, openV}
	bypassed = Point{MpVoltageV: max(0, clear.MpVoltageV*(1-touched)-dropV), OcVoltageV: openV}
	if clear.MpVoltageV > 0 {
		bypassed.PowerW = clear.PowerW * bypassed.MpVoltageV / clear.MpVoltageV
	}
	return held, bypassed
}

// touched is how much a shadow over a share of the array switches off: a share of each string in whole groups of cells, with
// the voltage that their diodes drop, or, not across, of the strings.
func (a *Array) touched(share float64, along bool) (touched float64, across bool, dropV float64) {
	n := a.InParallel
	if across = !along || n == 1; across {
		n = a.InSeries * max(1, a.Module.BypassGroups)
	}
	touched = min(1, math.Ceil(share*float64(n)-1e-9)/float64(n))
	if across {
		dropV = diodeV * touched * float64(n)
	}
	return touched, across, dropV
}
