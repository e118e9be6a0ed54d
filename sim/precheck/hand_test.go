package precheck

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// near reports whether got lies within tol of want, as a share of want.
func close(got, want, tol float64) bool { return math.Abs(got-want) <= tol*math.Abs(want) }

// The handbooks' chains are told in shared/references/worked-examples.md, section by section; their marks stand here.
// Each gives watts (or amps x volts) x sun hours x its own overall factor, or a battery's usable Wh over a day's.
// Tolerance: half of the last digit printed, as a share.
func TestHandbookHarvests(t *testing.T) {
	for _, c := range []struct {
		name             string
		arrayW, sunHours float64
		factor           float64
		wantWh, tol      float64
	}{
		// 7, [S] Boxwell's kind of sum on a trade page: 40 W x 4 h x 0.85.
		{"trade page", 40, 4, 0.85, 136, 0.0001},
		// 1.1, factors [M medium], arithmetic the file's own: 28.0 A at 24 V, 4.5 h, wire 0.98, charge 0.90, derate 0.90,
		// pays 100 Ah at 24 V. The three together are 0.79: the 0.8 of the hand sum.
		{"worksheet of SAND87-7023", 28.0 * 24, 4.5, 0.98 * 0.90 * 0.90, 100 * 24, 0.002},
		// 2.1 [S-calc], a street light of 420 Wh: 118 W at 5.07 h, 353 W at 1.70 h, factor 0.70.
		{"street light, San Diego", 118, 5.07, 0.70, 420, 0.005},
		{"street light, Seattle", 353, 1.70, 0.70, 420, 0.002},
		// 2.2, own arithmetic on the question's inputs [S]: 7.21 modules of 5.3 A at 24 V, 4.5 h [M], 0.85 x 0.90 x 0.95.
		{"Masters, Boulder", 7.21 * 5.3 * 24, 4.5, 0.85 * 0.90 * 0.95, 3000, 0.001},
		// 2.3 [M]: 15.7 A at 24 V, 5.0 h, coulombic 0.90, pays 1,695 Wh.
		{"Pacific guideline", 15.7 * 24, 5, 0.90, 1695, 0.004},
		// 2.4 [S-calc + M]: 680 W at 2.45 h and a performance ratio of 0.6 pays 1,000 Wh.
		{"IDAE, Madrid", 680, 2.45, 0.6, 1000, 0.001},
		// 2.5 [S]: 413.9 W at a generation factor of 3.43 pays 1,419.6 Wh, 1.3 times the loads; [own arithmetic] 440 W, 4 h,
		// 0.77 give 1.36 kWh.
		{"tutorial house", 413.9, 3.43, 1, 1419.6, 0.0002},
		{"tutorial house, 440 W", 440, 4, 0.77, 1360, 0.005},
		// 2.6 [S; the sum own arithmetic]: 480 W, 7 h, 0.65 give 2.2 kWh.
		{"bank that starves", 480, 7, 0.65, 2200, 0.03},
	} {
		if got := (HandRule{Factor: c.factor}).HarvestWh(c.arrayW, c.sunHours); !close(got, c.wantWh, c.tol) {
			t.Errorf("%s: %.4g W x %v h x %.3f = %.5g Wh, want %v within %v", c.name, c.arrayW, c.sunHours, c.factor, got, c.wantWh, c.tol)
		}
	}
}

func TestHandbookStores(t *testing.T) {
	for _, c := range []struct {
		name                       string
		usableWh, askWh, harvestWh float64
		wantDays, tol              float64
	}{
		// 1.1: 629.9 Ah at 24 V, depth 0.8, temperature 0.9, against 113.4 Ah a day: 4 days.
		{"worksheet of SAND87-7023", 629.9 * 24 * 0.8 * 0.9, 113.4 * 24, 0, 4, 0.001},
		// 2.2: 846 Ah at 0.60 x 0.90 is 457 Ah usable, 3.1 days of 147.1 Ah.
		{"Masters, Boulder", 846 * 24 * 0.60 * 0.90, 147.1 * 24, 0, 3.1, 0.016},
		// 2.3 [M]: 504 Ah at 24 V, 70 %: 5 days of 1,695 Wh.
		{"Pacific guideline", 504 * 24 * 0.7, 1695, 0, 5, 0.002},
		// 2.5 [M high]: 535.3 Ah at 12 V, 0.6, efficiency 0.85: 3 days of 1,092 Wh.
		{"tutorial house", 535.3 * 12 * 0.6 * 0.85, 1092, 0, 3, 0.0001},
		// practitioner.md, hand-checkable cases: no sun and 100 Wh a day on 1,000 usable Wh is 10 days.
		{"no sun", 1000, 100, 0, 10, 0},
		// By hand: half of it is harvested, so twice as long.
		{"half the sun", 1000, 100, 50, 20, 0},
		{"enough sun", 1000, 100, 100, math.Inf(1), 0},
		{"no load", 1000, 0, 0, math.Inf(1), 0},
	} {
		got := DaysCarried(c.usableWh, c.askWh, c.harvestWh)
		if got != c.wantDays && !close(got, c.wantDays, c.tol) {
			t.Errorf("%s: %v days, want %v within %v", c.name, got, c.wantDays, c.tol)
		}
	}
}

