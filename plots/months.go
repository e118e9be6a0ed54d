package plots

import (
	"fmt"
	"image/color"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"tideover/sim/ledger"
)

// month is one pair of bars: a month of the run, or a calendar month's mean over the years.
type month struct {
	name      string
	kWh       ledger.Flows
	asleepKWh float64 // of NotStarted: all slept, the battery flat
}

// beyond is what the controller did not reach, all awake.
func (m *month) beyond() float64 {
	return m.kWh[ledger.NotStarted] - m.asleepKWh + m.kWh[ledger.OffPeak] + m.kWh[ledger.Clipped]
}

// own is what the system took itself.
func (m *month) own() (kWh float64) {
	for _, f := range []ledger.Flow{
		ledger.InverterIdle, ledger.Standby, ledger.Heater, ledger.ControllerLoss, ledger.WiringLoss, ledger.BatteryLoss, ledger.InverterLoss,
	} {
		kWh += m.kWh[f]
	}
	return kWh
}

// left and right are the two bars, from the foot up. The left ends at what the array offered and the backup gave.
func (m *month) left() []float64 {
	return []float64{m.kWh[ledger.Drawn], m.kWh[ledger.Backup], m.kWh[ledger.ChargeBarred], m.asleepKWh, m.beyond(), m.kWh[ledger.Curtailed]}
}

func (m *month) right() []float64 {
	return []float64{m.own(), m.kWh[ledger.Served], m.kWh[ledger.Withheld], m.kWh[ledger.Unserved]}
}

// monthsOf returns up to 14 months as they are, more as means of the calendar months, and the sum of all.
func monthsOf(run *ledger.Run) (months []month, sum month, means bool) {
	means = len(run.Months) > 14
	var counts []int
	asleepWh := asleepOf(run)
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
		months[k].asleepKWh += asleepWh[i]
		counts[k]++
	}
	for k := range months {
		per := 1000 * float64(counts[k])
		for f := range months[k].kWh {
			months[k].kWh[f] /= per
		}
		months[k].asleepKWh /= per
		sum.kWh.Add(&months[k].kWh)
		sum.asleepKWh += months[k].asleepKWh
	}
	return months, sum, means
}

// asleepOf returns for each month what, at the modules, was not started in the steps in which all slept, the battery flat.
// Without hourly columns it is what of it would have come to the bus.
func asleepOf(run *ledger.Run) []float64 {
	wh := make([]float64, len(run.Months))
	h := run.Hours
	for i := range run.Months {
		m := &run.Months[i]
		if m.AsleepWh == 0 {
			continue
		}
		if h == nil || len(h.AsleepW) == 0 {
			wh[i] = min(m.AsleepWh, m.Wh[ledger.NotStarted])
			continue
		}
		from := time.Date(m.Year, m.Month, 1, 0, 0, 0, 0, h.End[0].Location())
		first, last := stepsIn(h, from, from.AddDate(0, 1, 0))
		for k := first; k < last; k++ {
			if h.AsleepW[k] > 0 {
				wh[i] += h.StepH * h.FlowW[ledger.NotStarted][k]
			}
		}
		wh[i] = min(wh[i], m.Wh[ledger.NotStarted])
	}
	return wh
}

// barredWords says what refused the charge.
func barredWords(run *ledger.Run) string {
	switch barred, heat := run.Total[ledger.ChargeBarred], run.HeatBarredWh(); {
	case heat <= 0.01*barred:
		return "barred by cold"
	case heat > 0.99*barred:
		return "barred by heat"
	}
	return "barred by cold or heat"
}

// asleepWords says why what all asleep did not take was not taken.
func asleepWords(run *ledger.Run) string {
	h := run.Hours
	if h == nil || len(h.AsleepW) == 0 {
		return "asleep, battery flat"
	}
	var asleep, barred, tempC float64
	for i, w := range h.AsleepBarredW {
		asleep, barred = asleep+h.AsleepW[i], barred+w
		tempC += w * h.BatteryTempC[i]
	}
	switch {
	case 2*barred <= asleep:
		return "asleep, battery flat"
	case tempC > roomC*barred:
		return "asleep, battery flat and hot"
	}
	return "asleep, battery flat and cold"
}

// roomC is too warm for a charge that cold refuses and too cold for one that heat refuses.
const roomC = 20

// beyondWords names what of the harvest the controller does not reach, without what is too little to be seen.
func beyondWords(sum *month) string {
	var names []string
	for _, part := range []struct {
		name string
		kWh  float64
	}{{"not started", sum.kWh[ledger.NotStarted] - sum.asleepKWh}, {"off peak", sum.kWh[ledger.OffPeak]}, {"clipped", sum.kWh[ledger.Clipped]}} {
		if part.kWh > 0.05*sum.beyond() {
			names = append(names, part.name)
		}
	}
	return strings.Join(names, ", ")
}

