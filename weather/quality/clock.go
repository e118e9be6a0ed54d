package quality

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"tideover/weather"
	"tideover/weather/sun"
)

// The clock of a file is doubted when the light is off by MostMonthsH or more in most of its months, or by AnyMonthH or
// more in any. Morning fog and afternoon cloud stay below: in the clean files no month passes 0.5 h (Leadville's July,
// for its thunderstorms), and no other passes 0.4.
const (
	MostMonthsH = 0.5
	AnyMonthH   = 0.7
)

// ClockCheck is what comparing the light with the sun's height shows. A shift is the hours by which the light comes too
// early for the file's own clock; moving the rows later by as much puts them right.
type ClockCheck struct {
	Months []MonthShift // in order; months without enough light are left out
	ShiftH float64      // of the whole file, to about 0.1 h
	Off    bool
}

// MonthShift is the shift of one month.
type MonthShift struct {
	Year   int
	Month  time.Month
	ShiftH float64 // -12..12
}

// CheckClock compares, month by month, the light with the height of the sun: the shift is the one at which the two go
// best together (the highest correlation of the hourly values with the sine of the height, 0 below the horizon). Months
// of fewer than 10 days or without light are left out.
func CheckClock(y *weather.Year) ClockCheck { return checkClock(hoursOf(y)) }

// The sun is looked at every 6 minutes, up to reachH before and after.
const (
	perH   = 10
	reachH = 12
)

func checkClock(h *hours) ClockCheck {
	// sum[i] is the sine of the sun's height added up to i; a difference is the mean over a stretch.
	sum := make([]float64, (h.n+2*reachH)*perH+1)
	from := h.start.Add(-reachH * time.Hour)
	const step = time.Hour / perH
	for i := range len(sum) - 1 {
		p := sun.At(from.Add(time.Duration(i)*step+step/2), h.site.Sun())
		sum[i+1] = sum[i] + max(0, math.Cos(p.ZenithDeg*math.Pi/180))/perH
	}
	var c ClockCheck
	for i := 0; i < h.n; {
		t := h.at(i)
		j := i
		for j < h.n && h.at(j).Month() == t.Month() && h.at(j).Year() == t.Year() {
			j++
		}
		if s, ok := bestShift(h.ghi[i:j], sum[i*perH:]); ok {
			c.Months = append(c.Months, MonthShift{t.Year(), t.Month(), s})
		}
		i = j
	}
	if len(c.Months) == 0 {
		return c
	}
	off, far := 0, false
	for _, m := range c.Months {
		if math.Abs(m.ShiftH) >= MostMonthsH-1e-9 {
			off++
		}
		far = far || math.Abs(m.ShiftH) >= AnyMonthH-1e-9
	}
	c.Off = far || 2*off > len(c.Months)
	c.ShiftH, _ = bestShift(h.ghi, sum)
	return c
}

// bestShift finds the shift at which the light goes best with the sun. sum starts reachH before the light.
func bestShift(light, sum []float64) (shiftH float64, ok bool) {
	n := float64(len(light))
	if n < 240 {
		return 0, false
	}
	var sy, syy float64
	for _, g := range light {
		sy += g
		syy += g * g
	}
	vy := n*syy - sy*sy
	fit := func(shift int) float64 {
		var sx, sxx, sxy float64
		at := reachH*perH + shift
		for _, g := range light {
			x := sum[at+perH] - sum[at]
			sx += x
			sxx += x * x
			sxy += x * g
			at += perH
		}
		vx := n*sxx - sx*sx
		if vx <= 0 || sx/n < 0.01 { // the sun hardly rises
			return -1
		}
		return (n*sxy - sx*sy) / math.Sqrt(vx*vy)
	}
	if vy <= 0 {
		return 0, false
	}
	const last = reachH * perH
	best, at := math.Inf(-1), 0
	try := func(s int) {
		if s < -last || s > last {
			return
		}
		if f := fit(s); f > best {
			best, at = f, s
		}
	}
	for s := -last; s <= last; s += 5 {
		try(s)
	}
	for s, coarse := -4, at; s <= 4; s++ {
		try(coarse + s)
	}
	if best < 0.3 { // nothing that looks like days
		return 0, false
	}
	shift := float64(at)
	if at > -last && at < last { // the top of the parabola through the three best
		l, r := fit(at-1), fit(at+1)
		if bend := l - 2*best + r; bend < 0 {
			shift += max(-0.5, min(0.5, (l-r)/(2*bend)))
		}
	}
	return shift / perH, true
}

