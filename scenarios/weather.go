package scenarios

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"tideover/sim"
	"tideover/sim/inverter"
	"tideover/sim/ledger"
	"tideover/weather"
	"tideover/weather/climate"
	"tideover/weather/hourfile"
	"tideover/weather/resample"
)

// noWeather refuses a scenario without a climate when no weather file is given either.
type noWeather struct{}

func (noWeather) Error() string {
	return "the scenario names no climate: type site.climate (a place that the program knows), or give --weather FILE"
}

// Weather returns the year of weather for the scenario: that of a file when file is not nil, else the synthetic year of
// its climate and seed. What the scenario pins (coordinates, offset) replaces what the weather says; the columns stay.
func (s *Scenario) Weather(file *weather.Year) (*weather.Year, error) {
	if file != nil {
		dated, err := file.WithCalendarYear(s.Site.CalendarYear)
		if err != nil {
			return nil, err
		}
		return s.pinned(dated, true), nil
	}
	years, err := s.Years(nil)
	if err != nil {
		return nil, err
	}
	return years.Year(0), nil
}

// pinned returns a year with what the scenario pins. It shares its columns with y.
func (s *Scenario) pinned(y *weather.Year, fromFile bool) *weather.Year {
	out := *y
	if !math.IsNaN(s.Site.LatDeg) {
		out.Site.LatDeg, out.Site.LonDeg = s.Site.LatDeg, s.Site.LonDeg
	}
	if fromFile && !math.IsNaN(s.Site.OffsetH) && s.Site.OffsetH != out.Site.OffsetH {
		out.Site.OffsetH = s.Site.OffsetH
		t := out.Start
		out.Start = time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), 0, 0, out.Site.Zone())
	}
	if fromFile {
		out.Track = nil
	}
	out.Track = out.Sun() // shared by all that run on this year
	return &out
}

// Years is any number of years of weather, one following on the other.
type Years struct {
	Source string // one line: where they come from
	year   func(k int) *weather.Year
}

// Year returns the k-th year, from 0: the same one whatever else was asked for. It may be called by several goroutines.
func (y *Years) Year(k int) *weather.Year { return y.year(k) }

// Years returns the years of weather of the scenario, from its calendar year on: synthetic ones of its climate and seed
// or, when file is not nil, years resampled from that, which must be a measured series of at least three years.
func (s *Scenario) Years(file *weather.Year) (*Years, error) {
	first := s.Site.CalendarYear
	if file != nil {
		series, err := resample.New(file)
		if err != nil {
			return nil, fmt.Errorf("many years are wanted, and one year of weather is one draw: give a measured series of at least three years, or leave the file out for synthetic years of the climate (%w)", err)
		}
		return &Years{
			Source: strings.TrimSuffix(fmt.Sprintf("seed %d, resampled from %d measured years: %s", s.Seed, series.Years(), file.Site.Source), ": "),
			year:   func(k int) *weather.Year { return s.pinned(series.Year(first, s.Seed, k), true) },
		}, nil
	}
	if s.Site.Climate == nil {
		return nil, noWeather{}
	}
	p := *s.Site.Climate
	if !math.IsNaN(s.Site.LatDeg) {
		p.LatDeg, p.LonDeg = s.Site.LatDeg, s.Site.LonDeg
		if err := p.Check(); err != nil {
			return nil, fmt.Errorf("the climate does not fit the pinned coordinates: %w", err)
		}
	}
	if !math.IsNaN(s.Site.OffsetH) {
		p.OffsetH = s.Site.OffsetH
	}
	g := climate.New(p, s.Site.Options)
	return &Years{
		Source: fmt.Sprintf("seed %d, from monthly means: %s", s.Seed, p.Source),
		year:   func(k int) *weather.Year { return s.pinned(g.Year(first, s.Seed, k), false) },
	}, nil
}

// FileOptions is how a weather file is to be read for the scenario: by its layout, with what it pins.
func (s *Scenario) FileOptions() hourfile.Options {
	o := hourfile.DefaultOptions()
	o.Layout = s.Layout
	o.LatDeg, o.LonDeg, o.OffsetH = s.Site.LatDeg, s.Site.LonDeg, s.Site.OffsetH
	return o
}

