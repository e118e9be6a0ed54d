package climate

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/interp"
)

// Air temperature from day to day. None of it is published: all numbers are our own, fitted or fitted by eye to the stations
// named at each, which are De Bilt's ten years, Wilhelminadorp's six, Aachen's one and the typical years, whose extremes are
// somewhat cut, of Juneau, Cold Bay, Ottawa, Leadville, Needles, Managua and Invercargill. What comes out of them,
// temperature_test.go sets beside the stations.
const (
	// The day-to-day correlation of a day's mean temperature. Stations show 0.6 to 0.8; De Bilt 0.78.
	anomalyLag1 = 0.7
	// The anomaly is drawn for the noons and joined by straight lines, so a day's mean is 1/8 of the noon before, 6/8 of
	// its own and 1/8 of the next. With a noon correlation r its variance is (38 + 24 r + 2 r^2)/64 of that of the noons
	// and its own correlation (12 + 39 r + 12 r^2 + r^3)/(38 + 24 r + 2 r^2): 0.7 at r = 0.521, with 0.893 of the noons' sd.
	noonPerDay = 1 / 0.893
	// The part of the noons that does not follow the light; with the rest, of correlation 0.28 and at most a fifth of the
	// variance, the noons come out at 0.52 to 0.54.
	warmKeep = 0.54
)

// The numbers of anomalySDK: fitted to the stations, rounded (TestSpreadOfDays).
const (
	spreadScale    = 0.9  // fitted: 0.93
	spreadInWinter = 0.1  // per K; fitted: 0.106
	spreadSouth    = 1.07 // Invercargill's
)

// anomalySDK returns, for each month, the standard deviation of a day's mean temperature about its season's in the long
// run, K, from the place's own means and their clearness. It grows with latitude and with the daily range, and with how
// much colder the month is than the warmest: in winter the lands and seas that the winds come from differ most. Few fronts
// cross a clear sky. Each month of a station that is left out of the fit is off by 27 %, of which chance makes some 20.
// In the south no cold land lies upwind: the winter is not the wider, as at Invercargill, our only station there.
func (p Place) anomalySDK(clearness [12]float64) (sdK [12]float64) {
	const least, most = 0.5, 8 // a guess, for places beyond the stations, which have 0.5 to 8 K
	warmest := slices.Max(p.TempMeanC[:])
	for m, c := range p.TempMeanC {
		scale := spreadScale * (1 + spreadInWinter*(warmest-c)*(1-clearness[m]))
		if p.LatDeg < 0 {
			scale = spreadSouth
		}
		sdK[m] = max(least, min(most, scale*p.summerSpread(m)))
	}
	return sdK
}

// summerSpread is what the spread of the days of a month is in proportion to, were it the warmest: the turning of the earth
// at the latitude (0.1: the tropics, by Managua), and the daily range, of which more than 12 K says no more.
func (p Place) summerSpread(m int) float64 {
	return (0.1 + sinLat(p.LatDeg)) * math.Sqrt(min(12, p.TempMaxC[m]-p.TempMinC[m]))
}

func sinLat(latDeg float64) float64 { return math.Sin(math.Abs(latDeg) * math.Pi / 180) }

// warmWhenClear returns the correlation of a day's mean temperature with its clearness, from the day's light outside the
// air: clear days are cold while the sun gives little and warm while it gives much. De Bilt: -0.4 at 2 kWh/m2, 0 at 6.3,
// +0.45 at 11.3; Juneau and Ottawa are steeper, Managua and Invercargill alike, in the dry of Needles there is none.
func warmWhenClear(outsideKWh float64) float64 {
	return max(-0.45, min(0.45, 0.09*(outsideKWh-6.5)))
}

// skewAnomaly returns how far the noons' anomalies lean to the side on which clear days lie, as the q of skewed. Where
// the sky is seldom clear its clear days stand out, hot in summer and cold in winter; under a bright sky they are the
// rule, and near the tropics the air is much the same. Skewness of daily means, summer and winter: De Bilt 0.6 and 0,
// Juneau 0.6 and -0.5, Cold Bay 0.2 and -0.8, Ottawa 0.3 and -0.1, Needles -0.3 and 0.
func skewAnomaly(outsideKWh, clearness, latDeg float64) float64 {
	return warmWhenClear(outsideKWh) * max(-0.2, min(0.2, 2.5*sinLat(latDeg)*(0.6-clearness)))
}

// skewed bends a standard normal number to a skewness of about 6 q, where q is small; its mean stays 0 and its standard
// deviation 1.
func skewed(x, q float64) float64 { return (x + q*(x*x-1)) / math.Sqrt(1+2*q*q) }

// swingByClearness returns how much of the daily range at the noons goes with the day's clearness over its month's. De
// Bilt's days: 0.3 at 1.8 kWh/m2 outside the air, 0.55 at 3.7, 0.75 from 6 up; Juneau and Ottawa alike, Needles 0.65,
// Leadville 0.5, Managua 0.45. The noons have more, as the days lie between them.
func swingByClearness(outsideKWh, latDeg float64) float64 {
	return min(0.9, 0.3+0.11*outsideKWh, 0.35+0.75*sinLat(latDeg))
}

