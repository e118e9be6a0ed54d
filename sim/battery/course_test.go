package battery

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"pgregory.net/rapid"
)

func TestCourseOfTwoLags(t *testing.T) {
	// A step of 10 K through two first-order lags one after the other: 1 - (T1 e^(-t/T1) - T2 e^(-t/T2))/(T1 - T2), and for two equal
	// ones 1 - (1 + t/T) e^(-t/T), the overdamped and the critically damped second-order system of any text on control (K. Ogata,
	// Modern Control Engineering, from memory). By hand, 12 h and 6 h, after 6 h: 1 - (12 x 0.60653 - 6 x 0.36788)/6 = 0.15482; twice
	// 6 h: 1 - 2 x 0.36788 = 0.26424. One lag of 6 h alone: 1 - 0.36788.
	for _, c := range []struct{ airH, bankH, want float64 }{{12, 6, 1.5482}, {6, 12, 1.5482}, {6, 6, 2.6424}, {0, 6, 6.3212}, {6, 0, 6.3212}, {0, 0, 10}} {
		b := block(100)
		b.TempLagH = c.bankH
		course := b.Course(0, Air{StartC: 0, ToC: 10, LagH: c.airH}, 0)
		near(t, "after 6 h", course.At(6), c.want, 1e-3)
		near(t, "mean", course.Mean(2, 5), quad.Fixed(course.At, 2, 5, 20, nil, 0)/3, 1e-9)
	}
}

// Whatever the temperatures, a course comes to a level when it is told to, and to none before.
func TestUntil(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := block(100)
		c := func(name string) float64 { return rapid.Float64Range(-30, 60).Draw(t, name) }
		b.TempLagH = rapid.SampledFrom([]float64{0, 0.3, 1, 6, 20}).Draw(t, "lag")
		b.MinChargeTempC, b.ReducedBelowC = c("barred"), c("reduced")
		b.ResumeChargeTempC = b.MinChargeTempC + rapid.Float64Range(0, 4).Draw(t, "resume")
		course := b.Course(c("start"), Air{c("air"), c("to"), rapid.SampledFrom([]float64{0, 0.5, 1, 12}).Draw(t, "building")}, 0)
		from, to := 0.2, 1.0
		until := b.Until(&course, from, to)
		if !(until > from && until <= to) {
			t.Fatalf("until %v", until)
		}
		for _, level := range []float64{b.MinChargeTempC, b.ResumeChargeTempC, b.MaxChargeTempC, b.ReducedBelowC} {
			above, below := 0, 0
			const n = 1000
			for k := range n {
				switch at := course.At(from + (until-from)*(float64(k)+0.5)/n); {
				case at > level+1e-6:
					above++
				case at < level-1e-6:
					below++
				}
			}
			if above > 0 && below > 0 && until > from+shortestH*1.01 {
				t.Fatalf("%v C is crossed before %v h: %d above, %d below", level, until, above, below)
			}
		}
		if until < to && until > from+shortestH*1.01 {
			gap := math.Inf(1)
			for _, level := range []float64{b.MinChargeTempC, b.ResumeChargeTempC, b.MaxChargeTempC, b.ReducedBelowC} {
				gap = min(gap, math.Abs(course.At(until)-level))
			}
			if gap > 1e-6 {
				t.Fatalf("at %v h it is %v K from any level", until, gap)
			}
		}
	})
}

