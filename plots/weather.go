package plots

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"strconv"
	"time"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"tideover/weather"
	"tideover/weather/summary"
	"tideover/weather/sun"
)

// ramp runs from night to the strongest light; its lightness only grows.
var ramp = []struct {
	share float64
	clr   color.NRGBA
}{
	{0, color.NRGBA{0x18, 0x23, 0x2c, 255}},
	{0.1, color.NRGBA{0x1f, 0x50, 0x75, 255}},
	{0.28, color.NRGBA{0x7c, 0x80, 0x6d, 255}},
	{0.55, color.NRGBA{0xdf, 0xa6, 0x37, 255}},
	{0.8, color.NRGBA{0xf4, 0xd8, 0x87, 255}},
	{1, color.NRGBA{0xff, 0xfb, 0xee, 255}},
}

func rampAt(share float64) color.NRGBA {
	for i := 1; i < len(ramp); i++ {
		a, b := ramp[i-1], ramp[i]
		if share > b.share {
			continue
		}
		t := max(0, (share-a.share)/(b.share-a.share))
		mix := func(x, y uint8) uint8 { return uint8(math.Round(float64(x) + t*(float64(y)-float64(x)))) }
		return color.NRGBA{mix(a.clr.R, b.clr.R), mix(a.clr.G, b.clr.G), mix(a.clr.B, b.clr.B), 255}
	}
	return ramp[len(ramp)-1].clr
}

// seriesDays is how many days a carpet shows side by side; of longer weather it shows each date's mean over the years.
const seriesDays = 800

// carpetDays returns the light of each hour of each day, W/m2, and the day of the first; NaN where there is none.
func carpetDays(y *weather.Year) (days [][24]float64, first time.Time, means bool) {
	start := y.Start.In(y.Site.Zone())
	midnight := time.Date(start.Year(), start.Month(), start.Day(), 0, 0, 0, 0, start.Location())
	into := int(start.Sub(midnight).Minutes())
	last := into + y.Len()*y.StepMin
	n := (last + 1439) / 1440
	means = n > seriesDays
	var counts [][24]float64
	first = midnight
	slots := n
	if means {
		first, slots = time.Date(2024, 1, 1, 0, 0, 0, 0, start.Location()), 366
	}
	days, counts = make([][24]float64, slots), make([][24]float64, slots)
	slot, was := -1, -1
	for i, g := range y.GHIWm2 {
		min := into + i*y.StepMin
		if d := min / 1440; d != was {
			slot, was = d, d
			if means {
				at := midnight.AddDate(0, 0, d)
				slot = time.Date(2024, at.Month(), at.Day(), 0, 0, 0, 0, time.UTC).YearDay() - 1
			}
		}
		h := min / 60 % 24
		days[slot][h] += g
		counts[slot][h]++
	}
	for d := range days {
		for h := range days[d] {
			days[d][h] /= counts[d][h] // NaN from 0/0
		}
	}
	return days, first, means
}

