package plane

import (
	"fmt"
	"math"
)

// Sky is the light and the sun of one step, and what stands in its way.
type Sky struct {
	GHIWm2         float64 // on level ground, >= 0
	DNIWm2         float64 // direct, on a plane that faces the sun, >= 0
	DHIWm2         float64 // diffuse, on level ground, >= 0
	ZenithDeg      float64 // of the sun in the middle of the sunlit part of the step; 90 and more: no beam
	AzimuthDeg     float64 // of the sun, clockwise from north
	ExtraNormalWm2 float64 // above the air, on a plane that faces the sun, > 0 (about 1361)
	Airmass        float64 // see the function; 0: worked out

	Month       int     // 1..12, for what changes by month; 0: the surface's tilt_deg and soiling_loss
	BeamBlocked float64 // 0..1 of the direct light, and of the bright sky around the sun, that does not reach the array
	SkyHidden   float64 // 0..1 of the rest of the sky's light that is hidden, beside what the horizon hides
	SnowGround  float64 // 0..1 of the ground that snow covers
	SnowBright  float64 // 0..1, reflectance of that snow
}

// Light is what falls on the plane of the array, W/m2, before glass and dirt, and what of it the cells can use.
type Light struct {
	BeamWm2, SkyWm2, GroundWm2 float64
	UsableWm2                  float64 // after reflection at the glass and dirt
}

// PlaneWm2 is all light on the plane, before glass and dirt.
func (l Light) PlaneWm2() float64 { return l.BeamWm2 + l.SkyWm2 + l.GroundWm2 }

// Prepared is a surface at a place, with all that does not change from step to step worked out.
type Prepared struct {
	azimuthDeg  float64
	model       SkyModel
	horizon     Horizon
	highestDeg  float64 // of the horizon
	reflects    float64 // the ground, without snow
	sunPassNorm float64 // see sunPass
	tilts       []tilted
	tiltOf      [13]uint8   // of each month, and of none: index into tilts
	clean       [13]float64 // 1 - soiling
}

// tilted is a surface at one of its tilts.
type tilted struct {
	tiltDeg             float64
	sin, cos            float64
	sinHalfCubed        float64 // of half the tilt
	skyView             float64 // share of an even sky that the plane sees, as on level ground = 1
	groundShare         float64 // of the light on level ground, without snow
	skyPass, groundPass float64 // through the glass, relative to light at right angles
	skyLeft             float64 // 1 - share of that view which the horizon hides
}

// Prepare works out what depends on the surface alone, at a latitude (degrees, north positive; it decides where the
// equator is). It panics when Check finds a fault.
func (s Surface) Prepare(latDeg float64) *Prepared {
	if faults := s.Check(); len(faults) > 0 {
		panic(fmt.Sprintf("plane: Prepare: %+v: %v", s, faults[0]))
	}
	s = s.At(latDeg)
	p := &Prepared{azimuthDeg: s.AzimuthDeg, model: s.SkyModel, horizon: s.Horizon, highestDeg: s.Horizon.highest(),
		reflects: s.GroundReflectance, sunPassNorm: sunPassNorm(glassAr)}
	for m := range p.tiltOf {
		tiltDeg, soiling := s.TiltDeg, s.SoilingLoss
		if m > 0 && s.TiltByMonth != nil {
			tiltDeg = s.TiltByMonth[m-1]
		}
		if m > 0 && s.SoilingByMonth != nil {
			soiling = s.SoilingByMonth[m-1]
		}
		p.clean[m] = 1 - soiling
		k := 0
		for k < len(p.tilts) && p.tilts[k].tiltDeg != tiltDeg {
			k++
		}
		if k == len(p.tilts) {
			p.tilts = append(p.tilts, s.tilted(tiltDeg))
		}
		p.tiltOf[m] = uint8(k)
	}
	return p
}

func (s Surface) tilted(tiltDeg float64) tilted {
	tiltRad := tiltDeg * math.Pi / 180
	sin, cos := math.Sincos(tiltRad)
	half := math.Sin(tiltRad / 2)
	return tilted{
		tiltDeg: tiltDeg, sin: sin, cos: cos, sinHalfCubed: half * half * half,
		skyView:     (1 + cos) / 2,
		groundShare: s.GroundReflectance * (1 - cos) / 2,
		skyPass:     skyPass(tiltRad, glassAr),
		groundPass:  groundPass(tiltRad, glassAr),
		skyLeft:     1 - s.Horizon.hides(tiltDeg, s.AzimuthDeg),
	}
}

