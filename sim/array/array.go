package array

import (
	"fmt"
	"math"
	"strconv"

	"tideover/sim/limit"
)

// Array is equal strings of equal modules on one plane. Start from Default.
type Array struct {
	Module       Module
	InSeries     int     // modules in a string
	InParallel   int     // strings
	MismatchLoss float64 // share of the power lost because no two modules are equal, 0..0.5
	AgeYears     float64 // years in the light
	LossPerYear  float64 // share of what is left that each year takes, 0..0.1
}

// Default returns one module alone, new, with a typical module's coefficients; its plate must be typed.
func Default() Array {
	return Array{Module: DefaultModule(), InSeries: 1, InParallel: 1, MismatchLoss: 0.02, LossPerYear: 0.005}
}

// Keys lists the parameters as a person types them, reading and writing a. The module has Keys of its own.
func (a *Array) Keys() []limit.Key {
	return []limit.Key{
		limit.Int("modules_in_series", &a.InSeries, limit.Between(1, 100), "modules in one string", "2").From("a module alone"),
		limit.Int("strings_in_parallel", &a.InParallel, limit.Between(1, 1000), "strings side by side", "1").From("one string"),
		limit.Num("mismatch_loss", &a.MismatchLoss, limit.Between(0, 0.5),
			"share of the power lost because no two modules are equal", "0.02").From("common practice"),
		limit.Num("age_years", &a.AgeYears, limit.Between(0, 100), "years the modules have been in the light", "0").From("new"),
		limit.Num("loss_per_year", &a.LossPerYear, limit.Between(0, 0.1),
			"share of the power that each year takes, compound", "0.005").From("median of Jordan & Kurtz 2013"),
	}
}

// Check returns what is wrong with the parameters, in the order of Keys; nil when nothing is. The module's faults come
// from Module.Check.
func (a Array) Check() []limit.Fault {
	faults := limit.Check(a.Keys())
	for i := range faults {
		switch f := &faults[i]; f.Key {
		case "mismatch_loss":
			f.Msg += percentHint(a.MismatchLoss, 0.5)
		case "loss_per_year":
			f.Msg += percentHint(a.LossPerYear, 0.1)
		}
	}
	return faults
}

// percentHint names the likely slip behind a fraction above hi.
func percentHint(v, hi float64) string {
	if !(v > hi && v <= 100*hi) {
		return ""
	}
	return fmt.Sprintf(": it looks like percent; %s %% is %s", limit.Plain(v), strconv.FormatFloat(v/100, 'g', 4, 64))
}

// RatedW is the power on the plates, W: at STC, new, without mismatch.
func (a Array) RatedW() float64 {
	return a.Module.PowerW * float64(a.InSeries) * float64(a.InParallel)
}

// CellTempC is the temperature of the cells, degC, under planeWm2 (W/m2, all light on the plane before glass and dirt,
// >= 0), in air of airC (degC) and a wind of windMs (m/s at 10 m in the open, >= 0). Steady state: a module follows
// within minutes. In a sheltered yard the true wind is less and the cells warmer.
// Source: King, Boyson & Kratochvil 2004, see mounts. Made for crystalline silicon. It panics on a NaN: our bug.
func (a Array) CellTempC(planeWm2, airC, windMs float64) float64 {
	if math.IsNaN(planeWm2 + airC + windMs) {
		panic(fmt.Sprintf("array: CellTempC: plane %v W/m2, air %v degC, wind %v m/s: want numbers", planeWm2, airC, windMs))
	}
	_, cellC := mounts[a.Module.Mounting].tempC(max(0, planeWm2), airC, max(0, windMs))
	return cellC
}

func (m mount) tempC(planeWm2, airC, windMs float64) (backC, cellC float64) {
	backC = airC + planeWm2*math.Exp(m.a+m.b*windMs)
	return backC, backC + planeWm2/1000*m.dTC
}

