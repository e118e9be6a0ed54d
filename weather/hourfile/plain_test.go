package hourfile_test

import (
	"bytes"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"tideover/sim/limit"
	"tideover/weather"
	"tideover/weather/hourfile"
)

const plainHead = "# name: Demo Hill\n# latitude_deg: 52.1\n# longitude_deg: 5.18\n# elevation_m: 12\n# offset_h: +1\n"

const knmiHead = "BRON: demo\r\n\r\nYYYYMMDD  = datum / date\r\nHH        = tijd\r\n\r\n# STN,YYYYMMDD,   HH,   FH,    T,    Q\r\n\r\n"

// knmi is the layout of the Dutch met office's hourly files, typed as a person would.
func knmi() hourfile.Layout {
	l := hourfile.DefaultLayout()
	for _, k := range l.Keys() {
		var err error
		switch k.Name {
		case "time":
			err = k.SetWords([]string{"YYYYMMDD", "YYYYMMDD", "HH", "hh"})
		case "time_is":
			k.SetChoice("end")
		case "clock":
			err = k.SetWords([]string{"utc"})
		case "ghi":
			err = k.SetWords([]string{"Q", "J/cm2"})
		case "temp":
			err = k.SetWords([]string{"T", "0.1 C"})
		case "wind":
			err = k.SetWords([]string{"FH", "0.1 m/s"})
		case "readings":
			k.SetChoice("at_end")
		}
		if err != nil {
			panic(err)
		}
	}
	return l
}

func at(lat, lon float64) hourfile.Options {
	opt := hourfile.DefaultOptions()
	opt.LatDeg, opt.LonDeg = lat, lon
	return opt
}

func yearKWh(y *weather.Year, year int) (kWh float64) {
	for i, g := range y.GHIWm2 {
		if y.Start.Add(time.Duration(i)*time.Hour).Year() == year {
			kWh += g / 1000
		}
	}
	return kWh
}

func TestDeBilt(t *testing.T) {
	// Outside check: ../shared/weather/README.md, annual GHI to the kWh and mean temperature to 0.1.
	y, err := hourfile.ReadWith("debilt.csv", bytes.NewReader(shared(t, "nld-debilt-2011-2020.csv")), at(52.1, 5.18))
	if err != nil {
		t.Fatal(err)
	}
	if y.Len() != 87672 || !y.Measured || len(y.Warnings) > 0 || y.Start.Format(time.RFC3339) != "2011-01-01T00:00:00Z" {
		t.Errorf("%d hours from %v, measured %v, warnings %q", y.Len(), y.Start, y.Measured, y.Warnings)
	}
	for i, want := range []float64{1026, 989, 1003, 1041, 1073, 1039, 1020, 1137, 1099, 1125} {
		if got := yearKWh(y, 2011+i); math.Abs(got-want) > 0.5 {
			t.Errorf("%d: %.1f kWh/m2, want %v", 2011+i, got, want)
		}
	}
	if got := sum(y.TempC) / float64(y.Len()); math.Abs(got-11.0) > 0.05 {
		t.Errorf("mean temperature %.2f, want 11.0", got)
	}
}

func TestWilhelminadorp(t *testing.T) {
	data := shared(t, "nld-wilhelminadorp-2011-2020.knmi.csv")
	l := knmi()
	opt := at(51.5292, 3.8969)
	opt.Layout = &l
	// The gaps as ../shared/weather/README.md has them: no rows from 2014-02-01 to 2017-12-12, nor on 2017-12-14, and in
	// January 2014 251 blank Q and 614 blank T (0:00 on 6 January is not blank: T from 10:00 on).
	_, err := hourfile.ReadWith("w.csv", bytes.NewReader(data), opt)
	want := "w.csv:26468:1: global light is missing in 28 stretches for longer than the 3 h of daylight that can be filled, 34139 h in all: " +
		"the longest are 12 Jan 2014 07:00 to 12 Jan 2014 17:00 (10 h), 13 Jan 2014 07:00 to 13 Jan 2014 17:00 (10 h), 14 Jan 2014 07:00 to 14 Jan 2014 17:00 (10 h), " +
		"1 Feb 2014 00:00 to 13 Dec 2017 00:00 (33864 h), 14 Dec 2017 00:00 to 15 Dec 2017 00:00 (24 h); and 23 more; " +
		"air temperature is missing in 2 stretches for longer than the 6 h that can be filled, 34502 h in all: " +
		"6 Jan 2014 10:00 to 13 Dec 2017 00:00 (34478 h), 14 Dec 2017 00:00 to 15 Dec 2017 00:00 (24 h)"
	if err == nil || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	opt.Cut = true
	y, err := hourfile.ReadWith("w.csv", bytes.NewReader(data), opt)
	if err != nil {
		t.Fatal(err)
	}
	if y.Len() != 26304 || len(y.Warnings) != 1 || !strings.HasSuffix(y.Warnings[0], "; cut to the best stretch without such a gap, 1 Jan 2011 00:00 to 1 Jan 2014 00:00: 26304 of 87672 h") {
		t.Errorf("%d hours, %q", y.Len(), y.Warnings)
	}
	for i, want := range []float64{1093, 1066, 1056} {
		if got := yearKWh(y, 2011+i); math.Abs(got-want) > 0.5 {
			t.Errorf("%d: %.1f kWh/m2, want %v", 2011+i, got, want)
		}
	}
	// Row 1: T 4.0 C; row 8, by hand from the file: wind 3 m/s in rows 1 and 3, 4 in row 2, read at the end of the hour.
	if y.TempC[0] != 4 || y.WindMs[0] != 3 || y.WindMs[1] != 3.5 {
		t.Errorf("temperature %v, wind %v", y.TempC[0], y.WindMs[:2])
	}
}

