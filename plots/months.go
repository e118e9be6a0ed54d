package plots

import (
	"fmt"
	"image/color"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg/draw"

	"tideover/sim/ledger"
)

// month is one pair of bars: a month of the run, or a calendar month's mean over the years.
type month struct {
	name string
	kWh  ledger.Flows
}

// monthsOf returns up to 14 months as they are, more as means of the calendar months.
func monthsOf(run *ledger.Run) (months []month, means bool) {
	means = len(run.Months) > 14
	var counts []int
	for i := range run.Months {
		m := &run.Months[i]
		name := m.Month.String()[:3]
		k := -1
		if means {
			k = slices.IndexFunc(months, func(o month) bool { return o.name == name })
		}
		if k < 0 {
			k = len(months)
			months, counts = append(months, month{name: name}), append(counts, 0)
		}
		months[k].kWh.Add(&m.Wh)
		counts[k]++
	}
	for k := range months {
		for f := range months[k].kWh {
			months[k].kWh[f] /= 1000 * float64(counts[k])
		}
	}
	return months, means
}

// Months draws, for each month, what the array gave and could have given beside what the loads got and lacked.
func Months(run *ledger.Run) *Chart {
	months, means := monthsOf(run)
	tallest := 0.0
	var short []string
	var withheld bool
	for i := range months {
		m := &months[i]
		tallest = max(tallest, m.kWh[ledger.Drawn]+m.kWh[ledger.Curtailed],
			m.kWh[ledger.Served]+m.kWh[ledger.Unserved]+m.kWh[ledger.Withheld])
		if m.kWh[ledger.Unserved] > 0 {
			short = append(short, m.name)
		}
		withheld = withheld || m.kWh[ledger.Withheld] > 0
	}
	title := "Harvest and use by month: no month falls short"
	switch {
	case len(short) > 0 && len(short) == len(months):
		title = "Harvest and use by month: every month falls short"
	case len(short) > 8:
		title = fmt.Sprintf("Harvest and use by month: %d of %d months fall short", len(short), len(months))
	case len(short) > 0:
		title = "Harvest and use by month: shortfall in " + listed(short)
	}
	return &Chart{title, func(c *draw.Canvas) {
		step, top := niceScale(max(tallest*1.06, 0.1), 6)
		n := max(1, len(months))
		p := newPanel(c, marginBottom, chartH-marginTop, 0, float64(n), top)
		p.yAxis(step)
		if means {
			p.caption("kWh a month, mean of " + yearsOf(run.Months))
		} else {
			p.caption("kWh a month")
		}
		keys := []key{
			{name: "left: harvest drawn", clr: sunFill}, {name: "unused, battery full", clr: spareFill},
			{name: "right: use", clr: servedFill}, {name: "shortfall", clr: lackFill},
		}
		if withheld {
			keys = append(keys, key{name: "withheld by rule", clr: ruleFill})
		}
		p.legend(keys)
		// A pair of bars is half a month wide, but no wider than 90 points.
		half := min(0.31, 45*float64(n)/float64(p.box.Max.X-p.box.Min.X))
		for i, m := range months {
			mid := float64(i) + 0.5
			p.stack(mid-half, mid-0.02*half, []float64{m.kWh[ledger.Drawn], m.kWh[ledger.Curtailed]},
				[]color.Color{sunFill, spareFill})
			p.stack(mid+0.02*half, mid+half,
				[]float64{m.kWh[ledger.Served], m.kWh[ledger.Unserved], m.kWh[ledger.Withheld]},
				[]color.Color{servedFill, lackFill, ruleFill})
			if lack := m.kWh[ledger.Unserved]; lack > 0 {
				label := fmt.Sprintf("%.1f", lack)
				switch {
				case lack < 0.05:
					label = "<0.1"
				case lack >= 100:
					label = fmt.Sprintf("%.0f", lack)
				}
				at := p.at(mid+half/2, m.kWh[ledger.Served]+lack+m.kWh[ledger.Withheld])
				write(c, center, at.X, at.Y+2, 10, true, lackFill, label)
			}
			write(c, center, p.at(mid, 0).X, p.box.Min.Y-15, 10, false, muted, m.name)
		}
		p.frame()
		axis := "month"
		if len(run.Months) > 0 && !means {
			axis = "month of " + yearsOf(run.Months)
		}
		write(c, center, (p.box.Min.X+p.box.Max.X)/2, p.box.Min.Y-34, 11, false, ink, axis)
	}}
}

func yearsOf(months []ledger.Month) string {
	first, last := months[0].Year, months[len(months)-1].Year
	if first == last {
		return fmt.Sprint(first)
	}
	return fmt.Sprintf("%d to %d", first, last)
}

// listed joins words as a sentence does.
func listed(words []string) string {
	if len(words) == 1 {
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// stack draws the values that are not zero on top of each other.
func (p *panel) stack(x0, x1 float64, values []float64, colours []color.Color) {
	base := 0.0
	for i, v := range values {
		if v > 0 {
			p.rect(x0, x1, base, base+v, colours[i])
			base += v
		}
	}
}
