package plane

import (
	"fmt"
	"math"
)

// Split parts the light on level ground, ghiWm2 (W/m2, mean of the step), into direct normal and diffuse horizontal
// light. cosZenith is that of the sun in the middle of the sunlit part of the step; extraNormalWm2 is the light above
// the air on a plane that faces the sun that day (about 1361 W/m2, > 0). It keeps ghi = dni*cosZenith + dhi.
//
// Source: D. G. Erbs, S. A. Klein, J. A. Duffie, "Estimation of the diffuse radiation fraction for hourly, daily and
// monthly-average global radiation", Solar Energy 28(4), 293-302 (1982), hourly form: it knows nothing of the sun's
// height. So a beam is never let above what clean, dry air would pass (cleanAir), and the rest is diffuse. With the sun
// at or below the horizon all light is diffuse; without light both are 0. In an hour that the sun is up for a part, the
// clearness is that of the whole hour, which errs to the diffuse side.
// It panics on a NaN, or with light and no extraterrestrial light: our bug.
func Split(ghiWm2, cosZenith, extraNormalWm2 float64) (dniWm2, dhiWm2 float64) {
	if math.IsNaN(ghiWm2) || math.IsNaN(cosZenith) || !(extraNormalWm2 > 0) && ghiWm2 > 0 {
		panic(fmt.Sprintf("plane: Split: ghi %v, cosZenith %v, extraNormal %v: want numbers, and extraNormal > 0",
			ghiWm2, cosZenith, extraNormalWm2))
	}
	if ghiWm2 <= 0 {
		return 0, 0
	}
	if cosZenith <= 0 {
		return 0, ghiWm2
	}
	cosZenith = min(cosZenith, 1)
	kt := ghiWm2 / (extraNormalWm2 * cosZenith)
	dniWm2 = ghiWm2 * (1 - erbs(kt)) / cosZenith
	dniWm2 = min(dniWm2, extraNormalWm2*cleanAir(airmass(math.Acos(cosZenith)*180/math.Pi)))
	return dniWm2, max(0, ghiWm2-dniWm2*cosZenith)
}

// erbs is the diffuse share of the light on level ground for a clearness index kt > 0.
func erbs(kt float64) float64 {
	switch {
	case kt <= 0.22:
		return 1 - 0.09*kt
	case kt <= 0.80:
		return 0.9511 + kt*(-0.1604+kt*(4.388+kt*(-16.638+kt*12.336)))
	}
	return 0.165
}

// cleanAir is the share of the beam that passes clean, dry air of airmass m at sea level: 0.91 overhead, 0.42 at the
// horizon. Source: F. Kasten, Meteorologische Rundschau 33, 124-127 (1980), mean optical depth 1/(9.4 + 0.9 m), from
// memory. On a high mountain the true bound is higher, but real air stays below this one there too.
func cleanAir(m float64) float64 { return math.Exp(-m / (9.4 + 0.9*m)) }

// airmass is the path of the sunlight through the air relative to the vertical at sea level, for a zenith of 0..90
// degrees (38 at 90). The zenith should be the apparent one; the true one, used here, differs by 0.6 degrees at most.
// Source: F. Kasten, A. T. Young, Applied Optics 28(22), 4735-4738 (1989).
func airmass(zenithDeg float64) float64 {
	zenithDeg = min(zenithDeg, 90)
	return 1 / (math.Cos(zenithDeg*math.Pi/180) + 0.50572*math.Pow(96.07995-zenithDeg, -1.6364))
}
