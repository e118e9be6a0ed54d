package plots

import (
	"fmt"
	"image/color"
	"slices"
	"time"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"tideover/sim/study"
)

// SpellMap draws, for each start date across and each length up, whether a dull spell is carried: one panel a share of the
// usual sun. It panics without spells.
func SpellMap(s *study.Spells) *Chart {
	if len(s.Shares) == 0 || len(s.Dates) == 0 || s.Days == 0 {
		panic(fmt.Sprintf("plots: SpellMap: %d shares, %d dates, %d days: want at least one of each", len(s.Shares), len(s.Dates), s.Days))
	}
	title := spellTitle(s)

	most := 0
	for k := range s.Shares {
		for d := range s.Dates {
			most = max(most, s.Carried(k, d))
		}
	}
	top := min(s.Days, max(5, most+max(2, most/4))) // above it nothing is carried
	return &Chart{title, func(c *draw.Canvas) {
		t0, t1 := s.Dates[0], s.Dates[len(s.Dates)-1].AddDate(0, 0, 1)
		ticks := timeTicks(t0, t1)
		const gap vg.Length = 32
		n := vg.Length(len(s.Shares))
		tall := (chartH - marginTop - marginBottom - (n-1)*gap) / n
		for k, share := range s.Shares {
			upper := chartH - marginTop - vg.Length(k)*(tall+gap)
			p := newPanel(c, upper-tall, upper, seconds(t0), seconds(t1), float64(top))
			p.spells(s, k)
			step, _ := niceScale(float64(top), 4)
			p.yAxis(max(1, step))
			p.timeGrid(ticks, k == len(s.Shares)-1)
			caption := fmt.Sprintf("spells at %.4g %% of the usual sun: length, days", 100*share)
			if k == 0 && top < s.Days {
				caption += fmt.Sprintf(" (no spell of %d to %d is carried)", top+1, s.Days)
			}
			p.caption(caption)
			if k == 0 {
				p.legend([]key{
					{name: "carried", clr: carriedFill},
					{name: fmt.Sprintf("carried, charge under %.0f %%", 100*s.LowSOC), clr: littleFill},
					{name: "not carried", clr: lackFill},
				})
			}
			p.frame()
			if k == len(s.Shares)-1 {
				years := fmt.Sprint(t0.Year())
				if last := t1.AddDate(0, 0, -1).Year(); last != t0.Year() {
					years += fmt.Sprintf(" to %d", last)
				}
				write(c, center, (p.box.Min.X+p.box.Max.X)/2, p.box.Min.Y-34, 11, false, ink, "first day of the spell, by the local clock, "+years)
			}
		}
	}}
}

// spellTitle says what the duller spells' worst stretch of the year carries on nine of ten dates, and the date that carries
// least where that is less.
func spellTitle(s *study.Spells) string {
	stretches := s.Stretches(0)
	worst := slices.MinFunc(stretches, func(a, b study.Stretch) int { return a.Days - b.Days })
	allYear := !slices.ContainsFunc(stretches, func(n study.Stretch) bool { return n.Days != worst.Days })
	least, enough := 0, 0
	for d := range s.Dates {
		if s.Carried(0, d) < s.Carried(0, least) {
			least = d
		}
		if s.Carried(0, d) >= worst.Days {
			enough++
		}
	}
	title := fmt.Sprintf("Dull spells at %.4g %% of the usual sun: ", 100*s.Shares[0])
	few, when := s.Carried(0, least), s.Dates[least].Format("2 Jan")
	switch {
	case worst.Days == 0 && allYear:
		return title + "not one day is sure all year"
	case worst.Days == 0:
		return title + "not one day is sure " + worst.String()
	case few == worst.Days && allYear:
		return title + count(worst.Days, "day") + " carried all year"
	case allYear:
		return title + fmt.Sprintf("%s carried from %d of %d dates, only %d from %s", count(worst.Days, "day"), enough, len(s.Dates), few, when)
	}
	title += count(worst.Days, "day") + " carried " + worst.String()
	if few == worst.Days {
		return title
	}
	for _, less := range []string{fmt.Sprintf("; only %d from %s", few, when), fmt.Sprintf("; the least %d", few)} {
		if style(left, 15, true, ink).Width(title+less) < chartW-marginLeft+captionShift-marginRight {
			return title + less
		}
	}
	return title
}

var (
	carriedFill = rgb(0xd3e3ef)
	littleFill  = servedFill
)

// spells fills one column a start date: up from the shortest spell, what is carried, with little left, and not.
func (p *panel) spells(s *study.Spells, share int) {
	carried, easy := make([]int, len(s.Dates)), make([]int, len(s.Dates))
	for d := range s.Dates {
		carried[d] = s.Carried(share, d)
		for easy[d] < carried[d] && s.Of[share][d].Ends[easy[d]].LowestSOC >= s.LowSOC {
			easy[d]++
		}
	}
	all := make([]int, len(s.Dates))
	for d := range all {
		all[d] = int(p.y1)
	}
	p.columns(s.Dates, all, lackFill)
	p.columns(s.Dates, carried, littleFill)
	p.columns(s.Dates, easy, carriedFill)
}

// columns fills under one height a date.
func (p *panel) columns(dates []time.Time, heights []int, clr color.Color) {
	at := p.x0
	pts := []vg.Point{p.at(at, 0)}
	for d, h := range heights {
		end := p.x1
		if d+1 < len(dates) {
			end = seconds(dates[d+1])
		}
		if n := len(pts); d > 0 && h == heights[d-1] {
			pts[n-1] = p.at(end, float64(h))
		} else {
			pts = append(pts, p.at(at, float64(h)), p.at(end, float64(h)))
		}
		at = end
	}
	p.FillPolygon(clr, append(pts, p.at(at, 0)))
}

// count says "1 day", "23 days".
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
