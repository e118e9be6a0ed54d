package ledger

import (
	"testing"
	"time"
)

// year is a run of twelve months of 30 days whose need is 100 Wh a day, and whose harvest is given.
func year(harvestWhDay [12]float64, daysWithout int, cause Cause) *Run {
	r := &Run{}
	for m, h := range harvestWhDay {
		r.Months = append(r.Months, Month{Year: 2025, Month: time.Month(m + 1), Days: 30, NeedWh: 95 * 30, HarvestWh: 30 * h})
		r.Months[m].Wh[BatteryLoss] = 5 * 30
	}
	r.Answer.DaysWithoutPower = daysWithout
	r.DaysByCause[cause] = daysWithout
	return r
}

func TestWhy(t *testing.T) {
	// By hand: the need is 95 Wh of loads and draws and 5 Wh of battery loss a day.
	light := [12]float64{120, 150, 200, 300, 300, 300, 300, 300, 200, 150, 110, 99}
	r := year(light, 9, BatteryEmpty)
	w := r.Why()
	if w.Shortage != Deficit || r.Months[w.Month].Month != time.December || w.HarvestWh != 99 || w.NeedWh != 100 {
		t.Errorf("99 of 100 Wh in December: %+v, want a deficit then", w)
	}
	light[11] = 101
	r = year(light, 9, BatteryEmpty)
	r.SpellLackWh, r.SpellLackAt = 190, time.Date(2025, 11, 20, 0, 0, 0, 0, time.UTC)
	w = r.Why()
	if w.Shortage != Storage || w.DaysShort != 2 || r.Months[w.ShortMonth].Month != time.November {
		t.Errorf("101 of 100 Wh, 190 Wh lacking in November: %+v, want storage, 2 days short", w)
	}
	r.Months[0].BarredWh, r.Months[0].DaysWithoutPower = 30*30, 9
	if w := r.Why(); w.Shortage != Storage {
		t.Errorf("frost refuses 30 of 120 Wh in January, for which a warm battery had no room either: %+v, want storage", w)
	}
	r.Months[0].MissedWh = 30 * 30
	if w := r.Why(); w.Shortage != Cold {
		t.Errorf("frost refuses 30 of 120 Wh in January: %+v, want cold", w)
	}
	r.Months[0].MissedWh, r.Months[0].Wh[Heater] = 18*30, 5*30 // 102 Wh left, for 105
	if w := r.Why(); w.Shortage != Cold {
		t.Errorf("frost refuses 18 of 120 Wh, and a heater takes 5: %+v, want cold", w)
	}
	r = year(light, 9, BatteryEmpty)
	r.Months[11].CableWh = 2 * 30
	if w := r.Why(); w.Shortage != Deficit || w.NeedWh != 102 {
		t.Errorf("101 Wh for 100, and 2 in the battery's cable: %+v, want a deficit", w)
	}
	if w := year(light, 9, Overload).Why(); w.Shortage != Power || w.Beside != NoShortage {
		t.Errorf("trips alone: %+v, want power", w)
	}
	r = year(light, 9, Overload)
	r.Answer.DaysWithoutPower, r.DaysByCause[BatteryEmpty] = 13, 4
	if w := r.Why(); w.Shortage != Power || w.PowerDays != 9 || w.Beside != Storage {
		t.Errorf("nine days of trips, four of an empty battery: %+v, want power, and storage beside it", w)
	}
	r.Months[11].HarvestWh = 99 * 30
	if w := r.Why(); w.Shortage != Power || w.Beside != Deficit {
		t.Errorf("the same, with 99 of 100 Wh in December: %+v, want power, and a deficit beside it", w)
	}
	// Most days put to cold come first, whatever the design month gives; then a deficit, or what an empty battery took beside.
	r = year(light, 9, ColdBarred)
	if w := r.Why(); w.Shortage != Cold || w.Left != NoShortage || w.BarredDays != 9 {
		t.Errorf("nine days of cold, 101 of 100 Wh: %+v, want cold and nothing left", w)
	}
	r.DaysHeatBarred = 5
	if w := r.Why(); w.Shortage != Heat {
		t.Errorf("five of nine days of heat: %+v, want heat", w)
	}
	r = year(light, 9, ColdBarred)
	r.Answer.DaysWithoutPower, r.DaysByCause[BatteryEmpty] = 13, 4
	if w := r.Why(); w.Shortage != Cold || w.Left != Storage || w.OtherDays != 4 {
		t.Errorf("nine of thirteen days of cold: %+v, want cold, and four left to the store", w)
	}
	r.Months[11].HarvestWh = 99 * 30
	if w := r.Why(); w.Shortage != Cold || w.Left != Deficit {
		t.Errorf("the same, with 99 of 100 Wh in December: %+v, want cold, and a deficit left", w)
	}
	r.Answer.DaysWithoutPower, r.DaysByCause[BatteryEmpty] = 18, 9
	if w := r.Why(); w.Shortage != Deficit {
		t.Errorf("nine of eighteen days of cold: %+v, want a deficit", w)
	}
	r = year(light, 9, ColdBarred)
	r.Answer.DaysWithoutPower, r.DaysByCause[Overload] = 19, 10
	if w := r.Why(); w.Shortage != Power || w.Beside != Cold {
		t.Errorf("ten days of trips, nine of cold: %+v, want power, and cold beside it", w)
	}
	if w := year(light, 0, BatteryEmpty).Why(); w.Shortage != NoShortage || w.Month != 11 {
		t.Errorf("no day without power: %+v, want none, and the design month all the same", w)
	}
	if w := (&Run{}).Why(); w.Month >= 0 {
		t.Errorf("an empty run: %+v", w)
	}
}

func TestPattern(t *testing.T) {
	friday := &Chain{SunShare: 0.3, Load: "packs", LoadOn: time.Friday}
	r := &Run{}
	for i := range 11 {
		o := Outage{MustHaveHours: 1, Chain: friday}
		if i >= 9 {
			o.Chain = &Chain{SunShare: 0.9}
		}
		r.Outages = append(r.Outages, o)
	}
	r.Outages = append(r.Outages, Outage{Chain: &Chain{}}) // only loads that can wait
	p, ok := r.Pattern()
	if want := (Pattern{Of: 9, Outages: 11, Load: "packs", On: "Friday", Dull: true}); !ok || p != want {
		t.Errorf("got %+v %v, want %+v", p, ok, want)
	}
	r.Outages[0].Chain = &Chain{SunShare: 0.3, Load: "packs", LoadOn: time.Sunday}
	if p, _ := r.Pattern(); p.On != "" {
		t.Errorf("on two weekdays: %+v, want none named", p)
	}
	r.Outages = r.Outages[:1]
	if p, ok := r.Pattern(); ok {
		t.Errorf("one outage has the pattern %+v", p)
	}
}
