package climate

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"
)

// Plausibility: clearness, seasons, temperatures, zones.
func TestPlacesArePlausible(t *testing.T) {
	places := Places()
	if len(places) < 45 {
		t.Errorf("%d places", len(places))
	}
	south := 0
	seen := map[string]bool{}
	for _, p := range places {
		if err := p.Check(); err != nil {
			t.Errorf("%s: %v", p.Name, err)
		}
		if p.Name == "" || p.Country == "" || p.Source == "" || p.Licence == "" || seen[p.Name] ||
			p.Years == 0 || p.Coast == CoastUnknown || strings.Contains(p.Source, "ASHRAE") || strings.Contains(p.Source, "IWEC") || strings.Contains(p.Source, "crop-model") {
			t.Errorf("%+v: something is missing, doubled or not ours to give", p)
		}
		seen[p.Name] = true
		for m, kWh := range outside(p, 2025).monthsKWhM2Day() {
			if k := p.GHIKWhM2Day[m] / kWh; k < 0.15 || k > 0.75 {
				t.Errorf("%s: clearness of %v is %.3f", p.Name, time.Month(m+1), k)
			}
			if lo, hi := p.TempMinC[m], p.TempMaxC[m]; hi-lo < 2 || hi-lo > 23 || lo < -30 || hi > 43 {
				t.Errorf("%s: %v from %v to %v degC", p.Name, time.Month(m+1), lo, hi)
			}
		}
		if p.LatDeg < 0 {
			south++
		}
		// Beyond the tropics the half-year of the sun is bright and warm; within, clouds and rains decide.
		if math.Abs(p.LatDeg) > 23.5 {
			var summer, winter, warm, cold float64
			for m := range 12 {
				if (m >= 3 && m <= 8) == (p.LatDeg > 0) {
					summer, warm = summer+p.GHIKWhM2Day[m], warm+p.TempMeanC[m]
				} else {
					winter, cold = winter+p.GHIKWhM2Day[m], cold+p.TempMeanC[m]
				}
			}
			if summer < 1.2*winter || warm < cold+6*2 {
				t.Errorf("%s at latitude %v: summer half %v kWh/m2 and %v degC, winter half %v and %v", p.Name, p.LatDeg, summer/6, warm/6, winter/6, cold/6)
			}
		}
		if year := stats(p.TempMeanC); year > 30 || year < -10 {
			t.Errorf("%s: mean temperature %v", p.Name, year)
		}
		// The table's offset is the zone's standard time, which is the lesser of winter and summer in all zones here.
		zone, err := time.LoadLocation(p.Zone)
		if err != nil {
			t.Fatal(err)
		}
		_, jan := time.Date(2025, 1, 1, 12, 0, 0, 0, zone).Zone()
		_, jul := time.Date(2025, 7, 1, 12, 0, 0, 0, zone).Zone()
		if float64(min(jan, jul)) != p.OffsetH*3600 {
			t.Errorf("%s: offset %v h, zone %s has %v and %v s", p.Name, p.OffsetH, p.Zone, jan, jul)
		}
	}
	if south < 10 {
		t.Errorf("%d places in the south", south)
	}
}

func stats(months [12]float64) (mean float64) {
	for _, v := range months {
		mean += v / 12
	}
	return mean
}

func TestPlacesEqualTheirSource(t *testing.T) {
	rows := map[string][][]string{}
	for _, row := range sharedCSV(t, "references", "climates.csv") {
		rows[row[0]] = append(rows[row[0]], row)
	}
	for _, p := range Places() {
		if slices.Contains([]string{"De Bilt", "Juneau AK", "Needles CA", "Leadville CO"}, p.Name) {
			continue // from hourly files: the next tests
		}
		if len(rows[p.Name]) != 12 {
			t.Errorf("%s: %d months in the source", p.Name, len(rows[p.Name]))
			continue
		}
		for _, row := range rows[p.Name] {
			m := int(parse(t, row[5])) - 1
			want := []float64{parse(t, row[2]), parse(t, row[3]), parse(t, row[4]), parse(t, row[6]), parse(t, row[7]), parse(t, row[8]), parse(t, row[9])}
			got := []float64{p.LatDeg, p.LonDeg, p.ElevationM, p.GHIKWhM2Day[m], p.TempMeanC[m], p.TempMinC[m], p.TempMaxC[m]}
			if !slices.Equal(got, want) || p.Country != row[1] || "[S] "+strings.Replace(p.Source, "from memory", "[M]", 1) != row[10] {
				t.Errorf("%s: got %v, source %v", p.Name, got, row)
			}
		}
	}
}

