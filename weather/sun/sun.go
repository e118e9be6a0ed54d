// Package sun tells where the sun is: geometry only, no air and no light.
//
// The position is that of the PSA algorithm with its 2020 coefficients: M. Blanco, K. Milidonis, A. Bonanos, "Updating
// the PSA sun position algorithm", Solar Energy 212, 339-341 (2020). It is seen from the ground (parallax taken out),
// without refraction, and within 0.01 deg of the true direction from 2000 to 2050; outside these years it drifts slowly.
// The "horizon" is the geometric one: the middle of the sun's disc at 90 deg from the zenith.
//
// Angles are in degrees. Azimuth runs clockwise from true north; longitude east and latitude north are positive.
package sun

import (
	"fmt"
	"math"
	"time"
)

// SolarConstantWm2 is the light on a plane facing the sun outside the air at the mean distance, W/m2: G. Kopp, J. Lean,
// Geophys. Res. Lett. 38, L01706 (2011), 1360.8 +- 0.5, and the nominal value of the IAU's 2015 resolution B3. Textbooks
// and typical-year files of the 1980s to 2000s use 1367, 0.44 % more; a clearness index inherits the choice.
const SolarConstantWm2 = 1361

// Site is a point on the ground: latitude -90..90 (north positive), longitude -180..180 (east positive).
type Site struct{ LatDeg, LonDeg float64 }

// Position is the sun's place in the sky of a site.
type Position struct {
	ZenithDeg      float64 // 0 overhead, 90 on the horizon, 180 underfoot
	CosZenith      float64
	AzimuthDeg     float64 // 0..360, clockwise from north; ill-defined when the sun is nearly overhead
	DeclinationDeg float64 // -23.5..23.5
	HourAngleDeg   float64 // -180..180, 0 at solar noon, afternoon positive; solar time in hours is 12 + HourAngleDeg/15
	DistanceFactor float64 // (mean distance / distance)^2, 0.966..1.035
}

// Step is a step of time: the sun at its middle, or at the middle of its sunlit part where the sun rises or sets in it,
// and the share of the step, 0..1, in which the sun is above the horizon. By night the share is 0 and the position that
// of the middle. Where a step holds two sunlit parts, the position is the middle of the longer one.
type Step struct {
	Position
	LitShare float64
}

// The PSA coefficients, 2020 set.
const (
	p1, p2   = 2.267127827, -9.300339267e-4
	p3, p4   = 4.895036035, 1.720279602e-2
	p5, p6   = 6.239468336, 1.720200135e-2
	p7, p8   = 3.338320972e-2, 3.497596876e-4
	p9, p10  = -1.544353226e-4, -8.689729360e-6
	p11, p12 = 4.090904909e-1, -6.213605399e-9
	p13      = 4.418094944e-5
	p14, p15 = 6.697096103, 6.570984737e-2

	parallaxRad = 6371.01 / 149597890 // earth's radius over the astronomical unit

	// The equation of the centre is 2e sin g to first order, so the algorithm's own p7 is twice the eccentricity.
	eccentricity = p7 / 2

	j2000Unix = 946728000 // 2000-01-01 12:00 UTC, day 0 of the algorithm
	degPerRad = 180 / math.Pi
)

// place holds what does not change with time.
type place struct{ sinLat, cosLat, lonRad float64 }

func at(s Site) place {
	sinLat, cosLat := math.Sincos(s.LatDeg / degPerRad)
	return place{sinLat, cosLat, s.LonDeg / degPerRad}
}

// vector is the sun as the PSA sees it: sines and cosines, so that angles are taken only where asked for.
type vector struct {
	sinDec, cosDec             float64
	cosDecSinHour, cosDecCosHr float64
	cosZenith                  float64 // from the earth's centre
	distanceFactor             float64
}

// vector finds the sun days after J2000.
func (p place) vector(days float64) vector {
	sinNode, cosNode := math.Sincos(p1 + p2*days)
	sinG, cosG := math.Sincos(p5 + p6*days)
	sinLon, cosLon := math.Sincos(p3 + p4*days + p7*sinG + p8*2*sinG*cosG + p9 + p10*sinNode)
	sinEps, cosEps := math.Sincos(p11 + p12*days + p13*cosNode)
	// The sun's direction in equatorial axes; right ascension is the angle of (x, y).
	x, y, z := cosLon, cosEps*sinLon, sinEps*sinLon
	utH := 24 * frac(days+0.5)
	sinT, cosT := math.Sincos((p14+p15*days+utH)*(math.Pi/12) + p.lonRad)
	v := vector{sinDec: z, cosDec: math.Sqrt(x*x + y*y), cosDecSinHour: sinT*x - cosT*y, cosDecCosHr: cosT*x + sinT*y}
	v.cosZenith = p.cosLat*v.cosDecCosHr + p.sinLat*z
	// Kepler's orbit to the second order of e: R = 1 + e2/2 - e cos g - e2/2 cos 2g; within 0.0001 of the true distance
	// (the moon's and the planets' pull is left out).
	r := 1 + eccentricity*eccentricity*(1-cosG*cosG) - eccentricity*cosG
	v.distanceFactor = 1 / (r * r)
	return v
}