// day writes the rows of 1 January 2021 with the light that f gives, sep between fields.
func day(steps int, row func(i int, at time.Time) string) string {
	var b strings.Builder
	for i := range steps {
		b.WriteString(row(i, time.Date(2021, 1, 1, 0, i*1440/steps, 0, 0, time.UTC)) + "\n")
	}
	return b.String()
}

// lit is the light of hour i of the demo day.
func lit(i int) int {
	if i >= 9 && i < 16 {
		return 36 * (i - 8)
	}
	return 0
}

func TestPlainCSVSpellings(t *testing.T) {
	stamp := func(form string) func(i int, at time.Time) string {
		return func(i int, at time.Time) string { return at.Format(form) }
	}
	rows := func(format string, when func(i int, at time.Time) string, args func(i int) []any) string {
		return day(24, func(i int, at time.Time) string {
			return fmt.Sprintf(format, append([]any{when(i, at)}, args(i)...)...)
		})
	}
	watts := func(i int) []any { return []any{lit(i), i} }
	iso := stamp("2006-01-02 15:04")
	for _, c := range []struct {
		name, text string
		offsetH    float64
		start      string
	}{
		{"ours", "time,ghi_w_m2,temp_c\n" + rows("%s,%d,%d", iso, watts), 1, "00:00"},
		{"T and seconds", "time,ghi_w_m2,temp_c\n" + rows("%s,%d,%d", stamp("2006-01-02T15:04:05"), watts), 1, "00:00"},
		{"wm2", "timestamp,temp_c,ghi_wm2\n" + rows("%s,%[3]d,%[2]d", iso, watts), 1, "00:00"},
		{"semicolon, decimal comma", "time;ghi_w_m2;temp_c\n" + rows("%s;%d,0;%d,0", iso, watts), 1, "00:00"},
		{"tab", "time\tghi_w_m2\ttemp_c\n" + rows("%s\t%d\t%d", iso, watts), 1, "00:00"},
		{"quoted decimals", "time,ghi_w_m2,temp_c\n" + rows("\"%s\",\"%d,00\",\"%d\"", iso, watts), 1, "00:00"},
		{"kJ", "time,ghi_kj_m2,temp_c\n" + rows("%s,%.1f,%d", iso, func(i int) []any { return []any{float64(lit(i)) * 3.6, i} }), 1, "00:00"},
		{"J/cm2 and tenths", "time,GHI [J/cm2],T_air_skip,temp (0.1 °C)\n" + rows("%s,%.2f,x,%d", iso, func(i int) []any { return []any{float64(lit(i)) * 0.36, 10 * i} }), 1, "00:00"},
		{"Latin-1 and Fahrenheit", "time,ghi (Wh/m\xb2),temp (\xb0F)\n" + rows("%s,%d,%.4f", iso, func(i int) []any { return []any{lit(i), 32 + 1.8*float64(i)} }), 1, "00:00"},
		{"kelvin", "time,ghi_kw_m2,temp_k\n" + rows("%s,%.4f,%.2f", iso, func(i int) []any { return []any{float64(lit(i)) / 1000, 273.15 + float64(i)} }), 1, "00:00"},
		{"hour-ending", "time_end,ghi_w_m2,temp_c\n" + rows("%s,%d,%d", func(i int, at time.Time) string { return at.Add(time.Hour).Format("2006-01-02 15:04") }, watts), 1, "00:00"},
		{"hour-ending with 24:00", "time_end,ghi_w_m2,temp_c\n" + rows("%s,%d,%d", func(i int, at time.Time) string { return fmt.Sprintf("2021-01-01 %02d:00", i+1) }, watts), 1, "00:00"},
		{"date and hour 1 to 24", "date,hour,ghi_w_m2,temp_c\n" + rows("%s,%d,%d", func(i int, at time.Time) string { return fmt.Sprintf("20210101,%d", i+1) }, watts), 1, "00:00"},
		{"date and hour 0 to 23", "date,hour,ghi_w_m2,temp_c\n" + rows("%s,%d,%d", func(i int, at time.Time) string { return fmt.Sprintf("2021/01/01,%d", i) }, watts), 1, "00:00"},
		{"date and time", "Date,Time,ghi_w_m2,temp_c\n" + rows("%s,%d,%d", stamp("02.01.2006,15:04"), watts), 1, "00:00"},
		{"parts", "year,month,day,hour_end,ghi_w_m2,temp_c\n" + rows("%s,%d,%d", func(i int, at time.Time) string { return fmt.Sprintf("2021,1,1,%d", i+1) }, watts), 1, "00:00"},
		{"UTC, shown in local time", "time_utc,ghi_w_m2,temp_c\n" + rows("%s,%d,%d", iso, watts), 1, "01:00"},
		{"Z", "time,ghi_w_m2,temp_c\n" + rows("%s,%d,%d", stamp("2006-01-02T15:04Z"), watts), 1, "01:00"},
		{"an offset in each row", "time,ghi_w_m2,temp_c\n" + rows("%s,%d,%d", stamp("2006-01-02T15:04+01:00"), watts), 1, "00:00"},
		{"empty and added columns", "time,,ghi_w_m2,temp_c,note,,\n" + rows("%s,,%d,%d,\"a,b\",,", iso, watts), 1, "00:00"},
	} {
		for _, end := range []string{"\n", "\r\n"} {
			text := "\ufeff" + plainHead + "\n" + c.text
			y, err := read(strings.ReplaceAll(text, "\n", end))
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
				break
			}
			if y.Len() != 24 || y.StepMin != 60 || y.Start.Format("15:04") != c.start || y.Site.OffsetH != c.offsetH || y.Site.Name != "Demo Hill" || y.Site.ElevationM != 12 {
				t.Errorf("%s: %d steps of %d min from %v, %+v", c.name, y.Len(), y.StepMin, y.Start, y.Site)
			}
			for i := range y.GHIWm2 {
				if math.Abs(y.GHIWm2[i]-float64(lit(i))) > 0.06 || math.Abs(y.TempC[i]-float64(i)) > 0.01 { // rounding of the file
					t.Errorf("%s: hour %d has %v W/m2 and %v C, want %d and %d", c.name, i, y.GHIWm2[i], y.TempC[i], lit(i), i)
					break
				}
			}
		}
	}
}

