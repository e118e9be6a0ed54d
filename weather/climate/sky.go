package climate

import (
	"math"
	"time"

	"tideover/weather/sun"
)

// sky is a year of sun over a place, or another run of days.
type sky struct {
	track     []sun.Step
	sinHeight []float64 // of the sun in each hour, 0 by night
	hourWm2   []float64 // light on the level outside the air, mean of each hour
	dayWh     []float64 // the same, Wh/m2 of each day
	clearest  []float64 // clearness that an hour may have, see livelyHours
	month     []int     // of each day, from 0
}

// outside finds the sun of a calendar year.
func outside(p Place, year int) *sky {
	return outsideFrom(p, time.Date(year, time.January, 1, 0, 0, 0, 0, p.site().Zone()), daysIn(year))
}

// outsideFrom finds the light on the level outside the air: J. A. Duffie, W. A. Beckman, Solar Engineering of Thermal
// Processes, eq. 1.10.4, the cosine of the zenith integrated over the lit part of each hour. Start is a midnight.
func outsideFrom(p Place, start time.Time, days int) *sky {
	y := &sky{track: sun.Track(start, 1, 24*days, p.site().Sun()), sinHeight: make([]float64, 24*days),
		hourWm2: make([]float64, 24*days), clearest: make([]float64, 24*days), dayWh: make([]float64, days), month: make([]int, days)}
	for d := range y.month {
		y.month[d] = int(start.AddDate(0, 0, d).Month()) - 1
	}
	sinLat, cosLat := math.Sincos(p.LatDeg * math.Pi / 180)
	for i, step := range y.track {
		if step.LitShare == 0 {
			continue
		}
		sinDec, cosDec := math.Sincos(step.DeclinationDeg * math.Pi / 180)
		cosHour := math.Cos(step.HourAngleDeg * math.Pi / 180)
		half := step.LitShare * 7.5 * math.Pi / 180 // of the lit part, as an hour angle
		y.sinHeight[i] = max(0, sinLat*sinDec+cosLat*cosDec*cosHour)
		y.hourWm2[i] = sun.SolarConstantWm2 * step.DistanceFactor * step.LitShare *
			max(0, sinLat*sinDec+cosLat*cosDec*cosHour*math.Sin(half)/half)
		y.dayWh[i/24] += y.hourWm2[i]
		y.clearest[i] = 0.88 * math.Cos(math.Pi*step.HourAngleDeg/15/30)
	}
	return y
}

// monthsKWhM2Day returns each month's mean day of light outside the air.
func (y *sky) monthsKWhM2Day() (kWh [12]float64) {
	var days [12]float64
	for d, wh := range y.dayWh {
		kWh[y.month[d]] += wh / 1000
		days[y.month[d]]++
	}
	for m := range kWh {
		kWh[m] /= days[m]
	}
	return kWh
}

// clearness returns each month's mean light over its mean light outside the air; in a dim month, a number within bounds.
func (p Place) clearness(y *sky) (mean [12]float64) {
	for m, most := range y.monthsKWhM2Day() {
		ghi := p.GHIKWhM2Day[m]
		mean[m] = ghi / max(most, 1e-9)
		if most < dimKWhM2Day && ghi <= dimKWhM2Day {
			mean[m] = max(lowestClearness, min(highestClearness, mean[m]))
		}
	}
	return mean
}

// solarNoonH returns the solar time, h, at the middle of the hour 12 to 13 of day d.
func (y *sky) solarNoonH(d int) float64 { return 12 + y.track[24*d+12].HourAngleDeg/15 }

func daysIn(year int) int { return time.Date(year, time.December, 31, 0, 0, 0, 0, time.UTC).YearDay() }
