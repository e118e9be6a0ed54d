package array

import (
	"fmt"
	"math"
)

// Curve is an array with its whole current-voltage curve. Array.Curve makes it; it does not change.
type Curve struct {
	Fit    Fit // how much of the datasheet the curve carries
	array  Array
	module Diode // at STC
}

// Curve fits the module's datasheet, which takes about a millisecond: once for a run. The array must pass Check.
func (a Array) Curve() *Curve {
	d, fit := a.Module.Diode()
	return &Curve{fit, a, d}
}

// under is the whole array as one diode, under usableWm2 with cells at cellC, with its peak at PowerW.
//
// The curve gives the shape; how much there is stays with PowerW, so that a controller that holds the array at a voltage
// and one that seeks the peak are measured against one maximum: its low light, its power coefficient, mismatch and age. The
// current is scaled by the ratio of the two peaks, at every voltage. Where PowerW falls faster with less light than the
// curve's own peak (by 1 % at 500 W/m2, 6 % at 200, on modules of today), the current on the flat part of the curve is
// too low by as much; where the curve falls faster with warmth than the power's coefficient, it is too high.
func (c *Curve) under(usableWm2, cellC float64) Diode {
	d := c.module.Under(usableWm2, cellC, c.array.Module.CurrentCoeffPerK*c.array.Module.ScCurrentA)
	v, amps := d.MaxPower()
	powerW := c.array.PowerW(usableWm2, cellC)
	if !(v*amps > 0) || powerW == 0 {
		return Diode{}
	}
	series := float64(c.array.InSeries)
	return d.scaled(series, powerW/(v*amps*series))
}

// scaled is the diode with volts times the voltage at amps times the current.
func (d Diode) scaled(volts, amps float64) Diode {
	if d.IdealityV == 0 || volts == 0 || amps == 0 {
		return Diode{}
	}
	return Diode{
		LightA: d.LightA * amps, LnI0: d.LnI0 + math.Log(amps), IdealityV: d.IdealityV * volts,
		SeriesOhm: d.SeriesOhm * volts / amps, ShuntS: d.ShuntS * amps / volts,
	}
}

// CurrentsA returns the current of the whole array, A, with the far end of a cable of seriesOhm (both wires, >= 0) held at
// each of volts (V, any order): under usableWm2 (W/m2, after glass and dirt), with cells at cellC (degC). It is 0 without
// light and above the open-circuit voltage, as a controller lets none flow back. Current times the array's own voltage, v +
// seriesOhm x current, is never above PowerW, and reaches it at the peak. The result is dst when it has len(volts), else a
// new slice. It panics on a NaN or a negative resistance: our bug.
func (c *Curve) CurrentsA(dst []float64, usableWm2, cellC float64, volts []float64, seriesOhm float64) []float64 {
	dst = c.sized("CurrentsA", dst, len(volts), usableWm2, cellC, seriesOhm)
	d := c.under(usableWm2, cellC)
	d.SeriesOhm += seriesOhm // a cable is one more resistance in series
	at := d.terminals()
	for i, v := range volts {
		dst[i] = max(0, at.currentA(v))
	}
	return dst
}

// ShadedCurrentsA is CurrentsA under a shadow, with the arguments of Shaded and its two ways to stand it. Across, at each
// voltage, whichever carries more: all cells at the current of the dim ones, or the bright groups alone, with the dim ones
// passing the current through their diodes. Along, the strings touched and the others add up at one voltage. Current times
// the array's voltage is never above the better of the two points of Shaded. It panics where Shaded does.
func (c *Curve) ShadedCurrentsA(dst []float64, clearWm2, dimWm2, share, cellC float64, along bool, volts []float64, seriesOhm float64) []float64 {
	dst = c.sized("ShadedCurrentsA", dst, len(volts), clearWm2, cellC, seriesOhm)
	held, bypassed := c.array.Shaded(clearWm2, dimWm2, share, cellC, along)
	mostW := max(held.PowerW, bypassed.PowerW)
	clear, dim := c.under(clearWm2, cellC), c.under(dimWm2, cellC)
	touched, across, dropV := c.array.touched(share, along)
	if !across {
		clear, dim = clear.scaled(1, 1-touched), dim.scaled(1, touched)
		for i, v := range volts {
			dst[i] = capped(beside(clear, dim, v, seriesOhm), v, seriesOhm, mostW)
		}
		return dst
	}
	bright := clear.scaled(1-touched, 1)
	bright.SeriesOhm += seriesOhm
	dim.SeriesOhm += seriesOhm
	for i, v := range volts {
		dst[i] = capped(max(0, dim.CurrentA(v), bright.CurrentA(v+dropV)), v, seriesOhm, mostW)
	}
	return dst
}

// beside is the current of two diodes side by side behind one resistance, A, not below 0 of each.
func beside(a, b Diode, v, ohm float64) float64 {
	sum := func(at float64) float64 { return max(0, a.CurrentA(at)) + max(0, b.CurrentA(at)) }
	if ohm == 0 || sum(v) == 0 {
		return sum(v)
	}
	// The terminals lie above v by what the cable drops: false position, halving the weight of an end that stays twice
	// (the Illinois rule).
	drop := ohm * sum(v)
	lo, hi := v, v+drop
	under, over := -drop, drop-ohm*sum(hi)
	stayed := 0
	for range 100 {
		at := lo - under*(hi-lo)/(over-under)
		miss := at - v - ohm*sum(at)
		switch {
		case !(math.Abs(miss) > 1e-12*hi):
			return sum(at)
		case miss > 0:
			if hi, over = at, miss; stayed > 0 {
				under /= 2
			}
			stayed = 1
		default:
			if lo, under = at, miss; stayed < 0 {
				over /= 2
			}
			stayed = -1
		}
	}
	return sum(hi)
}

// capped is amps, or less where the array would give more than mostW (W) at its voltage v + ohm x amps.
func capped(amps, v, ohm, mostW float64) float64 {
	switch {
	case (v+ohm*amps)*amps <= mostW:
		return amps
	case mostW == 0:
		return 0
	}
	return 2 * mostW / (v + math.Sqrt(v*v+4*ohm*mostW))
}

func (c *Curve) sized(name string, dst []float64, n int, wm2, cellC, seriesOhm float64) []float64 {
	if math.IsNaN(wm2+cellC) || !(seriesOhm >= 0) {
		panic(fmt.Sprintf("array: %s: light %v W/m2, cells %v degC, cable %v ohm: want numbers, the last at least 0", name, wm2, cellC, seriesOhm))
	}
	if len(dst) != n {
		dst = make([]float64, n)
	}
	return dst
}
