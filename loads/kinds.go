package loads

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"tideover/sim/clock"
)

// darkPiece returns the dark part of step i. It lies at the end of a step in which dusk falls (the next step is darker than
// the one before), at the start of others.
func (f *feeder) darkPiece(dark []float64, i int) (aS, bS float64) {
	d := dark[i]
	aS, bS = float64(i)*f.stepS, float64(i+1)*f.stepS
	if d == 1 {
		return aS, bS
	}
	before, after := dark[max(i-1, 0)], dark[min(i+1, len(dark)-1)]
	if after > before {
		return bS - d*f.stepS, bS
	}
	return aS, aS + d*f.stepS
}

// dusks returns for each step when the night began of which its dark piece is a part, s. Dusk before the run is taken to be
// a day before the first within it.
func (f *feeder) dusks(dark []float64) []float64 {
	out := make([]float64, f.n)
	nightS, lastS := math.NaN(), 0.0 // when this night began, and when it was last seen to go on
	within := false
	for i := range out {
		aS, bS := f.darkPiece(dark, i)
		if bS-aS < slackS {
			continue
		}
		if i == 0 || aS-lastS > slackS {
			if nightS = aS; i > 0 && !within {
				within = true
				for j := range i {
					out[j] = aS - 24*3600
				}
			}
		}
		out[i], lastS = nightS, bS
	}
	return out
}

// dusk adds a light that burns while it is dark, its timetable is on and its time after dusk has not passed.
func (f *feeder) dusk(p Place, l *Load) {
	litS, dimS := math.Inf(1), math.Inf(1)
	var dusks []float64
	if l.MinutesAfterDusk > 0 || l.DimAfterMin > 0 {
		dusks = f.dusks(p.DarkShare)
	}
	if l.MinutesAfterDusk > 0 {
		litS = l.MinutesAfterDusk * 60
	}
	if l.DimAfterMin > 0 {
		dimS = l.DimAfterMin * 60
	}
	for _, s := range l.When.Stretches(p.Clock) {
		f.pieces(float64(s.FromS), float64(s.ToS), func(i int, aS, bS float64) {
			fromS, toS := f.darkPiece(p.DarkShare, i)
			fromS, toS = max(aS, fromS), min(bS, toS)
			if dusks == nil {
				f.add(i, fromS, toS, l.PowerW, l.PowerW, 1)
				return
			}
			toS = min(toS, dusks[i]+litS)
			dimW, dimAtS := l.PowerW*l.DimTo, dusks[i]+dimS
			f.add(i, fromS, min(toS, dimAtS), l.PowerW, l.PowerW, 1)
			f.add(i, max(fromS, dimAtS), toS, dimW, dimW, 1)
		})
	}
}

// motion adds a motion light: each night's visits are spread evenly over its dark hours, as they come at no set time.
// A night runs from noon to noon on the wall; of one that the run cuts, the visits are cut in proportion. In nights that
// begin on a date of absence nobody comes, and the sensor draws as ever.
func (f *feeder) motion(p Place, l *Load) {
	if l.StandbyInDaylight {
		f.standby = true
		f.steady(0, float64(f.n)*f.stepS, l.StandbyW, 1)
		f.standby = false
	}
	noonToNoon := clock.Timetable{Hours: []clock.Span{{From: 12 * 60, To: 36 * 60}}}
	visited := noonToNoon
	visited.Away = l.When.Away
	with := visited.Sessions(p.Clock)
	next := 0
	for _, night := range noonToNoon.Sessions(p.Clock) {
		first := next
		var darkS float64
		for ; next < f.n && (float64(next)+0.5)*f.stepS < float64(night.ToS); next++ {
			darkS += p.DarkShare[next] * f.stepS
		}
		inRunS := min(float64(night.ToS), float64(f.n)*f.stepS) - float64(max(night.FromS, 0))
		litS := l.VisitsPerNight * l.MinutesPerVisit * 60 * inRunS / float64(night.ToS-night.FromS)
		if len(with) > 0 && with[0] == night {
			with = with[1:]
		} else {
			litS = 0
		}
		for i := first; i < next; i++ {
			if p.DarkShare[i] == 0 {
				continue
			}
			lit := min(1, litS/darkS) // a short night may be too short for them all
			aS, bS := f.darkPiece(p.DarkShare, i)
			f.add(i, aS, bS, l.PowerW, l.PowerW*lit, lit)
			if !l.StandbyInDaylight {
				f.standby = true
				f.add(i, aS, bS, l.StandbyW, l.StandbyW, 1)
				f.standby = false
			}
		}
	}
}

// dutyCycle adds what runs for a share of the time that the temperature sets, and may be on at any moment.
func (f *feeder) dutyCycle(p Place, l *Load) {
	roomC := l.roomC(p.AirC, f.stepS/3600)
	for _, s := range l.When.Stretches(p.Clock) {
		f.pieces(float64(s.FromS), float64(s.ToS), func(i int, aS, bS float64) {
			duty := l.Duty
			if roomC != nil {
				duty = l.DutyAt(roomC[i])
			}
			f.add(i, aS, bS, l.PowerW, l.PowerW*duty, duty)
		})
	}
}

