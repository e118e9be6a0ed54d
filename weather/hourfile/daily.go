package hourfile

import (
	"fmt"
	"math"

	"tideover/sim/limit"
	"tideover/weather"
	"tideover/weather/sun"
)

// The most days in a row that are filled. One day is as bright as its neighbours are on average: it cannot make a dull
// spell longer or shorter than they do. Of two days and more, one may have been such a spell.
const (
	MaxGapLightDays = 1
	MaxGapTempDays  = 3
)

// spreadDays turns days into hours.
//
// The light of a day, in Wh/m2, is shared out by r_t of M. Collares-Pereira, A. Rabl, Solar Energy 22, 155-164 (1979):
// the light outside the air times a + b cos w, scaled so that the hours sum to the day. An hour never gets more than the
// sun gives outside the air: where r_t asks for that, as on the clearest days of the polar summer, the day is evened out.
//
// The temperature follows the shape of D. G. Erbs, S. A. Klein, W. A. Beckman, ASHRAE Journal 25(6), 60-65 (1983), in
// solar time, between the lowest and the highest of the day (mean and range joined from noon to noon by straight lines,
// so that no step stands at midnight); without them it is the mean alone.
func (g *grid) spreadDays(y *weather.Year) error {
	if g.column[ghi] == nil {
		return g.t.fault(1, "no column holds the global light")
	}
	days := g.n
	if days*24 > MaxRows {
		return g.t.fault(1, "%d days make more than %d hours", days, MaxRows)
	}
	if err := g.nothing(); err != nil {
		return err
	}
	for _, q := range []int{ghi, temp, tmin, tmax} {
		most := MaxGapTempDays
		if q == ghi {
			most = MaxGapLightDays
		}
		gaps := gapsOf(g.column[q])
		var long []gap
		filled := 0
		for _, in := range gaps {
			if in.to-in.from > most {
				long = append(long, in)
			}
			filled += in.to - in.from
		}
		if long != nil {
			said := fmt.Sprintf("%s is missing in %s for longer than the %s that can be filled: %s", g.kinds[q].name,
				count(len(long), "stretch", "stretches"), count(most, "day", "days"), g.spans(long))
			if !g.opt.Cut || !y.Measured {
				return g.gapFault(long[0], said)
			}
			if err := g.cut(long, said); err != nil {
				return err
			}
			return g.spreadDays(y) // what is left has one long gap less at least
		}
		if len(gaps) == 0 {
			continue
		}
		if q == ghi {
			g.fillDays(gaps)
		} else {
			for _, in := range gaps {
				straight(g.column[q], in)
			}
		}
		how := "a straight line"
		if q == ghi {
			how = "the clearness of the days before and after"
		}
		g.warn("%s was missing on %s of %d (the first %s): filled in by %s", g.kinds[q].name, count(filled, "day", "days"), days,
			clockTime(g.from+int64(gaps[0].from)*1440).Format("2 Jan 2006"), how)
	}
	track := sun.Track(g.start(0), 1, 24*days, g.site.Sun())
	out := make([]float64, 24*days) // outside the air, W/m2
	for i, s := range track {
		out[i] = outsideWm2(s)
	}
	light := make([]float64, 24*days)
	for d := range days {
		wh := g.column[ghi][d] * 24
		from, to := 24*d, 24*d+24
		if most := total(out[from:to]); wh > most {
			if wh > 1.05*most+50 { // a late sun behind the horizon of the model, and the rounding of the file
				row := max(0, g.row(d))
				at := g.cellOf(row, ghi)
				return g.t.fault(at.col, "global light of %.3g kWh/m2 on %s is more than the %.3g that the sun gives outside the air: is the unit right?",
					wh/1000, clockTime(g.from+int64(d)*1440).Format("2 Jan 2006"), most/1000)
			}
			wh = most
		}
		shareOut(light[from:to], out[from:to], track[from:to], g.site.LatDeg, wh)
	}
	y.Start, y.StepMin = clockTime(g.from), 60
	y.GHIWm2 = light
	y.TempC = g.dayTemps(track)
	if w := g.column[wind]; w != nil {
		g.fillWind()
		if g.column[wind] != nil {
			y.WindMs = make([]float64, 24*days)
			for i := range y.WindMs {
				y.WindMs[i] = g.column[wind][i/24]
			}
		}
	}
	if g.settleSnow(); g.column[snow] != nil {
		y.SnowDepthCM = make([]float64, 24*days)
		for i := range y.SnowDepthCM {
			y.SnowDepthCM[i] = g.column[snow][i/24]
		}
	}
	if g.column[dni] != nil || g.column[dhi] != nil {
		g.note("daily totals of beam and diffuse light are not used: they are found from the global light of each hour")
	}
	y.Notes = append(y.Notes, "the file has a total for each day: its hours are the smooth shares of an average day, without passing clouds")
	return nil
}

