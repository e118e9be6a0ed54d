package invented

import (
	"math"
	"time"

	"tideover/sim/study"
)

// Tilts is an answer to which tilt, which way: numbers on smooth curves, none of them run.
func Tilts() *study.Tilts {
	stand := func(tilt, az float64, days int) study.Stand {
		s := study.Stand{AzimuthDeg: az, DaysWithoutPower: days, HoursWithoutPower: 7.5 * float64(days), DesignMonth: time.December}
		for m := range 12 {
			winter := math.Cos(2 * math.Pi * float64(m) / 12) // January 1, July -1
			best := 36 + 30*winter
			s.TiltByMonth[m] = tilt
			s.MonthWh[m] = (26000 - 14000*winter) * math.Cos((tilt-best)*math.Pi/180) * math.Cos((az-180)*math.Pi/360)
			s.HarvestWh += s.MonthWh[m]
		}
		s.DesignRatio = s.MonthWh[11] / 15500
		return s
	}
	t := &study.Tilts{Years: 1, AsItStands: stand(45, 180, 12), MostEnergy: stand(28, 180, 15), BestMonth: stand(62, 180, 10),
		FewestDays: stand(64, 180, 9), DesignNeedWh: 500, DesignDays: 31, DaysInYear: 365}
	for tilt := range 91 {
		t.Curve = append(t.Curve, stand(float64(tilt), 180, 12))
	}
	year := []time.Month{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}
	half := [][]time.Month{{10, 11, 12, 1, 2, 3}, {4, 5, 6, 7, 8, 9}}
	quarters := [][]time.Month{{12, 1, 2}, {3, 4, 5}, {6, 7, 8}, {9, 10, 11}}
	for k, all := range []*[]study.Turned{&t.ByEnergy, &t.ByMonth} {
		for i, seasons := range [][][]time.Month{{year}, half, quarters} {
			a := study.Turned{Stand: stand(28+float64(i)+30*float64(k), 180, 14-i)}
			a.HarvestWh *= 1 + 0.03*float64(i)
			for j, months := range seasons {
				a.Seasons = append(a.Seasons, study.TiltMonths{Months: months, TiltDeg: 60 - 12*float64(j)})
			}
			*all = append(*all, a)
		}
	}
	return t
}
