package sim

import (
	"fmt"
	"math"
	"slices"

	"tideover/loads"
	"tideover/sim/battery"
	"tideover/sim/clock"
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
	batteryC        []float64
	demand          loads.Demand
	rated           float64 // array, W
	start           float64 // SOC; NaN: settle
	notes, warnings []string
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

	p.pack = sys.Bank.Pack(sys.BatteryCable.ResistanceOhm())
	p.efficiency, p.maxOutA = sys.Controller.Efficiency, sys.Controller.MaxCurrentA
	p.fullAh = p.pack.CapacityAh * (1 - 1e-12)
	p.perOut = 1 / p.efficiency
	p.standbyW = sys.Controller.OwnDrawW + sys.Bank.BoardDrawW
	p.minOffH = sys.Bank.MinOffMin / 60
	p.steps, p.fixed = make([]step, n), make([]fixed, n)
	p.sky(y)
	p.panels()
	p.batteryC = battery.LagTemp(y.TempC, p.stepH, sys.Bank.TempLagH, nil)
	p.reconnectAh = (sys.Bank.ReconnectSOC - sys.Bank.DisconnectSOC) * p.pack.CapacityAh
	for i := range p.steps {
		st, tempC := &p.steps[i], p.batteryC[i]
		st.day, st.month = p.clock.Day[i], int32(p.clock.MonthOf[i])
		st.barred = tempC < sys.Bank.MinChargeTempC
		st.floorAh = p.pack.CapacityAh * max(sys.Bank.DisconnectSOC, 1-battery.ColdShare(tempC))
	}
	p.asks()
	p.sum()
	return p
}

// Run simulates: from the typed starting charge, or settled. With hours it keeps every step's flows.
func (p *Prepared) Run(hours bool) (*ledger.Run, error) {
	st, passes, settled, err := p.Start()
	if err != nil {
		return nil, err
	}
	r, _, err := p.RunFrom(st, hours)
	if err != nil {
		return nil, err
	}
	r.SettlePasses, r.Settled = passes, settled
	return r, nil
}

// Start returns the state in which the run begins: with the typed charge after no passes, or settled, by repeating the
// run until it ends within 0.1 % of capacity of where it began, five times at most.
func (p *Prepared) Start() (st State, passes int, settled bool, err error) {
	capAh := p.pack.CapacityAh
	if !math.IsNaN(p.start) {
		return State{ChargeAh: p.start * capAh}, 0, true, nil
	}
	b := p.newBooks()
	st.ChargeAh = capAh
	for passes < settlePasses && !settled {
		p.reset(b, st.ChargeAh, false)
		end, err := p.run(st, 0, len(p.steps), b, nil)
		if err != nil {
			return State{}, 0, false, err
		}
		passes++
		settled = math.Abs(end.ChargeAh-st.ChargeAh) <= 0.001*capAh
		st = end
	}
	return st, passes, settled, nil
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
	out := &ledger.Run{Settled: true, Notes: slices.Clone(p.notes), Warnings: slices.Clone(p.warnings), Hours: h}
	p.close(out, b, st)
	if out.Residual() > 1e-9 {
		return nil, State{}, fmt.Errorf("the books do not balance: residual %.3g", out.Residual())
	}
	return out, end, nil
}
