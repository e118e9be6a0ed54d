package scenarios

import (
	"embed"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"
	_ "time/tzdata" // wall clocks must not depend on the machine

	"gopkg.in/yaml.v3"

	"tideover/loads"
	"tideover/sim"
	"tideover/sim/array"
	"tideover/sim/backup"
	"tideover/sim/controller"
	"tideover/sim/inverter"
	"tideover/sim/limit"
	"tideover/sim/plane"
	"tideover/weather/climate"
	"tideover/weather/hourfile"
)

// Shipped holds the scenarios that come with the program.
//
//go:embed *.yaml
var Shipped embed.FS

// File is a decoded scenario file: the base and its variants in file order.
type File struct {
	Base     *Scenario
	Variants []*Scenario
}

// Scenario is one system at one place, checked.
type Scenario struct {
	Name    string
	About   string
	Variant string // "" for the base
	Note    string // what the variant changes, in its own words
	Site    Site
	Seed    uint64           // of the synthetic weather
	Layout  *hourfile.Layout // of a weather file that does not say what its columns hold; nil: it says so itself
	System  sim.System

	VoltageCoeffTyped []bool // of each sub-array's module: voltage_coeff_per_k is typed, not the default

	inverter inverter.Inverter
	backup   backup.Charger
	idle     []string // rules that part nothing, in words
}

// Site says where the building stands and how its clock runs.
type Site struct {
	Climate      *climate.Place // nil: the weather comes from a file
	LatDeg       float64        // NaN: that of the weather
	LonDeg       float64
	OffsetH      float64 // standard time less UTC; NaN: that of the weather
	Zone         *time.Location
	CalendarYear int
	Options      climate.Options // of the synthetic years

	RecordLowC      float64 // the coldest ever measured near it; NaN: not known
	RecordLowSource string
}

// zones are those of the known climates.
func zones() []string {
	var names []string
	for _, p := range climate.Places() {
		names = append(names, p.Zone)
	}
	return names
}

func (s *Site) keys() []limit.Key {
	return append([]limit.Key{
		limit.Parsed("climate", func(words []string) error {
			p, err := climate.Find(strings.Join(words, " "))
			if err == nil {
				s.Climate = &p
			}
			return err
		}, "embedded place whose twelve monthly means make the weather", "Wellington").From("none: run with --weather FILE"),
		limit.Num("latitude_deg", &s.LatDeg, limit.Between(-90, 90), "north positive; overrides that of the weather", "52.1").
			From("the weather"),
		limit.Num("longitude_deg", &s.LonDeg, limit.Between(-180, 180), "east positive; overrides that of the weather", "5.2").
			From("the weather"),
		limit.Num("utc_offset_h", &s.OffsetH, limit.Between(-12, 14),
			"standard time less UTC; overrides that of the weather", "1").From("the weather"),
		limit.Parsed("zone", func(words []string) error {
			if len(words) != 1 {
				return errors.New("wants one zone")
			}
			name := words[0]
			z, err := time.LoadLocation(name)
			if err != nil || name == "" || name == "Local" {
				near := ""
				if zone := Nearest(name, zones()); zone != "" {
					near = "; did you mean " + zone + "?"
				}
				return fmt.Errorf("%q is no zone of the IANA time zone data base%s", name, near)
			}
			s.Zone = z
			return nil
		}, "wall clock of the loads, an IANA time zone", "Europe/Amsterdam").
			From("that of the climate; with a weather file its own offset, without daylight saving"),
		limit.Int("calendar_year", &s.CalendarYear, limit.Between(1901, 2099),
			"year that gives a typical or synthetic year its weekdays", "2025").From("the design year"),
		limit.Num("record_low_c", &s.RecordLowC, limit.Between(-90, 40),
			"coldest air ever measured nearby, which the strings' voltage is held against", "-15").
			From("the coldest hour of the weather less 10 K, a guess"),
		limit.Str("record_low_source", &s.RecordLowSource, "who measured it, where and when", "national weather service, 1942").From("none"),
	}, s.Options.Keys()...)
}