func TestShortSteps(t *testing.T) {
	for _, min := range []int{30, 15, 10, 5, 1} {
		n := 1440 / min
		text := plainHead + "time,ghi_wh_m2,temp_c\n" + day(n, func(i int, at time.Time) string {
			return fmt.Sprintf("%s,%v,5", at.Format("2006-01-02 15:04"), float64(lit(i*min/60))*float64(min)/60)
		})
		y, err := read(text)
		if err != nil || y.StepMin != min || y.Len() != n {
			t.Errorf("%d min: %v", min, err)
			continue
		}
		if got := y.GHIWm2[12*60/min]; math.Abs(got-float64(lit(12))) > 1e-9 {
			t.Errorf("%d min: %v W/m2 at noon, want %d", min, got, lit(12))
		}
	}
}

func TestHalfHourZone(t *testing.T) {
	text := "# latitude_deg: 27.7\n# longitude_deg: 85.3\n# offset_h: +05:45\ntime_utc,ghi_w_m2,temp_c\n" +
		day(24, func(i int, at time.Time) string { return at.Format("2006-01-02 15:04") + ",0,5" })
	y, err := read(text)
	if err != nil || y.Site.OffsetH != 5.75 || y.Start.Format("15:04 -0700") != "05:45 +0545" {
		t.Errorf("%v %+v", err, y)
	}
}

func TestLeapDaysAndTypicalYears(t *testing.T) {
	rows := func(from, to time.Time, year func(time.Month) int) string {
		var b strings.Builder
		b.WriteString(plainHead + "time,ghi_w_m2,temp_c\n")
		for at := from; at.Before(to); at = at.Add(time.Hour) {
			y := at.Year()
			if year != nil {
				y = year(at.Month())
			}
			fmt.Fprintf(&b, "%04d-%s,%d,5\n", y, at.Format("01-02 15:04"), lit(at.Hour()))
		}
		return b.String()
	}
	date := func(y, m, d int) time.Time { return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC) }
	for _, c := range []struct {
		name, text string
		hours      int
		measured   bool
		year       int
	}{
		{"a leap year", rows(date(2020, 1, 1), date(2021, 1, 1), nil), 8784, true, 2020},
		{"three years", rows(date(2019, 1, 1), date(2022, 1, 1), nil), 26304, true, 2019},
		{"from July to June", rows(date(2019, 7, 1), date(2020, 7, 1), nil), 8784, true, 2019},
		{"months of years that jump", rows(date(2021, 1, 1), date(2022, 1, 1), func(m time.Month) int { return 1990 + int(m)*5%7 }), 8760, false, 2025},
		{"months of years that rise", rows(date(2021, 1, 1), date(2022, 1, 1), func(m time.Month) int { return 1990 + int(m) }), 8760, false, 2025},
	} {
		y, err := read(c.text)
		if err != nil || y.Len() != c.hours || y.Measured != c.measured || y.Start.Year() != c.year || len(y.Warnings) > 0 {
			t.Errorf("%s: %v, %+.200v", c.name, err, y)
		}
	}
}

