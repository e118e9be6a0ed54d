package sim_test

// Packs that wait for charge or for sun, worked by hand, and the laws of books with them.

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tideover/loads"
	"tideover/sim"
	"tideover/sim/backup"
	"tideover/sim/clock"
	"tideover/sim/controller"
	"tideover/sim/inverter"
	"tideover/sim/ledger"
	"tideover/weather"
)

// mower is one pack of 90 Wh on a charger of 60 W that puts 0.9 of what it takes into the pack, from 08:00 to 17:00: 100 Wh at
// the plug. By hand, at full power for 80 Wh or 1.3333 h, then the taper of 20 Wh with a time constant of 20 / (60 x 0.9) = 0.37037 h
// for ln 10 of them, 0.8528 h: 2.186 h in all, so that it must begin by 14:48, in steps of an hour at 14:00. Its hours are 60 Wh,
// 20 + 60 x 0.37037 x (1 - exp(-0.66667 / 0.37037)) = 38.549 Wh and the rest, 1.451 Wh.
func mower(bus loads.Bus) loads.Load {
	l := loads.New(loads.Packs)
	l.Name, l.Bus, l.Count, l.PackEnergyWh, l.ChargerPowerW, l.ChargerEfficiency, l.StandbyW, l.UnplugMin = "mower", bus, 1, 90, 60, 0.9, 0, 17*60
	l.WaitFor = loads.ForSun
	return l
}

var mowerWh = [3]float64{60, 38.549, 1.451}

// under returns a system on a level plane under an even sky, with 200 W of modules and a bank of 1,000 Wh.
func under(list ...loads.Load) *sim.System {
	s := ideal()
	s.Surface.TiltDeg = 0
	s.Loads = list
	return s
}

// suns is days of light from Saturday 1 June, W/m2, by the hour of the day at which each begins: 0 from before the first on.
func suns(days int, byHour map[int]float64) *weather.Year {
	y := bright(24*days, 0, 25)
	for i := range y.GHIWm2 {
		for from, w := range byHour {
			if i == from {
				for j := i; j < len(y.GHIWm2); j++ {
					y.GHIWm2[j], y.DHIWm2[j] = w, w
				}
			}
		}
	}
	return y
}

// begun checks when the sessions of the first load that waits began, h from the start of the run.
func begun(t *testing.T, r *ledger.Run, deadline int, hours ...float64) {
	t.Helper()
	w := r.Waited[0]
	first := r.Hours.End[0].Add(-time.Duration(r.Hours.StepH * float64(time.Hour)))
	var got []float64
	for _, b := range w.Begun {
		got = append(got, b.Sub(first).Hours())
	}
	if len(got) != len(hours) || w.AtDeadline != deadline {
		t.Fatalf("began at %v h, %d of them at the deadline; want %v, %d", got, w.AtDeadline, hours, deadline)
	}
	for i := range got {
		near(t, "begins at h", got[i], hours[i], 1e-9)
	}
}