// flaw says what the check found, naming months and hours.
func (c ClockCheck) flaw(y *weather.Year) (Flaw, bool) {
	if !c.Off {
		return Flaw{}, false
	}
	lo, hi := c.Months[0], c.Months[0]
	for _, m := range c.Months {
		if m.ShiftH < lo.ShiftH {
			lo = m
		}
		if m.ShiftH > hi.ShiftH {
			hi = m
		}
	}
	name := func(m MonthShift) string {
		if y.Measured {
			return fmt.Sprintf("%.3s %d", m.Month.String(), m.Year)
		}
		return m.Month.String()[:3]
	}
	f := Flaw{Kind: Clock}
	if hi.ShiftH-lo.ShiftH <= 1 && lo.ShiftH*hi.ShiftH > 0 { // one shift mends it
		which := fmt.Sprintf("all %d months", len(c.Months))
		if len(c.Months) == 1 {
			which = name(lo)
		}
		f.Msg = fmt.Sprintf("clock: the light comes %.1f h too %s for the sun in %s (%.1f h in %s to %.1f h in %s), so the rows do not follow UTC%+g as the file says; nothing was moved: shifting the clock by %+.1f h mends it",
			math.Abs(c.ShiftH), side(c.ShiftH), which, math.Abs(lo.ShiftH), name(lo), math.Abs(hi.ShiftH), name(hi), y.Site.OffsetH, c.ShiftH)
		return f, true
	}
	var spans []string
	saving := true
	for i := 0; i < len(c.Months); i++ {
		m := c.Months[i]
		if math.Abs(m.ShiftH) < MostMonthsH {
			saving = saving && math.Abs(m.ShiftH) < 0.4
			continue
		}
		j := i
		total := 0.0
		for j < len(c.Months) && math.Abs(c.Months[j].ShiftH) >= MostMonthsH && math.Abs(c.Months[j].ShiftH-m.ShiftH) <= 0.5 {
			total += c.Months[j].ShiftH
			saving = saving && math.Abs(c.Months[j].ShiftH+1) < 0.35
			j++
		}
		mean := total / float64(j-i)
		span := "in " + name(m)
		if j-1 > i {
			span = "from " + name(m) + " to " + name(c.Months[j-1])
		}
		spans = append(spans, fmt.Sprintf("%.1f h too %s %s", math.Abs(mean), side(mean), span))
		i = j - 1
	}
	list := strings.Join(spans[:min(len(spans), 6)], ", ")
	if more := len(spans) - 6; more > 0 {
		list += fmt.Sprintf(" and %d more", more)
	}
	f.Msg = fmt.Sprintf("clock: against the sun, the light comes %s, and right in other months: no one shift mends it; nothing was moved", list)
	if !slices.ContainsFunc(c.Months, func(m MonthShift) bool { return math.Abs(m.ShiftH) < MostMonthsH }) {
		f.Msg = fmt.Sprintf("clock: against the sun, the light comes %s: no one shift mends it; nothing was moved", list)
	}
	if saving && len(c.Months) > 3 {
		f.Msg += ": the rows look as if they followed daylight saving; they must be in standard time"
	}
	f.Unfit = max(math.Abs(lo.ShiftH), math.Abs(hi.ShiftH)) >= 2 // less moves light within the day, but leaves it its days
	return f, true
}

func side(shiftH float64) string {
	if shiftH > 0 {
		return "early"
	}
	return "late"
}

// ShiftClock moves all columns later by the hours given (earlier when negative), at most 24, and says so in Notes. What
// falls out at one end of the year is lost; at the other, the day beside is repeated.
//
// A shift that is no whole number of steps is rounded to 5 min (1 min where steps are shorter), which is finer than any
// check of a clock: each step's light is spread over its minutes as the sun stands in them once they are moved, and
// gathered in the new steps, so that energy is kept and night stays dark.
func ShiftClock(y *weather.Year, hours float64) (*weather.Year, error) {
	if !(math.Abs(hours) <= 24) {
		return nil, fmt.Errorf("a clock cannot be shifted by %v h: at most 24 either way", hours)
	}
	grain := 5
	if y.StepMin%5 != 0 {
		grain = y.StepMin
	}
	shiftMin := int(math.Round(hours*60/float64(grain))) * grain
	if shiftMin == 0 {
		return y, nil
	}
	moved := *y
	moved.Start = y.Start.Add(time.Duration(shiftMin) * time.Minute)
	if shiftMin%y.StepMin == 0 {
		grain = y.StepMin
	}
	fine := moved.Refine(grain)
	parts := y.StepMin / grain
	from := func(j, n int) int { // where the part that comes to stand at j was
		day := 1440 / grain
		k := j - shiftMin/grain
		for k < 0 {
			k += day
		}
		for k >= n && k >= day {
			k -= day
		}
		return k % n
	}
	gather := func(values []float64, light bool) []float64 {
		if values == nil {
			return nil
		}
		out := make([]float64, y.Len())
		for i := range out {
			for j := i * parts; j < (i+1)*parts; j++ {
				out[i] += values[from(j, len(values))]
			}
			out[i] /= float64(parts) // last: a mean so made cannot round past the largest of its parts
			if light {               // an hour that no sun could fill, gathered into its lit minutes
				out[i] = min(out[i], weather.LightRange.Hi)
			}
		}
		return out
	}
	shifted := *y
	shifted.GHIWm2, shifted.DNIWm2, shifted.DHIWm2 = gather(fine.GHIWm2, true), gather(fine.DNIWm2, true), gather(fine.DHIWm2, true)
	shifted.TempC, shifted.WindMs = gather(fine.TempC, false), gather(fine.WindMs, false)
	if fine.SnowDepthCM != nil { // a reading: the one that stands at the end of each step
		shifted.SnowDepthCM = make([]float64, y.Len())
		for i := range shifted.SnowDepthCM {
			shifted.SnowDepthCM[i] = fine.SnowDepthCM[from((i+1)*parts-1, len(fine.SnowDepthCM))]
		}
	}
	shifted.Notes = append(slices.Clone(y.Notes), fmt.Sprintf("the clock of the weather was shifted by %+.4g h: every row is that much later than its file says", float64(shiftMin)/60))
	return &shifted, nil
}
