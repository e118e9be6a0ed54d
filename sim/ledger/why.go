package ledger

// Shortage is what kind of trouble a run shows.
type Shortage int

// The kinds.
const (
	NoShortage Shortage = iota
	Deficit             // the design month's harvest cannot pay the month's need
	Cold                // most days are put to charge that cold refused, or the harvest could pay but for it
	Power               // trips took most of the days without power
	Storage             // it could pay: the store is too small for the dull spell
	Heat                // as Cold, where heat refused the most of it
)

var shortageWords = [...]string{"none", "deficit", "cold", "power", "storage", "heat"}

// String returns the kind in a word.
func (s Shortage) String() string { return shortageWords[s] }

// Why is the run's answer to: more array, or more battery? It goes by the causes of the days without power: what the design
// month could give counts only for what trips and temperature leave.
type Why struct {
	Shortage   Shortage
	Beside     Shortage // for Power: what the days without power show that no trip took
	Left       Shortage // where Shortage or Beside is Cold or Heat: what a battery neither cold nor hot would leave
	PowerDays  int      // days without power put to sag, overload and auto-off
	BarredDays int      // put to charge that cold or heat refused
	OtherDays  int      // to neither: an empty battery
	Month      int      // index of the design month, the one with the worst ratio of harvest to need
	HarvestWh  float64  // a day in it, at the bus
	BarredWh   float64  // a day in it, of the harvest
	NeedWh     float64  // a day in it, at the bus, with what battery, its cable and its heater took
	DaysShort  float64  // for Storage: days of that need which the store lacked in its worst spell
	ShortMonth int      // for Storage: the month in which that spell came to its worst
}

// allNeedWh is the need with what the battery lost, its cable and its heater, as they were. The array's cable lies before the bus.
func (m *Month) allNeedWh() float64 { return m.NeedWh + m.Wh[BatteryLoss] + m.CableWh + m.Wh[Heater] }

// Why finds the design month and tells deficit from storage. Months of the same name in several years count one by one.
func (r *Run) Why() Why {
	w := Why{Month: -1}
	worst := 0.0
	for i := range r.Months {
		m := &r.Months[i]
		need := m.allNeedWh()
		if m.Days < 20 || need <= 0 {
			continue // too little of a month to stand for one
		}
		if ratio := m.HarvestWh / need; w.Month < 0 || ratio < worst {
			worst = ratio
			d := float64(m.Days)
			w.Month, w.HarvestWh, w.BarredWh, w.NeedWh = i, m.HarvestWh/d, m.BarredWh/d, need/d
		}
	}
	if r.Answer.DaysWithoutPower == 0 || w.Month < 0 {
		return w
	}
	for _, c := range []Cause{VoltageSag, Overload, AutoOff} {
		w.PowerDays += r.DaysByCause[c]
	}
	w.BarredDays = r.DaysByCause[ColdBarred]
	energyDays := r.Answer.DaysWithoutPower - w.PowerDays
	w.OtherDays = energyDays - w.BarredDays
	barred := Cold
	if 2*r.DaysHeatBarred > w.BarredDays {
		barred = Heat
	}
	switch {
	case energyDays == 0:
		w.Shortage = Power
	case 2*w.BarredDays > energyDays:
		w.Shortage = barred
		if w.HarvestWh < w.NeedWh {
			w.Left = Deficit
		} else if w.OtherDays > 0 {
			w.Left = Storage
		}
	case w.HarvestWh < w.NeedWh:
		w.Shortage = Deficit
	case r.refusedPays():
		w.Shortage = barred
	default:
		w.Shortage = Storage
		w.ShortMonth = w.Month
		for i := range r.Months {
			if t := r.SpellLackAt; !t.IsZero() && r.Months[i].Year == t.Year() && r.Months[i].Month == t.Month() {
				w.ShortMonth = i
			}
		}
		if m := &r.Months[w.ShortMonth]; m.Days > 0 && m.NeedWh > 0 {
			w.DaysShort = r.SpellLackWh * float64(m.Days) / m.NeedWh
		}
	}
	if 2*w.PowerDays > r.Answer.DaysWithoutPower && w.Shortage != Power {
		w.Shortage, w.Beside = Power, w.Shortage
	}
	return w
}

// refusedPays reports whether in some month with days without power the harvest could pay, but not without what cold or heat
// refused of it: such a month stands beside the darkest one.
func (r *Run) refusedPays() bool {
	for i := range r.Months {
		m := &r.Months[i]
		if need := m.allNeedWh(); m.Days >= 20 && m.DaysWithoutPower > 0 && m.HarvestWh >= need && m.HarvestWh-m.MissedWh < need {
			return true
		}
	}
	return false
}

// Pattern is what most outages have in common.
type Pattern struct {
	Of, Outages int // Of of Outages
	Load        string
	On          string // weekday, where the load began on the same one each time
	Dull        bool
}

// Pattern groups the outages of must-have loads by what went before them and returns the largest group, when it holds
// at least half of them and there are at least two. It needs the chains.
func (r *Run) Pattern() (Pattern, bool) {
	type kind struct {
		load string
		dull bool
	}
	count, days := map[kind]int{}, map[kind]map[string]int{}
	all := 0
	var best kind
	for i := range r.Outages {
		o := &r.Outages[i]
		if o.MustHaveHours == 0 || o.Chain == nil {
			continue
		}
		all++
		k := kind{o.Chain.Load, o.Chain.Dull()}
		count[k]++
		if days[k] == nil {
			days[k] = map[string]int{}
		}
		days[k][o.Chain.LoadOn.String()]++
		if count[k] > count[best] || count[k] == count[best] && k.load > best.load { // the order of equals is fixed
			best = k
		}
	}
	if all < 2 || 2*count[best] < all || best.load == "" && !best.dull {
		return Pattern{}, false
	}
	p := Pattern{Of: count[best], Outages: all, Load: best.load, Dull: best.dull}
	if best.load != "" && len(days[best]) == 1 {
		for day := range days[best] {
			p.On = day
		}
	}
	return p, true
}
