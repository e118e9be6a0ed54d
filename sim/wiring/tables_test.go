package wiring

import (
	"math"
	"testing"
)

// warm is a run of the size given, one metre, with copper at copperC.
func warm(r Run, copperC float64) Run {
	r.LengthM, r.WarmK = 1, copperC-20
	return r
}

// perM is the resistance of one conductor for a metre.
func perM(r Run) float64 { return r.ResistanceOhm() / 2 / r.LengthM }

const perKft = 3.28084 // ohm/km for one ohm/kft

// Tolerances are half of the last digit that is printed, unless said otherwise.
func TestPublishedDrops(t *testing.T) {
	// WI-01, a published worked example: 120 V, 22 A, 12 AWG stranded at 75 C, 50 ft one way: 4.356 V, 3.63 %.
	feet := func(awg string, ft float64) Run { r := warm(Run{AWG: awg}, 75); r.LengthM = ft * 0.3048; return r }
	near(t, "WI-01", 22*feet("12", 50).ResistanceOhm(), 4.356, 1e-5) // 1/0.3048 against 3.28084 is 1e-6
	// WI-02 to WI-05: arithmetic recomputed by others from the same tables, cross-checks.
	near(t, "WI-02", 5*feet("12", 20).ResistanceOhm(), 0.396, 1e-5)
	near(t, "WI-03", 10*Run{LengthM: 6, AreaMM2: 4}.ResistanceOhm(), 0.594, 1e-9)
	at45 := Run{LengthM: 6, AreaMM2: 4, Lay: Lay{WarmK: 25}}
	near(t, "WI-04, ohm/km", 1000*perM(at45), 5.43625, 5e-6)
	near(t, "WI-04", 10*at45.ResistanceOhm(), 0.65235, 5e-6)
	near(t, "WI-05", 250*feet("2/0", 6).ResistanceOhm(), 0.2901, 5e-5)
	// A trade figure: 105 A through 3 m of 35 mm2 loses 0.32 V. It takes the round copper figure, so 10 % is allowed.
	near(t, "3 m of 35 mm2", 105*Run{LengthM: 3, AreaMM2: 35}.ResistanceOhm(), 0.32, 0.033)
}

func TestTemperature(t *testing.T) {
	// NEC chapter 9 table 8 with its note: 1.98 ohm/kft at 75 C is 1.66023 at 25 C and 1.820115 at 50 C; recomputed by others.
	for c, want := range map[float64]float64{75: 1.98, 25: 1.66023, 50: 1.820115} {
		near(t, "12 AWG, ohm/kft", 1000*perM(warm(Run{AWG: "12"}, c))/perKft, want, 1e-9)
	}
	// IEC 60228, rounded table of 1/k_t: 25 C 0.980, 50 C 0.893, 75 C 0.820. Ours is exact copper: 0.3 % apart at 75 C.
	for c, k := range map[float64]float64{25: 0.980, 50: 0.893, 75: 0.820} {
		near(t, "16 mm2, k_t", 0.00121/perM(warm(Run{AreaMM2: 16}, c)), k, 0.003)
	}
	if a, b := (Run{LengthM: 3, AreaMM2: 16}).ResistanceOhm(), warm(Run{AreaMM2: 16}, 20).ResistanceOhm()*3; a != b {
		t.Errorf("nothing typed is %v, 20 C typed is %v", a, b)
	}
}

func TestGaugesAreTheirFormula(t *testing.T) {
	// d = 0.127 mm x 92^((36-n)/39), from memory; NEC table 8 prints circular mils rounded, 0.3 % apart.
	for n, g := range map[float64]string{18: "18", 12: "12", 6: "6", 2: "2", 0: "1/0", -1: "2/0", -2: "3/0", -3: "4/0"} {
		d := 0.127 * math.Pow(92, (36-n)/39)
		area := math.Pi * d * d / 4
		near(t, g+" AWG", gaugeOf(g).areaMM2, area, 0.003*area)
		// Stranding lengthens the wires by some percent: copper at 75 C, 0.01724 x 309.5/254.5.
		near(t, g+" AWG, ohm mm2/m", gaugeOf(g).ohmPerKft*perKft/1000*area, 0.02097, 0.04*0.02097)
	}
}

