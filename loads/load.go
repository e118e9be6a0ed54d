// Package loads turns things that draw power, and when, into demand on the AC and DC buses.
package loads

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"tideover/sim/clock"
	"tideover/sim/limit"
)

// Kind is what sets when a load draws.
type Kind int

// The kinds. A load of one kind has no keys of another.
const (
	AlwaysOn    Kind = iota // day and night
	Timetable               // by the clock on the wall
	DuskToDawn              // while the sun is below the horizon
	MotionLight             // now and then while the sun is below the horizon
	Packs                   // tool or garden-machine packs on a charger
	DutyCycle               // on and off by a thermostat: fridge, pump, frost heater
	RandomUses              // a few times a day, nobody knows when: kettle, tools
	Profile                 // as measured over a day, a week or a year
)

// KindWords are the words for `kind`, in the order of the values.
var KindWords = []string{"always_on", "timetable", "dusk_to_dawn", "motion_light", "packs", "duty_cycle", "random_uses", "profile"}

// String returns the kind as typed.
func (k Kind) String() string { return KindWords[k] }

// Bus is the side of the inverter on which a load hangs.
type Bus int

// The buses.
const (
	AC Bus = iota
	DC
)

var busWords = []string{"ac", "dc"}

// String returns the bus as typed.
func (b Bus) String() string { return busWords[b] }

// Priority says whether a date without the load counts as a day without power.
type Priority int

// The priorities.
const (
	MustHave Priority = iota
	CanWait
	FirstToGo // can wait, and is left off while the charge is low
)

var priorityWords = []string{"must_have", "can_wait", "first_to_go"}

// String returns the priority as typed.
func (p Priority) String() string { return priorityWords[p] }

// Wait is what a charger waits for once it is plugged in.
type Wait int

// What packs may wait for.
const (
	ForNothing Wait = iota
	ForSun          // for more from the array than all else asks
)

var waitWords = []string{"nothing", "sun"}

// String returns the wait as typed.
func (w Wait) String() string { return waitWords[w] }

const noRoomC = -60 // as RoomMinC: colder than any air

// Never, as UnplugMin, leaves a charger in the socket all year.
const Never = -1

// Load is one thing that draws. Only the fields of its kind count.
type Load struct {
	Name     string
	Kind     Kind
	Bus      Bus
	Priority Priority
	BelowSOC float64 // FirstToGo: the state of charge below which it is left off, 0..1
	Note     string

	// What the inverter sees of it; 0: by its class.
	Class         Class
	PowerFactor   float64
	StartFactor   float64 // power at the start over PowerW
	StartS        float64
	NeedsPureSine bool     // does not run, or runs hot, on stepped output
	NotWith       []string // names of loads of which none is on while it is

	PowerW           float64         // at its terminals while on; of a motion light, of the lamp while lit
	OnMinutesPerHour float64         // always on, timetable: minutes of power in each hour that it is on
	When             clock.Timetable // Packs, Profile: without hours

	// Dusk to dawn.
	MinutesAfterDusk float64 // lit for so long at most; 0: till dawn
	DimTo            float64 // share of PowerW
	DimAfterMin      float64 // of light; 0: never dimmed

	// Motion light.
	VisitsPerNight    float64
	MinutesPerVisit   float64
	StandbyInDaylight bool

	StandbyW float64 // motion light: its sensor, also while lit; packs: one charger with a full pack in it

	// Packs.
	Count             int     // packs charged on each of the days
	PackEnergyWh      float64 // held by one full pack
	Depth             float64 // share of the pack that is refilled, 0..1
	ChargerPowerW     float64 // of one charger, at its own plug
	ChargerEfficiency float64 // pack energy over energy at the plug, 0..1
	Chargers          int     // at work side by side
	AtMin, UnplugMin  int     // minute of the day; an UnplugMin not after AtMin is on the next day
	WaitForSOC        float64 // 0: does not wait for the charge
	WaitFor           Wait
	DeadlineH         float64 // after plugging in, at which charging begins whatever; 0: the last moment that fills the packs

	// Duty cycle: the share of time that it runs is Duty + DutyRisePerK x (temperature - DutyAtC), within 0..1. The
	// temperature is that of the air, through a first-order lag of LagH, and at least RoomMinC.
	Duty, DutyAtC, DutyRisePerK float64
	LagH, RoomMinC              float64

	// Random uses.
	UsesPerDay, MinutesPerUse float64

	ProfileFile string // as typed
	Measured    *Series
}

