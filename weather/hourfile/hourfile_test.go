package hourfile_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"tideover/weather"
	"tideover/weather/hourfile"
)

// shared opens a real file beside the repository, or skips.
func shared(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "..", "shared", "weather", name))
	if err != nil {
		t.Skipf("needs ../shared/weather/%s: %v", name, err)
	}
	return data
}

// The outside check: what other programs (throwaway scripts, see ../shared/weather/README.md) found in real files.
// Tolerances are half of the last digit printed there.
var real = []struct {
	file                        string
	lat, lon, elevationM, offH  float64
	yearKWh, lowest, highest    float64 // kWh/m2, kWh/m2/day
	lowestMonth, highestMonth   time.Month
	meanC                       float64
	january, april, jul, decemb float64 // kWh/m2/day
}{
	{"usa-ak-juneau.tmy3.csv", 58.35, -134.583, 4, -9, 849, 0.27, 4.93, time.December, time.May, 5.5, 0.39, 3.51, 3.53, 0.27},
	{"usa-ca-needles.tmy3.csv", 34.767, -114.617, 279, -8, 2075, 3.12, 8.40, time.December, time.June, 24.1, 3.22, 7.13, 7.94, 3.12},
	{"usa-co-leadville.epw", 39.22, -106.32, 3026, -7, 1673, 2.03, 7.16, time.December, time.June, 2.7, 2.07, 6.42, 6.13, 2.03},
	{"nzl-invercargill.epw", -46.42, 168.33, 0, 12, 1192, 0.91, 6.00, time.June, time.December, 10.0, 5.60, 2.13, 1.20, 6.00},
	{"nic-managua.epw", 12.15, -86.17, 50, -6, 1861, 4.49, 6.31, time.October, time.April, 26.6, 5.00, 6.31, 4.95, 4.49},
	{"can-ottawa.epw", 45.317, -75.667, 114.9, -5, 1363, 1.10, 5.97, time.December, time.July, 6.9, 1.56, 5.10, 5.97, 1.10},
}

// monthsKWh returns the mean daily GHI of the calendar months, kWh/m2.
func monthsKWh(y *weather.Year) (months [13]float64) {
	var hours [13]int
	for i, g := range y.GHIWm2 {
		m := y.Start.Add(time.Duration(i) * time.Hour).Month()
		months[m] += g / 1000
		hours[m]++
	}
	for m := range months {
		if hours[m] > 0 {
			months[m] *= 24 / float64(hours[m])
		}
	}
	return months
}

func sum(values []float64) (total float64) {
	for _, v := range values {
		total += v
	}
	return total
}

func TestRealFiles(t *testing.T) {
	for _, c := range real {
		t.Run(c.file, func(t *testing.T) {
			y, err := hourfile.Read(c.file, bytes.NewReader(shared(t, c.file)))
			if err != nil {
				t.Fatal(err)
			}
			if len(y.Warnings) > 0 || y.Measured || y.Len() != 8760 || y.WindMs == nil {
				t.Errorf("warnings %q, measured %v, %d hours, %d of wind", y.Warnings, y.Measured, y.Len(), len(y.WindMs))
			}
			s := y.Site
			if s.LatDeg != c.lat || s.LonDeg != c.lon || s.ElevationM != c.elevationM || s.OffsetH != c.offH || s.Name == "" || s.Source == "" {
				t.Errorf("site %+v", s)
			}
			check := func(what string, got, want, tol float64) {
				if math.Abs(got-want) > tol+1e-9 {
					t.Errorf("%s is %.4f, want %v", what, got, want)
				}
			}
			months := monthsKWh(y)
			check("annual GHI", sum(y.GHIWm2)/1000, c.yearKWh, 0.5)
			check("mean temperature", sum(y.TempC)/8760, c.meanC, 0.05)
			check("lowest month", months[c.lowestMonth], c.lowest, 0.005)
			check("highest month", months[c.highestMonth], c.highest, 0.005)
			check("January", months[1], c.january, 0.005)
			check("April", months[4], c.april, 0.005)
			check("July", months[7], c.jul, 0.005)
			check("December", months[12], c.decemb, 0.005)
			if lo, hi := slices.Min(months[1:]), slices.Max(months[1:]); lo != months[c.lowestMonth] || hi != months[c.highestMonth] {
				t.Errorf("months %.2f: the lowest is not %v or the highest not %v", months[1:], c.lowestMonth, c.highestMonth)
			}
		})
	}
}