func TestAmpacity(t *testing.T) {
	// NEC table 310.16, copper, as found in several repositories: the column that terminals allow.
	for awg, want := range map[string]float64{"14": 15, "12": 20, "10": 30, "8": 40, "6": 55, "4": 70, "2": 95, "1": 110, "1/0": 150, "2/0": 175} {
		near(t, awg+" AWG", Run{AWG: awg}.AmpacityA(30), want, 0)
	}
	// Ambient factors of 90 C wire from the same: 0.96 at 35 C, 0.91 at 40, 0.87 at 45, 0.82 at 50, 0.76 at 55, 0.71 at 60,
	// 0.65 at 65, 0.58 at 70. Printed to two digits.
	for airC, want := range map[float64]float64{30: 1, 35: 0.96, 40: 0.91, 45: 0.87, 50: 0.82, 55: 0.76, 60: 0.71, 65: 0.65, 70: 0.58} {
		near(t, "heat of 90 C wire", heat(90, airC), want, 0.005)
	}
	// IEC 60364-5-52 table B.52.14 for PVC, from memory: 0.94, 0.87, 0.79, 0.71, 0.61, 0.50.
	for airC, want := range map[float64]float64{35: 0.94, 40: 0.87, 45: 0.79, 50: 0.71, 55: 0.61, 60: 0.50} {
		near(t, "heat of 70 C wire", heat(70, airC), want, 0.005)
	}
	// By hand: 10 AWG for 90 C, 40 A, at 60 C: 40 x 0.7071 = 28.28; four in a conduit: x 0.8 = 22.63.
	hot := Run{AWG: "10", Lay: Lay{Insulation: XLPE}}
	near(t, "on a roof", hot.AmpacityA(60), 28.284, 0.001)
	hot.Together = 4
	near(t, "four on a roof", hot.AmpacityA(60), 22.627, 0.001)
	near(t, "PVC on a roof", Run{AWG: "10"}.AmpacityA(60), 0, 0) // 60 C terminals in 60 C air
	near(t, "cold adds nothing", Run{AWG: "10"}.AmpacityA(-20), 30, 0)
	// IEC 60364-5-52 method B1, two loaded, from memory.
	near(t, "16 mm2", Run{AreaMM2: 16}.AmpacityA(30), 76, 0)
	near(t, "20 mm2 counts as 16", Run{AreaMM2: 20}.AmpacityA(30), 76, 0)
	near(t, "too thin for the table", Run{AreaMM2: 0.3}.AmpacityA(30), 0, 0)
	near(t, "xlpe adds nothing at 30 C", Run{AreaMM2: 16, Lay: Lay{Insulation: XLPE}}.AmpacityA(30), 76, 0)
	// More copper never carries less, and the two standards agree within a quarter for like areas.
	for i := range gauges[1:] {
		a, b := Run{AWG: gauges[i].name}, Run{AWG: gauges[i+1].name}
		if a.AmpacityA(30) >= b.AmpacityA(30) || a.FuseMostA(30) >= b.FuseMostA(30) {
			t.Errorf("%s carries no less than %s", a.AWG, b.AWG)
		}
	}
	for i := range metric[1:] {
		if metric[i].pvcA >= metric[i+1].pvcA || metric[i].ohmPerKm[0] <= metric[i+1].ohmPerKm[0] {
			t.Errorf("%v mm2 and the next size are out of order", metric[i].areaMM2)
		}
	}
}

func TestSmallConductorsAndFuses(t *testing.T) {
	// NEC 240.4(D): 14 AWG 15 A, 12 AWG 20 A, 10 AWG 30 A; 18 AWG 7 A, 16 AWG 10 A with conditions.
	for awg, want := range map[string]float64{"18": 7, "16": 10, "14": 15, "12": 20, "10": 30} {
		near(t, awg+" AWG", Run{AWG: awg, Lay: Lay{Insulation: XLPE}}.FuseMostA(30), want, 0)
	}
	// NEC 240.6(A) with the checks WI-06, WI-11 and WI-12: 12.83 A wants 15, 129.13 A 150, 280.11 A 300.
	for least, want := range map[float64]float64{12.828: 15, 129.13: 150, 280.11: 300, 15: 15, 15.01: 20, 0.2: 1} {
		got, ok := NextFuseA(least)
		if !ok || got != want {
			t.Errorf("fuse for %v A: %v, want %v", least, got, want)
		}
	}
	if a, ok := NextFuseA(601); ok {
		t.Errorf("a fuse of %v A for 601 A", a)
	}
	// 110 A by the tables: 35 mm2 carries 125 A, 25 mm2 101 A; 1 AWG carries 110 A, 2 AWG 95 A.
	if got := (Lay{}).Thinnest(110, 30); got != "35 mm2 or 1 AWG" {
		t.Errorf("for 110 A: %q", got)
	}
	if got := (Lay{}).Thinnest(1000, 30); got != "" {
		t.Errorf("for 1000 A: %q", got)
	}
}

func TestGaugeWords(t *testing.T) {
	for typed, want := range map[string]string{"6": "6", "1/0": "1/0", "0": "1/0", "000": "3/0"} {
		if got, err := gaugeNamed([]string{typed}); err != nil || got != want {
			t.Errorf("%q: %q, %v", typed, got, err)
		}
	}
	for _, words := range [][]string{{"7"}, {""}, {"6", "4"}, {"16 mm2"}} {
		if got, err := gaugeNamed(words); err == nil {
			t.Errorf("%q is taken as %q", words, got)
		}
	}
}

func TestCables(t *testing.T) {
	var array, controller, battery, inverter, dc Run
	var fuse Fuse
	c := NewCables(&array, &controller, &battery, &inverter, &dc, &fuse)
	battery = Run{LengthM: 2, AreaMM2: 16}
	c.CopperC, c.Lay.Together, c.Lay.Strands = 45, 4, Coarse
	if f := c.Check(); f != nil {
		t.Fatal(f)
	}
	c.Spread()
	near(t, "told", battery.ResistanceOhm(), 2*2*0.00115*279.5/254.5, 1e-12) // class 2, by hand
	fuse = Fuse{RatedA: 125, BreaksA: 20}
	if f := c.Check(); len(f) != 1 || f[0].Key != "battery_fuse_breaks_a" {
		t.Error(f)
	}
	ac := DefaultAC()
	ac.AreaMM2, ac.AWG = 2.5, "14"
	if f := ac.Check(); len(f) != 1 || f[0].Key != "cable_awg" {
		t.Error(f)
	}
}