// Keys declares what may be typed under `site`.
func (s *Site) Keys() []limit.Key { return s.keys() }

// Check returns what is wrong. Coordinates come in pairs.
func (s *Site) Check() []limit.Fault {
	var faults []limit.Fault
	for _, f := range limit.Check(s.keys()) {
		if !strings.HasPrefix(f.Msg, "NaN") { // not typed
			switch {
			case f.Key == "latitude_deg" && math.Abs(s.LonDeg) <= 90 && math.Abs(s.LatDeg) <= 180:
				f.Msg += ": latitude and longitude look swapped, as longitude_deg is " + limit.Plain(s.LonDeg)
			case f.Key == "utc_offset_h" && math.Abs(s.OffsetH) >= 60 && math.Abs(s.OffsetH) <= 840:
				f.Msg += ": it looks like minutes; " + limit.Plain(s.OffsetH) + " min is " + limit.Plain(math.Round(s.OffsetH/60*100)/100) + " h"
			}
			faults = append(faults, f)
		}
	}
	if math.IsNaN(s.LatDeg) != math.IsNaN(s.LonDeg) {
		key, other := "latitude_deg", "longitude_deg"
		if math.IsNaN(s.LatDeg) {
			key, other = other, key
		}
		faults = append(faults, limit.Fault{Key: key, Msg: "wants " + other + " beside it", Example: "5.2"})
	}
	if len(faults) > 0 || math.IsNaN(s.LonDeg) && s.Climate == nil {
		return faults
	}
	lonDeg, offsetH := s.LonDeg, s.OffsetH
	if p := s.Climate; p != nil {
		if math.IsNaN(lonDeg) {
			lonDeg = p.LonDeg
		} else if f, wrong := s.misplaced(*p); wrong {
			return []limit.Fault{f}
		}
		if math.IsNaN(offsetH) && math.IsNaN(s.LonDeg) {
			offsetH = p.OffsetH // as the table has it
		}
	}
	// The widest gap in use is some 3.5 h.
	if gapH := math.Abs(offsetH - lonDeg/15); math.Min(gapH, 24-gapH) > 5 {
		faults = append(faults, limit.Fault{Key: "utc_offset_h", Example: limit.Plain(math.Round(lonDeg / 15)), Msg: fmt.Sprintf(
			"%s is %.1f h from the sun's time at %s deg longitude: east and its offsets are positive", limit.Plain(offsetH), min(gapH, 24-gapH), limit.Plain(lonDeg))})
	}
	return faults
}

// misplaced says what is wrong where pinned coordinates and the light of a climate do not go together.
func (s *Site) misplaced(p climate.Place) (limit.Fault, bool) {
	near := func(latDeg, lonDeg float64) bool {
		return math.Abs(latDeg-p.LatDeg) < 3 && math.Abs(lonDeg-p.LonDeg) < 5
	}
	if near(s.LonDeg, s.LatDeg) && !near(s.LatDeg, s.LonDeg) {
		return limit.Fault{Key: "latitude_deg", Example: limit.Plain(s.LonDeg), Msg: fmt.Sprintf(
			"%s and longitude_deg %s look swapped: the climate of %s lies at %s, %s", limit.Plain(s.LatDeg), limit.Plain(s.LonDeg),
			p.Name, limit.Plain(p.LatDeg), limit.Plain(p.LonDeg))}, true
	}
	name, latDeg := p.Name, p.LatDeg
	if s.LatDeg*latDeg < 0 {
		return limit.Fault{Key: "latitude_deg", Example: limit.Plain(math.Round(latDeg*10) / 10), Msg: fmt.Sprintf(
			"%s lies across the equator from the climate of %s, at %s: its summer would fall into winter", limit.Plain(s.LatDeg), name, limit.Plain(latDeg))}, true
	}
	p.LatDeg, p.LonDeg = s.LatDeg, s.LonDeg
	if err := p.Check(); err != nil {
		return limit.Fault{Key: "latitude_deg", Example: limit.Plain(math.Round(latDeg*10) / 10),
			Msg: fmt.Sprintf("%s does not go with the climate of %s: %v", limit.Plain(s.LatDeg), name, err)}, true
	}
	return limit.Fault{}, false
}

