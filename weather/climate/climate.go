// Package climate turns twelve monthly means, of a known place or typed, and a seed into synthetic years of hourly
// weather: global light and air temperature.
//
// The chain is the plainest published one:
//
//   - Daily clearness (light on the level over light outside the air) follows the law of K. G. T. Hollands, R. G. Huget,
//     Solar Energy 30(3), 195-209 (1983), with its parameter solved so that the law's mean is exactly the month's.
//   - Days hang together by the Gaussian chain of V. A. Graham, K. G. T. Hollands, T. E. Unny, Solar Energy 40(2), 83-92
//     (1988): chi' = 0.29 chi + sqrt(1 - 0.29^2) e, mapped through the month's law. The chain runs on through the ends of
//     the months; only the law changes. (The value 0.29 is quoted from memory of the paper.)
//   - The hours share out the day by r_t of M. Collares-Pereira, A. Rabl, Solar Energy 22, 155-164 (1979), scaled so that
//     they sum to the day. An hour never has more light than the sun gives outside the air.
//   - Air temperature: the monthly means joined smoothly; the diurnal shape of D. G. Erbs, S. A. Klein, W. A. Beckman,
//     ASHRAE Journal 25(6), 60-65 (1983), in solar time, stretched to the place's own mean daily range; and a day-to-day
//     anomaly, a chain like the first. The 3.5 K of its standard deviation and the 0.7 of its day-to-day correlation, both
//     of daily means, are guesses in the middle of what stations show (2 to 7 K; 0.6 to 0.8).
//
// A monthly mean is the long-run expectation, not the mean of one year: no month is scaled to its mean, so dull Decembers
// occur. Each synthetic year is drawn by itself and does not carry over from the one before.
//
// What it leaves out: temperature does not know whether the day is bright; light within a day is smooth, without passing
// clouds; nothing hangs together for longer than a few days. Set against daily series of fourteen stations (our own comparison,
// not published), long dull spells come out right on average, but the law lets single days fall nearly to nothing: the
// darkest three days of one year in ten are about half as bright as real ones.
package climate

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/interp"
	"gonum.org/v1/gonum/stat/distuv"

	"tideover/weather"
)

const (
	lightPersistence = 0.29 // Graham, Hollands, Unny 1988; from memory

	// The anomaly of a day's mean temperature: guesses, see the package comment.
	anomalySDK  = 3.5
	anomalyLag1 = 0.7
	// The anomaly is drawn for the noons and joined by straight lines, so a day's mean is 1/8 of the noon before, 6/8 of
	// its own and 1/8 of the next. With a noon correlation r its variance is (38 + 24 r + 2 r^2)/64 of that of the noons
	// and its own correlation (12 + 39 r + 12 r^2 + r^3)/(38 + 24 r + 2 r^2): 0.7 at r = 0.521, with 0.893 of the noons' sd.
	noonLag1 = 0.521
	noonSDK  = anomalySDK / 0.893
)

// Generate returns the k-th (from 0) synthetic year of a seed: calendar year firstYear+k, hourly, 8784 hours in a leap
// year, with global light and air temperature; beam, diffuse light and wind are unknown. The same arguments give the same
// year. It panics on a negative k, and on means that p.Check refuses by more than a hair: call Check first.
func Generate(p Place, firstYear int, seed uint64, k int) *weather.Year {
	if k < 0 {
		panic(fmt.Sprintf("climate: Generate: k is %d, want 0 or more", k))
	}
	year := firstYear + k
	y := outside(p, year)
	mean := p.clearness(y, year)
	for m, kb := range mean {
		if !(kb > lowestClearness*0.9 && kb < highestClearness*1.02) {
			panic(fmt.Sprintf("climate: Generate: %s: clearness of month %d is %v, which Check refuses", p.Name, m+1, kb))
		}
	}
	rng := rand.New(rand.NewPCG(seed, uint64(k)))
	light, anomaly := newChain(rng, lightPersistence), newChain(rng, noonLag1)
	var laws [12]dayLaw
	for m := range laws {
		laws[m] = newDayLaw(mean[m])
	}
	days := len(y.dayWh)
	ghi := make([]float64, 24*days)
	anomalyK := make([]float64, days)
	for d := range days {
		clearness := laws[monthOf(year, d)].quantile(distuv.UnitNormal.CDF(light.next()))
		anomalyK[d] = noonSDK * anomaly.next()
		y.shareOut(ghi[24*d:24*d+24], d, p.LatDeg, clearness)
	}
	site := p.site()
	site.Source = fmt.Sprintf("synthetic year %d of seed %d, from monthly means: %s", k, seed, p.Source)
	return &weather.Year{
		Site: site, Start: y.start, StepMin: 60, GHIWm2: ghi, TempC: y.temperature(p, year, anomalyK),
		Notes: []string{
			"the weather is synthetic, made from twelve monthly means: no day of it has happened",
			fmt.Sprintf("day-to-day swings of temperature are a guess: standard deviation %g K, correlation from day to day %g, not tied to the light", anomalySDK, anomalyLag1),
		},
	}
}