func TestPlainCSVRefusals(t *testing.T) {
	full := func(head, row string) string { return plainHead + head + "\n" + row + "\n" }
	for _, c := range []struct{ text, want string }{
		{full("time,ghi,temp_c", "2021-01-01 00:00,0,1"), "demo.txt:6:1: column ghi has no unit that is known: one of W/m2, kW/m2, Wh/m2, kWh/m2, kJ/m2, MJ/m2, J/cm2, as ghi_w_m2"},
		{full("time,ghi_lux,temp_c", "2021-01-01 00:00,0,1"), "demo.txt:6:1: column ghi_lux has no unit that is known: one of W/m2, kW/m2, Wh/m2, kWh/m2, kJ/m2, MJ/m2, J/cm2, as ghi_w_m2"},
		{full("time,temp_c", "2021-01-01 00:00,0"), "demo.txt:6:1: no column holds the global light with its unit, as ghi_w_m2"},
		{full("temp_c,ghi_w_m2", "1,0"), "demo.txt:6:1: no column holds the time: name it time (the start of each step) or time_end"},
		{full("time,ghi_w_m2,global_w_m2", "2021-01-01 00:00,0,0"), "demo.txt:6:15: two columns hold global light"},
		{full("time,ghi_w_m2", "01/02/2021 00:00,0"), `demo.txt:7:1: "01/02/2021 00:00" is not a time in a form that is known, as 2011-01-31 13:00: day and month could be either way round, which a layout can say`},
		{full("time,ghi_w_m2", "2021-02-29 00:00,0"), "demo.txt:7:1: there is no 29 February 2021"},
		{full("time,ghi_w_m2", "2021-01-01 25:00,0"), "demo.txt:7:1: hour 25 is not between 0 and 24"},
		{full("time,ghi_w_m2", "2021-01-01 00:00,0\n2021-01-01 01:00,many"), `demo.txt:8:18: global light: "many" is not a number`},
		{full("time;ghi_w_m2", "2021-01-01 00:00;1.234,5"), `demo.txt:7:18: global light: "1.234,5" is not a number`},
		{full("time,ghi_kj_m2", "2021-01-01 00:00,9000"), "demo.txt:7:18: global light: 2500 is not between 0 and 2000 W/m2 (the file has 9000, read as kJ/m2)"},
		{full("time,ghi_w_m2,temp_c", "2021-01-01 00:00,0"), "demo.txt:7:19: the row has 2 fields, want 3 at least"},
		{full("time,ghi_w_m2", "2021-01-01 00:00,0\n2021-01-01 03:00,0\n2021-01-01 06:00,0"), "demo.txt:8:1: the rows are 180 min apart; a step must be 60, 30, 15, 10, 5 or 1 min, or a day"},
		{full("time,ghi_w_m2", "2021-01-01 00:00,0\n2021-01-01 01:00,0\n2021-01-01 02:10,0\n2021-01-01 03:10,0"), "demo.txt:9:1: 1 Jan 2021 02:10 does not fit the steps of 60 min before it, which start at 1 Jan 2021 00:00"},
		{full("date,hour,ghi_w_m2", "2021-01-01,0,0\n2021-01-01,24,0"), "demo.txt:1:1: the column hour holds both 0 and 24: name it hour_start (0 to 23) or hour_end (1 to 24)"},
		{full("time,ghi_w_m2", "2021-01-01 00:00Z,0\n2021-01-01 01:00,0"), "demo.txt:8:1: some rows give their offset from UTC and some do not"},
		{"time,ghi_w_m2\n2021-01-01 00:00,0\n", "demo.txt:1:1: the file does not say where it was taken: its latitude and longitude must be given"},
		{"# lat: 52\n# lon: 5\ntime,ghi_w_m2\n2021-01-01 00:00,0\n", "demo.txt:1:1: the file does not say which clock its rows follow: give the offset of local standard time from UTC, or name the column time_utc"},
		{"# lat: 95\n", "demo.txt:1:8: latitude: 95 is not between -90 and 90"},
		{"# offset_h: noon\n", `demo.txt:1:13: "noon" is not an offset from UTC between -12 and 14 h, as +1 or +05:30`},
		{"# only words\n", "demo.txt:1:1: the file has no names of columns"},
		{"t\x00i\x00m\x00e\x00", "demo.txt:1:1: the file is not plain text, or is UTF-16: save it as UTF-8"},
		{full("time,ghi_w_m2", ""), "demo.txt:7:1: the file has no hours"},
	} {
		y, err := read(c.text)
		if err == nil {
			t.Errorf("read %d steps, want %s", y.Len(), c.want)
		} else if err.Error() != c.want {
			t.Errorf("got  %s\nwant %s", err, c.want)
		}
	}
}

func TestGapsAreFilledAndCounted(t *testing.T) {
	blank := func(hours ...int) string {
		var b strings.Builder
		b.WriteString(plainHead + "time,ghi_w_m2,temp_c,wind_m_s\n")
		for i := range 48 {
			at := time.Date(2021, 6, 1, i, 0, 0, 0, time.UTC).Format("2006-01-02 15:04")
			g := 0
			if h := i % 24; h >= 6 && h < 18 {
				g = 400
			}
			if slices.Contains(hours, i) {
				fmt.Fprintf(&b, "%s,,-999,3\n", at)
			} else {
				fmt.Fprintf(&b, "%s,%d,%d,3\n", at, g, i)
			}
		}
		return b.String()
	}
	y, err := read(blank(0, 1, 2, 12, 13, 14))
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"global light was missing in 3 steps of 48 by day (1 gap, the longest 3 h, the first from 1 Jun 2021 12:00): filled in by the clearness of the steps around",
		"air temperature was missing in 6 steps of 48 (2 gaps, the longest 3 h, the first from 1 Jun 2021 00:00): filled in by a straight line",
		"the file covers 1 June 2021 to 2 June 2021, which is not a whole number of years",
	}
	if !slices.Equal(y.Warnings, want) {
		t.Errorf("warnings\n%q\nwant\n%q", y.Warnings, want)
	}
	if !slices.Contains(y.Notes, "global light was missing in 3 steps by night: taken as 0") {
		t.Errorf("notes %q", y.Notes)
	}
	// 400 W/m2 before and after: in between the sun is higher, so a little more at the same clearness. Temperature is a line.
	for i := 12; i < 15; i++ {
		if g := y.GHIWm2[i]; g < 395 || g > 450 || math.Abs(y.TempC[i]-float64(i)) > 1e-9 {
			t.Errorf("hour %d: %v W/m2, %v C", i, g, y.TempC[i])
		}
	}
	if y.GHIWm2[1] != 0 || y.TempC[1] != 3 {
		t.Errorf("night: %v W/m2, %v C", y.GHIWm2[1], y.TempC[1])
	}
	// Four hours by day are too long for the light, seven hours for the temperature; rows left out are a gap too.
	for _, c := range []struct{ text, want string }{
		{blank(11, 12, 13, 14), "demo.txt:18:1: global light is missing in 1 stretch for longer than the 3 h of daylight that can be filled, 4 h in all: 1 Jun 2021 11:00 to 1 Jun 2021 15:00 (4 h)"},
		{blank(21, 22, 23, 24, 25, 26, 27), "demo.txt:28:1: air temperature is missing in 1 stretch for longer than the 6 h that can be filled, 7 h in all: 1 Jun 2021 21:00 to 2 Jun 2021 04:00 (7 h)"},
	} {
		if _, err := read(c.text); err == nil || err.Error() != c.want {
			t.Errorf("got  %v\nwant %s", err, c.want)
		}
	}
	lines := strings.SplitAfter(blank(), "\n")
	y, err = read(strings.Join(slices.Delete(lines, 20, 22), ""))
	if err != nil || y.Len() != 48 || len(y.Warnings) != 3 {
		t.Errorf("%v, %q", err, y.Warnings)
	}
}