func TestDeBiltIsTheMeanOfItsTenYears(t *testing.T) {
	var ghi, mean, low, high, days [12]float64
	lo, hi := math.Inf(1), math.Inf(-1)
	for i, row := range sharedCSV(t, "weather", "nld-debilt-2011-2020.csv") {
		m := int(parse(t, row[0][5:7])) - 1
		c := parse(t, row[2])
		ghi[m] += parse(t, row[1]) / 1000
		mean[m] += c / 24
		lo, hi = min(lo, c), max(hi, c)
		if i%24 == 23 {
			low[m], high[m], days[m] = low[m]+lo, high[m]+hi, days[m]+1
			lo, hi = math.Inf(1), math.Inf(-1)
		}
	}
	p, err := Find("de bilt")
	if err != nil {
		t.Fatal(err)
	}
	for m := range 12 { // half of the last digit kept
		near(t, "GHI", p.GHIKWhM2Day[m], ghi[m]/days[m], 0.0051)
		near(t, "mean", p.TempMeanC[m], mean[m]/days[m], 0.051)
		near(t, "low", p.TempMinC[m], low[m]/days[m], 0.051)
		near(t, "high", p.TempMaxC[m], high[m]/days[m], 0.051)
	}
}

func TestTypicalYearsAreTheMeansOfTheirFiles(t *testing.T) {
	for _, c := range []struct {
		name, file            string
		month, from, ghi, dry int // columns
	}{
		{"Juneau", "usa-ak-juneau.tmy3.csv", 0, 0, 4, 31}, {"Needles", "usa-ca-needles.tmy3.csv", 0, 0, 4, 31}, {"Leadville", "usa-co-leadville.epw", 1, 1, 13, 6},
	} {
		p, err := Find(c.name)
		if err != nil {
			t.Fatal(err)
		}
		var ghi, mean, low, high, days [12]float64
		lo, hi := math.Inf(1), math.Inf(-1)
		hour := 0
		for _, row := range sharedLines(t, "weather", c.file) {
			if len(row) <= c.dry || row[0] == "" || row[0][0] < '0' || row[0][0] > '9' || strings.Contains(row[1], "\"") || len(row) < 30 {
				continue
			}
			m := int(parse(t, strings.SplitN(row[c.month], "/", 2)[0])) - 1
			temp := parse(t, row[c.dry])
			ghi[m] += parse(t, row[c.ghi]) / 1000
			mean[m] += temp / 24
			lo, hi = min(lo, temp), max(hi, temp)
			if hour++; hour%24 == 0 {
				low[m], high[m], days[m] = low[m]+lo, high[m]+hi, days[m]+1
				lo, hi = math.Inf(1), math.Inf(-1)
			}
		}
		if hour != 8760 {
			t.Errorf("%s: %d hours", c.name, hour)
		}
		for m := range 12 {
			near(t, c.name+" GHI", p.GHIKWhM2Day[m], ghi[m]/days[m], 0.0051)
			near(t, c.name+" mean", p.TempMeanC[m], mean[m]/days[m], 0.051)
			near(t, c.name+" low", p.TempMinC[m], low[m]/days[m], 0.051)
			near(t, c.name+" high", p.TempMaxC[m], high[m]/days[m], 0.051)
		}
	}
}

func TestFind(t *testing.T) {
	for _, c := range []struct{ name, want, err string }{
		{"Quillayute WA", "Quillayute WA", ""},
		{"quillayute", "Quillayute WA", ""},
		{"  WELL ", "Wellington", ""},
		{"ch", "", `"ch" may be any of Chicago O'Hare IL, Christchurch`},
		{"Quilayute", "", `no climate is named "Quilayute"; did you mean "Quillayute WA"?`},
		{"Lisboa", "", `no climate is named "Lisboa"; did you mean "Lisbon"?`},
		{"", "", "the name of the place is empty"},
	} {
		p, err := Find(c.name)
		got := ""
		if err != nil {
			got = err.Error()
		}
		if p.Name != c.want || got != c.err {
			t.Errorf("%q: %q, %q; want %q, %q", c.name, p.Name, got, c.want, c.err)
		}
	}
}

func TestCheckNamesTheMistake(t *testing.T) {
	for _, c := range []struct {
		spoil func(*Place)
		want  string
	}{
		{func(p *Place) { p.LatDeg = 95 }, "latitude: 95 is not between -90 and 90"},
		{func(p *Place) { p.GHIKWhM2Day[0] = 0.1 }, "daily light of January: 0.1 kWh/m2 is 1."},
		{func(p *Place) { p.GHIKWhM2Day[5] = 14 }, "daily light of June: 14 kWh/m2 is 1"},
		{func(p *Place) { p.GHIKWhM2Day[5] = 165 }, "daily light of June: 165 is not between 0 and 15 kWh/m2"},
		{func(p *Place) { p.TempMeanC[1] = math.NaN() }, "mean temperature of February: NaN is not a finite number"},
		{func(p *Place) { p.TempMinC[1] = 40 }, "temperatures of February: minimum 40, mean 26.6, maximum 33 are not in order, at most 30 apart"},
	} {
		p, err := Find("Managua")
		if err != nil {
			t.Fatal(err)
		}
		c.spoil(&p)
		if err = p.Check(); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("got %v, want %s", err, c.want)
		}
	}
}
