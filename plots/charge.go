package plots

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"time"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"tideover/sim/ledger"
)

// columnsOf returns the run's hourly columns, at least one step of them; a run without is our bug.
func columnsOf(run *ledger.Run, who string) *ledger.Hours {
	if run.Hours == nil || len(run.Hours.End) == 0 || len(run.Hours.SOC) != len(run.Hours.End) {
		panic(fmt.Sprintf("plots: %s: want a run with hourly columns, got %v", who, run.Hours != nil))
	}
	return run.Hours
}

// Charge draws the state of charge over the whole run, with the cut-off and the outages. It needs run.Hours.
func Charge(run *ledger.Run) *Chart {
	h := columnsOf(run, "Charge")
	t0, t1 := h.End[0].Add(-hours(h.StepH)), h.End[len(h.End)-1]
	title := fmt.Sprintf("The battery falls to %.0f %%", 100*run.Answer.LowestSOC)
	if t := run.Answer.LowestSOCTime; !t.IsZero() {
		title += " on " + t.Round(time.Second).Format("2 Jan 2006")
	}
	title += "; " + daysWithout(run.Answer.DaysWithoutPower)
	return &Chart{title, func(c *draw.Canvas) {
		p := newPanel(c, marginBottom, chartH-marginTop, seconds(t0), seconds(t1), 100)
		shades := p.outages(run.Outages)
		p.yAxis(20)
		p.timeGrid(timeTicks(t0, t1), true)
		p.timeCaption(t0, t1)
		p.caption("state of charge, %")

		var keys []key
		days := int(math.Ceil(t1.Sub(t0).Hours()/24 - 1e-9))
		if days <= 40 {
			p.line(p.chargeLine(run, t0, t1), 1.4, chargeLine)
			keys = []key{{name: "state of charge", clr: chargeLine, line: true}}
		} else {
			perBin := (days + 399) / 400
			p.chargeBand(h, t0, perBin)
			each := "each day's"
			if perBin > 1 {
				each = fmt.Sprintf("each %d days'", perBin)
			}
			keys = []key{{name: each + " lowest", clr: chargeLine, line: true}, {name: each + " range", clr: chargeBand}}
		}
		p.legend(slices.Concat(keys, shades, p.backup(h), p.cutOff(run, t0, t1, 24*time.Hour)))
		if a := run.Answer; !a.LowestSOCTime.IsZero() {
			pt := p.at(seconds(a.LowestSOCTime), 100*a.LowestSOC)
			p.DrawGlyphNoClip(draw.GlyphStyle{Color: ink, Radius: 4.5, Shape: draw.CircleGlyph{}}, pt)
			p.DrawGlyphNoClip(draw.GlyphStyle{Color: white, Radius: 2.5, Shape: draw.CircleGlyph{}}, pt)
		}
		p.frame()
	}}
}

func hours(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }

func daysWithout(n int) string {
	switch n {
	case 0:
		return "no day is without power"
	case 1:
		return "1 day is without power"
	}
	return fmt.Sprintf("%d days are without power", n)
}

// outages shades the outages and returns what the legend says of them.
func (p *panel) outages(outages []ledger.Outage) []key {
	var must, wait bool
	for pass := range 2 { // those of must-have loads come last, over the others
		for _, o := range outages {
			start := seconds(o.Start)
			end := start + 3600*o.Hours
			if end <= p.x0 || start >= p.x1 {
				continue
			}
			switch {
			case o.MustHaveHours == 0 && pass == 0:
				wait = true
				p.shade(start, end, waitShade)
			case o.MustHaveHours > 0 && pass == 1:
				must = true
				p.shade(start, end, lackShade)
			}
		}
	}
	var keys []key
	if must {
		keys = append(keys, key{name: "without power", clr: lackShade})
	}
	if wait {
		keys = append(keys, key{name: "only loads that can wait lack power", clr: waitShade})
	}
	return keys
}

// backup marks the steps in which the backup charger gave, and returns what the legend says of it.
func (p *panel) backup(h *ledger.Hours) []key {
	return p.mark(h, key{name: "charged by the backup", clr: backupFill}, func(i int) bool { return h.FlowW[ledger.Backup][i] > 0 })
}

// barred marks the steps in which cold or heat barred half or more of what the array offered, awake or asleep.
func (p *panel) barred(run *ledger.Run) []key {
	h := run.Hours
	return p.mark(h, key{name: "charge " + barredWords(run), clr: barredFill}, func(i int) bool {
		w := h.FlowW[ledger.ChargeBarred][i]
		if len(h.AsleepBarredW) > 0 {
			w += h.AsleepBarredW[i]
		}
		return w > 0 && w >= 0.5*h.FlowW[ledger.Array][i]
	})
}

// mark marks steps along the panel's foot and returns the legend's entry where there are any.
func (p *panel) mark(h *ledger.Hours, k key, is func(i int) bool) (keys []key) {
	for i := 0; i < len(h.End); i++ {
		if !is(i) {
			continue
		}
		start := seconds(h.End[i]) - 3600*h.StepH
		for i+1 < len(h.End) && is(i+1) {
			i++
		}
		end := seconds(h.End[i])
		if end <= p.x0 || start >= p.x1 {
			continue
		}
		from, to := p.at(max(start, p.x0), 0), p.at(min(end, p.x1), 0)
		fill(p.Canvas, vg.Rectangle{Min: vg.Point{X: from.X, Y: from.Y - 5}, Max: vg.Point{X: max(to.X, from.X+1), Y: from.Y - 1}}, k.clr)
		keys = []key{k}
	}
	return keys
}