func TestHowWellGapsAreFilled(t *testing.T) {
	// Our own trial, not published: ten years of real hours, blanked n at a time at every hour of the day. The bounds say
	// what the doc of the limits says.
	text := strings.TrimSpace(string(shared(t, "nld-debilt-2011-2020.csv")))
	opt := at(52.1, 5.18)
	whole, err := hourfile.ReadWith("d", strings.NewReader(text), opt)
	if err != nil {
		t.Fatal(err)
	}
	const n = 3
	lines := strings.Split(text, "\n")
	var blanked []int
	for i := 0; i+n+1 < whole.Len(); i += 49 {
		for j := range n {
			stamp, _, _ := strings.Cut(lines[1+i+j], ",")
			lines[1+i+j] = stamp + ",,"
			blanked = append(blanked, i+j)
		}
	}
	filled, err := hourfile.ReadWith("d", strings.NewReader(strings.Join(lines, "\n")), opt)
	if err != nil {
		t.Fatal(err)
	}
	var light, bias, square, cold float64
	for _, i := range blanked {
		light += whole.GHIWm2[i]
		d := filled.GHIWm2[i] - whole.GHIWm2[i]
		bias += d
		square += d * d
		cold += math.Pow(filled.TempC[i]-whole.TempC[i], 2)
	}
	k := float64(len(blanked))
	t.Logf("light misses by %.1f %% in the mean, %.1f W/m2 rms of all hours; temperature %.2f K rms", 100*bias/light, math.Sqrt(square/k), math.Sqrt(cold/k))
	if math.Abs(bias/light) > 0.01 || math.Sqrt(cold/k) > 1.3 {
		t.Errorf("light %+.1f %%, temperature %.2f K", 100*bias/light, math.Sqrt(cold/k))
	}
}

func TestNegativeAndMissingLight(t *testing.T) {
	y, err := read(plainHead + "time,ghi_w_m2,dni_w_m2,dhi_w_m2,temp_c\n2021-06-01 11:00,-3,0,0,5\n2021-06-01 12:00,,500,100,5\n2021-06-01 13:00,600,500,100,5\n")
	if err != nil {
		t.Fatal(err)
	}
	// Noon of 1 June at 52.1 N: the sun stands near 60 deg, so 500 x sin 60 + 100 = 533.
	if y.GHIWm2[0] != 0 || math.Abs(y.GHIWm2[1]-533) > 5 {
		t.Errorf("light %v", y.GHIWm2)
	}
	if want := "light is slightly below zero in 1 places, as sensors show by night: taken as 0"; !slices.Contains(y.Notes, want) {
		t.Errorf("notes %q", y.Notes)
	}
	if want := "global light was missing in 1 step of 3 where beam and diffuse light are known: taken as their sum on the level"; !slices.Contains(y.Warnings, want) {
		t.Errorf("warnings %q", y.Warnings)
	}
}

func TestNoTemperature(t *testing.T) {
	y, err := read(plainHead + "time,ghi_w_m2\n2021-06-01 11:00,3\n")
	if want := "the file has no temperature: 14.9 C all year is a guess, that of the standard atmosphere at 12 m; cold is not seen"; err != nil || !slices.Contains(y.Warnings, want) {
		t.Errorf("%v, %q", err, y.Warnings)
	}
}