func TestPacksWaitForSun(t *testing.T) {
	// The lamp asks 50 W all the time. On the first day 100 W/m2 from 6 and 400 W/m2 from 11 on are under 20 and over 60 W at the bus
	// of 200 W of modules, whatever glass and heat take: the packs begin at 11. On the second day it stays at 100 W/m2, and they
	// begin at their deadline, 14.
	s := under(always("lamp", loads.DC, 50), mower(loads.DC))
	s.Bank.CapacityAh *= 10
	r := run(t, s, suns(2, map[int]float64{6: 100, 11: 400, 15: 0, 24 + 6: 100}))
	begun(t, r, 1, 11, 24+14)
	near(t, "waited", r.Waited[0].MeanH, (3+6)/2.0, 1e-9)
	for _, first := range []int{11, 38} {
		for i, wh := range mowerWh {
			near(t, "asked", r.Hours.DCDemandW[first+i], 50+wh, 1e-3) // the hand's digits
			near(t, "served", r.Hours.FlowW[ledger.ServedDC][first+i], 50+wh, 1e-3)
		}
		near(t, "before", r.Hours.DCDemandW[first-1], 50, 1e-9)
		near(t, "after", r.Hours.DCDemandW[first+3], 50, 1e-9)
	}
	near(t, "the packs' energy over the efficiency", r.Loads[1].DemandWh, 2*90/0.9, 1e-9)
	near(t, "demand", r.Total[ledger.Demand], 50*48+200, 1e-9)

	// What other loads ask counts, packs that began before too: of two such mowers, each alone at 60 W beside the lamp, the sun that is
	// over 50 W and under 110 W carries one. The other begins when the first has passed to its taper: in its second hour it asks
	// 38.5 W of the mean, so that 88.5 W of 100 are not all.
	second := mower(loads.DC)
	second.Name = "second"
	s.Loads = append(s.Loads, second)
	s.Bank.StartSOC = 0.5
	r = run(t, s, suns(1, map[int]float64{6: 630}))
	sunW := r.Hours.FlowW[ledger.Drawn][8]
	if !(sunW > 89 && sunW < 109) {
		t.Fatalf("the sun gives %.1f W, the case wants 89 to 109", sunW)
	}
	begun(t, r, 0, 8)
	near(t, "the second", r.Waited[1].Begun[0].Sub(r.Waited[0].Begun[0]).Hours(), 1, 1e-9)
	if r.Waited[1].AtDeadline != 0 {
		t.Error("the second began at the deadline")
	}
	near(t, "the hour of both", r.Hours.DCDemandW[9], 50+mowerWh[1]+mowerWh[0], 1e-3)
}

func TestPacksWaitForCharge(t *testing.T) {
	// From 60 % the bank of 1,000 Wh gains what the array gives: the packs begin with the hour after it came to 80 %.
	l := mower(loads.DC)
	l.WaitFor, l.WaitForSOC, l.AtMin = loads.ForNothing, 0.8, 6*60
	s := under(l)
	s.Bank.StartSOC = 0.6
	r := run(t, s, suns(1, map[int]float64{0: 120}))
	first := 0
	for r.Hours.SOC[first] < 0.8 {
		first++
	}
	if first < 7 || first > 12 {
		t.Fatalf("80 %% at the end of hour %d: the case wants 7 to 12", first)
	}
	begun(t, r, 0, float64(first+1))

	// Without sun it never comes to that: at 14, the deadline, the pack begins; with a deadline of two hours after 06:00, at 8.
	r = run(t, s, suns(1, nil))
	begun(t, r, 1, 14)
	s.Loads[0].DeadlineH = 2
	r = run(t, s, suns(1, nil))
	begun(t, r, 1, 8)
	near(t, "out of the battery", r.Total[ledger.BatteryOut], 100, 1e-3)
}

