package sim_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"tideover/loads"
	"tideover/sim"
	"tideover/sim/clock"
	"tideover/sim/ledger"
	"tideover/sim/plane"
	"tideover/weather"
	"tideover/weather/sun"
)

// clear is n days of clear sky at 45 N from a day of 2025: Haurwitz 1945, 1098 cos z exp(-0.059/cos z) W/m2.
func clearSky(month time.Month, day, n int, airC float64) *weather.Year {
	zone := time.FixedZone("UTC+1", 3600)
	y := &weather.Year{Site: weather.Site{Name: "clear", LatDeg: 45, LonDeg: 15, OffsetH: 1},
		Start: time.Date(2025, month, day, 0, 0, 0, 0, zone), StepMin: 60}
	for _, s := range sun.Track(y.Start, 1, 24*n, y.Site.Sun()) {
		ghi := 0.0
		if c := math.Cos(s.ZenithDeg * math.Pi / 180); s.LitShare > 0 && c > 0.01 {
			ghi = 1098 * c * math.Exp(-0.059/c) * s.LitShare
		}
		y.GHIWm2, y.TempC = append(y.GHIWm2, ghi), append(y.TempC, airC)
	}
	return y
}

// sunny is the ideal system with a load and an array that faces an azimuth.
func sunny(azimuthDeg float64) *sim.System {
	s := ideal()
	s.Surface.TiltDeg, s.Surface.AzimuthDeg = 35, azimuthDeg
	s.Loads = []loads.Load{always("lamp", loads.DC, 20)}
	return s
}

func shadeAt(hours string, change func(*plane.Shade)) plane.Shade {
	s := plane.DefaultShade()
	s.SkyShare = 0
	if err := s.Keys()[0].SetWords([]string{hours}); err != nil {
		panic(err)
	}
	if change != nil {
		change(&s)
	}
	return s
}

func TestTwoSubArraysAreTheirSum(t *testing.T) {
	y := clearSky(6, 1, 5, 20)
	east, west, both := sunny(90), sunny(270), sunny(90)
	both.Beside = []sim.SubArray{{Array: west.Array, Surface: west.Surface}}
	e, w, b := run(t, east, y), run(t, west, y), run(t, both, y)
	for _, f := range []ledger.Flow{ledger.Array, ledger.NotStarted, ledger.OffPeak} {
		near(t, f.String(), b.Total[f], e.Total[f]+w.Total[f], 1e-9*(1+b.Total[f])) // rounding of a few hundred sums
	}
	near(t, "sunlight", b.SunlightWh, e.SunlightWh+w.SunlightWh, 1e-9*b.SunlightWh)
	// Two strings beside each other are the same as two sub-arrays on one plane.
	double, twice := sunny(180), sunny(180)
	double.Array.InParallel = 2
	twice.Beside = []sim.SubArray{{Array: twice.Array, Surface: twice.Surface}}
	for _, limit := range []float64{0, 150} { // W, at the input: it holds for the sum
		double.Controller.MaxInputW, twice.Controller.MaxInputW = limit, limit
		d, tw := run(t, double, y), run(t, twice, y)
		for f := range ledger.NFlows {
			near(t, fmt.Sprintf("%v, input limit %v W", f, limit), tw.Total[f], d.Total[f], 1e-7*(1+d.Total[ledger.Array]))
		}
		if limit > 0 && d.Total[ledger.Clipped] == 0 {
			t.Error("nothing is clipped at the input: the case tests nothing")
		}
	}
	double.Controller.MaxInputW, twice.Controller.MaxInputW = 0, 0
	double.Controller.MaxInputA, twice.Controller.MaxInputA = 9, 9
	d, tw := run(t, double, y), run(t, twice, y)
	near(t, "clipped, by 9 A at the input", tw.Total[ledger.Clipped], d.Total[ledger.Clipped], 1e-9*d.Total[ledger.Array])
	if d.Total[ledger.Clipped] == 0 {
		t.Error("nothing is clipped at the input: the case tests nothing")
	}
}

