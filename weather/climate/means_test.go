package climate

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// typed fills Means as the decoder does, from each key's own example.
func typed(t *testing.T) *Means {
	m := &Means{}
	for _, k := range m.Keys() {
		if k.Name == "years" {
			k.SetNumber(parse(t, k.Example))
			continue
		}
		if err := k.SetWords(strings.Split(strings.Trim(k.Example, "[]"), ", ")); err != nil {
			t.Fatalf("%s: %v", k.Name, err)
		}
	}
	return m
}

func TestTypedMeans(t *testing.T) {
	m := typed(t)
	if faults := m.Check(); len(faults) > 0 {
		t.Fatal(faults)
	}
	known, err := Find("De Bilt") // the examples are its
	if err != nil {
		t.Fatal(err)
	}
	p := m.Place(Place{Name: "De Bilt", Country: known.Country, Zone: known.Zone, LatDeg: known.LatDeg, LonDeg: known.LonDeg,
		ElevationM: known.ElevationM, OffsetH: known.OffsetH})
	if err := p.Check(); err != nil {
		t.Error(err)
	}
	if p.Years != 10 || !slices.Equal(Generate(p, 2025, 1, 0).GHIWm2, Generate(known, 2025, 1, 0).GHIWm2) {
		t.Error("typed means give another year than the same means embedded")
	}
	for _, c := range []struct {
		spoil func(*Means)
		want  string
	}{
		{func(m *Means) { m.GHIKWhM2Day = nil }, "ghi_kwh_m2_day: wants twelve numbers, January to December; 0 given"},
		{func(m *Means) { m.GHIKWhM2Day[2] = 80.6 }, "ghi_kwh_m2_day: March: 80.6 is not between 0 and 15"},
		{func(m *Means) { m.TempMeanC[11] = math.NaN() }, "temp_mean_c: December: NaN is not a finite number"},
		{func(m *Means) { m.TempMinC[0] = 8 }, "temp_mean_c: January: minimum 8, mean 4.2, maximum 6.4 are not in order"},
		{func(m *Means) { m.Years = -1 }, "years: -1 is not between 0 and 1000"},
	} {
		m := typed(t)
		c.spoil(m)
		if faults := m.Check(); len(faults) != 1 || !strings.HasPrefix(faults[0].Error(), c.want) {
			t.Errorf("got %v, want %s", faults, c.want)
		}
	}
	key := (&Means{}).Keys()[0]
	for words, want := range map[string]string{
		"1 2 3":                          "wants twelve numbers, January to December; 3 given",
		"1 2 3 4 5 6 7 8 9 10 eleven 12": `"eleven", of November, is not a number`,
		"nan 2 3 4 5 6 7 8 9 10 11 12":   `"nan", of January, is not a number`,
	} {
		if err := key.SetWords(strings.Fields(words)); err == nil || err.Error() != want {
			t.Errorf("%s: got %v, want %s", words, err, want)
		}
	}
}

func TestOptionsCheck(t *testing.T) {
	for _, o := range []Options{{Persistence: 0.95}, {Persistence: math.NaN()}, {MeanYears: -1}, {Kind: 7}} {
		if len(o.Check()) != 1 {
			t.Errorf("%+v: %v", o, o.Check())
		}
	}
}

// What a report says: the settings, what the means rest on, and the kinds of place for which the generator errs.
func TestNotes(t *testing.T) {
	notes := func(p Place, o Options) string { return strings.Join(New(p, o).Notes(), "\n") }
	hongKong := Place{Name: "monsoon coast", LatDeg: 22.3, LonDeg: 114.2, OffsetH: 8,
		GHIKWhM2Day: [12]float64{2.9, 2.9, 2.95, 3.5, 4.2, 4.6, 5.2, 4.7, 4.4, 4.0, 3.5, 3.0}}
	for m := range 12 {
		hongKong.TempMinC[m], hongKong.TempMeanC[m], hongKong.TempMaxC[m] = 20, 23, 26
	}
	find := func(name string) Place {
		p, err := Find(name)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	typedValentia := find("Quillayute")
	typedValentia.Coast = CoastUnknown
	const dull, ocean = "climate_kind: dull_coast helps", "climate_kind: ocean_coast helps"
	for _, c := range []struct {
		p          Place
		o          Options
		want, wont []string
	}{
		{hongKong, Options{}, []string{"March is dull for this latitude", dull, "taken as exact", "persistence of the light 0.48 (by latitude)"}, nil},
		{hongKong, Options{Kind: DullCoast}, []string{"0.52 (as dull_coast)"}, []string{dull}},
		{hongKong, Options{Persistence: 0.4}, []string{"0.40 (as typed)"}, nil},
		{find("Quillayute"), Options{}, []string{"on an open ocean coast", ocean, "typical year"}, []string{dull, "1500 m"}},
		{typedValentia, Options{}, []string{"if this is an open ocean coast"}, nil},
		{find("De Bilt"), Options{}, []string{"means of 10 real years", "5 % in December"}, []string{ocean, dull, "55 deg"}},
		{find("De Bilt"), Options{MeanYears: 1}, []string{"% in December"}, []string{"10 real years"}},
		{find("Juneau"), Options{}, []string{"beyond 55 deg"}, nil},
		{find("Leadville"), Options{}, []string{"above 1500 m"}, nil},
		{find("Miami"), Options{}, nil, []string{dull}},
	} {
		got := notes(c.p, c.o)
		for _, w := range c.want {
			if !strings.Contains(got, w) {
				t.Errorf("%s %+v: no %q in\n%s", c.p.Name, c.o, w, got)
			}
		}
		for _, w := range c.wont {
			if strings.Contains(got, w) {
				t.Errorf("%s %+v: %q in\n%s", c.p.Name, c.o, w, got)
			}
		}
		if y := Generate(c.p, 2025, 1, 0); len(y.Warnings) > 0 || y.Measured {
			t.Errorf("%s: warnings %v", c.p.Name, y.Warnings)
		}
	}
	t.Log(notes(find("Quillayute"), Options{}))
}
