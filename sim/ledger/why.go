package ledger

// Shortage is what kind of trouble a run shows.
type Shortage int

// The kinds, in the order in which they are looked for.
const (
	NoShortage Shortage = iota
	Deficit             // the design month's harvest cannot pay the month's need
	Cold                // it could, but for the charge that frost refuses
	Power               // trips took most of the days without power
	Storage             // it could: the store is too small for the dull spell
)

var shortageWords = [...]string{"none", "deficit", "cold", "power", "storage"}

// String returns the kind in a word.
func (s Shortage) String() string { return shortageWords[s] }

// Why is the run's answer to: more array, or more battery?
type Why struct {
	Shortage   Shortage
	Beside     Shortage // for Power: what the days without power show that no trip took
	PowerDays  int      // days without power put to sag, overload and auto-off
	Month      int      // index of the design month, the one with the worst ratio of harvest to need
	HarvestWh  float64  // a day in it, at the bus
	BarredWh   float64  // a day in it, of the harvest
	NeedWh     float64  // a day in it, at the bus, with what battery, its cable and its heater took
	DaysShort  float64  // for Storage: days of that need which the store lacked in its worst spell
	ShortMonth int      // for Storage: the month of that spell
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
	// A month in which frost refuses so much that the rest does not pay stands beside the darkest one.
	cold := false
	for i := range r.Months {
		m := &r.Months[i]
		if need := m.allNeedWh(); m.Days >= 20 && m.DaysWithoutPower > 0 && m.HarvestWh >= need && m.HarvestWh-m.MissedWh < need {
			cold = true
		}
	}
	switch {
	case w.PowerDays == r.Answer.DaysWithoutPower:
		w.Shortage = Power
	case w.HarvestWh < w.NeedWh:
		w.Shortage = Deficit
	case cold:
		w.Shortage = Cold
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
