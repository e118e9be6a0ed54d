// Package inverter models battery-to-AC conversion: when the inverter is on, what it draws with nothing plugged in,
// what conversion loses, and what it carries for how long. Powers in W, never negative.
package inverter

import (
	"tideover/sim/clock"
	"tideover/sim/limit"
)

// Mode is the rule by which the inverter is on.
type Mode int

// The modes.
const (
	AlwaysOn  Mode = iota
	Timetable      // only at the given hours; what asks outside them is withheld
	OnDemand       // only while a load asks
	Search         // asleep, feeling for a load, until enough is asked; what asks less is withheld
)

// Wave is the shape of the voltage at its outlets.
type Wave int

// The waves.
const (
	PureSine Wave = iota
	Modified      // steps in place of a sine
)

// Inverter is one inverter.
type Inverter struct {
	Mode      Mode
	When      clock.Timetable // for Timetable
	IdleW     float64         // no-load draw for every hour it is awake, loaded or not
	SearchW   float64         // mean draw while it feels for a load
	WakesAtW  float64         // asked power that wakes it from search
	AutoOffW  float64         // below this for AutoOffH it goes off; 0: never
	AutoOffH  float64
	WakeAtMin int     // 1..1440: minute of each day at which it comes on again by rule; 0: by the hand of whoever comes to use it
	OffW      float64 // draw after auto-off
	OffLessW  float64 // of an all-in-one box: what its standing draw falls by while it is off and the sun gives nothing

	RatedW          float64 // continuous
	RatedVA         float64 // 0: the same number as RatedW
	Rating30MinW    float64 // 0: RatedW
	SurgeW          float64 // 0: not known
	SurgeS          float64
	RestartAfterMin float64 // after a trip its loads stay off so long, and while the overload lasts
	CutoffV         float64 // at its DC input; 0: by the battery's nominal voltage
	Wave            Wave

	ProportionalLoss float64 // of the AC power
	ResistiveLoss    float64 // of the rating, at full load; grows with the square of the AC power

	// From the data sheet, at these shares of the rating; 0: not given. They take the place of the two losses.
	Efficiency10, Efficiency50, Efficiency100 float64
}

// ModeWords are the modes as typed, in order.
var ModeWords = []string{"always_on", "timetable", "on_demand", "search"}

var waveWords = []string{"pure_sine", "modified"}

// String returns the mode as typed.
func (m Mode) String() string { return ModeWords[m] }

// String returns the wave as typed.
func (w Wave) String() string { return waveWords[w] }

// Default returns an inverter with every value that has a sensible default.
func Default() Inverter {
	return Inverter{SearchW: 1, AutoOffH: 4, SurgeS: 1, ProportionalLoss: 0.03, ResistiveLoss: 0.05, RestartAfterMin: 1}
}

// Keys declares the parameters.
func (v *Inverter) Keys() []limit.Key {
	datasheet := func(name, at string, into *float64) limit.Key {
		return limit.Num(name, into, limit.Between(0, 0.999), "efficiency at "+at+" of the rating, by the data sheet; "+
			"all three take the place of the two losses", "0.92").From("not given")
	}
	return append([]limit.Key{
		limit.OneOf("mode", &v.Mode, ModeWords, "when it is on", "on_demand").From("as it comes from the box"),
		limit.Num("rated_w", &v.RatedW, limit.Above(0), "continuous rating", "1000").Needed(),
		limit.Num("rated_va", &v.RatedVA, limit.AtLeast(0), "continuous rating of the apparent power; 0 means the number of watts",
			"1200").From("the number of watts"),
		limit.Num("rating_30min_w", &v.Rating30MinW, limit.AtLeast(0),
			"power that it carries for 30 minutes of an hour; 0 means the continuous rating", "1200").From("the continuous rating"),
		limit.Num("surge_w", &v.SurgeW, limit.AtLeast(0), "power that it carries for a moment; 0 means not known", "2000").
			From("not known"),
		limit.Num("surge_s", &v.SurgeS, limit.Between(0, 60), "seconds for which it carries the surge", "5").
			From("a guess: under 1 to 5 s, from memory"),
		limit.Num("idle_w", &v.IdleW, limit.AtLeast(0), "draw with nothing plugged in, for every hour it is on", "12").
			Needed(),
		limit.Num("proportional_loss", &v.ProportionalLoss, limit.Between(0, 0.5),
			"loss in proportion to the AC power, share of it", "0.03").From("a guess, typical 1 kW pure sine"),
		limit.Num("resistive_loss", &v.ResistiveLoss, limit.Between(0, 0.5),
			"loss with the square of the AC power, share of the rating at full load", "0.05").
			From("a guess, typical 1 kW pure sine"),
		datasheet("efficiency_10", "10 %", &v.Efficiency10),
		datasheet("efficiency_50", "50 %", &v.Efficiency50),
		datasheet("efficiency_100", "100 %", &v.Efficiency100),
		limit.Num("search_threshold_w", &v.WakesAtW, limit.AtLeast(0), "for mode search: asked power that wakes it; "+
			"what asks less stays off", "15").From("none: the mode search wants it"),
		limit.Num("search_w", &v.SearchW, limit.AtLeast(0), "for mode search: draw while it feels for a load", "1").
			From("a guess: 0.5 to 3 W, from memory"),
		limit.Num("auto_off_w", &v.AutoOffW, limit.AtLeast(0), "it goes off after a time with less than this asked of it; 0 means never",
			"10").From("never"),
		limit.Num("auto_off_after_h", &v.AutoOffH, limit.AboveTo(0, 48), "hours under auto_off_w after which it goes off", "4").
			From("1 to 12 h, often 4, as owners report"),
		limit.Parsed("wake", v.setWake, "after auto-off: by_hand, by whoever comes to use a load of auto_off_w or more, or "+
			"daily at 07:00, by rule", "by_hand").From("by_hand"),
		limit.Num("off_w", &v.OffW, limit.AtLeast(0), "draw after auto-off", "0.2").From("nothing"),
		limit.Num("restart_after_min", &v.RestartAfterMin, limit.Between(0, 10080),
			"minutes after an overload before it starts again by itself", "1").From("a guess"),
		limit.Num("cutoff_v", &v.CutoffV, limit.Between(0, 400), "voltage at its DC input under which it goes off; 0 means by the "+
			"battery's nominal voltage", "10.5").From("10.5 V for each 12 V, common practice, from memory"),
		limit.OneOf("wave", &v.Wave, waveWords, "shape of its voltage", "modified").From("common practice"),
	}, v.When.Keys()...)
}

