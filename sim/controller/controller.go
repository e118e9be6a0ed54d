// Package controller models a charge controller between the array and the battery bus: the window of its input, its
// efficiency, its own draw, its ratings, and the voltages at which it charges. Powers in W, never negative.
//
// A maximum-power-point controller (mppt) works the array at its best and converts; one that switches (pwm, pulse-width
// modulation) joins the array to the battery, whose voltage it then has, and chops when the battery wants less.
package controller

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"tideover/sim/limit"
)

// Kind is how a controller draws from the array.
type Kind int

// The kinds, in the order of KindWords.
const (
	MPPT Kind = iota
	PWM
)

// KindWords are the words for the kinds, as typed.
var KindWords = []string{"mppt", "pwm"}

func (k Kind) String() string { return KindWords[k] }

// Controller is a charge controller.
type Controller struct {
	Kind               Kind
	OwnDrawW           float64 // day and night, from the bus
	MaxCurrentA        float64 // output
	MaxInputV          float64 // the input is destroyed above it: never started
	InputOffWhenBarred bool    // takes nothing while temperature forbids charging; else the sun still feeds the loads

	// mppt
	Efficiency         float64 // output over input power, at rated power
	EfficiencyAtTenth  float64 // at a tenth of it; 0: the same
	TrackingEfficiency float64 // power found over maximum power
	MaxInputW          float64 // 0: no limit but the current
	MaxInputA          float64 // 0: no limit
	MinInputV          float64 // runs down to this array voltage; 0: the bank's charging voltage + 1 V
	StartInputV        float64 // starts at this open-circuit voltage; 0: the bank's charging voltage + 5 V

	// pwm
	SwitchDropV float64 // from array to battery

	// Charging; whole bank, at 25 degC.
	AbsorptionV        float64 // 0: the battery's preset
	AbsorptionH        float64 // 0: the battery's preset
	FloatV             float64 // 0: the battery's preset
	TempCompMVPerCellK float64 // NaN: the battery's preset
}

// Default returns a controller with every value that has a sensible default.
func Default() Controller {
	return Controller{Efficiency: 0.95, TrackingEfficiency: 0.98, OwnDrawW: 1, SwitchDropV: 0.2, TempCompMVPerCellK: math.NaN()}
}

// New returns the default controller of a kind.
func New(kind Kind) Controller {
	c := Default()
	c.Kind = kind
	return c
}

// Keys declares the parameters of the controller's kind.
func (c *Controller) Keys() []limit.Key {
	keys := []limit.Key{limit.OneOf("kind", &c.Kind, KindWords,
		"mppt: works the array at its best voltage and converts; pwm: joins it to the battery, whose voltage it then has", "mppt").
		From("common practice")}
	if c.Kind == MPPT {
		keys = append(keys,
			limit.Num("efficiency", &c.Efficiency, limit.AboveTo(0.5, 1), "output over input power", "0.95").
				From("92 to 95 %, one maker's manual"),
			limit.Num("efficiency_at_tenth", &c.EfficiencyAtTenth, limit.Between(0, 1),
				"output over input power at a tenth of the rated power; 0 means the same", "0.92").From("the same"),
			limit.Num("tracking_efficiency", &c.TrackingEfficiency, limit.AboveTo(0.5, 1),
				"power found over maximum power", "0.98").From("0.98 to 0.99 in the sense of EN 50530, from memory"))
	} else {
		keys = append(keys, limit.Num("switch_drop_v", &c.SwitchDropV, limit.Between(0, 3),
			"voltage lost between array and battery, in its switch and blocking diode", "0.2").From("a guess"))
	}
	keys = append(keys,
		limit.Num("own_draw_w", &c.OwnDrawW, limit.AtLeast(0), "own draw from the battery, day and night", "1").
			From("up to 0.5 W for small units, 1 to 4 W for large ones, from memory"),
		limit.Num("max_current_a", &c.MaxCurrentA, limit.Above(0), "rated output current", "20").Needed())
	if c.Kind == MPPT {
		keys = append(keys,
			limit.Num("max_input_w", &c.MaxInputW, limit.AtLeast(0), "rated input power; 0 means only the current limits", "290").
				From("no limit"),
			limit.Num("max_input_a", &c.MaxInputA, limit.AtLeast(0), "rated input current; 0 means none", "10").From("no limit"))
	}
	keys = append(keys, limit.Num("max_input_v", &c.MaxInputV, limit.Between(5, 1500), "absolute limit of the input voltage", "75").Needed())
	if c.Kind == MPPT {
		keys = append(keys,
			limit.Num("min_input_v", &c.MinInputV, limit.Between(0, 1500),
				"lowest array voltage at which it runs; 0 means 1 V above the charging voltage", "15").
				From("typical step-down unit, from memory"),
			limit.Num("start_input_v", &c.StartInputV, limit.Between(0, 1500),
				"open-circuit voltage at which it starts; 0 means 5 V above the charging voltage", "19").
				From("typical step-down unit, from memory"))
	}
	return append(keys,
		limit.Num("absorption_v", &c.AbsorptionV, limit.Between(0, 1500),
			"voltage of the whole bank that charging rises to, at 25 C; 0 takes the battery's own", "14.4").From("the battery's own"),
		limit.Num("absorption_h", &c.AbsorptionH, limit.Between(0, 24),
			"hours held there before float; 0 takes those of the battery's kind", "2").From("lead 3, lithium 1: a guess, timers of 2 to 4 hours are usual for lead"),
		limit.Num("float_v", &c.FloatV, limit.Between(0, 1500),
			"voltage of the whole bank held after that, at 25 C; 0 takes the battery's own", "13.5").From("the battery's own"),
		limit.Parsed("temp_comp_mv_per_cell_k", c.setTempComp,
			"change of absorption and float for each cell and degree above 25 C; the word battery takes that of its kind: -5 lead, 0 lithium", "-4").From("battery"),
	)
}