func TestLayouts(t *testing.T) {
	l := hourfile.DefaultLayout()
	l.Time = []hourfile.Part{{Column: "When", Form: "MM/DD/YYYY hh:mm"}}
	l.GHI, l.Temp = hourfile.Held{Column: "Sun", Unit: "kJ/m2"}, hourfile.Held{Column: "Air", Unit: "F"}
	opt := at(40, -105)
	opt.OffsetH, opt.Layout = -7, &l
	y, err := hourfile.ReadWith("l.csv", strings.NewReader("made by a logger\n\nAir;When;x;Sun\n50;1/2/2021 0:00;;0\n59;1/2/2021 0:30;;180\n"), opt)
	if err != nil || y.StepMin != 30 || y.Start.Format("2006-01-02 15:04 -0700") != "2021-01-02 00:00 -0700" || math.Abs(y.GHIWm2[1]-100) > 1e-9 || math.Abs(y.TempC[1]-15) > 1e-9 {
		t.Errorf("%v %+v", err, y)
	}
	// No titles: columns by number, blanks between, a number for "missing".
	l = hourfile.DefaultLayout()
	l.Time = []hourfile.Part{{Column: "1", Form: "YYYY"}, {Column: "2", Form: "MM"}, {Column: "3", Form: "DD"}, {Column: "4", Form: "hhmm"}}
	l.GHI, l.Temp, l.Separator, l.Missing, l.TimeIs = hourfile.Held{Column: "6", Unit: "W/m2"}, hourfile.Held{Column: "5", Unit: "0.1 C"}, hourfile.Blanks, []float64{-777}, hourfile.StepEnd
	_, err = hourfile.ReadWith("l.txt", strings.NewReader("# note\nYear Mo Da HHMM Temp Sun\n 2021  1  2   100   55   0\n 2021  1  2   200  -777   10\n 2021 1 2 2400 60 20\n"), opt)
	if err == nil || !strings.HasPrefix(err.Error(), "l.txt:4:1: global light is missing in 1 stretch") { // 02:00 to 23:00 is a long gap
		t.Errorf("%v", err)
	}
	y, err = hourfile.ReadWith("l.txt", strings.NewReader("# note\nYear Mo Da HHMM Temp Sun\n 2021  1  2   100   55   0\n 2021  1  2   200  -777   10\n 2021 1 2 300 65 20\n"), opt)
	if err != nil || y.Len() != 3 || !slices.Equal(y.GHIWm2, []float64{0, 10, 20}) || y.TempC[1] != 6 {
		t.Errorf("%v %+v", err, y)
	}
}

func TestLayoutRefusals(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"a,b\n1,2\n", `l.csv:1:1: no line of the file has all the titles that the layout names: "YYYYMMDD" is missing`},
		{"# STN,YYYYMMDD,HH,FH,T,N\n1,2\n", `l.csv:1:1: no line of the file has all the titles that the layout names: "Q" is missing`},
		{knmiHead + "323,20110101,25,30,40,0\n", "l.csv:8:5: hour 25 is not between 0 and 24"},
		{knmiHead + "323,2011-01-01,1,30,40,0\n", `l.csv:8:5: "2011-01-01" is not a time in the form of the rows before`},
		{knmiHead + "323,20110101,1,30,40,900\n", "l.csv:8:22: global light: 2500 is not between 0 and 2000 W/m2 (the file has 900, read as J/cm2)"},
	} {
		l := knmi()
		opt := at(52, 4)
		opt.Layout = &l
		if _, err := hourfile.ReadWith("l.csv", strings.NewReader(c.text), opt); err == nil || err.Error() != c.want {
			t.Errorf("got  %v\nwant %s", err, c.want)
		}
	}
	l := hourfile.DefaultLayout()
	l.Time = []hourfile.Part{{Column: "d", Form: "YYYY-MM hh"}}
	l.Temp = hourfile.Held{Column: "T", Unit: "bar"}
	want := []limit.Fault{
		{Key: "time", Msg: "does not give the day", Example: "[Date, YYYY-MM-DD hh:mm]"},
		{Key: "ghi", Msg: "names no column", Example: "[Q, J/cm2]"},
		{Key: "temp", Msg: `"bar" is not a unit that is known: C, 0.1 C, K, F`},
	}
	if got := l.Check(); !slices.Equal(got, want) {
		t.Errorf("faults\n%q\nwant\n%q", got, want)
	}
	for _, c := range []struct{ key, words, want string }{
		{"time", "a", "has 1 values, want pairs: a column and its form"},
		{"time", "a yyyy-mm-dd", `"yyyy-mm-dd" is not a way to write a time: it is made of YYYY, MM, DD, hh, mm and ss, as YYYY-MM-DD hh:mm`},
		{"ghi", "Q", "has 1 values, want two: the column and its unit"},
		{"ghi", "Q J/m3", `"J/m3" is not a unit that is known: W/m2, kW/m2, Wh/m2, kWh/m2, kJ/m2, MJ/m2, J/cm2`},
		{"clock", "noon", `"noon" is neither local nor utc nor an offset from UTC such as +05:30`},
		{"missing", "NA", `"NA" is not a number; blanks and words such as NA need not be named`},
	} {
		for _, k := range l.Keys() {
			if k.Name == c.key {
				if err := k.SetWords(strings.Fields(c.words)); err == nil || err.Error() != c.want {
					t.Errorf("%s: got %v, want %s", c.key, err, c.want)
				}
			}
		}
	}
}

func TestLayoutKeys(t *testing.T) {
	l := knmi()
	for _, k := range l.Keys() {
		if k.Doc == "" || k.Example == "" || k.Need == (k.Origin != "") {
			t.Errorf("key %s: %+v", k.Name, k)
		}
		if k.Kind == limit.Words { // an example must be right
			var words []string
			for _, w := range strings.Split(strings.Trim(k.Example, "[]"), ",") {
				words = append(words, strings.TrimSpace(w))
			}
			if err := k.SetWords(words); err != nil {
				t.Errorf("%s: its own example: %v", k.Name, err)
			}
		}
	}
}

