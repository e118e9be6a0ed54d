package scenarios

import (
	"embed"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	_ "time/tzdata" // wall clocks must not depend on the machine

	"tideover/loads"
	"tideover/sim"
	"tideover/sim/array"
	"tideover/sim/battery"
	"tideover/sim/controller"
	"tideover/sim/inverter"
	"tideover/sim/limit"
	"tideover/sim/plane"
	"tideover/sim/station"
	"tideover/sim/wiring"
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

	inverter inverter.Inverter
	hasLoads bool
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
				return fmt.Errorf("%q is no zone of the IANA time zone data base", name)
			}
			s.Zone = z
			return nil
		}, "wall clock of the loads, an IANA time zone", "Europe/Amsterdam").
			From("that of the climate; with a weather file its own offset, without daylight saving"),
		limit.Int("calendar_year", &s.CalendarYear, limit.Between(1901, 2099),
			"year that gives a typical or synthetic year its weekdays", "2025").From("the design year"),
	}, s.Options.Keys()...)
}

// Keys declares what may be typed under `site`.
func (s *Site) Keys() []limit.Key { return s.keys() }

// Check returns what is wrong. Coordinates come in pairs.
func (s *Site) Check() []limit.Fault {
	var faults []limit.Fault
	for _, f := range limit.Check(s.keys()) {
		if !strings.HasPrefix(f.Msg, "NaN") { // not typed
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
	return faults
}

// top is the keys of the scenario itself.
type top struct {
	s    *Scenario
	seed int
}

func (t *top) Keys() []limit.Key {
	return []limit.Key{
		limit.Str("name", &t.s.Name, "what the report is called", "garden shed").Needed(),
		limit.Str("about", &t.s.About, "what the building is and who uses it", "a tool store, invented").From("none"),
		limit.Int("step_min", &t.s.System.StepMin, limit.Between(1, 60), "length of a step: 60, 30, 15, 10, 5 or 1 minutes", "60").
			From("one hour"),
		limit.Int("seed", &t.seed, limit.Between(0, 1e9), "number that picks the synthetic year", "1").From("1"),
	}
}

func (t *top) Check() []limit.Fault {
	faults := limit.Check(t.Keys())
	if !slices.Contains([]int{60, 30, 15, 10, 5, 1}, t.s.System.StepMin) && len(faults) == 0 {
		faults = append(faults, limit.Fault{Key: "step_min", Msg: strconv.Itoa(t.s.System.StepMin) +
			" is not 60, 30, 15, 10, 5 or 1", Example: "15"})
	}
	return faults
}

// Decode reads a scenario. The error, when not nil, is Errors: every fault of the file, in its order.
func Decode(file string, src []byte) (*File, error) {
	d := newDecoder(file, src)
	out := &File{}
	if root, ok := d.parse(); ok {
		d.each(root, func(variant string, root entry) {
			s := d.scenario(root)
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

func (d *decoder) scenario(root entry) *Scenario {
	s := &Scenario{
		Site:     Site{LatDeg: math.NaN(), LonDeg: math.NaN(), OffsetH: math.NaN(), CalendarYear: 2025},
		System:   sim.System{StepMin: 60, Surface: plane.Default(), Array: array.Default(), Snow: plane.DefaultSnow(), Controller: controller.Default(), Bank: battery.Default()},
		inverter: inverter.Default(),
	}
	t := &top{s: s, seed: 1}
	sys := &s.System
	box := station.Default()
	faults := len(d.found)
	var loadAt []entry
	sec := d.section(root, t,
		child{name: "site", doc: "where it stands", example: "{climate: Wellington}", need: true,
			decode: func(e entry) { d.site(e, s) }},
		child{name: "weather", doc: "what the columns of a weather file hold", decode: func(e entry) {
			l := hourfile.DefaultLayout()
			s.Layout = &l
			d.section(e, &l)
		}},
		child{name: "array", doc: "the panels", need: true, decode: func(e entry) { d.array(e, sys) }},
		child{name: "controller", doc: "the charge controller", decode: func(e entry) { d.section(e, &sys.Controller) }},
		child{name: "battery", doc: "the battery", decode: func(e entry) { d.section(e, &sys.Bank) }},
		child{name: "inverter", doc: "the inverter", decode: func(e entry) {
			d.section(e, &s.inverter)
			sys.Inverter = &s.inverter
		}},
		child{name: "wiring", doc: "cables", decode: func(e entry) { d.section(e, &cables{&sys.BatteryCable}) }},
		child{name: "station", doc: "an all-in-one box, in place of controller, battery and inverter",
			decode: func(e entry) { d.section(e, &box) }},
		child{name: "loads", doc: "what draws power", example: "{lamp: {kind: always_on, power_w: 5}}", need: true,
			decode: func(e entry) {
				s.hasLoads = true
				d.entries(e, "lamp: {kind: always_on, power_w: 5}", func(e entry) {
					loadAt = append(loadAt, e)
					sys.Loads = append(sys.Loads, d.load(e))
				})
			}},
		child{name: variantsKey}, // taken out before, known here for its name's sake
	)
	s.Seed = uint64(t.seed)
	if sec.has("station") {
		for _, other := range []string{"controller", "battery", "inverter", "wiring"} {
			if at, both := sec.typed[other]; both {
				d.fault(at.key, other, "stands beside station, which holds its own: leave one of them out", "")
			}
		}
	} else if root.value != nil {
		for _, need := range []struct{ key, doc string }{{"controller", "the charge controller"}, {"battery", "the battery"}} {
			if !sec.has(need.key) && len(sec.typed) > 0 {
				d.missing(root, need.key, need.doc+" (or station, an all-in-one box)", "")
			}
		}
	}
	if len(d.found) > faults {
		return s
	}
	if sec.has("station") {
		sys.Controller, sys.Bank, s.inverter = box.Expand()
		sys.Inverter = &s.inverter
	}
	if sys.Inverter == nil {
		for i, l := range sys.Loads {
			if l.Bus == loads.AC {
				d.fault(loadAt[i].key, loadAt[i].path, "hangs on the AC bus, and there is no inverter", "bus: dc")
			}
		}
	}
	d.fits(sec, s)
	return s
}

// site reads where the building stands. Means that are typed make a climate of their own.
func (d *decoder) site(e entry, s *Scenario) {
	var means climate.Means
	var at entry
	before := len(d.found)
	sec := d.section(e, &s.Site, child{name: "means", doc: "twelve monthly means of the place, in place of climate",
		decode: func(e entry) { at = e; d.section(e, &means) }},
		child{name: "snow", doc: "what snow falls and lies", example: "{swept: true}",
			decode: func(e entry) { d.section(e, &s.System.Snow) }})
	if at.key == nil {
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
	if len(d.found) > before {
		return
	}
	p := means.Place(climate.Place{Name: "the means typed", LatDeg: s.Site.LatDeg, LonDeg: s.Site.LonDeg, OffsetH: s.Site.OffsetH,
		Source: "monthly means as typed"})
	if err := p.Check(); err != nil {
		d.fault(at.key, at.path, err.Error(), "")
		return
	}
	s.Site.Climate = &p
}

// array decodes one sub-array, or a list of them.
func (d *decoder) array(e entry, sys *sim.System) {
	first := true
	d.items(e, "{tilt_deg: 35, azimuth_deg: equator}", func(e entry) {
		sub := sim.SubArray{Array: array.Default(), Surface: plane.Default()}
		d.section(e, &panels{&sub.Array, &sub.Surface},
			child{name: "module", doc: "one module's data sheet", need: true,
				decode: func(e entry) { d.section(e, &sub.Array.Module) }},
			child{name: "shade", doc: "shadows that fall on it", example: "{hours: after 15:00, season: 1 Oct to 31 Mar}",
				decode: func(e entry) {
					d.items(e, "{hours: after 15:00, season: 1 Oct to 31 Mar}", func(e entry) {
						shade := plane.DefaultShade()
						d.section(e, &shade)
						sub.Surface.Shades = append(sub.Surface.Shades, shade)
					})
				}})
		if first {
			sys.Array, sys.Surface, first = sub.Array, sub.Surface, false
		} else {
			sys.Beside = append(sys.Beside, sub)
		}
	})
}

// panels are the keys of the array and of the plane it lies in, typed together.
type panels struct {
	array   *array.Array
	surface *plane.Surface
}

func (p *panels) Keys() []limit.Key { return append(p.array.Keys(), p.surface.Keys()...) }
func (p *panels) Check() []limit.Fault {
	return append(p.array.Check(), p.surface.Check()...)
}

// cables are the keys of the runs of wire.
type cables struct{ battery *wiring.Run }

func (c *cables) Keys() []limit.Key    { return c.battery.Keys("battery") }
func (c *cables) Check() []limit.Fault { return c.battery.Check("battery") }

func (d *decoder) load(e entry) loads.Load {
	kind := loads.Kind(max(0, slices.Index(loads.KindWords, peek(e, "kind"))))
	l := loads.New(kind)
	l.Name = e.name()
	if e.value.Kind != 0 && !slices.Contains(loads.KindWords, peek(e, "kind")) {
		d.section(e, anyKind{}) // which keys are right cannot be said
		return l
	}
	d.section(e, &l)
	return l
}

// anyKind knows the keys of every kind: for a load whose kind is not known.
type anyKind struct{}

func (anyKind) Keys() []limit.Key {
	seen := map[string]bool{}
	var keys []limit.Key
	for kind := range loads.KindWords {
		l := loads.New(loads.Kind(kind))
		for _, key := range l.Keys() {
			if !seen[key.Name] {
				seen[key.Name] = true
				key.Need = key.Name == "kind"
				keys = append(keys, key)
			}
		}
	}
	return keys
}

func (anyKind) Check() []limit.Fault { return nil }

// fits refuses an array whose voltage the controller cannot work with.
func (d *decoder) fits(sec *section, s *Scenario) {
	subs, c := s.System.SubArrays(), &s.System.Controller
	at := sec.typed["array"].key
	if at == nil {
		return // hidden in a merge key, which is refused
	}
	chargeV := s.System.Bank.ChargeLimitV()
	for i := range subs {
		path := "array"
		if len(subs) > 1 {
			path = fmt.Sprintf("array[%d]", i+1)
		}
		a := &subs[i].Array
		mpV, openV := a.MpVoltageV(25), a.OcVoltageV(1000, 25)
		strings := fmt.Sprintf("%d in series give %s V open-circuit and %s V at maximum power, at 25 C", a.InSeries, tenth(openV), tenth(mpV))
		switch o := c.Offer(1, mpV, openV, chargeV, false); {
		case openV > c.MaxInputV:
			d.fault(at, path+".modules_in_series", strings+": above the input's max_input_v "+limit.Plain(c.MaxInputV)+
				", which would destroy it", "")
		case o.NotStartedW > 0:
			d.fault(at, path+".modules_in_series", strings+": too little for the controller ever to start, as it wants "+
				tenth(c.StartV(chargeV))+" V open-circuit", "")
		}
	}
}

func tenth(v float64) string { return limit.Plain(math.Round(v*10) / 10) }
