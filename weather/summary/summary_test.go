package summary_test

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"tideover/weather"
	"tideover/weather/hourfile"
	"tideover/weather/summary"
)

func shared(t *testing.T, name string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "..", "shared", "weather", name))
	if err != nil {
		t.Skipf("needs ../shared/weather/%s: %v", name, err)
	}
	return string(data)
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %v, want %v, off by %v", what, got, want, got-want)
	}
}

// The months, yearly sums and mean temperatures are those of the README beside the files, which were summed by another
// script. Its figures are printed to 0.01 kWh/m2 a day, 1 kWh/m2 and 0.1 degC: half of that and a little is allowed,
// and 0.05 K more for temperature, because it means the readings at the ends of hours and we their middles.
func TestAgainstTheTableOfTheFiles(t *testing.T) {
	readme := shared(t, "README.md")
	row := func(start string) []string {
		for line := range strings.Lines(readme) {
			if strings.HasPrefix(line, "| "+start) && strings.Count(line, "|") > 12 {
				cells := strings.Split(line, "|")
				return cells[1 : len(cells)-1]
			}
		}
		t.Fatalf("the README has no row %s", start)
		return nil
	}
	months := func(name string) []string {
		_, after, _ := strings.Cut(readme, "Monthly mean daily GHI")
		for line := range strings.Lines(after) {
			if strings.HasPrefix(line, "| "+name+" |") {
				cells := strings.Split(line, "|")
				return cells[2 : len(cells)-1]
			}
		}
		t.Fatalf("the README has no months of %s", name)
		return nil
	}
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for _, file := range []string{"usa-ak-juneau.tmy3.csv", "usa-ca-needles.tmy3.csv", "usa-ak-coldbay.tmy3.csv", "usa-co-leadville.epw",
		"nzl-invercargill.epw", "nic-managua.epw", "can-ottawa.epw", "deu-aachen-2022.epw", "nld-debilt-2011-2020.csv"} {
		y := read(t, file)
		s := summary.Of(y)
		short, _, _ := strings.Cut(file, ".")
		short = strings.TrimSuffix(short, "-2011-2020")
		for m, cell := range months(short) {
			near(t, file+" "+time.Month(m+1).String(), s.Months[m].KWhM2Day(), number(cell), 0.0051)
		}
		near(t, file+" mean temperature", s.All.TempC, number(row(file)[8]), 0.1)
		if !strings.HasPrefix(file, "nld") {
			near(t, file+" yearly light", s.WholeYearKWhM2, number(row(file)[5]), 0.51)
			if s.WholeYears != 1 || len(s.Years) != 1 {
				t.Errorf("%s: %d whole years of %d", file, s.WholeYears, len(s.Years))
			}
			continue
		}
		_, list, _ := strings.Cut(readme, "Annual GHI 2011 to 2020: ")
		list, _, _ = strings.Cut(list, ". ")
		for k, want := range strings.Split(list, ", ") {
			near(t, "De Bilt by year", s.Years[k].GHIKWhM2, number(want), 0.51)
			if !s.Years[k].Whole || len(s.Years[k].Runs) != len(summary.RunDays) {
				t.Errorf("%d: whole %v, runs %v", s.Years[k].Year, s.Years[k].Whole, s.Years[k].Runs)
			}
		}
	}
}

func read(t *testing.T, name string) *weather.Year {
	t.Helper()
	opt := hourfile.DefaultOptions()
	if strings.HasPrefix(name, "nld") { // the README's coordinates: the file does not say
		opt.LatDeg, opt.LonDeg = 52.10, 5.18
	}
	y, err := hourfile.ReadWith(name, strings.NewReader(shared(t, name)), opt)
	if err != nil {
		t.Fatal(err)
	}
	return y
}

