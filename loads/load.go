// Package loads turns things that draw power, and when, into demand on the AC and DC buses.
package loads

import (
	"errors"
	"fmt"
	"math"
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
)

// KindWords are the words for `kind`, in the order of the values.
var KindWords = []string{"always_on", "timetable", "dusk_to_dawn", "motion_light", "packs"}

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
)

var priorityWords = []string{"must_have", "can_wait"}

// String returns the priority as typed.
func (p Priority) String() string { return priorityWords[p] }

// Never, as UnplugMin, leaves a charger in the socket all year.
const Never = -1

// Load is one thing that draws. Only the fields of its kind count.
type Load struct {
	Name     string
	Kind     Kind
	Bus      Bus
	Priority Priority
	Note     string

	PowerW           float64         // at its terminals while on; of a motion light, of the lamp while lit
	OnMinutesPerHour float64         // always on, timetable: minutes of power in each hour that it is on
	When             clock.Timetable // Packs: days and season only

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
}

// New returns a load of the given kind with its defaults. What has none is zero until it is typed.
func New(kind Kind) Load {
	l := Load{Kind: kind, OnMinutesPerHour: 60, MinutesPerVisit: 2, StandbyInDaylight: true}
	switch kind {
	case MotionLight:
		l.StandbyW = 0.5
	case Packs:
		l.StandbyW, l.Depth, l.ChargerEfficiency, l.Chargers = 1, 1, 0.85, 1
		l.AtMin, l.UnplugMin = 8*60, 17*60
	}
	return l
}

// Keys declares what may be typed for a load of l's kind.
func (l *Load) Keys() []limit.Key {
	keys := []limit.Key{
		limit.OneOf("kind", &l.Kind, KindWords, "what sets when it draws", "timetable").Needed(),
		limit.OneOf("bus", &l.Bus, busWords, "ac: behind the inverter; dc: on the battery bus", "dc").From("common practice"),
		limit.OneOf("priority", &l.Priority, priorityWords,
			"must_have: a date without it is a day without power; can_wait: it is not", "can_wait").From("common practice"),
		limit.Str("note", &l.Note, "anything a reader should know", "measured with a plug-in meter").From("none"),
	}
	power := limit.Num("power_w", &l.PowerW, limit.AboveTo(0, 100000), "power while on, W", "12").Needed()
	onMinutes := limit.Num("on_minutes_per_hour", &l.OnMinutesPerHour, limit.AboveTo(0, 60),
		"minutes of power in each hour that it is on: energy uses the mean, ratings the power while on", "4").From("common practice")
	when := l.When.Keys()
	days, season := when[0], when[2]

	switch l.Kind {
	case AlwaysOn:
		keys = append(keys, power, onMinutes)
	case Timetable:
		keys = append(keys, power, onMinutes)
		keys = append(keys, when...)
	case DuskToDawn:
		keys = append(keys, power)
		keys = append(keys, when...)
	case MotionLight:
		power.Doc, power.Example = "power of the lamp while lit, without its sensor, W", "20"
		keys = append(keys, power,
			limit.Num("visits_per_night", &l.VisitsPerNight, limit.Between(0, 10000), "times a night that the lamp is lit", "6").Needed(),
			limit.Num("minutes_per_visit", &l.MinutesPerVisit, limit.AboveTo(0, 24*60), "minutes lit each time", "3").From("a guess"),
			limit.Num("standby_w", &l.StandbyW, limit.Between(0, 100), "draw of the sensor, W", "0.5").From("a guess: 0.3 to 1 W is usual"),
			limit.Bool("standby_in_daylight", &l.StandbyInDaylight, "whether the sensor draws by day too", "false").From("a guess"),
		)
	case Packs:
		keys = append(keys,
			limit.Int("count", &l.Count, limit.Between(1, 1000), "packs charged on each of the days", "2").Needed(),
			limit.Num("pack_energy_wh", &l.PackEnergyWh, limit.AboveTo(0, 100000), "energy held by one full pack: volts x amp-hours, Wh", "90").Needed(),
			limit.Num("depth", &l.Depth, limit.AboveTo(0, 1), "share of the pack that is refilled, 0 to 1", "0.8").From("a guess"),
			limit.Num("charger_power_w", &l.ChargerPowerW, limit.AboveTo(0, 100000), "power of one charger at its plug, W", "120").Needed(),
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
			season,
		)
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
	switch l.Kind {
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
				"the packs never get full: with %d to a charger they take %.1f h, but from %s there are %.1f h; take more chargers or unplug later",
				packs, math.Ceil(needH*10)/10, clock.TimeWord(l.AtMin), haveH)
			if l.ChargerPowerW < 2 {
				return append(faults, limit.Fault{Key: "charger_power_w", Msg: fmt.Sprintf(
					"a charger of %s W takes %.0f h for its packs: it looks like kW; %[1]s kW is %[3]s W", limit.Plain(l.ChargerPowerW), needH,
					limit.Plain(l.ChargerPowerW*1000)), Example: "120"})
			}
			faults = append(faults, limit.Fault{Key: "unplug", Msg: msg, Example: "never"})
		}
	}
	return faults
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
