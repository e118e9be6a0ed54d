package scenarios

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"tideover/loads"
	"tideover/sim"
)

func TestProfiles(t *testing.T) {
	const head = "# measured\ntime,power_w\n"
	year := func(year, stepMin int, form string) string {
		var b strings.Builder
		b.WriteString(head)
		for at := time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC); at.Year() == year; at = at.Add(time.Duration(stepMin) * time.Minute) {
			fmt.Fprintf(&b, "%s,%d\n", at.Format(form), at.YearDay())
		}
		return b.String()
	}
	for name, tc := range map[string]struct {
		src        string
		step, days int
		last       float64
	}{
		"a day":             {head + "00:00, 5\n12:00 ,7.5\n", 720, 1, 7.5},
		"Windows":           {"\ufefftime,power_w\r\n\r\n00:00,5\r\n08:00,0\r\n16:00,6", 480, 1, 6},
		"a week":            {head + "mon 00:00,1\ntue 00:00,2\nWed 00:00,3\nthu 00:00,4\nfri 00:00,5\nsat 00:00,6\nsun 00:00,7\n", 1440, 7, 7},
		"a year":            {year(2025, 60, "01-02 15:04"), 60, 365, 365},
		"a leap year":       {year(2024, 30, "2006-01-02T15:04"), 30, 366, 366},
		"minutes of a year": {year(2025, 1, "2006-01-02 15:04"), 1, 365, 365},
	} {
		s, err := ParseProfile("p.csv", []byte(tc.src))
		if err != nil {
			t.Errorf("%s: %v", name, err)
		} else if s.StepMin != tc.step || s.Days() != tc.days || s.PowerW[len(s.PowerW)-1] != tc.last {
			t.Errorf("%s: step %d min, %d days, last %v W", name, s.StepMin, s.Days(), s.PowerW[len(s.PowerW)-1])
		}
	}
	for src, want := range map[string]string{
		"":                                   "p.csv has 0 rows: at least two are wanted below the titles time,power_w",
		"00:00,5\n12:00,6\n":                 `p.csv:1: "00:00,5" is not the titles time,power_w`,
		head + "00:00,5\n":                   "p.csv has 1 rows: at least two are wanted below the titles time,power_w",
		head + "00:00;5\n":                   `p.csv:3: "00:00;5" is not a time and a power with a comma between`,
		head + "00:00,5,6\n":                 `p.csv:3: "00:00,5,6" is not a time and a power with a comma between`,
		head + "0:00,5\n":                    `p.csv:3: "0:00" is not a time: write 00:00 for a day, mon 00:00 for a week, 01-01 00:00 for a year`,
		head + "24:00,5\n":                   `p.csv:3: "24:00" is not a time: write 00:00 for a day, mon 00:00 for a week, 01-01 00:00 for a year`,
		head + "00:00,5\n02-30 00:00,5\n":    `p.csv:4: "02-30 00:00" is not a time: write 00:00 for a day, mon 00:00 for a week, 01-01 00:00 for a year`,
		head + "00:00,5\nmon 12:00,6\n":      `p.csv:4: "mon 12:00" is another kind of time than in the rows before`,
		head + "00:00,5 W\n":                 `p.csv:3: "5 W" is not a plain number of watts`,
		head + "00:00,NaN\n":                 `p.csv:3: "NaN" is not a plain number of watts`,
		head + "00:00,1e3\n":                 `p.csv:3: "1e3" is not a plain number of watts`,
		head + "00:00,-5\n":                  "p.csv:3: -5 W is not between 0 and 100000",
		head + "06:00,5\n12:00,5\n":          "p.csv:3: the first row is not the beginning: 00:00",
		head + "00:00,5\n00:07,5\n":          "p.csv:4: comes 7 minutes after the first row: a step is a whole part of a day, as 60, 15, 5 or 1 minutes",
		head + "00:00,5\n00:00,5\n":          "p.csv:4: comes 0 minutes after the first row: a step is a whole part of a day, as 60, 15, 5 or 1 minutes",
		head + "00:00,5\n06:00,5\n\n18:00,5": "p.csv:6: comes 720 minutes after the row before, where the step is 360",
		head + "00:00,5\n06:00,5\n12:00,5":   "p.csv:5: ends 6 h before the end of the day",
		head + "mon 00:00,5\nmon 12:00,5":    "p.csv:4: ends 6 days before the end of the week",
		head + "00:00,0\n12:00,0":            "p.csv draws nothing: every power_w is 0",
	} {
		if _, err := ParseProfile("p.csv", []byte(src)); err == nil || err.Error() != want {
			t.Errorf("%q:\n got %v\nwant %s", src, err, want)
		}
	}
}