// chargeLine is the state of charge at the end of each step between t0 and t1, and at the start of the first.
func (p *panel) chargeLine(run *ledger.Run, t0, t1 time.Time) []vg.Point {
	h := run.Hours
	var pts []vg.Point
	if h.End[0].After(t0) {
		pts = append(pts, p.at(seconds(t0), 100*run.Answer.StartSOC))
	}
	for i, end := range h.End {
		if end.Before(t0) || end.After(t1) {
			continue
		}
		pts = append(pts, p.at(seconds(end), 100*h.SOC[i]))
	}
	return pts
}

// chargeBand draws, for each stretch of so many days, the range of the charge and a line along its lower edge.
func (p *panel) chargeBand(h *ledger.Hours, t0 time.Time, days int) {
	type bin struct{ lo, hi float64 }
	length := 24 * 3600 * float64(days)
	bins := make([]bin, int(math.Ceil((p.x1-p.x0)/length-1e-9)))
	for i := range bins {
		bins[i] = bin{math.Inf(1), math.Inf(-1)}
	}
	for i, end := range h.End {
		k := int(math.Ceil((seconds(end)-p.x0)/length-1e-9)) - 1
		b := &bins[min(max(k, 0), len(bins)-1)]
		b.lo, b.hi = min(b.lo, 100*h.SOC[i]), max(b.hi, 100*h.SOC[i])
	}
	var lo, hi []vg.Point
	for i, b := range bins {
		if b.lo > b.hi { // a stretch without a step: the series jumps over it
			continue
		}
		x := min(p.x0+(float64(i)+0.5)*length, p.x1)
		lo, hi = append(lo, p.at(x, b.lo)), append(hi, p.at(x, b.hi))
	}
	// The outer halves of the first and the last stretch.
	ends := func(pts []vg.Point) []vg.Point {
		return slices.Concat([]vg.Point{{X: p.box.Min.X, Y: pts[0].Y}}, pts, []vg.Point{{X: p.box.Max.X, Y: pts[len(pts)-1].Y}})
	}
	lo, hi = ends(lo), ends(hi)
	back := slices.Clone(lo)
	slices.Reverse(back)
	p.FillPolygon(chargeBand, append(hi, back...))
	p.line(lo, 1.4, chargeLine)
}

// cutOff draws the line at which the battery disconnects, the highest of each stretch of time, and names it below the
// line where that is level and there is room, as near to the middle as is clear; else it returns the name for the legend.
func (p *panel) cutOff(run *ledger.Run, t0, t1 time.Time, stretch time.Duration) []key {
	dashes := []vg.Length{5, 3}
	if run.ColdCutOffSOC > run.DisconnectSOC && run.Hours.CutOffSOC != nil {
		var pts []vg.Point
		for end := t0; end.Before(t1); {
			from := end
			end = end.Add(stretch)
			first, last := stepsIn(run.Hours, from, end)
			if first == last {
				continue
			}
			y := 100 * slices.Max(run.Hours.CutOffSOC[first:last])
			pts = append(pts, p.at(seconds(from), y), p.at(min(seconds(end), p.x1), y))
		}
		p.line(pts, 1.1, ink, dashes...)
		return []key{{name: "cut-off, higher in the cold", clr: ink, line: true, dashes: dashes}}
	}
	soc := run.DisconnectSOC
	if soc <= 0 {
		return nil
	}
	label := fmt.Sprintf("cut-off %.0f %%", 100*soc)
	left, right := p.at(p.x0, 100*soc), p.at(p.x1, 100*soc)
	p.line([]vg.Point{left, right}, 1.1, ink, dashes...)
	y := left.Y - 13
	x, clear := 0.0, false
	if y >= p.box.Min.Y+1 {
		half := (p.x1 - p.x0) * float64((textWidth(10.5, label)/2+3)/(right.X-left.X))
		x, clear = p.clear(run, half, 100*soc)
	}
	if !clear {
		return []key{{name: label, clr: ink, line: true, dashes: dashes}}
	}
	mid, w := p.at(x, 0).X, textWidth(10.5, label)/2+3
	fill(p.Canvas, vg.Rectangle{Min: vg.Point{X: mid - w, Y: y}, Max: vg.Point{X: mid + w, Y: y + 11}}, white) // over the grid
	write(p.Canvas, center, mid, y, 10.5, false, ink, label)
	return nil
}

// clear is the place nearest to the middle with no outage within half to either side, and no charge below so many percent.
func (p *panel) clear(run *ledger.Run, half, below float64) (x float64, ok bool) {
	h := run.Hours
	free := func(x float64) bool {
		for _, o := range run.Outages {
			if from := seconds(o.Start); from < x+half && from+3600*o.Hours > x-half {
				return false
			}
		}
		pad := 86400 * math.Ceil((p.x1-p.x0)/86400/400) // the band of a day stretches to the next
		first := sort.Search(len(h.End), func(i int) bool { return seconds(h.End[i]) >= x-half-pad })
		for i := first; i < len(h.End) && seconds(h.End[i]) <= x+half+pad; i++ {
			if 100*h.SOC[i] < below {
				return false
			}
		}
		return true
	}
	const tries = 40
	mid, step := (p.x0+p.x1)/2, ((p.x1-p.x0)/2-half)/tries
	for k := range tries {
		for _, x := range []float64{mid + float64(k)*step, mid - float64(k)*step} {
			if free(x) {
				return x, true
			}
		}
	}
	return 0, false
}