func TestEachSubArrayHasItsOwnWindow(t *testing.T) {
	// A second sub-array whose open-circuit voltage is above the input's limit gives nothing, and the first goes on.
	y := clearSky(6, 1, 2, 20)
	s, alone := sunny(180), sunny(180)
	second := s.Array
	second.InSeries = 4 // 96 V open against 60 V
	s.Beside = []sim.SubArray{{Array: second, Surface: s.Surface}}
	r, a := run(t, s, y), run(t, alone, y)
	near(t, "drawn or refused", r.Total[ledger.Array]-r.Total[ledger.NotStarted], a.Total[ledger.Array]-a.Total[ledger.NotStarted], 1e-6)
	if !slices.ContainsFunc(r.Warnings, func(w string) bool { return strings.Contains(w, "20.0 to 80.0 V") }) {
		t.Errorf("warnings %q, want one on strings of different voltage", r.Warnings)
	}
}

func TestShadeTakesTheBeamOfItsHours(t *testing.T) {
	y := clearSky(6, 1, 3, 20)
	open, shaded := sunny(180), sunny(180)
	shaded.Surface.Shades = []plane.Shade{shadeAt("14:30 to 18:00", nil)}
	o, s := run(t, open, y), run(t, shaded, y)
	split := func(i int) float64 { return s.Hours.FlowW[ledger.Array][i] / o.Hours.FlowW[ledger.Array][i] }
	for h := 5; h < 20; h++ {
		share := split(24 + h)
		switch {
		case h < 14 || h >= 18:
			near(t, fmt.Sprintf("at %d h, outside", h), share, 1, 1e-12)
		case h >= 15 && (share < 0.02 || share > 0.35):
			// A clear sky leaves its diffuse light, an eighth to a quarter, less what comes from around the sun.
			t.Errorf("at %d h: %.3f of the open array's power, want that of the diffuse light", h, share)
		case h == 14:
			// Half the hour in the open and half with what the hour after has left, nearly: cells are a little cooler, and
			// of the lower sun's light a little more is diffuse.
			near(t, "half an hour", share, (1+split(24+15))/2, 0.04)
		}
	}
	if res := s.Residual(); res > 1e-9 {
		t.Errorf("residual %v", res)
	}
}

func TestBypassedPointBelowTheWindow(t *testing.T) {
	// One 20 V module with one of three groups in deep shade: bypassing would give more, at 12.8 V, but the controller wants
	// 15 V. It holds the string instead, and books the rest as off its peak.
	y := clearSky(6, 1, 2, 20)
	s := sunny(180)
	s.Controller.MinInputV = 15
	s.Surface.Shades = []plane.Shade{shadeAt("00:00 to 24:00", func(sh *plane.Shade) { sh.Share = 0.3 })}
	wide := sunny(180)
	wide.Controller.MinInputV, wide.Controller.StartInputV = 5, 10
	wide.Surface.Shades = s.Surface.Shades
	narrowRun, wideRun := run(t, s, y), run(t, wide, y)
	i := 24 + 12
	at := func(r *ledger.Run, f ledger.Flow) float64 { return r.Hours.FlowW[f][i] }
	near(t, "array", at(narrowRun, ledger.Array), at(wideRun, ledger.Array), 1e-9)
	near(t, "off peak with a wide window", at(wideRun, ledger.OffPeak), 0.02*at(wideRun, ledger.Array), 1e-9)
	if lost := at(narrowRun, ledger.OffPeak) / at(narrowRun, ledger.Array); lost < 0.5 || lost > 0.95 {
		t.Errorf("off peak %.3f of what the modules could give, want most of it", lost)
	}
}

func TestHorizonLeavesTheDiffuseLight(t *testing.T) {
	y := clearSky(6, 1, 2, 20)
	s, ring := sunny(180), sunny(180)
	ring.Surface.Horizon = plane.Horizon{{AzimuthDeg: 0, HeightDeg: 30}}
	o, h := run(t, s, y), run(t, ring, y)
	// On 2 June at 45 N the sun stands at 67 deg at noon; before 7:00 it is below 30.
	noon, early := 24+12, 24+5
	near(t, "noon", h.Hours.PlaneWm2[noon]/o.Hours.PlaneWm2[noon], 1, 0.05)
	if got := h.Hours.PlaneWm2[early] / o.Hours.PlaneWm2[early]; got > 0.9 {
		t.Errorf("early: %.3f of the open array's light, want less than its sky", got)
	}
}

