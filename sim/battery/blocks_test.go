package battery

import (
	"math"
	"strings"
	"testing"

	"tideover/sim/limit"

	"pgregory.net/rapid"
)

// golfCart is one block by its sheet, invented.
func golfCart(series, parallel int) Bank {
	b := New(Flooded)
	b.NominalV, b.CapacityAh, b.InSeries, b.InParallel = 12, 100, series, parallel
	b.ResistanceOhm, b.MaxChargeA, b.MaxDischargeA, b.BoardDrawW, b.HeatCapacityWhPerK = 0.02, 20, 150, 0.1, 8
	return b
}

func TestBlocksInSeriesAndSideBySide(t *testing.T) {
	// By hand, Kirchhoff's laws: of eight blocks, two in series and four side by side, volts double, amperes and ampere-hours
	// are four times as many, 0.02 ohm x 2 / 4, and heat and draw are those of eight. Tolerance: rounding.
	b := golfCart(2, 4).Whole()
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"V", b.NominalV, 24}, {"Ah", b.CapacityAh, 400}, {"ohm", b.ResistanceOhm, 0.01}, {"charging A", b.MaxChargeA, 80},
		{"discharging A", b.MaxDischargeA, 600}, {"board W", b.BoardDrawW, 0.8}, {"Wh/K", b.HeatWhPerK(), 64}, {"Wh", b.NominalWh(), 9600},
		{"cells", float64(b.Cells()), 12},
	} {
		near(t, c.what, c.got, c.want, 1e-9)
	}
	if got, want := b.Words(), "8 x 12 V 100 Ah flooded lead, 2 in series, 4 side by side"; got != want {
		t.Errorf("it is called %q, want %q", got, want)
	}
	one := golfCart(1, 1)
	if got, want := one.Words(), "12 V 100 Ah flooded lead"; got != want {
		t.Errorf("one block is called %q, want %q", got, want)
	}
	again := b.Whole()
	near(t, "whole twice, Ah", again.CapacityAh, 400, 0)
	if again.Of != b.Of || one.Whole().Of != (Blocks{}) {
		t.Errorf("whole twice it is of %+v, and one block of %+v", again.Of, one.Whole().Of)
	}
	if f := b.Check(); f != nil {
		t.Errorf("the whole bank has faults: %v", f)
	}
}

// Blocks and the bank typed as one are the same to a step, whatever is left to defaults.
func TestBlocksAreTheirTotals(t *testing.T) {
	for _, c := range []struct {
		kind             Type
		blockV           float64
		series, parallel int
		wholeV           float64
	}{{Lithium, 12.8, 4, 2, 51.2}, {Lithium, 12.8, 3, 1, 38.4}, {Lithium, 12, 4, 1, 51.2}, {AGM, 12, 2, 3, 24}, {Gel, 2, 12, 1, 24}, {Flooded, 6, 4, 2, 24}} {
		blocks, typed := New(c.kind), New(c.kind)
		blocks.NominalV, blocks.CapacityAh, blocks.InSeries, blocks.InParallel = c.blockV, 110, c.series, c.parallel
		typed.NominalV, typed.CapacityAh = c.wholeV, 110*float64(c.parallel)
		whole := blocks.Whole()
		near(t, "cells before", float64(blocks.Cells()), float64(typed.Cells()), 0)
		near(t, "cells", float64(whole.Cells()), float64(typed.Cells()), 0)
		near(t, "charging V", whole.ChargeLimitV(), typed.ChargeLimitV(), 1e-12)
		near(t, "ohm", whole.DefaultResistanceOhm(), typed.DefaultResistanceOhm(), 1e-12)
		near(t, "charging A", whole.At(20, false).MaxChargeA, typed.At(20, false).MaxChargeA, 1e-9)
		if c.kind == Lithium {
			if a, b := whole.Pack(0.001), typed.Pack(0.001); a != b {
				t.Errorf("%+v: steps by\n%+v, typed as one by\n%+v", c, a, b)
			}
		} else if a, b := whole.Lead(0.001, 1), typed.Lead(0.001, 1); a != b {
			t.Errorf("%+v: steps by\n%+v, typed as one by\n%+v", c, a, b)
		}
	}
	rapid.Check(t, func(t *rapid.T) { // what Check takes of blocks it takes of the whole, with as many cells
		b := New(Type(rapid.IntRange(0, 3).Draw(t, "type")))
		b.NominalV = math.Round(10*rapid.Float64Range(2, 60).Draw(t, "V")) / 10
		b.CapacityAh, b.InSeries, b.InParallel = 100, rapid.IntRange(1, 12).Draw(t, "in series"), rapid.IntRange(1, 6).Draw(t, "side by side")
		if rapid.Bool().Draw(t, "by voltage") {
			b.DisconnectV = rapid.Float64Range(1.6, 3.4).Draw(t, "cut at") * float64(b.Cells())
		}
		lo, hi := b.ChargeRange()
		if rapid.Bool().Draw(t, "charged to") {
			b.ChargeV = rapid.Float64Range(lo, hi-1e-9).Draw(t, "charge V")
		}
		if b.Check() != nil {
			return
		}
		whole := b.Whole()
		if f := whole.Check(); f != nil || whole.Cells() != b.Cells() {
			t.Fatalf("%d cells, as a whole %d: %v", b.Cells(), whole.Cells(), f)
		}
	})
	defer func() {
		if recover() == nil {
			t.Error("a bank that is not whole is stepped")
		}
	}()
	b := golfCart(2, 1)
	b.Lead(0, 1)
}

