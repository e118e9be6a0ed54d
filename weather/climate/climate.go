package climate

import (
	"fmt"
	"math"
	"slices"
	"sync"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"tideover/sim/limit"
	"tideover/weather"
)

// Kind is what sort of sky a place has, where its latitude alone misleads.
type Kind int

// The kinds. The two coasts are weakly founded: on two stations and on one.
const (
	ByLatitude Kind = iota
	OceanCoast      // open ocean beyond 45 deg: short dull spells, brightly patched
	DullCoast       // low cloud for weeks in a bright latitude, as on a monsoon coast in spring
)

var kindWords = []string{"by_latitude", "ocean_coast", "dull_coast"}

// Options sets what the twelve means do not say. The zero value is right for most.
type Options struct {
	// Persistence is the correlation of one day's clearness with the next; 0: that of the kind, by latitude. Below 0.1 the
	// slow part of the chain alone is left, which makes 0.1.
	Persistence float64
	Kind        Kind
	// MeanYears is the number of real years behind the means; 0: that of the place. See Place.Years.
	MeanYears int
}

// Keys declares what a person may type.
func (o *Options) Keys() []limit.Key {
	return []limit.Key{
		limit.Num("persistence", &o.Persistence, limit.Between(0, 0.9),
			"correlation of one day's clearness with the next day's; 0 takes that of the latitude", "0.3").
			From("fitted by latitude to 44 measured series, our own: 0.25 to 0.50"),
		limit.OneOf("climate_kind", &o.Kind, kindWords,
			"ocean_coast: open ocean beyond 45 deg; dull_coast: weeks of low cloud at 18 to 35 deg", kindWords[1]).
			From("the latitude; the two coasts rest on two stations and on one"),
		limit.Int("mean_years", &o.MeanYears, limit.Between(0, 1000),
			"real years behind the monthly means; few years widen the spread between synthetic ones", "10").
			From("that of the climate"),
	}
}

// Check returns what is out of range.
func (o *Options) Check() []limit.Fault { return limit.Check(o.Keys()) }

// Generator makes synthetic years of one place. It may be used by several goroutines at once.
type Generator struct {
	place     Place
	options   Options
	shape     shape
	cells     cells
	mean      [12]float64 // clearness
	laws      [12]dayLaw
	spread    [12]float64 // of a month's mean between years, over the mean
	meanYears int

	// The sun hardly differs between years at the same place in the leap-year cycle: they share it.
	geometry [4]struct {
		once sync.Once
		*sky
		curves
	}
}

// cycle is the year whose sun is taken for those at the same place in the leap-year cycle: exact in 2025 to 2028, and
// off by 0.01 deg more with each cycle away from them.
const cycle = 2025

// New returns the generator of a place. It panics on a place or options that Check refuses: call Check first.
func New(p Place, o Options) *Generator {
	if err := p.checkRanges(); err != nil {
		panic(fmt.Sprintf("climate: New: %s: %v", p.Name, err))
	}
	if faults := o.Check(); len(faults) > 0 {
		panic(fmt.Sprintf("climate: New: %v", faults[0]))
	}
	g := &Generator{place: p, options: o, shape: shapeAt(p.LatDeg, o), meanYears: p.Years}
	if o.MeanYears > 0 {
		g.meanYears = o.MeanYears
	}
	g.cells = newCells(g.shape.power)
	y, _ := g.sky(cycle)
	if err := p.checkLight(y); err != nil {
		panic(fmt.Sprintf("climate: New: %s: %v", p.Name, err))
	}
	g.mean = p.clearness(y)
	for m, mean := range g.mean {
		g.laws[m] = newDayLaw(mean, g.shape, g.cells, 0)
		g.spread[m] = g.laws[m].sd / mean * g.monthOverDay()
	}
	return g
}

// sky returns the sun and the seasonal curves of a year.
func (g *Generator) sky(year int) (*sky, curves) {
	like := cycle + ((year-cycle)%4+4)%4
	if daysIn(like) != daysIn(year) { // the years 1900 and 2100
		like = cycle
	}
	at := &g.geometry[like-cycle]
	at.once.Do(func() {
		at.sky = outside(g.place, like)
		at.curves = at.sky.curves(g.place)
	})
	return at.sky, at.curves
}