// TestWaitingCountsFromTheDeadline: with the bank at its cut, packs that are a must lack nothing before 14, and all they ask from
// then on. By hand, 100 Wh from 14 to 16:11.
func TestWaitingCountsFromTheDeadline(t *testing.T) {
	for _, kind := range []loads.Priority{loads.MustHave, loads.CanWait} {
		l := mower(loads.DC)
		l.Priority = kind
		s := under(l)
		s.Bank.StartSOC, s.Bank.DisconnectSOC, s.Bank.ReconnectSOC = 0.1, 0.1, 0.2
		r := run(t, s, suns(1, nil))
		begun(t, r, 1, 14)
		near(t, "unserved", r.Total[ledger.Unserved], 100, 1e-9)
		if len(r.Outages) != 1 || r.Outages[0].Start.Hour() != 14 || r.Outages[0].Cause != ledger.BatteryEmpty {
			t.Errorf("outages %+v", r.Outages)
		}
		want := 0.0
		if kind == loads.MustHave {
			want = 3 // steps of an hour in which it asks
		}
		near(t, "hours without power", r.Answer.HoursWithoutPower, want, 1e-9)
		if got := r.Answer.DaysWithoutPower; float64(got) != min(1, want) {
			t.Errorf("%d days without power", got)
		}
	}

	// With sun the chargers wait all the same while the loads are cut.
	l := mower(loads.DC)
	s := under(l, always("lamp", loads.DC, 1))
	s.Bank.StartSOC, s.Bank.DisconnectSOC, s.Bank.ReconnectSOC = 0.1, 0.1, 0.35
	r := run(t, s, suns(1, map[int]float64{8: 400})) // some 65 W: 250 Wh take four hours
	back := 0
	for r.Hours.SOC[back] < 0.35 {
		back++
	}
	if back < 10 || back > 12 {
		t.Fatalf("the loads come back in hour %d: the case wants 10 to 12", back)
	}
	if first := r.Waited[0].Begun[0].Hour(); first != back && first != back+1 || r.Waited[0].AtDeadline != 0 {
		t.Errorf("began at %d, the loads came back in hour %d", first, back)
	}
	if wh := r.Total[ledger.Unserved]; wh > 14 { // the lamp
		t.Errorf("%.1f Wh unserved", wh)
	}

	// An outage amid the charging: it goes on as though it were served, and what the outage took is unserved. 20 Wh are left above
	// the cut: 20 of the first hour's 60 are served.
	l.WaitFor, l.WaitForSOC = loads.ForNothing, 0.5
	s = under(l)
	s.Bank.DisconnectSOC, s.Bank.ReconnectSOC = 0.5, 0.6
	pack := s.Bank.Pack(0)
	s.Bank.StartSOC = 0.5 + 20/(pack.OpenV(0.5*s.Bank.CapacityAh)*s.Bank.CapacityAh) // the voltage hardly changes over 2 %
	r = run(t, s, suns(1, nil))
	begun(t, r, 0, 8)
	near(t, "served", r.Total[ledger.Served], 20, 0.05)
	near(t, "unserved", r.Total[ledger.Unserved], 80, 0.05)
}

// TestWaitingSessions: on Tuesdays and Fridays of a year that begins on a Wednesday there are 104 sessions.
func TestWaitingSessions(t *testing.T) {
	l := mower(loads.DC)
	l.When.Days, _ = clock.ParseDays([]string{"tue", "fri"})
	s := under(l)
	y := bright(365*24, 300, 15)
	y.Start = time.Date(2025, time.January, 1, 0, 0, 0, 0, time.UTC) // at the pole, under light of our own
	p := sim.Prepare(s, y)
	r, err := p.Run(false)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(r.Waited[0].Begun); n != 104 {
		t.Errorf("%d sessions, want 104", n)
	}
	near(t, "demand", r.Loads[0].DemandWh, 104*100, 1e-6)
	near(t, "served", r.Total[ledger.Served], 104*100, 1e-6)
}

// TestWaitingOverYearsEnd: plugged in at 20:00 and waiting till 08:00, a session belongs to the run in which its deadline, 05:00, lies,
// and one whose charging the end of a run cuts goes on in the next.
func TestWaitingOverYearsEnd(t *testing.T) {
	l := mower(loads.DC)
	l.AtMin, l.UnplugMin = 20*60, 8*60
	s := under(l)
	y := suns(2, nil)
	p := sim.Prepare(s, y)
	r, _, err := p.RunFrom(stateOf(t, p), true)
	if err != nil {
		t.Fatal(err)
	}
	begun(t, r, 2, 5, 24+5)
	l.DeadlineH = 3 // at 23:00: an hour of the last session falls into the run
	s = under(l)
	p = sim.Prepare(s, y)
	r, end, err := p.RunFrom(stateOf(t, p), true)
	if err != nil {
		t.Fatal(err)
	}
	begun(t, r, 2, 23, 47)
	near(t, "first run", r.Total[ledger.Demand], 100+mowerWh[0], 1e-3)
	near(t, "by load", r.Loads[0].DemandWh, r.Total[ledger.Demand], 1e-9)
	if r, _, err = p.RunFrom(end, true); err != nil {
		t.Fatal(err)
	}
	near(t, "second run", r.Total[ledger.Demand], 200, 1e-3)
	near(t, "its first hour", r.Hours.DCDemandW[0], mowerWh[1], 1e-3)
}

