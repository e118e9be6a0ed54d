package sim

import "math"

// The cable between controller and fuse board has the controller's output current in it.
//
// Behind mppt that current is reckoned at one voltage of the bus, the middle between the bank's nominal and its charging
// voltage, near which it stands while the sun gives much: 4 cells of lithium hold 13.1 to 13.6 V then, and 6 of lead 12.5 to
// 14.4. So what the cable keeps is off by the square of that: by up to 6 % of itself with lithium and 15 % with lead, which of
// a cable that loses 2 % is 0.1 and 0.3 % of the harvest. Like that of the array's cable its share is the one at full
// offer, or at the controller's rated current: where less is drawn it would keep less, but then there is plenty.
//
// Behind pwm both cables are in one loop with the array, and what they keep is worked out from its curve.

// behindController is what the cable keeps for each watt that comes to the bus, with outW at the output of an mppt
// controller: of I (V + I R) = outW it is I R / V.
func (p *Prepared) behindController(outW float64) float64 {
	ohm := p.sys.OutputCable.ResistanceOhm()
	if ohm == 0 || outW <= 0 {
		return 0
	}
	v := (p.bank.NominalV + p.hold.chargeV) / 2
	amps := 2 * outW / (v + math.Sqrt(v*v+4*ohm*outW))
	return ohm * min(amps, p.sys.Controller.MaxCurrentA) / v
}

// pwmOhm is the resistance between the modules and the bus, where the controller only switches.
func (p *Prepared) pwmOhm() float64 {
	return p.sys.ArrayCable.ResistanceOhm() + p.sys.OutputCable.ResistanceOhm()
}