func TestRealMeasuredYear(t *testing.T) {
	// One calendar year of a station: keeps its dates. (The file's clock is known to be 0.8 h off; this reader does not
	// look at that.) Annual GHI and mean temperature as in ../shared/weather/README.md.
	y, err := hourfile.Read("aachen.epw", bytes.NewReader(shared(t, "deu-aachen-2022.epw")))
	if err != nil {
		t.Fatal(err)
	}
	if !y.Measured || y.Start.Year() != 2022 || y.Len() != 8760 {
		t.Errorf("measured %v, start %v, %d hours", y.Measured, y.Start, y.Len())
	}
	if kWh, c := sum(y.GHIWm2)/1000, sum(y.TempC)/8760; math.Abs(kWh-1246) > 0.5 || math.Abs(c-11.6) > 0.05 {
		t.Errorf("%.1f kWh/m2 and %.2f C, want 1246 and 11.6", kWh, c)
	}
}

// file builds a made-up file row by row.
type file struct {
	format          string // "epw" or "tmy3"
	location, extra string
	years           func(month int) int
	days            int
	leap            bool
	edit            func(row int, s string) string // changes a row, "" removes it
}

func (f file) String() string {
	var b strings.Builder
	years := f.years
	if years == nil {
		years = func(int) int { return 2021 }
	}
	if f.format == "epw" {
		if f.location == "" {
			f.location = "LOCATION,Demo Hill,XX,ABC,made up,000001,52.1,5.18,1.0,2"
		}
		b.WriteString(f.location + "\n" + f.extra + "COMMENTS 1,\"one, two\"\nDATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31\n")
	} else {
		if f.location == "" {
			f.location = `000001,"DEMO HILL, NORTH",XX,1.0,52.1,5.18,2`
		}
		b.WriteString(f.location + "\nDate (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),GHI source,DNI (W/m^2),DHI (W/m^2),Dry-bulb (C),Wspd (m/s)\n")
	}
	ref := 2021
	if f.leap {
		ref = 2020
	}
	days := f.days
	if days == 0 {
		days = 365
		if f.leap {
			days = 366
		}
	}
	row := 0
	for d := range days {
		day := time.Date(ref, 1, 1+d, 0, 0, 0, 0, time.UTC)
		for h := 1; h <= 24; h++ {
			ghi := 0
			if h > 6 && h <= 18 {
				ghi = 300
			}
			m := int(day.Month())
			var s string
			if f.format == "epw" {
				s = fmt.Sprintf("%d,%d,%d,%d,60,?,%d.5,1,80,100000,0,0,300,%d,%d,%d,0,0,0,0,180,3.0,5,5,10,777,9,999999999,10,0.1,0,88,0.2,0,0",
					years(m)+day.Year()-ref, m, day.Day(), h, h, ghi, ghi, ghi/2)
			} else {
				s = fmt.Sprintf("%02d/%02d/%d,%02d:00,%d,1,%d,%d,%d.5,3.0", m, day.Day(), years(m)+day.Year()-ref, h, ghi, ghi, ghi/2, h)
			}
			if f.edit != nil {
				if s = f.edit(row, s); s == "" {
					row++
					continue
				}
			}
			b.WriteString(s + "\n")
			row++
		}
	}
	return b.String()
}

func read(text string) (*weather.Year, error) {
	return hourfile.Read("demo.txt", strings.NewReader(text))
}

