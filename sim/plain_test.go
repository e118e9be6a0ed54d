package sim_test

// The second engine of these tests: the same rules as the product's, in one-minute explicit steps, slow and obvious. It
// shares no code with the product's engine and knows its boxes as plain numbers only. What it is given, and does not
// work out itself, is the array's power and where the sun is: those boxes are checked against published values.

import (
	"math"
	"time"
)

// plainFlows are the books, Wh.
type plainFlows struct {
	array, notStarted, offPeak, clipped, chargeBarred, curtailed, drawn  float64
	controllerLoss, batteryLoss, storeChange, inverterIdle, inverterLoss float64
	standby, heater, servedAC, servedDC, batteryIn, batteryOut, wiring   float64
	demand, unserved, withheld, backup                                   float64
}

// gaps are the four balances, Wh.
func (f plainFlows) gaps() [4]float64 {
	return [4]float64{
		f.array - (f.notStarted + f.offPeak + f.clipped + f.chargeBarred + f.curtailed + f.drawn),
		f.drawn + f.backup - (f.controllerLoss + f.wiring + f.batteryLoss + f.storeChange + f.inverterIdle + f.inverterLoss + f.standby +
			f.heater + f.servedAC + f.servedDC),
		f.batteryIn - (f.batteryOut + f.batteryLoss + f.storeChange),
		f.demand - (f.servedAC + f.servedDC + f.unserved + f.withheld),
	}
}

// plainBank is a bank. Only the fields of its kind count; those of lead are told beside its rules.
type plainBank struct {
	kind               string // lifepo4, flooded, agm, gel
	nameplateAh        float64
	health             float64
	nominalV           float64
	resistanceOhm      float64 // 0: scaled from a typical block
	coulombic          float64
	maxChargeA         float64 // 0: lithium, half the capacity in an hour
	chargeV            float64 // 0: lithium, 3.55 V a cell
	selfDischarge      float64 // a month of 730 h
	boardDrawW         float64
	disconnectSOC      float64
	reconnectSOC       float64
	disconnectV        float64 // at the bank's terminals; 0: not by voltage
	reconnectV         float64 // 0 beside disconnectV: the usual of a load output
	minOffMin          float64
	wokenAtMin         int // loads come back when the wall shows this minute of the day, and not else; 0: at any time
	minChargeTempC     float64
	resumeTempC        float64 // once barred, charging waits for this
	maxChargeTempC     float64
	reducedBelowC      float64 // under it the charging current is at most
	reducedRate        float64 // times the nameplate capacity
	tempLagH           float64
	heatCapacityWhPerK float64 // 0: by its nominal energy
	heaterW, heaterToC float64
	startSOC           float64
	cableOhm           float64 // between the terminals and the bus

	readyShare, wellsPerH float64 // lead: c and k
	wellsAh               float64 // of both when full, by leadFullAh
	acceptancePerH        float64 // 0: the type's
	leadColdShare         func(tempC float64) float64
}

func (b plainBank) lead() bool { return b.kind != "lifepo4" }

// plainCharge is the charge held, Ah. All of lithium's is ready.
type plainCharge struct{ readyAh, boundAh float64 }

func (q plainCharge) sum() float64 { return q.readyAh + q.boundAh }

func (b plainBank) cells() float64 {
	if b.lead() {
		return math.Round(b.nominalV / 2)
	}
	return math.Round(b.nominalV / 3.2)
}

// fullAh is what the bank holds when full.
func (b plainBank) fullAh() float64 {
	if b.lead() {
		return b.leadFullAh()
	}
	return b.nameplateAh * b.health
}

func (b plainBank) soc(q plainCharge) float64 { return q.sum() / b.fullAh() }

// at is a bank at rest.
func (b plainBank) at(soc float64) plainCharge {
	if b.lead() {
		return plainCharge{soc * b.readyShare * b.fullAh(), soc * (1 - b.readyShare) * b.fullAh()}
	}
	return plainCharge{readyAh: soc * b.fullAh()}
}

func clamp(v, lo, hi float64) float64 { return math.Max(lo, math.Min(hi, v)) }

// dischargeOhm is the resistance between the open-circuit voltage and the terminals. Of lithium: doubled for each 25 C of cold
// from 45 down to -20 C, and rising from a fifth of the charge to twice as much when empty.
func (b plainBank) dischargeOhm(q plainCharge, tempC float64) float64 {
	if b.lead() {
		return b.leadDischargeOhm(q, tempC)
	}
	own := b.resistanceOhm
	if own == 0 {
		own = 0.0146 * b.cells() / 4 * 100 / b.nameplateAh
	}
	own *= math.Pow(2, (25-clamp(tempC, -20, 45))/25)
	if soc := b.soc(q); soc < 0.2 {
		own *= 2 - soc/0.2
	}
	return own
}