func TestWriteReadsBack(t *testing.T) {
	for _, name := range []string{"usa-ak-juneau.tmy3.csv", "can-ottawa.epw", "deu-aachen-2022.epw"} {
		y, err := hourfile.Read(name, bytes.NewReader(shared(t, name)))
		if err != nil {
			t.Fatal(err)
		}
		y.Warnings = append(y.Warnings, "a made-up warning: 5 h")
		var b bytes.Buffer
		if err := hourfile.Write(&b, y); err != nil {
			t.Fatal(err)
		}
		z, err := hourfile.Read("back.csv", &b)
		if err != nil {
			t.Fatal(err)
		}
		if z.Start.String() != y.Start.String() {
			t.Errorf("%s starts %v, wrote %v", name, z.Start, y.Start)
		}
		if z.Start = y.Start; !reflect.DeepEqual(y, z) {
			t.Errorf("%s: reads back as %+v, %q, %q", name, z.Site, z.Warnings, z.Notes)
		}
	}
}

func TestDays(t *testing.T) {
	const light = 31.4 // MJ/m2
	for _, c := range []struct {
		name               string
		lat                float64
		date               string
		noonShiftMin, hour float64
		share, tol         float64
	}{
		// Duffie & Beckman, Solar Engineering of Thermal Processes, example 2.13.1: Melbourne, mean day of January, 8 to 9
		// h solar time: r_t = 0.076. Half a unit of the last digit, and 1 % since we scale r_t so that it sums to 1.
		{"2.13.1", -38, "2021-01-17", 9.9, 8, 0.076, 0.0013},
		// Example 2.13.2: Madison, 23 August, 31.4 MJ/m2, 13 to 14 h: 3.7 MJ/m2 (from memory).
		{"2.13.2", 43, "2021-08-23", 2.6, 13, 3.7 / light, 0.05 / light * 1.5},
	} {
		// The place lies so far east that solar time is clock time.
		text := fmt.Sprintf("# lat: %v\n# lon: %v\n# offset_h: 0\ndate,ghi_mj_m2\n%s,%v\n", c.lat, c.noonShiftMin/4, c.date, light)
		y, err := read(text)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if got := y.GHIWm2[int(c.hour)] / sum(y.GHIWm2); math.Abs(got-c.share) > c.tol {
			t.Errorf("%s: share %.4f, want %.4f +- %.4f", c.name, got, c.share, c.tol)
		}
		if got := sum(y.GHIWm2) * 3600 / 1e6; math.Abs(got-light) > 1e-9 || y.Len() != 24 {
			t.Errorf("%s: the day has %v MJ/m2, want %v", c.name, got, light)
		}
	}
}

func TestDaysWithTemperature(t *testing.T) {
	var b strings.Builder
	b.WriteString("# lat: 52\n# lon: 5\n# offset_h: 0\nDatum;date;ghi_j_cm2;tmin (0.1 C);tmax (0.1 C);wind_m_s\n")
	for d := range 365 {
		gap := "1000"
		if d == 40 {
			gap = ""
		}
		if d < 60 || d > 300 {
			gap = strings.Replace(gap, "1000", "150", 1)
		}
		fmt.Fprintf(&b, "x;%s;%s;100;200;3\n", time.Date(2021, 1, 1+d, 0, 0, 0, 0, time.UTC).Format("20060102"), gap)
	}
	y, err := read(b.String())
	if err != nil {
		t.Fatal(err)
	}
	if lo, hi := slices.Min(y.TempC), slices.Max(y.TempC); y.Len() != 8760 || math.Abs(lo-10) > 0.15 || math.Abs(hi-20) > 0.15 || y.WindMs[5] != 3 {
		t.Errorf("%d hours from %.2f to %.2f C", y.Len(), lo, hi)
	}
	if want := []string{"global light was missing on 1 day of 365 (the first 10 Feb 2021): filled in by the clearness of the days before and after"}; !slices.Equal(y.Warnings, want) {
		t.Errorf("warnings %q", y.Warnings)
	}
	day := func(d int) float64 { return sum(y.GHIWm2[24*d : 24*d+24]) }
	if got, want := day(100), 1000/0.36; math.Abs(got-want) > 1e-6 || math.Abs(day(40)/day(41)-1) > 0.03 {
		t.Errorf("day 100 has %v Wh/m2, want %v; the filled day %v beside %v", got, want, day(40), day(41))
	}
	// A unit slip shows against the sun.
	_, err = read("# lat: 52\n# lon: 5\ndate,ghi_kwh_m2\n2021-06-21,25\n2021-06-22,25\n")
	if want := "demo.txt:4:12: global light of 25 kWh/m2 on 21 Jun 2021 is more than the 11.6 that the sun gives outside the air: is the unit right?"; err == nil || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	// Two days missing are refused, or cut.
	text := "# lat: 0\n# lon: 5\ndate,ghi_kwh_m2,temp_c\n2021-06-21,5,20\n2021-06-22,5,20\n2021-06-25,5,20\n2021-06-26,5,20\n2021-06-27,5,20\n"
	_, err = read(text)
	if want := "demo.txt:6:1: global light is missing in 1 stretch for longer than the 1 day that can be filled: 23 Jun 2021 00:00 to 25 Jun 2021 00:00 (48 h)"; err == nil || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	opt := hourfile.DefaultOptions()
	opt.Cut = true
	if y, err := hourfile.ReadWith("d", strings.NewReader(text), opt); err != nil || y.Len() != 72 || y.Start.Day() != 25 {
		t.Errorf("%v %+v", err, y)
	}
}

