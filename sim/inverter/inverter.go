// Package inverter models battery-to-AC conversion: when the inverter is on, what it draws with nothing plugged in,
// what conversion loses, and its continuous rating. Powers in W, never negative.
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
)

// Inverter is one inverter.
type Inverter struct {
	Mode             Mode
	When             clock.Timetable // for Timetable
	RatedW           float64         // continuous
	IdleW            float64         // no-load draw for every hour it is on, loaded or not
	ProportionalLoss float64         // of the AC power
	ResistiveLoss    float64         // of the rating, at full load; grows with the square of the AC power
	RestartAfterMin  float64         // after a trip its loads stay off so long, and while the overload lasts
}

// ModeWords are the modes as typed, in order.
var ModeWords = []string{"always_on", "timetable", "on_demand"}

// String returns the mode as typed.
func (m Mode) String() string { return ModeWords[m] }

// Default returns an inverter with every value that has a sensible default.
func Default() Inverter {
	return Inverter{ProportionalLoss: 0.03, ResistiveLoss: 0.05, RestartAfterMin: 1}
}

// Keys declares the parameters.
func (v *Inverter) Keys() []limit.Key {
	return append([]limit.Key{
		limit.OneOf("mode", &v.Mode, ModeWords, "when it is on", "on_demand").From("as it comes from the box"),
		limit.Num("rated_w", &v.RatedW, limit.Above(0), "continuous rating", "1000").Needed(),
		limit.Num("idle_w", &v.IdleW, limit.AtLeast(0), "draw with nothing plugged in, for every hour it is on", "12").
			Needed(),
		limit.Num("proportional_loss", &v.ProportionalLoss, limit.Between(0, 0.5),
			"loss in proportion to the AC power, share of it", "0.03").From("a guess, typical 1 kW pure sine"),
		limit.Num("resistive_loss", &v.ResistiveLoss, limit.Between(0, 0.5),
			"loss with the square of the AC power, share of the rating at full load", "0.05").
			From("a guess, typical 1 kW pure sine"),
		limit.Num("restart_after_min", &v.RestartAfterMin, limit.Between(0, 10080),
			"minutes after an overload before it starts again by itself", "1").From("a guess"),
	}, v.When.Keys()...)
}

// Check returns what is wrong with the parameters.
func (v *Inverter) Check() []limit.Fault {
	faults := limit.Check(v.Keys())
	if v.IdleW > 0.1*v.RatedW && len(faults) == 0 {
		faults = append(faults, limit.Fault{Key: "idle_w", Msg: limit.Plain(v.IdleW) + " is over a tenth of rated_w " +
			limit.Plain(v.RatedW) + ": is one of them in other units?", Example: "12"})
	}
	if v.Mode == Timetable && v.When.Always() {
		faults = append(faults, limit.Fault{Key: "hours", Msg: "is missing: the mode timetable wants hours, days or a season",
			Example: `"17:00 to 22:00"`})
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

// LossW is the conversion loss beyond the no-load draw at acW, W: with p = Pac / Pn, v p + r p^2 times Pn.
// Source: H. Schmidt, D. U. Sauer, Wechselrichter-Wirkungsgrade, Sonnenenergie 4/1996, 43-47 (form from memory). Its
// constant term is the no-load draw, which is booked apart.
func (v *Inverter) LossW(acW float64) float64 {
	return acW * (v.ProportionalLoss + v.ResistiveLoss*acW/v.RatedW)
}

// DrawA is the current that the inverter takes from a bus at busV while it feeds acW, A.
func (v *Inverter) DrawA(acW, busV float64) float64 { return (v.IdleW + acW + v.LossW(acW)) / busV }
