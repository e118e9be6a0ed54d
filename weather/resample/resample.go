// Package resample makes new years of weather out of a measured series of many years, in blocks by season.
//
// A year is a chain of blocks of 28 days. Each block is lifted from a year of the series chosen at random, at the same
// dates, with all its columns: light and temperature stay together, the sun stands where it stood, and days begin at
// midnight as they did. The first block of a year is cut short by a random number of days, so that joins fall on all
// dates alike. (A block bootstrap: H. R. Kuensch, Annals of Statistics 17(3), 1217-1241 (1989), with the calendar kept.)
//
// Why 28 days: what a join breaks is the likeness of one day to the next. In fourteen measured series (our own comparison,
// not published) the clearness of a day and the one n days later correlate by 0.31, 0.14, 0.08, 0.05 for n = 1 to 4, by
// 0.04 to 0.02 up to ten days and by 0.01 at twenty. A block of L days loses n/L of each: with 28 days, 4 % of the
// first, and of the spread between monthly means about a twentieth. Shorter blocks lose more; longer ones hardly mend
// that and leave fewer new years to be made: ten years have 10^13 chains of 28-day blocks.
//
// Where a block with deeper snow follows one with less, the join looks like a fall of snow.
//
// What it cannot do: no block is darker than the series has seen. Spells longer than a block are made by chance alone, so
// whole bad winters are a little rarer than in the series.
package resample

import (
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"tideover/weather"
)

// BlockDays is the length of a block.
const BlockDays = 28

// minYears is the fewest years of the series that may hold a date.
const minYears = 3

// Series is a measured series, cut into days.
type Series struct {
	from   *weather.Year
	perDay int
	dayOf  map[date]int // the day's place in the series
	years  []int
}

type date struct {
	year, month, day int
}

// New returns the series, or why it cannot be resampled: it must hold every date of the year, but 29 February, in at
// least three years. Parts of a day at either end are left out. It does not copy y.
func New(y *weather.Year) (*Series, error) {
	if err := y.Check(); err != nil {
		return nil, err
	}
	s := &Series{from: y, perDay: 24 * 60 / y.StepMin, dayOf: map[date]int{}}
	start := y.Start.In(y.Site.Zone())
	first := 0 // the step of the first midnight
	if midnight := time.Date(start.Year(), start.Month(), start.Day(), 0, 0, 0, 0, start.Location()); !midnight.Equal(start) {
		step := time.Duration(y.StepMin) * time.Minute
		wait := midnight.AddDate(0, 0, 1).Sub(start)
		if wait%step != 0 {
			return nil, fmt.Errorf("the weather cannot be resampled: its steps of %d min from %s do not begin at midnight", y.StepMin, start.Format("15:04"))
		}
		first = int(wait / step)
		start = midnight.AddDate(0, 0, 1)
	}
	for i := first; i+s.perDay <= y.Len(); i += s.perDay {
		s.dayOf[dateOf(start)] = i
		if n := len(s.years); n == 0 || s.years[n-1] != start.Year() {
			s.years = append(s.years, start.Year())
		}
		start = start.AddDate(0, 0, 1)
	}
	const plainYear = 2025
	for d := range 365 {
		day := time.Date(plainYear, time.January, 1+d, 0, 0, 0, 0, time.UTC)
		if n := len(s.holding(day, 1)); n < minYears {
			return nil, fmt.Errorf("the weather cannot be resampled: %s is in %d of its years, and at least %d are needed", day.Format("2 January"), n, minYears)
		}
	}
	return s, nil
}

func dateOf(t time.Time) date { return date{t.Year(), int(t.Month()), t.Day()} }

// find returns where the series has the date in a year of its own; 28 February serves for the 29th.
func (s *Series) find(day time.Time, year int) (int, bool) {
	d := date{year, int(day.Month()), day.Day()}
	at, ok := s.dayOf[d]
	if !ok && d.month == 2 && d.day == 29 {
		d.day = 28
		at, ok = s.dayOf[d]
	}
	return at, ok
}

// holding returns the years of the series that hold n days from a date on.
func (s *Series) holding(day time.Time, n int) []int {
	return slices.DeleteFunc(slices.Clone(s.years), func(year int) bool {
		for i := range n {
			if _, ok := s.find(day.AddDate(0, 0, i), year); !ok {
				return true
			}
		}
		return false
	})
}

// Years returns the number of years that the series has a part of.
func (s *Series) Years() int { return len(s.years) }

// Year returns the k-th (from 0) year of a seed: calendar year firstYear+k. The same arguments give the same year,
// whatever else was asked for. It panics on a negative k.
func (s *Series) Year(firstYear int, seed uint64, k int) *weather.Year {
	if k < 0 {
		panic(fmt.Sprintf("resample: year %d, want 0 or more", k))
	}
	var key [32]byte
	binary.LittleEndian.PutUint64(key[:], seed)
	binary.LittleEndian.PutUint64(key[8:], uint64(k))
	rng := rand.New(rand.NewChaCha8(key))
	y := *s.from
	y.Start = time.Date(firstYear+k, time.January, 1, 0, 0, 0, 0, y.Site.Zone())
	y.Measured = false
	y.Site.Source = fmt.Sprintf("year %d of seed %d, resampled in blocks of %d days from %d years: %s", k, seed, BlockDays, len(s.years), y.Site.Source)
	y.Notes = append(slices.Clone(y.Notes), fmt.Sprintf(
		"the weather is resampled: blocks of %d days of %d measured years (%d to %d), each at its own dates; no block is darker than was measured",
		BlockDays, len(s.years), s.years[0], s.years[len(s.years)-1]))
	y.GHIWm2, y.DNIWm2, y.DHIWm2, y.TempC, y.WindMs, y.SnowDepthCM = nil, nil, nil, nil, nil, nil
	end := y.Start.AddDate(1, 0, 0)
	left := 1 + rng.IntN(BlockDays)
	for day := y.Start; day.Before(end); left = BlockDays {
		n := min(left, int(end.Sub(day)/(24*time.Hour)))
		years := s.holding(day, n)
		for len(years) == 0 { // a gap in every year somewhere in the block
			n = max(1, n/2)
			years = s.holding(day, n)
		}
		year := years[rng.IntN(len(years))]
		for i := range n {
			at, _ := s.find(day.AddDate(0, 0, i), year)
			s.copyDay(&y, at)
		}
		day = day.AddDate(0, 0, n)
	}
	return &y
}

func (s *Series) copyDay(to *weather.Year, at int) {
	add := func(dst *[]float64, src []float64) {
		if src != nil {
			*dst = append(*dst, src[at:at+s.perDay]...)
		}
	}
	add(&to.GHIWm2, s.from.GHIWm2)
	add(&to.DNIWm2, s.from.DNIWm2)
	add(&to.DHIWm2, s.from.DHIWm2)
	add(&to.TempC, s.from.TempC)
	add(&to.WindMs, s.from.WindMs)
	add(&to.SnowDepthCM, s.from.SnowDepthCM)
}