// Read reads the file at path for Decode. Of a file that Decode refuses for its size no more is read than shows it.
func Read(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, maxBytes+1))
}

// Decode reads a scenario that has no files beside it. The error, when not nil, is Errors: every fault of the file, in its
// order.
func Decode(file string, src []byte) (*File, error) { return DecodeBeside(file, src, nil) }

// DecodeBeside is Decode for a scenario that may name files, which read returns by the names typed; see Beside.
func DecodeBeside(file string, src []byte, read func(name string) ([]byte, error)) (*File, error) {
	d := newDecoder(file, src)
	d.read = read
	out := &File{}
	if root, ok := d.parse(); ok {
		d.each(root, func(variant string, root entry) {
			s := d.scenario(root).Scenario
			s.Variant = variant
			if variant == "" {
				out.Base = s
			} else {
				out.Variants = append(out.Variants, s)
			}
		})
	}
	if err := d.err(); err != nil {
		return nil, err
	}
	return out, nil
}

func (d *decoder) scenario(root entry) *draft {
	f := newDraft()
	d.root = child{box: &f.top, below: f.parts(d)}
	d.typed = map[string]bool{}
	for pair := range slices.Chunk(root.value.Content, 2) {
		d.typed[pair[0].Value] = true
	}
	faults := len(d.found) + d.more
	sec := d.section(root, d.root.box, d.root.below...)
	f.Seed = uint64(f.top.seed)
	clean := len(d.found)+d.more == faults
	if d.variant != "" && !clean {
		return f
	}
	sys := &f.System
	box := sec.has("station")
	var names []string
	if at := sec.typed["loads"]; at.value != nil && at.value.Kind == yaml.MappingNode {
		for pair := range slices.Chunk(at.value.Content, 2) {
			names = append(names, pair[0].Value)
		}
	}
	d.notWith(f, names)
	if d.faultless(sec, "site", "loads") {
		for i, l := range sys.Loads {
			if year := f.Site.CalendarYear; f.Site.Climate != nil && !l.When.RunsIn(year) {
				example := "season: 1 Oct to 31 Mar"
				if l.Kind == loads.AlwaysOn || l.Kind == loads.MotionLight {
					example = "away: 12 Jul to 2 Aug"
				}
				d.fault(f.loadAt[i].key, f.loadAt[i].path, fmt.Sprintf("never runs in %d: no date of that year fits its dates (%v)", year, l.When), example)
			}
		}
	}
	supply, store := "controller", "battery" // where the controller and the bank are typed
	if box {
		supply, store = "station", "station"
	}
	bankSound, supplySound := d.faultless(sec, store), d.faultless(sec, supply)
	switch {
	case box && bankSound:
		sys.Controller, sys.Bank, f.inverter = f.station.Expand()
		sys.Inverter, sys.AllInOne = &f.inverter, true
	case bankSound:
		sys.Bank = f.bank.Whole()
	}
	if box {
		for _, k := range f.cables.Keys() {
			if at, typed := f.wiringAt[k.Name]; typed && (strings.HasPrefix(k.Name, "controller_") || strings.HasPrefix(k.Name, "battery_") || strings.HasPrefix(k.Name, "inverter_")) {
				d.fault(at.key, at.path, "is inside the all-in-one box: leave it out", "")
			}
		}
	}
	if v := sys.Inverter; v != nil {
		at, nominalV := sec.typed["inverter"], math.Inf(1)
		if box {
			at = sec.typed["station"]
		}
		if bankSound {
			nominalV = sys.Bank.NominalV
		}
		if d.faultless(sec, at.name()) {
			d.inverterFits(at, v, nominalV)
		}
	}
	if bankSound && supplySound {
		for k, at := range f.controllerAt {
			c := sys.Controllers()[k]
			lowV, highV := sys.Bank.ChargeRange()
			for _, v := range []struct {
				key       string
				volts, lo float64
			}{{"absorption_v", c.AbsorptionV, lowV}, {"float_v", c.FloatV, 0.93 * lowV}} {
				if v.volts != 0 && !(v.volts >= v.lo && v.volts <= highV) {
					d.fault(at.key, at.path+"."+v.key, fmt.Sprintf("%v V is not between %.4g and %.4g, what %d cells of %v can be held at", limit.Plain(v.volts), v.lo, highV, sys.Bank.Cells(), sys.Bank.Type.Words()),
						fmt.Sprintf("%s: %.4g", v.key, sys.Bank.ChargeLimitV()))
				}
			}
		}
	}
	if sys.Inverter == nil && clean { // else it may stand where it is not known
		for i, l := range sys.Loads {
			if l.Bus == loads.AC {
				d.fault(f.loadAt[i].key, f.loadAt[i].path, "hangs on the AC bus, and there is no inverter", "bus: dc")
			}
		}
	}
	if bankSound && d.faultless(sec, "loads") {
		for i, l := range sys.Loads {
			if l.Priority == loads.FirstToGo && l.BelowSOC <= sys.Bank.DisconnectSOC {
				d.faultOfLoad(f, i, "below_soc", "", fmt.Sprintf("%s is not above disconnect_soc, %s, where all loads are cut", limit.Plain(l.BelowSOC), limit.Plain(sys.Bank.DisconnectSOC)),
					"below_soc: 0.4")
			}
		}
	}
	if supplySound && d.faultless(sec, "array") {
		if d.feeding(f, box); bankSound && d.faultless(sec, "array") {
			d.fits(sec, f.Scenario)
		}
	}
	if !d.faultless(sec, "loads") {
		return f
	}
	if d.faultless(sec, "array") {
		d.loadsFit(f)
	}
	waiting := 0
	for i, l := range sys.Loads {
		if !l.Waits() {
			continue
		}
		if waiting++; waiting == sim.MostWaiting+1 {
			d.fault(f.loadAt[i].key, f.loadAt[i].path, fmt.Sprintf("is one too many: packs of no more than %d loads may wait", sim.MostWaiting), "")
		}
	}
	return f
}

