package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"tideover/sim/ledger"
	"tideover/sim/precheck"
)

// mostDraws is how many lines the ranking takes.
const mostDraws = 6

// draws ranks what draws, the inverter's idle and the standby among the loads.
func draws(b *strings.Builder, h Header, r *ledger.Run) {
	const labelW, nameW = 16, 34
	list := precheck.DrawsOf(r)
	label := "Draws, Wh a day "
	if h.Beside != nil {
		list, label = h.Beside.Draws, "Wh a day wanted "
	}
	show := list
	if len(list) > mostDraws {
		show = list[:mostDraws-1]
	}
	put := func(name string, wh, idleWh float64) {
		text := left(name, nameW) + right(number(wh, 0), 7)
		if idleWh >= 0.5 {
			text += " + " + number(idleWh, 0) + " of inverter idle"
		}
		b.WriteString(cut(label+text, columns) + "\n")
		label = strings.Repeat(" ", labelW)
	}
	for _, d := range show {
		name := cut(d.Name, nameW-5)
		if d.Bus != "" {
			name += " (" + strings.ToUpper(plain(d.Bus)) + ")"
		}
		put(name, d.Wh, d.IdleWh)
	}
	var wh, idleWh float64
	for _, d := range list[len(show):] {
		wh, idleWh = wh+d.Wh, idleWh+d.IdleWh
	}
	if n := len(list) - len(show); n > 0 {
		put(fmt.Sprintf("and %d more", n), wh, idleWh)
	}
}

// surplus is a whole number with its sign; 0 has none.
func surplus(wh float64) string {
	if s := signed(wh, 0); s != "+0" {
		return s
	}
	return "0"
}

// carried is how long a battery lasts, in days.
func carried(days float64) string {
	switch {
	case math.IsInf(days, 1):
		return "no limit"
	case days >= 99.95:
		return number(days, 0) + " days"
	}
	return number(days, 1) + " days"
}

// handSum writes the hand sum, what the run says, and the way from one to the other.
func handSum(b *strings.Builder, x *precheck.Beside, r *ledger.Run) {
	a := &x.Hand
	h := &a.Hand
	rule := &h.Rule
	paragraph(b, "", fmt.Sprintf("The hand sum: %s W x %s sun hours x %s = %s Wh on an average day; a grey day %s %% of it (%s to %s); "+
		"battery %s Wh x %s = %s Wh. Common practice, no source. It leaves out the inverter: one left on with nothing plugged in was measured at %s Wh in 24 h. "+
		"Below: Wh a day left over or lacking, and how long a full battery carries that.",
		number(h.ArrayW, 0), number(rule.SunHours, 0), number(rule.Factor, 1), number(h.HarvestWh[precheck.AverageSun], 0),
		number(50*(rule.GreyLow+rule.GreyHigh), 0), number(100*rule.GreyLow, 0), number(100*rule.GreyHigh, 0),
		number(h.NominalWh, 0), number(h.Depth, 2), number(h.UsableWh, 0),
		number(rule.InverterWhDay, 0)))
	b.WriteString(left("Wh a day", 18) + right("asked", 8))
	for s, name := range []string{"average sun", "grey day", "no sun"} {
		b.WriteString(right(name+" "+number(h.HarvestWh[s], 0), 18))
	}
	b.WriteString("\n")
	names := []string{"low day", "usual day", "all packs charged"}
	if !h.Asked.Packs {
		names[precheck.BusyDay] = "busiest day"
	}
	for k, name := range names {
		b.WriteString(left(name, 18) + right(number(h.Asked.Wh[k], 0), 8))
		for _, c := range h.Table[k] {
			b.WriteString(right(surplus(c.LeftWh), 8) + right(carried(c.Days), 10))
		}
		b.WriteString("\n")
	}
	b.WriteString("\n")
	paragraph(b, "", says(a, r))
	steps(b, a, r)
	paragraph(b, "", assumption(a, r))
}

// says is what the run says, in the terms of the hand sum.
func says(a *precheck.Against, r *ledger.Run) string {
	w := &a.Window
	s := fmt.Sprintf("The run: %s without power, lowest charge %s %%; %s could give %s Wh a day at the bus",
		count(r.Answer.DaysWithoutPower, "day"), number(100*r.Answer.LowestSOC, 1), stretch(w, r), number(w.HarvestWh, 0))
	if w.BarredWh >= 0.5 {
		s += ", of which " + barredBy(w.HeatWh, w.BarredWh) + " refused " + number(w.BarredWh, 0)
	}
	return s + "."
}

