package precheck

import (
	"slices"
	"time"

	"tideover/loads"
	"tideover/sim"
	"tideover/sim/battery"
	"tideover/sim/ledger"
)

// Beside is what stands beside a run.
type Beside struct {
	Hand   Against
	Usable Usable
	Draws  []Draw // ranked

	SocketDays   float64 // without sun that SocketWh lasts a usual day's loads; +Inf without loads
	WornSocketWh float64 // SocketWh at the end of the battery's life
}

// Of works out what stands beside a run, which must hold its hours; it panics without: our bug. standing names the parts
// of the standby. It asks each load by itself for its hours, up to three times: 4 ms for the five loads of a year.
func Of(sys *sim.System, p *sim.Prepared, r *ledger.Run, standing []Standing) *Beside {
	if r.Hours == nil {
		panic("precheck: Of: the run holds no hours")
	}
	w := p.Wants()
	days := float64(len(w.Month)) * w.StepH / 24
	asked, draws := perLoad(sys, p, &w, days)
	standby, most, first := sum(w.StandbyW, 0, len(w.StandbyW))/float64(len(w.StandbyW)), -1, len(draws)
	for k, s := range standing {
		draws = append(draws, Draw{Name: s.Name, Wh: s.DrawW * 24})
		standby -= s.DrawW
		if most < 0 || s.DrawW > standing[most].DrawW {
			most = k
		}
	}
	switch {
	case standby > 1e-9: // what nobody named
		draws = append(draws, Draw{Name: "standby", Wh: standby * 24})
	case standby < -1e-9 && most >= 0: // what a box saves while it is off
		draws[first+most].Wh = max(0, draws[first+most].Wh+standby*24)
	}
	draws = append(draws, Draw{Name: "battery's heater", Wh: r.Total[ledger.Heater] / days}) // as it ran
	h := CommonRule().Hand(sys.RatedW(), sys.Bank.NominalWh(), 1-r.DisconnectSOC, asked)
	c := cells(sys, r, &w)
	b := &Beside{Hand: h.Against(window(sys, r, &w, p.CountsFullSOC())), Usable: c.Usable(), Draws: rank(draws)}
	b.SocketDays = DaysCarried(b.Usable.SocketWh(), asked.Wh[UsualDay], 0)
	c.AgeShare = h.Rule.WornShare
	worn := c.Usable()
	b.WornSocketWh = worn.SocketWh()
	return b
}

// perLoad asks each load by itself: what its days ask, and what idle it forces.
func perLoad(sys *sim.System, p *sim.Prepared, w *sim.Wants, days float64) (Asked, []Draw) {
	free, ruled := p.LoadsAt(false), p.LoadsAt(true)
	dayWh := make([]float64, len(free.Clock.Dates))
	var asked Asked
	draws := make([]Draw, len(sys.Loads))
	var ac []acLoad
	for k, l := range sys.Loads {
		d := loads.Sum(free, []loads.Load{l})
		column := d.DCW
		if l.Bus == loads.AC {
			column = d.ACW
			share := d.ACShare
			if ruled.ACOn != nil {
				share = loads.Sum(ruled, []loads.Load{l}).ACShare
			}
			ac = append(ac, acLoad{k, share})
		}
		for i, watts := range column {
			dayWh[w.Day[i]] += watts * w.StepH
		}
		sumWh := d.PerLoad[0].DemandWh
		draws[k] = Draw{Name: l.Name, Bus: l.Bus.String(), Wh: sumWh / days, StandbyWh: standbyWh(free, l, sumWh) / days}
		asked.Wh[UsualDay] += sumWh / days
		if l.Kind == loads.Packs {
			asked.Packs = true
			asked.Wh[BusyDay] += float64(l.Count) * l.PackEnergyWh * l.Depth / l.ChargerEfficiency
		} else {
			asked.Wh[BusyDay] += sumWh / days
		}
	}
	asked.Wh[LowDay] = slices.Min(dayWh)
	if !asked.Packs {
		asked.Wh[BusyDay] = slices.Max(dayWh)
	}
	if v := sys.Inverter; v != nil {
		none := force(draws, ac, w.IdleW, v.IdleW, w.StepH)
		for k := range draws {
			draws[k].IdleWh /= days
		}
		draws = append(draws, Draw{Name: NoLoadAsks, Wh: none / days})
	}
	return asked, draws
}

// cells is the battery of a run, at the coldest it gets.
func cells(sys *sim.System, r *ledger.Run, w *sim.Wants) Cells {
	n := float64(len(w.Month))
	b := Cells{
		NominalWh: sys.Bank.NominalWh(), CutSOC: r.DisconnectSOC, AgeShare: sys.Bank.Health, ColdC: slices.Min(r.Hours.BatteryTempC),
		LoadW:     (sum(w.ACW, 0, len(w.ACW)) + sum(w.DCW, 0, len(w.DCW))) / n,
		InverterW: (sum(w.IdleW, 0, len(w.IdleW)) + sum(w.ConvertW, 0, len(w.ConvertW))) / n,
		StandbyW:  sum(w.StandbyW, 0, len(w.StandbyW)) / n,
	}
	cableOhm := sys.BatteryCable.ResistanceOhm()
	if sys.Bank.Type != battery.Lithium {
		b.ColdSOC = max(b.CutSOC, 1-battery.LeadColdShare(b.ColdC))
		lead := sys.Bank.Lead(cableOhm, 1)
		b.Rate = lead.GivesShare
		return b
	}
	b.ColdSOC = max(b.CutSOC, 1-battery.ColdShare(b.ColdC))
	pack := sys.Bank.Pack(cableOhm)
	b.Rate = func(drawW float64) float64 { // lithium: what its resistance and the cable's turn to heat, half full
		half := pack.CapacityAh / 2
		amps := -pack.CurrentA(half, -drawW)
		return max(0, 1-pack.ResistanceOhm*amps/pack.OpenV(half)) // not NaN's, where the voltage would collapse
	}
	return b
}