// ownWords names what the system takes itself.
func ownWords(sum *month) string {
	var names []string
	for _, part := range []struct {
		name string
		flow ledger.Flow
	}{{"idle", ledger.InverterIdle}, {"standby", ledger.Standby}, {"heater", ledger.Heater}} {
		if sum.kWh[part.flow] > 0 {
			names = append(names, part.name)
		}
	}
	return strings.Join(append(names, "losses"), ", ")
}

// The colours of the bars, from the foot up.
var (
	leftColours  = []color.Color{sunFill, backupFill, barredFill, asleepFill, beyondFill, spareFill}
	rightColours = []color.Color{ownFill, servedFill, ruleFill, lackFill}
)

// Months draws, for each month, what the array offered and a backup charger gave, beside what the system and the loads
// took and what the loads lacked.
func Months(run *ledger.Run) *Chart {
	months, sum, means := monthsOf(run)
	tallest := 0.0
	var short []string
	for i := range months {
		m := &months[i]
		tallest = max(tallest, total(m.left()), total(m.right()))
		if m.kWh[ledger.Unserved] > 0 {
			short = append(short, m.name)
		}
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
	if gave := sum.kWh[ledger.Backup]; gave > 0 {
		format := "; the backup gave %.0f kWh"
		if gave < 10 {
			format = "; the backup gave %.1f kWh"
		}
		title += fmt.Sprintf(format, gave)
		if means {
			title += " a year"
		}
	}
	return &Chart{title, func(c *draw.Canvas) {
		step, top := niceScale(max(tallest*1.06, 0.1), 6)
		n := max(1, len(months))
		p := newPanel(c, marginBottom, chartH-marginTop-legendRow, 0, float64(n), top)
		p.yAxis(step)
		if means {
			p.caption("kWh a month, mean of " + yearsOf(run.Months))
		} else {
			p.caption("kWh a month")
		}
		// Of the bars' parts all are named that can be seen, and the two at the feet and the loads served always.
		seen := func(part func(*month) float64) bool {
			return slices.ContainsFunc(months, func(m month) bool { return part(&m) > 0.002*top })
		}
		keys := []key{{name: "left: drawn", clr: sunFill}}
		for k, name := range []string{"", "backup", barredWords(run), asleepWords(run), beyondWords(&sum), "unused, battery full"} {
			if k > 0 && seen(func(m *month) float64 { return m.left()[k] }) {
				keys = append(keys, key{name: name, clr: leftColours[k]})
			}
		}
		p.legendAt(1, keys)
		keys = []key{{name: "right: " + ownWords(&sum), clr: ownFill}, {name: "served", clr: servedFill}}
		for k, name := range []string{"", "", "withheld by rule", "shortfall"} {
			if k > 1 && seen(func(m *month) float64 { return m.right()[k] }) {
				keys = append(keys, key{name: name, clr: rightColours[k]})
			}
		}
		p.legend(keys)
		// A pair of bars is half a month wide, but no wider than 90 points.
		half := min(0.31, 45*float64(n)/float64(p.box.Max.X-p.box.Min.X))
		for i, m := range months {
			mid := float64(i) + 0.5
			p.stack(mid-half, mid-0.02*half, m.left(), leftColours)
			p.stack(mid+0.02*half, mid+half, m.right(), rightColours)
			p.lack(mid+0.02*half, mid+half, total(m.right()), m.kWh[ledger.Unserved])
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

// lack writes the shortfall into its part of the bar, which ends at top, or above where it does not fit.
func (p *panel) lack(x0, x1, top, kWh float64) {
	if !(kWh > 0) {
		return
	}
	const size vg.Length = 10
	label := fmt.Sprintf("%.1f", kWh)
	switch {
	case kWh < 0.05:
		label = "<0.1"
	case kWh >= 100:
		label = fmt.Sprintf("%.0f", kWh)
	}
	from, to := p.at(x0, top-kWh), p.at(x1, top)
	x := (from.X + to.X) / 2
	if within := size - 1; to.Y-from.Y >= within+3 && to.X-from.X >= style(left, within, true, ink).Width(label)+2 {
		write(p.Canvas, center, x, (from.Y+to.Y)/2-3.5, within, true, white, label)
		return
	}
	write(p.Canvas, center, x, to.Y+2, size, true, lackFill, label)
}

func total(values []float64) (sum float64) {
	for _, v := range values {
		sum += max(0, v)
	}
	return sum
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
