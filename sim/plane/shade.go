package plane

import (
	"fmt"
	"slices"
	"strings"

	"tideover/sim/clock"
	"tideover/sim/limit"
)

// ShadeKind says what casts a shade.
type ShadeKind int

// A house, a wall or an evergreen; or a tree that drops its leaves.
const (
	Evergreen ShadeKind = iota
	Leaves
)

// ShadeLies says how a shade lies on the strings.
type ShadeLies int

// Over the same share of every string; or over one string after another.
const (
	Across ShadeLies = iota
	Along
)

// Shade is a shadow that falls on the array at known hours. Direct light and the bright sky around the sun are lost on the
// share of the array that it covers; of the rest of the sky what casts it hides a share all day and all year.
type Shade struct {
	Hours         []clock.Span     // by the clock in standard time; nil: all day
	Season        []clock.DateSpan // nil: all year
	Share         float64          // of the array that it covers, above 0 to 1
	SkyShare      float64          // of the sky's light that what casts it hides, 0..1
	Kind          ShadeKind
	InLeaf        []clock.DateSpan // when Leaves has leaves; nil: by the hemisphere
	LeaflessShare float64          // of the light that bare twigs take, 0..1
	Lies          ShadeLies
}

// DefaultShade returns a shade over the whole array, of something that does not change with the year.
func DefaultShade() Shade { return Shade{Share: 1, SkyShare: 0.05, LeaflessShare: 0.4} }

// Keys lists the parameters as a person types them, reading and writing s.
func (s *Shade) Keys() []limit.Key {
	return []limit.Key{
		limit.Parsed("hours", func(words []string) error {
			v, err := clock.ParseHours(open(words))
			if err == nil {
				s.Hours = v
			}
			return err
		}, "when the shadow falls on the array, as read from a clock in winter: standard time all year, as the sun keeps no daylight saving",
			"after 15:00").Needed(),
		limit.Parsed("season", func(words []string) error {
			v, err := clock.ParseSeason(words)
			if err == nil {
				s.Season = v
			}
			return err
		}, "dates between which it falls, both included; may pass New Year", "1 Oct to 31 Mar").From("not given: all year"),
		limit.Num("share", &s.Share, limit.AboveTo(0, 1), "share of the array that it covers", "0.5").From("the whole array"),
		limit.Num("sky_share", &s.SkyShare, limit.Between(0, 1),
			"share of the sky's diffuse light that what casts it hides from the array, all day and all year", "0.05").
			From("a guess: a row of trees over a fifth of the round, 30 degrees high"),
		limit.OneOf("kind", &s.Kind, []string{"evergreen", "leaves"},
			"what casts it: a house, wall or evergreen, or a tree that drops its leaves", "leaves").From("the darker of the two"),
		limit.Parsed("in_leaf", func(words []string) error {
			v, err := clock.ParseSeason(words)
			if err == nil {
				s.InLeaf = v
			}
			return err
		}, "dates between which a tree of kind leaves has them", "1 May to 31 Oct").
			From("a guess: 1 May to 31 Oct north of the equator, 1 Nov to 30 Apr south of it"),
		limit.Num("leafless_share", &s.LeaflessShare, limit.Between(0, 1),
			"share of the light that bare twigs take, for kind leaves", "0.4").
			From("20 to 60 % by kind of tree, Heisler 1986, from memory"),
		limit.OneOf("lies", &s.Lies, []string{"across", "along"},
			"across: over the same share of every string; along: over one string after another", "along").
			From("the worse of the two"),
	}
}

// open turns "after 15:00" and "before 9:00" into spans.
func open(words []string) []string {
	out := slices.Clone(words)
	for i, w := range out {
		items := strings.Split(w, ",")
		for j, item := range items {
			f := strings.Fields(strings.ToLower(item))
			switch {
			case len(f) == 2 && f[0] == "after":
				items[j] = f[1] + " to 24:00"
			case len(f) == 2 && f[0] == "before":
				items[j] = "00:00 to " + f[1]
			}
		}
		out[i] = strings.Join(items, ",")
	}
	return out
}

// Check returns what is wrong with the parameters; nil when nothing is.
func (s *Shade) Check() []limit.Fault {
	faults := limit.Check(s.Keys())
	for i := range faults {
		switch f := &faults[i]; f.Key {
		case "share":
			f.Msg += percentHint(s.Share)
		case "sky_share":
			f.Msg += percentHint(s.SkyShare)
		case "leafless_share":
			f.Msg += percentHint(s.LeaflessShare)
		}
	}
	return faults
}

// Shadow is what the shades do to one step.
type Shadow struct {
	TimeShare float64 // of the step in which a shadow falls
	Share     float64 // of the array that it covers meanwhile
	Takes     float64 // of the light that would fall there from the sun and around it
	Along     bool
	SkyHidden float64 // of the sky's other light, whether a shadow falls or not
}

// Shadows returns the shadow of each step of a run whose clock keeps standard time, at a latitude (degrees, north
// positive); nil when there is no shade. Where two shades fall in one step, the one that takes more counts alone.
// It panics when Check finds a fault.
func (s Surface) Shadows(c *clock.Clock, latDeg float64) []Shadow {
	if len(s.Shades) == 0 {
		return nil
	}
	out := make([]Shadow, c.N)
	var when, leaf []float64
	for k := range s.Shades {
		h := &s.Shades[k]
		if f := h.Check(); len(f) > 0 {
			panic(fmt.Sprintf("plane: Shadows: shade %d: %v", k+1, f[0]))
		}
		when = clock.Timetable{Hours: h.Hours, Season: h.Season}.Shares(c, when)
		if h.Kind == Leaves {
			inLeaf := h.InLeaf
			if inLeaf == nil {
				inLeaf = leafSeason(latDeg)
			}
			leaf = clock.Timetable{Season: inLeaf}.Shares(c, leaf)
		}
		for i := range out {
			takes := 1.0
			if h.Kind == Leaves {
				takes = h.LeaflessShare + (1-h.LeaflessShare)*leaf[i]
			}
			o := &out[i]
			o.SkyHidden = 1 - (1-o.SkyHidden)*(1-h.SkyShare*takes)
			if when[i]*h.Share*takes > o.TimeShare*o.Share*o.Takes {
				o.TimeShare, o.Share, o.Takes, o.Along = when[i], h.Share, takes, h.Lies == Along
			}
		}
	}
	return out
}

func leafSeason(latDeg float64) []clock.DateSpan {
	if latDeg < 0 {
		return []clock.DateSpan{{From: clock.Date{Month: 11, Day: 1}, To: clock.Date{Month: 4, Day: 30}}}
	}
	return []clock.DateSpan{{From: clock.Date{Month: 5, Day: 1}, To: clock.Date{Month: 10, Day: 31}}}
}