// chargeOhm is the same while charging.
func (b plainBank) chargeOhm(q plainCharge, tempC float64) float64 {
	if b.lead() {
		return b.leadChargeOhm(q, tempC)
	}
	return b.dischargeOhm(q, tempC)
}

// heldV is the voltage that charging does not pass: lithium's at the bus, lead's at the terminals.
func (b plainBank) heldV(tempC float64, float bool) float64 {
	if b.lead() {
		return b.leadHeldV(tempC, float)
	}
	if b.chargeV > 0 {
		return b.chargeV
	}
	return 3.55 * b.cells()
}

// acceptA is the current that brings the bank to the voltage held.
func (b plainBank) acceptA(q plainCharge, tempC float64, float bool) float64 {
	overV := b.heldV(tempC, float) - b.openV(q)
	if b.lead() {
		if b.head(q) >= 1 {
			return 0
		}
		return math.Max(0, overV/b.chargeOhm(q, tempC))
	}
	a := overV / (b.chargeOhm(q, tempC) + b.cableOhm)
	if q.readyAh >= b.fullAh() {
		a = math.Min(a, b.leakA(q, tempC)/b.coulombic)
	}
	return math.Max(0, a)
}

func (b plainBank) chargeLimitA(tempC float64) float64 {
	limit := b.nameplateAh / 2
	if b.lead() {
		limit = b.nameplateAh * b.leadType().chargeRatePerH
	}
	if b.maxChargeA > 0 {
		limit = b.maxChargeA
	}
	if tempC < b.reducedBelowC {
		limit = math.Min(limit, b.reducedRate*b.nameplateAh)
	}
	return limit
}

// keeps is the share of a charging current that stays.
func (b plainBank) keeps(q plainCharge, amps float64) float64 {
	if b.lead() {
		return b.coulombic * b.leadKeeps(q, amps)
	}
	return b.coulombic
}

// leakA is the self-discharge.
func (b plainBank) leakA(q plainCharge, tempC float64) float64 {
	perH := -math.Log(1-b.selfDischarge) / 730
	if b.lead() {
		perH *= math.Pow(2, (clamp(tempC, -20, 50)-20)/10)
	}
	return perH * q.sum()
}

// plainNodeV is the open-circuit voltage of one cell at each 5 % of charge: 3.4323 V less the graphite potential of
// Safari and Delacourt, J. Electrochem. Soc. 158 (2011), at the stoichiometry 0.0085 + SOC (0.78 - 0.0085) of Schimpe
// et al. (2018); the ends are typical rested values. Where it is flat, the curve is a straight line between 20, 30, 40, 60,
// 80 and 95 %.
func plainNodeV() [21]float64 {
	var v [21]float64
	for k := 1; k <= 19; k++ {
		x := 0.0085 + float64(k)*0.05*(0.78-0.0085)
		u := 0.6379
		u += 0.5416 * math.Exp(-305.5309*x)
		u += 0.044 * math.Tanh(-(x-0.1958)/0.1088)
		u -= 0.1978 * math.Tanh((x-1.0571)/0.0854)
		u -= 0.6875 * math.Tanh((x+0.0117)/0.0529)
		u -= 0.0175 * math.Tanh((x-0.5692)/0.0875)
		v[k] = 3.4323 - u
	}
	v[0], v[20] = 2.75, 3.40
	for _, line := range [][2]int{{4, 6}, {6, 8}, {8, 12}, {12, 16}, {16, 19}} {
		from, to := line[0], line[1]
		for k := from + 1; k < to; k++ {
			v[k] = v[from] + (v[to]-v[from])*float64(k-from)/float64(to-from)
		}
	}
	return v
}

var plainNodes = plainNodeV()

// openV is the open-circuit voltage.
func (b plainBank) openV(q plainCharge) float64 {
	if b.lead() {
		return b.wellV(b.head(q))
	}
	place := b.soc(q) * 20
	k := int(place)
	if k > 19 {
		k = 19
	}
	return b.cells() * (plainNodes[k] + (plainNodes[k+1]-plainNodes[k])*(place-float64(k)))
}

// heldWh is the energy held: the area under openV, for lithium one trapezium for each 5 %.
func (b plainBank) heldWh(q plainCharge) float64 {
	if b.lead() {
		return b.leadHeldWh(q)
	}
	wh := 0.0
	for k := range 20 {
		fromAh := b.fullAh() * float64(k) / 20
		toAh := b.fullAh() * float64(k+1) / 20
		if q.readyAh <= fromAh {
			break
		}
		if q.readyAh < toAh {
			toAh = q.readyAh
		}
		fromV := b.cells() * plainNodes[k]
		wh += (fromV + b.openV(plainCharge{readyAh: toAh})) / 2 * (toAh - fromAh)
	}
	return wh
}

