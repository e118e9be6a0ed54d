// Package backup models a charger beside the sun: from the mains or from an engine, switched by the state of charge, or at
// home on the dates when the battery is carried there.
package backup

import (
	"fmt"

	"tideover/sim/clock"
	"tideover/sim/limit"
)

// Source is what feeds the charger.
type Source int

// The sources.
const (
	Engine Source = iota
	Mains
)

// SourceWords are the words for `source`, in order.
var SourceWords = []string{"engine", "mains"}

// String returns the source as typed.
func (s Source) String() string { return SourceWords[s] }

// Charger is a charger at the battery's terminals. The zero value is none.
type Charger struct {
	Source       Source
	PowerW       float64 // at most, into the bus; it tapers as the battery takes less
	Efficiency   float64 // power into the bus over power into the charger
	StartSOC     float64 // it starts at this state of charge
	StopSOC      float64 // and stops at this
	FuelLPerH    float64 // while it runs
	Quiet        clock.Timetable
	Carried      []clock.DateSpan // whole dates on which the battery is away, being charged
	CarriedW     float64          // by a charger of this power; 0: PowerW
	NeverStarted bool             // only the carried dates charge
}

// Default returns a charger with every value that has a sensible default.
func Default() Charger { return Charger{Efficiency: 0.8, StartSOC: 0.3, StopSOC: 0.8} }

// Keys declares the parameters.
func (c *Charger) Keys() []limit.Key {
	quiet := c.Quiet.Keys("quiet_")
	for i := range quiet {
		quiet[i].Doc = "when it must not run: " + quiet[i].Doc
		quiet[i].Origin = "it may run at any time"
	}
	return append([]limit.Key{
		limit.OneOf("source", &c.Source, SourceWords, "what feeds it; an engine runs outdoors only, away from openings, as its exhaust kills: local code decides", "engine").From("an engine"),
		limit.Num("power_w", &c.PowerW, limit.AboveTo(0, 100000), "highest charging power into the battery", "300").Needed(),
		limit.Num("efficiency", &c.Efficiency, limit.AboveTo(0.2, 1), "power into the battery over power into the charger", "0.8").
			From("75 to 80 %, trade advice"),
		limit.Num("start_soc", &c.StartSOC, limit.Between(0, 0.99), "state of charge at which it starts", "0.3").From("a guess"),
		limit.Num("stop_soc", &c.StopSOC, limit.Between(0.01, 1), "state of charge at which it stops", "0.8").
			From("trade advice: an engine for the bulk, the sun for the slow rest"),
		limit.Num("fuel_l_per_h", &c.FuelLPerH, limit.Between(0, 100), "fuel that the engine burns in an hour, litres", "0.6").From("not counted"),
		limit.Parsed("carried", func(words []string) (err error) {
			c.Carried, err = clock.ParseSeason(words)
			return err
		}, "dates on which the battery is carried away to be charged; its loads are off by rule all day", "[15 Jan, 12 Feb]").From("never"),
		limit.Num("carried_w", &c.CarriedW, limit.Between(0, 100000), "charging power there; 0 means power_w", "200").From("that of power_w"),
		limit.Bool("only_carried", &c.NeverStarted, "whether only those dates charge, and nothing is started by the charge", "false").From("a charger on the spot"),
	}, quiet...)
}

// Check returns what is wrong with the parameters.
func (c *Charger) Check() []limit.Fault {
	faults := limit.Check(c.Keys())
	if len(faults) > 0 {
		return faults
	}
	if c.StopSOC < c.StartSOC+0.01-1e-12 {
		faults = append(faults, limit.Fault{Key: "stop_soc", Msg: fmt.Sprintf(
			"%v is not at least 0.01 above start_soc %v: it would start and stop without end", c.StopSOC, c.StartSOC), Example: "0.8"})
	}
	if c.NeverStarted && len(c.Carried) == 0 {
		faults = append(faults, limit.Fault{Key: "only_carried", Msg: "wants dates in carried, or the charger would never run", Example: "false"})
	}
	if c.Source == Mains && c.FuelLPerH > 0 {
		faults = append(faults, limit.Fault{Key: "fuel_l_per_h", Msg: "is for an engine, and the source is mains", Example: "0"})
	}
	return faults
}

// Slips returns what no outbuilding has and what is likely a value in other units.
func (c *Charger) Slips() []limit.Fault {
	if c.PowerW >= 5 {
		return nil
	}
	return []limit.Fault{{Key: "power_w", Msg: fmt.Sprintf("%s W is too little for a charger: it looks like kW; %[1]s kW is %s W",
		limit.Plain(c.PowerW), limit.Plain(c.PowerW*1000)), Example: "300"}}
}

// Burns reports whether an engine runs near the building: not where nothing but dates at a charger elsewhere is typed.
func (c *Charger) Burns() bool { return c.Source == Engine && (!c.NeverStarted || c.FuelLPerH > 0) }

// Cautions are what is to be said wherever a run has an engine in it.
func (c *Charger) Cautions() []string {
	if !c.Burns() {
		return nil
	}
	return []string{"engine: its exhaust holds carbon monoxide, which kills unseen: run it outdoors only, well away from doors, windows and vents; fill it only when cold; more in check --cautions"}
}

// Away reports whether the battery is away on a date.
func (c *Charger) Away(month, day int) bool {
	for _, s := range c.Carried {
		if s.Has(month, day) {
			return true
		}
	}
	return false
}

// InputWh is the energy that the charger itself takes for wh at the bus.
func (c *Charger) InputWh(wh float64) float64 { return wh / c.Efficiency }