// small is days of light that is the same from 6 to 18 o'clock, so that 100 W/m2 make 1.2 kWh/m2, and of a temperature
// of the day's number by night and 10 K more from 12 to 18 o'clock.
func small(start time.Time, wm2 ...float64) *weather.Year {
	y := &weather.Year{Site: weather.Site{Name: "Demo Hill"}, Start: start, StepMin: 60, Measured: true}
	for d, w := range wm2 {
		for h := range 24 {
			g, temp := 0.0, float64(d)
			if h >= 6 && h < 18 {
				g = w
			}
			if h >= 12 && h < 18 {
				temp += 10
			}
			y.GHIWm2, y.TempC = append(y.GHIWm2, g), append(y.TempC, temp)
		}
	}
	return y
}

// Worked by hand: seven days over the turn of a year.
func TestSmallSeries(t *testing.T) {
	s := summary.Of(small(time.Date(2021, 12, 29, 0, 0, 0, 0, time.UTC), 400, 300, 100, 200, 300, 50, 500))
	near(t, "sum", s.All.GHIKWhM2, 1.2*18.5, 1e-9) // 1850 W/m2 x 12 h
	near(t, "days", s.All.Days, 7, 1e-9)
	near(t, "mean temperature", s.All.TempC, 3+10.0/4, 1e-9)
	if len(s.Months) != 2 || s.Months[0].Month != time.January || s.Months[1].Month != time.December {
		t.Fatalf("months %+v", s.Months)
	}
	near(t, "January", s.Months[0].KWhM2Day(), 1.2*(2+3+0.5+5)/4, 1e-9)
	near(t, "December's minima", s.Months[1].MinC, 1, 1e-9) // of 0, 1, 2
	near(t, "December's maxima", s.Months[1].MaxC, 11, 1e-9)
	near(t, "lowest", s.LowestC, 0, 0)
	near(t, "highest", s.HighestC, 16, 0)
	if at := s.HighestAt.Format("2 Jan 2006 15:04"); at != "4 Jan 2022 12:00" {
		t.Errorf("highest at %s", at)
	}
	type want struct {
		days  int
		first string
		mean  float64
	}
	check := func(what string, runs []summary.Run, wants ...want) {
		t.Helper()
		if len(runs) != len(wants) {
			t.Fatalf("%s: %d runs, want %d", what, len(runs), len(wants))
		}
		for i, w := range wants {
			near(t, what, runs[i].KWhM2Day, w.mean, 1e-9)
			if first := runs[i].First.Format("2 Jan"); first != w.first || runs[i].Days != w.days {
				t.Errorf("%s: %d days from %s, want %d from %s", what, runs[i].Days, first, w.days, w.first)
			}
		}
	}
	// The three days from 1 January have 550, those from 31 December 600; the five from 30 December 950, from 31 December 1150.
	check("all", s.Runs, want{1, "3 Jan", 0.6}, want{3, "1 Jan", 1.2 * 5.5 / 3}, want{5, "30 Dec", 1.2 * 9.5 / 5})
	check("2021", s.Years[0].Runs, want{1, "31 Dec", 1.2}, want{3, "30 Dec", 2.4}, want{5, "30 Dec", 1.2 * 9.5 / 5})
	check("2022", s.Years[1].Runs, want{1, "3 Jan", 0.6}, want{3, "1 Jan", 1.2 * 5.5 / 3})
	if s.WholeYears != 0 || s.WholeYearKWhM2 != 0 || s.Years[0].Whole {
		t.Errorf("a whole year in %+v", s.Years)
	}
}