// Series is power measured over a day, a week from Monday, or a year from 1 January, by the clock on the wall.
type Series struct {
	StepMin int // a whole number of them makes a day
	PowerW  []float64
}

// Days returns how many days the series lasts: 1, 7, 365 or 366.
func (s *Series) Days() int { return len(s.PowerW) * s.StepMin / (24 * 60) }

// MaxW is the highest power of the series, W.
func (s *Series) MaxW() float64 { return slices.Max(s.PowerW) }

// New returns a load of the given kind with its defaults. What has none is zero until it is typed.
func New(kind Kind) Load {
	l := Load{Kind: kind, OnMinutesPerHour: 60, MinutesPerVisit: 2, StandbyInDaylight: true}
	switch kind {
	case MotionLight:
		l.StandbyW = 0.5
	case Packs:
		l.StandbyW, l.Depth, l.ChargerEfficiency, l.Chargers = 1, 1, 0.85, 1
		l.AtMin, l.UnplugMin = 8*60, 17*60
	case DuskToDawn:
		l.DimTo = 1
	case DutyCycle:
		l.DutyAtC, l.RoomMinC = 20, noRoomC
	}
	return l
}

// Keys declares what may be typed for a load of l's kind.
func (l *Load) Keys() []limit.Key {
	keys := append(make([]limit.Key, 0, 28), // as many as any kind has
		limit.OneOf("kind", &l.Kind, KindWords, "what sets when it draws", "timetable").Needed(),
		limit.OneOf("bus", &l.Bus, busWords, "ac: behind the inverter; dc: on the battery bus", "dc").From("common practice"),
		limit.OneOf("priority", &l.Priority, priorityWords,
			"must_have: a date without it is a day without power; can_wait: it is not; first_to_go: the same, and it is left off below below_soc",
			"first_to_go").From("common practice"),
		limit.Num("below_soc", &l.BelowSOC, limit.Between(0, 1),
			"state of charge below which a load that is first_to_go is left off", "0.4").From("none: it must be typed with first_to_go"),
		limit.OneOf("class", &l.Class, classWords,
			"what it is to the inverter: sets power_factor, start_factor and start_s; by_kind: lamps and packs are electronics, a duty cycle "+
				"a compressor or a heater, the rest mixed", "motor").From("its kind"),
		limit.Num("power_factor", &l.PowerFactor, limit.Between(0, 1), "watts over volt-amperes while it runs; 0: by its class", "0.8").
			From("its class: resistive 1, electronics 0.7, motors and compressors 0.75, mixed and brushed motors 0.85; trade rules"),
		limit.Num("start_factor", &l.StartFactor, limit.Between(0, 20), "watts while it starts over watts while it runs; 0: by its class", "3").
			From("its class: compressor 5, motor 3, brushed motor 2, others 1; trade rules"),
		limit.Num("start_s", &l.StartS, limit.Between(0, 60), "seconds that the start lasts; 0: by its class", "1").
			From("its class: compressor 5, motors 1; trade rules"),
		limit.Bool("needs_pure_sine", &l.NeedsPureSine, "whether it refuses stepped output, or runs hot on it", "true").From("a guess"),
		limit.Parsed("not_with", func(words []string) error {
			for i, w := range words {
				if slices.Contains(words[:i], w) {
					return fmt.Errorf("%q is named twice", w)
				}
			}
			l.NotWith = slices.Clone(words)
			return nil
		}, "names of loads that are never on together with this one, one or a list; it counts both ways", "kettle").
			From("not given: any may run together"),
		limit.Str("note", &l.Note, "anything a reader should know", "measured with a plug-in meter").From("none"),
	)
	power := limit.Num("power_w", &l.PowerW, limit.AboveTo(0, 100000), "power while on, W", "12").Needed()
	onMinutes := limit.Num("on_minutes_per_hour", &l.OnMinutesPerHour, limit.AboveTo(0, 60),
		"minutes of power in each hour that it is on: energy uses the mean, ratings the power while on", "4").From("common practice")
	when := l.When.Keys()
	days, hours, season := when[0], when[1], when[2]
	dates := l.When.DateKeys()

	switch l.Kind {
	case AlwaysOn:
		keys = append(keys, power, onMinutes, dates[2])
	case Timetable:
		keys = append(keys, power, onMinutes)
		keys = append(append(keys, when...), dates...)
	case DuskToDawn:
		keys = append(keys, power,
			limit.Num("minutes_after_dusk", &l.MinutesAfterDusk, limit.Between(0, 24*60), "minutes after dusk for which it is lit; 0: till dawn", "240").
				From("till dawn"),
			limit.Num("dim_to", &l.DimTo, limit.Between(0, 1), "share of its power to which it is dimmed, 0 to 1", "0.3").From("not dimmed"),
			limit.Num("dim_after_min", &l.DimAfterMin, limit.Between(0, 24*60), "minutes after dusk at which it is dimmed", "180").From("not dimmed"))
		keys = append(append(keys, when...), dates...)
	case MotionLight:
		power.Doc, power.Example = "power of the lamp while lit, without its sensor, W", "20"
		keys = append(keys, power,
			limit.Num("visits_per_night", &l.VisitsPerNight, limit.Between(0, 10000), "times a night that the lamp is lit", "6").Needed(),
			limit.Num("minutes_per_visit", &l.MinutesPerVisit, limit.AboveTo(0, 24*60), "minutes lit each time", "3").From("a guess"),
			limit.Num("standby_w", &l.StandbyW, limit.Between(0, 100), "draw of the sensor, W", "0.5").From("a guess: 0.3 to 1 W is usual"),
			limit.Bool("standby_in_daylight", &l.StandbyInDaylight, "whether the sensor draws by day too", "false").From("a guess"),
			dates[2])
	case Packs:
		keys = append(keys,
			limit.Int("count", &l.Count, limit.Between(1, 1000), "packs charged on each of the days", "2").Needed(),
			limit.Num("pack_energy_wh", &l.PackEnergyWh, limit.AboveTo(0, 100000), "energy held by one full pack: volts x amp-hours, Wh", "90").Needed(),
			limit.Num("depth", &l.Depth, limit.AboveTo(0, 1), "share of the pack that is refilled, 0 to 1", "0.8").From("a guess"),
			limit.Num("charger_power_w", &l.ChargerPowerW, limit.AboveTo(0, 100000), "power of one charger at its plug, W, until four fifths are in; from there it falls to a tenth, so that the last fifth takes over twice as long for its energy", "120").Needed(),
			limit.Num("charger_efficiency", &l.ChargerEfficiency, limit.AboveTo(0, 1),
				"energy into the pack over energy at the plug, 0 to 1", "0.85").From("common practice: 0.8 to 0.9"),
			limit.Int("chargers", &l.Chargers, limit.Between(1, 1000), "chargers at work side by side", "2").From("a guess"),
			days,
			limit.Parsed("at", func(words []string) (err error) {
				if l.AtMin, err = oneTime(words, "08:00"); err == nil && l.AtMin == 24*60 {
					err = errors.New("24:00 can only be an end; a day begins at 00:00")
				}
				return err
			}, "time at which the first packs are plugged in, on the wall", "08:00").From("a guess: 08:00"),
			limit.Parsed("unplug", func(words []string) (err error) {
				if len(words) == 1 && strings.EqualFold(words[0], "never") {
					l.UnplugMin = Never
					return nil
				}
				l.UnplugMin, err = oneTime(words, "17:00, or never")
				return err
			}, "time at which the chargers are unplugged, on the next day when not after `at`; or never", "17:00").From("a guess: 17:00"),
			limit.Num("standby_w", &l.StandbyW, limit.Between(0, 100), "draw of one charger that has nothing left to charge, until it is unplugged, W", "1").
				From("a guess: 0.5 to 2 W is usual"),
			season)
		keys = append(keys, dates...)
		keys = append(keys,
			limit.Num("wait_for_soc", &l.WaitForSOC, limit.Between(0, 1), "state of charge above which charging begins, in place of wait_for; 0: it does not wait", "0.8").
				From("does not wait"),
			limit.OneOf("wait_for", &l.WaitFor, waitWords, "sun: charging begins when the array gives more than all else asks; in place of wait_for_soc", "sun").
				From("does not wait"),
			limit.Num("deadline_h", &l.DeadlineH, limit.Between(0, 24),
				"hours after plugging in at which charging begins whatever it waits for; 0: the last moment that fills the packs", "6").
				From("the last moment that fills the packs"),
		)
	case DutyCycle:
		power.Doc, power.Example = "power while it runs, W", "60"
		keys = append(keys, power,
			limit.Num("duty", &l.Duty, limit.Between(0, 1), "share of the time that it runs at duty_at_c", "0.35").Needed(),
			limit.Num("duty_at_c", &l.DutyAtC, limit.Between(-40, 60), "temperature at which duty holds", "20").From("a guess: a warm room"),
			limit.Num("duty_rise_per_k", &l.DutyRisePerK, limit.Between(-1, 1),
				"what each kelvin above duty_at_c adds to duty, within 0 to 1; below 0 for a heater", "0.02").From("does not depend on it"),
			limit.Num("lag_h", &l.LagH, limit.Between(0, 1000),
				"hours by which the room it stands in lags behind the air outside; 0: outside", "12").From("outside"),
			limit.Num("room_min_c", &l.RoomMinC, limit.Between(noRoomC, 40),
				"temperature below which the room does not fall, as it is heated", "12").From("not heated"))
		keys = append(append(keys, when...), dates...)
	case RandomUses:
		keys = append(keys, power,
			limit.Num("uses_per_day", &l.UsesPerDay, limit.AboveTo(0, 1000),
				"times a day, on each date that it may run, at moments drawn by lot; 0.2: one date in five", "3").Needed(),
			limit.Num("minutes_per_use", &l.MinutesPerUse, limit.AboveTo(0, 24*60), "minutes of power each time", "4").Needed(),
			days, hours, season)
		keys = append(keys, dates...)
	case Profile:
		keys = append(keys, limit.Str("profile", &l.ProfileFile,
			"file beside the scenario with columns time,power_w over a day, a week or a year", "fridge.csv").Needed(), days, season)
		keys = append(keys, dates...)
	}
	return keys
}