func TestTypicalOrMeasured(t *testing.T) {
	jumps := func(m int) int { return 1990 + m%3 }
	for _, c := range []struct {
		name     string
		f        file
		measured bool
		start    int
		hours    int
	}{
		{"one year", file{format: "epw"}, true, 2021, 8760},
		{"a leap year", file{format: "epw", leap: true, years: func(int) int { return 2020 }}, true, 2020, 8784},
		{"two years", file{format: "epw", days: 730}, true, 2021, 17520},
		{"months of several years", file{format: "epw", years: jumps}, false, 2025, 8760},
		{"the same with a 29 February", file{format: "tmy3", years: jumps, leap: true}, false, 2024, 8784},
		{"TMY3", file{format: "tmy3", years: jumps}, false, 2025, 8760},
		{"one year of TMY3", file{format: "tmy3"}, true, 2021, 8760},
		{"a leap year without its 29 February", file{format: "epw", years: func(int) int { return 2020 }}, false, 2025, 8760},
	} {
		y, err := read(c.f.String())
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if y.Measured != c.measured || y.Start.Year() != c.start || y.Len() != c.hours || len(y.Warnings) != 0 {
			t.Errorf("%s: measured %v, starts %v, %d hours, warnings %q", c.name, y.Measured, y.Start, y.Len(), y.Warnings)
		}
		if _, off := y.Start.Zone(); off != 3600 || y.Start.Format("01-02 15:04") != "01-01 00:00" {
			t.Errorf("%s: starts %v", c.name, y.Start)
		}
		// Rows 0 and 1 read 1.5 and 2.5 degC at the ends of their hours; row 6 is the first with light.
		if y.TempC[0] != 1.5 || y.TempC[1] != 2 || y.GHIWm2[5] != 0 || y.GHIWm2[6] != 300 || y.DHIWm2[6] != 150 || y.WindMs[0] != 3 {
			t.Errorf("%s: temperatures %v, light %v", c.name, y.TempC[:2], y.GHIWm2[5:7])
		}
	}
}

func TestSurfaceOfFiles(t *testing.T) {
	// A byte order mark, CRLF, Latin-1, blanks, a quoted field, header lines in another order, minute 0.
	text := file{format: "epw", location: "\ufeffLOCATION,\"Caf\xe9, Nord\",XX,ABC,made up,1, 52.1 ,5.18,1,2",
		extra: "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0\nGROUND TEMPERATURES,0\n",
		edit:  func(_ int, s string) string { return strings.Replace(s, ",60,?,", ",0,\"?,?\",", 1) + "\r" }}.String()
	y, err := read(text + "\r\n\r\n")
	if err != nil {
		t.Fatal(err)
	}
	if y.Site.Name != "Café, Nord" || y.Site.LatDeg != 52.1 || y.GHIWm2[6] != 300 || y.Len() != 8760 {
		t.Errorf("%+v, %d hours", y.Site, y.Len())
	}
	y, err = read(file{format: "tmy3"}.String())
	if err != nil || y.Site.Name != "DEMO HILL, NORTH" {
		t.Errorf("name %q, %v", y.Site.Name, err)
	}
}

func TestWindMayBeMissing(t *testing.T) {
	without := func(from, to int) func(int, string) string {
		return func(row int, s string) string {
			if row >= from && row < to {
				return strings.Replace(s, ",180,3.0,", ",180,999,", 1)
			}
			return s
		}
	}
	y, err := read(file{format: "epw", edit: without(0, 10)}.String())
	if err != nil || y.WindMs[0] != 3 || !slices.Equal(y.Notes, []string{"the wind is missing in 10 of 8760 hours: the reading before was kept"}) {
		t.Errorf("%v, %q", err, y.Notes)
	}
	y, err = read(file{format: "epw", edit: without(0, 8760)}.String())
	if err != nil || y.WindMs != nil || !slices.Equal(y.Notes, []string{"the file has no wind"}) {
		t.Errorf("%v, %q", err, y.Notes)
	}
}

func TestDoubtfulFilesAreWarnedAbout(t *testing.T) {
	y, err := read(file{format: "epw", location: "LOCATION,Demo,XX,ABC,made up,1,52.1,-75,5,2"}.String())
	if want := "the time zone of the file, UTC+5, is 10.0 h away from the sun at longitude -75: one of them may be wrong"; err != nil || !slices.Equal(y.Warnings, []string{want}) {
		t.Errorf("%v, %q", err, y.Warnings)
	}
	y, err = read(file{format: "epw", location: "LOCATION,Demo,XX,ABC,made up,1,-14,-172,13,2"}.String()) // across the date line
	if err != nil || len(y.Warnings) != 0 {
		t.Errorf("%v, %q", err, y.Warnings)
	}
	y, err = read(file{format: "epw", days: 31}.String())
	if want := "the file covers 1 January 2021 to 31 January 2021, which is not a whole number of years"; err != nil || !slices.Equal(y.Warnings, []string{want}) {
		t.Errorf("%v, %q", err, y.Warnings)
	}
}