func TestFilesBesideAScenario(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("router.csv", "time,power_w\n00:00,5\n12:00,6\n")
	write("short.csv", "time,power_w\n00:00,5\n06:00,6\n")
	scenario := func(file string) string {
		return strings.Replace(pageExample, "loads:\n", "loads:\n  measured: {kind: profile, profile: \""+file+"\"}\n", 1)
	}
	read := Beside(filepath.Join(dir, "cabin.yaml"))
	f, err := DecodeBeside("cabin.yaml", []byte(scenario("router.csv")), read)
	if err != nil {
		t.Fatal(err)
	}
	base, variant := f.Base.System.Loads[0].Measured, f.Variants[0].System.Loads[0].Measured
	if !slices.Equal(base.PowerW, []float64{5, 6}) || base != variant {
		t.Errorf("got %v, and in the variant %v", base, variant)
	}
	if _, err := DecodeBeside("cabin.yaml", []byte(scenario(filepath.ToSlash(filepath.Join(dir, "router.csv")))), read); err != nil {
		t.Errorf("an absolute path: %v", err)
	}
	for file, want := range map[string]string{
		"rooter.csv": `there is no file "rooter.csv" beside the scenario`,
		".":          `"." cannot be read: it is no regular file`,
		"short.csv":  "short.csv:3: ends 12 h before the end of the day",
		"a\\tb":      "is no name of a file",
	} {
		_, err := DecodeBeside("cabin.yaml", []byte(scenario(file)), read)
		if want = "cabin.yaml:23:38: loads.measured.profile: " + want; err == nil || err.Error() != want {
			t.Errorf("got %v, want %s", err, want)
		}
		inside(t, []byte(scenario(file)), err)
	}
	big := filepath.Join(dir, "big.csv")
	if err := os.WriteFile(big, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(big, 1<<30); err != nil {
		t.Fatal(err)
	}
	if _, err := DecodeBeside("cabin.yaml", []byte(scenario("big.csv")), read); err == nil || !strings.Contains(err.Error(), "big.csv is larger than 20 MB") {
		t.Errorf("a gigabyte: %v", err)
	}
}

// FuzzProfile: no panic; what is read fills its day, week or year with powers in range.
func FuzzProfile(f *testing.F) {
	f.Add([]byte("time,power_w\n00:00,5\n12:00,6\n"))
	f.Add([]byte("\ufeff# x\r\ntime , power_w\nmon 00:00,5\ntue 00:00,0\nwed 00:00,1\nthu 00:00,1\nfri 00:00,1\nsat 00:00,1\nsun 00:00,1\n"))
	f.Add([]byte("time,power_w\n2024-01-01T00:00,5\n2024-01-01T12:00,6\n2024-02-29 00:00,1"))
	f.Fuzz(func(t *testing.T, src []byte) {
		s, err := ParseProfile("p.csv", src)
		if err != nil {
			if strings.ContainsFunc(err.Error(), func(r rune) bool { return r < ' ' || r == 0x7f }) || !strings.HasPrefix(err.Error(), "p.csv") {
				t.Fatalf("%q: the message is %q", src, err)
			}
			return
		}
		if !slices.Contains([]int{1, 7, 365, 366}, s.Days()) || len(s.PowerW)*s.StepMin != s.Days()*1440 || !(s.MaxW() > 0 && s.MaxW() <= 1e5) || slices.Min(s.PowerW) < 0 {
			t.Fatalf("%q: %d days of %d rows, at most %v W", src, s.Days(), len(s.PowerW), s.MaxW())
		}
	})
}

// The scenario with every kind of load decodes and runs, on its own year of weather.
func TestEveryLoadRuns(t *testing.T) {
	path := filepath.Join("..", "testdata", "loads", "every-load.yaml")
	src, err := Read(path)
	if err != nil {
		t.Fatal(err)
	}
	f, err := DecodeBeside(path, src, Beside(path))
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[loads.Kind]bool{}
	for _, l := range f.Base.System.Loads {
		kinds[l.Kind] = true
	}
	if len(kinds) != len(loads.KindWords) {
		t.Errorf("%d kinds of load, want all %d", len(kinds), len(loads.KindWords))
	}
	for _, s := range append(f.Variants, f.Base) {
		y, err := s.Weather(nil)
		if err != nil {
			t.Fatal(err)
		}
		p, err := s.Place(y, false)
		if err != nil {
			t.Fatal(err)
		}
		r, err := sim.Prepare(p.System, y).Run(false)
		if err != nil {
			t.Fatal(err)
		}
		p.Tell(r)
		if p.System.Seed != 4 || !(r.Residual() < 1e-9) {
			t.Errorf("seed %d, residual %v", p.System.Seed, r.Residual())
		}
		for _, l := range r.Loads {
			if l.DemandWh <= 0 {
				t.Errorf("%s asks nothing in a year", l.Name)
			}
		}
		for _, w := range r.Waited {
			if len(w.Begun) == 0 || len(w.Begun) == w.AtDeadline {
				t.Errorf("%s began %d times, %d of them at the deadline", w.Load, len(w.Begun), w.AtDeadline)
			}
		}
		if len(r.Waited) != 2 {
			t.Errorf("%d loads waited, want 2", len(r.Waited))
		}
	}
}
