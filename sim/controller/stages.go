package controller

import (
	"fmt"
	"math"
)

// Stages is how a kind of battery wants to be charged: to the absorption voltage with all there is, held there for some
// hours, then held at float. Voltages are those of a block of Cells cells at 25 degC.
type Stages struct {
	AbsorptionV, FloatV float64
	Cells               int
	AbsorptionH         float64
	TempCompMVPerCellK  float64 // change of both voltages with the battery's temperature
}

// Preset returns the stages of a kind of battery, 12 V blocks: lithium (iron phosphate), flooded, agm or gel. ok is false for
// another word.
//
// Each pair of lead is a row of one inverter-charger's manual, whose ranges agree with other makers' notes; for agm, what
// is in the manual's 14.3 to 14.5 and 13.3 to 13.5 and also a dealer's 2.40 and 2.25 V a cell. Lithium is a charger's
// manual: 3.55 V a cell, at which the bank tapers by default. The hours are a guess: timers of 2 to 4 hours are usual for
// lead (from memory). -5 mV for each cell and kelvin is what the notes of three makers and dealers and an encyclopaedia
// give for lead; for lithium the inverter-charger's manual has the sensor taken off.
func Preset(name string) (s Stages, ok bool) {
	switch name {
	case "lithium":
		return Stages{14.2, 13.5, 4, 1, 0}, true
	case "flooded":
		return Stages{14.6, 13.4, 6, 3, -5}, true
	case "agm":
		return Stages{14.4, 13.5, 6, 3, -5}, true
	case "gel":
		return Stages{14.1, 13.6, 6, 3, -5}, true
	}
	return Stages{}, false
}

// The temperature is followed between these, degC: common practice.
const coldestC, warmestC = -20, 50

// Setpoints returns the voltages to charge to and to hold, V, for a bank of cells in series at batteryC (degC): as typed, or
// those of the battery's preset; each moved by the temperature compensation, V = V(25) + cells x mV/1000 x (T - 25), with
// the temperature kept within -20 to 50. Float is never above absorption. It panics on a NaN, or without cells: our bug.
func (c *Controller) Setpoints(preset Stages, cells int, batteryC float64) (absorptionV, floatV float64) {
	if cells < 1 || preset.Cells < 1 || math.IsNaN(batteryC) {
		panic(fmt.Sprintf("controller: Setpoints: %d cells, preset %+v, battery at %v degC", cells, preset, batteryC))
	}
	absorptionV, floatV = c.AbsorptionV, c.FloatV
	blocks := float64(cells) / float64(preset.Cells)
	if absorptionV == 0 {
		absorptionV = preset.AbsorptionV * blocks
	}
	if floatV == 0 {
		floatV = preset.FloatV * blocks
	}
	mV := c.TempCompMVPerCellK
	if math.IsNaN(mV) {
		mV = preset.TempCompMVPerCellK
	}
	moved := float64(cells) * mV / 1000 * (min(warmestC, max(coldestC, batteryC)) - 25)
	return absorptionV + moved, min(absorptionV, floatV) + moved
}

// AbsorptionHours is how long absorption is held before float, h.
func (c *Controller) AbsorptionHours(preset Stages) float64 {
	if c.AbsorptionH > 0 {
		return c.AbsorptionH
	}
	return preset.AbsorptionH
}
