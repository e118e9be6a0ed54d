package climate

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"
)

// shape is what a place's latitude, or the user, says of how its days differ.
type shape struct {
	lag1  float64 // correlation of one day's clearness with the next
	power float64 // m of the law of days
	floor float64 // the least clearness, over the mean
	ramp  float64 // how far above the floor the law is thinned out, over the mean
}

// The knots are fitted to measured series, our own. Straight lines between them, flat outside.
var (
	lag1Knots  = knots([]float64{8, 20, 33, 45}, []float64{0.25, 0.50, 0.36, 0.27})
	powerKnots = knots([]float64{6, 20, 37, 52}, []float64{4.7, 1.5, 0.05, 0.7})
)

// Fitted likewise, in two ways at once: so that the darkest three days of a year differ between years as they do, which a
// hard floor at 0.18 of the mean does not let them, and so that what such a floor gives for five days and longer is kept.
// Of sixty floors and ramps, linear, square and root, few do both: the root from 0.08 over 0.50 to 0.52 is one.
const floorPer, rampPer = 0.08, 0.50

func knots(latDeg, value []float64) interp.PiecewiseLinear {
	var l interp.PiecewiseLinear
	if err := l.Fit(latDeg, value); err != nil {
		panic(fmt.Sprintf("climate: knots: %v", err))
	}
	return l
}

// shapeAt returns the shape at a latitude, changed by the options.
func shapeAt(latDeg float64, o Options) shape {
	lat := math.Abs(latDeg)
	s := shape{lag1Knots.Predict(lat), powerKnots.Predict(lat), floorPer, rampPer}
	switch o.Kind {
	case OceanCoast:
		s.lag1, s.power = 0.18, 1
	case DullCoast:
		s = shape{0.52, 0.25, floorPer * 2 / 3, rampPer * 2 / 3}
	}
	if o.Persistence > 0 {
		s.lag1 = o.Persistence
	}
	return s
}

// dayLaw is the law of the clearness K of a day: density proportional to (top - K)^m exp(l K) from floor to top, with m 1
// and floor 0 that of K. G. T. Hollands, R. G. Huget, Solar Energy 30(3), 195-209 (1983), whose days fall to nothing far
// too often; so the density is thinned out near the floor, times the root of (K - floor)/ramp up to 1.
type dayLaw struct {
	top, floor float64
	stretch    float64 // l, per unit of clearness
	sd         float64
	inverse    interp.PiecewiseLinear
}

// cells cuts (0, 1) into equal parts, for the integral of v^m times anything.
type cells struct {
	weight, centre []float64 // the integral of v^m over each part, and its own mean of v
}

const cellCount = 500

func newCells(m float64) cells {
	c := cells{make([]float64, cellCount), make([]float64, cellCount)}
	var low0, low1 float64 // v^(m+1) and v^(m+2) at the lower end
	for i := range cellCount {
		v := float64(i+1) / cellCount
		high0 := math.Pow(v, m+1)
		high1 := high0 * v
		c.weight[i] = (high0 - low0) / (m + 1)
		c.centre[i] = (high1 - low1) / (m + 2) / c.weight[i]
		low0, low1 = high0, high1
	}
	return c
}

// moments returns mean and standard deviation of v under v^m exp(-s v) on (0, 1), and fills share, when it is not nil,
// with the weight of each part, not normalised.
func (c cells) moments(s float64, share []float64) (mean, sd float64) {
	most := max(0, -s) // the largest exponent, taken out so that nothing overflows
	// From one centre to the next is a cell, but for a little that falls off as the square of their number: beyond the
	// first ones the exponential goes on by a product, exact to 1e-12 (three terms of its series).
	const near, steep = 16, 200
	cell := math.Exp(-s / cellCount)
	var sum, first, second, e float64
	for i, v := range c.centre {
		if i < near || math.Abs(s) > steep {
			e = math.Exp(-s*v - most)
		} else {
			x := -s * (v - c.centre[i-1] - 1.0/cellCount)
			e *= cell * (1 + x*(1+x*(0.5+x*(1.0/6))))
		}
		w := c.weight[i] * e
		if share != nil {
			share[i] = w
		}
		sum += w
		first += w * v
		second += w * v * v
	}
	mean = first / sum
	return mean, math.Sqrt(max(0, second/sum-mean*mean))
}

// newDayLaw returns the law whose mean is mean. Its top is that of P. Bendt, M. Collares-Pereira, A. Rabl, Solar Energy
// 27, 1-5 (1981), in the closed form of Duffie and Beckman, eq. 2.9.6. The search for l starts from near.
func newDayLaw(mean float64, s shape, c cells, near float64) dayLaw {
	w := dayLaw{top: 0.6313 + 0.267*mean - 11.9*math.Pow(mean-0.75, 8), floor: s.floor * mean}
	w.top = max(w.top, mean+0.03) // the fit falls off below the clearness of real places
	span := w.top - w.floor
	if s.ramp > 0 {
		thin := cells{make([]float64, cellCount), c.centre}
		for i, v := range c.centre {
			thin.weight[i] = c.weight[i]
			if above := span * (1 - v) / (s.ramp * mean); above < 1 {
				thin.weight[i] *= math.Sqrt(above)
			}
		}
		c = thin
	}
	// v = (top - K)/span has the density v^m exp(-l span v), thinned. Its mean falls as l grows. gonum has no root finder for one
	// number, so: Newton's step, or halving where that would leave the bracket.
	want := (w.top - mean) / span
	lo, hi := -2000.0, 2000.0
	stretch := near * span
	for range 60 {
		got, sd := c.moments(stretch, nil)
		if math.Abs(got-want) < 1e-9 {
			break
		}
		if got > want {
			lo = stretch
		} else {
			hi = stretch
		}
		next := stretch + (got-want)/(sd*sd)
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		stretch = next
	}
	share := make([]float64, cellCount)
	_, sd := c.moments(stretch, share)
	w.stretch, w.sd = stretch/span, sd*span
	var sum float64
	for _, v := range share {
		sum += v
	}
	at, value := make([]float64, 1, cellCount+1), make([]float64, 1, cellCount+1)
	value[0] = w.floor
	var below float64
	for i := cellCount - 1; i >= 0; i-- { // from the floor, v = 1, up
		below += share[i] / sum
		if k := w.top - span*float64(i)/cellCount; below > at[len(at)-1] { // the tail of a steep law may round to nothing
			at, value = append(at, below), append(value, k)
		} else {
			value[len(value)-1] = k
		}
	}
	if err := w.inverse.Fit(at, value); err != nil {
		panic(fmt.Sprintf("climate: the law of days with mean %v: %v", mean, err))
	}
	return w
}

// quantile returns the clearness below which a share of days lies.
func (w dayLaw) quantile(share float64) float64 { return w.inverse.Predict(share) }