func oneTime(words []string, example string) (int, error) {
	if len(words) != 1 {
		return 0, fmt.Errorf("takes one time; write %s", example)
	}
	return clock.ParseTime(words[0])
}

// Check returns what is wrong with the load, each fault under the key as typed.
func (l Load) Check() []limit.Fault {
	faults := limit.Check(l.Keys())
	if len(faults) > 0 {
		return faults // the sums below need values in range
	}
	faults = append(faults, l.When.Check()...)
	switch {
	case l.Priority == FirstToGo && l.BelowSOC == 0:
		faults = append(faults, limit.Fault{Key: "below_soc",
			Msg: "is missing: what is first_to_go wants the state of charge below which it is left off", Example: "0.4"})
	case l.Priority != FirstToGo && l.BelowSOC > 0:
		faults = append(faults, limit.Fault{Key: "below_soc", Msg: "counts with priority: first_to_go only, and this load is " + l.Priority.String()})
	}
	if l.StartFactor > 0 && l.StartFactor < 1 {
		faults = append(faults, limit.Fault{Key: "start_factor",
			Msg: limit.Plain(l.StartFactor) + " is below 1: nothing starts on less than it runs on", Example: "3"})
	}
	if slices.Contains(l.NotWith, l.Name) && l.Name != "" {
		faults = append(faults, limit.Fault{Key: "not_with", Msg: fmt.Sprintf("%q is the load itself", l.Name)})
	}
	switch l.Kind {
	case DuskToDawn:
		switch {
		case (l.DimTo < 1) != (l.DimAfterMin > 0):
			key, other, example := "dim_to", "dim_after_min", "180"
			if l.DimAfterMin > 0 {
				key, other, example = other, key, "0.3"
			}
			faults = append(faults, limit.Fault{Key: key, Msg: "wants " + other + " beside it, as " + other + ": " + example})
		case l.MinutesAfterDusk > 0 && l.DimAfterMin >= l.MinutesAfterDusk:
			faults = append(faults, limit.Fault{Key: "dim_after_min", Example: "60", Msg: fmt.Sprintf(
				"%s min is not before minutes_after_dusk, %s min, when the light is out", limit.Plain(l.DimAfterMin), limit.Plain(l.MinutesAfterDusk))})
		}
	case DutyCycle:
		if l.Duty == 0 && l.DutyRisePerK == 0 {
			faults = append(faults, limit.Fault{Key: "duty", Msg: "0 never runs: type what it runs at duty_at_c, or a duty_rise_per_k", Example: "0.35"})
		}
	case RandomUses:
		needMin, haveMin := math.Ceil(l.UsesPerDay)*l.MinutesPerUse, l.When.MinutesADay()
		if needMin > float64(haveMin) {
			faults = append(faults, limit.Fault{Key: "uses_per_day", Example: "3", Msg: fmt.Sprintf(
				"%s uses of %s min take %s min, but its hours have %d min", limit.Plain(math.Ceil(l.UsesPerDay)), limit.Plain(l.MinutesPerUse), limit.Plain(needMin), haveMin)})
		}
	case Timetable:
		if l.When.Always() {
			faults = append(faults, limit.Fault{Key: "hours",
				Msg: "is missing: a timetable wants hours, days or a season; what draws day and night is kind: always_on", Example: "17:00 to 21:30"})
		}
	case MotionLight:
		if litMin := l.VisitsPerNight * l.MinutesPerVisit; litMin > 24*60 {
			faults = append(faults, limit.Fault{Key: "visits_per_night",
				Msg: fmt.Sprintf("%s visits of %s min are longer than a day", limit.Plain(l.VisitsPerNight), limit.Plain(l.MinutesPerVisit)), Example: "6"})
		}
	case Packs:
		// The quickest chargers put in some five times the pack's energy an hour.
		if l.ChargerPowerW*l.ChargerEfficiency > 12*l.PackEnergyWh {
			return append(faults, limit.Fault{Key: "pack_energy_wh", Msg: fmt.Sprintf(
				"%s W would fill a pack of %s Wh in %.0f minutes: it looks like Ah; %[2]s Ah x the pack's voltage is Wh",
				limit.Plain(l.ChargerPowerW), limit.Plain(l.PackEnergyWh), math.Ceil(l.charge().lengthS()/60)), Example: "90"})
		}
		packs := (l.Count + l.Chargers - 1) / l.Chargers
		needH := float64(packs) * l.charge().lengthS() / 3600
		span := l.plugged()
		if haveH := float64(span.To-span.From) / 60; needH > haveH {
			msg := fmt.Sprintf(
				"the packs never get full: with %d to a charger they take %.1f h (each %.4g Wh at the plug, with the charger's loss, at %s W, and the last fifth ever slower), but from %s there are %.1f h; take more chargers or unplug later",
				packs, math.Ceil(needH*10)/10, l.charge().energyWh, limit.Plain(l.ChargerPowerW), clock.TimeWord(l.AtMin), haveH)
			if l.ChargerPowerW < 2 {
				return append(faults, limit.Fault{Key: "charger_power_w", Msg: fmt.Sprintf(
					"a charger of %s W takes %.0f h for its packs: it looks like kW; %[1]s kW is %[3]s W", limit.Plain(l.ChargerPowerW), needH,
					limit.Plain(l.ChargerPowerW*1000)), Example: "120"})
			}
			return append(faults, limit.Fault{Key: "unplug", Msg: msg, Example: "never"})
		}
		spareH := float64(span.To-span.From)/60 - needH
		switch {
		case l.WaitForSOC > 0 && l.WaitFor != ForNothing:
			faults = append(faults, limit.Fault{Key: "wait_for", Msg: "stands beside wait_for_soc: a charger waits for one of the two"})
		case l.DeadlineH > 0 && !l.Waits():
			faults = append(faults, limit.Fault{Key: "deadline_h", Msg: "is given, but the charger waits for nothing: type wait_for: sun, or wait_for_soc"})
		case l.DeadlineH > spareH:
			faults = append(faults, limit.Fault{Key: "deadline_h", Example: limit.Plain(math.Floor(spareH*10) / 10), Msg: fmt.Sprintf(
				"%s h after %s is too late: the packs take %.1f h and are unplugged after %.1f h", limit.Plain(l.DeadlineH), clock.TimeWord(l.AtMin),
				math.Ceil(needH*10)/10, float64(span.To-span.From)/60)})
		}
	}
	return faults
}