// Carpet draws the light on the level by the hour of the day and the day of the year, with sunrise and sunset by the
// file's clock: light outside of these tells that the clock is off. Weather of more than two years is drawn as the mean
// of each date.
func Carpet(y *weather.Year) *Chart {
	days, first, means := carpetDays(y)
	total, peak := 0.0, 0.0
	for _, g := range y.GHIWm2 {
		total += g * y.StepH() / 1000
	}
	for d := range days {
		for _, g := range days[d] {
			if g > peak {
				peak = g
			}
		}
	}
	years := float64(y.Len()) * y.StepH() / 8766
	title := fmt.Sprintf("The sun hour by hour: %.0f kWh/m2 in %.0f days, at most %.0f W/m2", total, years*365.25, peak)
	switch {
	case means:
		title = fmt.Sprintf("The sun hour by hour, each date's mean of %.0f years: %.0f kWh/m2 a year", years, total/years)
	case math.Abs(years-1) < 0.005:
		title = fmt.Sprintf("The sun hour by hour: %.0f kWh/m2 in the year, at most %.0f W/m2", total, peak)
	}
	return &Chart{title, func(c *draw.Canvas) {
		t0, t1 := first, first.AddDate(0, 0, len(days))
		step, top := niceScale(max(100, peak), 12)
		p := newPanel(c, marginBottom, chartH-marginTop, seconds(t0), seconds(t1), 24)
		// Cells of whole pixels, of about the size at which they are seen, so that scaling does not blur them.
		w, h := max(2, 1656/len(days)), 26
		img := image.NewNRGBA(image.Rect(0, 0, w*len(days), h*24))
		for d := range days {
			for hour, g := range days[d] {
				clr := color.NRGBA{0xc9, 0xcf, 0xd4, 255} // nothing there
				if !math.IsNaN(g) {
					clr = rampAt(g / top)
				}
				for py := h * (23 - hour); py < h*(24-hour); py++ {
					for px := w * d; px < w*(d+1); px++ {
						img.SetNRGBA(px, py, clr)
					}
				}
			}
		}
		c.DrawImage(p.box, img)
		p.riseAndSet(y.Site, t0, len(days))
		for hour := 0; hour <= 24; hour += 3 {
			pt := p.at(p.x0, float64(hour))
			p.line([]vg.Point{{X: pt.X - 4, Y: pt.Y}, pt}, 0.6, muted)
			write(c, right, pt.X-6, pt.Y-4, 10, false, muted, strconv.Itoa(hour))
		}
		ticks := timeTicks(t0, t1)
		for i, t := range ticks {
			if x := p.at(seconds(t.at), 0); i > 0 && x.X < p.box.Max.X {
				p.line([]vg.Point{{X: x.X, Y: x.Y - 4}, x}, 0.6, muted)
			}
		}
		p.timeLabels(ticks)
		p.caption("hour of the day, local standard time")
		p.rampLegend(step, top)
		axis := "day of the year"
		switch {
		case !means && y.Measured:
			axis = "day, " + spanOfYears(t0, t1)
		case means:
			axis = "day of the year, mean of " + spanOfYears(y.Start, y.Start.Add(time.Duration(y.Len()*y.StepMin)*time.Minute))
		}
		write(c, center, (p.box.Min.X+p.box.Max.X)/2, p.box.Min.Y-34, 11, false, ink, axis)
	}}
}

func spanOfYears(t0, t1 time.Time) string {
	first, last := t0.Year(), t1.Add(-time.Second).Year()
	if first == last {
		return strconv.Itoa(first)
	}
	return fmt.Sprintf("%d to %d", first, last)
}

// timeLabels writes the labels of timeGrid without its lines, which would lie on a picture.
func (p *panel) timeLabels(ticks []tick) {
	for i, t := range ticks {
		start, end := max(seconds(t.at), p.x0), p.x1
		if i+1 < len(ticks) {
			end = min(end, seconds(ticks[i+1].at))
		}
		from, to := p.at(start, p.y0).X, p.at(end, p.y0).X
		switch width := textWidth(10, t.label); {
		case t.moment && from+width/2 < chartW-2:
			write(p.Canvas, center, from, p.box.Min.Y-15, 10, false, muted, t.label)
		case !t.moment && to-from > width+2:
			write(p.Canvas, center, (from+to)/2, p.box.Min.Y-15, 10, false, muted, t.label)
		}
	}
}

// riseAndSet draws when the sun rises and sets at the site, from day to day.
func (p *panel) riseAndSet(site weather.Site, first time.Time, days int) {
	track := sun.Track(first, 1, 24*days, site.Sun())
	var lines [2][]vg.Point // rising, setting
	var lastH [2]float64
	flush := func(k int) {
		p.line(lines[k], 1.1, white, 5, 3)
		lines[k] = nil
	}
	put := func(k, i int, hour float64) {
		if len(lines[k]) > 0 && math.Abs(hour-lastH[k]) > 1.5 { // over midnight, or after a polar day
			flush(k)
		}
		lastH[k] = hour
		lines[k] = append(lines[k], p.at(seconds(first)+86400*(float64(i/24)+0.5), hour))
	}
	for i := 1; i < len(track)-1; i++ {
		share := track[i].LitShare
		hour := float64(i % 24)
		before, after := track[i-1].LitShare, track[i+1].LitShare
		switch {
		case share > 0 && before == 0 && (share == 1 || after > 0):
			put(0, i, hour+1-share)
		case share > 0 && after == 0 && (share == 1 || before > 0):
			put(1, i, hour+share)
		}
	}
	flush(0)
	flush(1)
}

