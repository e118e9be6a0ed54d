package sim

import (
	"fmt"
	"math"
	"slices"

	"tideover/loads"
	"tideover/sim/battery"
	"tideover/sim/clock"
	"tideover/sim/controller"
	"tideover/sim/ledger"
	"tideover/weather"
)

// Prepared is a System with one weather, ready to run and to report.
type Prepared struct {
	Plant
	sys             *System
	clock           *clock.Clock
	above           sunlit // the sky, whatever the panels
	light           onPanels
	airC            []float64
	demand          loads.Demand
	rated           float64   // array, W
	readyA          []float64 // and its current there
	readyW          []float64 // at the controller's input, after its window, tracking and input ratings
	perOut          float64   // mean power at the module terminals for each watt at the bus
	start           float64   // SOC; NaN: settle
	notes, warnings []string
	small           []small // loads that never wake an inverter in search mode
	searchNoteAt    int     // the note of them
}

// Prepare computes everything that does not depend on the charge. The weather's steps must be a whole multiple of the
// system's. It panics on values that the boxes' Check refuses, and on AC loads without an inverter: our bug.
func Prepare(sys *System, y *weather.Year) *Prepared {
	stepMin := sys.StepMin
	if stepMin == 0 {
		stepMin = y.StepMin
	}
	if stepMin < y.StepMin {
		y = y.Refine(stepMin)
	}
	zone := sys.Zone
	if zone == nil {
		zone = y.Start.Location()
	}
	n := y.Len()
	p := &Prepared{sys: sys, airC: y.TempC, start: sys.Bank.StartSOC, rated: sys.RatedW()}
	p.clock = clock.New(y.Start, y.StepMin, n, zone)
	p.stepH = y.StepH()
	p.notes, p.warnings = append(p.notes, y.Notes...), append(p.warnings, y.Warnings...)

	whole := sys.Bank.Whole()
	bank := &whole
	p.bank = bank
	p.warnings = append(p.warnings, bank.Cautions()...)
	if sys.Backup != nil {
		p.warnings = append(p.warnings, sys.Backup.Cautions()...)
	}
	cableOhm := sys.BatteryCable.ResistanceOhm()
	if bank.Type == battery.Lithium {
		p.pack = bank.Pack(cableOhm)
		p.capAh = p.pack.CapacityAh
		p.countsAh = p.capAh * (1 - 1e-12)
	} else {
		l := bank.Lead(cableOhm, p.stepH)
		p.lead, p.capAh = &l, l.CapacityAh
		p.countsAh = leadFull * p.capAh
	}
	p.fullAh = p.capAh * (1 - 1e-12)
	p.standbyW = bank.BoardDrawW
	for _, c := range sys.Controllers() {
		p.maxOutA += c.MaxCurrentA
		p.standbyW += c.OwnDrawW
	}
	if len(sys.Further) > 0 {
		p.sideBySide()
	}
	p.minOffH = bank.MinOffMin / 60
	p.hold = charging(&sys.Controller, bank)
	if p.hold.compVPerK != 0 && bank.Type == battery.Lithium {
		p.warnings = append(p.warnings, "the charging voltage rises in the cold (temp_comp_mv_per_cell_k), which lithium does not bear: take the sensor off, or type 0")
	}
	p.inputOff = sys.Controller.InputOffWhenBarred
	p.steps, p.fixed = make([]step, n), make([]fixed, n)
	p.sky(y)
	p.panels()
	p.reconnectAh = (bank.ReconnectSOC - bank.DisconnectSOC) * p.capAh
	p.backSOC = min(bank.ReconnectSOC, 0.999*leadFull)
	p.warmA = bank.At(25, false).MaxChargeA
	p.temperatures()
	for i := range p.steps {
		st := &p.steps[i]
		st.day, st.month = p.clock.Day[i], int16(p.clock.MonthOf[i])
	}
	p.asks()
	p.wired = sys.ArrayCable.ResistanceOhm()+sys.OutputCable.ResistanceOhm()+sys.InverterCable.ResistanceOhm()+sys.DCCable.ResistanceOhm() > 0
	p.cables()
	p.sagging()
	p.charger()
	p.toBus()
	p.give()
	p.sum()
	return p
}

