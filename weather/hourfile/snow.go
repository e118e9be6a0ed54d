package hourfile

import (
	"math"
	"time"
)

// MaxGapSnowH is the longest gap of snow depth that is bridged by the reading before without a word of warning: a depth
// is often read once a day, and one morning may be missed.
const MaxGapSnowH = 48.0

// markCM stands for "covered" where a file marks snow by 1 and bare ground by 0: the depth from which sim/plane takes the
// ground to be white all over.
const markCM = 5

// snowCell reads a depth from a format that has a place for one. What cannot be a depth is none: many files fill the place
// with anything, and a row may end before it.
func snowCell(f []part, at int) float64 {
	if at < len(f) {
		if v, ok := cell(f[at].text); ok && v < 999 {
			return v
		}
	}
	return math.NaN()
}

// settleSnow keeps each reading of snow depth until the next; the first stands for what is missing before it. The depth
// stays that of the end of a step where the file reads it there. The column is dropped where more than a tenth of it lies
// in gaps longer than MaxGapSnowH, unless the ground was bare at both ends of a gap and the gap warmer than frost, as in
// files that leave the summer out.
//
// A format that has a place for the depth need not know any. There, one number from end to end is none: the nought of a
// file without snow in a place with frost, or a code. And nought and one alone are marks of bare and covered ground, as
// in Canadian files for buildings; one becomes markCM, so new snow is seen on bare ground only.
func (g *grid) settleSnow() {
	d := g.column[snow]
	if d == nil {
		return
	}
	known, least, most := 0, math.Inf(1), math.Inf(-1)
	marks := true
	for _, v := range d {
		if !math.IsNaN(v) {
			known++
			least, most = min(least, v), max(most, v)
			marks = marks && (v == 0 || v == 1)
		}
	}
	drop := func(format string, args ...any) {
		g.column[snow] = nil
		if format != "" {
			g.note(format, args...)
		}
	}
	switch {
	case known == 0 && g.snowInPassing:
		drop("")
		return
	case known == 0:
		drop("the file has no snow depth")
		return
	case g.snowInPassing && least == most && most > 0:
		drop("the snow depth is %g cm in every row: taken as not known", most)
		return
	case g.snowInPassing && most == 0:
		if c := g.coldestMonthC(); c < 0 {
			drop("the snow depth is 0 in every row, though the mean of the coldest month is %.1f C: taken as not known", c)
		} else {
			drop("")
		}
		return
	}
	var long []gap
	lost := 0
	for _, in := range gapsOf(d) {
		if float64(in.to-in.from)*g.stepH() > MaxGapSnowH+1e-9 && !g.summer(in) {
			long = append(long, in)
			lost += in.to - in.from
		}
	}
	if 10*lost > len(d) {
		drop("the snow depth is missing in %d of %d steps in gaps longer than %g h: not used", lost, len(d), MaxGapSnowH)
		return
	}
	last := math.NaN()
	for _, v := range d {
		if !math.IsNaN(v) {
			last = v
			break
		}
	}
	for i, v := range d {
		if math.IsNaN(v) {
			d[i] = last
		} else {
			last = v
		}
	}
	if known < len(d) {
		g.note("the snow depth is missing in %d of %d steps: the reading before was kept", len(d)-known, len(d))
	}
	if long != nil {
		g.warn("the snow depth is missing for longer than %g h in %s, and the reading before was kept: %s", MaxGapSnowH,
			count(len(long), "stretch", "stretches"), g.spans(long))
	}
	if g.snowInPassing && marks {
		for i := range d {
			d[i] *= markCM
		}
		g.note("the snow depth is 0 or 1 in every row: taken as marks of bare and covered ground, the latter as %d cm; snow that falls on snow is not seen", markCM)
	}
}

// summer reports whether a gap in the snow depth is one of bare ground.
func (g *grid) summer(in gap) bool {
	d, c := g.column[snow], g.column[temp]
	if in.from > 0 && d[in.from-1] != 0 || in.to < len(d) && d[in.to] != 0 {
		return false
	}
	if c == nil {
		return true
	}
	var sum float64
	for _, v := range c[in.from:in.to] {
		if !math.IsNaN(v) {
			sum += v
		}
	}
	return sum > 0
}

// coldestMonthC returns the lowest mean temperature of a calendar month; +Inf without temperatures.
func (g *grid) coldestMonthC() float64 {
	var sum, n [13]float64
	var month time.Month
	for i, v := range g.column[temp] {
		if i*int(g.stepMin)%1440 == 0 || month == 0 {
			month = clockTime(g.from + int64(i)*g.stepMin).Month()
		}
		if !math.IsNaN(v) {
			sum[month] += v
			n[month]++
		}
	}
	lowest := math.Inf(1)
	for m := range n {
		if n[m] > 0 {
			lowest = min(lowest, sum[m]/n[m])
		}
	}
	return lowest
}