func stateOf(t *testing.T, p *sim.Prepared) sim.State {
	t.Helper()
	st, _, _, err := p.Start()
	if err != nil {
		t.Fatal(err)
	}
	return st
}

// onAC puts the mower behind an inverter of 500 W that draws 10 W idle and loses nothing else.
func onAC(mode inverter.Mode, list ...loads.Load) *sim.System {
	s := under(list...)
	s.Bank.CapacityAh *= 10
	v := inverter.Default()
	v.Mode, v.RatedW, v.IdleW, v.ProportionalLoss, v.ResistiveLoss, v.CutoffV = mode, 500, 10, 0.1, 0, 0.5
	s.Inverter = &v
	return s
}

func TestWaitingWakesTheInverter(t *testing.T) {
	// On demand it runs for the 2.186 h of the charging: 21.86 Wh of idle, and a tenth of 100 Wh is lost.
	s := onAC(inverter.OnDemand, mower(loads.AC))
	y := suns(1, map[int]float64{10: 300})
	r := run(t, s, y)
	begun(t, r, 0, 10)
	near(t, "idle", r.Total[ledger.InverterIdle], 21.86, 1e-2)
	near(t, "loss", r.Total[ledger.InverterLoss], 10, 1e-9)
	near(t, "served", r.Total[ledger.ServedAC], 100, 1e-9)
	near(t, "peak", r.Answer.CoincidentPeakW, 60, 1e-9)
	near(t, "need", r.Months[0].NeedWh, 100+10+21.86, 1e-2)

	// Behind a timetable to 12:00 the rest, 1.451 Wh of the third hour, is withheld, and so is all where it never fits.
	s = onAC(inverter.Timetable, mower(loads.AC))
	s.Inverter.When.Hours = []clock.Span{{From: 8 * 60, To: 12 * 60}}
	r = run(t, s, y)
	begun(t, r, 0, 10)
	near(t, "withheld", r.Total[ledger.Withheld], mowerWh[2], 1e-3)
	near(t, "minutes off by rule", r.Days[0].OffByRuleMin, 60*(2.186-2), 0.1)
	s.Inverter.When.Hours[0].To = 9 * 60
	r = run(t, s, y)
	begun(t, r, 1, 14)
	near(t, "withheld", r.Total[ledger.Withheld], 100, 1e-9)

	// Over the rating with what runs beside it, it trips the inverter: the heater of 460 W is off for two hours, and the minute in which
	// it starts again. In the third hour the taper begins with 60 exp(-1.8) = 9.9 W.
	heater := always("heater", loads.AC, 460)
	heater.Class = loads.Resistive
	s = onAC(inverter.AlwaysOn, mower(loads.AC), heater)
	s.Array.InParallel, s.Controller.MaxCurrentA = 20, 1000
	r = run(t, s, y)
	begun(t, r, 0, 10)
	near(t, "unserved", r.Total[ledger.Unserved], 2*460+98.549+(460+mowerWh[2])/60, 1e-2)
	for _, o := range r.Outages {
		if o.Cause != ledger.Overload {
			t.Errorf("outage %+v", o)
		}
	}

	// So it does where only its volt-amperes are over, 400 and 60 / 0.5 of 500, whether or not a surge rating is known.
	l := mower(loads.AC)
	l.PowerFactor = 0.5
	heater.PowerW = 400
	for _, surgeW := range []float64{0, 1000} {
		s = onAC(inverter.AlwaysOn, l, heater)
		s.Array.InParallel, s.Controller.MaxCurrentA, s.Inverter.SurgeW = 20, 1000, surgeW
		r = run(t, s, y)
		near(t, "unserved", r.Total[ledger.Unserved], 2*400+98.549+(400+mowerWh[2])/60, 1e-2)
		near(t, "peak", r.Answer.CoincidentPeakVA, 520, 1e-9)
	}
	// Never on with it, by a rule, the two do not add up.
	s.Loads[0].NotWith = []string{"heater"}
	r = run(t, s, y)
	near(t, "unserved", r.Total[ledger.Unserved], 0, 1e-9)
}