func outsideWm2(s sun.Step) float64 {
	return sun.SolarConstantWm2 * s.DistanceFactor * s.LitShare * max(0, math.Cos(s.ZenithDeg*math.Pi/180))
}

func total(values []float64) (sum float64) {
	for _, v := range values {
		sum += v
	}
	return sum
}

// shareOut fills the hours of a day with wh Wh/m2, at most what out sums to. r_d of the day is out over its sum, so that
// r_t is that times a + b cos w.
func shareOut(hours, out []float64, track []sun.Step, latDeg, wh float64) {
	most := total(out)
	if most == 0 || wh == 0 {
		return
	}
	dec := track[12].DeclinationDeg * math.Pi / 180
	sunset := math.Acos(max(-1, min(1, -math.Tan(latDeg*math.Pi/180)*math.Tan(dec))))
	s := math.Sin(sunset - math.Pi/3)
	a, b := 0.409+0.5016*s, 0.6609-0.4767*s
	factor := make([]float64, len(hours))
	var mean, highest float64
	for i := range hours {
		if out[i] > 0 {
			factor[i] = max(0, a+b*math.Cos(track[i].HourAngleDeg*math.Pi/180))
			mean += factor[i] * out[i] / most
			highest = max(highest, factor[i])
		}
	}
	clearness := wh / most
	keep := 1.0
	if clearness*highest > mean {
		keep = (1/clearness - 1) / (highest/mean - 1)
	}
	for i := range hours {
		hours[i] = clearness * out[i] * (1 + keep*(factor[i]/mean-1))
	}
}

// fillDays gives a day the mean clearness of the days beside it.
func (g *grid) fillDays(gaps []gap) {
	most := func(d int) (wh float64) {
		for _, s := range sun.Track(g.start(d), 1, 24, g.site.Sun()) {
			wh += outsideWm2(s)
		}
		return wh / 24
	}
	v := g.column[ghi]
	for _, in := range gaps {
		var sum, n float64
		for _, d := range []int{in.from - 1, in.to} {
			if d >= 0 && d < len(v) && !math.IsNaN(v[d]) {
				if m := most(d); m > 0 {
					sum += min(1, v[d]/m)
				}
				n++
			}
		}
		for d := in.from; d < in.to; d++ {
			v[d] = sum / max(1, n) * most(d)
		}
	}
}

// dayTemps returns the temperature of each hour.
func (g *grid) dayTemps(track []sun.Step) []float64 {
	low, high, mean := g.column[tmin], g.column[tmax], g.column[temp]
	if low == nil || high == nil {
		low, high = nil, nil
		if mean == nil {
			return g.standardTemp(24 * g.n)
		}
		g.note("the file has the mean temperature of each day only: nights are as warm as days")
	}
	lowest := 0.0 // of the shape, about -0.46: its mean lies nearer to the lowest than to the highest
	for h := 0.0; h < 24; h += 0.1 {
		lowest = min(lowest, diurnal(h))
	}
	middle, span := make([]float64, g.n), make([]float64, g.n)
	for d := range middle {
		if low != nil {
			span[d] = max(0, high[d]-low[d])
			middle[d] = min(low[d], high[d]) - span[d]*lowest
		}
		if mean != nil {
			middle[d] = mean[d]
		}
	}
	hours := make([]float64, 24*g.n)
	for i := range hours {
		at := float64(i)/24 - 0.5 + 0.5/24 // in days from the first noon
		d := max(0, min(g.n-1, int(math.Floor(at))))
		next := min(g.n-1, d+1)
		f := max(0, min(1, at-float64(d)))
		c := middle[d]*(1-f) + middle[next]*f
		k := span[d]*(1-f) + span[next]*f
		noon := track[i-i%24+12]
		solarH := noon.HourAngleDeg/15 + 12 + float64(i%24-12)
		hours[i] = clampTo(weather.TempRange, c+k*diurnal(solarH))
	}
	return hours
}

func clampTo(r limit.Range, v float64) float64 { return max(r.Lo, min(r.Hi, v)) }

// diurnal is the shape of Erbs, Klein and Beckman at an hour of solar time: mean 0, highest less lowest 1.
func diurnal(solarH float64) float64 {
	const peakToTrough = 0.980           // of the four terms as published
	x := 2 * math.Pi * (solarH - 1) / 24 // the -1 from memory; it puts the extremes at 5:40 and 15:10, as observed
	return (0.4632*math.Cos(x-3.805) + 0.0984*math.Cos(2*x-0.360) + 0.0168*math.Cos(3*x-0.822) + 0.0138*math.Cos(4*x-3.513)) / peakToTrough
}
