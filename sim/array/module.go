// Package array turns the light on the plane and the temperature into the DC power of the array, W, at the module
// terminals: at the maximum-power point, and along the whole current-voltage curve.
//
// It needs a datasheet's numbers at standard test conditions (STC): 1000 W/m2, cells at 25 degC.
package array

import (
	"fmt"
	"math"
	"strconv"

	"tideover/sim/limit"
)

// Mounting is how much air passes behind the modules.
type Mounting int

// The mountings: on a rack in the open, on rails a hand above a roof, flush on boards.
const (
	OpenRack Mounting = iota
	CloseRoof
	OnBoards
)

// mount holds King's constants: back temperature = air + G exp(a + b v), cell = back + dTC at 1000 W/m2.
type mount struct{ a, b, dTC float64 }

// D. L. King, W. E. Boyson, J. A. Kratochvil, "Photovoltaic Array Performance Model", SAND2004-3535 (2004): glass front
// and polymer back on an open rack; glass and glass close to a roof (no other close row is given); glass and polymer on
// an insulated back.
var mounts = [...]mount{
	OpenRack:  {-3.56, -0.0750, 3},
	CloseRoof: {-2.98, -0.0471, 1},
	OnBoards:  {-2.81, -0.0455, 0},
}

// Module is one module's datasheet at STC. The zero value is not usable; start from DefaultModule.
type Module struct {
	PowerW           float64
	MpVoltageV       float64 // at maximum power
	MpCurrentA       float64
	OcVoltageV       float64 // open circuit
	ScCurrentA       float64 // short circuit
	PowerCoeffPerK   float64 // of the maximum power, relative, negative
	VoltageCoeffPerK float64 // of the open-circuit voltage, relative, negative
	CurrentCoeffPerK float64 // of the short-circuit current, relative
	Cells            int     // in series; 0: estimated from the open-circuit voltage
	BypassGroups     int     // groups of cells with a bypass diode each; 0 counts as 1
	Mounting         Mounting
	MaxSeriesFuseA   float64 // 0: not known
}

// DefaultModule returns a module with what need not be typed: typical coefficients of crystalline silicon, on a roof.
func DefaultModule() Module {
	return Module{PowerCoeffPerK: -0.0037, VoltageCoeffPerK: -0.0028, CurrentCoeffPerK: 0.0005, BypassGroups: 3, Mounting: CloseRoof}
}

// Keys lists the parameters as a person types them, reading and writing m.
func (m *Module) Keys() []limit.Key {
	return []limit.Key{
		limit.Num("power_w", &m.PowerW, limit.AboveTo(0, 10000), "rated power of one module", "100").Needed(),
		limit.Num("mp_voltage_v", &m.MpVoltageV, limit.AboveTo(0, 1000), "voltage at maximum power", "18.6").Needed(),
		limit.Num("mp_current_a", &m.MpCurrentA, limit.Above(0), "current at maximum power", "5.38").Needed(),
		limit.Num("oc_voltage_v", &m.OcVoltageV, limit.AboveTo(0, 1000), "open-circuit voltage", "22.3").Needed(),
		limit.Num("sc_current_a", &m.ScCurrentA, limit.Above(0), "short-circuit current", "5.75").Needed(),
		limit.Num("power_coeff_per_k", &m.PowerCoeffPerK, limit.Between(-0.01, 0),
			"change of the power for each degree of the cell, as a fraction: -0.37 %/K is -0.0037", "-0.0037").
			From("typical of crystalline silicon, -0.0045 (old) to -0.0034 (new)"),
		limit.Num("voltage_coeff_per_k", &m.VoltageCoeffPerK, limit.Between(-0.01, 0),
			"change of the open-circuit voltage for each degree, as a fraction: -0.28 %/K is -0.0028", "-0.0028").
			From("typical of crystalline silicon, -0.0036 to -0.0025"),
		limit.Num("current_coeff_per_k", &m.CurrentCoeffPerK, limit.Between(-0.001, 0.002),
			"change of the short-circuit current for each degree, as a fraction: 0.05 %/K is 0.0005", "0.0005").
			From("typical of crystalline silicon, 0.0003 to 0.0007, from memory"),
		limit.Int("cells", &m.Cells, limit.Between(0, 300),
			"cells in series (half the count of a half-cut module); 0 estimates them from the open-circuit voltage", "36").
			From("estimated at 0.65 V a cell"),
		limit.OneOf("mounting", &m.Mounting, []string{"open_rack", "close_roof", "on_boards"},
			"air behind the modules: in the open, on rails a hand above a roof, flush on boards", "close_roof").
			From("a guess: an outbuilding carries its modules on the roof"),
		limit.Int("bypass_groups", &m.BypassGroups, limit.Between(0, 60),
			"groups of cells in one module with a bypass diode each: what one shadow can switch off alone", "3").
			From("common practice for modules of 60 cells and more; small ones have 1 or 2"),
		limit.Num("max_series_fuse_a", &m.MaxSeriesFuseA, limit.AtLeast(0), "largest fuse in a string, on its plate; 0 means not known", "20").From("not known"),
	}
}