// stretch names the window.
func stretch(w *precheck.Window, r *ledger.Run) string {
	switch {
	case w.Spell:
		return "the " + count(int(w.Days+0.5), "day") + " from " + date(w.From) + " to " + date(w.To.Add(-time.Minute)) + ", the worst spell,"
	case w.Month >= 0:
		return r.Months[w.Month].Month.String() + ", the design month,"
	}
	return "the " + count(int(w.Days+0.5), "day") + " of the run"
}

func date(t time.Time) string { return t.Format("2 Jan 2006") }

// short is the window in one or two words.
func short(w *precheck.Window, r *ledger.Run) string {
	switch {
	case w.Spell:
		return "the spell"
	case w.Month >= 0:
		return r.Months[w.Month].Month.String()
	}
	return "the run"
}

// steps writes the falling steps from the hand sum to the run.
func steps(b *strings.Builder, a *precheck.Against, r *ledger.Run) {
	w, h := &a.Window, &a.Hand
	name := short(w, r)
	line := func(text, wh string) { b.WriteString(cut("  "+left(text, 56)+right(wh, 9), columns) + "\n") }
	b.WriteString("From the hand sum to " + name + ", Wh a day:\n")
	start := "a usual day with average sun leaves"
	if w.Spell {
		line("a usual day with average sun leaves", surplus(h.Table[precheck.UsualDay][precheck.AverageSun].LeftWh))
		start = fmt.Sprintf("that, with %s Wh of battery over %s, leaves", number(h.UsableWh, 0), count(int(w.Days+0.5), "day"))
	}
	line(start, surplus(a.HandLeftWh))
	words := [precheck.NTerms]string{
		precheck.GapSunHours: fmt.Sprintf("sun: %s has %s hours a day on the plane, not %s", monthOf(w, r), number(w.MonthSunHours, 1), number(h.Rule.SunHours, 0)),
		precheck.GapDull:     fmt.Sprintf("sun: the spell itself has %s hours a day", number(w.SunHours, 1)),
		precheck.GapLosses:   "losses of array, battery, conversion: not " + number(100*(1-h.Rule.Factor), 0) + " % but " + number(100*a.LostShare, 0) + " %",
		precheck.GapRating:   "over the controller's rating, or not started",
		precheck.GapFrost:    "charge refused for " + barredBy(w.HeatWh, w.BarredWh),
		precheck.GapFull:     "the battery could not take it: full, or at its limit",
		precheck.GapStore:    "battery: it " + gave(w),
		precheck.GapBackup:   "backup charger: it gave",
		precheck.GapIdle:     "inverter idle",
		precheck.GapStandby:  "standby of controller, box, board",
		precheck.GapLoads:    fmt.Sprintf("loads: %s asks %s Wh a day", name, number(w.AskedWh, 0)),
	}
	for t, wh := range a.GapWh {
		if s := surplus(wh); s != "0" {
			line(words[t], s)
		}
	}
	line(name+" leaves", surplus(w.LeftWh()))
}

// monthOf names the month of the window.
func monthOf(w *precheck.Window, r *ledger.Run) string {
	if w.Month >= 0 {
		return r.Months[w.Month].Month.String()
	}
	return "the run"
}

// assumption names the one assumption that made the difference, and the next where it alone does not turn the sum.
func assumption(a *precheck.Against, r *ledger.Run) string {
	if r.Why().Shortage == ledger.Power {
		drawn, rated, unit := r.Answer.CoincidentPeakW, r.InverterRatedW, "W"
		if va := r.Answer.CoincidentPeakVA; drawn <= rated && va > r.InverterVA {
			drawn, rated, unit = va, r.InverterVA, "VA"
		}
		return fmt.Sprintf("The one assumption: that Wh are enough. The loads that may run together draw %s %s, the inverter's rating is %s %[2]s; the hand sum adds Wh and never sees that.",
			number(drawn, 0), unit, number(rated, 0))
	}
	if len(a.Named) == 0 {
		return "Hand sum and run do not differ."
	}
	bad, yes := r.Answer.DaysWithoutPower > 0, a.HandLeftWh >= 0
	first := because(a, a.Named[0], r)
	switch {
	case !bad && yes:
		both := "Both say that it carries"
		if w := &a.Window; w.BackupWh >= 0.5 {
			both += fmt.Sprintf(", the run with its backup charger: %s Wh a day in %s, %s", number(w.BackupWh, 0), short(w, r), ranFor(r))
		}
		return both + ". They differ most in the assumption of " + first + "."
	case bad && !yes:
		return "Both say that it does not carry. They differ most in the assumption of " + first + "."
	case !bad:
		return "The hand sum is too dark, and the one assumption that makes it so is " + first + "."
	}
	s := "The one assumption that made the difference: " + first + "."
	left := a.HandLeftWh + a.GapWh[a.Named[0]]
	if len(a.Named) == 1 && left >= 0 {
		return s + " With that put right the hand sum leaves " + surplus(left) + " Wh a day and still says yes, and so does " + short(&a.Window, r) +
			" taken whole: what lacked, lacked at times within it."
	}
	if len(a.Named) == 1 {
		return s + " With that put right the hand sum leaves " + surplus(left) + " Wh a day and says no as well."
	}
	s += " With that put right the hand sum leaves " + surplus(left) + " Wh a day and still says yes; what turns it then is " + because(a, a.Named[1], r)
	if len(a.Named) > 2 {
		s += ", with " + because(a, a.Named[2], r)
	}
	return s + "."
}

