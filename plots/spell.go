package plots

import (
	"fmt"
	"image/color"
	"slices"
	"sort"
	"time"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"tideover/sim/ledger"
)

// spellDays is the length of the worst spell.
const spellDays = 10

// Spell draws the worst spell: ten days around the lowest charge, with the sun and the loads beneath. Where several
// days fall as low, it takes the one around which must-have loads lacked power for longest; of equal ones the lowest, to
// which run and the chart of the charge point too. It needs run.Hours and run.Days. subArrays is
// how many planes the light is the mean of.
func Spell(run *ledger.Run, subArrays int) *Chart {
	h := columnsOf(run, "Spell")
	if len(run.Days) == 0 {
		panic("plots: Spell: run.Days is empty, want at least one day")
	}
	from, to := worstSpell(run)
	t0, t1 := h.End[0].Add(-hours(h.StepH)), h.End[len(h.End)-1]
	if d := run.Days[from].Date; d.After(t0) {
		t0 = d
	}
	if d := run.Days[to-1].Date.AddDate(0, 0, 1); d.Before(t1) {
		t1 = d
	}
	lowest, without := 1.0, 0
	for i := from; i < to; i++ {
		lowest = min(lowest, run.Days[i].LowestSOC)
		if run.Days[i].WithoutPower() {
			without++
		}
	}
	of := fmt.Sprintf("%d of them without power", without)
	switch {
	case without == 0:
		of = "no day is without power"
	case without == to-from:
		of = "every day is without power"
	}
	length := "1 day"
	if to-from > 1 {
		length = fmt.Sprintf("%d days", to-from)
	}
	title := fmt.Sprintf("The worst spell, %s: the battery falls to %.0f %%; ", length, 100*lowest) + of
	return &Chart{title, func(c *draw.Canvas) {
		x0, x1 := seconds(t0), seconds(t1)
		first, last := stepsIn(h, t0, t1)
		sunW := h.PlaneWm2[first:last]
		served, unserved, withheld := h.FlowW[ledger.Served][first:last], h.FlowW[ledger.Unserved][first:last],
			h.FlowW[ledger.Withheld][first:last]
		both, all := sum(served, unserved), sum(served, unserved, withheld)
		sunStep, sunTop := niceScale(max(100, most(sunW)), 3)
		loadStep, loadTop := niceScale(max(1, most(all)), 3)

		const gap vg.Length = 30
		load := newPanel(c, marginBottom, marginBottom+80, x0, x1, loadTop)
		sun := newPanel(c, load.box.Max.Y+gap, load.box.Max.Y+gap+60, x0, x1, sunTop)
		charge := newPanel(c, sun.box.Max.Y+gap, chartH-marginTop, x0, x1, 100)
		ticks := timeTicks(t0, t1)
		var shades []key
		for _, p := range []*panel{charge, sun, load} {
			shades = p.outages(run.Outages)
			p.timeGrid(ticks, p == load)
		}
		charge.yAxis(25)
		charge.caption("state of charge, %")
		charge.line(charge.chargeLine(run, t0, t1), 1.8, chargeLine)
		charge.legend(slices.Concat(shades, charge.barred(run), charge.backup(h), charge.cutOff(run, t0, t1, hours(h.StepH))))

		sun.yAxis(sunStep)
		if subArrays > 1 {
			sun.caption(fmt.Sprintf("sun on the planes of the %d sub-arrays, their mean by rated watts, W/m2", subArrays))
		} else {
			sun.caption("sun on the plane of the array, W/m2")
		}
		sun.steps(h, first, sunW, sunFill)

		load.yAxis(loadStep)
		load.caption("loads, W")
		keys := []key{{name: "served", clr: servedFill}}
		if most(withheld) > 0 {
			load.steps(h, first, all, ruleFill)
			keys = append(keys, key{name: "withheld by rule", clr: ruleFill})
		}
		if most(unserved) > 0 {
			load.steps(h, first, both, lackFill)
			keys = append(keys, key{name: "unserved", clr: lackFill})
		}
		load.steps(h, first, served, servedFill)
		load.legend(keys)
		load.timeCaption(t0, t1)
		for _, p := range []*panel{charge, sun, load} {
			p.frame()
		}
	}}
}

// worstSpell returns the days [from, to) of the worst spell, fewer than ten when the run is shorter.
func worstSpell(run *ledger.Run) (from, to int) {
	lowest := 1.0
	for i := range run.Days {
		lowest = min(lowest, run.Days[i].LowestSOC)
	}
	worst, at := -1.0, 0
	for i := range run.Days {
		low := run.Days[i].LowestSOC
		if low > lowest+0.001 { // 0.1 % of charge is as low
			continue
		}
		a := max(0, min(i-spellDays/2, len(run.Days)-spellDays))
		b := min(a+spellDays, len(run.Days))
		lack := 0.0
		for _, d := range run.Days[a:b] {
			lack += d.LackMin
		}
		if lack > worst || lack == worst && low < run.Days[at].LowestSOC {
			worst, at, from, to = lack, i, a, b
		}
	}
	return from, to
}

// stepsIn returns the steps that lie between t0 and t1.
func stepsIn(h *ledger.Hours, t0, t1 time.Time) (first, last int) {
	after := func(t time.Time) int {
		return sort.Search(len(h.End), func(i int) bool { return h.End[i].After(t) })
	}
	return after(t0), after(t1)
}

func most(v []float64) float64 {
	m := 0.0
	for _, x := range v {
		m = max(m, x)
	}
	return m
}

func sum(columns ...[]float64) []float64 {
	out := make([]float64, len(columns[0]))
	for _, col := range columns {
		for i, v := range col {
			out[i] += v
		}
	}
	return out
}

// steps fills below values that are constant within each step; the first is that of step number first.
func (p *panel) steps(h *ledger.Hours, first int, values []float64, clr color.Color) {
	if len(values) == 0 {
		return
	}
	var pts []vg.Point
	start := max(p.x0, seconds(h.End[first])-3600*h.StepH)
	pts = append(pts, p.at(start, 0))
	for i, v := range values {
		end := min(p.x1, seconds(h.End[first+i]))
		if n := len(pts); i > 0 && v == values[i-1] {
			pts[n-1] = p.at(end, v)
		} else {
			pts = append(pts, p.at(start, v), p.at(end, v))
		}
		start = end
	}
	p.FillPolygon(clr, append(pts, p.at(start, 0)))
}
