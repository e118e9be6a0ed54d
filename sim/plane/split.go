package plane

import (
	"fmt"
	"math"
)

// Days is light on level ground over days of equal steps, and the sun above them.
type Days struct {
	GHIWm2    []float64 // mean of each step, >= 0
	PerHour   int       // steps to the hour, >= 1
	FirstStep int       // of the first, counted from midnight, standard time
	At        func(i int) Above
}

// Above is the sun of one step, in the middle of its sunlit part.
type Above struct {
	ZenithDeg, CosZenith float64
	SolarTimeH           float64 // apparent, 12 at noon
	Airmass              float64 // see the function; 0: worked out
	ExtraNormalWm2       float64 // light above the air on a plane that faces the sun, about 1361, > 0
	LitShare             float64 // 0..1 of the step into which its light falls; 0: night
}

// Split parts the light of each step into direct normal and diffuse horizontal light, W/m2, means of the step, and fills
// dni and dhi, of the length of the light. It keeps ghi = dni*cosZenith + dhi within the sunlit part of a step.
//
// Source: B. Ridley, J. Boland, P. Lauret, "Modelling of diffuse solar fraction with multiple predictors", Renewable Energy
// 35(2), 478-483 (2010): a logistic law of the clearness of the hour, that of the day, the mean of those of the hours
// before and after, solar time and the sun's height. The package's documentation says why this law. Steps shorter than an
// hour have their own clearness, and the mean of the hours before and after them.
//
// A beam is never let above what clean, dry air would pass (cleanAir), and the rest is diffuse. With the sun at or below the
// horizon all light is diffuse; without light both are 0. It panics on a NaN, on columns of different lengths, or with
// light and no extraterrestrial light: our bug.
func (d Days) Split(dni, dhi []float64) {
	n := len(d.GHIWm2)
	if len(dni) != n || len(dhi) != n || d.PerHour < 1 {
		panic(fmt.Sprintf("plane: Split: %d steps of light, %d and %d of its parts, %d to the hour", n, len(dni), len(dhi), d.PerHour))
	}
	outside := make([]float64, n) // above the air on the level, mean of the step
	for i, ghi := range d.GHIWm2 {
		a := d.At(i)
		if !(a.ExtraNormalWm2 > 0) && ghi > 0 || math.IsNaN(a.CosZenith) || math.IsNaN(ghi) {
			panic(fmt.Sprintf("plane: Split: step %d: light %v under %+v: want numbers, and ExtraNormalWm2 > 0", i, ghi, a))
		}
		if a.LitShare > 0 && a.CosZenith > 0 {
			outside[i] = a.ExtraNormalWm2 * a.CosZenith * a.LitShare
		}
	}
	// clearness is that of a stretch, at most 1; not ok where no light can fall.
	clearness := func(from, to int) (kt float64, ok bool) {
		var light, out float64
		for i := max(0, from); i < min(n, to); i++ {
			if outside[i] > 0 {
				light += d.GHIWm2[i]
				out += outside[i]
			}
		}
		if out == 0 {
			return 0, false
		}
		return min(1, light/out), true
	}
	perDay := 24 * d.PerHour
	for from := -d.FirstStep; from < n; from += perDay {
		day, _ := clearness(from, from+perDay)
		for i := max(0, from); i < min(n, from+perDay); i++ {
			ghi := d.GHIWm2[i]
			dni[i], dhi[i] = 0, max(0, ghi)
			if outside[i] == 0 || ghi <= 0 {
				continue
			}
			kt := ghi / outside[i]
			before, okB := clearness(i-d.PerHour, i)
			after, okA := clearness(i+1, i+1+d.PerHour)
			beside := (before + after) / 2
			switch {
			case okB != okA:
				beside = before + after // the other is 0
			case !okB:
				beside = min(1, kt)
			}
			a := d.At(i)
			if a.Airmass == 0 {
				a.Airmass = Airmass(a.ZenithDeg, a.CosZenith)
			}
			beam := min((1-ridley(kt, a.SolarTimeH, 90-a.ZenithDeg, day, beside))*kt, cleanAir(a.Airmass))
			dni[i] = beam * a.ExtraNormalWm2 * a.LitShare
			dhi[i] = max(0, ghi-dni[i]*a.CosZenith)
		}
	}
}

// ridley is the diffuse share of the light on level ground: of an hour of clearness kt, at a solar time, h, under a sun at
// a height, deg, on a day of clearness day, between hours of clearness beside.
func ridley(kt, solarTimeH, heightDeg, day, beside float64) float64 {
	return 1 / (1 + math.Exp(-5.38+6.63*kt+0.006*solarTimeH-0.007*heightDeg+1.75*day+1.31*beside))
}

// cleanAir is the share of the beam that passes clean, dry air of airmass m at sea level: 0.91 overhead, 0.42 at the
// horizon. Source: F. Kasten, Meteorologische Rundschau 33, 124-127 (1980), mean optical depth 1/(9.4 + 0.9 m), from
// memory. On a high mountain the true bound is higher, but real air stays below this one there too.
func cleanAir(m float64) float64 { return math.Exp(-m / (9.4 + 0.9*m)) }

// Airmass is the path of the sunlight through the air relative to the vertical at sea level, for a zenith of 0..90 degrees
// (38 at 90) and its cosine. The zenith should be the apparent one; the true one, used here, differs by 0.6 degrees at most.
// Source: F. Kasten, A. T. Young, Applied Optics 28(22), 4735-4738 (1989). The power goes by the logarithm, three times as
// fast as the library's power of any two numbers, and here as good.
func Airmass(zenithDeg, cosZenith float64) float64 {
	return 1 / (cosZenith + 0.50572*math.Exp(-1.6364*math.Log(96.07995-zenithDeg)))
}
