package precheck

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tideover/sim"
	"tideover/sim/array"
	"tideover/sim/backup"
	"tideover/sim/battery"
	"tideover/sim/controller"
	"tideover/sim/inverter"
	"tideover/sim/wiring"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6g, want %.6g", what, got, want)
	}
}

// shed is an invented system of which everything is known: one 200 W module, 12 V, 1000 W at 88 %.
func shed() *Input {
	s := &sim.System{Array: array.Default(), Controller: controller.Default(), Bank: battery.Default(), AC: wiring.DefaultAC()}
	m := &s.Array.Module
	m.PowerW, m.MpVoltageV, m.MpCurrentA, m.OcVoltageV, m.ScCurrentA, m.MaxSeriesFuseA = 200, 26, 7.7, 32.9, 8.21, 15
	s.Controller.MaxCurrentA, s.Controller.MaxInputV, s.Controller.MaxInputA = 20, 150, 50
	s.Bank.CapacityAh, s.Bank.MaxChargeA = 200, 100
	v := inverter.Default()
	v.RatedW, v.IdleW, v.ProportionalLoss, v.ResistiveLoss = 1000, 0, 1/0.88-1, 0
	s.Inverter = &v
	s.ArrayCable = wiring.Run{LengthM: 6, AreaMM2: 6}
	s.BatteryCable = wiring.Run{LengthM: 1, AreaMM2: 50}
	s.InverterCable = wiring.Run{LengthM: 1, AreaMM2: 50}
	s.BatteryFuse.BreaksA = 20000
	s.AC.BreakerA, s.AC.AreaMM2, s.AC.Bond = 10, 2.5, wiring.OnePoint
	return &Input{System: s, RecordLowC: -10, RecordLowSource: "invented", LowestC: -4, HighestC: 30,
		Peak: sim.Peak{ACW: 500, On: []sim.Asking{{Load: "vacuum", OnW: 500}}}}
}

func line(t *testing.T, in *Input, key string) Line {
	t.Helper()
	for _, l := range Check(in).Lines {
		if l.Key == key {
			return l
		}
	}
	t.Fatalf("there is no line %q", key)
	return Line{}
}

func verdict(t *testing.T, what string, l Line, want Verdict) {
	t.Helper()
	if l.Verdict != want {
		t.Errorf("%s: %v %v %s against %v, want %v", what, l.Verdict, l.Number, l.Unit, l.Limit, want)
	}
}

func TestTableFactor(t *testing.T) {
	// NEC table 690.7(A), from memory; a value between bands takes the colder one.
	for c, want := range map[float64]float64{25: 1, 24: 1.02, 20: 1.02, 19.5: 1.04, 15: 1.04, 10: 1.06, 5: 1.08, 0: 1.10, -0.1: 1.12, -5: 1.12,
		-10: 1.14, -10.5: 1.16, -15: 1.16, -20: 1.18, -25: 1.20, -30: 1.21, -35: 1.23, -40: 1.25} {
		if f, ok := TableFactor(c); !ok || f != want {
			t.Errorf("%v C: %v, want %v", c, f, want)
		}
	}
	if f, ok := TableFactor(-41); ok || f <= 1.25 {
		t.Errorf("-41 C: %v %v, want more than the table holds, and unsure", f, ok)
	}
}