func TestBadFilesAreRefused(t *testing.T) {
	at := func(row int, old, new string) func(int, string) string {
		return func(r int, s string) string {
			if r == row {
				if !strings.Contains(s, old) {
					panic(s)
				}
				return strings.Replace(s, old, new, 1)
			}
			return s
		}
	}
	epw := func(edit func(int, string) string) string { return file{format: "epw", edit: edit}.String() }
	tmy3 := func(edit func(int, string) string) string { return file{format: "tmy3", edit: edit}.String() }
	plain := epw(nil)
	for _, c := range []struct{ text, want string }{
		{"", "demo.txt:1:1: the file is empty"},
		{"a,b\nc,d\n", `demo.txt:1:1: this is neither EPW (line 1 would start with LOCATION) nor TMY3 (line 2 would start with Date) nor a CSV whose columns are named with their units (as time,ghi_w_m2,temp_c), but "a,b"`},
		{"LOCATION,Demo,XX\n", "demo.txt:1:17: LOCATION has 3 fields, want 10 at least"},
		{file{format: "epw", location: "LOCATION,Demo,XX,ABC,made up,1,95,5,1,2"}.String(), "demo.txt:1:32: latitude: 95 is not between -90 and 90"},
		{file{format: "epw", location: "LOCATION,Demo,XX,ABC,made up,1,52N,5,1,2"}.String(), `demo.txt:1:32: latitude: "52N" is not a number`},
		{file{format: "epw", extra: "DATA PERIODS,1,3,Data,Sunday,1/1,12/31\n"}.String(), `demo.txt:2:16: "3" records per hour; 1, 2, 4, 6, 12 or 60 can be read`},
		{"LOCATION,Demo,XX,ABC,made up,1,52,5,1,2\n", "demo.txt:1:40: the file has no hours"},
		{epw(at(2, ",1,3,60,", ",1,25,60,")), "demo.txt:6:10: hour 25 is not between 1 and 24"},
		{epw(at(0, "2021,1,1,", "2021,13,1,")), "demo.txt:4:6: there is no day 1 of month 13"},
		{epw(at(0, "2021,1,1,", "2021,x,1,")), `demo.txt:4:6: month: "x" is not a whole number`},
		{epw(at(2, "2021,", "2020,")), "demo.txt:6:1: 1 Jan 2020 02:00 comes after 1 Jan 2021 01:00: a row is doubled or out of order"},
		{epw(func(r int, s string) string {
			if r == 5 {
				return s + "\n" + s
			}
			return s
		}), "demo.txt:10:1: 1 Jan 2021 05:00 comes after 1 Jan 2021 05:00: a row is doubled or out of order; a clock with daylight saving doubles an hour in autumn, but rows must be in standard time or UTC"},
		{epw(func(r int, s string) string {
			if r >= 48 && r < 72 {
				return ""
			}
			return s
		}), "demo.txt:52:1: global horizontal light is missing in 1 stretch for longer than the 3 h of daylight that can be filled, 24 h in all: 3 Jan 2021 00:00 to 4 Jan 2021 00:00 (24 h); dry bulb temperature is missing in 1 stretch for longer than the 6 h that can be filled, 24 h in all: 3 Jan 2021 00:00 to 4 Jan 2021 00:00 (24 h)"},
		{epw(at(3, ",1,4,60,?,4.5,", ",1,4,60,?,hot,")), `demo.txt:7:17: dry bulb temperature: "hot" is not a number`},
		{epw(at(3, ",1,4,60,?,4.5,", ",1,4,60,?,0x1p3,")), `demo.txt:7:17: dry bulb temperature: "0x1p3" is not a number`},
		{epw(at(3, ",1,4,60,?,4.5,", ",1,4,60,?,80,")), "demo.txt:7:17: dry bulb temperature: 80 is not between -90 and 70"},
		{epw(at(7, ",300,300,300,150,", ",300,-50,300,150,")), "demo.txt:11:41: global horizontal light: -50 is not between 0 and 2000"},
		{epw(func(r int, s string) string {
			if r >= 8 && r < 12 {
				return strings.Replace(s, ",300,300,300,150,", ",300,9999,9999,150,", 1)
			}
			return s
		}), "demo.txt:12:1: global horizontal light is missing in 1 stretch for longer than the 3 h of daylight that can be filled, 4 h in all: 1 Jan 2021 08:00 to 1 Jan 2021 12:00 (4 h)"},
		{epw(at(3, ",180,3.0,5,5,10,777,9,999999999,10,0.1,0,88,0.2,0,0", "")), "demo.txt:7:54: the row has 20 fields, want 22 at least"},
		{file{format: "epw", years: func(m int) int { return 1990 + m%3 }, days: 364}.String(),
			"demo.txt:8739:1: global horizontal light is missing in 1 stretch for longer than the 3 h of daylight that can be filled, 24 h in all: 31 Dec 2025 00:00 to 1 Jan 2026 00:00 (24 h); dry bulb temperature is missing in 1 stretch for longer than the 6 h that can be filled, 24 h in all: 31 Dec 2025 00:00 to 1 Jan 2026 00:00 (24 h)"},
		{tmy3(at(3, "04:00", "04:30")), `demo.txt:6:12: "04:30" is not an hour from 01:00 to 24:00`},
		{tmy3(at(3, "01/01/2021", "2021-01-01")), `demo.txt:6:1: "2021-01-01" is not a date as MM/DD/YYYY`},
		{tmy3(at(7, ",300,1,300,150,8.5,3.0", ",300,1,300")), "demo.txt:10:27: the row has 5 fields, want 8 at least"},
		{strings.Replace(tmy3(nil), "Dry-bulb (C)", "Dry (C)", 1), `demo.txt:2:1: no column is titled "Dry-bulb"`},
		{strings.Replace(tmy3(nil), "\n", ",5\n", 1)[2:], ""}, // more fields than needed are nothing to complain of
		{plain, ""},
	} {
		y, err := read(c.text)
		if c.want == "" {
			if err != nil {
				t.Errorf("refused: %v", err)
			}
			continue
		}
		if err == nil {
			t.Errorf("read %d hours, want %s", y.Len(), c.want)
			continue
		}
		if err.Error() != c.want {
			t.Errorf("got  %s\nwant %s", err, c.want)
		}
		var pos interface{ Pos() (string, int, int) }
		if !errors.As(err, &pos) {
			t.Errorf("%v has no position", err)
		}
	}
}