// By quarters of an hour, from noon on: the half days at the ends count for sums, not for runs nor for daily minima.
func TestPartOfADay(t *testing.T) {
	hourly := small(time.Date(2021, 6, 1, 0, 0, 0, 0, time.UTC), 0, 200, 100, 0)
	hourly.Start = hourly.Start.Add(12 * time.Hour)
	hourly.GHIWm2, hourly.TempC = hourly.GHIWm2[12:84], hourly.TempC[12:84]
	y := *hourly
	y.StepMin, y.GHIWm2, y.TempC = 15, nil, nil
	for i, g := range hourly.GHIWm2 {
		for range 4 {
			y.GHIWm2, y.TempC = append(y.GHIWm2, g), append(y.TempC, hourly.TempC[i])
		}
	}
	s := summary.Of(&y)
	near(t, "days", s.All.Days, 3, 1e-9)
	near(t, "sum", s.All.GHIKWhM2, 3.6, 1e-9)
	near(t, "minima", s.Months[0].MinC, 1.5, 1e-9) // of the 2nd and the 3rd
	if len(s.Runs) != 1 || s.Runs[0].First.Day() != 3 {
		t.Errorf("runs %+v, want one, on the 3rd", s.Runs)
	}
}

// Light outside the air: R. G. Allen and others, Crop evapotranspiration, FAO paper 56 (1998), example 8: 32.2 MJ/m2 on
// 3 September at 20 S (from memory). It takes 1367 W/m2 for our 1361, and a simple declination: 1 % is allowed.
func TestOutsideTheAir(t *testing.T) {
	y := small(time.Date(2025, 9, 3, 0, 0, 0, 0, time.UTC), 300)
	y.Site.LatDeg = -20
	s := summary.Of(y)
	near(t, "MJ/m2", s.All.OutsideKWhM2*3.6, 32.2, 0.32)
	near(t, "clearness", s.All.Clearness(), 3.6*3.6/32.2, 0.005)
}

// A year in which the light is half of that outside the air, but for three days of a tenth: these have a fifth of the
// usual, or a little more, since they are themselves 3 of the 91 days that make it (0.1 / (0.5 - 3/91 x 0.4), roughly,
// for the light differs between these days).
func TestShareOfTheUsual(t *testing.T) {
	y := small(time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC), make([]float64, 365)...)
	y.Site.LatDeg, y.Measured = 30, false
	for d := range 365 {
		one := *y
		one.Start, one.GHIWm2, one.TempC = y.Start.AddDate(0, 0, d), y.GHIWm2[24*d:24*d+24], y.TempC[:24]
		k := 0.5
		if d >= 200 && d < 203 {
			k = 0.1
		}
		wm2 := 1000 * k * summary.Of(&one).All.OutsideKWhM2 / 12
		for h := 6; h < 18; h++ {
			one.GHIWm2[h] = wm2
		}
	}
	for i := range y.TempC {
		y.TempC[i] = 10
	}
	s := summary.Of(y)
	for _, m := range s.Months {
		if m.Month != time.July {
			near(t, m.Month.String(), m.Clearness(), 0.5, 1e-9)
		}
	}
	near(t, "July", s.Months[6].Clearness(), 0.5-0.4*3/31, 0.002)
	run := s.Runs[1]
	near(t, "share of the usual", run.Share(), 0.1/(0.5-0.4*3/91), 0.003)
	// Day 200 counted from 0 is 20 July. At 30 N a tenth in July is less than a half in December.
	if got := run.First.Format("2 Jan"); got != "20 Jul" || run.Days != 3 {
		t.Errorf("worst 3 days from %s", got)
	}
	if s.WholeYears != 1 || s.WholeYearKWhM2 != s.All.GHIKWhM2 {
		t.Errorf("%d whole years of %v kWh/m2", s.WholeYears, s.WholeYearKWhM2)
	}
}

// Where the sun does not rise there is no clearness and no usual light.
func TestPolarNight(t *testing.T) {
	y := small(time.Date(2025, 12, 20, 0, 0, 0, 0, time.UTC), 0, 0, 0)
	y.Site.LatDeg = 85
	s := summary.Of(y)
	if !math.IsNaN(s.All.Clearness()) || !math.IsNaN(s.Runs[0].Share()) {
		t.Errorf("clearness %v, share %v", s.All.Clearness(), s.Runs[0].Share())
	}
}