// Waits reports whether the load's charging may be put off.
func (l *Load) Waits() bool { return l.Kind == Packs && (l.WaitForSOC > 0 || l.WaitFor != ForNothing) }

// Idles reports whether the load's standby does nothing that anybody misses: that of a charger beside a full pack, not that
// of a lamp that watches for motion.
func (l *Load) Idles() bool { return l.Kind == Packs }

// OnW is the most that the load draws at one moment while it is used, W, all its chargers together.
func (l *Load) OnW() float64 {
	switch {
	case l.Kind == Packs:
		return float64(min(l.Chargers, l.Count)) * l.ChargerPowerW
	case l.Kind == Profile && l.Measured == nil:
		return 0
	case l.Kind == Profile:
		return l.Measured.MaxW()
	}
	return l.PowerW
}

// plugged is the part of the day that packs may charge in: until they are unplugged, or for a day.
func (l Load) plugged() clock.Span {
	s := clock.Span{From: l.AtMin, To: l.UnplugMin}
	if l.UnplugMin == Never {
		s.To = l.AtMin
	}
	if s.To <= s.From {
		s.To += 24 * 60
	}
	return s
}

// charge is one pack on one charger, seen at the plug: constant power, then an exponential taper.
type charge struct {
	powerW                float64
	flatS, tauS, taperS   float64 // constant power for flatS, then taperS with time constant tauS
	energyWh, flatShareWh float64
}