func TestWaitingAndSearch(t *testing.T) {
	// The radio asks 5 W and never wakes an inverter that wants 20; the packs do, and the radio gets its share. In their third hour
	// they begin with 60 exp(-1.8) = 9.9 W, which with the radio's 5 wakes nothing.
	s := onAC(inverter.Search, mower(loads.AC), always("radio", loads.AC, 5))
	s.Inverter.WakesAtW, s.Inverter.SearchW = 20, 1
	r := run(t, s, suns(1, map[int]float64{10: 300}))
	begun(t, r, 0, 10)
	near(t, "served", r.Total[ledger.ServedAC], 100-mowerWh[2]+5*2, 1e-2)
	near(t, "withheld", r.Total[ledger.Withheld], mowerWh[2]+5*22, 1e-2)
	near(t, "idle", r.Total[ledger.InverterIdle], 10*2+22, 1e-9)
	if note := "search mode: these never wake the inverter alone, at 20 W: radio (5 W, kept off 22 of 24 h)"; !slices.Contains(r.Notes, note) {
		t.Errorf("notes %q, want %q", r.Notes, note)
	}

	// So do dull spells, which begin with the run.
	spells, err := sim.Prepare(s, suns(1, map[int]float64{10: 300})).Spells([]float64{0.1})
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(spells.Notes, r.Notes) {
		t.Errorf("notes of the spells %q, of the run %q", spells.Notes, r.Notes)
	}

	// One that wakes at 70 W is not woken by 60 + 5 W: nothing is served.
	s.Inverter.WakesAtW = 70
	r = run(t, s, suns(1, map[int]float64{10: 300}))
	near(t, "served", r.Total[ledger.ServedAC], 0, 1e-9)
	near(t, "withheld", r.Total[ledger.Withheld], 100+5*24, 1e-9)
	if note := "search mode: these never wake the inverter alone, at 70 W: radio (5 W, kept off 24 of 24 h)"; !slices.Contains(r.Notes, note) {
		t.Errorf("notes %q, want %q", r.Notes, note)
	}
}

func TestWaitingAndAutoOff(t *testing.T) {
	// Whoever plugs the packs in at 8 wakes the inverter, which goes off 4 h after; the radio of 5 W does not hold it on. The sun comes at
	// 10: the packs hold it off while they charge and 4 h after, by hand from 8 to 12.186 + 4 = 16.186.
	s := onAC(inverter.AlwaysOn, mower(loads.AC), always("radio", loads.AC, 5))
	s.Inverter.AutoOffW, s.Inverter.AutoOffH = 10, 4
	y := suns(3, map[int]float64{10: 300, 18: 0, 34: 300, 42: 0, 58: 300})
	r := run(t, s, y)
	begun(t, r, 0, 10, 34, 58)
	day := r.Hours.FlowW[ledger.ServedAC][24:48]
	var servedWh float64
	for _, w := range day {
		servedWh += w
	}
	near(t, "served on the second day", servedWh, 100+5*8.186, 1e-2)
	// With 3 h, from the end of the hour of the visit to 12, the inverter is off when the sun comes at 13; at the deadline the packs
	// find nothing, and it is unserved.
	s.Inverter.AutoOffH = 3
	r = run(t, s, suns(3, map[int]float64{13: 300, 18: 0, 37: 300, 42: 0, 61: 300}))
	begun(t, r, 3, 14, 38, 62)
	servedWh = 0
	for _, w := range r.Hours.FlowW[ledger.ServedAC][24:48] {
		servedWh += w
	}
	near(t, "served on the second day", servedWh, 5*4, 1e-9)
	if r.Outages[len(r.Outages)-1].Cause != ledger.AutoOff {
		t.Errorf("outages %+v", r.Outages)
	}
}

