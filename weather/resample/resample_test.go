package resample

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"

	"tideover/weather"
)

// invented returns whole years from 1 January of first; each hour's temperature tells its year, its light the day of
// the year and the hour.
func invented(first, years int) *weather.Year {
	start := time.Date(first, 1, 1, 0, 0, 0, 0, time.UTC)
	y := &weather.Year{Start: start, StepMin: 60, Measured: true}
	for at := start; at.Year() < first+years; at = at.Add(time.Hour) {
		y.GHIWm2 = append(y.GHIWm2, float64(at.YearDay())+float64(at.Hour())/100)
		y.TempC = append(y.TempC, float64(at.Year()-first))
	}
	y.SnowDepthCM = slices.Clone(y.TempC)
	return y
}

func TestBlocksKeepDatesAndColumns(t *testing.T) {
	from := invented(2009, 6)
	s, err := New(from)
	if err != nil {
		t.Fatal(err)
	}
	used := map[float64]bool{}
	joins := map[int]bool{}
	for k := range 20 {
		y := s.Year(2025, 1, k)
		if err := y.Check(); err != nil {
			t.Fatal(err)
		}
		days := time.Date(2025+k, 12, 31, 0, 0, 0, 0, time.UTC).YearDay()
		if y.Len() != 24*days || y.Measured || y.Start.Year() != 2025+k || len(y.TempC) != y.Len() || !slices.Equal(y.SnowDepthCM, y.TempC) {
			t.Fatalf("year %d: %d hours from %v", k, y.Len(), y.Start)
		}
		since := 0
		for i := range y.Len() {
			at := y.Start.Add(time.Duration(i) * time.Hour)
			source := time.Date(2009+int(y.TempC[i]), at.Month(), at.Day(), at.Hour(), 0, 0, 0, time.UTC)
			if at.Day() == 29 && at.Month() == time.February && source.Month() != time.February {
				source = source.AddDate(0, 0, -1) // 28 February stands in
			}
			want := float64(source.YearDay()) + float64(source.Hour())/100
			if math.Abs(y.GHIWm2[i]-want) > 1e-9 {
				t.Fatalf("%v: light %v, want %v", at, y.GHIWm2[i], want)
			}
			used[y.TempC[i]] = true
			if i > 0 && y.TempC[i] != y.TempC[i-1] {
				if at.Hour() != 0 || since < 24*BlockDays-23 && i > 24*BlockDays {
					t.Fatalf("%v: a block ends after %d hours", at, since)
				}
				joins[at.YearDay()] = true
				since = 0
			}
			since++
		}
	}
	if len(used) != 6 || len(joins) < 100 {
		t.Errorf("%d of 6 years are used, blocks join on %d dates", len(used), len(joins))
	}
	if !reflect.DeepEqual(s.Year(2025, 1, 3), s.Year(2025, 1, 3)) || slices.Equal(s.Year(2025, 1, 3).TempC, s.Year(2025, 2, 3).TempC) {
		t.Error("the seed does not set the year")
	}
}

func TestNewSaysWhatIsMissing(t *testing.T) {
	two := invented(2009, 2)
	gap := invented(2009, 3)
	gap.GHIWm2, gap.TempC, gap.SnowDepthCM = gap.GHIWm2[24*10+6:], gap.TempC[24*10+6:], nil // from 11 January, 6 h
	gap.Start = gap.Start.Add((24*10 + 6) * time.Hour)
	half := invented(2009, 4)
	half.Start = half.Start.Add(30 * time.Minute)
	bad := invented(2009, 4)
	bad.TempC = nil
	for _, c := range []struct {
		y    *weather.Year
		want string
	}{
		{two, "the weather cannot be resampled: 1 January is in 2 of its years, and at least 3 are needed"},
		{gap, "the weather cannot be resampled: 1 January is in 2 of its years"},
		{half, "the weather cannot be resampled: its steps of 60 min from 00:30 do not begin at midnight"},
		{bad, "weather: temperature has 0 steps"},
	} {
		if _, err := New(c.y); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("got %v, want %s", err, c.want)
		}
	}
}

