package plots

import (
	"bytes"
	"math"
	"testing"
	"time"

	"tideover/sim/report/invented"
	"tideover/sim/study"
)

// spellCases are results of every length and mood that the map must take.
func spellCases() map[string]*study.Spells {
	jan := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	off := invented.Spells(jan, 365, 30, 0.1, 0.2)
	for k := range off.Of {
		for d := range off.Of[k] {
			for n := range off.Of[k][d].Ends {
				off.Of[k][d].Ends[n].LackH = 24
			}
		}
	}
	all := invented.Spells(jan, 365, 30, 0.1)
	for d := range all.Of[0] {
		all.Of[0][d].CutH = math.Inf(1)
		for n := range all.Of[0][d].Ends {
			all.Of[0][d].Ends[n].LackH = 0
		}
	}
	// As all carried, but for two dates.
	but := invented.Spells(jan, 365, 30, 0.1)
	for d := range but.Of[0] {
		but.Of[0][d].CutH = math.Inf(1)
		for n := range but.Of[0][d].Ends {
			but.Of[0][d].Ends[n].LackH = 0
			if d == 195 && n >= 13 || d == 100 && n >= 20 {
				but.Of[0][d].Ends[n].LackH = 4
			}
		}
	}
	// One date in July, when many are carried, carries one.
	july := invented.Spells(jan, 365, 30, 0.1)
	july.Of[0][195].Ends[1].LackH = 4
	return map[string]*study.Spells{
		"all carried but": but, "one in July": july,
		"year": invented.Spells(jan, 365, 30, 0.1, 0.2), "one share": invented.Spells(jan, 365, 30, 0),
		"three shares": invented.Spells(jan, 366, 60, 0.05, 0.1234, 1), "nothing carried": off, "all carried": all,
		"one day": invented.Spells(jan, 1, 1, 0.1), "ten years": invented.Spells(jan, 3652, 30, 0.1, 0.2),
		"from autumn": invented.Spells(time.Date(2024, 9, 20, 0, 0, 0, 0, time.UTC), 200, 30, 0.1),
	}
}

func TestSpellMapTitles(t *testing.T) {
	cases := spellCases()
	for name, want := range map[string]string{
		"year":            "Dull spells at 10 % of the usual sun: 3 days carried from the start of November to the end of February",
		"nothing carried": "Dull spells at 10 % of the usual sun: not one day is sure all year",
		"all carried but": "Dull spells at 10 % of the usual sun: 30 days carried from 363 of 365 dates, only 13 from 15 Jul",
		"one in July":     "Dull spells at 10 % of the usual sun: 3 days carried from the start of November to the end of February; the least 1",
		"all carried":     "Dull spells at 10 % of the usual sun: 30 days carried all year",
	} {
		if got := SpellMap(cases[name]).Title(); got != want {
			t.Errorf("%s: title %q, want %q", name, got, want)
		}
	}
}

func TestSpellMapDraws(t *testing.T) {
	for name, s := range spellCases() {
		doc := svg(t, SpellMap(s))
		apart(t, "spell map, "+name, labels(t, doc))
		if !bytes.Equal(doc, svg(t, SpellMap(s))) {
			t.Errorf("%s: a second drawing gives other bytes", name)
		}
	}
}

func TestSpellMapWithoutSpellsPanics(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic without spells")
		}
	}()
	SpellMap(&study.Spells{})
}