func TestOpenCircuitInTheCold(t *testing.T) {
	in := shed()
	a := &in.System.Array
	a.InSeries = 3
	// WI-07, recomputed by others: 3 x 32.9 V at -10 C by the table is 112.518 V. WI-08: by -0.123 V/K 111.615 V.
	in.CoeffTyped = []bool{false}
	near(t, "WI-07", line(t, in, "open_circuit_cold").Number, 112.518, 1e-9)
	in.CoeffTyped = []bool{true}
	a.Module.VoltageCoeffPerK = -0.123 / 32.9
	near(t, "WI-08", line(t, in, "open_circuit_cold").Number, 111.615, 1e-9)

	// Trade figures: one 49.5 V panel of -0.26 %/K reaches 54 V at -10 C: it fails a 50 V box and fits a 60 V one. Two 22.5 V
	// panels give 49.4 V, 0.6 V from ruin on a 50 V input.
	a.InSeries, a.Module.OcVoltageV, a.Module.VoltageCoeffPerK = 1, 49.5, -0.0026
	in.System.Controller.MaxInputV = 50
	l := line(t, in, "open_circuit_cold")
	near(t, "one panel", l.Number, 54, 0.05)
	verdict(t, "a 50 V box", l, Fail)
	in.System.Controller.MaxInputV = 60
	verdict(t, "a 60 V box", line(t, in, "open_circuit_cold"), Pass)
	a.InSeries, a.Module.OcVoltageV, a.Module.VoltageCoeffPerK, a.Module.MpVoltageV = 2, 22.5, -0.0028, 18.6
	in.System.Controller.MaxInputV, in.System.Controller.MinInputV, in.System.Controller.StartInputV = 50, 12, 12
	l = line(t, in, "open_circuit_cold")
	near(t, "two panels", l.Number, 49.4, 0.05)
	verdict(t, "two panels on 50 V", l, Tight)
	if !strings.Contains(l.Cure, "1 in series, 2 side by side") {
		t.Errorf("the cure is %q", l.Cure)
	}
	// By coefficient x1.07 at 0 C, 1.10 at -10, 1.13 at -20, 1.15 at -30 (trade figures).
	for c, want := range map[float64]float64{0: 1.07, -10: 1.10, -20: 1.13, -30: 1.15} {
		in.RecordLowC, in.LowestC = c, c
		near(t, "growth", line(t, in, "open_circuit_cold").Number/45, want, 0.005)
	}
}

func TestGuessedColdIsNeverAPass(t *testing.T) {
	in := shed()
	in.RecordLowC = math.NaN()
	l := line(t, in, "open_circuit_cold")
	verdict(t, "no record low", l, Tight)
	near(t, "10 K below the coldest hour", l.Number, 32.9*(1+0.0028*39), 1e-9)
	if !strings.Contains(l.Cure, "record_low_c") || !strings.Contains(Check(in).Cold, "guess") {
		t.Errorf("%q, %q", l.Cure, Check(in).Cold)
	}
	in.RecordLowC, in.LowestC = -10, -15 // the weather was colder than the record
	near(t, "the colder of the two", line(t, in, "open_circuit_cold").Number, 32.9*(1+0.0028*40), 1e-9)
	in.CoeffTyped, in.RecordLowC = []bool{false}, -45 // the table has an end
	verdict(t, "below the table", line(t, in, "open_circuit_cold"), Tight)
}

func TestHeatAndStart(t *testing.T) {
	in := shed()
	// By hand: 30 C air, 1000 W/m2, 1 m/s, close to a roof: 30 + 1000 exp(-2.98-0.0471) + 1 = 79.5 C; 26 V x (1-0.0037x54.5) = 20.8 V.
	near(t, "hot", line(t, in, "max_power_hot").Number, 20.76, 0.01)
	verdict(t, "hot", line(t, in, "max_power_hot"), Pass)
	in.System.Controller.MinInputV = 20
	verdict(t, "hot, 20 V", line(t, in, "max_power_hot"), Tight)
	in.System.Controller.MinInputV, in.System.Controller.StartInputV = 21, 31
	verdict(t, "hot, 21 V", line(t, in, "max_power_hot"), Fail)
	verdict(t, "start, 31 V", line(t, in, "start_hot"), Fail)
	// By hand, 200 W/m2: 30 + 0.2 x 49.5 = 39.9 C; 32.9 V x (1-0.0028x14.9) = 31.53 V, less 51 cells x 0.02698 V x ln 5 = 2.21 V.
	in.System.Controller.StartInputV = 20
	near(t, "start", line(t, in, "start_hot").Number, 29.31, 0.02)
}