// The taper begins when most of the energy is in and ends at a small share of full power. Charging guides put the voltage
// limit at 70 to 80 % of the charge and the end at 3 to 10 % of the current; the charge is timed from those, at the plug.
const (
	flatShare = 0.8
	endShare  = 0.1
)

func (l Load) charge() charge {
	return newCharge(l.PackEnergyWh*l.Depth/l.ChargerEfficiency, l.ChargerPowerW, flatShare, endShare)
}

// newCharge derives the times from the energy: with p(t) = P exp(-t/tau) down to e P, the taper holds
// P tau (1 - e) = (1 - f) E, so tau = (1 - f) E / (P (1 - e)), and it lasts tau ln(1/e).
func newCharge(energyWh, powerW, flatShare, endShare float64) charge {
	tauS := 3600 * (1 - flatShare) * energyWh / (powerW * (1 - endShare))
	return charge{
		powerW: powerW, energyWh: energyWh, flatShareWh: flatShare * energyWh,
		flatS: 3600 * flatShare * energyWh / powerW, tauS: tauS, taperS: tauS * math.Log(1/endShare),
	}
}

func (c charge) lengthS() float64 { return c.flatS + c.taperS }

// drawnWh is the energy taken in the first tS seconds.
func (c charge) drawnWh(tS float64) float64 {
	switch {
	case tS <= c.flatS:
		return c.powerW * max(tS, 0) / 3600
	case tS >= c.lengthS():
		return c.energyWh
	}
	return c.flatShareWh - c.powerW*c.tauS/3600*math.Expm1(-(tS-c.flatS)/c.tauS)
}

// powerAtW is the power after tS seconds, which never rises.
func (c charge) powerAtW(tS float64) float64 {
	return c.powerW * math.Exp(-max(0, tS-c.flatS)/c.tauS)
}