// TestWaitingIsFirstToGo: below half the charge the packs are left off, do not begin before their deadline, and are withheld.
func TestWaitingIsFirstToGo(t *testing.T) {
	l := mower(loads.DC)
	l.Priority, l.BelowSOC = loads.FirstToGo, 0.5
	s := under(l)
	s.Bank.StartSOC, s.Bank.DisconnectSOC, s.Bank.ReconnectSOC = 0.4, 0.1, 0.2
	r := run(t, s, suns(1, map[int]float64{8: 20}))
	begun(t, r, 1, 14)
	near(t, "withheld", r.Total[ledger.Withheld], 100, 1e-9)
	s.Bank.StartSOC = 0.9
	r = run(t, s, suns(1, map[int]float64{8: 20}))
	begun(t, r, 0, 8)
	near(t, "withheld", r.Total[ledger.Withheld], 0, 1e-9)
}

// TestBooksOfWaiting: the laws of books hold for random systems in which packs wait, whatever inverter, rule, bank and step.
func TestBooksOfWaiting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := byRapid{t}
		y, zone := randomYear(fromSeed(rapid.Uint64().Draw(t, "weather")), rapid.IntRange(1, 25).Draw(t, "days"))
		s := randomSystem(d, zone)
		someWait(d, s)
		if chance(d, "pwm", 20) {
			s.Controller.Kind = controller.PWM
		}
		if chance(d, "backup", 20) {
			c := backup.Default()
			c.PowerW, c.StartSOC, c.StopSOC = s.RatedW(), d.float("start", 0.1, 0.5), d.float("stop", 0.6, 1)
			if chance(d, "carried", 50) {
				c.Carried, _ = clock.ParseSeason([]string{"3 Jun to 5 Jun"}) // inSteps begins with June
			}
			s.Backup = &c
		}
		if v := s.Inverter; v != nil {
			if chance(d, "sag", 30) {
				v.CutoffV = s.Bank.NominalV * d.float("cut-off", 0.8, 0.98)
			}
			if chance(d, "search", 30) {
				v.Mode, v.WakesAtW, v.SearchW = inverter.Search, v.RatedW*d.float("wakes", 0.01, 0.5), v.IdleW/2
			}
			if v.Mode != inverter.OnDemand && chance(d, "auto-off", 40) {
				v.AutoOffW, v.AutoOffH = v.RatedW*d.float("auto-off", 0.01, 0.5), d.float("hours", 0.2, 12)
				if chance(d, "wakes daily", 30) {
					v.WakeAtMin = d.whole("wake", 1, 1440)
				}
			}
			if chance(d, "short rating", 40) {
				v.Rating30MinW = v.RatedW * d.float("short", 1, 2)
			}
		}
		if f := faultsOf(s); f != nil {
			t.Skip("the corner of the draws is refused: ", f)
		}
		r, err := runHours(s, inSteps(y, rapid.SampledFrom([]int{60, 60, 30, 10}).Draw(t, "step")))
		if err != nil {
			t.Fatal(err)
		}
		for _, line := range lawsBroken(s, r) {
			t.Error(line)
		}
	})
}

// TestWaitingIsNotBlamed: packs that are plugged in on Saturday at 8 and wait till 14 did not empty the battery by noon; those
// whose deadline was at 9 had a part in it.
func TestWaitingIsNotBlamed(t *testing.T) {
	for deadlineH, want := range map[float64]string{0: "", 1: "mower"} {
		l := mower(loads.DC)
		l.When.Days, l.DeadlineH = 1<<time.Saturday, deadlineH
		s := under(always("lamp", loads.DC, 6), l)
		s.Bank.StartSOC = 0.08 // some 12 h of the lamp
		p := sim.Prepare(s, suns(14, nil))
		r, err := p.Run(true)
		if err != nil {
			t.Fatal(err)
		}
		p.Explain(r)
		if o := r.Outages[0]; o.Start.Hour() < 9 || o.Start.Hour() > 13 || o.Chain.Load != want {
			t.Errorf("deadline after %v h: the outage of %v is put to %q, want %q", deadlineH, o.Start, o.Chain.Load, want)
		}
	}
}

