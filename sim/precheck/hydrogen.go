package precheck

// Gas is how much current turns water into gas while a lead cell is charged, mA for each Ah of capacity.
type Gas float64

// The currents of IEC 62485-2, formerly EN 50272-2.
const (
	VentedFloat Gas = 5
	VentedBoost Gas = 20
	SealedFloat Gas = 1
	SealedBoost Gas = 8
)

// Ventilation is the fresh air that keeps the hydrogen of a lead battery of so many cells in series and capacityAh (Ah) below
// what can ignite, m3/h, and the least area of each of two natural openings, in and out, cm2.
//
//	Q = 0.05 x cells x gas x capacity / 1000, A = 28 Q
//
// Source: IEC 62485-2 as three pages quote it.
func Ventilation(cells int, gas Gas, capacityAh float64) (airM3PerH, openingCM2 float64) {
	airM3PerH = 0.05 * float64(cells) * float64(gas) * capacityAh / 1000
	return airM3PerH, 28 * airM3PerH
}