// rampLegend draws the colours of the light above the panel, at its right edge.
func (p *panel) rampLegend(step, top float64) {
	const length, height vg.Length = 240, 9
	unit := " W/m2"
	x1 := p.box.Max.X - textWidth(10, unit) - 14
	x0 := x1 - length
	y := p.box.Max.Y + captionLift + 9
	const cells = 120
	for i := range cells { // each runs on to the end, so that no seam shows between them
		x := x0 + length*vg.Length(i)/cells
		p.rectAt(x, y, x1-x, height, rampAt((float64(i)+0.5)/cells))
	}
	every := max(1, int(math.Ceil(top/step/5)))
	for i := 0; float64(i)*step <= top*(1+1e-9); i += every {
		x := x0 + length*vg.Length(float64(i)*step/top)
		write(p.Canvas, center, x, y-12, 10, false, muted, strconv.FormatFloat(float64(i)*step, 'f', -1, 64))
	}
	write(p.Canvas, left, x1+14, y-1, 10, false, muted, unit)
	keyX := x0 - 34 - textWidth(10.5, "sunrise and sunset") - 21
	p.rectAt(keyX, y-5, 16, 10, ramp[0].clr)
	p.line([]vg.Point{{X: keyX, Y: y}, {X: keyX + 16, Y: y}}, 1.1, white, 5, 3)
	write(p.Canvas, left, keyX+21, y-5, 10.5, false, ink, "sunrise and sunset")
}

func (p *panel) rectAt(x, y, w, h vg.Length, clr color.Color) {
	fill(p.Canvas, vg.Rectangle{Min: vg.Point{X: x, Y: y}, Max: vg.Point{X: x + w, Y: y + h}}, clr)
}

// WeatherMonths draws the sun of each month and, above, the band from its mean daily low to its mean daily high.
func WeatherMonths(s *summary.Summary) *Chart {
	low, high := 0, 0
	for i, m := range s.Months {
		if m.KWhM2Day() < s.Months[low].KWhM2Day() {
			low = i
		}
		if m.KWhM2Day() > s.Months[high].KWhM2Day() {
			high = i
		}
	}
	title := fmt.Sprintf("Sun and temperature by month: %.2f kWh/m2 a day in %s, %.2f in %s", s.Months[low].KWhM2Day(), s.Months[low].Month,
		s.Months[high].KWhM2Day(), s.Months[high].Month)
	if len(s.Months) == 1 {
		title = fmt.Sprintf("Sun and temperature: %.2f kWh/m2 a day in %s", s.Months[0].KWhM2Day(), s.Months[0].Month)
	}
	return &Chart{title, func(c *draw.Canvas) {
		n := float64(len(s.Months))
		tallest, coldest, warmest := 0.1, math.Inf(1), math.Inf(-1)
		for _, m := range s.Months {
			tallest = max(tallest, m.KWhM2Day())
			for _, v := range []float64{m.MinC, m.TempC, m.MaxC} {
				if !math.IsNaN(v) {
					coldest, warmest = min(coldest, v), max(warmest, v)
				}
			}
		}
		step, top := niceScale(tallest*1.1, 5)
		const foot, gap vg.Length = marginBottom + 14, 36
		sunlight := newPanel(c, foot, foot+150, 0, n, top)
		temp := newPanel(c, sunlight.box.Max.Y+gap, chartH-marginTop, 0, n, 1)
		tempStep, _ := niceScale(max(1, warmest-coldest), 4)
		temp.y0, temp.y1 = tempStep*math.Floor(coldest/tempStep), tempStep*math.Ceil(warmest/tempStep)
		if temp.y0 == temp.y1 {
			temp.y1 += tempStep
		}
		for k := range int(math.Round((temp.y1-temp.y0)/tempStep)) + 1 {
			v := temp.y0 + float64(k)*tempStep
			pt := temp.at(0, v)
			clr, width := grid, vg.Length(0.6)
			if v == 0 {
				clr, width = muted, 0.9 // frost lies below
			}
			temp.line([]vg.Point{pt, {X: temp.box.Max.X, Y: pt.Y}}, width, clr)
			write(c, right, pt.X-6, pt.Y-4, 10, false, muted, strconv.FormatFloat(v+0, 'f', max(0, int(-math.Floor(math.Log10(tempStep)+1e-9))), 64))
		}
		temp.caption("air temperature, degC")
		temp.legend([]key{{name: "mean daily low to mean daily high", clr: chargeBand}, {name: "mean", clr: chargeLine, line: true}})
		sunlight.yAxis(step)
		sunlight.caption("sun on the level, kWh/m2 a day")
		half := min(0.34, 45*n/float64(sunlight.box.Max.X-sunlight.box.Min.X))
		for i, m := range s.Months {
			mid := float64(i) + 0.5
			if !math.IsNaN(m.MinC) {
				temp.rect(mid-half, mid+half, m.MinC, m.MaxC, chargeBand)
			}
			temp.line([]vg.Point{temp.at(mid-half, m.TempC), temp.at(mid+half, m.TempC)}, 2.2, chargeLine)
			sunlight.rect(mid-half, mid+half, 0, m.KWhM2Day(), sunFill)
			at := sunlight.at(mid, m.KWhM2Day())
			write(c, center, at.X, at.Y+2, 10, true, ink, fmt.Sprintf("%.2f", m.KWhM2Day()))
			write(c, center, at.X, sunlight.box.Min.Y-15, 10, false, muted, m.Month.String()[:3])
			if k := m.Clearness(); !math.IsNaN(k) {
				write(c, center, at.X, sunlight.box.Min.Y-28, 10, false, muted, fmt.Sprintf("%.2f", k))
			}
		}
		sunlight.frame()
		write(c, center, (sunlight.box.Min.X+sunlight.box.Max.X)/2, sunlight.box.Min.Y-48, 11, false, ink,
			"month, and its clearness: the light over that outside the air")
	}}
}