// charging is what the controller holds a bank at: what is typed, or the usual for its type. A lithium bank is floated only
// where a float voltage is typed.
func charging(c *controller.Controller, b *battery.Bank) stages {
	name := "lithium"
	if b.Type != battery.Lithium {
		name = b.Type.String()
	}
	usual, ok := controller.Preset(name)
	if !ok {
		panic("sim: Prepare: no charging voltages for " + name)
	}
	s := stages{absorptionH: c.AbsorptionHours(usual), compVPerK: c.TempCompMVPerCellK / 1000 * float64(b.Cells())}
	if math.IsNaN(c.TempCompMVPerCellK) {
		s.compVPerK = usual.TempCompMVPerCellK / 1000 * float64(b.Cells())
	}
	s.chargeV, s.floatV = c.Setpoints(usual, b.Cells(), 25)
	if c.AbsorptionV == 0 {
		s.chargeV = b.ChargeLimitV()
	}
	s.floatV = min(s.floatV, s.chargeV)
	if b.Type == battery.Lithium && c.FloatV == 0 {
		s.floatV = 0
	}
	return s
}

// leadFull is the state of charge at which a lead-acid bank counts as full: the last of it takes for ever.
const leadFull = 0.98

// temperatures finds that of the bank, and what it makes of it.
func (p *Prepared) temperatures() {
	month := func(i int) int { return int(p.above.month[i]) - 1 }
	p.warm, p.changes = p.bank.Warmths(p.airC, month, p.stepH)
	if p.bank.HeaterW > 0 { // then all of it follows the run
		p.heater, p.around, p.changes = p.bank.Node(), p.bank.Airs(p.airC, month, p.stepH), nil
	}
	held := func(w *battery.Warmth) { w.ChargeV, w.FloatV = p.hold.at(w.TempC, false), p.hold.at(w.TempC, true) }
	for i := range p.warm {
		held(&p.warm[i])
	}
	for k := range p.changes {
		held(&p.changes[k].Warmth)
		p.steps[p.changes[k].Step].changes = true
	}
}

// cables finds what the cables to the loads lose, at the nominal voltage. Of a load that is on for a part of the step the
// current is that while on: the mean of its square is the mean current times that.
func (p *Prepared) cables() {
	v := p.bank.NominalV
	ac, dc := p.sys.InverterCable.ResistanceOhm()/(v*v), p.sys.DCCable.ResistanceOhm()/(v*v)
	if ac == 0 && dc == 0 {
		return
	}
	for i := range p.steps {
		st := &p.steps[i]
		if st.acW > 0 {
			meanW := st.acW + st.idleW + st.convertW
			st.acWireW = float32(ac * meanW * max(meanW, p.demand.ACOnW[i]))
		}
		st.dcWireW = float32(dc * st.dcW * max(st.dcW, p.demand.DCOnW[i]))
	}
}

// sagging finds the charge that is always enough for the coincident draw: with the resistance of an empty bank.
func (p *Prepared) sagging() {
	if p.cutoffV == 0 || p.lead != nil {
		return
	}
	for i := range p.steps {
		st := &p.steps[i]
		if st.acW == 0 {
			continue
		}
		ohm := 2*p.pack.BankOhm*p.warm[i].OhmFactor + p.pack.CableOhm
		v := max(float64(st.cutV), math.Sqrt(float64(st.peakW)*ohm))
		st.sagAh = float32(p.pack.ChargeAtV(v+ohm*float64(st.peakW)/v) * (1 + 1e-6))
	}
}

// charger makes the backup charger ready.
func (p *Prepared) charger() {
	c := p.sys.Backup
	if c == nil {
		return
	}
	p.backup = backupPlan{carryW: c.CarriedW, startAh: c.StartSOC * p.capAh, stopAh: min(c.StopSOC, 1-1e-6) * p.capAh}
	if c.CarriedW == 0 {
		p.backup.carryW = c.PowerW
	}
	if !c.NeverStarted {
		p.backup.powerW = c.PowerW
		if b := p.bank; c.StartSOC < b.DisconnectSOC {
			p.warnings = append(p.warnings, fmt.Sprintf("the backup starts at %.3g %% of charge (backup.start_soc), but the loads are cut at %.3g %% already (battery.disconnect_soc): it comes too late for them",
				100*c.StartSOC, 100*b.DisconnectSOC))
		}
	}
	if p.lead != nil {
		p.backup.stopAh = min(p.backup.stopAh, leadFull*p.capAh)
	}
	var quiet []float64
	if p.quiet = nil; !c.Quiet.Always() {
		quiet, p.quiet = c.Quiet.Shares(p.clock, nil), c.Quiet.Stretches(p.clock)
	}
	for i := range p.steps {
		st, x := &p.steps[i], &p.fixed[i]
		st.quiet = quiet != nil && quiet[i] > 0
		date := p.clock.Dates[st.day]
		if st.carried = c.Away(int(date.Month()), date.Day()); !st.carried {
			continue
		}
		x.withheldW += st.acW + st.dcW
		if st.mustAC || st.mustDC {
			x.ruleMin = p.stepH * 60
		}
		st.acW, st.dcW, st.idleW, st.convertW, st.peakW, st.acWireW, st.dcWireW = 0, 0, 0, 0, 0, 0, 0
		st.mustAC, st.mustDC, st.overload = false, false, false
	}
}