// chain is a Gaussian chain of the first order with mean 0 and standard deviation 1.
type chain struct {
	rng        *rand.Rand
	keep, fade float64
	state      float64
}

func newChain(rng *rand.Rand, lag1 float64) *chain {
	c := &chain{rng: rng, keep: lag1, fade: math.Sqrt(1 - lag1*lag1)}
	c.state = c.draw()
	return c
}

// draw returns a standard normal number. The quantile is used, not the library's own generator, whose method may change.
func (c *chain) draw() float64 {
	return distuv.UnitNormal.Quantile((float64(c.rng.Uint64()>>11) + 0.5) / (1 << 53))
}

func (c *chain) next() float64 {
	now := c.state
	c.state = c.keep*now + c.fade*c.draw()
	return now
}

// dayLaw is the law of Hollands and Huget for the clearness K of a day: density proportional to (1 - K/top) exp(l K) from
// 0 to top.
type dayLaw struct {
	top     float64
	stretch float64 // l x top
	inverse interp.PiecewiseLinear
}

// newDayLaw returns the law whose mean is mean. Its top is that of P. Bendt, M. Collares-Pereira, A. Rabl, Solar Energy
// 27, 1-5 (1981), in the closed form of Duffie and Beckman, eq. 2.9.6.
func newDayLaw(mean float64) dayLaw {
	w := dayLaw{top: 0.6313 + 0.267*mean - 11.9*math.Pow(mean-0.75, 8)}
	w.top = max(w.top, mean+0.03) // the fit falls off below the clearness of real places
	// The mean grows with the stretch. gonum has no root finder for one number, so: halving.
	lo, hi := -500.0, 500.0
	for range 60 {
		w.stretch = (lo + hi) / 2
		if w.mean() < mean {
			lo = w.stretch
		} else {
			hi = w.stretch
		}
	}
	const cells = 500
	shares, values := make([]float64, 1, cells+1), make([]float64, 1, cells+1)
	for i := 1; i <= cells; i++ {
		k := w.top * float64(i) / cells
		if share := w.share(k); share > shares[len(shares)-1] { // the tail of a steep law may round to nothing
			shares, values = append(shares, share), append(values, k)
		}
	}
	if err := w.inverse.Fit(shares, values); err != nil {
		panic(fmt.Sprintf("climate: the law of days with mean %v: %v", mean, err))
	}
	return w
}

// mean returns the law's mean: the integral of K times the density, in closed form.
func (w dayLaw) mean() float64 {
	switch x := w.stretch; {
	case math.Abs(x) < 1e-3: // both integrals vanish as x^2; their ratio to first order
		return w.top * (1.0/3 + x/18)
	case x > 0: // divided by exp(x), which may be too large
		e := math.Exp(-x)
		return w.top * (1 - 2/x + (2/x+1)*e) / (1 - e - x*e)
	default:
		e := math.Exp(x)
		return w.top * ((1-2/x)*e + 2/x + 1) / (e - 1 - x)
	}
}

// share returns the share of days whose clearness is below k.
func (w dayLaw) share(k float64) float64 {
	u := k / w.top
	switch x := w.stretch; {
	case math.Abs(x) < 1e-5:
		return u * (2 - u)
	case x > 0:
		e := math.Exp(-x)
		return ((1+(1-u)*x)*math.Exp(x*(u-1)) - (1+x)*e) / (1 - (1+x)*e)
	default:
		return ((1+(1-u)*x)*math.Exp(x*u) - 1 - x) / (math.Exp(x) - 1 - x)
	}
}

// quantile returns the clearness below which a share of days lies.
func (w dayLaw) quantile(share float64) float64 { return w.inverse.Predict(share) }

