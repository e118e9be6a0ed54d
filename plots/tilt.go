package plots

import (
	"cmp"
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
	marks := []mark{{bestYear, year}, {bestMonth, design}}
	if design(&t.Curve[bestMonth]) < 0.5 {
		title = fmt.Sprintf("The year harvests most at a tilt of %.0f degrees; %v brings nothing at any", t.Curve[bestYear].TiltDeg(), month)
		marks = marks[:1]
	}
	return &Chart{title, func(c *draw.Canvas) {
		step, high := niceScale(top*1.06, 6)
		p := newPanel(c, marginBottom, chartH-marginTop, 0, 90, high)
		p.yAxis(step)
		p.caption(tiltCaption(t))
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
		var yearLine, monthLine, needLine []vg.Point
		for k := range t.Curve {
			s := &t.Curve[k]
			yearLine = append(yearLine, p.at(s.TiltDeg(), year(s)))
			monthLine = append(monthLine, p.at(s.TiltDeg(), design(s)))
			needLine = append(needLine, p.at(s.TiltDeg(), t.DesignNeedWh))
		}
		p.line([]vg.Point{needLine[0], needLine[len(needLine)-1]}, 1.4, lackFill, 5, 3)
		p.line(yearLine, 2.2, sunFill)
		p.line(monthLine, 2.2, chargeLine)
		var taken []vg.Rectangle
		for _, m := range marks {
			s := &t.Curve[m.k]
			at := p.at(s.TiltDeg(), m.value(s))
			fill(c, vg.Rectangle{Min: vg.Point{X: at.X - 3.5, Y: at.Y - 3.5}, Max: vg.Point{X: at.X + 3.5, Y: at.Y + 3.5}}, ink)
			label := fmt.Sprintf("%.0f deg: %.0f Wh", s.TiltDeg(), m.value(s))
			half := textWidth(10, label)/2 + 6 // bold is wider
			at.X = min(max(at.X, p.box.Min.X+half), p.box.Max.X-half)
			box := textBox(at.X-half, at.Y+7, 2*half)
			if slices.ContainsFunc(taken, box.overlaps) || slices.ContainsFunc(needLine, box.holds) { // something lies just above
				box = textBox(at.X-half, at.Y-17, 2*half)
			}
			taken = append(taken, box.Rectangle)
			write(c, center, at.X, box.Min.Y, 10, true, ink, label)
		}
		if now := &t.AsItStands; slices.Min(now.TiltByMonth[:]) == slices.Max(now.TiltByMonth[:]) {
			x := p.at(now.TiltDeg(), 0).X
			p.standing(x, taken, slices.Concat(yearLine, monthLine, needLine))
		}
		p.frame()
		write(c, center, (p.box.Min.X+p.box.Max.X)/2, p.box.Min.Y-34, 11, false, ink, "tilt, degrees: 0 lies flat, 90 stands upright")
	}}
}

// mark is a best point of a curve.
type mark struct {
	k     int
	value func(*study.Stand) float64
}

// tiltCaption says of several sub-arrays which is turned, with its controller's name where there is room.
func tiltCaption(t *study.Tilts) string {
	azimuth := fmt.Sprintf("azimuth %.0f degrees", t.AsItStands.AzimuthDeg)
	if t.Of < 2 {
		return "Wh a day at the battery bus, " + azimuth
	}
	turned := fmt.Sprintf("Wh a day at the battery bus; sub-array %d of %d turned", t.Sub+1, t.Of)
	if named := turned + " (" + t.Feeds + "), " + azimuth; t.Feeds != "" && textWidth(11, named) < 500 {
		return named
	}
	return turned + ", " + azimuth
}

// box is a place for a text of size 10.
type box struct{ vg.Rectangle }

func textBox(x, y, w vg.Length) box {
	return box{vg.Rectangle{Min: vg.Point{X: x, Y: y}, Max: vg.Point{X: x + w, Y: y + 10}}}
}

func (b box) overlaps(o vg.Rectangle) bool {
	return b.Min.X < o.Max.X && o.Min.X < b.Max.X && b.Min.Y < o.Max.Y && o.Min.Y < b.Max.Y
}

func (b box) holds(pt vg.Point) bool {
	return pt.X >= b.Min.X && pt.X <= b.Max.X && pt.Y >= b.Min.Y-3 && pt.Y <= b.Max.Y
}

// standing draws the line at x of the array as it stands, with gaps for the labels, and names it where neither a label nor
// a curve is in the way.
func (p *panel) standing(x vg.Length, taken []vg.Rectangle, curves []vg.Point) {
	foot := p.box.Min.Y
	slices.SortFunc(taken, func(a, b vg.Rectangle) int { return cmp.Compare(a.Min.Y, b.Min.Y) })
	for _, r := range taken {
		if r.Min.X < x && x < r.Max.X {
			p.line([]vg.Point{{X: x, Y: foot}, {X: x, Y: max(foot, r.Min.Y-2)}}, 1, muted, 2, 3)
			foot = r.Max.Y
		}
	}
	p.line([]vg.Point{{X: x, Y: foot}, {X: x, Y: p.box.Max.Y}}, 1, muted, 2, 3)

	const name = "as it stands"
	w := textWidth(10, name) + 2
	for y := p.box.Min.Y + 5; y+10 <= p.box.Max.Y; y += 6 {
		for _, at := range []box{textBox(x+4, y, w), textBox(x-4-w, y, w)} {
			if at.Min.X >= p.box.Min.X && at.Max.X <= p.box.Max.X &&
				!slices.ContainsFunc(taken, at.overlaps) && !slices.ContainsFunc(curves, at.holds) {
				write(p.Canvas, left, at.Min.X, y, 10, false, muted, name)
				return
			}
		}
	}
}