// Check returns what is wrong with the parameters; nil when nothing is. Keys are those of Keys, without the module's
// own name before them. The numbers of the plate are held against each other only when each stands alone.
func (m Module) Check() []limit.Fault {
	faults := limit.Check(m.Keys())
	plate := true
	for i := range faults {
		f := &faults[i]
		switch f.Key {
		case "power_coeff_per_k":
			f.Msg += coeffHint(m.PowerCoeffPerK, m.PowerW, "W")
		case "current_coeff_per_k":
			f.Msg += currentCoeffHint(m.CurrentCoeffPerK, m.ScCurrentA)
		case "voltage_coeff_per_k":
			f.Msg += coeffHint(m.VoltageCoeffPerK, m.OcVoltageV, "V")
		case "power_w", "mp_voltage_v", "mp_current_a", "oc_voltage_v", "sc_current_a":
			plate = false
		}
	}
	if !plate {
		return faults
	}
	add := func(key, example, format string, args ...any) {
		faults = append(faults, limit.Fault{Key: key, Msg: fmt.Sprintf(format, args...), Example: example})
	}
	swapped := map[bool]string{true: ": they look swapped"}
	swappedV := m.MpVoltageV > m.OcVoltageV && near(m.PowerW/(m.OcVoltageV*m.MpCurrentA))
	swappedA := m.MpCurrentA > m.ScCurrentA && near(m.PowerW/(m.MpVoltageV*m.ScCurrentA))
	if mpW := m.MpVoltageV * m.MpCurrentA; !near(m.PowerW/mpW) && !swappedV && !swappedA {
		if near(m.PowerW/mpW*1000) && m.MpCurrentA >= 100 {
			add("mp_current_a", digits(m.MpCurrentA/1000), "%s x mp_voltage_v = %s W, but power_w is %s: it looks like mA",
				limit.Plain(m.MpCurrentA), digits(mpW), limit.Plain(m.PowerW))
		} else {
			add("power_w", "100", "%s is not within 5 %% of mp_voltage_v x mp_current_a = %s W%s", limit.Plain(m.PowerW),
				digits(mpW), powerHint(m.PowerW, m.PowerW/mpW))
		}
	}
	if m.MpVoltageV >= m.OcVoltageV {
		add("mp_voltage_v", "18.6", "%s is not below oc_voltage_v, %s%s", limit.Plain(m.MpVoltageV), limit.Plain(m.OcVoltageV), swapped[swappedV])
	}
	if m.MpCurrentA >= m.ScCurrentA {
		add("mp_current_a", "5.38", "%s is not below sc_current_a, %s%s", limit.Plain(m.MpCurrentA), limit.Plain(m.ScCurrentA), swapped[swappedA])
	}
	// A plate's ratios lie at 1.15 to 1.5 and 1.03 to 1.3.
	if m.OcVoltageV > 2*m.MpVoltageV {
		add("oc_voltage_v", "22.3", "%s is over twice mp_voltage_v, %s: are both of one module?", limit.Plain(m.OcVoltageV), limit.Plain(m.MpVoltageV))
	}
	if m.ScCurrentA > 2*m.MpCurrentA {
		hint := "are both of one module?"
		if r := m.ScCurrentA / m.MpCurrentA / 1000; r > 1 && r < 1.5 {
			hint = "it looks like mA; " + limit.Plain(m.ScCurrentA) + " mA is " + digits(m.ScCurrentA/1000) + " A"
		}
		add("sc_current_a", "5.75", "%s is over twice mp_current_a, %s: %s", limit.Plain(m.ScCurrentA), limit.Plain(m.MpCurrentA), hint)
	}
	if v := m.OcVoltageV / float64(m.Cells); m.Cells > 0 && (v < 0.5 || v > 1) {
		msg := "%d cells share %s V, %s V each, which is not between 0.5 and 1"
		if v >= 0.25 && v < 0.5 {
			msg += "; count half the cells of a half-cut module"
		}
		add("cells", "36", msg, m.Cells, limit.Plain(m.OcVoltageV), digits(v))
	}
	return faults
}

