package climate

import (
	"fmt"
	"time"

	"tideover/sim/limit"
	"tideover/weather"
)

// Daily is a series of measured days.
type Daily struct {
	Site        weather.Site
	Start       time.Time // its date is that of the first day; the rest is not looked at
	GHIKWhM2Day []float64 // light on the level, kWh/m2, of each day
	TempC       []float64 // mean air temperature of each day; nil: 15 degC throughout, which the notes say
}

// FromDaily spreads each day's light over its hours by the smooth shares of Collares-Pereira and Rabl (see Generator),
// and holds its temperature all day. The day's light is kept, whatever it is; an hour gets no more than the sun gives
// outside the air. It refuses a day with more light than that, a negative or missing one, and columns of different
// lengths, naming the date.
func FromDaily(d Daily) (*weather.Year, error) {
	days := len(d.GHIKWhM2Day)
	if msg := weather.LatitudeRange.Fault(d.Site.LatDeg); msg != "" {
		return nil, fmt.Errorf("daily light: latitude: %s", msg)
	}
	switch {
	case days == 0:
		return nil, fmt.Errorf("daily light: no days")
	case d.Start.IsZero():
		return nil, fmt.Errorf("daily light: the first day has no date")
	case d.TempC != nil && len(d.TempC) != days:
		return nil, fmt.Errorf("daily temperature has %d days, light has %d", len(d.TempC), days)
	}
	year, month, day := d.Start.Date()
	p := Place{LatDeg: d.Site.LatDeg, LonDeg: d.Site.LonDeg, OffsetH: d.Site.OffsetH}
	start := time.Date(year, month, day, 0, 0, 0, 0, d.Site.Zone())
	y := outsideFrom(p, start, days)
	out := &weather.Year{Site: d.Site, Start: start, StepMin: 60, Measured: true,
		GHIWm2: make([]float64, 24*days), TempC: make([]float64, 24*days),
		Notes: []string{"the light within a day is smooth: it was measured by the day"}}
	if d.TempC == nil {
		out.Notes = append(out.Notes, "the temperature is not known: 15 degC throughout")
	}
	var factor [24]float64
	for i, kWh := range d.GHIKWhM2Day {
		date := func() string { return start.AddDate(0, 0, i).Format("2 Jan 2006") }
		if msg := limit.AtLeast(0).Fault(kWh); msg != "" {
			return nil, fmt.Errorf("daily light of %s: %s kWh/m2", date(), msg)
		}
		if most := y.dayWh[i] / 1000; kWh > most {
			return nil, fmt.Errorf("daily light of %s: %g kWh/m2 is more than the %.3g that the sun gives outside the air at latitude %g",
				date(), kWh, most, d.Site.LatDeg)
		}
		if kWh > 0 {
			y.smoothHours(&factor, i, d.Site.LatDeg)
			y.shareOut(out.GHIWm2[24*i:24*i+24], i, 1000*kWh/y.dayWh[i], &factor)
		}
		tempC := 15.0
		if d.TempC != nil {
			tempC = d.TempC[i]
		}
		for h := range 24 {
			out.TempC[24*i+h] = tempC
		}
	}
	return out, out.Check()
}