func (c *Controller) setTempComp(words []string) error {
	if len(words) != 1 {
		return errors.New("wants one value: millivolts from -10 to 0, or battery")
	}
	if words[0] == "battery" {
		c.TempCompMVPerCellK = math.NaN()
		return nil
	}
	v, err := strconv.ParseFloat(words[0], 64)
	if err != nil || !(v >= -10 && v <= 0) || strings.Trim(words[0], "-0123456789.") != "" {
		msg := strconv.Quote(words[0]) + " is not between -10 and 0, nor the word battery"
		switch {
		case err == nil && v > 0 && v <= 10:
			msg += ": the voltages fall with warmth; it looks like a lost sign"
		case err == nil && v < -10 && v >= -60:
			msg += ": it looks like that of a whole 12 V block; of one of its 6 cells it is " + limit.Plain(math.Round(v/6*100)/100)
		}
		return errors.New(msg)
	}
	c.TempCompMVPerCellK = v
	return nil
}

// Check returns what is wrong with the parameters of its kind.
func (c *Controller) Check() []limit.Fault {
	faults := limit.Check(c.Keys())
	if len(faults) > 0 {
		return faults
	}
	add := func(key, example, format string, args ...any) {
		faults = append(faults, limit.Fault{Key: key, Msg: fmt.Sprintf(format, args...), Example: example})
	}
	if c.Kind == MPPT {
		switch tenth := c.EfficiencyAtTenth; {
		case tenth == 0:
		case tenth > c.Efficiency:
			add("efficiency_at_tenth", "0.92", "%v is above efficiency %v: the constant part of the loss would be negative", tenth, c.Efficiency)
		case (1-tenth)/10 > 1-c.Efficiency:
			add("efficiency_at_tenth", "0.92", "%v loses more watts at a tenth of the power than efficiency %v at all of it", tenth, c.Efficiency)
		}
		for _, v := range []struct {
			key   string
			volts float64
		}{{"min_input_v", c.MinInputV}, {"start_input_v", c.StartInputV}} {
			if v.volts >= c.MaxInputV {
				add(v.key, "19", "%v is not below max_input_v %v", v.volts, c.MaxInputV)
			}
		}
		if c.StartInputV > 0 && c.MinInputV > c.StartInputV {
			add("min_input_v", "15", "%v is above start_input_v %v", c.MinInputV, c.StartInputV)
		}
	}
	if c.AbsorptionV > 0 && c.FloatV > c.AbsorptionV {
		add("float_v", "13.5", "%v is above absorption_v %v", c.FloatV, c.AbsorptionV)
	}
	return faults
}