// DutyAt is the share of time for which a load of kind DutyCycle runs at a temperature, 0..1: linear between never and
// always. A fridge's heat leak, and with it the work of its compressor, grows with the temperature around it; a heater
// under a thermostat in proportion makes up what the walls lose.
func (l *Load) DutyAt(tempC float64) float64 {
	return min(1, max(0, l.Duty+l.DutyRisePerK*(tempC-l.DutyAtC)))
}

// roomC is the temperature around the load in each step: the means of a first-order lag behind the air, taken as a ring
// so that its start is settled, and no less than RoomMinC. nil without air, or where nothing depends on it.
//
// With T' = (a - T) / lag and a constant within the step of h hours, T goes from T0 to a + (T0 - a) exp(-h/lag), and its
// mean is a + (T0 - a) (1 - exp(-h/lag)) lag/h.
func (l *Load) roomC(airC []float64, stepH float64) []float64 {
	if airC == nil || l.DutyRisePerK == 0 {
		return nil
	}
	out := slices.Clone(airC)
	if l.LagH > 0 {
		rest := math.Exp(-stepH / l.LagH)
		meanOfRest := (1 - rest) * l.LagH / stepH
		t := 0.0
		for _, a := range airC {
			t = a + (t-a)*rest
		}
		t /= -math.Expm1(-stepH * float64(len(airC)) / l.LagH)
		for i, a := range airC {
			out[i] = a + (t-a)*meanOfRest
			t = a + (t-a)*rest
		}
	}
	for i, t := range out {
		out[i] = max(t, l.RoomMinC)
	}
	return out
}

// random adds uses at moments drawn by lot, one at a time: on each date the whole of UsesPerDay, and one more with the
// chance of what is left of it. One that comes to the end of its hours goes on in the next. What is drawn depends on the seed, the
// load's name and the date alone.
func (f *feeder) random(p Place, l *Load) {
	useS := l.MinutesPerUse * 60
	h := fnv.New64a()
	h.Write([]byte(l.Name))
	var at []float64
	for _, d := range l.When.ByDay(p.Clock) {
		var haveS float64
		for _, s := range d.Parts {
			haveS += float64(s.ToS - s.FromS)
		}
		if p.AnyMoment {
			share := min(1, l.UsesPerDay*useS/haveS)
			for _, s := range d.Parts {
				f.pieces(float64(s.FromS), float64(s.ToS), func(i int, aS, bS float64) { f.add(i, aS, bS, l.PowerW, l.PowerW*share, share) })
			}
			continue
		}
		lot := rand.New(rand.NewPCG(p.Seed, h.Sum64()^uint64(d.Day)*0x9e3779b97f4a7c15))
		whole, rest := math.Modf(l.UsesPerDay)
		if lot.Float64() < rest {
			whole++
		}
		uses := min(int(whole), int(haveS/useS)) // a clock change may leave too little time
		at = at[:0]
		for range uses {
			at = append(at, lot.Float64()*(haveS-float64(uses)*useS))
		}
		slices.Sort(at)
		for k := range at { // idle time between them is what was drawn
			fromS := at[k] + float64(k)*useS
			toS, skip := fromS+useS, 0.0
			for _, s := range d.Parts {
				lengthS := float64(s.ToS - s.FromS)
				aS, bS := max(fromS-skip, 0), min(toS-skip, lengthS)
				if aS < bS {
					f.pieces(float64(s.FromS)+aS, float64(s.FromS)+bS, func(i int, aS, bS float64) { f.add(i, aS, bS, l.PowerW, l.PowerW, 1) })
				}
				skip += lengthS
			}
		}
	}
}

// measured adds what was measured, by the clock on the wall. Within a step its highest power may come at any moment.
func (f *feeder) measured(p Place, l *Load) {
	m := l.Measured
	rowS := m.StepMin * 60
	for _, d := range l.When.ByDay(p.Clock) {
		first := m.dayRow(d.Day)
		for _, s := range d.Parts {
			f.pieces(float64(s.FromS), float64(s.ToS), func(i int, aS, bS float64) {
				var wh, onS, mostW float64
				wallS := float64(s.WallS - s.FromS) // to add to real time
				for atS := aS; bS-atS >= slackS; {
					row := int((atS + wallS + slackS) / float64(rowS))
					endS := min(bS, float64((row+1)*rowS)-wallS)
					w := m.PowerW[first+row]
					wh += w * (endS - atS) / 3600
					if w > 0 {
						onS += endS - atS
					}
					mostW, atS = max(mostW, w), endS
				}
				meanW := wh * 3600 / (bS - aS)
				f.add(i, aS, bS, max(mostW, meanW), meanW, min(1, onS/(bS-aS)))
			})
		}
	}
}

// dayRow is the first row of a date, given in days since 1970. A 29 February of which a series of a year knows nothing is
// like the day before.
func (s *Series) dayRow(day int64) int {
	perDay := 24 * 60 / s.StepMin
	date := time.Unix(day*24*60*60, 0).UTC()
	switch s.Days() {
	case 7:
		return perDay * ((int(date.Weekday()) + 6) % 7)
	case 365, 366:
		at := date.YearDay() - 1
		leap := time.Date(date.Year(), time.December, 31, 0, 0, 0, 0, time.UTC).YearDay() == 366
		switch late := date.Month() > time.February; {
		case s.Days() == 365 && leap && (late || date.Month() == time.February && date.Day() == 29):
			at--
		case s.Days() == 366 && !leap && late:
			at++
		}
		return perDay * at
	}
	return 0
}
