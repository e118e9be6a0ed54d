package plane_test

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"tideover/sim/plane"
	"tideover/weather"
	"tideover/weather/climate"
	"tideover/weather/hourfile"
	"tideover/weather/sun"
)

// parted splits the global light of a year of hours, as the whole tool does.
func parted(y *weather.Year) (dni, dhi []float64) {
	track := y.Sun()
	d := plane.Days{GHIWm2: y.GHIWm2, PerHour: 1, At: func(i int) plane.Above {
		at := track[i]
		return plane.Above{ZenithDeg: at.ZenithDeg, CosZenith: math.Cos(at.ZenithDeg * math.Pi / 180), SolarTimeH: 12 + at.HourAngleDeg/15,
			ExtraNormalWm2: sun.SolarConstantWm2 * at.DistanceFactor, LitShare: at.LitShare}
	}}
	dni, dhi = make([]float64, y.Len()), make([]float64, y.Len())
	d.Split(dni, dhi)
	return dni, dhi
}

func TestSyntheticYearsOnMeasuredPlanes(t *testing.T) {
	// The way of the whole tool: monthly clearness -> a hundred synthetic years -> Split hour by hour -> each sky model. Measured
	// ratios of light on the plane to that on the level: S. A. Klein, Solar Energy 19, 325-329 (1977), tables 4 (upright to the
	// south, Blue Hill, 1952 to 1956) and 5 (38 degrees to the north, Highett near Melbourne, 1966 to 1968). The default is
	// held to 4 % in the mean and to 8 % in a month. Twenty years leave a month's ratio uncertain by 1 %, a hundred by half of
	// that. What lay before the instruments is not told. Highett has grass, 0.2. Blue Hill is a hill in mixed woods, which
	// textbooks give 0.15 (T. R. Oke, Boundary Layer Climates, 1987: leafy woods 0.15 to 0.20, conifers 0.05 to 0.15; from
	// memory), with 0.65 of snow on a share of the days that is assumed, once little and once much: no record of those years is at hand. On an upright plane in summer the ground is a fifth of all light, and 0.01 of reflectance 1.2 %:
	// with grass that never has snow, as nothing typed has it, January and May to July are off by 8 to 12 %. The chain of mean
	// days, of TestTiltedChecks, is within 8 % with grass too.
	grass := [12]float64{.2, .2, .2, .2, .2, .2, .2, .2, .2, .2, .2, .2}
	woods := func(snow [12]float64) (ground [12]float64) {
		for m, share := range snow {
			ground[m] = .15*(1-share) + .65*share
		}
		return ground
	}
	little, much := woods([12]float64{.2, .2, .05, 0, 0, 0, 0, 0, 0, 0, 0, .05}), woods([12]float64{.7, .7, .4, 0, 0, 0, 0, 0, 0, 0, 0, .4})
	for _, c := range []struct {
		name             string
		latDeg, tilt, az float64
		kt, want         [12]float64
		ground           [12]float64
		loose            []int // months held to 12 %
	}{
		{"Blue Hill as grass", 42.22, 90, 180, [12]float64{.411, .445, .445, .440, .481, .524, .528, .485, .485, .466, .421, .422},
			[12]float64{1.80, 1.38, .93, .61, .44, .39, .42, .54, .79, 1.23, 1.60, 1.94}, grass, []int{1, 5, 6, 7}},
		{"Blue Hill, little snow", 42.22, 90, 180, [12]float64{.411, .445, .445, .440, .481, .524, .528, .485, .485, .466, .421, .422},
			[12]float64{1.80, 1.38, .93, .61, .44, .39, .42, .54, .79, 1.23, 1.60, 1.94}, little, nil},
		{"Blue Hill, much snow", 42.22, 90, 180, [12]float64{.411, .445, .445, .440, .481, .524, .528, .485, .485, .466, .421, .422},
			[12]float64{1.80, 1.38, .93, .61, .44, .39, .42, .54, .79, 1.23, 1.60, 1.94}, much, nil},
		{"Highett", -37.9, 38, 0, [12]float64{.46, .46, .41, .40, .34, .34, .37, .39, .38, .39, .41, .42},
			[12]float64{.85, .94, 1.10, 1.29, 1.37, 1.50, 1.50, 1.34, 1.15, .98, .88, .84}, grass, nil},
	} {
		p := climate.Place{Name: c.name, LatDeg: c.latDeg, Zone: "UTC"}
		for m := range 12 {
			p.GHIKWhM2Day[m] = c.kt[m] * outsideKWh(c.latDeg, m)
			p.TempMeanC[m], p.TempMinC[m], p.TempMaxC[m] = 10, 5, 15
		}
		if err := p.Check(); err != nil {
			t.Fatal(err)
		}
		g := climate.New(p, climate.Options{})
		models := []plane.SkyModel{plane.Perez, plane.HDKR, plane.HayDavies, plane.Isotropic}
		var on, level [4][12]float64
		for k := range 100 {
			y := g.Year(2025, 1, k)
			dni, dhi := parted(y)
			track := y.Sun()
			for q, model := range models {
				var at [12]*plane.Prepared
				for m := range at {
					at[m] = plane.Surface{TiltDeg: c.tilt, AzimuthDeg: c.az, GroundReflectance: c.ground[m], SkyModel: model}.Prepare(c.latDeg)
				}
				for i, s := range track {
					if s.LitShare == 0 {
						continue
					}
					m := y.Start.AddDate(0, 0, i/24).Month() - 1
					l := at[m].Light(plane.Sky{GHIWm2: y.GHIWm2[i] / s.LitShare, DNIWm2: dni[i] / s.LitShare, DHIWm2: dhi[i] / s.LitShare,
						ZenithDeg: s.ZenithDeg, AzimuthDeg: s.AzimuthDeg, ExtraNormalWm2: sun.SolarConstantWm2 * s.DistanceFactor})
					on[q][m] += l.PlaneWm2() * s.LitShare
					level[q][m] += y.GHIWm2[i]
				}
			}
		}
		for q, model := range models {
			mean, squares, off := 0.0, 0.0, [12]float64{}
			for m := range off {
				rel := on[q][m]/level[q][m]/c.want[m] - 1
				mean += rel / 12
				squares += rel * rel / 12
				off[m] = math.Round(1000*rel) / 10
				tol := 0.08
				if slices.Contains(c.loose, m+1) {
					tol = 0.12
				}
				if model == plane.Perez && math.Abs(rel) > tol {
					t.Errorf("%s, month %d: ratio %.3f, measured %.2f, off by %.1f %%, want at most %.0f", c.name, m+1, on[q][m]/level[q][m], c.want[m], 100*rel, 100*tol)
				}
			}
			if model == plane.Perez && math.Abs(mean) > 0.04 {
				t.Errorf("%s: off by %.1f %% in the mean, want at most 4", c.name, 100*mean)
			}
			t.Logf("%s, %v: mean %+.1f %%, r.m.s. %.1f %%, months %v %%", c.name, model, 100*mean, 100*math.Sqrt(squares), off)
		}
	}
}

