package plots

import (
	"fmt"
	"slices"
	"strconv"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"tideover/sim/study"
)

// Tilt draws the harvest of a day against the tilt, in the mean of the year and in the design month of the array as it
// stands, with the need of that month, at the array's own azimuth.
func Tilt(t *study.Tilts) *Chart {
	month := t.AsItStands.DesignMonth
	daysInMonth := t.DesignDays / float64(t.Years)
	year := func(s *study.Stand) float64 { return s.HarvestWh / t.DaysInYear }
	design := func(s *study.Stand) float64 { return s.MonthWh[month-1] / daysInMonth }
	bestYear, bestMonth, top := 0, 0, t.DesignNeedWh
	for k := range t.Curve {
		s := &t.Curve[k]
		top = max(top, year(s), design(s))
		if year(s) > year(&t.Curve[bestYear]) {
			bestYear = k
		}
		if design(s) > design(&t.Curve[bestMonth]) {
			bestMonth = k
		}
	}
	title := fmt.Sprintf("The year harvests most at a tilt of %.0f degrees, %v at %.0f",
		t.Curve[bestYear].TiltDeg(), month, t.Curve[bestMonth].TiltDeg())
	return &Chart{title, func(c *draw.Canvas) {
		step, high := niceScale(top*1.06, 6)
		p := newPanel(c, marginBottom, chartH-marginTop, 0, 90, high)
		p.yAxis(step)
		p.caption(fmt.Sprintf("Wh a day at the battery bus, azimuth %.0f degrees", t.AsItStands.AzimuthDeg))
		p.legend([]key{
			{name: "mean of the year", clr: sunFill, line: true}, {name: month.String(), clr: chargeLine, line: true},
			{name: "need in " + month.String(), clr: lackFill, line: true, dashes: []vg.Length{5, 3}},
		})
		for deg := 0.0; deg <= 90; deg += 15 {
			at := p.at(deg, 0)
			if deg > 0 && deg < 90 {
				p.line([]vg.Point{at, p.at(deg, high)}, 0.6, grid)
			}
			write(c, center, at.X, p.box.Min.Y-15, 10, false, muted, strconv.FormatFloat(deg, 'f', 0, 64))
		}
		var yearLine, monthLine []vg.Point
		for k := range t.Curve {
			s := &t.Curve[k]
			yearLine = append(yearLine, p.at(s.TiltDeg(), year(s)))
			monthLine = append(monthLine, p.at(s.TiltDeg(), design(s)))
		}
		p.line([]vg.Point{p.at(0, t.DesignNeedWh), p.at(90, t.DesignNeedWh)}, 1.4, lackFill, 5, 3)
		p.line(yearLine, 2.2, sunFill)
		p.line(monthLine, 2.2, chargeLine)
		for _, m := range []struct {
			k     int
			value func(*study.Stand) float64
		}{{bestYear, year}, {bestMonth, design}} {
			s := &t.Curve[m.k]
			at := p.at(s.TiltDeg(), m.value(s))
			fill(c, vg.Rectangle{Min: vg.Point{X: at.X - 3.5, Y: at.Y - 3.5}, Max: vg.Point{X: at.X + 3.5, Y: at.Y + 3.5}}, ink)
			label := fmt.Sprintf("%.0f deg: %.0f Wh", s.TiltDeg(), m.value(s))
			half := textWidth(10, label)/2 + 6 // bold is wider
			write(c, center, min(max(at.X, p.box.Min.X+half), p.box.Max.X-half), at.Y+7, 10, true, ink, label)
		}
		if now := &t.AsItStands; slices.Min(now.TiltByMonth[:]) == slices.Max(now.TiltByMonth[:]) {
			x := p.at(now.TiltDeg(), 0).X
			p.line([]vg.Point{{X: x, Y: p.box.Min.Y}, {X: x, Y: p.box.Max.Y}}, 1, muted, 2, 3)
			write(c, left, x+4, p.box.Min.Y+5, 10, false, muted, "as it stands")
		}
		p.frame()
		write(c, center, (p.box.Min.X+p.box.Max.X)/2, p.box.Min.Y-34, 11, false, ink, "tilt, degrees: 0 lies flat, 90 stands upright")
	}}
}
