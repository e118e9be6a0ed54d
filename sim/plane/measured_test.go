package plane_test

import (
	"math"
	"testing"

	"tideover/sim/plane"
	"tideover/weather/climate"
	"tideover/weather/sun"
)

func TestSyntheticYearsOnMeasuredPlanes(t *testing.T) {
	// The way of the whole tool: monthly clearness -> twenty synthetic years -> Split hour by hour -> each sky model, ground
	// 0.2. Measured ratios of light on the plane to that on the level: S. A. Klein, Solar Energy 19, 325-329 (1977), tables
	// 4 (upright to the south, Blue Hill, 1952 to 1956) and 5 (38 degrees to the north, Highett near Melbourne, 1966 to
	// 1968). The default is held to 4 % in the mean, and to 12 % in a month: these are pyranometers of the 1950s on other
	// years than ours, printed to 0.01 (1.3 % of 0.39), over a ground of unknown brightness (0.05 of it is 6 % upright in
	// summer, and snow lies in winter).
	for _, c := range []struct {
		name             string
		latDeg, tilt, az float64
		kt, want         [12]float64
	}{
		{"Blue Hill", 42.22, 90, 180, [12]float64{.411, .445, .445, .440, .481, .524, .528, .485, .485, .466, .421, .422},
			[12]float64{1.80, 1.38, .93, .61, .44, .39, .42, .54, .79, 1.23, 1.60, 1.94}},
		{"Highett", -37.9, 38, 0, [12]float64{.46, .46, .41, .40, .34, .34, .37, .39, .38, .39, .41, .42},
			[12]float64{.85, .94, 1.10, 1.29, 1.37, 1.50, 1.50, 1.34, 1.15, .98, .88, .84}},
	} {
		p := climate.Place{Name: c.name, LatDeg: c.latDeg, Zone: "UTC"}
		for m := range 12 {
			p.GHIKWhM2Day[m] = c.kt[m] * outsideKWh(c.latDeg, m)
			p.TempMeanC[m], p.TempMinC[m], p.TempMaxC[m] = 10, 5, 15
		}
		if err := p.Check(); err != nil {
			t.Fatal(err)
		}
		for _, model := range []plane.SkyModel{plane.Perez, plane.HDKR, plane.HayDavies, plane.Isotropic} {
			s := plane.Surface{TiltDeg: c.tilt, AzimuthDeg: c.az, GroundReflectance: 0.2, SkyModel: model}.Prepare(c.latDeg)
			var on, level [12]float64
			for k := range 20 {
				y := climate.Generate(p, 2025, 1, k)
				for i, at := range sun.Track(y.Start, 1, y.Len(), y.Site.Sun()) {
					if at.LitShare == 0 {
						continue
					}
					sky := plane.Sky{GHIWm2: y.GHIWm2[i] / at.LitShare, ZenithDeg: at.ZenithDeg, AzimuthDeg: at.AzimuthDeg,
						ExtraNormalWm2: sun.SolarConstantWm2 * at.DistanceFactor}
					sky.DNIWm2, sky.DHIWm2 = plane.Split(sky.GHIWm2, math.Cos(at.ZenithDeg*math.Pi/180), sky.ExtraNormalWm2)
					m := y.Start.AddDate(0, 0, i/24).Month() - 1
					l := s.Light(sky)
					on[m] += l.PlaneWm2() * at.LitShare
					level[m] += y.GHIWm2[i]
				}
			}
			mean, off := 0.0, [12]float64{}
			for m := range off {
				rel := on[m]/level[m]/c.want[m] - 1
				mean += rel / 12
				off[m] = math.Round(1000*rel) / 10
				if model == plane.Perez && math.Abs(rel) > 0.12 {
					t.Errorf("%s, month %d: ratio %.3f, measured %.2f, off by %.1f %%", c.name, m+1, on[m]/level[m], c.want[m], 100*rel)
				}
			}
			if model == plane.Perez && math.Abs(mean) > 0.04 {
				t.Errorf("%s: off by %.1f %% in the mean, want at most 4", c.name, 100*mean)
			}
			t.Logf("%s, %v: mean %+.1f %%, months %v %%", c.name, model, 100*mean, off)
		}
	}
}

// outsideKWh is the light above the air on level ground on Klein's mean day of a month (0..11), kWh/m2.
func outsideKWh(latDeg float64, month int) float64 {
	n := [12]float64{17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344}[month]
	rad := math.Pi / 180
	lat, dec := latDeg*rad, 23.45*rad*math.Sin(2*math.Pi*(284+n)/365)
	sunset := math.Acos(-math.Tan(lat) * math.Tan(dec))
	return 24 / math.Pi * 1.361 * (1 + 0.033*math.Cos(2*math.Pi*n/365)) *
		(math.Cos(lat)*math.Cos(dec)*math.Sin(sunset) + sunset*math.Sin(lat)*math.Sin(dec))
}
