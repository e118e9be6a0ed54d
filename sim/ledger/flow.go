package ledger

// Flow is one term of the books. The order is the order of the columns and of the printed ledger.
type Flow int

// The flows, in watt-hours (or mean watts in the hourly columns). All but StoreChange are never negative.
const (
	// At the module terminals: Array = NotStarted + OffPeak + Clipped + ChargeBarred + Curtailed + Drawn.
	Array        Flow = iota // maximum-power point after light, dirt, temperature and age, whatever the controller does
	NotStarted               // input outside the controller's window, or the box asleep
	OffPeak                  // maximum power minus power at the voltage imposed (tracking error)
	Clipped                  // over the controller's power or current rating
	ChargeBarred             // only temperature forbids charging
	Curtailed                // full, taper or battery current limit
	Drawn                    // taken from the array

	// At the bus: Drawn + Backup = all from ControllerLoss to ServedDC.
	Backup
	ControllerLoss // conversion only
	WiringLoss     // every cable
	BatteryLoss    // resistance, coulombic loss, self-discharge
	StoreChange    // E(end) - E(start) of the charge held
	InverterIdle   // no-load draw for every hour it is on
	InverterLoss   // Pdc - idle - Pac
	Standby        // own draw of controller, box awake, monitor, protection board
	Heater
	ServedAC
	ServedDC

	// At the battery terminals: BatteryIn = BatteryOut + BatteryLoss + StoreChange.
	BatteryIn
	BatteryOut

	// At the load terminals: Demand = Served + Unserved + Withheld.
	Demand
	Served
	Unserved
	Withheld // asked while the user's own rule kept it off

	NFlows
)

var names = [NFlows]string{
	"array", "not_started", "off_peak", "clipped", "charge_barred", "curtailed", "drawn",
	"backup", "controller_loss", "wiring_loss", "battery_loss", "store_change", "inverter_idle", "inverter_loss",
	"standby", "heater", "served_ac", "served_dc", "battery_in", "battery_out",
	"demand", "served", "unserved", "withheld",
}

// String returns the flow's name in snake case, as in result.json and, with _w added, in hourly.csv.
func (f Flow) String() string { return names[f] }

// Flows holds one value of every flow, Wh.
type Flows [NFlows]float64

// Add adds o to f term by term.
func (f *Flows) Add(o *Flows) {
	for i := range f {
		f[i] += o[i]
	}
}

// Gaps returns what is missing in each of the four balances, Wh; all are 0 in books that close.
func (f *Flows) Gaps() [4]float64 {
	return [4]float64{
		f[Array] - f[NotStarted] - f[OffPeak] - f[Clipped] - f[ChargeBarred] - f[Curtailed] - f[Drawn],
		f[Drawn] + f[Backup] - f[ControllerLoss] - f[WiringLoss] - f[BatteryLoss] - f[StoreChange] -
			f[InverterIdle] - f[InverterLoss] - f[Standby] - f[Heater] - f[ServedAC] - f[ServedDC],
		f[BatteryIn] - f[BatteryOut] - f[BatteryLoss] - f[StoreChange],
		f[Demand] - f[Served] - f[Unserved] - f[Withheld],
	}
}

// Residual is the largest gap of the four over array + backup + battery in + battery out + 1 Wh.
func (f *Flows) Residual() float64 {
	var worst float64
	for _, g := range f.Gaps() {
		worst = max(worst, g, -g)
	}
	return worst / (f[Array] + f[Backup] + f[BatteryIn] + f[BatteryOut] + 1)
}