// Placed is a scenario's system with its clock set for one weather, and what is to be said of the two together.
type Placed struct {
	System          *sim.System
	Warnings, Notes []string
}

// Place sets the scenario's system up for a year that Weather returned. fromFile says that the year is a file's, not the
// climate's.
func (s *Scenario) Place(y *weather.Year, fromFile bool) (*Placed, error) {
	sys := s.System
	var notes []string
	warnings := slices.Clone(s.idle)
	sys.Zone, sys.Seed = s.Site.Zone, s.Seed
	switch {
	case sys.Zone != nil:
		_, std := time.Date(y.Start.Year(), time.January, 1, 12, 0, 0, 0, sys.Zone).Zone()
		_, jul := time.Date(y.Start.Year(), time.July, 1, 12, 0, 0, 0, sys.Zone).Zone()
		if gap := math.Abs(float64(min(std, jul))/3600 - y.Site.LonDeg/15); gap > 3 {
			warnings = append(warnings, fmt.Sprintf("zone %s is %.1f hours away from the sun's time at %.1f deg longitude: the loads run at odd hours of the day",
				sys.Zone, gap, y.Site.LonDeg))
		}
	case !fromFile && s.Site.Climate.Zone == "":
		notes = append(notes, fmt.Sprintf("no zone is given: loads follow standard time, %s, and daylight saving is off", y.Start.Location()))
	case !fromFile:
		z, err := time.LoadLocation(s.Site.Climate.Zone)
		if err != nil {
			return nil, fmt.Errorf("climate %s: %w", s.Site.Climate.Name, err)
		}
		sys.Zone = z
	default:
		notes = append(notes, fmt.Sprintf("no zone is given: loads follow the weather's own clock, %s, and daylight saving is off",
			y.Start.Location()))
	}
	for _, sub := range sys.SubArrays() {
		if sub.Surface.FacesPole(y.Site.LatDeg) {
			warnings = append(warnings, fmt.Sprintf("the array faces the pole (azimuth %.0f deg at latitude %.1f): azimuth_deg: equator turns it to the sun",
				sub.Surface.At(y.Site.LatDeg).AzimuthDeg, y.Site.LatDeg))
		}
	}
	if c := s.Site.Climate; c != nil && c.LatDeg*y.Site.LatDeg < 0 && s.dated() {
		warnings = append(warnings, fmt.Sprintf("the scenario's dated seasons were written for %s and are carried across the equator: what was winter is summer here",
			c.Name))
	}
	if y.Measured && s.Site.CalendarYear != 2025 && s.Site.CalendarYear != y.Start.Year() {
		notes = append(notes, fmt.Sprintf("the weather is measured and keeps its own year, %d; calendar_year %d is not used",
			y.Start.Year(), s.Site.CalendarYear))
	}
	return &Placed{&sys, warnings, notes}, nil
}

// Tell adds to a run what is to be said of the scenario and its weather.
func (p *Placed) Tell(r *ledger.Run) {
	r.Warnings = append(r.Warnings, p.Warnings...)
	r.Notes = append(r.Notes, p.Notes...)
}

// SameWeather reports whether two scenarios get the same year of weather.
func (s *Scenario) SameWeather(o *Scenario) bool {
	same := func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
	a, b := &s.Site, &o.Site
	climates := a.Climate == b.Climate || a.Climate != nil && b.Climate != nil && *a.Climate == *b.Climate
	return climates && a.Options == b.Options && s.Seed == o.Seed && a.CalendarYear == b.CalendarYear && same(a.LatDeg, b.LatDeg) &&
		same(a.LonDeg, b.LonDeg) && same(a.OffsetH, b.OffsetH)
}

// dated reports whether dates of the year set when anything runs, or when a shade falls.
func (s *Scenario) dated() bool {
	for _, sub := range s.System.SubArrays() {
		for _, sh := range sub.Surface.Shades {
			if sh.Season != nil || sh.InLeaf != nil {
				return true
			}
		}
	}
	for _, l := range s.System.Loads {
		if l.When.HasSeason() {
			return true
		}
	}
	v := s.System.Inverter
	return v != nil && v.Mode == inverter.Timetable && v.When.HasSeason()
}