func TestArrayCurrentAndStringFuses(t *testing.T) {
	in := shed()
	// WI-06, recomputed by others: Isc 8.21 A, one string: 10.2625 A; 12.828 A, so 15 A.
	near(t, "WI-06, current", line(t, in, "array_current").Number, 10.2625, 1e-9)
	near(t, "WI-06, size", line(t, in, "array_ampacity").Number, 12.828, 5e-4)
	near(t, "WI-06, fuse", stringFuse("", 8.21, 100, 15, 3).Number, 15, 0)
	for _, c := range []struct {
		what            string
		othersA, plateA float64
		strings         int
		want            Verdict
	}{
		{"two strings want none", 10.26, 0, 2, Pass},
		{"three, plate not known", 20.5, 0, 3, Unknown},
		{"three, plate 15 A", 20.5, 15, 3, Pass},
		{"three, plate 10 A: 12.8 A of fuse do not fit", 20.5, 10, 3, Fail},
		{"three, plate 25 A: the others push 20.5 A at most", 20.5, 25, 3, Pass},
	} {
		verdict(t, c.what, stringFuse("", 8.21, c.othersA, c.plateA, c.strings), c.want)
	}
	in.System.Controller.MaxInputA = 0
	verdict(t, "no rating", line(t, in, "array_current"), Unknown)
	in.System.Controller.MaxInputA = 9
	verdict(t, "9 A", line(t, in, "array_current"), Tight)
}

func TestInverterCurrent(t *testing.T) {
	in := shed()
	// WI-11, recomputed by others: 1000 W, 11.0 V, 88 %: 103.31 A; x 1.25 is 129.13 A, so 150 A.
	near(t, "WI-11", line(t, in, "discharge_current").Number, 103.31, 0.005)
	near(t, "WI-11, size", line(t, in, "battery_ampacity").Number, 129.13, 0.005)
	near(t, "WI-11, fuse", line(t, in, "battery_fuse").Number, 150, 0)
	// WI-12: 2000 W, 10.5 V, 85 %: 224.09 A; 280.11 A, 300 A. A trade figure: 2000 W at 10.8 V and 88 % is 210 A, 263 A.
	v := inverter.Inverter{RatedW: 2000, ProportionalLoss: 1/0.85 - 1}
	near(t, "WI-12", v.DrawA(2000, 10.5), 224.09, 0.005)
	v.ProportionalLoss = 1/0.88 - 1
	near(t, "2000 W", v.DrawA(2000, 10.8), 210, 0.5)
	// A 2,000 W inverter on one 12 V 100 Ah battery: over the capacity in an hour.
	in.System.Inverter.RatedW, in.System.Bank.CapacityAh = 2000, 100
	verdict(t, "2000 W on 100 Ah", line(t, in, "discharge_current"), Fail)
	in.System.Bank.CapacityAh = 2000
	verdict(t, "2000 W on 2000 Ah", line(t, in, "discharge_current"), Pass)
	in.System.Bank.CapacityAh = 400
	verdict(t, "2000 W on 400 Ah", line(t, in, "discharge_current"), Unknown)
}

func TestChargeCurrent(t *testing.T) {
	in := shed() // 200 W x 0.95 / 12.8 V = 14.8 A
	b := &in.System.Bank
	near(t, "charge", line(t, in, "charge_current").Number, 14.84, 0.005)
	verdict(t, "100 A", line(t, in, "charge_current"), Pass)
	b.MaxChargeA = 14
	verdict(t, "14 A", line(t, in, "charge_current"), Fail)
	b.MaxChargeA = 0
	for ah, want := range map[float64]Verdict{200: Pass, 50: Tight, 25: Fail} {
		b.CapacityAh = ah
		verdict(t, "not typed", line(t, in, "charge_current"), want)
	}
}

func TestCoincidentPeak(t *testing.T) {
	in := shed()
	for w, want := range map[float64]Verdict{950: Pass, 951: Tight, 1000: Tight, 1001: Fail} {
		in.Peak.ACW = w
		verdict(t, "peak", line(t, in, "coincident_peak"), want)
	}
	// What lasts for hours on end is held to 80 % of the rating; a kettle's four minutes are not.
	for w, want := range map[float64]Verdict{800: Pass, 801: Tight} {
		in.Peak.ACW, in.Peak.LongW = w, w
		verdict(t, "for hours", line(t, in, "coincident_peak"), want)
	}
	// A cure points to outages in run only where there are some.
	in.Peak.YearW = 960
	if l := line(t, in, "year_peak"); l.Verdict != Tight || strings.Contains(l.Cure, "outages") {
		t.Errorf("within the rating: %+v", l)
	}
	in.Peak.YearW = 1001
	if l := line(t, in, "year_peak"); l.Verdict != Fail || !strings.Contains(l.Cure, "outages by overload") {
		t.Errorf("over the rating: %+v", l)
	}
}