func TestHugeFilesAreRefused(t *testing.T) {
	_, err := hourfile.Read("demo.txt", io.LimitReader(endless{}, hourfile.MaxBytes+10))
	if want := "demo.txt:1:1: the file is larger than 64 MiB"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
	// Short rows, so that a million fit: 20 to 30 bytes each.
	var b bytes.Buffer
	b.WriteString("1,Demo,XX,1,52,5,2\nDate,Time,GHI,DNI,DHI,Dry-bulb,Wspd\n")
	for day := time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC); day.Year() < 2020; day = day.AddDate(0, 0, 1) {
		for h := 1; h <= 24; h++ {
			fmt.Fprintf(&b, "%s,%02d:00,0,0,0,0,0\n", day.Format("01/02/2006"), h)
		}
	}
	_, err = hourfile.Read("demo.txt", &b)
	if want := "demo.txt:1000003:1: more than 1000000 rows"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

type endless struct{}

func (endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = ' '
	}
	return len(p), nil
}

func TestReaderErrorsNameTheFile(t *testing.T) {
	_, err := hourfile.Read("demo.txt", io.MultiReader(strings.NewReader("LOC"), broken{}))
	if err == nil || err.Error() != "demo.txt: disk gone" {
		t.Errorf("got %v", err)
	}
}

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, errors.New("disk gone") }

func BenchmarkYear(b *testing.B) {
	for _, name := range []string{"usa-ak-juneau.tmy3.csv", "can-ottawa.epw"} {
		b.Run(name, func(b *testing.B) {
			data := shared(b, name)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := hourfile.Read(name, bytes.NewReader(data)); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
