package sim_test

// What is beside the sun and behind the bus in the plain engine: the backup charger, the inverter's losses, cables.

import (
	"math"
	"time"
)

// plainBackup is a charger beside the sun.
type plainBackup struct {
	powerW            float64 // at the bus, at most; 0: only the carried dates charge
	startSOC, stopSOC float64
	quiet             *plainWhen // when it must not run; nil: it may at any time
	carried           plainWhen  // its season: whole dates on which the battery is away, being charged
	carriedW          float64
}

// runs says whether it runs from now on.
func (c *plainBackup) runs(did bool, soc float64, lead bool, wall time.Time) bool {
	stop := math.Min(c.stopSOC, 1-1e-6)
	if lead {
		stop = math.Min(stop, 0.98) // a lead-acid bank that holds so much counts as full
	}
	const tol = 1e-9
	switch {
	case c.powerW == 0 || c.quiet != nil && c.quiet.on(wall):
		return false
	case did:
		return soc < stop-tol
	default:
		return soc <= c.startSOC+tol
	}
}

func (c *plainBackup) away(wall time.Time) bool {
	return len(c.carried.season) > 0 && c.carried.allows(wall)
}

// lossW is that of conversion.
func (v *plainInverter) lossW(acW float64) float64 {
	return acW * (v.proportionalLoss + v.resistiveLoss*acW/v.ratedW)
}

// cableLossW is what the cables to the inverter and to the DC loads lose in a step while their loads are fed. The current is
// taken at the nominal voltage; it flows for the share of time that makes the mean, as high as while loads are on.
func (p plainPlant) cableLossW(a plainAsked, idleW float64) (acW, dcW float64) {
	loss := func(ohm, meanW, onW float64) float64 {
		return ohm * meanW / p.nominalV * math.Max(meanW, onW) / p.nominalV
	}
	if v := p.inverter; v != nil && a.acW > 0 {
		acW = loss(p.inverterCableOhm, a.acW+idleW+v.lossW(a.acW), v.idleW+a.acOnW+v.lossW(a.acOnW))
	}
	return acW, loss(p.dcCableOhm, a.dcW, a.dcOnW)
}
