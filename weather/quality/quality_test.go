package quality_test

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"tideover/weather"
	"tideover/weather/hourfile"
	"tideover/weather/quality"
	"tideover/weather/sun"
)

// real reads a real file beside the repository, or skips.
func real(t testing.TB, name string) *weather.Year {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "..", "shared", "weather", name))
	if err != nil {
		t.Skipf("needs ../shared/weather/%s: %v", name, err)
	}
	opt := hourfile.DefaultOptions()
	switch {
	case strings.HasPrefix(name, "nld-debilt"):
		opt.LatDeg, opt.LonDeg = 52.1, 5.18
	case strings.HasPrefix(name, "nld-wilhelminadorp"):
		l := hourfile.DefaultLayout()
		l.Time = []hourfile.Part{{Column: "YYYYMMDD", Form: "YYYYMMDD"}, {Column: "HH", Form: "hh"}}
		l.TimeIs, l.Readings, l.ClockH = hourfile.StepEnd, hourfile.AtStepEnd, 0
		l.GHI, l.Temp = hourfile.Held{Column: "Q", Unit: "J/cm2"}, hourfile.Held{Column: "T", Unit: "0.1 C"}
		opt.LatDeg, opt.LonDeg, opt.Layout, opt.Cut = 51.5292, 3.8969, &l, true
	}
	y, err := hourfile.ReadWith(name, bytes.NewReader(data), opt)
	if err != nil {
		t.Fatal(err)
	}
	return y
}

func TestCleanFilesPass(t *testing.T) {
	// The shifts: outside check, ../shared/weather/README.md, "to about 0.1 h"; that of the last is for all its rows, ours
	// for the stretch that is kept.
	for _, c := range []struct {
		file   string
		shiftH float64
	}{
		{"usa-ak-juneau.tmy3.csv", -0.08}, {"usa-ca-needles.tmy3.csv", -0.03}, {"usa-co-leadville.epw", 0.19},
		{"nzl-invercargill.epw", -0.03}, {"nic-managua.epw", 0.06}, {"can-ottawa.epw", -0.01},
		{"nld-debilt-2011-2020.csv", 0.02}, {"nld-wilhelminadorp-2011-2020.knmi.csv", -0.03},
	} {
		t.Run(c.file, func(t *testing.T) {
			y := real(t, c.file)
			if flaws := quality.Judge(y); len(flaws) > 0 {
				t.Errorf("%q", quality.Lines(flaws))
			}
			got := quality.CheckClock(y)
			if math.Abs(got.ShiftH-c.shiftH) > 0.05 || got.Off {
				t.Errorf("shift %+.2f h (off: %v), want %+.2f", got.ShiftH, got.Off, c.shiftH)
			}
			for _, m := range got.Months {
				if math.Abs(m.ShiftH) > 0.55 { // Leadville's July, +0.49 outside
					t.Errorf("%v %d is off by %.2f h", m.Month, m.Year, m.ShiftH)
				}
			}
		})
	}
}

