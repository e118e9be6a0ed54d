package sim_test

import (
	"testing"

	"tideover/scenarios"
	"tideover/sim"
	"tideover/sim/controller"
	"tideover/weather"
	"tideover/weather/climate"
)

// shipped returns the base of a shipped scenario with its own weather.
func shipped(t testing.TB, name string) (*sim.System, *weather.Year) {
	t.Helper()
	src, err := scenarios.Shipped.ReadFile(name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	f, err := scenarios.Decode(name, src)
	if err != nil {
		t.Fatal(err)
	}
	y, err := f.Base.Weather(nil)
	if err != nil {
		t.Fatal(err)
	}
	p, err := f.Base.Place(y, false)
	if err != nil {
		t.Fatal(err)
	}
	return p.System, y
}

// BenchmarkYear is the step loop alone on prepared inputs: see the package documentation for the figure it is held to.
func BenchmarkYear(b *testing.B) {
	sys, y := shipped(b, "trail-store")
	p := sim.Prepare(sys, y)
	r, err := p.Run(true)
	if err != nil {
		b.Fatal(err)
	}
	crossings := 2 * len(r.Outages) // cut and back
	for i := 1; i < len(r.Hours.SOC); i++ {
		if (r.Hours.SOC[i] == 1) != (r.Hours.SOC[i-1] == 1) { // full, and no longer
			crossings++
		}
	}
	if crossings < 20 {
		b.Fatalf("%d crossings, want at least 20: an easy year is no measure", crossings)
	}
	loop := p.Loop()
	b.ReportAllocs()
	for b.Loop() {
		if err := loop(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(y.Len()), "ns/step")
	b.ReportMetric(float64(crossings), "crossings")
}

// BenchmarkYearLead is the loop over ewe-barn: lead-acid with an engine beside it.
func BenchmarkYearLead(b *testing.B) {
	sys, y := shipped(b, "ewe-barn")
	loopOf(b, sim.Prepare(sys, y), y.Len())
}

// BenchmarkYearPWM is the loop over ewe-barn behind a PWM controller of 24 V, with two of its modules in series.
func BenchmarkYearPWM(b *testing.B) {
	sys, y := shipped(b, "ewe-barn")
	c := controller.New(controller.PWM)
	c.MaxCurrentA, c.MaxInputV, c.OwnDrawW = 20, 100, 0.5
	sys.Controller = c
	loopOf(b, sim.Prepare(sys, y), y.Len())
}

func loopOf(b *testing.B, p *sim.Prepared, steps int) {
	loop := p.Loop()
	b.ReportAllocs()
	for b.Loop() {
		if err := loop(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(steps), "ns/step")
}

// BenchmarkPrepare is everything before the step loop.
func BenchmarkPrepare(b *testing.B) {
	sys, y := shipped(b, "trail-store")
	b.ReportAllocs()
	for b.Loop() {
		sim.Prepare(sys, y)
	}
}

// BenchmarkMeansToPlane is from twelve monthly means to a year of light on the plane of the array: the days and hours of a
// synthetic year, the split of its light, the sky and the plane. Warm, the sun is shared with the years before, as in every
// run of many years or variants; cold, it is found too, with the laws of the months.
func BenchmarkMeansToPlane(b *testing.B) {
	sys, _ := shipped(b, "trail-store")
	p, err := climate.Find("Quillayute")
	if err != nil {
		b.Fatal(err)
	}
	b.Run("warm", func(b *testing.B) {
		g := climate.New(p, climate.Options{})
		k := 0
		b.ReportAllocs()
		for b.Loop() {
			sim.OnPlane(sys, g.Year(2025, 1, 4*(k%10)))
			k++
		}
	})
	b.Run("cold", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			sim.OnPlane(sys, climate.Generate(p, 2025, 1, 0))
		}
	})
}

// BenchmarkMeansToPanel is from twelve monthly means to a year of light on the panel, the geometry shared with the years
// before: the light of a synthetic year and all that Prepare does.
func BenchmarkMeansToPanel(b *testing.B) {
	sys, _ := shipped(b, "trail-store")
	p, err := climate.Find("Quillayute")
	if err != nil {
		b.Fatal(err)
	}
	g := climate.New(p, climate.Options{})
	g.Year(2025, 1, 0)
	k := 0
	b.ReportAllocs()
	for b.Loop() {
		sim.Prepare(sys, g.Year(2025, 1, 4*(k%10))) // years of the same place in the cycle of leap years
		k++
	}
}