func cautions(in *Input) string {
	var all strings.Builder
	for _, c := range Check(in).Cautions {
		all.WriteString(c.Short + "\n" + c.Full + "\n")
	}
	return all.String()
}

func TestEngineCautions(t *testing.T) {
	in := shed()
	for _, word := range []string{"carbon monoxide", "transfer switch", "Fuel"} {
		if strings.Contains(cautions(in), word) {
			t.Errorf("no engine, and the cautions have %q", word)
		}
	}
	c := backup.Default()
	in.System.Backup = &c
	for _, word := range []string{"carbon monoxide", "outdoors only", "doors, windows", "let it cool", "alarm", "transfer switch", "Earthing", "local code"} {
		if !strings.Contains(cautions(in), word) {
			t.Errorf("an engine, and the cautions lack %q", word)
		}
	}
	c.Source = backup.Mains
	if all := cautions(in); strings.Contains(all, "carbon monoxide") || !strings.Contains(all, "transfer switch") {
		t.Errorf("mains: the cautions are\n%s", all)
	}
}

func TestCautionsFitTheSystem(t *testing.T) {
	in := shed()
	in.HighestC = 36
	if all := cautions(in); strings.Contains(all, "40 C") || !strings.Contains(all, "18 cm") || !strings.Contains(all, "Isolators") || strings.Contains(all, "kills\n") {
		t.Errorf("36 C, 36 V: the cautions are\n%s", all)
	}
	in.HighestC = 41
	if !strings.Contains(cautions(in), "40 C") {
		t.Error("41 C, and nothing on heat")
	}
	in.System.Array.InSeries = 2 // 72.6 V by table at -10 C
	if all := cautions(in); strings.Contains(all, "current kills") || !strings.Contains(all, "60 V of direct current that count as safe to touch") {
		t.Errorf("72 V: the cautions are\n%s", all)
	}
	in.System.Array.InSeries = 4 // 145 V
	if all := cautions(in); !strings.Contains(all, "V of direct current kills") {
		t.Errorf("145 V: the cautions are\n%s", all)
	}
	in.System.AllInOne = true
	if all := cautions(in); strings.Contains(all, "18 cm") || strings.Contains(all, "Isolators") || !strings.Contains(all, "vents free") {
		t.Errorf("a box: the cautions are\n%s", all)
	}
}

// Lead has no board, so nothing tells to ask for its current.
func TestLeadHasNoBoard(t *testing.T) {
	for kind, want := range map[battery.Type]bool{battery.Lithium: true, battery.AGM: false} {
		in := shed()
		in.System.Bank.Type = kind
		for ah, verdictWanted := range map[float64]Verdict{200: Unknown, 50: Fail} {
			in.System.Bank.CapacityAh = ah
			l := line(t, in, "discharge_current")
			verdict(t, kind.String(), l, verdictWanted)
			if strings.Contains(l.Cure, "board") != want {
				t.Errorf("%v, %v Ah: the cure is %q", kind, ah, l.Cure)
			}
		}
	}
}

