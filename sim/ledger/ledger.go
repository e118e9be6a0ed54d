// Package ledger books every watt-hour of a run into days, months and the whole, and holds what the run found: the
// days without power, the outages and their causes. It knows no box and no file.
//
// Sign: all flows are positive in the direction of their name; StoreChange is positive when the charge held rises.
package ledger

import "time"

// Cause is why an outage happened.
type Cause int

// The causes. ColdBarred is an empty battery whose missing charge was refused for cold, or for heat, in the spell before.
const (
	BatteryEmpty Cause = iota
	VoltageSag
	Overload
	AutoOff
	ColdBarred
	NCauses
)

var causeWords = [NCauses]string{"battery empty", "voltage sag", "overload", "auto-off", "cold-barred"}

// String returns the cause in words.
func (c Cause) String() string { return causeWords[c] }

// HeatBarred is the words for ColdBarred where heat refused the charge.
const HeatBarred = "heat-barred"

// Outage is a stretch of time in which something that was asked for was not supplied.
type Outage struct {
	Start         time.Time // wall clock, to the minute
	Hours         float64   // from the first to the last moment without
	MustHaveHours float64   // of these, with a must-have load lacking power; 0 when only loads that can wait lacked it
	Cause         Cause
	UnservedWh    float64
	Hot           bool   // ColdBarred: most of what was refused was for heat
	Chain         *Chain // what led to it; nil where it was not asked for
}

// Chain is what went before an outage: the three days before it began, unless said otherwise.
type Chain struct {
	Days          float64 // that were looked at: three, or as many as the run holds
	SunShare      float64 // light on the plane over the usual of the season; 1 where nothing came before
	StartSOC      float64 // at their beginning
	StandingShare float64 // of all that left the bus: inverter idle and standby
	BarredWh      float64 // charge refused for cold or heat
	HeatWh        float64 // of it, for heat
	Off           bool    // nothing was served in that time though it was asked for, or nothing drew at all: the loads were off already
	AsleepWh      float64 // offered at the bus while all slept, the battery flat
	AsleepBarred  bool    // and the most of it refused for cold or heat alone
	AsleepHot     bool    // for heat
	ClippedWh     float64 // over the controller's rating
	Load          string  // what drew more than on its usual day in the last 24 hours, and most of all; "" if nothing did
	LoadWh        float64
	LoadOn        time.Weekday // the day on which it began to
}

// dullShare is the part of the usual sun under which three days are called dull.
const dullShare = 0.6

// Dull reports whether the days before were dull.
func (c *Chain) Dull() bool { return c.SunShare < dullShare }

// Day is what is kept of one wall-clock date.
type Day struct {
	Date         time.Time // midnight, wall clock
	LackMin      float64   // minutes in which must-have loads lacked power, withheld excluded
	OffByRuleMin float64   // minutes in which must-have loads were kept off by the user's own rule; a charger's standby does not count
	AskedWh      float64
	ServedWh     float64
	LowestSOC    float64
}

// WithoutPower reports a date on which must-have loads lacked power for more than one minute in all.
func (d *Day) WithoutPower() bool { return d.LackMin > 1 }

// OffByRule reports the same for what the user's own rule withheld.
func (d *Day) OffByRule() bool { return d.OffByRuleMin > 1 }

// WhollyDark reports a date on which at least one load asked and none was served all day.
func (d *Day) WhollyDark() bool { return d.AskedWh > 0 && d.ServedWh == 0 }

// Month is one calendar month of the books.
type Month struct {
	Year             int
	Month            time.Month
	Days             int
	Wh               Flows
	SunlightWh       float64 // light on the plane at the array's rating: W/m2 x rated W / 1000, before dirt and glass
	NeedWh           float64 // at the bus: loads with their cables, inverter and standby, if nothing were ever cut; withheld left out
	HarvestWh        float64 // at the bus: what the controller could have delivered, had all of it found room
	BarredWh         float64 // of it, what cold or heat refused
	MissedWh         float64 // of that, what a battery neither cold nor hot would have found room for
	HeatBarredWh     float64 // of Wh[ChargeBarred], at the module terminals, what heat refused
	AsleepWh         float64 // of HarvestWh, what was not started as all slept, the battery flat
	CableWh          float64 // lost in the battery's cable
	DaysWithoutPower int
	DaysOffByRule    int
	LowestSOC        float64
}

// LoadSum is one load's year.
type LoadSum struct {
	Name     string
	Bus      string // "ac" or "dc"
	DemandWh float64
}

// Answer is what the user came for.
type Answer struct {
	DaysWithoutPower  int
	DaysOffByRule     int
	DaysWhollyDark    int
	HoursWithoutPower float64
	LongestOutageH    float64
	UnservedShare     float64 // of demand, 0..1
	LowestSOC         float64
	LowestSOCTime     time.Time
	StartSOC          float64
	CoincidentPeakW   float64 // AC on-watts that may overlap inside one step
	CoincidentPeakVA  float64 // the same in volt-amperes, as if all were equally out of step
}