// low says whether the loads are cut while a discharge pulls the terminals to termV: for charge or cold, or for voltage.
func (b plainBank) low(q plainCharge, tempC, termV float64) (empty, sag bool) {
	if b.lead() {
		empty = b.soc(q) <= b.disconnectSOC || b.head(q) <= 1-b.leadColdShare(tempC)
	} else {
		empty = q.readyAh <= b.fullAh()*math.Max(b.disconnectSOC, 1-plainColdShare(tempC))
	}
	return empty, b.disconnectV > 0 && termV <= b.disconnectV
}

// returnV is the voltage at which loads come back; 0: by charge alone.
func (b plainBank) returnV() float64 {
	if b.reconnectV > 0 || b.disconnectV == 0 {
		return b.reconnectV
	}
	usual := b.cells() / 4 * 13.0
	if b.lead() {
		usual = b.cells() / 6 * 12.6
	}
	return math.Max(usual, b.disconnectV+b.cells()/20)
}

// back says whether there is charge enough for the loads to come back.
func (b plainBank) back(q plainCharge, tempC float64) bool {
	between := b.reconnectSOC - b.disconnectSOC
	if b.lead() {
		return b.soc(q) >= math.Min(b.reconnectSOC, 0.999*0.98) &&
			b.head(q) >= math.Min(1-b.leadColdShare(tempC)+between, 0.999)
	}
	cutAh := b.fullAh() * math.Max(b.disconnectSOC, 1-plainColdShare(tempC))
	return q.readyAh >= math.Min(b.fullAh(), cutAh+b.fullAh()*between)
}

// plainColdShare is the part of a full bank's charge that can be taken out.
func plainColdShare(tempC float64) float64 {
	between := func(loC, loShare, hiC, hiShare float64) float64 {
		return loShare + (tempC-loC)/(hiC-loC)*(hiShare-loShare)
	}
	if tempC >= 25 {
		return 1
	}
	if tempC >= 10 {
		return between(10, 0.92, 25, 1)
	}
	if tempC >= 0 {
		return between(0, 0.80, 10, 0.92)
	}
	share := between(-20, 0.70, 0, 0.80)
	if share < 0.5 {
		share = 0.5
	}
	return share
}

// plainMinutes gives each minute what its hour has.
func plainMinutes(hourly []float64) (minutes []float64) {
	for _, v := range hourly {
		for range 60 {
			minutes = append(minutes, v)
		}
	}
	return minutes
}

// plainFollows lets something follow the air, minute by minute, round and round until the start is forgotten, and returns the mean of
// each minute.
func plainFollows(airC []float64, lagH float64) []float64 {
	mean := make([]float64, len(airC))
	if lagH == 0 {
		copy(mean, airC)
		return mean
	}
	halfMinute, minute := math.Exp(-0.5/60/lagH), math.Exp(-1.0/60/lagH)
	tempC := airC[0]
	for {
		startC := tempC
		for i, air := range airC {
			mean[i] = air + (tempC-air)*halfMinute
			tempC = air + (tempC-air)*minute
		}
		if math.Abs(tempC-startC) < 1e-9 {
			return mean
		}
	}
}

// plainNode is a bank's temperature where there is a heater.
type plainNode struct {
	b     plainBank
	tempC float64
}

// minute lets the node follow the air for a minute, with a heater of powerW, and returns where it stands in the middle and at the end.
func (n plainNode) minute(airC, powerW float64) (meanC, endC float64) {
	whPerK := n.b.heatCapacityWhPerK
	if whPerK == 0 {
		whPerK = 2.8 * n.b.nameplateAh * n.b.nominalV / 1000
		if n.b.lead() {
			whPerK *= 8 / 2.8
		}
	}
	toC := airC + powerW*n.b.tempLagH/whPerK // where it would end
	return toC + (n.tempC-toC)*math.Exp(-0.5/60/n.b.tempLagH), toC + (n.tempC-toC)*math.Exp(-1.0/60/n.b.tempLagH)
}

// wants is the power that the thermostat asks for in a minute.
func (n plainNode) wants(airC float64) float64 {
	_, coldC := n.minute(airC, 0)
	if coldC >= n.b.heaterToC {
		return 0
	}
	_, warmC := n.minute(airC, n.b.heaterW)
	return n.b.heaterW * math.Min(1, (n.b.heaterToC-coldC)/(warmC-coldC)) // the end rises in proportion
}

