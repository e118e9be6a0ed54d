package sim

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"tideover/sim/battery"
	"tideover/sim/ledger"
	"tideover/weather"
	"tideover/weather/climate"
)

// TestReliabilityBenchmark runs measured days through the step loop with ideal parts, a flat panel and a load that is
// spread over each day like its light, and compares loss of load with a daily balance that others worked out from the
// same days: x = store + C_A G/G_w - 1, clipped at C_S, deficits summed. It is an independent calculation, not a
// published table. C_A is the array's mean day in the worst month over the load's day, C_S the store in days of load.
//
// With the load flat over the day the same array never serves more, since the night then has to come out of the store.
func TestReliabilityBenchmark(t *testing.T) {
	path := filepath.Join("..", "..", "shared", "references", "daily-ghi-series.csv")
	f, err := os.Open(path)
	if err != nil {
		t.Skipf("needs ../shared beside the repository: %v", err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	type entry struct{ ca, cs, llp float64 }
	t.Parallel()
	for _, c := range []struct {
		place       string
		site        weather.Site
		first       int
		worst       time.Month
		worstKWhDay float64
		rows        []entry // C_A to the printed digit at which loss of load is llp
	}{
		{"De Bilt", weather.Site{LatDeg: 52.1, LonDeg: 5.2}, 1959, time.December, 0.491, []entry{
			{0.461, 5, 0.1}, {0.672, 3, 0.05}, {1.302, 1, 0.01}, {1.073, 2, 0.01}, {0.996, 3, 0.01}, {0.914, 5, 0.01},
			{0.798, 10, 0.01}, {1.329, 3, 0.001}, {1.173, 5, 0.001}, {1.2, 3, 0.00264}}},
		{"Hyderabad", weather.Site{LatDeg: 17.53, LonDeg: 78.3, OffsetH: 5.5}, 1975, time.August, 4.301, []entry{
			{0.772, 5, 0.1}, {0.853, 3, 0.05}, {1.090, 1, 0.01}, {0.961, 3, 0.01}, {0.896, 10, 0.01}, {1.112, 3, 0.001},
			{1.2, 3, 0.00049}}},
	} {
		var ghi []float64
		for _, r := range rows[1:] {
			if len(r[0]) >= len(c.place) && r[0][:len(c.place)] == c.place {
				v, err := strconv.ParseFloat(r[3], 64)
				if err != nil {
					t.Fatal(err)
				}
				ghi = append(ghi, v)
			}
		}
		y, err := climate.FromDaily(climate.Daily{Site: c.site, Start: time.Date(c.first, 1, 1, 0, 0, 0, 0, time.UTC), GHIKWhM2Day: ghi})
		if err != nil {
			t.Fatal(err)
		}
		llp := func(ca, cs float64, flat bool) float64 {
			const loadWh = 1000 // a day
			b := battery.Default()
			b.ResistanceOhm, b.CoulombicEfficiency, b.SelfDischarge = 1e-9, 1, 0
			b.MaxChargeA, b.CapacityAh = 1e6, 100
			unit := b.Pack(0)
			b.CapacityAh = cs * loadWh / (unit.HeldWh(100) / 100)
			pack := b.Pack(0)
			full := pack.CapacityAh * (1 - 1e-12)
			p := &Plant{pack: pack, bank: &b, steps: make([]step, y.Len()), fixed: make([]fixed, y.Len()), stepH: 1,
				warm: make([]battery.Warmth, y.Len()), maxOutA: math.Inf(1), capAh: pack.CapacityAh, fullAh: full, countsAh: full,
				reconnectAh: 1e-4 * pack.CapacityAh} // the balance has no gap between cut and return
			for i := range p.steps {
				day := ghi[i/24] * 1000
				share := 1.0 / 24
				if !flat {
					share = y.GHIWm2[i] / day
				}
				p.steps[i] = step{busW: ca * loadWh * y.GHIWm2[i] / (c.worstKWhDay * 1000), dcW: loadWh * share, mustDC: true}
				p.fixed[i].arrayW = p.steps[i].busW
				p.warm[i] = battery.Warmth{OhmFactor: 1, MaxChargeA: b.MaxChargeA, ChargeV: pack.ChargeV}
			}
			p.brief()
			p.give()
			p.sumFixed(1, make([]ledger.Day, 1))
			bk := &books{months: make([]ledger.Flows, 1), days: make([]ledger.Day, 1), dayLowAh: make([]float64, 1), missedWh: make([]float64, 1), cableWh: make([]float64, 1)}
			p.reset(bk, pack.CapacityAh, false)
			if _, err := p.run(State{ChargeAh: pack.CapacityAh}, 0, len(p.steps), bk, nil); err != nil {
				t.Fatal(err)
			}
			if r := bk.months[0].Residual(); r > 1e-9 {
				t.Errorf("residual %v", r)
			}
			return bk.months[0][ledger.Unserved] / bk.months[0][ledger.Demand]
		}
		for _, e := range c.rows {
			got := llp(e.ca, e.cs, false)
			// 1 %, and what half of C_A's last printed digit, and of a printed loss of load, are worth.
			tol := 0.01 * e.llp
			switch off := math.Abs(got - e.llp); {
			case off <= tol:
			case e.ca == 1.2:
				tol += 0.000005
			default:
				tol += math.Abs(llp(e.ca-0.0005, e.cs, false) - got)
			}
			if math.Abs(got-e.llp) > tol {
				t.Errorf("%s: C_A %v, C_S %v: loss of load %.5f, want %.5f, off by %.2g, allowed %.2g", c.place, e.ca, e.cs, got,
					e.llp, got-e.llp, tol)
			}
			if flat := llp(e.ca, e.cs, true); flat < got {
				t.Errorf("%s: C_A %v, C_S %v: a flat load loses %.5f, less than %.5f", c.place, e.ca, e.cs, flat, got)
			} else {
				t.Logf("%s: C_A %v, C_S %v: %.5f, flat load %.5f", c.place, e.ca, e.cs, got, flat)
			}
		}
	}
}