// Run is the whole result of one simulation.
type Run struct {
	Start, End     time.Time // wall clock
	OffAtStart     bool      // the first outage had begun before
	OffAtEnd       bool      // the last goes on after the end
	Answer         Answer
	Total          Flows // Wh
	SunlightWh     float64
	Months         []Month
	Days           []Day
	Outages        []Outage
	DaysByCause    [NCauses]int // dates without power, by the cause that took most of their minutes
	DaysHeatBarred int          // of those put to ColdBarred, for heat
	Loads          []LoadSum
	Warnings       []string
	Notes          []string // what was assumed, one line each
	SettlePasses   int      // 0 when the starting charge was typed
	Settled        bool
	SpellLackWh    float64   // at the bus: the most that was lacking between two times that the battery was full
	SpellLackAt    time.Time // when it came to that
	SpellLackFrom  time.Time // when it began to lack
	CapacityWh     float64   // from empty to full at 25 C
	DisconnectSOC  float64
	ColdCutOffSOC  float64  // the highest level at which the loads are cut: cold limits what can be taken
	CutV, BackV    float64  // of the whole bank, at which loads are cut too, and to which it must rise before they come back; 0: not by voltage
	InverterRatedW float64  // 0 without an inverter
	InverterVA     float64  // its rating in volt-amperes
	Cuts           int      // times that the loads were cut
	FrostHours     float64  // lead: hours in which its acid may freeze, by cautious figures
	Backup         *Charged // nil: there is none
	Waited         []Waited // of each load of packs that waits
	Hours          *Hours   // nil unless asked for
}

// Waited is what the packs of one load that waits for charge or sun did.
type Waited struct {
	Load       string
	Begun      []time.Time // start of the step in which each session began to charge, wall clock
	AtDeadline int         // of them, begun only because the deadline had come
	MeanH      float64     // from plugging in, or from the start of the run, to there
}

// Charged is what the charger beside the sun did.
type Charged struct {
	Hours   float64 // on dates when the battery is carried away: of full power, for the energy given
	InputWh float64 // into the charger
	FuelL   float64
	Starts  []time.Time
}

// Hours are the columns of hourly.csv: one value a step, all slices of one length.
type Hours struct {
	StepH         float64
	End           []time.Time // end of the step, wall clock with its offset
	GHIWm2        []float64
	DNIWm2        []float64
	DHIWm2        []float64
	AirTempC      []float64
	PlaneWm2      []float64 // before dirt and glass
	CellTempC     []float64
	FlowW         [NFlows][]float64 // mean W
	ACDemandW     []float64
	DCDemandW     []float64
	BatteryW      []float64 // at the terminals, positive when charging
	BatteryV      []float64
	BatteryTempC  []float64
	SOC           []float64 // at the end of the step
	AsleepW       []float64 // at the bus, of what was not started: offered while all slept, the battery flat
	AsleepBarredW []float64 // of it, what temperature alone kept out
	CutOffSOC     []float64 // at which the loads are cut, higher in the cold; nil: DisconnectSOC throughout
}

// Residual is the largest gap of the four balances over the throughput: see Flows.Residual.
func (r *Run) Residual() float64 { return r.Total.Residual() }

// CountDays fills the counts of days from Days and Outages. A date without power is put to the cause of the outage
// that took most of it.
func (r *Run) CountDays() {
	month := 0
	a := &r.Answer
	next := 0
	for i := range r.Days {
		d := &r.Days[i]
		for month+1 < len(r.Months) && (r.Months[month].Year != d.Date.Year() || r.Months[month].Month != d.Date.Month()) {
			month++
		}
		m := &r.Months[month]
		m.Days++
		m.LowestSOC = min(m.LowestSOC, d.LowestSOC)
		if d.OffByRule() {
			a.DaysOffByRule++
			m.DaysOffByRule++
		}
		if d.WhollyDark() {
			a.DaysWhollyDark++
		}
		if !d.WithoutPower() {
			continue
		}
		a.DaysWithoutPower++
		m.DaysWithoutPower++
		end := d.Date.AddDate(0, 0, 1)
		for next < len(r.Outages) && !r.Outages[next].End().After(d.Date) {
			next++
		}
		var most time.Duration
		cause, hot := BatteryEmpty, false
		for _, o := range r.Outages[next:] {
			if !o.Start.Before(end) {
				break
			}
			if o.MustHaveHours == 0 {
				continue
			}
			from, to := o.Start, o.End()
			if from.Before(d.Date) {
				from = d.Date
			}
			if to.After(end) {
				to = end
			}
			if over := to.Sub(from); over > most {
				most, cause, hot = over, o.Cause, o.Hot
			}
		}
		r.DaysByCause[cause]++
		if hot {
			r.DaysHeatBarred++
		}
	}
}

// CauseWords says the cause.
func (o *Outage) CauseWords() string {
	if o.Hot {
		return HeatBarred
	}
	return o.Cause.String()
}

// HeatBarredWh is what heat refused, of Total[ChargeBarred].
func (r *Run) HeatBarredWh() (wh float64) {
	for i := range r.Months {
		wh += r.Months[i].HeatBarredWh
	}
	return wh
}

// End is the wall-clock time at which the outage ends.
func (o *Outage) End() time.Time {
	return o.Start.Add(time.Duration(o.Hours * float64(time.Hour)))
}