// Ten measured years against two hundred made of them: means, persistence, the spread of a month, and light and
// temperature still together.
func TestResampledYearsAreLikeTheMeasured(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "..", "..", "shared", "weather", "nld-debilt-2011-2020.csv"))
	if err != nil {
		t.Skipf("needs ../shared/weather/nld-debilt-2011-2020.csv: %v", err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	from := &weather.Year{Start: time.Date(2011, 1, 1, 0, 0, 0, 0, time.UTC), StepMin: 60, Measured: true, Site: weather.Site{LatDeg: 52.1, LonDeg: 5.18}}
	for _, r := range rows[1:] {
		ghi, err1 := strconv.ParseFloat(r[1], 64)
		temp, err2 := strconv.ParseFloat(r[2], 64)
		if err1 != nil || err2 != nil {
			t.Fatal(r)
		}
		from.GHIWm2, from.TempC = append(from.GHIWm2, ghi), append(from.TempC, temp)
	}
	s, err := New(from)
	if err != nil {
		t.Fatal(err)
	}
	measured, made := &sums{}, &sums{}
	measured.add(from)
	for k := range 200 {
		made.add(s.Year(2025, 1, k))
	}
	a, b := measured.finish(), made.finish()
	t.Logf("measured %+v\nmade     %+v", a, b)
	// The source years are the same: only their mixture differs, by 1 in sqrt(200 x 13) of a block's spread of 20 %.
	for m := range 12 {
		if d := b.mean[m]/a.mean[m] - 1; math.Abs(d) > 0.03 {
			t.Errorf("%v: mean light off by %.3f", time.Month(m+1), d)
		}
	}
	for _, c := range []struct {
		what           string
		got, want, tol float64
	}{
		{"day to day correlation of light", b.lag1 / a.lag1, 1, 0.10}, // a 28th is lost, and 3,650 days give it to 5 %
		{"correlation of light and temperature, July", b.together - a.together, 0, 0.06},
		{"spread of a month between years", b.spread / a.spread, 1, 0.20}, // a twentieth is lost; ten years give it to 10 %
	} {
		if math.Abs(c.got-c.want) > c.tol {
			t.Errorf("%s: %.3f, want %.2f +- %.2f", c.what, c.got, c.want, c.tol)
		}
	}
}

type sums struct {
	days  [12][]float64 // light of each day
	temps [12][]float64
	pairs [][3]float64 // month, this day, the next
	month [12][]float64
}

type likeness struct {
	mean                   [12]float64
	lag1, together, spread float64
}

func (s *sums) add(y *weather.Year) {
	last, sum, n := -1, 0.0, 0
	var before float64
	for i := 0; i+24 <= y.Len(); i += 24 {
		m := int(y.Start.Add(time.Duration(i)*time.Hour).Month()) - 1
		g := stat.Mean(y.GHIWm2[i:i+24], nil)
		s.days[m] = append(s.days[m], g)
		s.temps[m] = append(s.temps[m], stat.Mean(y.TempC[i:i+24], nil))
		if m == last {
			s.pairs = append(s.pairs, [3]float64{float64(m), before, g})
		} else {
			if last >= 0 {
				s.month[last] = append(s.month[last], sum/float64(n))
			}
			sum, n = 0, 0
		}
		last, before, sum, n = m, g, sum+g, n+1
	}
	s.month[last] = append(s.month[last], sum/float64(n))
}

func (s *sums) finish() (l likeness) {
	var a, b []float64
	for m := range 12 {
		mean, sd := stat.MeanStdDev(s.month[m], nil)
		l.mean[m] = mean
		l.spread += sd / mean / 12
	}
	var mean, sd [12]float64
	for m := range 12 {
		mean[m], sd[m] = stat.MeanStdDev(s.days[m], nil)
	}
	for _, p := range s.pairs {
		m := int(p[0])
		a, b = append(a, (p[1]-mean[m])/sd[m]), append(b, (p[2]-mean[m])/sd[m])
	}
	l.lag1 = stat.Correlation(a, b, nil)
	l.together = stat.Correlation(s.days[6], s.temps[6], nil)
	return l
}

func BenchmarkYear(b *testing.B) {
	s, err := New(invented(2009, 10))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		s.Year(2025, 1, 0)
	}
}