// Slips returns what no outbuilding has and what is likely a value in other units. A study may go beyond.
func (c *Controller) Slips() []limit.Fault {
	var faults []limit.Fault
	for _, v := range []struct {
		key, unit, example string
		value, most        float64
	}{{"own_draw_w", "W", "1", c.OwnDrawW, 50}, {"max_current_a", "A", "20", c.MaxCurrentA, 1000}, {"max_input_a", "A", "10", c.MaxInputA, 1000}} {
		if v.value > v.most {
			faults = append(faults, limit.Fault{Key: v.key, Example: v.example, Msg: fmt.Sprintf("%s is above %s: it looks like m%s; %[1]s m%[3]s is %s %[3]s",
				limit.Plain(v.value), limit.Plain(v.most), v.unit, limit.Plain(v.value/1000))})
		}
	}
	for _, v := range []struct {
		key, example string
		value        float64
	}{{"absorption_v", "14.4", c.AbsorptionV}, {"float_v", "13.5", c.FloatV}} {
		if v.value > 0 && v.value < 5 {
			faults = append(faults, limit.Fault{Key: v.key, Example: v.example, Msg: fmt.Sprintf(
				"%s looks like the voltage of one cell: type the whole bank's", limit.Plain(v.value))})
		}
	}
	return faults
}

// StartV is the open-circuit voltage of the array at which the controller starts, V: for pwm, from which current flows.
func (c *Controller) StartV(chargeV float64) float64 {
	if c.Kind == PWM {
		return chargeV + c.SwitchDropV
	}
	if c.StartInputV > 0 {
		return c.StartInputV
	}
	return max(chargeV+5, c.MinInputV)
}

// RunV is the lowest voltage at maximum power at which the controller runs, V: for pwm 0, as it does not seek that power.
func (c *Controller) RunV(chargeV float64) float64 {
	if c.Kind == PWM {
		return 0
	}
	if c.MinInputV > 0 {
		return c.MinInputV
	}
	return chargeV + 1
}

// Runs reports whether the controller works with an array of these voltages, at maximum power and open circuit. For pwm
// chargeV is the bus voltage of the moment; for mppt the bank's charging voltage, and running is whether it already was.
func (c *Controller) Runs(mpVoltageV, openVoltageV, chargeV float64, running bool) bool {
	return mpVoltageV >= c.RunV(chargeV) && (openVoltageV >= c.StartV(chargeV) || running && c.Kind == MPPT) && openVoltageV <= c.MaxInputV
}

// Loss returns what conversion takes of inW at the input, while there is any: constW + share x inW, W, at most inW. It goes
// through the efficiencies at ratedW of input and at a tenth of it, so that the part that does not depend on the load weighs
// more the dimmer the day. A pwm controller converts nothing: what it loses is its drop times its current. It panics
// unless ratedW > 0: our bug.
func (c *Controller) Loss(ratedW float64) (constW, share float64) {
	if !(ratedW > 0) {
		panic(fmt.Sprintf("controller: Loss: ratedW is %v, want > 0", ratedW))
	}
	if c.Kind == PWM {
		return 0, 0
	}
	full := 1 - c.Efficiency
	if c.EfficiencyAtTenth == 0 {
		return 0, full
	}
	// constant + share = full, and constant + share/10 = (1 - EfficiencyAtTenth)/10
	share = (full - (1-c.EfficiencyAtTenth)/10) / 0.9
	return max(0, full-share) * ratedW, share
}

// EfficiencyAt is output over input power with inW at the input of a controller rated for ratedW there, 0..1. See Loss.
func (c *Controller) EfficiencyAt(inW, ratedW float64) float64 {
	constW, share := c.Loss(ratedW)
	if constW == 0 {
		return 1 - share
	}
	if !(inW > 0) {
		return 0
	}
	return max(0, 1-share-constW/inW)
}

// Offer is what becomes of the array's power before the battery is asked: Array = NotStarted + OffPeak + Clipped + Ready.
type Offer struct{ NotStartedW, OffPeakW, ClippedW, ReadyW float64 }

// Offer sorts, for mppt, arrayW (maximum power at the module terminals), given the array's voltages at that moment and the bank's
// charging voltage. ReadyW is at the input and still subject to the limit of the output current. A unit that is running
// goes on down to its lowest voltage; one that is not waits for its starting voltage.
func (c *Controller) Offer(arrayW, mpVoltageV, openVoltageV, chargeV float64, running bool) Offer {
	if !c.Runs(mpVoltageV, openVoltageV, chargeV, running) {
		return Offer{NotStartedW: arrayW}
	}
	found := arrayW * c.TrackingEfficiency
	o := Offer{OffPeakW: arrayW * (1 - c.TrackingEfficiency)}
	most := found
	if c.MaxInputW > 0 {
		most = min(most, c.MaxInputW)
	}
	if c.MaxInputA > 0 {
		most = min(most, c.MaxInputA*mpVoltageV)
	}
	o.ClippedW, o.ReadyW = found-most, most
	return o
}
