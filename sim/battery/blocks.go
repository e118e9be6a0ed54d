package battery

import (
	"fmt"
	"math"

	"tideover/sim/limit"
)

// Blocks is what a bank was made of: equal blocks, so many in series to a string, and so many strings side by side.
type Blocks struct {
	InSeries, InParallel int // 0: nothing was joined
	NominalV, CapacityAh float64
}

// Count is the number of blocks.
func (k Blocks) Count() int { return k.InSeries * k.InParallel }

// mostBankV is the highest nominal voltage of a bank, V: a guess, above all that an outbuilding has.
const mostBankV = 410

// isWhole reports whether there is no block left to join.
func (b *Bank) isWhole() bool { return b.InSeries*b.InParallel == 1 }

// Whole returns the bank that b's blocks make: of the sheet of one block, voltage, resistance and the heat, draw and weight
// of all add up along a string, charge, currents and again heat and draw from string to string; resistance falls with them.
// Strings are taken to share evenly, links between blocks to have no resistance. Voltages at which the bank is charged or
// cut, heater pads and temperatures are those of the whole bank as typed. Where
// loads are cut by voltage, and that of their return is not typed, it is filled in. Of a bank that is whole it returns the same.
func (b Bank) Whole() Bank {
	if n, m := max(1, b.InSeries), max(1, b.InParallel); n*m > 1 {
		s, p := float64(n), float64(m)
		b.Of = Blocks{n, m, b.NominalV, b.CapacityAh}
		b.NominalV = math.Round(b.NominalV*s*1e6) / 1e6 // 3 x 12.8 is 38.4
		b.CapacityAh *= p
		b.ResistanceOhm *= s / p
		b.MaxChargeA *= p
		b.MaxDischargeA *= p
		b.BoardDrawW *= s * p
		b.HeatCapacityWhPerK *= s * p
		b.InSeries, b.InParallel = 1, 1
	}
	b.ReconnectV = b.returnV()
	return b
}

// trade is the type as a dealer says it.
func (t Type) trade() string {
	return [...]string{"lithium iron phosphate", "flooded lead", "AGM lead", "gel lead"}[t]
}

// Words says the bank in the trade's words: "8 x 12 V 100 Ah flooded, 2 in series, 4 side by side". One block is said by its
// volts and ampere-hours alone.
func (b *Bank) Words() string {
	k := b.Of
	if k.Count() == 0 {
		k = Blocks{max(1, b.InSeries), max(1, b.InParallel), b.NominalV, b.CapacityAh}
	}
	s := fmt.Sprintf("%s V %.4g Ah %s", limit.Plain(k.NominalV), k.CapacityAh, b.Type.trade())
	if n := k.Count(); n > 1 {
		s = fmt.Sprintf("%d x %s", n, s)
	}
	if k.InSeries > 1 {
		s += fmt.Sprintf(", %d in series", k.InSeries)
	}
	if k.InParallel > 1 {
		s += fmt.Sprintf(", %d side by side", k.InParallel)
	}
	return s
}

// What common practice puts an end to. Of lead, three or four strings at the most (battery makers' guides, from memory); of
// lithium, four blocks of 12.8 V in series, as the switches of their boards bear no more (from memory).
const (
	mostLeadStrings = 4
	mostBoardsV     = 4 * 12.8
)

// heavyKg is the weight above which a block looks like several: nobody lifts it into a shed. A guess.
const heavyKg = 150

// Cautions returns what is unusual about how the blocks of a whole bank are joined, what looks as if their number had
// been counted twice, and a cut by voltage so high that the usual level of return is too near it.
func (b *Bank) Cautions() []string {
	var lines []string
	usual := Bank{Type: b.Type, NominalV: b.NominalV, DisconnectV: 1e-9} // and that of return, where the cut is far below it
	if v := b.DisconnectV; v > 0 && b.ReconnectV > usual.returnV()+1e-9 && b.ReconnectV <= v+returnGapCellV*float64(b.cells())+1e-9 {
		lines = append(lines, fmt.Sprintf("loads are cut at %s V, which the bank has at rest with %.0f %% of its charge and under load with more, and come back at %s V, at rest %.0f %%: type a lower disconnect_v, or a reconnect_v of your own",
			limit.Plain(v), 100*b.restSOC(v), limit.Plain(b.ReconnectV), 100*b.restSOC(b.ReconnectV)))
	}
	k := b.Of
	if k.Count() <= 1 {
		return lines
	}
	block := *b
	block.Of, block.NominalV, block.CapacityAh = Blocks{}, k.NominalV, k.CapacityAh
	if b.Type != Lithium && k.InParallel > mostLeadStrings {
		lines = append(lines, fmt.Sprintf("%d strings of lead side by side: they never share evenly, and the weakest drags the others down; common practice is %d at the most: larger blocks in fewer strings", k.InParallel, mostLeadStrings))
	}
	if b.Type == Lithium && k.InSeries > 1 && block.cellsIn() > 1 && b.NominalV > mostBoardsV*1.001 {
		lines = append(lines, fmt.Sprintf("%d lithium blocks of %s V in series: the boards of most bear four of 12.8 V and no more (common practice; the data sheet says): above that they break when one cuts off", k.InSeries, limit.Plain(k.NominalV)))
	}
	if kg := block.weightKg(); kg > heavyKg && block.cellsIn() > 1 {
		lines = append(lines, fmt.Sprintf("one of the %d blocks would weigh some %.0f kg (a guess by its %.1f kWh): capacity_ah and nominal_v are those of one block, not of all", k.Count(), kg, block.NominalWh()/1000))
	}
	return lines
}

// weightKg is a guess at the weight, by the nominal energy: 10 kg for a kWh of lithium, 33 of lead.
func (b *Bank) weightKg() float64 {
	perKWh := 33.0
	if b.Type == Lithium {
		perKWh = 10
	}
	return perKWh * b.NominalWh() / 1000
}
