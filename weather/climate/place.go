package climate

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"tideover/sim/limit"
	"tideover/weather"
)

// Place is a climate: where it is, and twelve monthly means, January to December.
type Place struct {
	Name, Country, Zone string // Zone is the IANA name of its wall clock
	LatDeg, LonDeg      float64
	ElevationM          float64
	OffsetH             float64 // local standard time less UTC

	GHIKWhM2Day [12]float64 // mean daily light on the level, kWh/m2
	TempMeanC   [12]float64 // mean air temperature
	TempMinC    [12]float64 // mean of the daily minima
	TempMaxC    [12]float64 // mean of the daily maxima

	// Years is the number of real years behind the means: 1 for a typical year, 0 when it is not known (then the means are
	// taken as exact). Means of few years err, so each synthetic year draws one factor for all its months,
	// 1 + cv/sqrt(Years) N(0,1), cv being the month's own spread between years.
	Years int
	Coast Coast

	Source, Licence string
}

// Coast says whether a place lies on the open ocean.
type Coast int

// The coasts.
const (
	CoastUnknown Coast = iota
	OffOcean
	OnOcean
)

//go:embed places.csv
var placesCSV []byte

//go:embed months.csv
var monthsCSV []byte

// Places returns the embedded climates, in the order of the table. The caller may change them.
//
// The figures are facts taken from national typical years and met offices, each cited in Source. A typical year stands
// for a climate by one real month of each name; only De Bilt is a mean of ten years.
func Places() []Place {
	var places []Place
	index := map[string]int{}
	for _, row := range table("places.csv", placesCSV, 11) {
		index[row[0]] = len(places)
		places = append(places, Place{
			Name: row[0], Country: row[1], Zone: row[2], OffsetH: number(row[3]), LatDeg: number(row[4]),
			LonDeg: number(row[5]), ElevationM: number(row[6]), Years: int(number(row[7])),
			Coast: map[string]Coast{"ocean": OnOcean, "other": OffOcean}[row[8]], Source: row[9], Licence: row[10],
		})
	}
	for _, row := range table("months.csv", monthsCSV, 6) {
		p, m := &places[index[row[0]]], int(number(row[1]))-1
		p.GHIKWhM2Day[m], p.TempMeanC[m] = number(row[2]), number(row[3])
		p.TempMinC[m], p.TempMaxC[m] = number(row[4]), number(row[5])
	}
	return places
}

// table returns the rows of an embedded table, less its titles.
func table(name string, data []byte, columns int) [][]string {
	r := csv.NewReader(bytes.NewReader(data))
	r.FieldsPerRecord = columns
	rows, err := r.ReadAll()
	if err != nil {
		panic(fmt.Sprintf("climate: %s: %v", name, err))
	}
	return rows[1:]
}

func number(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		panic(fmt.Sprintf("climate: embedded table: %v", err))
	}
	return v
}

// Find returns the embedded place of that name, or the only one whose name begins so; upper and lower case are the same.
// The error names the nearest known place, or all that begin so.
func Find(name string) (Place, error) {
	want := strings.ToLower(strings.TrimSpace(name))
	if want == "" {
		return Place{}, errors.New("the name of the place is empty")
	}
	var matches []Place
	nearest, best := "", math.MaxInt
	for _, p := range Places() {
		known := strings.ToLower(p.Name)
		if known == want {
			return p, nil
		}
		if strings.HasPrefix(known, want) {
			matches = append(matches, p)
		}
		// A name typed without its state, or with a slip, is compared with as much of the known one.
		first, _, _ := strings.Cut(known, " ")
		if d := min(editDistance(want, known), editDistance(want, first)); d < best {
			best, nearest = d, p.Name
		}
	}
	switch len(matches) {
	case 1:
		return matches[0], nil
	case 0:
		if best > max(1, len([]rune(want))/3) { // too far off to be meant
			return Place{}, fmt.Errorf("no climate is named %q, nor anything like it; tideover weather --list lists those there are", name)
		}
		return Place{}, fmt.Errorf("no climate is named %q; did you mean %q?", name, nearest)
	}
	return Place{}, fmt.Errorf("%q may be any of %s", name, strings.Join(names(matches), ", "))
}

func names(places []Place) []string {
	var s []string
	for _, p := range places {
		s = append(s, p.Name)
	}
	return s
}

// editDistance is the least number of letters to add, drop or change to turn a into b (Levenshtein).
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}

// The clearness of a monthly mean that the day-to-day model can make: its law of days ends at about 0.85.
const (
	lowestClearness  = 0.03
	highestClearness = 0.8
	// Where a month has less light than this outside the air, kWh/m2 a day, its clearness is not looked at: the sun only
	// just rises, and what was measured is mostly twilight.
	dimKWhM2Day = 0.05
)

// Check returns what makes the place unfit for New: coordinates, an offset or a temperature outside their ranges,
// or more or less light than such a place can get. Zone is not looked at.
func (p Place) Check() error {
	if err := p.checkRanges(); err != nil {
		return err
	}
	return p.checkLight(outside(p, cycle))
}

func (p Place) checkRanges() error {
	for _, v := range []struct {
		name    string
		value   float64
		allowed limit.Range
	}{
		{"latitude", p.LatDeg, weather.LatitudeRange},
		{"longitude", p.LonDeg, weather.LongitudeRange},
		{"elevation", p.ElevationM, weather.ElevationRange},
		{"offset from UTC", p.OffsetH, weather.OffsetRange},
	} {
		if msg := v.allowed.Fault(v.value); msg != "" {
			return fmt.Errorf("%s: %s", v.name, msg)
		}
	}
	for m := range 12 {
		month := time.Month(m + 1)
		if msg := monthTempRange.Fault(p.TempMeanC[m]); msg != "" {
			return fmt.Errorf("mean temperature of %v: %s", month, msg)
		}
		if msg := orderFault(p.TempMinC[m], p.TempMeanC[m], p.TempMaxC[m]); msg != "" {
			return fmt.Errorf("temperatures of %v: %s", month, msg)
		}
		if msg := monthLightRange.Fault(p.GHIKWhM2Day[m]); msg != "" {
			return fmt.Errorf("daily light of %v: %s kWh/m2", month, msg)
		}
	}
	return nil
}

// checkLight compares the means with the light outside the air, of a plain year.
func (p Place) checkLight(y *sky) error {
	for m, k := range p.clearness(y) {
		if k < lowestClearness || k > highestClearness {
			return fmt.Errorf("daily light of %v: %g kWh/m2 is %.3g %% of what the sun gives outside the air at latitude %g; %g to %g %% is possible. "+
				"Is it a mean day (not a month's sum), in kWh (3.6 MJ), of the right hemisphere?",
				time.Month(m+1), p.GHIKWhM2Day[m], 100*k, p.LatDeg, 100*lowestClearness, 100*highestClearness)
		}
	}
	return nil
}

// site returns the place as weather knows it.
func (p Place) site() weather.Site {
	return weather.Site{Name: p.Name, LatDeg: p.LatDeg, LonDeg: p.LonDeg, ElevationM: p.ElevationM, OffsetH: p.OffsetH}
}
