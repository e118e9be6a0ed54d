package array

import "math"

// Fit says how much of a datasheet one diode can carry.
type Fit int

// All of it; all but the voltage's temperature coefficient, of which the nearest that can be had; or only the three points,
// the second as near as may be, with the most power elsewhere. The last is for numbers that no module has.
const (
	Whole Fit = iota
	ButTempCoeff
	PointsOnly
)

func (f Fit) String() string {
	return [...]string{"the whole data sheet", "all but the voltage's temperature coefficient", "only the three points"}[f]
}

// Diode returns the module at STC as one diode, and how much of the datasheet it carries. The module must pass Check.
//
// Five numbers are sought so that the curve passes through short circuit, open circuit and the point of maximum power, has
// its peak there, and moves its open-circuit voltage by the datasheet's coefficient over 10 K (De Soto et al. 2006). With x
// = V + I Rs the curve is a constant less an exponential less a line: for a trial Rs the three points leave free how sharp
// its knee is, and the peak fixes that. Rs then goes by the temperature coefficient: the greater it is, the sharper the
// knee, and the less the voltage falls with warmth. A shunt that gives power is refused, which sets a least Rs; a module
// whose voltage falls more than a diode with that one's gets that one.
func (m Module) Diode() (Diode, Fit) {
	least, most := 0.0, (m.OcVoltageV-m.MpVoltageV)/m.MpCurrentA // with the most, the knee is a corner
	tooLittle := func(ohm float64) bool {
		d, knee := m.diode(ohm)
		return knee == tooSoft || knee == found && d.ShuntS < 0
	}
	if tooLittle(0) {
		_, least = bisect(0, most, tooLittle)
	}
	d, knee := m.diode(least)
	switch {
	case knee != found:
		return m.pointsOnly(), PointsOnly
	case m.stiff(d):
		return d, ButTempCoeff
	}
	ohm, _ := bisect(least, most, func(ohm float64) bool {
		d, knee := m.diode(ohm)
		return knee == found && d.ShuntS >= 0 && !m.stiff(d)
	})
	d, _ = m.diode(ohm)
	return d, Whole
}

// A knee that was found, or the side on which it lies out of reach.
type knee int

const (
	found knee = iota
	tooSoft
	tooHard
)

// What the open-circuit voltage may be of IdealityV: 20 to 30 is usual, and far outside digits are lost.
const softest, hardest = 1, 1e4

// stiff reports whether the diode's open-circuit voltage falls less over 10 K than the datasheet says.
func (m *Module) stiff(d Diode) bool {
	const dK = 10
	warm := d.Under(1000, 25+dK, m.CurrentCoeffPerK*m.ScCurrentA)
	return warm.inner(m.OcVoltageV*(1+m.VoltageCoeffPerK*dK)) > 0
}

// diode is the module with ohm in series: through its three points, the peak at the second.
func (m *Module) diode(ohm float64) (Diode, knee) {
	x := m.MpVoltageV + m.MpCurrentA*ohm
	left, right := x-m.ScCurrentA*ohm, m.OcVoltageV-x // from the peak to the other two points, V
	if !(left > 0 && right > 0) {
		return Diode{}, tooHard
	}
	// Slopes, with the sign turned: the chords, and the one with which the power has its peak.
	flat, steep := (m.ScCurrentA-m.MpCurrentA)/left, m.MpCurrentA/right
	peak := m.MpCurrentA / (m.MpVoltageV - m.MpCurrentA*ohm)
	if !(peak-flat > 1e-9*peak && steep-peak > 1e-9*peak) { // a straight line, but for rounding
		return Diode{}, tooSoft
	}
	share := (peak - flat) / (steep - flat)
	// With an exponential of e^(k (x - peak)), k = 1/IdealityV, the slope lies near/all of the way between the chords.
	parts := func(k float64) (near, all float64) {
		l := -math.Expm1(-k*left) / left
		return k - l, math.Expm1(k*right)/right - l
	}
	soft := func(logK float64) bool {
		near, all := parts(math.Exp(logK))
		return near > share*all
	}
	lo, hi := math.Log(max(softest/m.OcVoltageV, 1e-3/(left+right))), math.Log(min(700/right, hardest/m.OcVoltageV))
	switch {
	case lo > hi:
		return Diode{}, tooHard
	case !soft(lo):
		return Diode{}, tooSoft
	case soft(hi):
		return Diode{}, tooHard
	}
	logK, _ := bisect(lo, hi, soft)
	k := math.Exp(logK)
	near, all := parts(k)
	b := (steep - flat) / all // its part of the slope at the peak is k times this
	d := Diode{LnI0: math.Log(b) - k*x, IdealityV: 1 / k, SeriesOhm: ohm, ShuntS: flat - b*(k-near)}
	d.LightA = d.diodeA(m.OcVoltageV) + d.ShuntS*m.OcVoltageV
	return d, found
}

// pointsOnly goes through the three points, or near the second where that is a corner or all is straight. It has no
// resistances, and the peak of its power may lie elsewhere.
func (m *Module) pointsOnly() Diode {
	share := 1 - m.MpCurrentA/m.ScCurrentA // of the light's current that the diode takes at the second point
	logK, _ := bisect(math.Log(softest/m.OcVoltageV), math.Log(hardest/m.OcVoltageV), func(logK float64) bool {
		k := math.Exp(logK)
		return math.Exp(k*(m.MpVoltageV-m.OcVoltageV))-math.Exp(-k*m.OcVoltageV) > -share*math.Expm1(-k*m.OcVoltageV)
	})
	kV := math.Exp(logK) * m.OcVoltageV
	return Diode{LightA: m.ScCurrentA, LnI0: math.Log(m.ScCurrentA) - kV - math.Log(-math.Expm1(-kV)), IdealityV: m.OcVoltageV / kV}
}

// bisect returns neighbours between lo and hi of which is holds for the first and not for the second, as it does for lo and
// not for hi. The library of numerics has no root finder of one variable.
func bisect(lo, hi float64, is func(float64) bool) (last, first float64) {
	for range 60 {
		if mid := (lo + hi) / 2; is(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo, hi
}