// shareOut fills hours, W/m2, with the light of day d, whose clearness is given. The shares are r_t of Collares-Pereira
// and Rabl: the light outside the air (to which its r_d is proportional) times a + b cos w, over the day's mean of that
// factor. Where an hour would get more than the sun gives outside, as r_t can ask on the clearest days of the polar
// summer, the whole day is evened out as far as needed.
func (y sky) shareOut(hours []float64, d int, latDeg, clearness float64) {
	clear(hours)
	dayWh := y.dayWh[d]
	if dayWh == 0 {
		return
	}
	from := 24 * d
	dec := y.track[from+12].DeclinationDeg * math.Pi / 180
	a, b := rabl(math.Acos(max(-1, min(1, -math.Tan(latDeg*math.Pi/180)*math.Tan(dec)))))
	var factor [24]float64
	var mean, highest float64
	for i := range hours {
		if out := y.hourWm2[from+i]; out > 0 {
			factor[i] = a + b*math.Cos(y.track[from+i].HourAngleDeg*math.Pi/180)
			mean += out * factor[i] / dayWh
			highest = max(highest, factor[i])
		}
	}
	keep := 1.0
	if clearness*highest > mean {
		keep = (1/clearness - 1) / (highest/mean - 1)
	}
	for i := range hours {
		hours[i] = clearness * y.hourWm2[from+i] * (1 + keep*(factor[i]/mean-1))
	}
}

// rabl returns the constants of r_t for a sunset hour angle in radians.
func rabl(sunset float64) (a, b float64) {
	s := math.Sin(sunset - math.Pi/3)
	return 0.409 + 0.5016*s, 0.6609 - 0.4767*s
}

// temperature returns the hourly air temperature, degC: the curve through the monthly means and the anomaly, both taken
// at noon and joined by straight lines, and the day's course around it.
func (y sky) temperature(p Place, year int, anomalyK []float64) []float64 {
	days := len(anomalyK)
	noonC := smooth(p.TempMeanC, year)
	var rangeK [12]float64
	for m := range rangeK {
		rangeK[m] = p.TempMaxC[m] - p.TempMinC[m]
	}
	spanK := smooth(rangeK, year)
	for d := range noonC {
		noonC[d] += anomalyK[d]
	}
	hours := make([]float64, 24*days)
	for i := range hours {
		d, h := i/24, i%24
		at := float64(i)/24 - 0.5 + 0.5/24 // in days from the first noon
		base := noonC[d]
		if before := int(math.Floor(at)); before >= 0 && before+1 < days {
			f := at - float64(before)
			base = noonC[before]*(1-f) + noonC[before+1]*f
		}
		solarH := y.track[24*d+12].HourAngleDeg/15 + 12 + float64(h-12)
		hours[i] = base + max(0, spanK[d])*diurnal(solarH)
	}
	return hours
}

// diurnal returns the shape of Erbs, Klein and Beckman at an hour of solar time: mean 0, highest less lowest 1.
func diurnal(solarH float64) float64 {
	const peakToTrough = 0.980           // of the four terms as published
	x := 2 * math.Pi * (solarH - 1) / 24 // the -1 from memory; it puts the extremes at 5:40 and 15:10, as observed
	return (0.4632*math.Cos(x-3.805) + 0.0984*math.Cos(2*x-0.360) + 0.0168*math.Cos(3*x-0.822) + 0.0138*math.Cos(4*x-3.513)) / peakToTrough
}

// smooth joins monthly means by a curve through the days of a year and returns its value at each noon. The curve runs on
// from December to January, and its mean over each month is the month's.
func smooth(means [12]float64, year int) []float64 {
	days := daysIn(year)
	const wrap = 3 // months repeated at each end, so that the free ends of the spline are felt no more
	var at, value [12 + 2*wrap]float64
	var start [13]int
	for m := range 12 {
		start[m+1] = start[m] + daysInMonth(year, m)
	}
	knots := means
	curve := make([]float64, days)
	for range 6 { // the correction of each pass leaves about a fifth of the gap
		for i := range at {
			m := (i - wrap + 12) % 12
			turn := float64(days) * math.Floor(float64(i-wrap)/12)
			at[i], value[i] = turn+float64(start[m]+start[m+1])/2, knots[m]
		}
		var spline interp.NaturalCubic
		if err := spline.Fit(at[:], value[:]); err != nil {
			panic(fmt.Sprintf("climate: smooth: %v: %v", means, err))
		}
		for m := range 12 {
			var sum float64
			for d := start[m]; d < start[m+1]; d++ {
				curve[d] = spline.Predict(float64(d) + 0.5)
				sum += curve[d]
			}
			knots[m] += means[m] - sum/float64(start[m+1]-start[m])
		}
	}
	return curve
}
