package inverter

import (
	"fmt"
	"math"
)

// LossW is the conversion loss beyond the no-load draw at acW, W: with p = Pac / Pn, v p + r p^2 times Pn, and never
// below 0, though coefficients of a data sheet may be.
// Source: H. Schmidt, D. U. Sauer, Wechselrichter-Wirkungsgrade, Sonnenenergie 4/1996, 43-47 (form from memory). Its
// constant term is the no-load draw, which is booked apart.
func (v *Inverter) LossW(acW float64) float64 {
	proportional, resistive := v.ProportionalLoss, v.ResistiveLoss
	if v.Efficiency100 > 0 {
		_, proportional, resistive = Coefficients(v.Efficiency10, v.Efficiency50, v.Efficiency100)
	}
	return max(0, acW*(proportional+resistive*acW/v.RatedW))
}

// Coefficients returns the three terms of the loss curve, shares of the rating, that pass through the efficiencies at 10,
// 50 and 100 % of it: the draw without load, and the losses that grow with the power and with its square at full load.
// Source: as LossW (from memory; the algebra follows from 1 + loss / p = 1 / efficiency at the three points).
func Coefficients(at10, at50, at100 float64) (idle, proportional, resistive float64) {
	a, b, c := 1/at10, 1/at50, 1/at100
	return (c - 9.0/4*b + 5.0/4*a) / 9, -4.0/3*c + 33.0/12*b - 5.0/12*a - 1, 20.0/9*c - 5.0/2*b + 5.0/18*a
}

// idleDiffers is the part by which a data sheet's own no-load draw may differ from the typed one before it is said. A guess.
const idleDiffers = 0.3

// Warnings says what is doubtful about the parameters.
func (v *Inverter) Warnings() []string {
	if v.Efficiency100 == 0 {
		return nil
	}
	idle, proportional, resistive := Coefficients(v.Efficiency10, v.Efficiency50, v.Efficiency100)
	idleW := idle * v.RatedW
	typed := fmt.Sprintf("idle_w %.3g W, as typed, counts", v.IdleW)
	switch {
	case min(idle, proportional, resistive) < 0:
		return []string{fmt.Sprintf("inverter: no inverter has the three efficiencies typed: of the losses that they make, one is below 0 (with no "+
			"load %.3g W; %.3g %% of the power; at full power %.3g %% more, which grows with its square): is one of them mistyped? %s", idleW, 100*proportional, 100*resistive, typed)}
	case math.Abs(idleW-v.IdleW) > idleDiffers*max(idleW, v.IdleW):
		return []string{fmt.Sprintf("inverter: the three efficiencies imply a draw of %.3g W with nothing plugged in; %s", idleW, typed)}
	}
	return nil
}

// DrawA is the current that the inverter takes from a bus at busV while it feeds acW, A.
func (v *Inverter) DrawA(acW, busV float64) float64 { return v.inputW(acW) / busV }

func (v *Inverter) inputW(acW float64) float64 { return v.IdleW + acW + v.LossW(acW) }