func TestWaitingDoesNotAllocate(t *testing.T) {
	s := onAC(inverter.Search, mower(loads.AC), mower(loads.DC), always("radio", loads.AC, 5))
	s.Inverter.WakesAtW, s.Inverter.AutoOffW = 20, 10
	s.Loads[0].Priority, s.Loads[0].BelowSOC = loads.FirstToGo, 0.5
	loop := sim.Prepare(s, suns(60, map[int]float64{10: 300, 100: 20, 500: 300})).Loop()
	if err := loop(); err != nil { // the lists of outages grow
		t.Fatal(err)
	}
	if n := testing.AllocsPerRun(3, func() { _ = loop() }); n > 0 {
		t.Errorf("%v allocations in a run", n)
	}
}

// TestSpellsOfWaiting: a spell begins with the packs where the ordinary run has them, and a walker may be used again.
func TestSpellsOfWaiting(t *testing.T) {
	s := onAC(inverter.OnDemand, mower(loads.AC), always("lamp", loads.DC, 20))
	s.Bank.CapacityAh /= 5
	y := bright(24*40, 0, 25)
	for i := range y.GHIWm2 {
		if h := i % 24; h >= 7 && h < 18 {
			y.GHIWm2[i], y.DHIWm2[i] = 300, 300
		}
	}
	spells, err := sim.Prepare(s, y).Spells([]float64{0.2})
	if err != nil {
		t.Fatal(err)
	}
	a, b := sim.Dull{Ends: make([]sim.DullEnd, 6)}, sim.Dull{Ends: make([]sim.DullEnd, 6)}
	w := spells.Walker()
	for date := range spells.Dates {
		if err := w.Walk(date, 0, &a); err != nil {
			t.Fatal(err)
		}
		if err := w.Walk(date, 0, &b); err != nil {
			t.Fatal(err)
		}
		if a.Ends[5] != b.Ends[5] {
			t.Fatalf("%v: %+v, again %+v", spells.Dates[date], a.Ends, b.Ends)
		}
	}
	if a.Ends[5].LowestSOC >= 0.9 {
		t.Errorf("the spell does nothing: %+v", a.Ends)
	}
}

// someWait adds one to three loads of packs that wait.
func someWait(d drawer, s *sim.System) {
	for k := range d.whole("waiting", 1, 3) {
		l := loads.New(loads.Packs)
		l.Name, l.Priority = string(rune('p'+k)), loads.Priority(d.whole("priority", 0, 2))
		if s.Inverter == nil || chance(d, "dc", 30) {
			l.Bus = loads.DC
		}
		if l.Priority == loads.FirstToGo {
			l.BelowSOC = d.float("below", s.Bank.DisconnectSOC+0.01, 0.99)
		}
		l.ChargerPowerW = s.RatedW() * d.float("charger", 0.02, 0.6)
		l.Count, l.Chargers = d.whole("count", 1, 4), d.whole("chargers", 1, 2)
		l.AtMin = d.whole("at", 0, 1439)
		l.UnplugMin = (l.AtMin + d.whole("for", 300, 1430)) % 1440
		l.PackEnergyWh = l.ChargerPowerW * d.float("hours", 0.1, 0.8)
		l.StandbyW = l.ChargerPowerW * d.float("standby", 0, 0.02)
		if chance(d, "by charge", 50) {
			l.WaitForSOC = d.float("wait", 0.05, 1)
		} else {
			l.WaitFor = loads.ForSun
		}
		if chance(d, "rule", 20) {
			l.NotWith = []string{s.Loads[0].Name}
		}
		s.Loads = append(s.Loads, l)
	}
}
