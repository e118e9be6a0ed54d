package climate

import (
	"slices"
	"strings"
	"testing"
	"time"

	"tideover/weather"
)

func daily(t *testing.T, place string, latDeg float64, firstYear int) Daily {
	d := Daily{Site: weather.Site{Name: place, LatDeg: latDeg}, Start: time.Date(firstYear, 1, 1, 0, 0, 0, 0, time.UTC)}
	for _, r := range sharedCSV(t, "references", "daily-ghi-series.csv") {
		if r[0] == place {
			d.GHIKWhM2Day = append(d.GHIKWhM2Day, parse(t, r[3]))
		}
	}
	return d
}

// An independent calculation, not a published table: daily balances of two measured series by another implementation,
// array against days of store for a loss of load of 0.01. Here the same days are spread over their hours.
//
// With the load spread over each day like its light, an hour of an ideal store differs from the day only in scale, so the
// loss of load must agree: 1 %, and half of the arrays' last digit. With the load spread evenly it can only be higher: the
// store must carry each night.
func TestDailySeriesKeepsItsReliability(t *testing.T) {
	for _, c := range []struct {
		place        string
		lat          float64
		first        int
		days         int
		darkest      float64
		loss         float64 // array 1.2, 3 days
		array, store []float64
	}{
		{"De Bilt", 52.1, 1959, 10958, 0.491, 0.00264, []float64{1.302, 1.073, 0.996, 0.950, 0.914, 0.861, 0.798}, []float64{1, 2, 3, 4, 5, 7, 10}},
		{"Hyderabad", 17.53, 1975, 9131, 4.301, 0.00049, []float64{1.090, 0.994, 0.961, 0.943, 0.931, 0.915, 0.896}, []float64{1, 2, 3, 4, 5, 7, 10}},
	} {
		d := daily(t, c.place, c.lat, c.first)
		if len(d.GHIKWhM2Day) != c.days {
			t.Fatalf("%s: %d days", c.place, len(d.GHIKWhM2Day))
		}
		y, err := FromDaily(d)
		if err != nil {
			t.Fatal(err)
		}
		for i, kWh := range d.GHIKWhM2Day {
			var wh float64
			for _, g := range y.GHIWm2[24*i : 24*i+24] {
				wh += g
			}
			near(t, "day", wh/1000, kWh, 1e-9)
		}
		near(t, c.place+": loss of load, array 1.2, store 3", hourlyShortfall(y.GHIWm2, c.darkest, 1.2, 3, true), c.loss, 0.01*c.loss+0.000005)
		for i, array := range c.array {
			like := hourlyShortfall(y.GHIWm2, c.darkest, array, c.store[i], true)
			flat := hourlyShortfall(y.GHIWm2, c.darkest, array, c.store[i], false)
			if less, more := hourlyShortfall(y.GHIWm2, c.darkest, array-0.0005, c.store[i], true), hourlyShortfall(y.GHIWm2, c.darkest, array+0.0005, c.store[i], true); less < 0.0099 || more > 0.0101 {
				t.Errorf("%s, store of %v days: loss of load %.5f to %.5f, want 0.01", c.place, c.store[i], more, less)
			}
			if flat < like {
				t.Errorf("%s: loss of load with a flat load %.5f, spread like the light %.5f", c.place, flat, like)
			}
			t.Logf("%s, store of %2.0f days, array %.3f: loss of load %.4f spread like the light, %.4f flat", c.place, c.store[i], array, like, flat)
		}
	}
}

// hourlyShortfall is shortfall by the hour, the load spread like the day's light or evenly.
func hourlyShortfall(ghiWm2 []float64, darkest, array, storeDays float64, likeLight bool) float64 {
	store := storeDays
	var missing, wh float64
	for i, g := range ghiWm2 {
		if i%24 == 0 {
			wh = 0
			for _, v := range ghiWm2[i : i+24] {
				wh += v
			}
		}
		load := 1.0 / 24
		if likeLight {
			load = g / wh
		}
		store += array*g/1000/darkest - load
		if store < 0 {
			missing -= store
			store = 0
		}
		store = min(store, storeDays)
	}
	return missing / float64(len(ghiWm2)/24)
}

func TestFromDailyNamesTheMistake(t *testing.T) {
	good := Daily{Site: weather.Site{LatDeg: 52}, Start: time.Date(2025, 12, 20, 9, 0, 0, 0, time.UTC), GHIKWhM2Day: []float64{0.5, 0, 1.2}}
	y, err := FromDaily(good)
	if err != nil || y.Len() != 72 || y.Start.Hour() != 0 || !slices.Contains(y.Notes, "the temperature is not known: 15 degC throughout") {
		t.Fatalf("%v, %v", y, err)
	}
	for _, c := range []struct {
		spoil func(*Daily)
		want  string
	}{
		{func(d *Daily) { d.GHIKWhM2Day = nil }, "daily light: no days"},
		{func(d *Daily) { d.Start = time.Time{} }, "daily light: the first day has no date"},
		{func(d *Daily) { d.TempC = []float64{3} }, "daily temperature has 1 days, light has 3"},
		{func(d *Daily) { d.GHIKWhM2Day = []float64{1, -1, 1} }, "daily light of 21 Dec 2025: -1 is not at least 0 kWh/m2"},
		{func(d *Daily) { d.GHIKWhM2Day = []float64{1, 1, 3} }, "daily light of 22 Dec 2025: 3 kWh/m2 is more than the "},
		{func(d *Daily) { d.Site.LatDeg = 95 }, "daily light: latitude: 95 is not between -90 and 90"},
	} {
		d := good
		c.spoil(&d)
		if _, err := FromDaily(d); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("got %v, want %s", err, c.want)
		}
	}
}