// plainController is a maximum-power-point controller that has started, or one that chops.
type plainController struct {
	efficiency, trackingEfficiency, ownDrawW, maxCurrentA float64
	maxInputW                                             float64 // 0: no limit
	inputOffWhenBarred                                    bool

	chops                bool // pulse-width modulation
	dropV, arrayCableOhm float64
}

// plainInverter turns the bank's power into AC.
type plainInverter struct {
	mode             string // always_on, timetable, on_demand
	when             plainWhen
	ratedW, idleW    float64
	proportionalLoss float64
	resistiveLoss    float64
	restartAfterMin  float64
	cutoffV          float64 // at its input
	sleep            plainSleep
}

// plainPlant is all of it. Steps are hours.
type plainPlant struct {
	bank       plainBank
	controller plainController
	inverter   *plainInverter
	backup     *plainBackup
	loads      []plainLoad
	nominalV   float64

	inverterCableOhm, dcCableOhm float64 // beyond the bus

	start   time.Time // of the first step, in standard time
	zone    *time.Location
	arrayW  []float64
	arrayA  func(step int, inputV float64) float64 // behind the array's cable, for a controller that chops
	blocked []bool                                 // in this step the controller does not start: its input window
	roomC   []float64                              // air around the bank
	dark    func(t time.Time) bool                 // whether the sun is below the horizon
}

type plainOutage struct {
	start time.Time
	hours float64
	cause string
}

type plainResult struct {
	flows     plainFlows
	lowestSOC float64
	soc       []float64 // at the end of each step
	lackMin   map[string]float64
	ruleMin   map[string]float64
	outages   []plainOutage
}

func (r plainResult) daysWithoutPower() int { return daysOver(r.lackMin) }
func (r plainResult) daysOffByRule() int    { return daysOver(r.ruleMin) }

func daysOver(minutes map[string]float64) int {
	n := 0
	for _, m := range minutes {
		if m > 1 {
			n++
		}
	}
	return n
}

// date is the wall-clock date of t; one outside the year of standard time is that year's last or first day.
func (p plainPlant) date(t time.Time) string {
	wall := t.In(p.zone)
	std := t.In(p.start.Location())
	if wall.Year() > std.Year() {
		wall = time.Date(std.Year(), time.December, 31, 12, 0, 0, 0, p.zone)
	}
	if wall.Year() < std.Year() {
		wall = time.Date(std.Year(), time.January, 1, 12, 0, 0, 0, p.zone)
	}
	return wall.Format("2006-01-02")
}

// plainHour is what does not change within an hour.
type plainHour struct {
	step    int
	arrayW  float64 // at the modules
	blocked bool
	tempC   float64 // of the bank
	barred  bool    // charging
}

// plainNow is what happens at one moment, at a given charge: powers in W at the bus unless said otherwise.
type plainNow struct {
	asleep       bool
	sag          bool    // no voltage carries the draw
	held         bool    // charging is limited by the voltage held
	surplusW     float64 // of the controller's and the backup's output over the draw
	notStartedW  float64 // at the modules
	offPeakW     float64 // at the modules
	clippedW     float64 // at the modules
	drawnW       float64 // at the modules
	barredW      float64 // at the modules
	curtailedW   float64 // at the modules
	currentA     float64 // into the bank
	batteryW     float64 // at the bus, into the bank
	backupW      float64 // at the bus
	lossW        float64 // in the controller
	bankWireW    float64 // in the bank's cable
	arrayWireW   float64
	termV        float64 // of the bank
	readyPerH    float64 // change of the charge, Ah an hour
	boundPerH    float64
	batteryLossW float64
}

// plainOffer is what the sun offers the bus at a voltage there.
type plainOffer struct {
	mayW                                     float64 // at the bus, at most
	notStartedW, offPeakW, clippedW, barredW float64 // at the modules, whatever is taken
	arrayPer, drawnPer, lossPer, wirePer     float64 // for each watt taken: at the modules at their best, drawn from them, and lost on the way
}