// Run simulates: from the typed starting charge, or settled. With hours it keeps every step's flows.
func (p *Prepared) Run(hours bool) (*ledger.Run, error) {
	st, b, passes, settled, err := p.settle()
	if err != nil {
		return nil, err
	}
	var r *ledger.Run
	if b != nil && !hours {
		r, err = p.told(b, st, nil)
	} else {
		r, _, err = p.RunFrom(st, hours)
	}
	if err != nil {
		return nil, err
	}
	r.SettlePasses, r.Settled = passes, settled
	return r, nil
}

// Start returns the state in which the run begins: with the typed charge after no passes, or settled, by repeating the
// run until it ends within 0.1 % of capacity of where it began, five times at most.
func (p *Prepared) Start() (st State, passes int, settled bool, err error) {
	st, _, passes, settled, err = p.settle()
	return st, passes, settled, err
}

// settle is Start, with the books of the last pass where it ended in the very state in which it began: a run from there would
// only repeat it.
func (p *Prepared) settle() (st State, same *books, passes int, settled bool, err error) {
	if !math.IsNaN(p.start) {
		return p.stateAt(p.start), nil, 0, true, nil
	}
	st, capAh := p.stateAt(1), p.capAh
	for passes < settlePasses && !settled {
		b := p.newBooks()
		p.reset(b, st.ChargeAh, false)
		end, err := p.run(st, 0, len(p.steps), b, nil)
		if err != nil {
			return State{}, nil, 0, false, err
		}
		passes++
		settled = math.Abs(end.ChargeAh-st.ChargeAh) <= 0.001*capAh
		if same = nil; end == st {
			same = b
		}
		st = end
	}
	return st, same, passes, settled, nil
}

// stateAt is a rested bank at a state of charge.
func (p *Prepared) stateAt(soc float64) State {
	st := State{ChargeAh: soc * p.capAh}
	if p.lead != nil {
		st.AvailableAh = p.lead.Full(soc).AvailableAh
	}
	if p.heater != nil {
		st.NodeC = max(p.around[0].StartC, p.bank.HeaterToC)
	}
	return st
}

// RunFrom simulates from a state, as of the end of the year before, and returns the state at the end. With hours it keeps
// every step's flows. It fails where the books do not balance: our fault.
func (p *Prepared) RunFrom(st State, hours bool) (*ledger.Run, State, error) {
	b := p.newBooks()
	var h *ledger.Hours
	if hours {
		h = p.newHours()
	}
	p.reset(b, st.ChargeAh, hours)
	end, err := p.run(st, 0, len(p.steps), b, h)
	if err != nil {
		return nil, State{}, err
	}
	out, err := p.told(b, st, h)
	return out, end, err
}

// told is the run that began in a state, from its books. It fails where they do not balance.
func (p *Prepared) told(b *books, st State, h *ledger.Hours) (*ledger.Run, error) {
	out := &ledger.Run{Settled: true, Notes: slices.Clone(p.notes), Warnings: slices.Clone(p.warnings), Hours: h}
	if p.waiting != nil && len(p.small) > 0 { // what packs that wait woke the inverter for is known now
		out.Notes[p.searchNoteAt] = searchNote(p.small, p.sys.Inverter.WakesAtW, b.wokenH)
	}
	p.close(out, b, st)
	if out.Residual() > 1e-9 {
		return nil, fmt.Errorf("the books do not balance: residual %.3g", out.Residual())
	}
	return out, nil
}