// powerHint names the likely slip behind a power that is ratio times what voltage and current give.
func powerHint(powerW, ratio float64) string {
	switch {
	case near(ratio * 1000):
		return "; it looks like kW: " + limit.Plain(powerW) + " kW is " + digits(powerW*1000)
	case ratio > 1.5 && ratio < 60 && near(ratio/math.Round(ratio)):
		return "; it looks like the power of " + digits(math.Round(ratio)) + " modules: type that of one"
	}
	return ""
}

func near(ratio float64) bool { return math.Abs(ratio-1) <= 0.05 }

// coeffHint names the likely slip behind a relative coefficient: a lost sign, percent, or W/K and V/K of the plate.
func coeffHint(v, plate float64, unit string) string {
	usual := func(v float64) bool { return v >= -0.006 && v <= -0.002 }
	switch {
	case usual(-v):
		return ": it looks like a lost sign; -" + limit.Plain(v)
	case usual(-math.Abs(v) / 100):
		return ": it looks like percent; " + limit.Plain(-math.Abs(v)) + " %/K is " + digits(-math.Abs(v)/100)
	case plate > 0 && usual(-math.Abs(v)/plate):
		return fmt.Sprintf(": it looks like %[1]s/K; %[2]s %[1]s/K of %[3]s %[1]s is %[4]s", unit,
			limit.Plain(-math.Abs(v)), limit.Plain(plate), digits(-math.Abs(v)/plate))
	}
	return ""
}

// currentCoeffHint names the likely slip behind a relative coefficient of the current: percent, or A/K of the plate.
func currentCoeffHint(v, plateA float64) string {
	usual := func(v float64) bool { return v >= 0.0002 && v <= 0.0012 }
	switch {
	case plateA > 0 && usual(v/plateA):
		return fmt.Sprintf(": it looks like A/K; %s A/K of %s A is %s", limit.Plain(v), limit.Plain(plateA), digits(v/plateA))
	case usual(v / 100):
		return ": it looks like percent; " + limit.Plain(v) + " %/K is " + digits(v/100)
	}
	return ""
}

// digits writes v in at most four significant digits.
func digits(v float64) string {
	r, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 4, 64), 64) // its own text: no error but an overflow to Inf
	return limit.Plain(r)
}

// seriesCells is the count of cells that share the open-circuit voltage. 0.65 V a cell is a guess between old modules
// (0.60) and new ones (0.70); it moves the voltage at 200 W/m2 by less than 1 %.
func (m Module) seriesCells() float64 {
	if m.Cells > 0 {
		return float64(m.Cells)
	}
	return math.Round(m.OcVoltageV / 0.65)
}