// Check returns what is wrong with the parameters.
func (v *Inverter) Check() []limit.Fault {
	faults := limit.Check(v.Keys())
	if len(faults) == 0 {
		faults = append(v.checkDraws(), v.checkRatings()...)
	}
	if v.Mode == Timetable && v.When.Always() {
		faults = append(faults, limit.Fault{Key: "hours", Msg: "is missing: the mode timetable wants hours, days or a season",
			Example: `"17:00 to 22:00"`})
	}
	return faults
}

// GoesOff reports whether it has an auto-off that counts: one that runs on demand is off whenever nothing asks.
func (v *Inverter) GoesOff() bool { return v.AutoOffW > 0 && v.Mode != OnDemand }

func (v *Inverter) checkDraws() (faults []limit.Fault) {
	add := func(key, msg, example string) {
		faults = append(faults, limit.Fault{Key: key, Msg: msg, Example: example})
	}
	p := limit.Plain
	if v.IdleW > 0.1*v.RatedW {
		add("idle_w", p(v.IdleW)+" is over a tenth of rated_w "+p(v.RatedW)+": is one of them in other units?", "12")
	}
	if v.Mode == Search {
		switch {
		case v.WakesAtW == 0:
			add("search_threshold_w", "is missing beside the mode search: what wakes it?", "15")
		case v.WakesAtW >= v.RatedW:
			add("search_threshold_w", p(v.WakesAtW)+" is not below rated_w "+p(v.RatedW)+": nothing that it carries would wake it", "15")
		}
		if v.SearchW > v.IdleW {
			add("search_w", p(v.SearchW)+" is above idle_w "+p(v.IdleW)+": it would draw more asleep than awake", "1")
		}
	}
	if v.GoesOff() {
		if v.AutoOffW >= v.RatedW {
			add("auto_off_w", p(v.AutoOffW)+" is not below rated_w "+p(v.RatedW)+": nothing that it carries would keep it on", "10")
		}
		if v.OffW > v.IdleW {
			add("off_w", p(v.OffW)+" is above idle_w "+p(v.IdleW)+": it would draw more off than on", "0.2")
		}
	}
	return faults
}

func (v *Inverter) checkRatings() (faults []limit.Fault) {
	add := func(key, msg, example string) {
		faults = append(faults, limit.Fault{Key: key, Msg: msg, Example: example})
	}
	p := limit.Plain
	if v.RatedVA > 0 && v.RatedVA < v.RatedW {
		add("rated_va", p(v.RatedVA)+" is below rated_w "+p(v.RatedW)+": volt-amperes are never fewer than watts", p(v.RatedW))
	}
	if v.Rating30MinW > 0 && v.Rating30MinW < v.RatedW {
		add("rating_30min_w", p(v.Rating30MinW)+" is below the continuous rating rated_w "+p(v.RatedW), p(v.RatedW))
	}
	if most := max(v.RatedW, v.Rating30MinW); v.SurgeW > 0 && v.SurgeW < most {
		add("surge_w", p(v.SurgeW)+" is below what it carries for longer, "+p(most)+" W", p(2*v.RatedW))
	}
	if max(v.Efficiency10, v.Efficiency50, v.Efficiency100) == 0 {
		return faults
	}
	for _, e := range []struct {
		key     string
		value   float64
		example string
	}{{"efficiency_10", v.Efficiency10, "0.87"}, {"efficiency_50", v.Efficiency50, "0.93"}, {"efficiency_100", v.Efficiency100, "0.92"}} {
		switch {
		case e.value == 0:
			add(e.key, "is missing beside the others: efficiencies count with all three of them, at 10, 50 and 100 % of the rating", e.example)
		case e.value < 0.3:
			add(e.key, p(e.value)+" is below 0.3: no inverter loses so much of what it carries", e.example)
		}
	}
	return faults
}

// Slips returns what no outbuilding has and what is likely a value in other units. A study may go beyond.
func (v *Inverter) Slips() []limit.Fault {
	if v.RatedW >= 10 {
		return nil
	}
	return []limit.Fault{{Key: "rated_w", Msg: limit.Plain(v.RatedW) + " W is too small for an inverter: it looks like kW; " +
		limit.Plain(v.RatedW) + " kW is " + limit.Plain(v.RatedW*1000) + " W", Example: "1000"}}
}