func TestFlawedFiles(t *testing.T) {
	// Outside check, same README: Cold Bay +1.94 h (1.8 to 2.05 by month), 670 night hours with 18 kWh/m2; Aachen +0.82 h,
	// 202 night hours with 0.8 kWh/m2. Two hours at the edge of -1 degree fall the other way here.
	for _, c := range []struct {
		file   string
		shiftH float64
		want   []string
	}{
		{"usa-ak-coldbay.tmy3.csv", 1.94, []string{
			"clock: the light comes 1.9 h too early for the sun in all 12 months (1.8 h in Jul to 2.1 h in Nov), so the rows do not follow UTC-9 as the file says; nothing was moved: shifting the clock by +1.9 h mends it",
			"light at night: 669 hours have light with the sun below -1 deg, 18.2 kWh/m2 in all, up to 122 W/m2 (4 May 05:00), as its clock would explain; left as it is",
			"global light above the sun outside the air in 53 of 3518 hours with the sun above 5 deg, at worst 1.73 times as much (3 Apr 08:00), as its clock would explain; left as it is",
			"global light above that of a clear sky by more than 15 % in 117 of 3518 hours with the sun above 5 deg, from 20 Jan 11:00 on: a sensor that reads high, a wrong unit or a wrong clock, as its clock would explain; left as it is",
			"beam x sin(height) + diffuse misses the global light by more than 15 % in 259 of 3518 hours with the sun above 5 deg, by up to 211 W/m2 (23 May 07:00), as its clock would explain; left as it is",
		}},
		{"deu-aachen-2022.epw", 0.82, []string{
			"clock: the light comes 0.8 h too early for the sun in all 12 months (0.7 h in Oct 2022 to 1.0 h in Nov 2022), so the rows do not follow UTC+0 as the file says; nothing was moved: shifting the clock by +0.8 h mends it",
			"light at night: 201 hours have light with the sun below -1 deg, 0.752 kWh/m2 in all, up to 22 W/m2 (10 Mar 2022 05:00), as its clock would explain; left as it is",
			"global light above the sun outside the air in 51 of 3581 hours with the sun above 5 deg, at worst 1.21 times as much (22 Sep 2022 06:00), as its clock would explain; left as it is",
			"global light above that of a clear sky by more than 15 % in 252 of 3581 hours with the sun above 5 deg, from 10 Jan 2022 09:00 on: a sensor that reads high, a wrong unit or a wrong clock, as its clock would explain; left as it is",
		}},
	} {
		t.Run(c.file, func(t *testing.T) {
			y := real(t, c.file)
			flaws := quality.Judge(y)
			if got := quality.Lines(flaws); !slices.Equal(got, c.want) {
				t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(c.want, "\n"))
			}
			shift := quality.CheckClock(y).ShiftH
			if math.Abs(shift-c.shiftH) > 0.05 {
				t.Errorf("shift %+.2f, want %+.2f", shift, c.shiftH)
			}
			// Mended as the line says, the file passes, with all its light.
			mended, err := quality.ShiftClock(y, math.Round(shift*10)/10)
			if err != nil {
				t.Fatal(err)
			}
			if left := quality.Judge(mended); len(left) > 0 {
				t.Errorf("mended: %q", quality.Lines(left))
			}
			if a, b := sum(y.GHIWm2), sum(mended.GHIWm2); math.Abs(a-b) > 1e-9*a {
				t.Errorf("light %v Wh/m2 before, %v after", a, b)
			}
		})
	}
}

func sum(values []float64) (total float64) {
	for _, v := range values {
		total += v
	}
	return total
}

// demo is a made-up year: a clear sky of Haurwitz dimmed by a daily clearness that jumps about, split into beam and
// diffuse that close, and a mild temperature.
func demo(latDeg float64) *weather.Year {
	y := &weather.Year{
		Site:    weather.Site{Name: "Demo Hill", LatDeg: latDeg, LonDeg: 15, ElevationM: 10, OffsetH: 1},
		StepMin: 60, Measured: true,
	}
	y.Start = time.Date(2021, 1, 1, 0, 0, 0, 0, y.Site.Zone())
	for i, s := range sun.Track(y.Start, 1, 8760, y.Site.Sun()) {
		cosZ := max(0, math.Cos(s.ZenithDeg*math.Pi/180))
		g := 0.0
		if cosZ > 0 {
			g = 1098 * cosZ * math.Exp(-0.059/cosZ) * s.LitShare * (0.2 + 0.8*math.Mod(float64(i/24)*0.618, 1))
		}
		beam := 0.0
		if cosZ > 0.1 {
			beam = 0.5 * g / cosZ
		}
		y.GHIWm2 = append(y.GHIWm2, g)
		y.DNIWm2 = append(y.DNIWm2, beam)
		y.DHIWm2 = append(y.DHIWm2, g-beam*cosZ)
		season := -8 * math.Cos(2*math.Pi*float64(i)/8760)
		if latDeg < 0 {
			season = -season
		}
		y.TempC = append(y.TempC, 15+season+4*math.Sin(2*math.Pi*float64(i-9)/24))
	}
	return y
}