func TestCablesAndFuses(t *testing.T) {
	in := shed()
	s := in.System
	// By hand: 129.13 A wants a 150 A fuse; 50 mm2 carries 151 A, 35 mm2 125 A: less than the fuse.
	verdict(t, "50 mm2 behind 150 A", line(t, in, "battery_fuse"), Pass)
	s.BatteryCable.AreaMM2 = 35
	l := line(t, in, "battery_fuse")
	verdict(t, "35 mm2 behind 150 A", l, Fail)
	if !strings.Contains(l.Cure, "50 mm2 or 1/0 AWG") {
		t.Errorf("the cure is %q", l.Cure)
	}
	verdict(t, "35 mm2 for 129 A", line(t, in, "battery_ampacity"), Fail)
	// A fuse as typed: too small for the load, right, too large for the cable.
	s.BatteryCable.AreaMM2 = 50
	for _, c := range []struct {
		ratedA float64
		want   Verdict
	}{{125, Fail}, {150, Pass}, {175, Fail}} { // the last stays
		s.BatteryFuse.RatedA = c.ratedA
		verdict(t, "as typed", line(t, in, "battery_fuse"), c.want)
	}
	// The cure first names the fuse that need and cable leave: 150 A alone of the standard ratings of NEC 240.6(A) is between
	// 129.13 and 151 A; from 117.8 A it is 125 to 150 A; none where the cable carries 125 A.
	const copper = "the cable must carry its fuse: 70 mm2 or 2/0 AWG"
	if l := line(t, in, "battery_fuse"); l.Cure != "a fuse of 150 A, which this cable carries; else "+copper {
		t.Errorf("the cure is %q", l.Cure)
	}
	if got := fusesBetween(117.8, 151); got != "125 to 150 A" {
		t.Errorf("between 117.8 and 151 A: %q", got)
	}
	s.BatteryFuse.RatedA = 125
	if l := line(t, in, "battery_fuse"); !strings.HasSuffix(l.Cure, ": a fuse of 150 A, which this cable carries") {
		t.Errorf("the cure is %q", l.Cure)
	}
	s.BatteryFuse.RatedA = 175
	s.BatteryCable.AreaMM2 = 35
	if l := line(t, in, "battery_fuse"); l.Cure != copper {
		t.Errorf("the cure is %q", l.Cure)
	}
	s.BatteryCable.AreaMM2 = 50
	// Drop by hand: 103.31 A x 2 m x 0.386 ohm/km = 0.0798 V, 0.73 % of 11.0 V.
	near(t, "drop", line(t, in, "battery_drop").Number, 0.725, 0.005)
	s.BatteryCable.LengthM = 4 // 2.9 %
	verdict(t, "4 m", line(t, in, "battery_drop"), Tight)
	s.BatteryCable.LengthM = 8 // 5.8 %
	verdict(t, "8 m", line(t, in, "battery_drop"), Fail)
	s.BatteryCable = wiring.Run{}
	l = line(t, in, "battery_cable")
	verdict(t, "not typed", l, Unknown)
	if !strings.Contains(l.Cure, "175 A fuse it wants 70 mm2 or 2/0 AWG") { // the fuse typed is 175 A: 192 A and 175 A
		t.Errorf("the cure is %q", l.Cure)
	}
	// Controller to fuse board, by hand: 1.25 x 20 A wants a 25 A fuse; the array makes 200 W x 0.95 / 12.8 V = 14.84 A, and
	// 2 m of 4 mm2 (4.95 ohm/km, IEC 60228 class 5) lose 0.294 V of 12.8 V.
	l = line(t, in, "controller_cable")
	verdict(t, "not typed", l, Unknown)
	if l.Number != 25 || l.Cure != "behind a 25 A fuse it wants 4 mm2 or 10 AWG" || l.Wants != "25 A fuse, 4 mm2 or 10 AWG" ||
		l.Type != "wiring.controller_length_m and controller_area_mm2 or controller_awg" {
		t.Errorf("%v A: the cure is %q, %q; %q", l.Number, l.Cure, l.Wants, l.Type)
	}
	s.OutputCable = wiring.Run{LengthM: 2, AreaMM2: 4}
	l = line(t, in, "controller_drop")
	near(t, "controller's drop", l.Number, 100*0.294/12.8, 0.01)
	verdict(t, "controller's drop", l, Tight)
	near(t, "controller's fuse", line(t, in, "controller_fuse").Number, 25, 0)
	verdict(t, "controller's cable", line(t, in, "controller_ampacity"), Pass)
	// Trade figure: 11 A over 15 m of 4 mm2 at 18 V loses 8 %. Ours is the standard's highest resistance, 13 % above the round
	// figure; 20.0 V x 0.9 = 18 V.
	m := &s.Array.Module
	m.MpCurrentA, m.MpVoltageV, m.ScCurrentA = 11, 18, 11.7
	s.ArrayCable = wiring.Run{LengthM: 15, AreaMM2: 4}
	l = line(t, in, "array_drop")
	near(t, "15 m of 4 mm2", l.Number, 8*1.13, 0.1)
	verdict(t, "15 m of 4 mm2", l, Fail)
}