// WeatherRuns draws the worst runs of days beside what is usual at their time of year and, of several whole years, the
// worst of each.
func WeatherRuns(s *summary.Summary) *Chart {
	title := "The worst runs: there is no whole day"
	for _, r := range s.Runs {
		if r.Days <= 5 { // the longest of those that a battery may have to bridge
			title = fmt.Sprintf("The worst %d days bring %.2f kWh/m2 a day", r.Days, r.KWhM2Day)
			if r.Days == 1 {
				title = fmt.Sprintf("The worst day brings %.2f kWh/m2", r.KWhM2Day)
			}
			if share := r.Share(); !math.IsNaN(share) {
				title += fmt.Sprintf(", %.0f %% of what is usual then", 100*share)
			}
		}
	}
	return &Chart{title, func(c *draw.Canvas) {
		n := float64(max(1, len(s.Runs)))
		tallest := 0.1
		several := s.WholeYears > 1
		for i, r := range s.Runs {
			tallest = max(tallest, r.KWhM2Day, r.UsualKWhM2Day)
			for _, y := range s.Years {
				if several && y.Whole && i < len(y.Runs) {
					tallest = max(tallest, y.Runs[i].KWhM2Day)
				}
			}
		}
		step, top := niceScale(tallest*1.08, 6)
		p := newPanel(c, marginBottom+14, chartH-marginTop, 0, n, top)
		p.yAxis(step)
		p.caption("sun on the level, kWh/m2 a day")
		keys := []key{{name: "the worst run, % of the usual", clr: sunFill}, {name: "usual at its time of year", clr: spareFill}}
		if several {
			keys = append(keys, key{name: "the worst of each year", clr: ink, line: true})
		}
		p.legend(keys)
		half := min(0.3, 70*n/float64(p.box.Max.X-p.box.Min.X))
		for i, r := range s.Runs {
			mid := float64(i) + 0.5
			p.rect(mid+0.02*half, mid+half, 0, r.UsualKWhM2Day, spareFill)
			p.rect(mid-half, mid-0.02*half, 0, r.KWhM2Day, sunFill)
			usual, worst := p.at(mid+half/2, r.UsualKWhM2Day), p.at(mid-half/2, r.KWhM2Day)
			write(c, center, usual.X, usual.Y+2, 10, false, muted, fmt.Sprintf("%.2f", r.UsualKWhM2Day))
			days := "1 day"
			if r.Days > 1 {
				days = fmt.Sprintf("%d days", r.Days)
			}
			label := fmt.Sprintf("%.2f", r.KWhM2Day)
			if share := r.Share(); !math.IsNaN(share) {
				label += fmt.Sprintf(", %.0f %%", 100*share)
			}
			if several { // above the bar lie the lines of the years
				days += ": " + label
				for _, y := range s.Years {
					if y.Whole && i < len(y.Runs) {
						p.line([]vg.Point{p.at(mid-half-0.04, y.Runs[i].KWhM2Day), p.at(mid-half*0.02, y.Runs[i].KWhM2Day)}, 1, ink)
					}
				}
			} else {
				write(c, center, worst.X, worst.Y+2, 10, true, ink, label)
			}
			format := "2 Jan"
			if s.Measured {
				format = "2 Jan 2006"
			}
			x := p.at(mid, 0).X
			write(c, center, x, p.box.Min.Y-15, 10.5, true, ink, days)
			write(c, center, x, p.box.Min.Y-28, 10, false, muted, "from "+r.First.Format(format))
		}
		p.frame()
		write(c, center, (p.box.Min.X+p.box.Max.X)/2, p.box.Min.Y-48, 11, false, ink, "length of the run, and its first day")
	}}
}