// gave says what the battery held out with in a spell.
func gave(w *precheck.Window) string {
	if w.TakenWh < 0 {
		return "began low and took " + number(-w.TakenWh*w.Days, 0) + " Wh"
	}
	return "gave " + number(w.TakenWh*w.Days, 0) + " Wh"
}

// because says a term as an assumption and what it is worth.
func because(a *precheck.Against, t precheck.Term, r *ledger.Run) string {
	w, rule := &a.Window, &a.Hand.Rule
	wh := a.GapWh[t]
	worth := number(math.Abs(wh), 0) + " Wh a day less"
	if wh > 0 {
		worth = number(wh, 0) + " Wh a day more"
	}
	switch t {
	case precheck.GapSunHours:
		return fmt.Sprintf("%s sun hours a day, where %s has %s on this plane (%s)", number(rule.SunHours, 0), monthOf(w, r), number(w.MonthSunHours, 1), worth)
	case precheck.GapDull:
		return fmt.Sprintf("dull days that come one by one, where %s in a row had %s sun hours a day against the month's %s (%s)",
			count(int(w.Days+0.5), "day"), number(w.SunHours, 1), number(w.MonthSunHours, 1), worth)
	case precheck.GapLosses:
		return fmt.Sprintf("a loss of %s %%, where array, battery and conversion lost %s %% (%s)", number(100*(1-rule.Factor), 0), number(100*a.LostShare, 0), worth)
	case precheck.GapRating:
		return "a controller that takes all that the array gives (" + worth + ")"
	case precheck.GapFrost:
		in := map[string]string{"cold": "any frost", "heat": "any heat", "cold or heat": "any frost and heat"}
		return "a battery that takes charge in " + in[barredBy(w.HeatWh, w.BarredWh)] + " (" + worth + ")"
	case precheck.GapFull:
		return "a battery with room for every bright day (" + worth + ")"
	case precheck.GapStore:
		return fmt.Sprintf("%s Wh in the battery to begin with, where it %s in %s (%s)", number(a.Hand.UsableWh, 0), gave(w), count(int(w.Days+0.5), "day"), worth)
	case precheck.GapBackup:
		return "no backup charger, where one gave " + number(wh, 0) + " Wh a day"
	case precheck.GapIdle:
		return fmt.Sprintf("an inverter that draws nothing by itself, where its idle takes %s Wh a day beside the %s that the loads ask", number(w.IdleWh, 0), number(w.AskedWh, 0))
	case precheck.GapStandby:
		return fmt.Sprintf("controller and box that draw nothing, where they take %s Wh a day", number(w.StandbyWh, 0))
	default:
		return fmt.Sprintf("a usual day's %s Wh for the loads, where %s asks %s Wh a day", number(a.Hand.Asked.Wh[precheck.UsualDay], 0), short(w, r), number(w.AskedWh, 0))
	}
}

// usable writes the steps from nameplate to socket.
func usable(b *strings.Builder, x *precheck.Beside) {
	u := &x.Usable
	line := func(text, takes, leaves string) {
		b.WriteString(left(text, 48) + right(takes, 9) + right(leaves, 9) + "\n")
	}
	line("Usable capacity, Wh, each loss once", "takes", "leaves")
	line("nameplate", "", number(u.NominalWh, 0))
	age := "as new"
	if u.AgeShare != 1 {
		age = "at " + number(100*u.AgeShare, 0) + " % of the nameplate's capacity"
	}
	for l, text := range [precheck.NLosses]string{
		precheck.ByDepth:    "depth: below the cut-off at " + number(100*u.CutSOC, 0) + " %",
		precheck.ByCold:     "cold: at " + number(u.ColdC, 1) + " C, the coldest, cut off at " + number(100*u.ColdSOC, 0) + " %",
		precheck.ByAge:      "age: counted " + age,
		precheck.ByRate:     "rate: at the mean draw of " + number(u.LoadW+u.InverterW+u.StandbyW, 0) + " W",
		precheck.ByInverter: "inverter: idle and conversion, mean " + number(u.InverterW, 1) + " W",
		precheck.ByStanding: "controller, box, board: " + number(u.StandbyW, 1) + " W",
	} {
		line(text, number(u.LossWh[l], 0), number(u.LeftWh[l], 0))
	}
	share := 0.0
	if u.NominalWh > 0 {
		share = u.SocketWh() / u.NominalWh
	}
	text := fmt.Sprintf("At the socket %s Wh, %s %% of the nameplate", number(u.SocketWh(), 0), number(100*share, 0))
	if !math.IsInf(x.SocketDays, 1) {
		text += fmt.Sprintf(": a usual day's loads for %s days without sun, where the hand sum says %s", number(x.SocketDays, 1),
			number(x.Hand.Hand.Table[precheck.UsualDay][precheck.NoSun].Days, 1))
	}
	worn := x.Hand.Hand.Rule.WornShare
	text += ". Ageing is not modelled: at "
	if u.AgeShare > worn {
		text += fmt.Sprintf("%s %% of its capacity, the usual end of life, the battery gives %s Wh.", number(100*worn, 0), number(x.WornSocketWh, 0))
	} else {
		text += fmt.Sprintf("%s %% of its capacity the battery is at the usual end of life or past it, %s %%.", number(100*u.AgeShare, 0), number(100*worn, 0))
	}
	paragraph(b, "", text)
}