// monthOverDay returns the standard deviation of the mean clearness of a month of the chain, over that of a day.
func (g *Generator) monthOverDay() float64 {
	const days = 30.4
	fast, slow, sum := 1.0, 1.0, 1.0
	for lag := 1.0; lag < days; lag++ {
		fast *= fastKeep(g.shape.lag1)
		slow *= slowKeep
		sum += 2 * (1 - lag/days) * lagOfNormal * ((1-slowShare)*fast + slowShare*slow)
	}
	return math.Sqrt(sum / days)
}

// meanFactor returns what a year's means are multiplied by, because they come from few real years.
func (g *Generator) meanFactor(seed uint64, k, month int) float64 {
	if g.meanYears == 0 {
		return 1
	}
	if g.place.LatDeg > 0 && month >= 6 { // a winter has one factor: it changes in the bright season
		k++
	}
	off := stream(seed, k, streamMeans).normal()
	return 1 + g.spread[month]/math.Sqrt(float64(g.meanYears))*off
}

// days returns the chain and the clearness of each day of year k of a seed.
func (g *Generator) days(firstYear int, seed uint64, k int) ([]days, []float64) {
	if k < 0 {
		panic(fmt.Sprintf("climate: year %d, want 0 or more", k))
	}
	y, _ := g.sky(firstYear + k)
	laws := g.laws
	if g.meanYears > 0 {
		for m, mean := range g.mean {
			mean = max(lowestClearness, min(highestClearness, mean*g.meanFactor(seed, k, m)))
			laws[m] = newDayLaw(mean, g.shape, g.cells, g.laws[m].stretch)
		}
	}
	chain := yearOfDays(seed, k, daysIn(firstYear+k-1), len(y.month), fastKeep(g.shape.lag1))
	clearness := make([]float64, len(chain))
	for d, s := range chain {
		clearness[d] = laws[y.month[d]].quantile(distuv.UnitNormal.CDF(s.light()))
	}
	return chain, clearness
}

// Year returns the k-th (from 0) synthetic year of a seed: calendar year firstYear+k, hourly, 8784 hours in a leap year,
// with global light and air temperature; beam, diffuse light and wind are unknown. The same arguments give the same year,
// whatever else was asked for, and year k+1 goes on where year k ends. It panics on a negative k.
func (g *Generator) Year(firstYear int, seed uint64, k int) *weather.Year {
	year := firstYear + k
	chain, clearness := g.days(firstYear, seed, k)
	y, c := g.sky(year)
	hours := stream(seed, k, streamHours)
	ghi := make([]float64, len(y.track))
	var factor [24]float64
	for d := range chain {
		y.livelyHours(&factor, d, clearness[d], hours)
		y.shareOut(ghi[24*d:24*d+24], d, clearness[d], &factor)
	}
	out := g.year(year, ghi, g.temperature(y, c, chain, clearness, stream(seed, k, streamSwing)))
	out.Site.Source = fmt.Sprintf("synthetic year %d of seed %d, from monthly means: %s", k, seed, g.place.Source)
	out.Notes, out.Track = g.Notes(), y.track
	return out
}

// AverageYear returns the average day repeated: every day has its month's clearness, smooth hours, and its season's mean
// temperature and swing. It is what a hand calculation sees: no dull spell, no bad winter.
func (g *Generator) AverageYear(calendarYear int) *weather.Year {
	y, c := g.sky(calendarYear)
	ghi := make([]float64, len(y.track))
	same, ones := make([]float64, len(y.month)), make([]float64, len(y.month))
	var factor [24]float64
	for d, m := range y.month {
		ones[d] = 1
		y.smoothHours(&factor, d, g.place.LatDeg)
		y.shareOut(ghi[24*d:24*d+24], d, g.mean[m], &factor)
	}
	out := g.year(calendarYear, ghi, c.hours(same, ones))
	out.Site.Source = "the average day repeated, from monthly means: " + g.place.Source
	out.Notes = []string{"the weather is each month's average day repeated: it has no dull spell and no bad winter"}
	return out
}