// offer is taken in the order of the books: not started, off peak, clipped, barred.
func (p plainPlant) offer(h plainHour, busV float64) (o plainOffer) {
	c := p.controller
	switch {
	case h.blocked || h.arrayW == 0:
		o.notStartedW = h.arrayW
		return o
	case c.chops: // joined to the bus for a share of the time, its duty
		amps := p.arrayA(h.step, busV+c.dropV)
		if amps <= 0 {
			o.notStartedW = h.arrayW
			return o
		}
		allW := amps * busV
		o.arrayPer = h.arrayW / allW
		o.lossPer, o.wirePer = amps*c.dropV/allW, amps*amps*c.arrayCableOhm/allW
		o.drawnPer = 1 + o.lossPer + o.wirePer
		o.mayW = math.Min(amps, c.maxCurrentA) * busV
		o.clippedW = (allW - o.mayW) * o.arrayPer
	default:
		foundW := h.arrayW * c.trackingEfficiency
		o.offPeakW = h.arrayW - foundW
		w := foundW
		if c.maxInputW > 0 {
			w = math.Min(w, c.maxInputW)
		}
		o.mayW = math.Min(w*c.efficiency, c.maxCurrentA*busV)
		o.clippedW = foundW - o.mayW/c.efficiency
		o.arrayPer, o.drawnPer, o.lossPer = 1/c.efficiency, 1/c.efficiency, 1/c.efficiency-1
	}
	if h.barred && c.inputOffWhenBarred {
		o.barredW, o.mayW = o.mayW*o.arrayPer, 0
	}
	return o
}

// now works out the moment: q held, drawW asked at the bus, backupW on offer there beside the sun. The unknown is the bank's
// current, on which all voltages depend.
func (p plainPlant) now(q plainCharge, h plainHour, float bool, drawW, backupW float64) plainNow {
	b := p.bank
	var n plainNow
	openV := b.openV(q)
	outOhm, inOhm := b.dischargeOhm(q, h.tempC)+b.cableOhm, b.chargeOhm(q, h.tempC)+b.cableOhm
	busV := func(amps float64) float64 {
		if amps > 0 {
			return openV + inOhm*amps
		}
		return openV + outOhm*amps
	}
	// What is over when amps go into the bank. It is concave in the current on either side of 0.
	spareW := func(amps float64) float64 { return p.offer(h, busV(amps)).mayW + backupW - drawW - amps*busV(amps) }
	highest := func(lo, hi float64) float64 { // current in lo..hi that leaves nothing over, where lo does and hi would not
		for range 36 { // to 1e-11 of them
			mid := (lo + hi) / 2
			if spareW(mid) >= 0 {
				lo = mid
			} else {
				hi = mid
			}
		}
		return lo
	}

	takeA := 0.0
	var o plainOffer
	if n.surplusW = spareW(0); n.surplusW >= 0 {
		// What the bank takes; while it is barred, what it would take if it were warm.
		limitA := b.chargeLimitA(h.tempC)
		if h.barred {
			limitA = b.chargeLimitA(25)
		}
		acceptA := b.acceptA(q, h.tempC, float)
		takeA = math.Min(acceptA, limitA)
		switch {
		case h.barred:
		case spareW(takeA) >= 0:
			n.currentA = takeA
			n.held = acceptA <= limitA
		default:
			n.currentA = highest(0, takeA)
		}
		n.batteryW = n.currentA * busV(n.currentA)
		o = p.offer(h, busV(n.currentA))
		sunW := math.Min(o.mayW, drawW+n.batteryW) // the sun goes first
		n.backupW = drawW + n.batteryW - sunW
		leftW := o.mayW - sunW
		if h.barred {
			n.barredW = math.Min(leftW, takeA*busV(takeA)) * o.arrayPer
		}
		n.curtailedW = leftW*o.arrayPer - n.barredW
		p.take(&n, o, sunW)
	} else {
		lo, hi := -openV/(2*outOhm), 0.0
		if spareW(lo) < 0 { // the most that may be over lies elsewhere, where the rated current binds
			for range 100 {
				third := (hi - lo) / 3
				if spareW(lo+third) < spareW(hi-third) {
					lo += third
				} else {
					hi -= third
				}
			}
			n.sag = spareW(lo) < 0
			hi = 0
		}
		n.currentA = lo
		if !n.sag { // the smallest discharge that carries the draw
			n.currentA = highest(lo, hi)
		}
		n.batteryW = n.currentA * busV(n.currentA)
		o = p.offer(h, busV(n.currentA))
		n.backupW = backupW
		p.take(&n, o, o.mayW)
	}
	n.bankWireW = b.cableOhm * n.currentA * n.currentA
	n.termV = busV(n.currentA) - b.cableOhm*n.currentA
	p.store(&n, q, h.tempC)
	if !b.lead() && q.readyAh >= b.fullAh() && takeA > 0 && n.currentA >= takeA*(1-1e-12) {
		n.readyPerH = 0 // full: what leaks is made up
	}
	return n
}