func TestEachFlawIsNamed(t *testing.T) {
	days := func(y *weather.Year, from, to int, f func(i int)) {
		for i := 24 * from; i < 24*to; i++ {
			f(i)
		}
	}
	for _, c := range []struct {
		name string
		lat  float64
		edit func(y *weather.Year)
		want string // how the first flaw begins; "" none
	}{
		{"nothing", 48, func(*weather.Year) {}, ""},
		{"nothing in the south", -48, func(*weather.Year) {}, ""},
		{"nothing in the tropics", 5, func(*weather.Year) {}, ""},
		{"rows in daylight saving", 48, func(y *weather.Year) {
			days(y, 86, 303, func(i int) { y.GHIWm2[i] = demoLight[i-1] })
			y.DNIWm2, y.DHIWm2 = nil, nil
		}, "clock: against the sun, the light comes 1.0 h too late from Apr 2021 to Oct 2021, and right in other months: no one shift mends it; nothing was moved: the rows look as if they followed daylight saving; they must be in standard time"},
		{"one month off", 48, func(y *weather.Year) {
			days(y, 59, 90, func(i int) { y.GHIWm2[i] = demoLight[i+1] })
			y.DNIWm2, y.DHIWm2 = nil, nil
		}, "clock: against the sun, the light comes 1.0 h too early in Mar 2021, and right in other months: no one shift mends it; nothing was moved"},
		{"the wrong hemisphere", 48, func(y *weather.Year) { y.Site.LatDeg = -48 },
			"a year that cannot be: the winter half has more light than the summer half ("},
		{"a wrong unit", 48, func(y *weather.Year) {
			scale(y.GHIWm2, 1/3.6)
			y.DNIWm2, y.DHIWm2 = nil, nil
		}, "the light of the whole file is 0.1"},
		{"light at night", 48, func(y *weather.Year) { y.GHIWm2[2] = 40 },
			"light at night: 1 hours have light with the sun below -1 deg, 0.04 kWh/m2 in all, up to 40 W/m2 (1 Jan 2021 02:00); left as it is"},
		{"above the sun", 48, func(y *weather.Year) {
			days(y, 10, 14, func(i int) { y.GHIWm2[i] *= 4; y.DHIWm2[i] *= 4; y.DNIWm2[i] = min(1900, 4*y.DNIWm2[i]) })
		}, "global light above the sun outside the air in "},
		{"a sensor that reads high", 48, func(y *weather.Year) { scale(y.GHIWm2, 1.35); scale(y.DNIWm2, 1.35); scale(y.DHIWm2, 1.35) }, "global light above"},
		{"diffuse above global", 48, func(y *weather.Year) { days(y, 10, 30, func(i int) { y.DHIWm2[i] = 2 * y.GHIWm2[i] }) },
			"diffuse light above global light in "},
		{"beam that does not close", 48, func(y *weather.Year) { scale(y.DNIWm2, 0.3) }, "beam x sin(height) + diffuse misses the global light by more than 15 %"},
		{"a dead sensor", 48, func(y *weather.Year) {
			days(y, 200, 205, func(i int) { y.GHIWm2[i], y.DNIWm2[i], y.DHIWm2[i] = 0, 0, 0 })
		}, "a dead sensor: no light for 4 h or longer by day, "},
		{"a stuck sensor", 48, func(y *weather.Year) {
			days(y, 200, 202, func(i int) {
				if y.GHIWm2[i] > 200 {
					y.GHIWm2[i] = 312
				}
			})
			y.DNIWm2, y.DHIWm2 = nil, nil
		}, "a dead sensor: the same light (312 W/m2, for one) for 6 h or longer"},
		{"a stuck thermometer", 48, func(y *weather.Year) { days(y, 200, 205, func(i int) { y.TempC[i] = 21.5 }) },
			"a dead sensor: the same temperature (21.5 C, for one) for 36 h or longer, 119 hours in all, from 20 Jul 2021 01:00 on; left as it is"},
		{"a drifting sensor", 48, func(y *weather.Year) {
			for i := range y.GHIWm2 {
				f := 1 - 0.4*float64(i)/8760
				y.GHIWm2[i] *= f
				y.DNIWm2[i] *= f
				y.DHIWm2[i] *= f
			}
		}, "a drifting sensor: the clearest days change by "},
		{"frost in the tropics", 12, func(y *weather.Year) { y.TempC[4000], y.TempC[4001] = -3, -4 },
			"absurd temperatures: 2 hours of frost at latitude 12 and 10 m, down to -4.0 C (16 Jun 2021 17:00); left as it is"},
		{"Fahrenheit", 48, func(y *weather.Year) {
			for i, c := range y.TempC {
				y.TempC[i] = min(70, 32+1.8*c)
			}
		}, "absurd temperatures: a mean of 5"},
		{"a spike", 48, func(y *weather.Year) { y.TempC[4000] = -20 }, "absurd temperatures: 2 jumps of more than 25 K from hour to hour, up to "},
		{"the wrong half of the earth", 48, func(y *weather.Year) {
			for i := range y.TempC {
				y.TempC[i] = 30 - y.TempC[i]
			}
		}, "absurd temperatures: June to August have a mean of "},
		{"snow in winter", 48, func(y *weather.Year) {
			y.SnowDepthCM = make([]float64, y.Len())
			days(y, 5, 60, func(i int) { y.SnowDepthCM[i] = 30 })
		}, ""},
		{"snow in summer", 48, func(y *weather.Year) { // 15 - 8 cos(2 pi 191.5/365) = 22.9 C on 11 July, the warmest
			y.SnowDepthCM = make([]float64, y.Len())
			days(y, 181, 212, func(i int) { y.SnowDepthCM[i] = 40 })
		}, "absurd snow: it lies on 31 days in spells of more than 10 with a mean above 15 C, at 22.9 C for one (40 cm, 11 Jul 2021 23:00); left as it is"},
		{"snow that falls in summer", 48, func(y *weather.Year) {
			y.SnowDepthCM = make([]float64, y.Len())
			for _, d := range []int{181, 190, 200} {
				days(y, d, d+2, func(i int) { y.SnowDepthCM[i] = 40 })
			}
		}, "absurd snow: it grows by 10 cm or more on 3 days that are nowhere colder than 8 C, up to 40 cm (1 Jul 2021 23:00); left as it is"},
		{"a code for snow", 48, func(y *weather.Year) {
			y.SnowDepthCM = make([]float64, y.Len())
			y.SnowDepthCM[300] = 888
		}, "absurd snow: 2 jumps of more than 100 cm from hour to hour, up to 888 cm (13 Jan 2021 12:00); left as it is"},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := demo(c.lat)
			c.edit(y)
			got := ""
			if flaws := quality.Judge(y); len(flaws) > 0 {
				got = flaws[0].Msg
			}
			if got != c.want && (c.want == "" || !strings.HasPrefix(got, c.want)) {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

var demoLight = demo(48).GHIWm2

func scale(values []float64, f float64) {
	for i := range values {
		values[i] *= f
	}
}

func TestDriftOverYears(t *testing.T) {
	y := real(t, "nld-debilt-2011-2020.csv")
	for i := range y.GHIWm2 {
		y.GHIWm2[i] *= 1 - 0.25*float64(i)/float64(y.Len())
	}
	got := quality.Judge(y)
	if len(got) != 1 || !strings.HasPrefix(got[0].Msg, "a drifting sensor: the clearest summer days change by -") || !strings.HasSuffix(got[0].Msg, "% from 2011 to 2020; left as it is") {
		t.Errorf("%q", quality.Lines(got))
	}
}

func TestShiftClockMovesWholeSteps(t *testing.T) {
	y := demo(48)
	z, err := quality.ShiftClock(y, 2)
	if err != nil {
		t.Fatal(err)
	}
	for i := 2; i < y.Len(); i++ {
		if math.Abs(z.GHIWm2[i]-y.GHIWm2[i-2]) > 1e-12 || math.Abs(z.TempC[i]-y.TempC[i-2]) > 1e-12 {
			t.Fatalf("hour %d has %v, want %v", i, z.GHIWm2[i], y.GHIWm2[i-2])
		}
	}
	if z.TempC[0] != y.TempC[22] || z.TempC[1] != y.TempC[23] { // the day beside is repeated
		t.Errorf("the first hours are %v", z.TempC[:2])
	}
	want := "the clock of the weather was shifted by +2 h: every row is that much later than its file says"
	if !slices.Contains(z.Notes, want) || len(y.Notes) > 0 {
		t.Errorf("notes %q", z.Notes)
	}
	if _, err := quality.ShiftClock(y, math.NaN()); err == nil || err.Error() != "a clock cannot be shifted by NaN h: at most 24 either way" {
		t.Errorf("got %v", err)
	}
}

func TestShiftClockKeepsFallsOfSnow(t *testing.T) {
	// 10 cm lie from noon of the 10th on. Shifted by part of an hour the fall is still one, of 10 cm: a depth is no mean.
	y := demo(48)
	y.SnowDepthCM = make([]float64, y.Len())
	const noon = 9*24 + 12
	for i := noon; i < y.Len(); i++ {
		y.SnowDepthCM[i] = 10
	}
	for _, c := range []struct {
		hours float64
		want  []float64 // from 11 h on
	}{{1, []float64{0, 0, 10, 10}}, {2. / 3, []float64{0, 10, 10, 10}}, {-1. / 3, []float64{10, 10, 10, 10}}} {
		z, err := quality.ShiftClock(y, c.hours)
		if err != nil {
			t.Fatal(err)
		}
		if got := z.SnowDepthCM[noon-1 : noon+3]; !slices.Equal(got, c.want) {
			t.Errorf("by %v h: %v, want %v", c.hours, got, c.want)
		}
	}
}

func TestShiftClockThereAndBack(t *testing.T) {
	// A fraction of an hour: the clock check finds what was done, the light of each day is kept but for the edges of the
	// year, and the way back leads near to where it began.
	y := demo(48)
	for _, hours := range []float64{0.5, -0.75, 1.3, -2.25} {
		z, err := quality.ShiftClock(y, hours)
		if err != nil {
			t.Fatal(err)
		}
		if err := z.Check(); err != nil {
			t.Fatal(err)
		}
		if got := quality.CheckClock(z).ShiftH; math.Abs(got+hours) > 0.1 { // an hour's mean blurs the light
			t.Errorf("shifted by %v h, the check says %.2f", hours, got)
		}
		if a, b := sum(y.GHIWm2[24:8736]), sum(z.GHIWm2[24:8736]); math.Abs(a/b-1) > 1e-3 {
			t.Errorf("shifted by %v h, the light is %v of what it was", hours, b/a)
		}
	}
}

func TestShortStepsAndShortFiles(t *testing.T) {
	y := demo(48).Refine(15)
	if flaws := quality.Judge(y); len(flaws) > 0 {
		t.Errorf("%q", quality.Lines(flaws))
	}
	for _, n := range []int{1, 3, 4, 100, 5000} {
		z := *y
		z.GHIWm2, z.DNIWm2, z.DHIWm2, z.TempC = y.GHIWm2[:n], y.DNIWm2[:n], y.DHIWm2[:n], y.TempC[:n]
		if flaws := quality.Judge(&z); len(flaws) > 0 {
			t.Errorf("%d steps: %q", n, quality.Lines(flaws))
		}
		if _, err := quality.ShiftClock(&z, 0.3); err != nil {
			t.Errorf("%d steps: %v", n, err)
		}
	}
}

func TestJudgePanicsOnWhatCheckRefuses(t *testing.T) {
	defer func() {
		if got, want := fmt.Sprint(recover()), "quality: Judge: weather: a step of 0 min is not one of [60 30 15 10 5 1]"; got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}()
	quality.Judge(&weather.Year{})
}

func BenchmarkYear(b *testing.B) {
	y := real(b, "can-ottawa.epw")
	b.ReportAllocs()
	for b.Loop() {
		quality.Judge(y)
	}
}

// Found by the fuzz: the mean of equal parts at the top of the range rounded past it.
func TestShiftClockStaysInRange(t *testing.T) {
	const text = "# lat: 52.1\n# lon: 5.18\n# offset_h: 1\ntime,ghi_w_m2,dni_w_m2,dhi_w_m2,temp_c,wind_m_s\n" +
		"2021-06-01 11:00,3,4,2000,60,1\n2021-06-01 12:00,2000,2000,2000,60,1\n"
	y, err := hourfile.Read("f", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	for min := -720; min <= 720; min += 5 {
		z, err := quality.ShiftClock(y, float64(min)/60)
		if err != nil {
			t.Fatal(err)
		}
		if err := z.Check(); err != nil {
			t.Errorf("by %d min: %v", min, err)
		}
	}
}