func (g *Generator) year(calendarYear int, ghi, tempC []float64) *weather.Year {
	s := g.place.site()
	start := time.Date(calendarYear, time.January, 1, 0, 0, 0, 0, s.Zone())
	return &weather.Year{Site: s, Start: start, StepMin: 60, GHIWm2: ghi, TempC: tempC}
}

// Persistence returns the correlation of one day's clearness with the next that the generator aims at.
func (g *Generator) Persistence() float64 { return g.shape.lag1 }

// Notes returns what a report of synthetic years should say: the settings, what the means rest on, and where the place is
// of a kind for which the generator is known to err.
func (g *Generator) Notes() []string {
	p, lat := g.place, math.Abs(g.place.LatDeg)
	from := "by latitude"
	switch {
	case g.options.Persistence > 0:
		from = "as typed"
	case g.options.Kind != ByLatitude:
		from = "as " + kindWords[g.options.Kind]
	}
	widest := 0
	for m := range g.spread {
		if g.place.GHIKWhM2Day[m] > dimKWhM2Day && g.spread[m] > g.spread[widest] {
			widest = m
		}
	}
	means := "means taken as exact, as it is not said how many years they rest on"
	if g.meanYears > 0 {
		of := "one typical year"
		if g.meanYears > 1 {
			of = fmt.Sprintf("%d real years", g.meanYears)
		}
		means = fmt.Sprintf("means of %s, each year drawing its own error of them, %.0f %% in %v", of,
			100*g.spread[widest]/math.Sqrt(float64(g.meanYears)), time.Month(widest+1))
	}
	sdK := p.anomalySDK(g.mean)
	notes := []string{fmt.Sprintf("synthetic weather: persistence of the light %.2f (%s); %s; swings of temperature (%.1f to %.1f K by season) a fit to few stations",
		g.shape.lag1, from, means, slices.Min(sdK[:]), slices.Max(sdK[:]))}
	if g.options.Kind == ByLatitude {
		switch m, found := g.dullMonth(); {
		case found:
			notes = append(notes, fmt.Sprintf("%v is dull for this latitude: where low cloud sits for weeks, as on monsoon coasts, the array comes out up to 20 %% too small; climate_kind: dull_coast helps", m))
		case p.Coast == OnOcean && lat > 45:
			notes = append(notes, "on an open ocean coast dull spells come out too long, on the safe side; climate_kind: ocean_coast helps")
		case p.Coast == CoastUnknown && lat > 45:
			notes = append(notes, "if this is an open ocean coast, dull spells come out too long, on the safe side; climate_kind: ocean_coast helps")
		}
	}
	if lat > 55 {
		notes = append(notes, "synthetic years have not been set against measured ones beyond 55 deg of latitude")
	}
	if p.ElevationM > 1500 {
		notes = append(notes, "synthetic years have not been set against measured ones above 1500 m")
	}
	return notes
}

// dullMonth returns the dullest month, other than the three of midwinter, that is dull for a latitude of 18 to 35 deg.
func (g *Generator) dullMonth() (time.Month, bool) {
	lat := math.Abs(g.place.LatDeg)
	if lat < 18 || lat > 35 {
		return 0, false
	}
	dullest, found := 0, false
	for m, k := range g.mean {
		midwinter := m == 10 || m == 11 || m == 0
		if g.place.LatDeg < 0 {
			midwinter = m >= 4 && m <= 6
		}
		if !midwinter && k < 0.40 && (!found || k < g.mean[dullest]) {
			dullest, found = m, true
		}
	}
	return time.Month(dullest + 1), found
}

// Generate returns the k-th (from 0) synthetic year of a seed without options; see Generator.Year. A caller that wants
// several years of a place makes one Generator, which finds the sun once.
func Generate(p Place, firstYear int, seed uint64, k int) *weather.Year {
	return New(p, Options{}).Year(firstYear, seed, k)
}