func TestBreakingCapacityAndSurge(t *testing.T) {
	in := shed()
	for _, c := range []struct {
		breaksA float64
		want    Verdict
	}{{0, Unknown}, {2000, Fail}, {10000, Tight}, {20000, Pass}} { // 10 to 20 kA class; bolt-down types 2 kA; the last stays
		in.System.BatteryFuse.BreaksA = c.breaksA
		verdict(t, "breaks", line(t, in, "battery_fuse_breaking"), c.want)
	}
	in.System.Bank.ResistanceOhm = 0.0005 // 14.2 V / 0.5 milliohm = 28.4 kA
	verdict(t, "28 kA", line(t, in, "battery_fuse_breaking"), Fail)
	for _, c := range []struct {
		fuseA, surgeA, s float64
		want             Verdict
	}{{150, 140, 3600, Pass}, {150, 300, 5, Pass}, {150, 300, 20, Unknown}, {150, 400, 1, Tight}, {150, 460, 1, Unknown}} {
		if got := FuseUnderSurge(c.fuseA, c.surgeA, c.s); got != c.want {
			t.Errorf("%+v: got %v", c, got)
		}
	}
}

func TestOutlets(t *testing.T) {
	in := shed()
	s := &in.System.AC
	verdict(t, "10 A on 2.5 mm2", line(t, in, "breaker"), Pass)
	s.BreakerA = 32 // 24 A
	verdict(t, "32 A on 2.5 mm2", line(t, in, "breaker"), Fail)
	s.AreaMM2, s.AWG, s.BreakerA = 0, "14", 20 // NEC 240.4(D): 15 A
	verdict(t, "20 A on 14 AWG", line(t, in, "breaker"), Fail)
	s.BreakerA = 0
	verdict(t, "no breaker", line(t, in, "breaker"), Unknown)
	verdict(t, "one point", line(t, in, "neutral_earth_bond"), Pass)
	for _, bond := range []wiring.Bond{wiring.BondUnknown, wiring.Floating} {
		s.Bond = bond
		if l := line(t, in, "neutral_earth_bond"); l.Verdict == Pass || !strings.Contains(l.Working, "may not trip") {
			t.Errorf("bond %v: %+v", bond, l)
		}
	}
}

func TestAllInOneHidesWhatIsInside(t *testing.T) {
	in := shed()
	in.System.AllInOne = true
	in.System.AC = wiring.DefaultAC()
	for _, l := range Check(in).Lines {
		if l.Group == Battery || strings.HasPrefix(l.Key, "battery") || strings.HasPrefix(l.Key, "inverter_") || l.Key == "breaker" {
			t.Errorf("a line of the inside: %+v", l)
		}
	}
	line(t, in, "neutral_earth_bond")
	// What it tells to type is a key of the box: an all-in-one scenario has no section inverter.
	in.Peak.VA, in.Peak.StartW, in.Peak.RestartW = 1200, 1500, 1500
	for _, key := range []string{"coincident_va", "surge", "restart"} {
		if l := line(t, in, key); !strings.Contains(l.Cure, "station.") || strings.Contains(l.Cure, "inverter.") {
			t.Errorf("%s: the cure is %q", key, l.Cure)
		}
	}
}

func TestAllAtOnceAfterACut(t *testing.T) {
	// Over the surge rating it is tight, as all are seldom on when the power comes back, and the line says so.
	in := shed()
	in.System.Inverter.SurgeW = 2000
	in.Peak.RestartW = 2500
	l := line(t, in, "restart")
	verdict(t, "2500 W on 2000 W", l, Tight)
	if !strings.HasPrefix(l.Working, "over it, and tight only as ") {
		t.Errorf("it says %q", l.Working)
	}
}

func TestVentilation(t *testing.T) {
	// IEC 62485-2 as three pages quote it: six cells of 200 Ah vented: 0.30 m3/h on float and 1.20 on boost, openings of 8.4 and
	// 33.6 cm2; six cells of 100 Ah sealed, boost: 0.24 m3/h.
	for _, c := range []struct {
		gas           Gas
		ah, air, area float64
	}{{VentedFloat, 200, 0.30, 8.4}, {VentedBoost, 200, 1.20, 33.6}, {SealedBoost, 100, 0.24, 6.72}, {SealedFloat, 100, 0.03, 0.84}} {
		air, area := Ventilation(6, c.gas, c.ah)
		near(t, "air", air, c.air, 1e-12)
		near(t, "opening", area, c.area, 1e-9)
	}
}

