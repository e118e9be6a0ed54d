// Package summary tells what a stretch of weather holds: months of sun and temperature, clearness, extremes and the worst
// runs of days. It judges nothing; quality does.
//
// Light is that on the level, in kWh/m2 or kWh/m2 a day. Days, months and years are those of the weather's own clock,
// local standard time. Means are over the steps that are there; daily minima, maxima and runs are of whole days alone.
package summary

import (
	"fmt"
	"math"
	"time"

	"tideover/weather"
	"tideover/weather/sun"
)

// RunDays are the lengths of the worst runs.
var RunDays = [...]int{1, 3, 5, 10, 20}

// Summary is what a stretch of weather holds.
type Summary struct {
	Site     weather.Site
	Start    time.Time // of the first step
	End      time.Time // of the last
	StepMin  int
	Steps    int
	Measured bool

	Months []Month // the calendar months that occur, by their numbers, each over all years
	All    Span    // the whole stretch
	Years  []Year  // calendar years, in order
	Runs   []Run   // the worst of the whole stretch, one for each of RunDays that fits into it
	// WholeYearKWhM2 is the mean yearly light of the whole calendar years, of which there are WholeYears; 0 without any.
	WholeYearKWhM2 float64
	WholeYears     int

	LowestC, HighestC   float64   // air temperature, of a step
	LowestAt, HighestAt time.Time // the start of that step, the first of several
}

// Span is the weather of a month, a year or any stretch.
type Span struct {
	Days         float64 // 1 for 24 hours of steps
	GHIKWhM2     float64 // sum of the light
	OutsideKWhM2 float64 // the same outside the air, by the sun's height and distance
	TempC        float64 // mean
}

// KWhM2Day returns the light of the mean day.
func (s Span) KWhM2Day() float64 { return s.GHIKWhM2 / s.Days }

// Clearness returns the light over that outside the air; NaN where the sun does not rise. By twilight alone, or by a
// clock that is wrong, it may pass 1.
func (s Span) Clearness() float64 {
	if s.OutsideKWhM2 == 0 {
		return math.NaN()
	}
	return s.GHIKWhM2 / s.OutsideKWhM2
}

// Month is a calendar month, over all years.
type Month struct {
	Month time.Month
	Span
	MinC, MaxC float64 // means of the daily minima and maxima; NaN without a whole day
}

// Year is a calendar year.
type Year struct {
	Year int
	Span
	Whole bool  // every day of it is there
	Runs  []Run // the worst that begin in it
}

// Run is a run of days with the least light.
type Run struct {
	Days          int
	First         time.Time // midnight at which it begins, the first of several
	KWhM2Day      float64   // mean light
	UsualKWhM2Day float64   // what is usual at its time of year, see Of
}

// Share returns the light as a share of what is usual at that time of year; NaN where nothing is.
func (r Run) Share() float64 {
	if r.UsualKWhM2Day == 0 {
		return math.NaN()
	}
	return r.KWhM2Day / r.UsualKWhM2Day
}

// seasonDays is how far, before and after a date, the clearness of its time of year reaches: a season in all, so that a
// run of 20 days is a fifth of it at most.
const seasonDays = 45

// day is one whole day.
type day struct {
	at                  time.Time
	kWhM2, outsideKWhM2 float64
	minC, maxC          float64
}

