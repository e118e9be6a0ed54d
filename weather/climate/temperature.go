package climate

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"
	"gonum.org/v1/gonum/stat"
)

// Air temperature from day to day. All of it is a guess, led by the stations named at each number: De Bilt's ten years
// and the typical years of Juneau, Ottawa, Leadville, Needles, Managua and Invercargill.
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

// anomalySDK returns the standard deviation of a day's mean temperature about its season's, from that of the twelve
// monthly means. Stations: Managua 0.8 K (monthly means 0.9), Invercargill 2 (3), Juneau 2.5 (6), De Bilt 3.2 (6),
// Leadville 2.8 (8), Needles 2.2 (9), Ottawa 3.8 (11).
func (p Place) anomalySDK() float64 {
	return min(4, 0.5+0.4*stat.StdDev(p.TempMeanC[:], nil))
}

// warmWhenClear returns the correlation of a day's mean temperature with its clearness, from the day's light outside the
// air: clear days are cold while the sun gives little and warm while it gives much. De Bilt: -0.4 at 2 kWh/m2, 0 at 6.3,
// +0.45 at 11.3; Juneau and Ottawa are steeper, Managua and Invercargill alike, in the dry of Needles there is none.
func warmWhenClear(outsideKWh float64) float64 {
	return max(-0.45, min(0.45, 0.09*(outsideKWh-6.5)))
}

// swingByClearness returns how much of the daily range goes with the day's clearness over its month's. De Bilt: 0.3 at
// 1.8 kWh/m2 outside the air, 0.55 at 3.7, 0.75 from 6 up; Juneau and Ottawa alike, the tropics and high places less. A
// fifth is added, because the swing is joined between noons.
func swingByClearness(outsideKWh float64) float64 {
	return min(0.9, 0.18+0.12*outsideKWh)
}

// curves is what the temperature of a place does in every year.
type curves struct {
	meanC, rangeK []float64 // of each day
	diurnal       []float64 // of each hour: mean 0, highest less lowest 1
}

func (y *sky) curves(p Place) curves {
	var rangeK [12]float64
	for m := range rangeK {
		rangeK[m] = p.TempMaxC[m] - p.TempMinC[m]
	}
	c := curves{smooth(p.TempMeanC, y.month), smooth(rangeK, y.month), make([]float64, len(y.track))}
	for i := range c.diurnal {
		d, h := i/24, i%24
		c.diurnal[i] = diurnal(y.solarNoonH(d) + float64(h-12))
	}
	return c
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