// The global light of typical years, split by the default, against the diffuse light that the files hold. Theirs is
// modelled for the most part, from clouds, so this is a cross-check of one model by others: the law is held to what it
// does there, 18 % of the diffuse light and 65 W/m2 (r.m.s. of the hours by day).
func TestSplitOfTypicalYears(t *testing.T) {
	for _, name := range []string{"usa-ak-juneau.tmy3.csv", "usa-ca-needles.tmy3.csv", "usa-co-leadville.epw", "nzl-invercargill.epw", "nic-managua.epw", "can-ottawa.epw"} {
		data, err := os.ReadFile(filepath.Join("..", "..", "..", "shared", "weather", name))
		if err != nil {
			t.Skipf("needs ../shared/weather/%s: %v", name, err)
		}
		y, err := hourfile.Read(name, bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		_, dhi := parted(y)
		var bias, squares, all, day float64
		for i, want := range y.DHIWm2 {
			bias += dhi[i] - want
			squares += (dhi[i] - want) * (dhi[i] - want)
			all += want
			if y.GHIWm2[i] > 0 {
				day++
			}
		}
		if rms := math.Sqrt(squares / day); math.Abs(bias/all) > 0.18 || rms > 65 {
			t.Errorf("%s: diffuse light %+.1f %%, r.m.s. %.1f W/m2", name, 100*bias/all, rms)
		} else {
			t.Logf("%s: diffuse light %+.1f %%, r.m.s. %.1f W/m2", name, 100*bias/all, rms)
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