func TestWays(t *testing.T) {
	in := shed()
	in.System.Array.InSeries, in.System.Array.InParallel = 2, 3
	r := Check(in)
	if len(r.Ways) != 4 { // 6, 3, 2 and 1 in series
		t.Fatalf("%+v", r.Ways)
	}
	for _, w := range r.Ways {
		if w.InSeries*w.Parallel != 6 || w.Typed != (w.InSeries == 2) {
			t.Errorf("%+v", w)
		}
	}
	if w := r.Ways[0]; w.Verdict != Fail || w.Why != "volts in the cold" { // 6 x 32.9 V on 150 V
		t.Errorf("%+v", w)
	}
	in.System.Array.InSeries, in.System.Array.InParallel = 12, 20
	if n := len(Check(in).Ways); n != 6 {
		t.Errorf("%d ways of 240 modules", n)
	}
}

// Laws: whatever the sizes, a line that is not passed has a cure, a number over its limit is never a pass, and thicker copper
// never makes a cable's verdict worse.
func TestLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := shed()
		s := in.System
		f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		s.Array.InSeries, s.Array.InParallel = rapid.IntRange(1, 12).Draw(t, "series"), rapid.IntRange(1, 12).Draw(t, "parallel")
		s.Inverter.RatedW, s.Bank.CapacityAh, s.BatteryFuse.RatedA = f("W", 50, 20000), f("Ah", 5, 2000), f("fuse", 0, 600)
		in.RecordLowC, in.LowestC, in.HighestC, in.Peak.DCW = f("record", -60, 20), f("lowest", -60, 20), f("highest", 0, 70), f("DC", 0, 3000)
		s.BatteryCable = wiring.Run{LengthM: f("m", 0.1, 50), AreaMM2: f("mm2", 0.2, 100)}
		if rapid.Bool().Draw(t, "guess") {
			in.RecordLowC = math.NaN()
		}
		worst := func() map[string]Verdict {
			seen := map[string]Verdict{}
			for _, l := range Check(in).Lines {
				over := l.Number > l.Limit
				if l.AtLeast {
					over = l.Number < l.Limit
				}
				if (l.Verdict == Pass) != (l.Cure == "") || over && l.Verdict == Pass || l.Rule == "" || len(l.Subject) > 36 || len(l.Rule) > 15 {
					t.Fatalf("%+v", l)
				}
				seen[l.Key] = l.Verdict
			}
			return seen
		}
		thin := worst()
		s.BatteryCable.AreaMM2 *= 1.3
		thick := worst()
		for _, key := range []string{"battery_ampacity", "battery_fuse"} {
			if thick[key] > thin[key] {
				t.Fatalf("%s: thicker is %v, thinner %v", key, thick[key], thin[key])
			}
		}
	})
}

// A string that shorts is fed by all others: practice puts a fuse in each. By hand: the inverter's 1000 W at 88 % and 11.0 V
// are 103.3 A, a fourth of it 25.8 A, and 1.25 times that 32.3 A, so a fuse of 35 A at the least.
func TestFuseInEachString(t *testing.T) {
	in := shed()
	in.System.Bank.CapacityAh, in.System.Bank.InParallel = 50, 4
	in.System.Bank = in.System.Bank.Whole()
	l := line(t, in, "battery_string_fuse")
	near(t, "string fuse", l.Number, 1.25*1000/0.88/11/4, 1e-9)
	verdict(t, "not typed", l, Unknown)
	if !strings.HasPrefix(l.Cure, "35 A at the least") {
		t.Errorf("the cure is %q", l.Cure)
	}
	if all := cautions(in); !strings.Contains(all, "Blocks: all 4 of one make, type, size, age") || !strings.Contains(all, "equal cables") || strings.Contains(all, "joined in series") {
		t.Errorf("the cautions are %s", all)
	}
	for _, l := range Check(shed()).Lines {
		if l.Key == "battery_string_fuse" {
			t.Error("one string wants a fuse of its own")
		}
	}
}
