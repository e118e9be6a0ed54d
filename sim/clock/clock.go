// Package clock says what the clock on the wall shows in each step of a run, and what share of each step lies inside a
// timetable given in words.
//
// Steps are equal in real time. The wall may jump: a date is 23 or 25 hours long when daylight saving begins or ends,
// an hour that the wall skips never comes, and an hour that it repeats comes twice.
package clock

import (
	"fmt"
	"math"
	"slices"
	"time"
)

const dayS = 24 * 60 * 60

// Month is one calendar month of the run.
type Month struct {
	Year  int
	Month time.Month
}

// Clock is the calendar of a run. Its slices are shared with the caller, who only reads them.
type Clock struct {
	StepMin int         // minutes in a step
	N       int         // steps
	Day     []int32     // of each step: index into Dates
	Dates   []time.Time // the first moment of each date on the wall, in order: midnight, or 01:00 where midnight is skipped
	MonthOf []int16     // of each step: index into Months
	Months  []Month

	startS, stepS int64 // Unix seconds; seconds
	zone          *time.Location
	rules         []rule
}

// rule is a stretch of time with one offset: the wall shows Unix time + offS.
type rule struct{ fromS, toS, offS int64 }

// New returns the calendar of n steps of stepMin minutes. The first begins at start, whose zone is local standard time:
// its offset at that moment holds for the whole run. zone is what the wall follows.
//
// A step belongs to the date that the wall shows at its middle. Where that date falls outside the year that standard
// time shows, the step is booked to that year's last (or first) day, so that a year keeps all its hours.
//
// It panics when stepMin < 1, n < 0 or zone is nil: our bug.
func New(start time.Time, stepMin, n int, zone *time.Location) *Clock {
	if stepMin < 1 || n < 0 || zone == nil {
		panic(fmt.Sprintf("clock: New: stepMin %d, n %d, zone %v, want stepMin >= 1, n >= 0 and a zone", stepMin, n, zone))
	}
	c := &Clock{
		StepMin: stepMin, N: n, Day: make([]int32, n), MonthOf: make([]int16, n),
		startS: start.Unix(), stepS: int64(stepMin) * 60, zone: zone,
	}
	const margin = 5 * dayS // timetables look at the days before and after the run
	c.rules = rulesOf(zone, c.startS-margin, c.endS()+margin)

	_, stdOff := start.Zone()
	yearFirst, yearLast := int64(1), int64(0) // of the standard-time year, in days since 1970
	dates := []int64{}                        // the same, of Dates
	monthOf := []int16{}                      // of each of Dates
	at := -1                                  // the step's place in dates
	r := 0
	for i := range n {
		midS := c.startS + int64(i)*c.stepS + c.stepS/2
		for midS >= c.rules[r].toS {
			r++
		}
		if std := dayOf(midS + int64(stdOff)); std < yearFirst || std > yearLast {
			y, _, _ := civil(std).Date()
			yearFirst = dayNumber(y, time.January, 1)
			yearLast = dayNumber(y+1, time.January, 1) - 1
		}
		day := min(max(dayOf(midS+c.rules[r].offS), yearFirst), yearLast)
		if at < 0 || dates[at] != day {
			// Nearly always the next date; a wall set back across midnight returns to the one before.
			if at, _ = slices.BinarySearch(dates, day); at == len(dates) {
				dates = append(dates, day)
				y, m, _ := civil(day).Date()
				if k := len(c.Months) - 1; k < 0 || c.Months[k] != (Month{y, m}) {
					c.Months = append(c.Months, Month{y, m})
				}
				monthOf = append(monthOf, int16(len(c.Months)-1))
			}
		}
		c.Day[i] = int32(at)
		c.MonthOf[i] = monthOf[at]
	}
	c.Dates = make([]time.Time, len(dates))
	for k, day := range dates {
		c.Dates[k] = time.Unix(c.moment(day*dayS), 0).In(zone)
	}
	return c
}

// rulesOf lists the offsets of zone from fromS to toS, Unix seconds.
func rulesOf(zone *time.Location, fromS, toS int64) []rule {
	var rules []rule
	for s := fromS; s < toS; {
		t := time.Unix(s, 0).In(zone)
		_, off := t.Zone()
		endS := toS
		if _, end := t.ZoneBounds(); !end.IsZero() {
			e := end.Unix()
			if e <= s { // beyond the zone's table the last rule of a year ends after 365 days, in leap years too
				e = (dayOf(s) + 1) * dayS
			}
			endS = min(toS, e)
		}
		if k := len(rules) - 1; k >= 0 && rules[k].offS == int64(off) {
			rules[k].toS = endS // only the zone's name changes
		} else {
			rules = append(rules, rule{s, endS, int64(off)})
		}
		s = endS
	}
	return rules
}

// dayOf returns the day since 1970 that holds second s.
func dayOf(s int64) int64 {
	d := s / dayS
	if s%dayS < 0 {
		d--
	}
	return d
}

// civil returns a day since 1970 as a date.
func civil(day int64) time.Time { return time.Unix(day*dayS, 0).UTC() }

// dayNumber is the inverse of civil.
func dayNumber(y int, m time.Month, d int) int64 {
	return dayOf(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix())
}

// moment returns the first moment, Unix seconds, at which the wall shows wallS (seconds since 1970 on the wall) or, where
// it skips that, anything later.
func (c *Clock) moment(wallS int64) int64 {
	for _, r := range c.rules {
		if r.toS+r.offS > wallS {
			return max(r.fromS, wallS-r.offS)
		}
	}
	return c.rules[len(c.rules)-1].toS
}

func (c *Clock) endS() int64 { return c.startS + int64(c.N)*c.stepS }

// StepH returns the length of a step, h.
func (c *Clock) StepH() float64 { return float64(c.StepMin) / 60 }

// StepStart returns the moment at which step i begins, on the wall.
func (c *Clock) StepStart(i int) time.Time {
	return time.Unix(c.startS+int64(i)*c.stepS, 0).In(c.zone)
}

// StepEnd returns the moment at which step i ends, on the wall.
func (c *Clock) StepEnd(i int) time.Time { return c.StepStart(i + 1) }

// MinuteAt returns the moment h hours after the start of step i, on the wall, to the nearest minute.
func (c *Clock) MinuteAt(i int, h float64) time.Time {
	return c.StepStart(i).Add(time.Duration(math.Round(h*60)) * time.Minute)
}