// faultless reports whether sections are typed and nothing in them was refused yet, so that one may be held against another.
func (d *decoder) faultless(sec *section, names ...string) bool {
	for _, name := range names {
		if !sec.has(name) || slices.ContainsFunc(d.found, func(f finding) bool {
			return f.Field == name || strings.HasPrefix(f.Field, name+".") || strings.HasPrefix(f.Field, name+"[")
		}) {
			return false
		}
	}
	return d.more == 0
}

// inverterFits refuses keys that another key makes idle, and a cut-off that no battery stays above.
func (d *decoder) inverterFits(at entry, v *inverter.Inverter, nominalV float64) {
	if v.CutoffV >= nominalV && at.name() == "inverter" {
		for pair := range slices.Chunk(at.value.Content, 2) {
			if pair[0].Value == "cutoff_v" {
				d.fault(pair[1], join(at.path, "cutoff_v"), fmt.Sprintf("%s is not below the battery's nominal voltage %s: it would never run",
					limit.Plain(v.CutoffV), limit.Plain(nominalV)), line("cutoff_v", tenth(0.82*nominalV)))
			}
		}
	}
	if d.variant != "" {
		return // a variant may leave the mode of its base and keep its keys for the next
	}
	mode := "but its mode is " + v.Mode.String()
	if v.Mode != inverter.Timetable && !v.When.Always() {
		d.fault(at.key, at.path, "has days, hours or a season, "+mode+": they count with mode: timetable only", "mode: timetable")
	}
	if v.Mode != inverter.Search && v.WakesAtW > 0 {
		d.fault(at.key, at.path, "has a search_threshold_w, "+mode+": it counts with mode: search only", "mode: search")
	}
	if v.AutoOffW > 0 && v.Mode == inverter.OnDemand {
		d.fault(at.key, at.path, "has an auto_off_w, "+mode+", which is off whenever nothing asks: it counts with the other modes only", "mode: always_on")
	}
	if v.WakeAtMin > 0 && v.AutoOffW == 0 {
		d.fault(at.key, at.path, "has a time to wake, but no auto_off_w: it would never be off", "auto_off_w: 10")
	}
}