func TestCautionsOfBlocks(t *testing.T) {
	// Common practice, from memory: at most four strings of lead, four lithium blocks of 12.8 V in series.
	lithium := func(v, ah float64, series, parallel int) Bank {
		b := block(ah)
		b.NominalV, b.InSeries, b.InParallel = v, series, parallel
		return b
	}
	heavy := golfCart(1, 2)
	heavy.NominalV, heavy.CapacityAh = 24, 400 // 9.6 kWh of lead are over 300 kg
	cell := New(Gel)
	cell.NominalV, cell.CapacityAh, cell.InSeries = 2, 1800, 24 // heavy, and such cells are sold
	for _, c := range []struct {
		b    Bank
		want string // "" for none
	}{
		{golfCart(2, 4), ""}, {golfCart(1, 1), ""}, {golfCart(20, 1), ""}, {golfCart(1, 5), "5 strings of lead"},
		{lithium(12.8, 100, 4, 8), ""}, {lithium(12.8, 100, 5, 1), "5 lithium blocks of 12.8 V in series"}, {lithium(25.6, 100, 2, 1), ""},
		{lithium(51.2, 100, 1, 4), ""}, {lithium(51.2, 100, 2, 1), "2 lithium blocks"}, {lithium(3.2, 280, 24, 1), ""},
		{heavy, "of one block, not of all"}, {cell, ""},
	} {
		whole := c.b.Whole()
		got := strings.Join(whole.Cautions(), "\n")
		if c.want == "" && got != "" || !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", whole.Words(), got, c.want)
		}
	}
}

func TestCautionsOfACutByVoltage(t *testing.T) {
	// Usual levels of return: 13.0 V for 12.8 V of lithium, 12.6 V for 12 V of lead, both from memory. The rested voltages of the cell are
	// those of TestOpenVoltageAgainstElectrodeFunctions (cross-check): 3.25 V a cell lie between its 3.2332 V at 15 % and 3.2518 V at 20 %.
	cut := func(b Bank, v, back float64) Bank {
		b.DisconnectV, b.ReconnectV = v, back
		return b
	}
	two := New(Lithium)
	two.NominalV, two.CapacityAh, two.InSeries = 12.8, 100, 2
	for _, c := range []struct {
		b    Bank
		want string // "" for none
	}{
		{two, ""}, {cut(two, 24, 0), ""}, {cut(two, 25.6, 0), ""}, {cut(two, 24, 27), ""}, {cut(two, 26, 27), ""},
		{cut(two, 26, 0), "loads are cut at 26 V, which the bank has at rest with 20 % of its charge and under load with more, and come back at 26.4 V"},
		{cut(golfCart(1, 1), 11.5, 0), ""}, {cut(golfCart(1, 1), 12.5, 0), "come back at 12.8 V"},
	} {
		if f := c.b.Check(); f != nil {
			t.Errorf("%v V: %v", c.b.DisconnectV, f)
		}
		whole := c.b.Whole()
		got := strings.Join(whole.Cautions(), "\n")
		if c.want == "" && got != "" || !strings.Contains(got, c.want) {
			t.Errorf("cut at %v V: %q, want %q", c.b.DisconnectV, got, c.want)
		}
	}
	for b, want := range map[*Bank]string{new(cut(two, 27, 0)): "at rest with 95 % of its charge, 26.7", new(cut(two, 27, 27.5)): "at rest with 95 %", new(cut(two, 26.6, 0)): ""} {
		f := b.Check()
		if want == "" && f != nil || want != "" && (len(f) != 1 || f[0].Key != "disconnect_v" || !strings.Contains(f[0].Msg, want)) {
			t.Errorf("%v V: %v, want %q", b.DisconnectV, f, want)
		}
	}
}

func TestFaultsOfBlocks(t *testing.T) {
	of := func(b Bank, change func(*Bank)) string {
		change(&b)
		var s []string
		for _, f := range append(b.Check(), b.Slips()...) {
			s = append(s, limit.Fault{Key: f.Key, Msg: f.Msg}.Error())
		}
		return strings.Join(s, "\n")
	}
	for _, c := range []struct {
		change func(*Bank)
		want   string
	}{
		{func(b *Bank) {}, ""},
		{func(b *Bank) { b.ChargeV = 29.2 }, ""},
		{func(b *Bank) { b.ChargeV = 14.6 }, "it looks like one block's; 14.6 V for each of 2 in series is 29.2 V"},
		{func(b *Bank) { b.DisconnectV = 11.5 }, "is 23 V"},
		{func(b *Bank) { b.InSeries = 40 }, "40 blocks of 12 V make 480 V"},
		{func(b *Bank) { b.InParallel = 30 }, "30 strings of 100 Ah are 3000 Ah"},
		{func(b *Bank) { b.ResistanceOhm = 20 }, "it looks like milliohm"},
	} {
		if got := of(golfCart(2, 4), c.change); c.want == "" && got != "" || !strings.Contains(got, c.want) {
			t.Errorf("faults %q, want %q", got, c.want)
		}
	}
}