// PowerW is what the array could give at its maximum-power point, W, under usableWm2 (W/m2, after glass and dirt) with
// cells at cellC (degC), after mismatch and age. It is 0 without light and never negative.
//
//	rated x G/1000 x [1 + power coefficient x (cell - 25)] x lowLight(G) x (1 - mismatch) x (1 - loss a year)^age
//
// The temperature factor is datasheet practice (IEC 60891); the low-light factor is from Huld et al. 2011, see
// lowLight. Their own temperature terms are left out, so that the datasheet's coefficient stands; the small change of
// the coefficient with light goes with them. Light of another colour than at STC is not corrected for. Age is compound.
// It panics on a NaN: our bug.
func (a Array) PowerW(usableWm2, cellC float64) float64 {
	if math.IsNaN(usableWm2 + cellC) {
		panic(fmt.Sprintf("array: PowerW: light %v W/m2, cells %v degC: want numbers", usableWm2, cellC))
	}
	if usableWm2 <= 0 {
		return 0
	}
	warm := max(0, 1+a.Module.PowerCoeffPerK*(cellC-25))
	return a.RatedW() * usableWm2 / 1000 * warm * lowLight(usableWm2) * (1 - a.MismatchLoss) * a.ageFactor()
}

// ageFactor is the share of the power left by age: (1 - d)^years, compound. Source of the default d: D. C. Jordan, S. R.
// Kurtz, "Photovoltaic degradation rates - an analytical review", Prog. Photovolt. 21 (2013) 12-29, median 0.5 %/year.
func (a Array) ageFactor() float64 { return math.Pow(1-a.LossPerYear, a.AgeYears) }

// lowLight is a module's efficiency under wm2 (W/m2, > 0) relative to 1000 W/m2, cells at 25 degC: T. Huld et al., "A
// power-rating model for crystalline silicon PV modules", Solar Energy Materials & Solar Cells 95 (2011) 3359-3369, the
// two terms of light alone. Fitted for about 50 to 1100 W/m2 on modules of before 2011; newer ones lose less. The
// logarithm is not followed below 10 W/m2.
func lowLight(wm2 float64) float64 {
	l := math.Log(max(0.01, wm2/1000))
	return max(0, 1+l*(-0.017237-0.040465*l))
}

// MpVoltageV is the voltage of the array at maximum power, V, with cells at cellC (degC). The power's coefficient is
// used, because nearly all that warmth takes from the power it takes from this voltage: the current changes by less than
// 0.02 %/K. It does not depend on the light, an approximation good to 2 % from 250 to 1000 W/m2 and to 3 % at 200; below,
// it is too high. It panics on a NaN: our bug.
func (a Array) MpVoltageV(cellC float64) float64 {
	if math.IsNaN(cellC) {
		panic("array: MpVoltageV: cells at NaN degC: want a number")
	}
	return float64(a.InSeries) * a.Module.MpVoltageV * max(0, 1+a.Module.PowerCoeffPerK*(cellC-25))
}

// OcVoltageV is the open-circuit voltage of the array, V, under usableWm2 (W/m2) with cells at cellC (degC): the
// datasheet's, moved by its coefficient and by the diode's N kT/q ln(G/1000) for N cells in series of ideality 1. It is 0
// without light. Shunt paths are left out, so in dim light (under about 50 W/m2) it is too high; in frost the straight
// line is high by 0.1 %, on the safe side where an input rating is checked. It panics on a NaN: our bug.
func (a Array) OcVoltageV(usableWm2, cellC float64) float64 {
	if math.IsNaN(usableWm2 + cellC) {
		panic(fmt.Sprintf("array: OcVoltageV: light %v W/m2, cells %v degC: want numbers", usableWm2, cellC))
	}
	if usableWm2 <= 0 {
		return 0
	}
	m := a.Module
	v := m.OcVoltageV*(1+m.VoltageCoeffPerK*(cellC-25)) + m.seriesCells()*kOverQ*(cellC+zeroK)*math.Log(usableWm2/1000)
	return float64(a.InSeries) * max(0, v)
}