// site reads where the building stands. Means that are typed make a climate of their own.
func (d *decoder) site(e entry, f *draft, below []child) {
	s := f.Scenario
	before := len(d.found) + d.more
	sec := d.section(e, &s.Site, below...)
	at, typed := sec.typed["means"]
	if !typed {
		return
	}
	if sec.has("climate") {
		d.fault(at.key, at.path, "stands beside climate, which has means of its own: leave one of them out", "")
	}
	for _, k := range s.Site.Keys() {
		if (k.Name == "latitude_deg" || k.Name == "longitude_deg" || k.Name == "utc_offset_h") && !sec.has(k.Name) {
			d.missing(e, k.Name, "means need to know where they hold", line(k.Name, k.Example))
		}
	}
	if len(d.found)+d.more > before {
		return
	}
	p := f.means.Place(climate.Place{Name: "the means typed", LatDeg: s.Site.LatDeg, LonDeg: s.Site.LonDeg, OffsetH: s.Site.OffsetH,
		Source: "monthly means as typed"})
	if err := p.Check(); err != nil {
		d.fault(at.key, at.path, err.Error(), "")
		return
	}
	s.Site.Climate = &p
}

// array decodes one sub-array, or a list of them.
func (d *decoder) array(e entry, f *draft) {
	sys, first := &f.System, true
	d.items(e, "array: [{tilt_deg: 35, azimuth_deg: equator, module: {…}}]", func(e entry) {
		sub := sim.SubArray{Array: array.Default(), Surface: plane.Default()}
		feeds := ""
		sec := d.section(e, &panels{&sub.Array, &sub.Surface, &feeds}, subArray(d, &sub)...)
		f.subAt, f.subFeeds = append(f.subAt, e), append(f.subFeeds, feeds)
		module := sec.typed["module"]
		typed := module.value != nil && peek(module, "voltage_coeff_per_k") != ""
		f.VoltageCoeffTyped = append(f.VoltageCoeffTyped, typed)
		if first {
			sys.Array, sys.Surface, first = sub.Array, sub.Surface, false
		} else {
			sys.Beside = append(sys.Beside, sub)
		}
	})
}

// fits refuses an array whose voltage the controller cannot work with.
func (d *decoder) fits(sec *section, s *Scenario) {
	subs, controllers := s.System.SubArrays(), s.System.Controllers()
	array := sec.typed["array"]
	if array.key == nil {
		return // hidden in a merge key, which is refused
	}
	chargeV := s.System.Bank.ChargeLimitV()
	for i := range subs {
		path, at, item := "array", array.key, array.value
		if item.Kind == yaml.SequenceNode {
			path, item = fmt.Sprintf("array[%d]", i+1), item.Content[i]
			at = item
		}
		for pair := range slices.Chunk(item.Content, 2) {
			if pair[0].Value == "modules_in_series" {
				at = pair[1]
			}
		}
		a, c := &subs[i].Array, &controllers[subs[i].Feeds]
		mpV, openV := a.MpVoltageV(25), a.OcVoltageV(1000, 25)
		example := ""
		most := math.Floor(c.MaxInputV / a.OcVoltageV(1000, -10) * float64(a.InSeries))
		n := most
		if c.Kind == controller.PWM { // the fewest that it can work with: what is above the battery's voltage is lost
			n = min(most, math.Ceil(c.StartV(chargeV)/mpV*float64(a.InSeries)))
		}
		if n >= 1 && n != float64(a.InSeries) {
			b := *a
			b.InSeries = int(min(n, 100))
			if c.Offer(1, b.MpVoltageV(25), b.OcVoltageV(1000, 25), chargeV, false).NotStartedW == 0 {
				example = line("modules_in_series", strconv.Itoa(b.InSeries))
			}
		}
		strings := fmt.Sprintf("%d in series give %s V open-circuit and %s V at maximum power, at 25 C", a.InSeries, tenth(openV), tenth(mpV))
		switch o := c.Offer(1, mpV, openV, chargeV, false); {
		case openV > c.MaxInputV:
			d.fault(at, path+".modules_in_series", strings+": above the input's max_input_v "+limit.Plain(c.MaxInputV)+
				", which would destroy it", example)
		case o.NotStartedW > 0:
			d.fault(at, path+".modules_in_series", strings+": too little for the controller ever to start, as it wants "+
				tenth(c.StartV(chargeV))+" V open-circuit", example)
		}
	}
}