func TestSnowOnPanelsAndGround(t *testing.T) {
	y := clearSky(1, 1, 31, -12)
	bare := run(t, sunny(180), y)
	if !slices.ContainsFunc(bare.Notes, func(n string) bool { return strings.Contains(n, "no snow is known") }) {
		t.Errorf("notes %q, want one that no snow is known", bare.Notes)
	}
	s := sunny(180)
	s.Snow = plane.DefaultSnow()
	s.Snow.FallDays, s.Snow.DepthCM = make([]float64, 12), make([]float64, 12)
	s.Snow.FallDays[0], s.Snow.DepthCM[0] = 4, 20
	snowy := run(t, s, y)
	if len(snowy.Notes) != len(bare.Notes)-1 {
		t.Errorf("notes %q, want none on snow", snowy.Notes)
	}
	s.Snow.Swept = true
	swept := run(t, s, y)
	if a, b, c := snowy.Total[ledger.Array], swept.Total[ledger.Array], bare.Total[ledger.Array]; !(a < 0.95*c && a < b && b > 0.95*c) {
		t.Errorf("array %.0f Wh under snow, %.0f swept, %.0f bare: want the first least, the second near the last", a, b, c)
	}
	// White ground: at 35 deg it sees (1 - cos 35)/2 = 9 % more of GHI x 0.45 than before.
	s.Snow.FallDays = nil
	white := run(t, s, y)
	i := 24*10 + 12
	near(t, "light at noon over white ground", white.Hours.PlaneWm2[i]-bare.Hours.PlaneWm2[i],
		y.GHIWm2[i]*0.45*(1-math.Cos(35*math.Pi/180))/2, 1e-9)
	// The same from a column of the weather: a fall on the 10th.
	y.SnowDepthCM = make([]float64, y.Len())
	for k := range y.SnowDepthCM {
		if k >= 9*24 {
			y.SnowDepthCM[k] = 12
		}
	}
	column := run(t, sunny(180), y)
	for _, k := range []int{8*24 + 12, 9*24 + 12} {
		covered := column.Hours.FlowW[ledger.Array][k] < 0.5*bare.Hours.FlowW[ledger.Array][k]
		if want := k > 9*24; covered != want {
			t.Errorf("step %d: covered %v, want %v", k, covered, want)
		}
	}
	// What is typed goes before the column, and says so.
	typed := run(t, s, y)
	near(t, "typed depth beside a column", typed.Total[ledger.Array], white.Total[ledger.Array], 0)
	if !slices.ContainsFunc(typed.Notes, func(n string) bool { return strings.Contains(n, "the snow depth in the weather file is not used") }) {
		t.Errorf("notes %q, want one that the file's snow is not used", typed.Notes)
	}
}

func TestTurnedIsThatSystemPreparedAnew(t *testing.T) {
	y := clearSky(3, 1, 20, 3)
	s := sunny(180)
	s.Beside = []sim.SubArray{{Array: s.Array, Surface: s.Surface}}
	s.Beside[0].Surface.AzimuthDeg = 90
	p := sim.Prepare(s, y)
	for sub := range 2 {
		anew := *s
		anew.Beside = slices.Clone(s.Beside)
		at := &anew.Surface
		if sub == 1 {
			at = &anew.Beside[0].Surface
		}
		at.TiltDeg, at.AzimuthDeg = 70, 140
		got, err := p.Turned(sub, *at).Run(false)
		if err != nil {
			t.Fatal(err)
		}
		want, err := sim.Prepare(&anew, y).Run(false)
		if err != nil {
			t.Fatal(err)
		}
		if got.Total != want.Total || got.Answer != want.Answer {
			t.Errorf("sub-array %d: turned %+v, prepared anew %+v", sub, got.Total, want.Total)
		}
	}
}

func TestShadeKeepsStandardTime(t *testing.T) {
	// The wall of the loads has daylight saving, the shade has not: on both sides of the change it falls at one place of
	// the sun.
	zone, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	y := clearSky(3, 28, 4, 20) // the clocks go forward on 30 March 2025
	s := sunny(180)
	s.Zone = zone
	s.Surface.Shades = []plane.Shade{shadeAt("after 12:00", func(sh *plane.Shade) { sh.Season = []clock.DateSpan{} })}
	r := run(t, s, y)
	for d := range 4 {
		before, after := r.Hours.FlowW[ledger.Array][24*d+11], r.Hours.FlowW[ledger.Array][24*d+12]
		if after > 0.5*before {
			t.Errorf("day %d: %v W before noon, %v after: want the shade from noon by standard time", d, before, after)
		}
	}
}
