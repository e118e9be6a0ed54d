package precheck

// Cells is what the steps from nameplate to socket start from. Powers are means of the run if nothing were ever cut.
type Cells struct {
	NominalWh float64
	CutSOC    float64 // loads are cut here when warm
	ColdSOC   float64 // and here at ColdC; never below CutSOC
	ColdC     float64 // the coldest that the battery gets
	AgeShare  float64 // capacity now over nameplate

	// Rate is the share of the energy held that comes out at a steady draw of so many W at the bus, 0..1.
	Rate func(drawW float64) float64

	LoadW     float64 // at the load terminals, AC and DC
	InverterW float64 // idle and conversion loss
	StandbyW  float64 // controller, box, board
}

// Loss is why less comes out than is printed on a battery.
type Loss int

// The losses, in the order of the steps.
const (
	ByDepth    Loss = iota // below the level at which loads are cut
	ByCold                 // what cold keeps in beyond that
	ByAge                  // capacity gone
	ByRate                 // held back by the rate of the draw
	ByInverter             // idle draw and conversion
	ByStanding             // controller, box, board
	NLosses
)

var lossWords = [NLosses]string{"depth", "cold", "age", "rate", "inverter", "standby"}

// String returns the loss as a key.
func (l Loss) String() string { return lossWords[l] }

// Usable is the fall from nameplate to socket: what each loss takes, once, and what is left after it, Wh.
type Usable struct {
	Cells
	LossWh, LeftWh [NLosses]float64
}

// SocketWh is what reaches the loads from a full battery, Wh.
func (u *Usable) SocketWh() float64 { return u.LeftWh[NLosses-1] }

// Usable works out the steps. Depth and cold overlap, since both leave charge at the bottom: the cold takes only what it
// keeps in beyond the depth. Inverter and standing draws take their part of every watt-hour that leaves the battery, in
// the proportion of the mean powers: of E Wh at the bus the loads get E x LoadW / (LoadW + InverterW + StandbyW), so that
// an inverter that idles all day behind small loads takes a large part.
func (b Cells) Usable() Usable {
	u := Usable{Cells: b}
	left := b.NominalWh
	step := func(l Loss, lossWh float64) {
		left -= lossWh
		u.LossWh[l], u.LeftWh[l] = lossWh, left
	}
	step(ByDepth, b.NominalWh*b.CutSOC)
	step(ByCold, b.NominalWh*max(0, b.ColdSOC-b.CutSOC))
	step(ByAge, left*(1-b.AgeShare))
	all := b.LoadW + b.InverterW + b.StandbyW
	step(ByRate, left*(1-b.Rate(all)))
	var inverter, standing float64
	if all > 0 {
		inverter, standing = left*b.InverterW/all, left*b.StandbyW/all
	}
	step(ByInverter, inverter)
	step(ByStanding, standing)
	return u
}