// take books sunW of what is on offer.
func (p plainPlant) take(n *plainNow, o plainOffer, sunW float64) {
	n.notStartedW, n.clippedW = o.notStartedW, o.clippedW
	n.offPeakW = o.offPeakW + sunW*(o.arrayPer-o.drawnPer)
	n.barredW += o.barredW
	n.drawnW, n.lossW, n.arrayWireW = sunW*o.drawnPer, sunW*o.lossPer, sunW*o.wirePer
}

// store fills what n's current makes of the charge.
func (p plainPlant) store(n *plainNow, q plainCharge, tempC float64) {
	b := p.bank
	openV, leakA := b.openV(q), b.leakA(q, tempC)
	n.batteryLossW = (n.termV-openV)*n.currentA + leakA*openV
	n.readyPerH = n.currentA - leakA
	if n.currentA > 0 {
		lostA := (1 - b.keeps(q, n.currentA)) * n.currentA
		n.readyPerH -= lostA
		n.batteryLossW += lostA * openV
	}
	if b.lead() {
		flowA := b.wellsFlowA(q)
		n.readyPerH += flowA
		n.boundPerH = -flowA
		n.batteryLossW += flowA * (b.wellV(b.boundHead(q)) - openV)
	}
}

// asleep is a moment in which nothing runs.
func (p plainPlant) asleep(q plainCharge, tempC float64) plainNow {
	n := plainNow{asleep: true, termV: p.bank.openV(q)}
	p.store(&n, q, tempC)
	return n
}

