// Package invented makes runs whose numbers are invented and whose books close, to test what prints and what draws.
// Nothing here is a model of anything.
package invented

import (
	"math"
	"time"

	"tideover/sim/ledger"
)

// Case says what to invent. The zero value is one dark, idle, empty day.
type Case struct {
	Start        time.Time // wall clock; its location is the local clock
	Days         int
	ArrayW       float64 // array power at noon on the best day
	CapacityWh   float64
	IdleW        float64 // inverter idle draw
	MustHaveW    float64 // AC, day and night
	LampW        float64 // DC, 17:00 to 22:00
	OffFromHour  int     // the inverter is off by rule from this hour ...
	OffUntilHour int     // ... to this one; equal is never
}

// Hut is a case with outages in winter and energy to spare in summer.
func Hut() Case {
	return Case{
		Start: time.Date(2025, 1, 1, 0, 0, 0, 0, Zone()), Days: 365,
		ArrayW: 420, CapacityWh: 1280, IdleW: 8, MustHaveW: 14, LampW: 12,
	}
}

// Zone is a local clock without daylight saving.
func Zone() *time.Location { return time.FixedZone("", -7*3600) }

const (
	cutOffSOC   = 0.1
	standbyW    = 1.5
	perAC       = 1.1  // W at the bus per W of AC load
	intoStore   = 0.96 // stored per Wh in
	outOfStore  = 1.03 // taken from the store per Wh out
	controller  = 0.97
	barredBelow = -4.0
)

