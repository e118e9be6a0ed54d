package plots

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/plot/vg"

	"tideover/sim/ledger"
	"tideover/sim/report/invented"
)

// winter is the hut's year with what a real one may hold besides: a charger, a sleep over January, charge barred by cold.
// The books are changed on both sides, so that they still close.
func winter() *ledger.Run {
	r := invented.Hut().Run()
	h := r.Hours
	h.AsleepW, h.AsleepBarredW = make([]float64, len(h.End)), make([]float64, len(h.End))
	book := func(i int, f ledger.Flow, w float64) {
		h.FlowW[f][i] += w
		r.Total[f] += w
		at := h.End[i].Add(-time.Hour)
		r.Months[int(at.Month())-1].Wh[f] += w
	}
	for i, end := range h.End {
		switch month := end.Add(-time.Hour).Month(); {
		case month == time.January: // all of the array's
			for _, f := range []ledger.Flow{ledger.Drawn, ledger.Curtailed, ledger.ChargeBarred, ledger.OffPeak} {
				w := h.FlowW[f][i]
				book(i, f, -w)
				book(i, ledger.NotStarted, w)
				if f == ledger.Drawn {
					book(i, ledger.Backup, w)
				}
			}
			if w := h.FlowW[ledger.NotStarted][i]; w > 0 {
				h.AsleepW[i], h.AsleepBarredW[i] = 0.97*w, 0.9*w
				r.Months[0].AsleepWh += h.AsleepW[i]
			}
		case month == time.February:
			w := h.FlowW[ledger.Curtailed][i]
			book(i, ledger.Curtailed, -w)
			book(i, ledger.ChargeBarred, w)
		}
	}
	return r
}

// TestMonthsHoldTheBooks: the left bar is all that the array offered and the charger gave, the right bar what the system
// and the loads took of it and, on top, what was asked for and did not come: the balances 1, 2 and 4 of the ledger.
func TestMonthsHoldTheBooks(t *testing.T) {
	for name, r := range map[string]*ledger.Run{"hut": invented.Hut().Run(), "winter": winter(), "thirty years": cases()["thirty years"]} {
		if gap := r.Residual(); gap > 1e-9 {
			t.Fatalf("%s: the books are off by %v", name, gap)
		}
		months, _, _ := monthsOf(r)
		for _, m := range months {
			bars := [2]float64{total(m.left()), total(m.right())}
			want := [2]float64{m.kWh[ledger.Array] + m.kWh[ledger.Backup],
				m.kWh[ledger.Drawn] + m.kWh[ledger.Backup] - m.kWh[ledger.StoreChange] + m.kWh[ledger.Unserved] + m.kWh[ledger.Withheld]}
			for k := range bars {
				if math.Abs(bars[k]-want[k]) > 1e-6 { // rounding of sums of some kWh
					t.Errorf("%s, %s: bar %d holds %v kWh, the books %v", name, m.name, k, bars[k], want[k])
				}
			}
		}
	}
	jan, _, _ := monthsOf(winter())
	if m := jan[0]; m.asleepKWh == 0 || math.Abs(m.asleepKWh-m.kWh[ledger.Array]) > 1e-9 {
		t.Errorf("January slept through: %v kWh asleep of %v", m.asleepKWh, m.kWh[ledger.Array])
	}
}

// legendOf is the words above the panel.
func legendOf(t *testing.T, r *ledger.Run) (words []string) {
	t.Helper()
	for _, l := range labels(t, svg(t, Months(r))) {
		words = append(words, l.s)
	}
	return words
}

func TestMonthsNameWhatIsThere(t *testing.T) {
	r := winter()
	words := legendOf(t, r)
	for _, want := range []string{"backup", "barred by cold", "asleep, battery flat and cold", "right: idle, standby, losses", "shortfall"} {
		if !slices.Contains(words, want) {
			t.Errorf("no %q among %q", want, words)
		}
	}
	if title := Months(r).Title(); !strings.Contains(title, "the backup gave ") {
		t.Errorf("the title is silent of the charger: %q", title)
	}
	hut := legendOf(t, cases()["no outage"])
	for _, not := range []string{"backup", "shortfall", "withheld by rule", "asleep, battery flat"} {
		if slices.Contains(hut, not) {
			t.Errorf("%q stands there though there is none", not)
		}
	}
	for i := range r.Months {
		r.Months[i].HeatBarredWh = r.Months[i].Wh[ledger.ChargeBarred]
	}
	for i := range r.Hours.BatteryTempC {
		r.Hours.BatteryTempC[i] = 48
	}
	words = legendOf(t, r)
	for _, want := range []string{"barred by heat", "asleep, battery flat and hot"} {
		if !slices.Contains(words, want) {
			t.Errorf("in the heat: no %q among %q", want, words)
		}
	}
}

// TestShortfallStandsAtItsPart: nothing lies above the shortfall, so that a figure over the bar stands on it.
func TestShortfallStandsAtItsPart(t *testing.T) {
	r := cases()["off by rule, no cut-off, can wait"]
	months, _, _ := monthsOf(r)
	m := months[0]
	if right := m.right(); right[len(right)-1] != m.kWh[ledger.Unserved] || m.kWh[ledger.Withheld] == 0 || m.kWh[ledger.Unserved] == 0 {
		t.Fatalf("on top lies %v, want the shortfall %v; withheld %v", right, m.kWh[ledger.Unserved], m.kWh[ledger.Withheld])
	}
}

// TestFullLegendFits: of all that can be in it, no entry leaves the paper or lies on another.
func TestFullLegendFits(t *testing.T) {
	r := winter()
	for i := range r.Months {
		m := &r.Months[i]
		m.HeatBarredWh = m.Wh[ledger.ChargeBarred] / 2
		for _, f := range []ledger.Flow{ledger.Heater, ledger.Clipped, ledger.Withheld, ledger.NotStarted, ledger.OffPeak} {
			m.Wh[f] += 3000
			r.Total[f] += 3000
		}
	}
	for i := range r.Months { // as many as are named, in a year of a large plant
		m := &r.Months[i]
		m.Wh[ledger.Unserved] = map[bool]float64{true: 2000}[i < 3 || i > 6]
		m.Wh[ledger.Backup] = 1e9
	}
	all := labels(t, svg(t, Months(r)))
	apart(t, "months, all at once", all)
	for _, l := range all {
		if l.s == "left: drawn" && l.box.Min.X < marginLeft-captionShift+vg.Length(16) {
			t.Errorf("the legend begins left of the paper's margin: %v", l.box)
		}
	}
}