// run takes the plant through its weather.
func (p plainPlant) run() plainResult {
	if p.bank.lead() {
		p.bank.wellsAh = p.bank.leadFullAh()
	}
	b := p.bank
	asked := p.asked()
	temps := plainFollows(p.roomC, b.tempLagH)
	node := plainNode{b: b, tempC: math.Max(p.roomC[0], b.heaterToC)}
	r := plainResult{lackMin: map[string]float64{}, ruleMin: map[string]float64{}}
	f := &r.flows

	returnV := b.returnV()
	q := b.at(b.startSOC)
	startWh := b.heldWh(q)
	r.lowestSOC = b.startSOC
	connected := true
	offCause := ""
	var offSinceH, offUntilH, tripUntilH float64 // hours since the start
	sleeps := false
	tripCause := ""
	backupRuns := false
	float, absorbedH := false, 0.0
	var spell *plainOutage // while something is off: the first moment without, and the last
	var spellFromH float64

	hour := plainHour{}
	for i := range p.arrayW {
		a := asked[i]
		away := p.backup != nil && p.backup.away(p.minuteAt(i*60))
		hour.step, hour.arrayW, hour.blocked, hour.tempC = i, p.arrayW[i], p.blocked[i] || away, temps[60*i]
		if away { // its loads are off by rule
			if a.mustAC || a.mustDC {
				a.mustWithheldMin = 60
			}
			a.withheldW += a.acW + a.dcW
			a.acW, a.dcW, a.acOnW, a.dcOnW, a.mustAC, a.mustDC = 0, 0, 0, 0, false, false
		}
		heaterW := 0.0
		if hour.arrayW == 0 {
			float, absorbedH = false, 0
		}

		// What the loads ask and the inverter adds, constant in the step.
		acW, idleW, lossW, overload := a.acW, 0.0, 0.0, false
		if v := p.inverter; v != nil {
			on := 1.0
			switch v.mode {
			case "timetable":
				on = float64(a.inverterMin) / 60
			case "on_demand":
				on = math.Min(1, a.acShare)
			}
			if idleW = v.idleW * on; v.sleeps() {
				idleW = a.sleepsW
			}
			if away {
				idleW = 0
			}
			lossW = v.lossW(acW)
			overload = acW > 0 && a.acOnW > v.ratedW
		}
		acWireW, dcWireW := p.cableLossW(a, idleW)
		// Would the coincident draw pull the inverter's input below its cut-off?
		sags := func(q plainCharge) bool {
			v := p.inverter
			if v == nil || acW == 0 || v.cutoffV < 1 {
				return false
			}
			inputW := v.idleW + a.acOnW + v.lossW(a.acOnW)
			amps := (inputW + a.dcOnW) / v.cutoffV
			ohm := b.dischargeOhm(q, hour.tempC) + b.cableOhm
			openV := b.openV(q)
			return openV-amps*ohm-inputW/v.cutoffV*p.inverterCableOhm <= v.cutoffV || openV*openV < 4*ohm*(inputW+a.dcOnW)
		}
		standbyW := p.controller.ownDrawW + b.boardDrawW
		for minute := range 60 {
			moment := p.start.Add(time.Duration(i*60+minute) * time.Minute)
			date := p.date(moment)
			endH := float64(i) + float64(minute+1)/60
			nowH := float64(i) + float64(minute)/60
			heaterW, hour.tempC = 0, temps[60*i+minute]
			if b.heaterW > 0 {
				if connected { // cut off with the loads, it does not warm
					heaterW = node.wants(p.roomC[60*i+minute])
				}
				hour.tempC, node.tempC = node.minute(p.roomC[60*i+minute], heaterW)
			}
			if hour.barred {
				hour.barred = hour.tempC < b.resumeTempC
			} else {
				hour.barred = hour.tempC < b.minChargeTempC
			}
			hour.barred = hour.barred || hour.tempC > b.maxChargeTempC
			r.ruleMin[date] += float64(a.mustWithheldMin) / 60
			r.lackMin[date] += float64(a.mustDeadMin) / 60
			for pieces := 0; endH-nowH > 1e-12; pieces++ {
				if pieces > 50 {
					panic("plain engine: loads come and go without end inside a minute")
				}
				var tripped bool
				var loadsW float64
				inverterNow := func() { // goes off where it would sag, for five minutes and its own
					tripped = overload || nowH < tripUntilH-1e-12
					if connected && !tripped && sags(q) {
						tripped, tripCause = true, "voltage sag"
						tripUntilH = nowH + math.Max(5, p.inverter.restartAfterMin)/60
					}
					loadsW = a.dcW + heaterW + dcWireW
					if p.inverter != nil && !tripped {
						loadsW += acW + idleW + lossW + acWireW
					}
				}
				inverterNow()
				backupW := 0.0
				switch {
				case p.backup == nil:
				case away:
					backupW = p.backup.carriedW
				default:
					backupRuns = p.backup.runs(backupRuns, b.soc(q), b.lead(), p.minuteAt(i*60+minute))
					if backupRuns {
						backupW = p.backup.powerW
					}
				}
				var latest plainNow // kept, as it is often asked for twice
				latestQ, latestW := plainCharge{-1, -1}, 0.0
				at := func(q plainCharge, drawW float64) plainNow {
					if q != latestQ || drawW != latestW {
						latest, latestQ, latestW = p.now(q, hour, float, drawW, backupW), q, drawW
					}
					return latest
				}
				low := func(q plainCharge, n plainNow) (empty, sag bool) {
					if n.surplusW >= 0 {
						return false, false
					}
					empty, sag = b.low(q, hour.tempC, n.termV)
					return empty, sag || n.sag
				}

				if connected {
					n := at(q, standbyW+loadsW)
					if empty, sag := low(q, n); empty || sag {
						connected, offSinceH, offCause = false, nowH, "battery empty"
						if !empty {
							offCause = "voltage sag"
							offUntilH = nowH + 5.0/60
						}
					}
				}
				risen := returnV == 0 || !connected && at(q, standbyW).termV >= returnV
				woken := b.wokenAtMin == 0 || nowH == float64(i)+float64(minute)/60 && p.wallMinute(moment) == b.wokenAtMin%1440
				if !connected && !sleeps && risen && woken && b.back(q, hour.tempC) && nowH >= offSinceH+b.minOffMin/60-1e-12 && nowH >= offUntilH-1e-12 {
					connected = true
					inverterNow()
					if empty, sag := low(q, at(q, standbyW+loadsW)); sag && !empty {
						connected, offSinceH, offUntilH, offCause = false, nowH, nowH+5.0/60, "voltage sag"
					}
				}
				drawW := standbyW
				if connected {
					drawW += loadsW
				}
				first := at(q, drawW)
				asleep := !connected && first.surplusW < 0 && (sleeps || q.readyAh <= 0 || first.sag)
				if asleep {
					first = p.asleep(q, hour.tempC)
				}
				flowing := func(q plainCharge) plainNow {
					if asleep {
						return p.asleep(q, hour.tempC)
					}
					return at(q, drawW)
				}

				// One piece: an explicit step, of lead from the middle, as its charge and resistance move faster.
				step := func(spanH float64) (plainNow, plainCharge) {
					n := first
					if b.lead() {
						n = flowing(plainCharge{math.Max(0, q.readyAh+n.readyPerH*spanH/2), q.boundAh + n.boundPerH*spanH/2})
					}
					return n, plainCharge{q.readyAh + n.readyPerH*spanH, q.boundAh + n.boundPerH*spanH}
				}
				// How long does it last? To the end of the minute, or to what changes on the way.
				spanH := endH - nowH
				until := func(h float64) {
					if h > 1e-12 {
						spanH = math.Min(spanH, h)
					}
				}
				n, end := step(spanH)
				stepH := spanH
				happens := func(what func(q plainCharge) bool) {
					if !what(end) || what(q) {
						return
					}
					lo, hi := 0.0, spanH
					for range 40 {
						mid := (lo + hi) / 2
						if _, end := step(mid); what(end) {
							hi = mid
						} else {
							lo = mid
						}
					}
					spanH, stepH = hi, hi
					n, end = step(spanH)
				}
				if !b.lead() {
					happens(func(q plainCharge) bool { return q.readyAh >= b.fullAh() })
				}
				happens(func(q plainCharge) bool { return q.readyAh <= 0 })
				if p.backup != nil && !away {
					happens(func(q plainCharge) bool {
						return p.backup.runs(backupRuns, b.soc(q), b.lead(), moment) != backupRuns
					})
				}
				if connected {
					happens(func(q plainCharge) bool {
						empty, sag := low(q, at(q, drawW))
						return empty || sag
					})
					if !tripped {
						happens(sags)
					}
				} else {
					happens(func(q plainCharge) bool { return b.back(q, hour.tempC) })
					until(offSinceH + b.minOffMin/60 - nowH)
					until(offUntilH - nowH)
					if returnV > 0 {
						happens(func(q plainCharge) bool { return at(q, drawW).termV >= returnV })
					}
				}
				if b.lead() && !float {
					until(3 - absorbedH)
				}
				until(tripUntilH - nowH)
				if spanH != stepH {
					n, end = step(spanH)
				}

				// Book it.
				f.demand += (a.acW + a.dcW + a.withheldW + a.deadW) * spanH
				f.unserved += a.deadW * spanH
				f.withheld += a.withheldW * spanH
				f.array += hour.arrayW * spanH
				f.notStarted += n.notStartedW * spanH
				if n.asleep {
					f.notStarted += hour.arrayW * spanH
				}
				f.offPeak += n.offPeakW * spanH
				f.clipped += n.clippedW * spanH
				f.chargeBarred += n.barredW * spanH
				f.curtailed += n.curtailedW * spanH
				f.drawn += n.drawnW * spanH
				f.controllerLoss += n.lossW * spanH
				f.backup += n.backupW * spanH
				f.batteryLoss += n.batteryLossW * spanH
				f.wiring += (n.bankWireW + n.arrayWireW) * spanH
				f.batteryIn += math.Max(0, n.batteryW-n.bankWireW) * spanH
				f.batteryOut += math.Max(0, n.bankWireW-n.batteryW) * spanH
				if !n.asleep {
					f.standby += standbyW * spanH
				}
				lackW, lackMust := 0.0, false
				if connected {
					f.servedDC += a.dcW * spanH
					f.heater += heaterW * spanH
					f.wiring += dcWireW * spanH
				} else {
					lackW += a.dcW
					lackMust = lackMust || a.mustDC
				}
				if connected && !tripped {
					f.servedAC += acW * spanH
					f.inverterIdle += idleW * spanH
					f.inverterLoss += lossW * spanH
					f.wiring += acWireW * spanH
				} else {
					lackW += acW
					lackMust = lackMust || a.mustAC
				}
				f.unserved += lackW * spanH
				if lackMust {
					r.lackMin[date] += spanH * (60 - float64(a.mustDeadMin)) // each minute once
				}

				// Outages: one for each stretch in which something is off, from the first to the last moment without.
				if connected && !tripped {
					if spell != nil {
						r.outages = append(r.outages, *spell)
					}
					spell = nil
				} else if lackW > 0 {
					if spell == nil {
						spellFromH = nowH
						spell = &plainOutage{start: p.start.Add(time.Duration(nowH * float64(time.Hour))), cause: offCause}
						if connected {
							spell.cause = "overload"
							if !overload {
								spell.cause = tripCause
							}
						}
					}
					spell.hours = nowH + spanH - spellFromH
				}

				q = plainCharge{math.Max(0, end.readyAh), math.Max(0, end.boundAh)}
				if !b.lead() {
					q.readyAh = math.Min(q.readyAh, b.fullAh())
				}
				if n.held {
					absorbedH += spanH
					float = float || b.lead() && absorbedH >= 3-1e-9
				}
				sleeps = n.asleep
				if overload && connected {
					tripUntilH, tripCause = nowH+spanH+p.inverter.restartAfterMin/60, "overload"
				}
				r.lowestSOC = math.Min(r.lowestSOC, b.soc(q))
				nowH += spanH
			}
		}
		r.soc = append(r.soc, b.soc(q))
	}
	if spell != nil {
		r.outages = append(r.outages, *spell)
	}
	f.storeChange = b.heldWh(q) - startWh
	return r
}