// Run invents the run. Its warnings and notes are invented too.
func (c Case) Run() *ledger.Run {
	r := &ledger.Run{
		CapacityWh: c.CapacityWh, DisconnectSOC: cutOffSOC, InverterRatedW: 300, SettlePasses: 2, Settled: true,
		Warnings: []string{"3 hours of the weather were missing and were filled from the hours beside them: " +
			"2 Feb 2025 11:00, 12:00 and 13:00."},
		Notes: []string{"The self-discharge of the battery is a guess: 3 % a month."},
	}
	h := &ledger.Hours{StepH: 1}
	r.Hours = h
	store := c.CapacityWh * 0.5
	r.Answer = ledger.Answer{StartSOC: 0.5, LowestSOC: 1, CoincidentPeakW: 340}
	out := -1 // the open outage
	for i := range 24 * c.Days {
		at := c.Start.Add(time.Duration(i) * time.Hour)
		end := at.Add(time.Hour)
		day, hour := i/24, float64(i%24)
		if hour == 0 {
			r.Days = append(r.Days, ledger.Day{Date: at, LowestSOC: 1})
			if n := len(r.Months); n == 0 || r.Months[n-1].Month != at.Month() || r.Months[n-1].Year != at.Year() {
				r.Months = append(r.Months, ledger.Month{Year: at.Year(), Month: at.Month(), LowestSOC: 1})
			}
			r.Months[len(r.Months)-1].Days++
		}
		d, m := &r.Days[len(r.Days)-1], &r.Months[len(r.Months)-1]

		season := -math.Cos(2 * math.Pi * float64(at.YearDay()+10) / 365)
		cloud := 0.25 + 0.75*math.Abs(math.Sin(float64(day)*0.37))
		light := max(0, math.Sin(math.Pi*(hour-6.5)/12)) * (0.55 + 0.4*season) * cloud
		airC := 6 + 9*season + 4*math.Sin(math.Pi*(hour-9)/12)

		var f ledger.Flows
		f[ledger.Array] = c.ArrayW * light
		usable := f[ledger.Array]
		if usable < 3 {
			f[ledger.NotStarted] = usable
		} else {
			f[ledger.OffPeak] = 0.01 * usable
		}
		usable -= f[ledger.NotStarted] + f[ledger.OffPeak]

		acW, dcW := c.MustHaveW, 0.0
		if hour >= 17 && hour < 22 {
			dcW = c.LampW
		}
		f[ledger.Demand] = acW + dcW
		ac, dc := acW, dcW
		idle := c.IdleW
		if off := c.OffFromHour != c.OffUntilHour && int(hour) >= c.OffFromHour && int(hour) < c.OffUntilHour; off {
			f[ledger.Withheld], ac, idle = acW, 0, 0
			d.OffByRuleMin += 60
		}
		need := perAC*ac + dc + idle + standbyW

		// What the battery could add decides the share of the hour that is supplied.
		canGive := max(0, store-cutOffSOC*c.CapacityWh) / outOfStore
		share := 1.0
		if need > 0 {
			share = min(1, (canGive+controller*usable)/need)
		}
		if need > 0 && share < 1 && usable < need {
			share = math.Floor(share*60) / 60 // to the minute
		}
		need *= share
		f[ledger.ServedAC], f[ledger.ServedDC] = share*ac, share*dc
		f[ledger.InverterIdle], f[ledger.Standby] = share*idle, share*standbyW
		f[ledger.InverterLoss] = share * (perAC - 1) * ac
		f[ledger.Served] = f[ledger.ServedAC] + f[ledger.ServedDC]
		f[ledger.Unserved] = (1 - share) * (ac + dc)

		if bus := controller * usable; bus > need {
			spare, room := bus-need, max(0, c.CapacityWh-store)/intoStore
			if airC < barredBelow {
				f[ledger.ChargeBarred] = spare / controller
				spare = 0
			}
			f[ledger.BatteryIn] = min(spare, room)
			f[ledger.Curtailed] = (spare - f[ledger.BatteryIn]) / controller
		} else {
			f[ledger.BatteryOut] = need - bus
		}
		f[ledger.Drawn] = usable - f[ledger.ChargeBarred] - f[ledger.Curtailed]
		f[ledger.ControllerLoss] = (1 - controller) * f[ledger.Drawn]
		f[ledger.StoreChange] = intoStore*f[ledger.BatteryIn] - outOfStore*f[ledger.BatteryOut]
		f[ledger.BatteryLoss] = (1-intoStore)*f[ledger.BatteryIn] + (outOfStore-1)*f[ledger.BatteryOut]
		store += f[ledger.StoreChange]
		soc := store / max(1, c.CapacityWh)

		m.NeedWh += perAC*acW + dcW + c.IdleW + standbyW
		m.HarvestWh += controller * usable
		m.BarredWh += controller * f[ledger.ChargeBarred]

		// Books of days, months and the whole.
		r.Total.Add(&f)
		m.Wh.Add(&f)
		m.SunlightWh += c.ArrayW * light * 1.2
		r.SunlightWh += c.ArrayW * light * 1.2
		d.AskedWh += f[ledger.Demand]
		d.ServedWh += f[ledger.Served]
		d.LowestSOC, m.LowestSOC = min(d.LowestSOC, soc), min(m.LowestSOC, soc)
		if soc < r.Answer.LowestSOC {
			r.Answer.LowestSOC, r.Answer.LowestSOCTime = soc, end
		}
		if lack := (1-share)*(ac+dc) > 0; lack {
			d.LackMin += 60 * (1 - share)
			if out < 0 {
				out = len(r.Outages)
				cause := ledger.BatteryEmpty
				if airC < barredBelow {
					cause = ledger.ColdBarred
				}
				start := end.Add(-time.Duration(math.Round(60*(1-share))) * time.Minute)
				r.Outages = append(r.Outages, ledger.Outage{Start: start, Cause: cause})
			}
			o := &r.Outages[out]
			o.Hours += 1 - share
			o.MustHaveHours = o.Hours
			o.UnservedWh += f[ledger.Unserved]
			r.Answer.HoursWithoutPower += 1 - share
			r.Answer.LongestOutageH = max(r.Answer.LongestOutageH, o.Hours)
		}
		if share == 1 {
			out = -1
		}
		if i%24 == 23 {
			if d.WithoutPower() {
				m.DaysWithoutPower++
				r.Answer.DaysWithoutPower++
				r.DaysByCause[r.Outages[len(r.Outages)-1].Cause]++
			}
			if d.OffByRule() {
				m.DaysOffByRule++
				r.Answer.DaysOffByRule++
			}
			if d.WhollyDark() {
				r.Answer.DaysWhollyDark++
			}
		}

		// Columns.
		h.End = append(h.End, end)
		h.GHIWm2 = append(h.GHIWm2, 800*light)
		h.DNIWm2 = append(h.DNIWm2, 900*light)
		h.DHIWm2 = append(h.DHIWm2, 150*light)
		h.AirTempC = append(h.AirTempC, airC)
		h.PlaneWm2 = append(h.PlaneWm2, 1050*light)
		h.CellTempC = append(h.CellTempC, airC+25*light)
		for k := range f {
			h.FlowW[k] = append(h.FlowW[k], f[k])
		}
		h.ACDemandW = append(h.ACDemandW, acW)
		h.DCDemandW = append(h.DCDemandW, dcW)
		h.BatteryW = append(h.BatteryW, f[ledger.BatteryIn]-f[ledger.BatteryOut])
		h.BatteryV = append(h.BatteryV, 12.4+1.2*soc)
		h.BatteryTempC = append(h.BatteryTempC, airC+3)
		h.SOC = append(h.SOC, soc)
	}
	r.Loads = []ledger.LoadSum{
		{Name: "fire alarm and radio", Bus: "ac", DemandWh: c.MustHaveW * 24 * float64(c.Days)},
		{Name: "lamp over the door", Bus: "dc", DemandWh: c.LampW * 5 * float64(c.Days)},
	}
	if r.Total[ledger.Demand] > 0 {
		r.Answer.UnservedShare = r.Total[ledger.Unserved] / r.Total[ledger.Demand]
	}
	return r
}