func frac(x float64) float64 { return x - math.Floor(x) }

func (p place) position(v vector) Position {
	zenith := math.Acos(max(-1, min(1, v.cosZenith)))
	zenith += parallaxRad * math.Sqrt(max(0, 1-v.cosZenith*v.cosZenith))
	azimuth := math.Atan2(-v.cosDecSinHour, v.sinDec*p.cosLat-p.sinLat*v.cosDecCosHr) * degPerRad
	if azimuth < 0 {
		azimuth += 360
	}
	return Position{
		ZenithDeg:      zenith * degPerRad,
		CosZenith:      math.Cos(zenith),
		AzimuthDeg:     azimuth,
		DeclinationDeg: math.Asin(max(-1, min(1, v.sinDec))) * degPerRad,
		HourAngleDeg:   math.Atan2(v.cosDecSinHour, v.cosDecCosHr) * degPerRad,
		DistanceFactor: v.distanceFactor,
	}
}

// step looks at the step that starts days after J2000 and lasts spanDays.
func (p place) step(days, spanDays float64) Step {
	mid := days + spanDays/2
	v := p.vector(mid)
	// The height of the sun changes by at most cos(lat) cos(dec) per radian of hour angle: far enough from the horizon,
	// it does not cross it within the step.
	halfRad := math.Pi * spanDays
	reach := p.cosLat * v.cosDec
	switch {
	case v.cosZenith-parallaxRad > reach*halfRad:
		return Step{p.position(v), 1}
	case v.cosZenith-parallaxRad < -reach*halfRad:
		return Step{p.position(v), 0}
	}
	// Sunrise and sunset hour angles at the declination of the middle, -up and up; the step spans hour -+ half.
	cosUp := (parallaxRad - p.sinLat*v.sinDec) / reach
	hour := math.Atan2(v.cosDecSinHour, v.cosDecCosHr)
	up := math.Acos(max(-1, min(1, cosUp)))
	var lit, longest, centre float64
	for _, turn := range [...]float64{-2 * math.Pi, 0, 2 * math.Pi} { // the days before and after, near midnight
		lo, hi := max(hour-halfRad, turn-up), min(hour+halfRad, turn+up)
		if hi <= lo {
			continue
		}
		lit += hi - lo
		if hi-lo > longest {
			longest, centre = hi-lo, (lo+hi)/2
		}
	}
	share := min(1, lit/(2*halfRad))
	if share == 0 || share == 1 {
		return Step{p.position(v), share}
	}
	return Step{p.position(p.vector(mid + (centre-hour)/(2*math.Pi))), share}
}

// At returns the sun's position at an instant.
func At(t time.Time, site Site) Position {
	p := at(site)
	return p.position(p.vector(sinceJ2000(t)))
}

// MidStep returns the sun of the step that starts at start and lasts stepH hours, above 0 and at most 1; see Step.
func MidStep(start time.Time, stepH float64, site Site) (Position, float64) {
	s := at(site).step(sinceJ2000(start), stepDays("MidStep", stepH))
	return s.Position, s.LitShare
}

// Track returns n steps of stepH hours (above 0 and at most 1), the first of which starts at start.
func Track(start time.Time, stepH float64, n int, site Site) []Step {
	p, first, span := at(site), sinceJ2000(start), stepDays("Track", stepH)
	steps := make([]Step, n)
	for i := range steps {
		steps[i] = p.step(first+float64(i)*span, span)
	}
	return steps
}

// stepDays turns hours into days. It panics outside 0..1 h: over a longer step the sun may rise and set more than once.
func stepDays(function string, stepH float64) float64 {
	if !(stepH > 0 && stepH <= 1) {
		panic(fmt.Sprintf("sun: %s: stepH is %v, want above 0 and at most 1", function, stepH))
	}
	return stepH / 24
}

func sinceJ2000(t time.Time) float64 {
	return (float64(t.Unix()-j2000Unix) + float64(t.Nanosecond())*1e-9) / 86400
}