// besideOf is what stands beside a run, for programs. Of what needs no battery no days are told.
func besideOf(x *precheck.Beside) object {
	a, u := &x.Hand, &x.Usable
	h, w := &a.Hand, &a.Window
	rule := &h.Rule
	var days []object
	for k, name := range []string{"low", "usual", "busy"} {
		day := object{{"day", name}, {"asked_wh", six(h.Asked.Wh[k])}}
		for s, name := range []string{"average_sun", "grey_day", "no_sun"} {
			c := h.Table[k][s]
			cell := object{{"left_wh", six(c.LeftWh)}}
			if !math.IsInf(c.Days, 1) {
				cell = append(cell, pair{"days_carried", six(c.Days)})
			}
			day = append(day, pair{name, cell})
		}
		days = append(days, day)
	}
	var gaps object
	for t, wh := range a.GapWh {
		gaps = append(gaps, pair{precheck.Term(t).String(), six(wh)})
	}
	named := []string{}
	for _, t := range a.Named {
		named = append(named, t.String())
	}
	var losses []object
	for l := range u.LossWh {
		losses = append(losses, object{{"loss", precheck.Loss(l).String()}, {"takes_wh", six(u.LossWh[l])}, {"left_wh", six(u.LeftWh[l])}})
	}
	draws := make([]object, len(x.Draws))
	for i, d := range x.Draws {
		draws[i] = object{{"name", d.Name}, {"bus", d.Bus}, {"wh_day", six(d.Wh)}, {"standby_wh_day", six(d.StandbyWh)},
			{"forced_idle_wh_day", six(d.IdleWh)}}
	}
	socket := object{{"nameplate_wh", six(u.NominalWh)}, {"coldest_c", six(u.ColdC)}, {"steps", losses}, {"socket_wh", six(u.SocketWh())},
		{"worn_socket_wh", six(x.WornSocketWh)}}
	if !math.IsInf(x.SocketDays, 1) {
		socket = append(socket, pair{"usual_days", six(x.SocketDays)})
	}
	return object{
		{"hand_sum", object{
			{"rule", object{{"factor", six(rule.Factor)}, {"sun_hours", six(rule.SunHours)}, {"grey_share_low", six(rule.GreyLow)},
				{"grey_share_high", six(rule.GreyHigh)}, {"inverter_wh_day", six(rule.InverterWhDay)}, {"origin", "common practice"}}},
			{"array_w", six(h.ArrayW)}, {"nameplate_wh", six(h.NominalWh)}, {"depth", six(h.Depth)}, {"usable_wh", six(h.UsableWh)},
			{"harvest_wh", object{{"average_sun", six(h.HarvestWh[precheck.AverageSun])}, {"grey_day", six(h.HarvestWh[precheck.GreySun])},
				{"no_sun", six(h.HarvestWh[precheck.NoSun])}}},
			{"packs", h.Asked.Packs}, {"days", days},
			{"against", object{
				{"from", stamp(w.From)}, {"to", stamp(w.To)}, {"days", six(w.Days)}, {"spell", w.Spell},
				{"sun_hours", six(w.SunHours)}, {"month_sun_hours", six(w.MonthSunHours)},
				{"harvest_wh_day", six(w.HarvestWh)}, {"asked_wh_day", six(w.AskedWh)},
				{"hand_left_wh_day", six(a.HandLeftWh)}, {"gaps_wh_day", gaps}, {"run_left_wh_day", six(w.LeftWh())}, {"named", named},
			}},
		}},
		{"usable_capacity", socket},
		{"draws", draws},
	}
}
