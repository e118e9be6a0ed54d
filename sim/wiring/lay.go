package wiring

import "tideover/sim/limit"

// Strands is how a metric conductor is made.
type Strands int

// The kinds of IEC 60228: class 5, and class 2 or 1.
const (
	Fine Strands = iota
	Coarse
)

// Insulation is what a cable's copper is clad in.
type Insulation int

// PVC stands 70 C (60 or 75 C by the American columns), XLPE 90 C, as on solar cable.
const (
	PVC Insulation = iota
	XLPE
)

// Lay is how a cable is made and laid. The zero value: fine strands in PVC at 20 C, two conductors by themselves.
type Lay struct {
	WarmK      float64 // of the copper above 20 C
	Strands    Strands
	Insulation Insulation
	AirC       float64 // hottest air around the cable; 0: not known
	Together   int     // conductors under load in one conduit or bundle; 0 counts as 2
}

// CopperC is the temperature of the copper, degC.
func (l Lay) CopperC() float64 { return 20 + l.WarmK }

// Cables are the runs of one building, made and laid alike, with the fuse at the battery.
type Cables struct {
	Array, Controller, Battery, Inverter, DC *Run
	Fuse                                     *Fuse
	CopperC                                  float64
	Lay                                      Lay
}

// NewCables returns cables that are read into the runs and the fuse given.
func NewCables(array, controller, battery, inverter, dc *Run, fuse *Fuse) Cables {
	return Cables{Array: array, Controller: controller, Battery: battery, Inverter: inverter, DC: dc, Fuse: fuse, CopperC: 20, Lay: Lay{Together: 2}}
}

// Fuse is the one at the battery.
type Fuse struct {
	RatedA  float64 // 0: not known
	BreaksA float64 // the most it can break; 0: not known
}

type named struct {
	name string
	run  *Run
}

// Named are the runs with the names that their keys begin with.
func (c *Cables) named() []named {
	return []named{{"array", c.Array}, {"controller", c.Controller}, {"battery", c.Battery}, {"inverter", c.Inverter}, {"dc_loads", c.DC}}
}

// Keys declares the runs, how they are made and laid, and the fuse.
func (c *Cables) Keys() []limit.Key {
	var keys []limit.Key
	for _, n := range c.named() {
		keys = append(keys, n.run.Keys(n.name)...)
	}
	return append(keys,
		limit.Num("wire_temp_c", &c.CopperC, limit.Between(-40, 120), "temperature of the copper, for its resistance", "45").
			From("20 C, that of the tables"),
		limit.OneOf("strands", &c.Lay.Strands, []string{"fine", "coarse"},
			"of cables in mm2: fine, IEC 60228 class 5; coarse or solid, class 2", "coarse").From("common practice"),
		limit.OneOf("insulation", &c.Lay.Insulation, []string{"pvc", "xlpe"},
			"pvc stands 70 C (60 or 75 C by American columns), xlpe 90 C, as on solar cable", "xlpe").From("the lower of the two"),
		limit.Num("air_c", &c.Lay.AirC, limit.Between(0, 80),
			"hottest air around the cables, for the current they may carry; 0 means the hottest hour of the weather, at least 30", "50").
			From("the weather"),
		limit.Int("conductors_together", &c.Lay.Together, limit.Between(2, 40),
			"conductors under load in one conduit or bundle, for the current they may carry", "4").From("a pair by itself"),
		limit.Num("battery_fuse_a", &c.Fuse.RatedA, limit.Between(0, 2000), "fuse at the battery; 0 means not known", "125").From("not known"),
		limit.Num("battery_fuse_breaks_a", &c.Fuse.BreaksA, limit.Between(0, 200000),
			"the most that the fuse at the battery can break at the battery's voltage; 0 means not known", "20000").From("not known"),
	)
}

// Check returns what is wrong with the parameters.
func (c *Cables) Check() []limit.Fault {
	faults := limit.Check(c.Keys())
	if len(faults) > 0 {
		return faults
	}
	for _, n := range c.named() {
		faults = append(faults, n.run.Check(n.name)...)
	}
	if f := c.Fuse; f.BreaksA > 0 && f.BreaksA < f.RatedA {
		faults = append(faults, limit.Fault{Key: "battery_fuse_breaks_a", Msg: limit.Plain(f.BreaksA) + " is below battery_fuse_a " +
			limit.Plain(f.RatedA) + ": no fuse breaks less than it carries; is it in kA?", Example: "20000"})
	}
	return faults
}

// Spread tells the runs how they are made and laid.
func (c *Cables) Spread() {
	lay := c.Lay
	lay.WarmK = c.CopperC - 20
	for _, n := range c.named() {
		n.run.Lay = lay
	}
}