// loadsFit refuses loads beside which the array is nothing: the watts of the greatest of them are in other units. Against
// such loads the sums of a year round by more than its books allow.
func (d *decoder) loadsFit(f *draft) {
	const most = 200
	ratedW, sumW, mostW, greatest := f.System.RatedW(), 0.0, 0.0, 0
	for i, l := range f.System.Loads {
		onW := max(l.OnW()+l.StandbyW, float64(max(l.Chargers, 0))*max(l.ChargerPowerW, l.StandbyW))
		sumW += onW
		if onW > mostW {
			mostW, greatest = onW, i
		}
	}
	if sumW > most*ratedW {
		at := f.loadAt[greatest]
		d.fault(at.key, at.path, fmt.Sprintf("draws %s W, and all loads together over %d times the array's %s W: is one of the two in mW or kW?",
			limit.Plain(mostW), most, limit.Plain(ratedW)), "")
	}
}

// faultOfLoad notes a fault at the value of a key of the load, or at a word of the list there, or at the load where the
// key is not typed.
func (d *decoder) faultOfLoad(f *draft, i int, key, word, fault, example string) {
	e := f.loadAt[i]
	at := e.key
	for pair := range slices.Chunk(e.value.Content, 2) {
		if pair[0].Value == key {
			at = pair[1]
		}
	}
	for _, item := range at.Content { // of a list, the item that is meant
		if item.Value == word {
			at = item
		}
	}
	d.fault(at, join(e.path, key), fault, example)
}

// notWith refuses rules that name no load. A variant may drop a load that the base has and keep the rules of the others, which
// then part nothing, as does a rule across the two buses: that is said.
func (d *decoder) notWith(f *draft, typedNames []string) {
	var names []string
	for _, l := range f.System.Loads {
		names = append(names, l.Name)
	}
	if d.variant == "" {
		d.baseLoads = typedNames // with those that were refused
	}
	for i := range f.System.Loads {
		l := &f.System.Loads[i]
		rules := l.NotWith
		l.NotWith = nil
		for _, name := range rules {
			if k := slices.Index(names, name); k >= 0 {
				l.NotWith = append(l.NotWith, name)
				if other := &f.System.Loads[k]; other.Bus != l.Bus && !(k < i && slices.Contains(other.NotWith, l.Name)) {
					f.idle = append(f.idle, fmt.Sprintf("not_with between %s and %s has no effect: one is on the %v bus, the other on the %v bus",
						label(l.Name), label(name), l.Bus, other.Bus))
				}
				continue
			}
			if slices.Contains(d.baseLoads, name) {
				f.idle = append(f.idle, fmt.Sprintf("not_with of %s has no effect: variant %s drops %s", label(l.Name), label(d.variant), label(name)))
				continue
			}
			fault := "there is no load " + label(name)
			if near := Nearest(name, names); near != "" {
				fault += " (did you mean " + label(near) + "?)"
			}
			d.faultOfLoad(f, i, "not_with", name, fault, "")
		}
	}
}

func tenth(v float64) string { return limit.Plain(math.Round(v*10) / 10) }