func TestHeaterPhases(t *testing.T) {
	// By hand: heater and lag of 6 h would lift the bank by 20 K in the end. From the air's 0 C the 10 C of its thermostat are half of
	// that, reached after 6 ln 2 = 4.1589 h at full power; from then on half of it keeps them. At 16 C it rests until the bank has
	// cooled to 10 C, after 6 ln 1.6 = 2.8200 h. In air of -15 C all of it is not enough: the bank goes to 5 C.
	b := block(100)
	b.TempLagH, b.HeaterToC = 6, 10
	b.HeaterW = 20 * b.HeatWhPerK() / 6
	b.MinChargeTempC, b.ResumeChargeTempC, b.ReducedBelowC = -40, -40, -40
	n := b.Node()
	still := func(c float64) Air { return Air{StartC: c, ToC: c} }
	for _, c := range []struct {
		what                       string
		startC, airC               float64
		powered                    bool
		wantPart, wantUntilH, endC float64
	}{
		{"warms", 0, 0, true, 1, 4.1589, 10},
		{"keeps", 10, 0, true, 0.5, 24, 10},
		{"rests", 16, 0, true, 0, 2.8200, 10},
		{"has no power", 0, 0, false, 0, 24, 0},
		{"does what it can", 10, -15, true, 1, 24, 5 + 5*math.Exp(-4)},
		{"is not needed", 10, 12, true, 0, 24, 12 - 2*math.Exp(-4)},
	} {
		p := n.Phase(c.startC, still(c.airC), c.powered, 24, false)
		near(t, c.what+": power", p.HeaterW, c.wantPart*b.HeaterW, 1e-9)
		near(t, c.what+": until", p.UntilH, c.wantUntilH, 1e-4)
		near(t, c.what+": end", p.End(p.UntilH), c.endC, 1e-6)
	}
	// Without power, a bank that drifts away from the thermostat's temperature is not held there, however short the stretches.
	c := 10.0
	for range 1000 {
		p := n.Phase(c, still(10.001), false, 1e-4, false)
		c = p.End(1e-4)
	}
	near(t, "drifts in 0.1 h", c, 10+0.001*-math.Expm1(-0.1/6), 1e-9)
	// Air that warms in a building, 12 h behind: kept at 10 C until it is there itself, after 12 ln(10/4) h, by the mean of what it lacks.
	p := n.Phase(10, Air{StartC: 4, ToC: 14, LagH: 12}, true, 24, false)
	wantH := 12 * math.Log(10./4)
	near(t, "until the air is as warm", p.UntilH, wantH, 1e-6)
	near(t, "mean power", p.HeaterW, b.HeaterW*(10-14+10*12/wantH*(1-4./10))/20, 1e-6)
}

func TestBarredWithinTheStep(t *testing.T) {
	// By hand: a ring of two steps of 2 h in air of 16 and of -4 C, lag 1 h. The bank swings between -4 + 20/(1 + e^-2) = 13.62 C and what
	// mirrors it about 6 C, -1.62 C. Warming, it passes 2 C, from which it may charge again, after ln((16 + 1.62)/14) h, and 5 C, below
	// which it charges at a tenth of its capacity and not at half, after ln((16 + 1.62)/11) h. Cooling, it passes 5 C and 0 C after
	// ln((13.62 + 4)/9) and ln((13.62 + 4)/4) h.
	b := block(100)
	b.TempLagH, b.MinChargeTempC, b.ResumeChargeTempC, b.ReducedBelowC, b.ReducedRate = 1, 0, 2, 5, 0.1
	_, parts := b.Warmths([]float64{16, -4}, nil, 2)
	highC := -4 + 20/(1+math.Exp(-2))
	lowC := 12 - highC
	reducedH, barredH := math.Log((highC+4)/9), math.Log((highC+4)/4)
	want := []Stretch{
		{Step: 0, EndH: math.Log((16 - lowC) / 14), Warmth: Warmth{Barred: true, MaxChargeA: 10}},
		{Step: 0, EndH: math.Log((16 - lowC) / 11), Warmth: Warmth{MaxChargeA: 10}},
		{Step: 0, EndH: 2, Warmth: Warmth{MaxChargeA: 50}},
		{Step: 1, EndH: reducedH, Warmth: Warmth{MaxChargeA: 50}},
		{Step: 1, EndH: barredH, Warmth: Warmth{MaxChargeA: 10}},
		{Step: 1, EndH: 2, Warmth: Warmth{Barred: true, MaxChargeA: 10}},
	}
	if len(parts) != len(want) {
		t.Fatalf("%d stretches, want %d: %+v", len(parts), len(want), parts)
	}
	for k, w := range want {
		g := parts[k]
		if g.Step != w.Step || math.Abs(g.EndH-w.EndH) > 1e-6 || g.Barred != w.Barred || g.MaxChargeA != w.MaxChargeA {
			t.Errorf("stretch %d: step %d to %v h, barred %v, %v A; want %d, %v h, %v, %v A", k, g.Step, g.EndH, g.Barred, g.MaxChargeA, w.Step, w.EndH, w.Barred, w.MaxChargeA)
		}
	}
}