// Of returns what y holds. It panics on a year that its own Check refuses.
//
// What is usual at a date is the light outside the air on that date times the clearness of the 45 days on either side
// of the date, of all years. A run does not go on from the end of the weather to its start.
func Of(y *weather.Year) *Summary {
	if err := y.Check(); err != nil {
		panic(fmt.Sprintf("summary: Of: %v", err))
	}
	s := &Summary{
		Site: y.Site, Start: y.Start.In(y.Site.Zone()), StepMin: y.StepMin, Steps: y.Len(), Measured: y.Measured,
		LowestC: math.Inf(1), HighestC: math.Inf(-1),
	}
	step := time.Duration(y.StepMin) * time.Minute
	s.End = s.Start.Add(time.Duration(y.Len()) * step)
	stepH := y.StepH()
	dayShare := stepH / 24
	var months [13]Month
	var minSum, maxSum, wholeDays [13]float64
	var days []day
	perDay := 1440 / y.StepMin
	today, stepsToday := day{}, 0
	track := sun.Track(y.Start, stepH, y.Len(), y.Site.Sun())
	for i, ghi := range y.GHIWm2 {
		t := s.Start.Add(time.Duration(i) * step)
		kWh := ghi * stepH / 1000
		outside := track[i].LitShare * sun.SolarConstantWm2 * track[i].DistanceFactor *
			max(0, math.Cos(track[i].ZenithDeg*math.Pi/180)) * stepH / 1000
		temp := y.TempC[i]
		if len(s.Years) == 0 || s.Years[len(s.Years)-1].Year != t.Year() {
			s.Years = append(s.Years, Year{Year: t.Year()})
		}
		for _, span := range []*Span{&months[t.Month()].Span, &s.Years[len(s.Years)-1].Span, &s.All} {
			span.Days += dayShare
			span.GHIKWhM2 += kWh
			span.OutsideKWhM2 += outside
			span.TempC += temp // the sum, until the end
		}
		if temp < s.LowestC {
			s.LowestC, s.LowestAt = temp, t
		}
		if temp > s.HighestC {
			s.HighestC, s.HighestAt = temp, t
		}
		if t.Hour() == 0 && t.Minute() < y.StepMin {
			today, stepsToday = day{at: t, minC: temp, maxC: temp}, 0
		}
		stepsToday++
		today.kWhM2 += kWh
		today.outsideKWhM2 += outside
		today.minC, today.maxC = min(today.minC, temp), max(today.maxC, temp)
		if stepsToday == perDay && !today.at.IsZero() {
			days = append(days, today)
			m := t.Month()
			minSum[m] += today.minC
			maxSum[m] += today.maxC
			wholeDays[m]++
		}
	}
	mean := func(span *Span) { span.TempC /= span.Days / dayShare }
	for m := range months {
		if months[m].Days == 0 {
			continue
		}
		months[m].Month = time.Month(m)
		mean(&months[m].Span)
		months[m].MinC, months[m].MaxC = minSum[m]/wholeDays[m], maxSum[m]/wholeDays[m] // NaN from 0/0
		s.Months = append(s.Months, months[m])
	}
	mean(&s.All)
	for k := range s.Years {
		at := &s.Years[k]
		mean(&at.Span)
		length := time.Date(at.Year, time.December, 31, 0, 0, 0, 0, time.UTC).YearDay()
		at.Whole = math.Round(at.Days/dayShare) == float64(length*perDay)
		// A typical year of 8760 hours is whole, in whatever calendar year it stands.
		at.Whole = at.Whole || !y.Measured && math.Round(at.Days/dayShare) == float64(365*perDay)
		if at.Whole {
			s.WholeYears++
			s.WholeYearKWhM2 += at.GHIKWhM2
		}
	}
	if s.WholeYears > 0 {
		s.WholeYearKWhM2 /= float64(s.WholeYears)
	}
	s.findRuns(days)
	return s
}

// findRuns fills in the worst runs of the stretch and of each year.
func (s *Summary) findRuns(days []day) {
	usual := usualOf(days)
	for _, n := range RunDays {
		best := -1
		inYear := map[int]int{}
		sums := make([]float64, max(0, len(days)-n+1))
		for i := range sums {
			for _, d := range days[i : i+n] {
				sums[i] += d.kWhM2
			}
			// Sums of the same light may differ in their last digits: the first of equals is told.
			less := func(a int) bool { return sums[i] < sums[a]-1e-9 }
			if best < 0 || less(best) {
				best = i
			}
			year := days[i].at.Year()
			if at, seen := inYear[year]; !seen || less(at) {
				inYear[year] = i
			}
		}
		run := func(i int) Run {
			r := Run{Days: n, First: days[i].at, KWhM2Day: sums[i] / float64(n)}
			for _, u := range usual[i : i+n] {
				r.UsualKWhM2Day += u / float64(n)
			}
			return r
		}
		if best >= 0 {
			s.Runs = append(s.Runs, run(best))
		}
		for k := range s.Years {
			if i, seen := inYear[s.Years[k].Year]; seen {
				s.Years[k].Runs = append(s.Years[k].Runs, run(i))
			}
		}
	}
}

// usualOf returns the light that is usual at each day's time of year.
func usualOf(days []day) []float64 {
	const year = 366
	var light, outside [year]float64
	date := func(t time.Time) int { // 29 February has its own place, so that a date is the same in all years
		return time.Date(2024, t.Month(), t.Day(), 0, 0, 0, 0, time.UTC).YearDay() - 1
	}
	for _, d := range days {
		k := date(d.at)
		light[k] += d.kWhM2
		outside[k] += d.outsideKWhM2
	}
	var clearness [year]float64
	for k := range clearness {
		var l, o float64
		for j := k - seasonDays; j <= k+seasonDays; j++ {
			l += light[(j+year)%year]
			o += outside[(j+year)%year]
		}
		if o > 0 {
			clearness[k] = l / o
		}
	}
	usual := make([]float64, len(days))
	for i, d := range days {
		usual[i] = clearness[date(d.at)] * d.outsideKWhM2
	}
	return usual
}