func sum(column []float64, from, to int) float64 {
	total := 0.0
	for _, v := range column[from:to] {
		total += v
	}
	return total
}

// window finds the stretch of the run that decided: the design month; where that could pay, the worst spell; of a run too
// short for months, all of it. A bank is full at fullSOC.
func window(sys *sim.System, r *ledger.Run, w *sim.Wants, fullSOC float64) Window {
	why := r.Why()
	v := Window{Month: why.Month, Steps: len(w.Month)}
	switch {
	case why.Shortage == ledger.Storage || (why.Shortage == ledger.Cold || why.Shortage == ledger.Heat) && why.Left != ledger.Deficit:
		v.Spell = true
		v.FirstStep, v.Steps = spell(r, w, fullSOC-0.001)
		v.Month = w.Month[v.FirstStep+v.Steps/2]
	case v.Month >= 0:
		v.FirstStep, v.Steps = run(w.Month, v.Month)
	}
	first, last := v.FirstStep, v.FirstStep+v.Steps
	v.Days = float64(v.Steps) * w.StepH / 24
	v.To = r.Hours.End[last-1]
	v.From = r.Hours.End[first].Add(-time.Duration(w.StepH * float64(time.Hour)))
	perDay := w.StepH / v.Days
	h := r.Hours
	flow := func(f ledger.Flow) float64 { return sum(h.FlowW[f], first, last) * perDay }
	var busWh, arrayWh float64 // at the bus for each Wh at the array: behind cables and controller, as the months have it
	for i := range r.Months {
		m := &r.Months[i]
		busWh, arrayWh = busWh+m.HarvestWh-m.AsleepWh, arrayWh+m.Wh[ledger.Drawn]+m.Wh[ledger.Curtailed]+m.Wh[ledger.ChargeBarred]
	}
	out := 1.0
	if arrayWh > 0 {
		out = busWh / arrayWh
	}
	asleepWh, asleepBarredWh := sum(h.AsleepW, first, last)*perDay, sum(h.AsleepBarredW, first, last)*perDay
	v.ClippedWh = max(0, out*(flow(ledger.NotStarted)+flow(ledger.Clipped))-asleepWh)
	v.BarredWh, v.CurtailedWh = out*flow(ledger.ChargeBarred)+asleepBarredWh, out*flow(ledger.Curtailed)
	for i := first; i < last; i++ {
		if w := out*h.FlowW[ledger.ChargeBarred][i] + h.AsleepBarredW[i]; w > 0 && sys.Bank.TooHot(h.BatteryTempC[i]) {
			v.HeatWh += w * perDay
		}
	}
	v.HarvestWh = out*(flow(ledger.Drawn)+flow(ledger.ChargeBarred)) + v.CurtailedWh + asleepWh
	v.BackupWh = flow(ledger.Backup)
	v.AskedWh = (sum(w.ACW, first, last) + sum(w.DCW, first, last)) * perDay
	v.IdleWh, v.StandbyWh = sum(w.IdleW, first, last)*perDay, sum(w.StandbyW, first, last)*perDay
	if v.Month >= 0 && !v.Spell { // as the run's verdict has it
		v.LossWh = why.NeedWh - v.AskedWh - v.IdleWh - v.StandbyWh
	} else { // of the cables what lies behind the bus
		before := (1-out)*flow(ledger.Drawn) - flow(ledger.ControllerLoss)
		v.LossWh = sum(w.ConvertW, first, last)*perDay + flow(ledger.BatteryLoss) + flow(ledger.Heater) + flow(ledger.WiringLoss) - before
	}
	if v.Spell {
		v.TakenWh = -flow(ledger.StoreChange)
	}
	v.SunHours = sum(h.PlaneWm2, first, last) * perDay / 1000
	v.MonthSunHours = v.SunHours
	if v.Spell {
		from, n := run(w.Month, v.Month)
		v.MonthSunHours = sum(h.PlaneWm2, from, from+n) / float64(n) * 24 / 1000
	}
	return v
}

// run is where the value stands in a column in which equal values stand together, and how often.
func run(column []int, value int) (first, n int) {
	first = slices.Index(column, value)
	for first+n < len(column) && column[first+n] == value {
		n++
	}
	return first, n
}

// spell is the stretch from the first date after the battery was last full, or from the start of the run, to the date of its
// worst lack. A step may end a hair below full.
func spell(r *ledger.Run, w *sim.Wants, full float64) (first, n int) {
	h := r.Hours
	lack := slices.IndexFunc(h.End, func(end time.Time) bool { return end.After(r.SpellLackAt) })
	if lack < 0 {
		lack = len(h.End) - 1
	}
	for i := lack - 1; i >= 0; i-- {
		if h.SOC[i] >= full {
			first, _ = run(w.Day, min(w.Day[i]+1, w.Day[lack]))
			break
		}
	}
	from, steps := run(w.Day, w.Day[lack])
	return first, from + steps - first
}