// Worked by hand: 100 W x 4 h x 0.8 = 320 Wh, a grey day 15 % = 48; 1,000 Wh x 0.9 = 900.
func TestTable(t *testing.T) {
	h := CommonRule().Hand(100, 1000, 0.9, Asked{Wh: [3]float64{0, 128, 500}})
	want := [3][3]Cell{
		{{320, math.Inf(1)}, {48, math.Inf(1)}, {0, math.Inf(1)}},
		{{192, math.Inf(1)}, {-80, 11.25}, {-128, 7.03125}},
		{{-180, 5}, {-452, 900.0 / 452}, {-500, 1.8}},
	}
	for a := range want {
		for s := range want[a] {
			g, w := h.Table[a][s], want[a][s]
			if math.Abs(g.LeftWh-w.LeftWh) > 1e-9 || g.Days != w.Days && !close(g.Days, w.Days, 1e-12) {
				t.Errorf("day %d, sun %d: %+v, want %+v", a, s, g, w)
			}
		}
	}
}

// anyWindow draws a window without regard to what is likely.
func anyWindow(t *rapid.T) Window {
	f := func(name string, most float64) float64 { return rapid.Float64Range(0, most).Draw(t, name) }
	return Window{
		Days: 0.5 + f("days", 60), Spell: rapid.Bool().Draw(t, "spell"), SunHours: f("sun", 8), MonthSunHours: f("month", 8),
		HarvestWh: f("harvest", 5000), ClippedWh: f("clipped", 500), BarredWh: f("barred", 500), CurtailedWh: f("curtailed", 500), BackupWh: f("backup", 500),
		AskedWh: f("asked", 3000), IdleWh: f("idle", 500), StandbyWh: f("standby", 200), LossWh: f("loss", 300),
	}
}

// The way from the hand sum to the run is complete: the steps add up.
func TestStepsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := anyWindow(t)
		if w.Spell {
			w.TakenWh = rapid.Float64Range(-500, 2000).Draw(t, "taken")
		}
		a := CommonRule().Hand(rapid.Float64Range(50, 2000).Draw(t, "array"), 2560, 0.9, Asked{Wh: [3]float64{50, 300, 900}}).Against(w)
		left := a.HandLeftWh
		for _, g := range a.GapWh {
			left += g
		}
		if math.Abs(left-w.LeftWh()) > 1e-6 {
			t.Fatalf("the steps lead to %v, the window leaves %v", left, w.LeftWh())
		}
		if len(a.Named) > 3 {
			t.Fatalf("%v: more than three are named", a.Named)
		}
		for k, n := range a.Named[:min(1, len(a.Named))] { // no other pulls the same way and further
			for _, g := range a.GapWh {
				if g*(w.LeftWh()-a.HandLeftWh) > 0 && math.Abs(g) > math.Abs(a.GapWh[n])+1e-9 {
					t.Fatalf("named %d is %v, but there is a gap of %v among %v", k, n, g, a.GapWh)
				}
			}
		}
	})
}

// Worked by hand: 250 W x 4 h x 0.8 leaves 800 - 300 = 500 Wh.
func TestTheOneAssumption(t *testing.T) {
	h := CommonRule().Hand(250, 1000, 0.9, Asked{Wh: [3]float64{100, 300, 600}})
	for _, c := range []struct {
		name string
		w    Window
		want []Term
	}{
		// 1 h of sun x 250 W x 0.8 = 200 Wh: the hand sum loses 600 and falls below 0 by that alone.
		{"the sun alone", Window{Days: 31, SunHours: 1, MonthSunHours: 1, HarvestWh: 200, AskedWh: 300, IdleWh: 50}, []Term{GapSunHours}},
		// 2 h leave 100: it takes the idle too.
		{"sun, then idle", Window{Days: 31, SunHours: 2, MonthSunHours: 2, HarvestWh: 400, AskedWh: 300, IdleWh: 200}, []Term{GapSunHours, GapIdle}},
		{"the inverter", Window{Days: 31, SunHours: 3.9, MonthSunHours: 3.9, HarvestWh: 780, AskedWh: 300, IdleWh: 600}, []Term{GapIdle}},
		{"the loads of the season", Window{Days: 31, SunHours: 4, MonthSunHours: 4, HarvestWh: 800, AskedWh: 900}, []Term{GapLoads}},
		// 6 h x 250 W = 1500 Wh before losses, of which 1000 more are lost than the harvest of 700 shows.
		{"losses", Window{Days: 31, SunHours: 4, MonthSunHours: 4, HarvestWh: 200, AskedWh: 300}, []Term{GapLosses}},
		{"frost", Window{Days: 31, SunHours: 4, MonthSunHours: 4, HarvestWh: 800, BarredWh: 700, AskedWh: 300}, []Term{GapFrost}},
		{"a brighter place", Window{Days: 31, SunHours: 6, MonthSunHours: 6, HarvestWh: 1200, AskedWh: 300, IdleWh: 10}, []Term{GapSunHours}},
		{"the same", Window{Days: 31, SunHours: 4, MonthSunHours: 4, HarvestWh: 800, AskedWh: 300}, nil},
		// Ten days of 1 h where the month has 4, from a full battery: 500 + 90 of store, less 600.
		{"a dull run", Window{Days: 10, Spell: true, SunHours: 1, MonthSunHours: 4, HarvestWh: 200, TakenWh: 90, AskedWh: 300}, []Term{GapDull}},
	} {
		if got := h.Against(c.w); !slices.Equal(got.Named, c.want) {
			t.Errorf("%s: %v is named, want %v; gaps %v", c.name, got.Named, c.want, got.GapWh)
		}
	}
}
