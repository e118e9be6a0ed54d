package plane

import (
	"fmt"
	"math"
)

// Sky is the light and the sun of one step.
type Sky struct {
	GHIWm2         float64 // on level ground, >= 0
	DNIWm2         float64 // direct, on a plane that faces the sun, >= 0
	DHIWm2         float64 // diffuse, on level ground, >= 0
	ZenithDeg      float64 // of the sun in the middle of the sunlit part of the step; 90 and more: no beam
	AzimuthDeg     float64 // of the sun, clockwise from north
	ExtraNormalWm2 float64 // above the air, on a plane that faces the sun, > 0 (about 1361)
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
	azimuthDeg          float64
	sinTilt, cosTilt    float64
	skyView             float64 // share of an even sky that the plane sees, as on level ground = 1
	groundShare         float64 // of the light on level ground
	skyPass, groundPass float64 // through the glass, relative to light at right angles
	clean               float64 // 1 - soiling
}

// Prepare works out what depends on the surface alone, at a latitude (degrees, north positive; it decides where the
// equator is). It panics when Check finds a fault.
func (s Surface) Prepare(latDeg float64) Prepared {
	if faults := s.Check(); len(faults) > 0 {
		panic(fmt.Sprintf("plane: Prepare: %+v: %v", s, faults[0]))
	}
	s = s.At(latDeg)
	tiltRad := s.TiltDeg * math.Pi / 180
	sin, cos := math.Sincos(tiltRad)
	return Prepared{
		azimuthDeg:  s.AzimuthDeg,
		sinTilt:     sin,
		cosTilt:     cos,
		skyView:     (1 + cos) / 2,
		groundShare: s.GroundReflectance * (1 - cos) / 2,
		skyPass:     skyPass(tiltRad, glassAr),
		groundPass:  groundPass(tiltRad, glassAr),
		clean:       1 - s.SoilingLoss,
	}
}

// Light returns the light on the plane under sky. With the sun at or below the horizon there is no beam and the sky is
// even. It panics on a light that is negative or NaN, or with light and no extraterrestrial light: our bug.
//
// Beam: DNI times the cosine of the angle of incidence. Ground: an even ground before the plane, unshaded (Liu &
// Jordan 1963). Sky: see brightness. Glass: see sunPass; light from around the sun
// passes the glass as the beam does.
func (p Prepared) Light(sky Sky) Light {
	if !(sky.GHIWm2 >= 0 && sky.DNIWm2 >= 0 && sky.DHIWm2 >= 0) {
		panic(fmt.Sprintf("plane: Light: %+v: want GHI, DNI and DHI >= 0", sky))
	}
	if sky.GHIWm2 == 0 && sky.DNIWm2 == 0 && sky.DHIWm2 == 0 {
		return Light{}
	}
	if !(sky.ExtraNormalWm2 > 0) || math.IsNaN(sky.ZenithDeg) || math.IsNaN(sky.AzimuthDeg) {
		panic(fmt.Sprintf("plane: Light: %+v: want a sun position and ExtraNormalWm2 > 0", sky))
	}
	ground := sky.GHIWm2 * p.groundShare
	var beam, aroundSun, fromSun float64 // fromSun: passed by the glass
	dome := sky.DHIWm2 * p.skyView
	if sky.ZenithDeg < 90 {
		sinZ, cosZ := math.Sincos(sky.ZenithDeg * math.Pi / 180)
		cosInc := cosZ*p.cosTilt + sinZ*p.sinTilt*math.Cos((sky.AzimuthDeg-p.azimuthDeg)*math.Pi/180)
		cosInc = min(max(cosInc, 0), 1)
		beam = sky.DNIWm2 * cosInc
		if sky.DHIWm2 > 0 {
			f1, f2 := brightness(sky)
			sunUp := max(cosZ, cos85)
			aroundSun = sky.DHIWm2 * f1 * cosInc / sunUp
			dome = sky.DHIWm2 * max(0, (1-f1*cosZ/sunUp)*p.skyView+f2*p.sinTilt)
		}
		fromSun = (beam + aroundSun) * sunPass(cosInc, glassAr)
	}
	return Light{
		BeamWm2: beam, SkyWm2: dome + aroundSun, GroundWm2: ground,
		UsableWm2: (fromSun + dome*p.skyPass + ground*p.groundPass) * p.clean,
	}
}

const cos85 = 0.08715574274765817

// The sky's brightness around the sun (f1) and at the horizon (f2): R. Perez, P. Ineichen, R. Seals, J. Michalsky,
// R. Stewart, "Modeling daylight availability and irradiance components from direct and global irradiance", Solar
// Energy 44(5), 271-289 (1990), composite of all sites, three digits as printed in textbooks; a seven-digit set moves a
// result by less than 0.1 W/m2.
var (
	epsEdges = [7]float64{1.065, 1.23, 1.5, 1.95, 2.8, 4.5, 6.2}
	perez    = [8][6]float64{ // f11 f12 f13 f21 f22 f23
		{-0.008, 0.588, -0.062, -0.060, 0.072, -0.022},
		{0.130, 0.683, -0.151, -0.019, 0.066, -0.029},
		{0.330, 0.487, -0.221, 0.055, -0.064, -0.026},
		{0.568, 0.187, -0.295, 0.109, -0.152, -0.014},
		{0.873, -0.392, -0.362, 0.226, -0.462, 0.001},
		{1.132, -1.237, -0.412, 0.288, -0.823, 0.056},
		{1.060, -1.600, -0.359, 0.264, -1.127, 0.131},
		{0.678, -0.327, -0.250, 0.156, -1.377, 0.251},
	}
)

// brightness returns Perez's f1 (share of the diffuse light that comes from around the sun, 0..1) and f2 (brightening
// of the horizon). It wants a sun above the horizon and DHI > 0.
//
// This is the one sky model because it comes nearest to what handbooks print (themselves computed so): for a year at
// tilt = latitude an even sky is about 4 % and Hay & Davies 1980 1.5 % under, and in the winter months, which size an
// off-grid system, an even sky is 7 to 10 % under.
//
// Two departures, both for a low sun only. The diffuse clearness delta is held at 1 (diffuse light cannot exceed all
// light above the air) and f1 at 1, outside the range of the fit. Below 5 degrees Perez holds the brightness around the
// sun; Light gives what is left of it on level ground back to the dome, so that a level plane still gets DHI exactly.
func brightness(sky Sky) (f1, f2 float64) {
	zRad := sky.ZenithDeg * math.Pi / 180
	zTerm := 1.041 * zRad * zRad * zRad
	eps := (1 + sky.DNIWm2/sky.DHIWm2 + zTerm) / (1 + zTerm)
	delta := min(1, airmass(sky.ZenithDeg)*sky.DHIWm2/sky.ExtraNormalWm2)
	bin := 0
	for bin < len(epsEdges) && eps > epsEdges[bin] {
		bin++
	}
	f := &perez[bin]
	return min(1, max(0, f[0]+f[1]*delta+f[2]*zRad)), f[3] + f[4]*delta + f[5]*zRad
}

// glassAr is the angular loss coefficient of clean glass. Dirt raises it to 0.20 (from memory); SoilingLoss stands for
// dirt here, so it isn't counted twice.
const glassAr = 0.16

// sunPass is the share of light from one direction that passes the glass, relative to light at right angles: N. Martin,
// J. M. Ruiz, Solar Energy Materials & Solar Cells 70, 25-38 (2001). cosInc is 0..1.
func sunPass(cosInc, ar float64) float64 {
	return (1 - math.Exp(-cosInc/ar)) / (1 - math.Exp(-1/ar))
}

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
