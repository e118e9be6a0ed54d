package array

import (
	"fmt"
	"math"
)

const (
	kOverQ     = 1.380649e-23 / 1.602176634e-19 // Boltzmann's constant over the elementary charge, V/K: exact in the SI
	zeroK      = 273.15
	stcK       = zeroK + 25
	coldestK   = 100   // no cell is colder; the equations go on to there
	gapEV      = 1.121 // band gap of silicon at 25 degC
	gapPerK    = -0.0002677
	leastLight = 0.01 // W/m2: a few full moons; less is night
)

// Diode is a module, or any group of equal ones, as a light current beside one diode and a shunt, behind a resistance in
// series, at one light and one cell temperature:
//
//	I = LightA - I0 [exp((V + I SeriesOhm)/IdealityV) - 1] - (V + I SeriesOhm) ShuntS
//
// W. De Soto, S. A. Klein, W. A. Beckman, "Improvement and validation of a model for photovoltaic array performance", Solar
// Energy 80 (2006) 78-88, from memory. The diode's saturation current I0 stands as its logarithm, since a hard knee takes it
// below the least number. The zero value gives no current.
type Diode struct {
	LightA    float64 // > 0, or 0 in the dark
	LnI0      float64 // of I0 in A
	IdealityV float64 // ideality x cells x kT/q, > 0
	SeriesOhm float64 // >= 0
	ShuntS    float64 // 1 over the shunt's ohms, >= 0
}

// Under moves the diode from STC to wm2 (W/m2, used light) and cells at cellC (degC). tempCoeffAPerK is the change of the
// short-circuit current at STC, A/K. The rules are De Soto's, for silicon: IdealityV with the temperature; I0 with T^3
// exp(-gap/kT), the gap 1.121 eV less 0.02677 % a kelvin; the shunt's conductance with the light. It is the zero Diode
// without light.
func (d Diode) Under(wm2, cellC, tempCoeffAPerK float64) Diode {
	if !(wm2 > leastLight) || d.IdealityV == 0 {
		return Diode{}
	}
	tK := max(coldestK, cellC+zeroK)
	gap := gapEV * (1 + gapPerK*(tK-stcK))
	d.LightA = max(0, d.LightA+tempCoeffAPerK*(tK-stcK)) * wm2 / 1000
	d.LnI0 += 3*math.Log(tK/stcK) + (gapEV/stcK-gap/tK)/kOverQ
	d.IdealityV *= tK / stcK
	d.ShuntS *= wm2 / 1000
	return d
}

// CurrentA is the current at v (V), A. It runs on below short circuit and beyond open circuit, where it is negative.
func (d Diode) CurrentA(v float64) float64 {
	at := d.terminals()
	return at.currentA(v)
}

// terminals is a diode with what its explicit current at a voltage needs but for the voltage.
type terminals struct {
	Diode
	i0, share, seriesOhm, lnW float64
}

func (d *Diode) terminals() terminals {
	if d.IdealityV == 0 {
		return terminals{}
	}
	share := 1 / (1 + d.SeriesOhm*d.ShuntS)
	return terminals{*d, math.Exp(d.LnI0), share, d.SeriesOhm * share, math.Log(d.SeriesOhm*share/d.IdealityV) + d.LnI0}
}

// currentA is explicit by A. Jain, A. Kapoor, "Exact analytical solutions of the parameters of real solar cells using Lambert
// W-function", Solar Energy Materials & Solar Cells 81 (2004) 269-277, but solved for x, the voltage behind the series
// resistance: that loses no digits where the resistance is small, and holds for none.
func (d *terminals) currentA(v float64) float64 {
	a := d.IdealityV
	if a == 0 {
		return 0
	}
	x, diodeA := v, 0.0
	if d.SeriesOhm == 0 {
		diodeA = math.Exp(d.LnI0 + v/a)
	} else {
		x = (v + d.SeriesOhm*(d.LightA+d.i0)) * d.share
		w := omega(d.lnW + x/a)
		x -= a * w
		if diodeA = a * w / d.seriesOhm; d.SeriesOhm*(diodeA/a+d.ShuntS) > 1 {
			return (x - v) / d.SeriesOhm // where the curve is steep, this keeps more digits
		}
	}
	return d.LightA + d.i0 - diodeA - x*d.ShuntS
}

// inner is the current with x behind the series resistance, A.
func (d *Diode) inner(x float64) float64 { return d.LightA - d.diodeA(x) - x*d.ShuntS }

func (d *Diode) diodeA(x float64) float64 {
	return math.Exp(d.LnI0+x/d.IdealityV) - math.Exp(d.LnI0)
}

// VoltageV is the voltage at which the current is amps (A, at most the light's), V.
func (d Diode) VoltageV(amps float64) float64 {
	if d.IdealityV == 0 {
		return 0
	}
	left := d.LightA + math.Exp(d.LnI0) - amps // through diode and shunt
	if !(left > 0) {
		panic(fmt.Sprintf("array: Diode.VoltageV: %v A: want less than the light's %v A", amps, d.LightA))
	}
	a := d.IdealityV
	if d.ShuntS == 0 {
		return a*(math.Log(left)-d.LnI0) - amps*d.SeriesOhm
	}
	w := omega(d.LnI0 - math.Log(d.ShuntS*a) + left/(d.ShuntS*a))
	x := a * (math.Log(d.ShuntS*a*w) - d.LnI0)
	if w < 1 { // the shunt takes most
		x = left/d.ShuntS - a*w
	}
	return x - amps*d.SeriesOhm
}

// MaxPower is the point of most power: its voltage (V) and current (A). Both are 0 in the dark.
func (d Diode) MaxPower() (v, amps float64) {
	if d.IdealityV == 0 || d.LightA == 0 {
		return 0, 0
	}
	// Power has its peak where I + x I' - 2 R I I' = 0, with x behind the series resistance and I' the slope there.
	a := d.IdealityV
	i0 := math.Exp(d.LnI0)
	lo, hi := 0.0, d.VoltageV(0)
	x := hi - a*math.Log1p(hi/a)
	for range 100 {
		e := math.Exp(d.LnI0 + x/a)
		i, slope := d.LightA-(e-i0)-x*d.ShuntS, e/a+d.ShuntS
		rest := x - 2*d.SeriesOhm*i
		miss := i - rest*slope
		if miss > 0 {
			lo = x
		} else {
			hi = x
		}
		next := x - miss/(-2*slope-2*d.SeriesOhm*slope*slope-rest*e/(a*a))
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		if math.Abs(next-x) <= 1e-9*hi { // the peak is flat
			x = next
			break
		}
		x = next
	}
	amps = d.inner(x)
	return x - amps*d.SeriesOhm, amps
}

// omega is w > 0 with w + ln w = l: Lambert's W of exp(l), which itself would overflow for an ordinary module (K. Roberts, S.
// R. Valluri, arXiv:1601.02679, treat that).
func omega(l float64) float64 {
	if l < -7 { // on the flat part of a curve: W(z) as a series in z, whose next term is below 1e-14 of the first
		z := math.Exp(l)
		return z * (1 - z*(1-z*(3./2-z*(8./3-z*125/24))))
	}
	w := l - math.Log(max(l, 1))
	if l < 1 {
		w = math.Exp(l)
	}
	for range 20 { // Newton
		next := w * (1 + l - math.Log(w)) / (1 + w)
		if math.Abs(next-w) <= 1e-8*w { // the steps shrink by squares: the next would be below 1e-16
			return next
		}
		w = next
	}
	return w
}
