package report

import (
	"fmt"
	"slices"
	"strings"

	"tideover/sim/study"
)

// stagger says which loads to part or to move, and what that made of the year; or why nothing does.
func stagger(s *study.Stagger) string {
	both := func(c study.Carries) string {
		w, va := number(c.W, 0), number(c.VA, 0)
		if w == va {
			return w + " W"
		}
		return w + " W and " + va + " VA"
	}
	by := "the inverter's " + both(s.May)
	if s.May.W == s.May.VA && slices.ContainsFunc(s.Alone, func(h study.Heavy) bool { return h.VA > h.W }) {
		by = fmt.Sprintf("the inverter's %[1]s W and %[1]s VA", number(s.May.W, 0))
	}
	if s.Board {
		by = "the " + number(s.May.W, 0) + " W that the battery's board lets through"
	}
	switch {
	case len(s.Alone) > 0:
		var names []string
		var most study.Carries
		for _, h := range s.Alone {
			names = append(names, h.Load+" alone takes "+both(study.Carries{W: h.W, VA: h.VA}))
			most = study.Carries{W: max(most.W, h.W), VA: max(most.VA, h.VA)}
		}
		cure := fmt.Sprintf("that wants an inverter of %s, all at once one of %s", both(most), both(s.Over))
		if s.Board {
			cure = fmt.Sprintf("that wants a board for more current, all at once one for %s", both(s.Over))
		}
		if most.W <= s.May.W && !s.Board {
			section := "inverter"
			if s.InBox {
				section = "station"
			}
			cure += "; the watts fit, so type the power_factor or class of the load, and " + section + ".rated_va from its plate, where these are the defaults"
		}
		return fmt.Sprintf("no other hours cure it: %s, more than %s; %s", inWords(names), by, cure)
	case s.Changes == nil:
		return fmt.Sprintf("no other hours were found that keep within %s; all at once are %s", by, both(s.Over))
	}
	var todo []string
	for _, c := range s.Changes {
		todo = append(todo, c.String())
	}
	a, b := &s.Before, &s.After
	return fmt.Sprintf("%s. The year again with that: trips %d -> %d, days without power %d -> %d, unserved %s -> %s kWh", strings.Join(todo, "; "),
		a.Trips, b.Trips, a.DaysWithoutPower, b.DaysWithoutPower, number(a.UnservedWh/1000, 1), number(b.UnservedWh/1000, 1))
}

// inWords joins words as in a sentence.
func inWords(words []string) string {
	if n := len(words) - 1; n > 0 {
		return strings.Join(words[:n], ", ") + " and " + words[n]
	}
	return strings.Join(words, "")
}

// staggerOf is the same for programs.
func staggerOf(s *study.Stagger) object {
	carries := func(c study.Carries) object {
		return object{{"w", six(c.W)}, {"va", six(c.VA)}, {"start_w", six(c.StartW)}}
	}
	alone, changes := make([]object, 0, len(s.Alone)), make([]object, 0, len(s.Changes))
	for _, h := range s.Alone {
		alone = append(alone, object{{"load", h.Load}, {"w", six(h.W)}, {"va", six(h.VA)}})
	}
	for _, c := range s.Changes {
		o := object{{"do", c.String()}, {"load", c.Load}}
		if c.With != "" {
			o = append(o, pair{"not_with", c.With})
		} else {
			var from, to []string
			for _, x := range c.From {
				from = append(from, x.String())
			}
			for _, x := range c.To {
				to = append(to, x.String())
			}
			o = append(o, pair{"from", from}, pair{"to", to})
		}
		changes = append(changes, o)
	}
	o := object{{"at_once", carries(s.Over)}, {"carried", carries(s.May)}, {"tripped_steps", s.Trips}, {"too_much_alone", alone}, {"changes", changes}}
	if s.Changes != nil {
		year := func(r study.StaggerResult) object {
			return object{{"trips", r.Trips}, {"days_without_power", r.DaysWithoutPower}, {"unserved_wh", six(r.UnservedWh)}}
		}
		o = append(o, pair{"before", year(s.Before)}, pair{"after", year(s.After)})
	}
	return o
}
