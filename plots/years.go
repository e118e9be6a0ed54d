package plots

import (
	"fmt"
	"math"
	"strconv"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"tideover/sim/study"
)

// namedYears is how many bars are named by their calendar year; more stand over a scale in percent.
const namedYears = 20

// Years draws the years of a record from the best to the worst: days without power as bars, with the median, the
// one-in-ten and how far each is known, and the lowest charge of the same years beneath.
func Years(rec *study.Record, s *study.Summary) *Chart {
	n := float64(s.Years)
	return &Chart{yearsTitle(rec, s), func(c *draw.Canvas) {
		const gap vg.Length = 34
		step, top := niceScale(max(5, s.Days.Worst)*1.15, 6)
		low := newPanel(c, marginBottom, marginBottom+92, 0, n, 100)
		days := newPanel(c, low.box.Max.Y+gap, chartH-marginTop, 0, n, top)
		days.yAxis(step)
		low.yAxis(50)
		days.caption(fmt.Sprintf("days without power in the year; upright: where the median and the one in ten lie, %.0f %% sure", 100*study.Sure))
		low.caption("lowest state of charge in the same year, %")
		half := 0.55 // no seams between
		if s.Years <= 200 {
			half = 0.41
		}
		half = min(half, 30*n/float64(days.box.Max.X-days.box.Min.X)) // no bar wider than 60 points
		radius := max(1.1, min(3, 320/vg.Length(n)))
		for i, k := range s.Ranked {
			y, mid := &rec.Years[k], float64(i)+0.5
			if y.DaysWithoutPower > 0 {
				days.rect(mid-half, mid+half, 0, float64(y.DaysWithoutPower), lackShade)
			}
			low.DrawGlyphNoClip(draw.GlyphStyle{Color: chargeLine, Radius: radius, Shape: draw.CircleGlyph{}}, low.at(mid, 100*y.LowestSOC))
			if s.Years <= namedYears {
				write(c, center, low.at(mid, 0).X, low.box.Min.Y-15, 10, false, muted, strconv.Itoa(y.CalendarYear))
			}
		}
		days.known("one in ten", s.Place(study.NineInTen), s.Days.OneInTen, s.Days.Worst)
		if s.Years > 1 {
			days.known("median", s.Place(study.Half), s.Days.Median, s.Days.Worst)
		}
		axis := "years, from the best to the worst"
		if s.Years > namedYears {
			axis = "share of the years that are no worse, %"
			for p := 0; p <= 100; p += 10 {
				x := low.at(n*float64(p)/100, 0).X
				for _, at := range []*panel{days, low} {
					at.line([]vg.Point{{X: x, Y: at.box.Min.Y}, {X: x, Y: at.box.Min.Y - 3}}, 0.6, muted)
				}
				write(c, center, x, low.box.Min.Y-15, 10, false, muted, strconv.Itoa(p))
			}
		}
		write(c, center, (low.box.Min.X+low.box.Max.X)/2, low.box.Min.Y-34, 11, false, ink, axis)
		days.frame()
		low.frame()
	}}
}

func yearsTitle(rec *study.Record, s *study.Summary) string {
	worst := &rec.Years[s.Worst()]
	switch {
	case s.Years == 1:
		return fmt.Sprintf("One year, %d: %s", worst.CalendarYear, daysWithout(worst.DaysWithoutPower))
	case s.None == s.Years:
		return fmt.Sprintf("No day is without power in %d years; the lowest charge is %.0f %%", s.Years, 100*s.LowestSOC.Worst)
	}
	most := "at most " + strconv.Itoa(int(s.Days.OneInTen.Value)) + " days"
	switch s.Days.OneInTen.Value {
	case 0:
		most = "no day"
	case 1:
		most = "at most 1 day"
	}
	return fmt.Sprintf("Of %d years, nine in ten have %s without power; the worst, %d, has %d", s.Years, most, worst.CalendarYear,
		worst.DaysWithoutPower)
}

// known draws an estimate and its range at a place in the ranking, and names it to the left. An open end has no bar; the
// range then goes to worst, the worst year seen, and on as the dotted line alone.
func (p *panel) known(name string, place int, e study.Estimate, worst float64) {
	x := float64(place) + 0.5
	p.line([]vg.Point{p.at(x, p.y1), p.at(x, 0)}, 0.7, muted, 2, 3)
	if !math.IsInf(e.Low, 0) || !math.IsInf(e.High, 0) {
		p.line([]vg.Point{p.at(x, max(e.Low, 0)), p.at(x, min(e.High, worst))}, 2.2, lackFill)
	}
	for _, end := range []float64{e.Low, e.High} {
		if !math.IsInf(end, 0) {
			at := p.at(x, end)
			p.line([]vg.Point{{X: at.X - 6, Y: at.Y}, {X: at.X + 6, Y: at.Y}}, 2.2, lackFill)
		}
	}
	p.DrawGlyphNoClip(draw.GlyphStyle{Color: lackFill, Radius: 4, Shape: draw.CircleGlyph{}}, p.at(x, e.Value))
	const size vg.Length = 10.5
	label := fmt.Sprintf("%s: %.0f", name, e.Value)
	switch low, high := math.IsInf(e.Low, 0), math.IsInf(e.High, 0); {
	case !low && !high:
		label += fmt.Sprintf(" (%.0f to %.0f)", e.Low, e.High)
	case !low && e.Low == 0: // any number is 0 or more
		label += " (too few years for an upper end)"
	case !low:
		label += fmt.Sprintf(" (%.0f or more)", e.Low)
	case high:
		label += " (no range)"
	default:
		label += fmt.Sprintf(" (%.0f or less)", e.High)
	}
	at := vg.Point{X: p.at(x, 0).X - 5, Y: p.box.Max.Y - 13}
	at.X = max(at.X, p.box.Min.X+style(left, size, true, ink).Width(label)+3)
	write(p.Canvas, right, at.X, at.Y, size, true, lackFill, label)
}