// TiltDeg is the tilt in a month 1..12, degrees.
func (p *Prepared) TiltDeg(month int) float64 { return p.tilts[p.tiltOf[month]].tiltDeg }

// Light returns the light on the plane under sky. With the sun at or below the horizon there is no beam and the sky is
// even. It panics on a light that is negative or NaN, or with light and no extraterrestrial light: our bug.
//
// Beam: DNI times the cosine of the angle of incidence. Ground: an even ground before the plane, unshaded (Liu &
// Jordan 1963). Sky: see SkyModel. Glass: see sunPass; light from around the sun
// passes the glass as the beam does, and is blocked with it. What the horizon hides of the sky is taken from all of the
// rest of its light alike; what the hiding hill itself throws back is left out.
func (p *Prepared) Light(sky Sky) Light {
	if !(sky.GHIWm2 >= 0 && sky.DNIWm2 >= 0 && sky.DHIWm2 >= 0) {
		panic(fmt.Sprintf("plane: Light: %+v: want GHI, DNI and DHI >= 0", sky))
	}
	if sky.GHIWm2 == 0 && sky.DNIWm2 == 0 && sky.DHIWm2 == 0 {
		return Light{}
	}
	if !(sky.ExtraNormalWm2 > 0) || math.IsNaN(sky.ZenithDeg) || math.IsNaN(sky.AzimuthDeg) {
		panic(fmt.Sprintf("plane: Light: %+v: want a sun position and ExtraNormalWm2 > 0", sky))
	}
	t := &p.tilts[p.tiltOf[sky.Month]]
	ground := sky.GHIWm2 * t.groundShare
	if sky.SnowGround > 0 {
		ground += sky.GHIWm2 * sky.SnowGround * max(0, sky.SnowBright-p.reflects) * (1 - t.cos) / 2
	}
	var beam, aroundSun, fromSun float64 // fromSun: passed by the glass
	dome := sky.DHIWm2 * t.skyView
	if sky.ZenithDeg < 90 {
		sinZ, cosZ := math.Sincos(sky.ZenithDeg * math.Pi / 180)
		cosInc := cosZ*t.cos + sinZ*t.sin*math.Cos((sky.AzimuthDeg-p.azimuthDeg)*math.Pi/180)
		cosInc = min(max(cosInc, 0), 1)
		beam = sky.DNIWm2 * cosInc
		if sky.DHIWm2 > 0 {
			aroundSun, dome = p.model.parts(sky, t, cosZ, cosInc)
		}
		beam *= 1 - sky.BeamBlocked
		aroundSun *= 1 - sky.BeamBlocked
		fromSun = (beam + aroundSun) * (1 - math.Exp(-cosInc/glassAr)) / p.sunPassNorm
	}
	dome *= t.skyLeft * (1 - sky.SkyHidden)
	return Light{
		BeamWm2: beam, SkyWm2: dome + aroundSun, GroundWm2: ground,
		UsableWm2: (fromSun + dome*t.skyPass + ground*t.groundPass) * p.clean[sky.Month],
	}
}

// glassAr is the angular loss coefficient of clean glass. Dirt raises it to 0.20 (from memory); SoilingLoss stands for
// dirt here, so it isn't counted twice.
const glassAr = 0.16

// sunPass is the share of light from one direction that passes the glass, relative to light at right angles: N. Martin,
// J. M. Ruiz, Solar Energy Materials & Solar Cells 70, 25-38 (2001). cosInc is 0..1.
func sunPass(cosInc, ar float64) float64 {
	return (1 - math.Exp(-cosInc/ar)) / sunPassNorm(ar)
}

func sunPassNorm(ar float64) float64 { return 1 - math.Exp(-1/ar) }

// skyPass is the same for an even sky, and groundPass for an even ground, on a plane tilted by tiltRad in 0..pi/2: the
// same paper with its corrigendum 110, 154 (2013).
func skyPass(tiltRad, ar float64) float64 {
	sin, cos := math.Sincos(tiltRad)
	return diffusePass(sin+(math.Pi-tiltRad-sin)/(1+cos), ar)
}

func groundPass(tiltRad, ar float64) float64 {
	sin, cos := math.Sincos(tiltRad)
	if tiltRad < 1e-3 {
		return diffusePass(4*tiltRad/3, ar) // the limit of 0/0; no ground is seen there anyway
	}
	return diffusePass(sin+(tiltRad-sin)/(1-cos), ar)
}

func diffusePass(x, ar float64) float64 {
	return 1 - math.Exp(-(4/(3*math.Pi)*x+(0.5*ar-0.154)*x*x)/ar)
}