// swingSD returns the standard deviation of the daily range at the noons, over its season's, that does not follow the
// light: wind, haze, snow. De Bilt's days 0.4 in winter and 0.25 in summer, Juneau's 0.5 and 0.25, Needles' 0.2 and 0.15.
func swingSD(clearness float64) float64 { return 0.75 * (1 - clearness) * (1 - clearness) }

// courseShare returns the share of a mean daily range that the course of the day has, the rest being what the change
// from noon to noon adds to highest less lowest. 0.6 is tried out on synthetic years, whose mean range is then the place's.
func courseShare(noonSDK, rangeK float64) float64 {
	drift := 0.6 * noonSDK / max(0.1, rangeK)
	return math.Sqrt(max(0.25, 1-drift*drift))
}

// curves is what the temperature of a place does in every year.
type curves struct {
	meanC, rangeK []float64 // of each day
	noonSDK       []float64 // of the anomaly of each noon
	diurnal       []float64 // of each hour: mean 0, highest less lowest 1
}

func (y *sky) curves(p Place) curves {
	var rangeK [12]float64
	for m := range rangeK {
		rangeK[m] = p.TempMaxC[m] - p.TempMinC[m]
	}
	noonSDK := p.anomalySDK(p.clearness(y))
	for m := range noonSDK {
		noonSDK[m] *= noonPerDay
	}
	c := curves{smooth(p.TempMeanC, y.month), smooth(rangeK, y.month), smooth(noonSDK, y.month), make([]float64, len(y.track))}
	for i := range c.diurnal {
		d, h := i/24, i%24
		c.diurnal[i] = diurnal(y.solarNoonH(d) + float64(h-12))
	}
	return c
}

// temperature returns the hourly air temperature, degC, of a year whose days are given.
func (g *Generator) temperature(y *sky, c curves, chain []days, clearness []float64, swing draws) []float64 {
	anomalyK, rangeFactor := make([]float64, len(chain)), make([]float64, len(chain))
	latDeg := g.place.LatDeg
	for d, s := range chain {
		outsideKWh, mean := y.dayWh[d]/1000, g.mean[y.month[d]]
		tie := warmWhenClear(outsideKWh)
		anomalyK[d] = c.noonSDK[d] * skewed(tie*s.light()+math.Sqrt(1-tie*tie)*s.warm, skewAnomaly(outsideKWh, mean, latDeg))
		rangeFactor[d] = courseShare(c.noonSDK[d], c.rangeK[d]) *
			(1 + swingByClearness(outsideKWh, latDeg)*(clearness[d]/mean-1) + swingSD(mean)*swing.normal())
	}
	return c.hours(anomalyK, rangeFactor)
}

// hours returns the hourly air temperature, degC: the seasonal curve and the noons' anomalies, and the day's course,
// whose range is rangeFactor of the season's. All are taken at noon and joined by straight lines.
func (c curves) hours(anomalyK, rangeFactor []float64) []float64 {
	days := len(c.meanC)
	base, span := make([]float64, days), make([]float64, days)
	for d := range days {
		base[d] = c.meanC[d] + anomalyK[d]
		span[d] = max(0, c.rangeK[d]*rangeFactor[d])
	}
	hours := make([]float64, 24*days)
	for i := range hours {
		at := float64(i)/24 - 0.5 + 0.5/24 // in days from the first noon
		before := int(math.Floor(at))
		f := at - float64(before)
		before, after := max(0, before), min(days-1, before+1)
		v := base[before]*(1-f) + base[after]*f + (span[before]*(1-f)+span[after]*f)*c.diurnal[i]
		hours[i] = max(-89, min(57, v)) // the lowest and highest on record
	}
	return hours
}

// diurnal returns the shape of D. G. Erbs, S. A. Klein, W. A. Beckman, ASHRAE Journal 25(6), 60-65 (1983), at an hour of
// solar time: mean 0, highest less lowest 1.
func diurnal(solarH float64) float64 {
	const peakToTrough = 0.980           // of the four terms as published
	x := 2 * math.Pi * (solarH - 1) / 24 // the -1 from memory; it puts the extremes at 5:40 and 15:10, as observed
	return (0.4632*math.Cos(x-3.805) + 0.0984*math.Cos(2*x-0.360) + 0.0168*math.Cos(3*x-0.822) + 0.0138*math.Cos(4*x-3.513)) / peakToTrough
}

// smooth joins monthly means by a curve through the days of a year, whose months are given, and returns its value at
// each noon. The curve runs on from December to January, and its mean over each month is the month's.
func smooth(means [12]float64, month []int) []float64 {
	days := len(month)
	const wrap = 3 // months repeated at each end, so that the free ends of the spline are felt no more
	var at, value [12 + 2*wrap]float64
	var start [13]int
	for _, m := range month {
		start[m+1]++
	}
	for m := range 12 {
		start[m+1] += start[m]
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
