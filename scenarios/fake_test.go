package scenarios

import (
	"errors"
	"fmt"
	"strings"

	"tideover/sim/limit"
)

// The boxes here stand in for the real ones: they have a key of every kind, and a check across keys.

type fakeBattery struct {
	CapacityAh, NominalV, DisconnectV, ReconnectV, Efficiency float64
	Cycles                                                    int
	Heater                                                    bool
	Note                                                      string
	Kind                                                      int
	start                                                     string
}

func (b *fakeBattery) Keys() []limit.Key {
	return []limit.Key{
		limit.Num("capacity_ah", &b.CapacityAh, limit.Above(0), "rated charge", "200").Needed(),
		limit.Num("nominal_v", &b.NominalV, limit.Between(6, 96), "", "24").From("a guess"),
		limit.Num("disconnect_v", &b.DisconnectV, limit.AtLeast(0), "", "11.5").From("a guess"),
		limit.Num("reconnect_v", &b.ReconnectV, limit.AtLeast(0), "", "12.5").From("a guess"),
		limit.Num("efficiency", &b.Efficiency, limit.AboveTo(0, 1), "", "0.95").From("a guess"),
		limit.Num("idle_w", new(float64), limit.Range{}, "", "6").From("a guess"),
		limit.Num("tempco_pct_per_k", new(float64), limit.Range{}, "", "-0.4").From("a guess"),
		limit.Num("ratio", new(float64), limit.Range{}, "", "2").From("a guess"),
		limit.Int("cycles", &b.Cycles, limit.AtLeast(1), "", "3000").From("a guess"),
		limit.Bool("heater", &b.Heater, "", "false").From("a guess"),
		limit.Str("note", &b.Note, "", "second hand").From(""),
		limit.OneOf("kind", &b.Kind, []string{"lithium", "flooded", "agm", "gel"}, "", "lithium").From("a guess"),
		limit.Parsed("start_soc", b.setStart, "", "settled").From("a guess"),
	}
}

func (b *fakeBattery) setStart(words []string) error {
	for _, w := range words {
		if w != "settled" && w != "full" && w != "0.5" {
			return fmt.Errorf("%q is not settled, full or a fraction", w)
		}
	}
	if len(words) > 2 {
		return errors.New("more than two words")
	}
	b.start = strings.Join(words, "+")
	return nil
}

func (b *fakeBattery) Check() []limit.Fault {
	faults := limit.Check(b.Keys())
	if b.ReconnectV <= b.DisconnectV {
		faults = append(faults, limit.Fault{Key: "reconnect_v", Msg: limit.Plain(b.ReconnectV) + " is not above disconnect_v " +
			limit.Plain(b.DisconnectV), Example: "12.5"})
	}
	return faults
}

type fakeLoad struct {
	PowerW float64
	Hours  string
}

func (l *fakeLoad) Keys() []limit.Key {
	return []limit.Key{
		limit.Num("power_w", &l.PowerW, limit.AtLeast(0), "draw while on", "40").Needed(),
		limit.Parsed("hours", func(w []string) error { l.Hours = strings.Join(w, ";"); return nil }, "", "17:00 to 21:30").From("all day"),
	}
}
func (l *fakeLoad) Check() []limit.Fault { return limit.Check(l.Keys()) }

type fakePanel struct{ TiltDeg float64 }

func (p *fakePanel) Keys() []limit.Key {
	return []limit.Key{limit.Num("tilt_deg", &p.TiltDeg, limit.Between(0, 90), "0 flat, 90 upright", "35").Needed()}
}
func (p *fakePanel) Check() []limit.Fault { return limit.Check(p.Keys()) }

type fakeScenario struct {
	Name    string
	Battery fakeBattery
	Panels  []*fakePanel
	Loads   map[string]*fakeLoad
	Order   []string
}

func (s *fakeScenario) Keys() []limit.Key {
	return []limit.Key{limit.Str("name", &s.Name, "what the report is called", "garden shed").Needed()}
}
func (s *fakeScenario) Check() []limit.Fault { return nil }

// decodeFake reads a file as the real decoder does, with the boxes above.
func decodeFake(src []byte) (map[string]*fakeScenario, error) {
	d := newDecoder("cabin.yaml", src)
	out := map[string]*fakeScenario{}
	if root, ok := d.parse(); ok {
		d.each(root, func(variant string, root entry) {
			s := &fakeScenario{Battery: fakeBattery{NominalV: 12, DisconnectV: 11.5, ReconnectV: 12.5, Efficiency: 0.95, Cycles: 3000, start: "settled"},
				Loads: map[string]*fakeLoad{}}
			out[variant] = s
			d.section(root, s,
				child{name: "battery", doc: "the store", need: true, decode: func(e entry) { d.section(e, &s.Battery) }},
				child{name: "array", decode: func(e entry) {
					d.items(e, "array: [{tilt_deg: 35}]", func(e entry) {
						p := &fakePanel{}
						s.Panels = append(s.Panels, p)
						d.section(e, p)
					})
				}},
				child{name: "loads", example: "{lamp: {power_w: 8}}", decode: func(e entry) {
					d.entries(e, "lamp: {power_w: 8}", func(e entry) {
						l := &fakeLoad{}
						s.Loads[e.name()] = l
						s.Order = append(s.Order, e.name())
						d.section(e, l)
					})
				}},
				child{name: variantsKey})
		})
	}
	return out, d.err()
}