func TestRealDays(t *testing.T) {
	// Farm stations' real daily totals: the year's light must come through whole.
	data := shared(t, "../references/daily-ghi/rothamsted-1959-1975.csv")
	y, err := hourfile.ReadWith("r.csv", bytes.NewReader(data), at(51.8, -0.36))
	if err != nil {
		t.Fatal(err)
	}
	want := 0.0
	for _, l := range strings.Split(string(data), "\n") {
		if day, v, ok := strings.Cut(strings.TrimSpace(l), ","); ok && strings.HasPrefix(day, "1971") {
			var kWh float64
			fmt.Sscan(v, &kWh)
			want += kWh
		}
	}
	if got := yearKWh(y, 1971); y.Len() != 149016 || math.Abs(got-want) > 0.01*want/100 || want < 500 {
		t.Errorf("%d hours; 1971 has %.3f kWh/m2, want %.3f", y.Len(), got, want)
	}
}

func TestTypicalYearInUTC(t *testing.T) {
	var b strings.Builder
	b.WriteString(plainHead + "# dates: typical\ntime_utc,ghi_w_m2,temp_c\n")
	for i := range 8760 {
		at := time.Date(2025, 1, 1, i, 0, 0, 0, time.UTC)
		fmt.Fprintf(&b, "%s,%d,%d\n", at.Format("2006-01-02 15:04"), lit(at.Hour()), i%60)
	}
	y, err := read(b.String())
	if err != nil || y.Measured || y.Start.Format("2006-01-02 15:04 -0700") != "2025-01-01 00:00 +0100" || y.TempC[0] != 8759%60 || y.TempC[1] != 0 {
		t.Errorf("%v %+.300v", err, y)
	}
	// A measured year is moved in the same way; a stretch that is no whole year keeps its moments (TestPlainCSVSpellings).
	y, err = read(strings.Replace(b.String(), "dates: typical", "offset_h: -8", 1))
	want := "the rows are in UTC+0; they are moved to UTC-8, and the first 8 h of the file stand last, so that its years stay whole"
	if err != nil || !y.Measured || y.Start.Format("2006-01-02 15:04 -0700") != "2025-01-01 00:00 -0800" || y.TempC[0] != 8 || y.TempC[8759] != 7 || !slices.Contains(y.Notes, want) {
		t.Errorf("%v %+.300v", err, y)
	}
	// Rows in UTC that are a whole year of the local calendar already stay where they are.
	b.Reset()
	b.WriteString(plainHead + "time_utc,ghi_w_m2,temp_c\n")
	for i := range 8760 {
		at := time.Date(2024, 12, 31, 23+i, 0, 0, 0, time.UTC)
		fmt.Fprintf(&b, "%s,%d,%d\n", at.Format("2006-01-02 15:04"), lit(at.Hour()), i%60)
	}
	y, err = read(b.String())
	if err != nil || y.Start.Format("2006-01-02 15:04 -0700") != "2025-01-01 00:00 +0100" || y.TempC[0] != 0 || y.TempC[8759] != 8759%60 || y.Len() != 8760 {
		t.Errorf("a local year: %v %+.300v", err, y)
	}
}

func TestNoFileHangs(t *testing.T) {
	// A minute's rows with every second value missing, a header of a million names, a hundred thousand remarks: each takes
	// a second at most on a slow core (some 10 s here would be a fault of the method).
	var gaps strings.Builder
	gaps.WriteString(plainHead + "time,ghi_w_m2,temp_c\n")
	start := time.Date(2021, 1, 1, 0, 0, 0, 0, time.UTC)
	for i := range 300_000 {
		v := "1,5"
		if i%2 == 1 {
			v = ","
		}
		gaps.WriteString(start.Add(time.Duration(i)*time.Minute).Format("2006-01-02 15:04") + "," + v + "\n")
	}
	l := knmi()
	withLayout := hourfile.DefaultOptions()
	withLayout.Layout = &l
	for _, c := range []struct {
		name, text string
		opt        hourfile.Options
	}{
		{"gaps", gaps.String(), hourfile.DefaultOptions()},
		{"names", strings.Repeat("ghi_w_m2x,", 1_000_000), hourfile.DefaultOptions()},
		{"one name", strings.Repeat("ghi", 10_000_000), hourfile.DefaultOptions()},
		{"remarks", strings.Repeat("# note: x\n", 1_000_000), hourfile.DefaultOptions()},
		{"titles", strings.Repeat(strings.Repeat("YYYYMMDD,", 50_000)+"\n", 50), withLayout},
		{"quotes", strings.Repeat("\"", 10_000_000), hourfile.DefaultOptions()},
	} {
		began := time.Now()
		_, _ = hourfile.ReadWith("h", strings.NewReader(c.text), c.opt)
		if took := time.Since(began); took > 10*time.Second {
			t.Errorf("%s took %v", c.name, took)
		} else {
			t.Logf("%s: %v", c.name, took)
		}
	}
}
