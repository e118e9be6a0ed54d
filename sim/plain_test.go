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
	standby, servedAC, servedDC, batteryIn, batteryOut, wiring           float64
	demand, unserved, withheld                                           float64
}

// gaps are the four balances, Wh.
func (f plainFlows) gaps() [4]float64 {
	return [4]float64{
		f.array - (f.notStarted + f.offPeak + f.clipped + f.chargeBarred + f.curtailed + f.drawn),
		f.drawn - (f.controllerLoss + f.wiring + f.batteryLoss + f.storeChange + f.inverterIdle + f.inverterLoss + f.standby +
			f.servedAC + f.servedDC),
		f.batteryIn - (f.batteryOut + f.batteryLoss + f.storeChange),
		f.demand - (f.servedAC + f.servedDC + f.unserved + f.withheld),
	}
}

// plainBank is a lithium iron phosphate bank.
type plainBank struct {
	capacityAh     float64
	nominalV       float64
	resistanceOhm  float64 // 0: scaled from a typical block
	coulombic      float64
	maxChargeA     float64 // 0: half the capacity in an hour
	chargeV        float64 // 0: 3.55 V a cell
	selfDischarge  float64 // a month of 730 h
	boardDrawW     float64
	disconnectSOC  float64
	reconnectSOC   float64
	minOffMin      float64
	minChargeTempC float64
	resumeTempC    float64 // once barred, charging waits for this
	maxChargeTempC float64
	reducedBelowC  float64 // under it the charging current is at most
	reducedRate    float64 // times the capacity
	tempLagH       float64
	startSOC       float64
	cableOhm       float64 // between the terminals and the bus
}

func (b plainBank) cells() float64 { return math.Round(b.nominalV / 3.2) }

// ohm is the resistance between the open-circuit voltage and the bus: doubled for each 25 C of cold from 45 down to -20 C, and
// rising from a fifth of the charge to twice as much when empty.
func (b plainBank) ohm(chargeAh, tempC float64) float64 {
	own := b.resistanceOhm
	if own == 0 {
		own = 0.0146 * b.cells() / 4 * 100 / b.capacityAh
	}
	if tempC > 45 {
		tempC = 45
	}
	if tempC < -20 {
		tempC = -20
	}
	own *= math.Pow(2, (25-tempC)/25)
	if soc := chargeAh / b.capacityAh; soc < 0.2 {
		own *= 2 - soc/0.2
	}
	return own + b.cableOhm
}

func (b plainBank) chargeLimitV() float64 {
	if b.chargeV > 0 {
		return b.chargeV
	}
	return 3.55 * b.cells()
}

func (b plainBank) chargeLimitA(tempC float64) float64 {
	limit := b.capacityAh / 2
	if b.maxChargeA > 0 {
		limit = b.maxChargeA
	}
	if tempC < b.reducedBelowC {
		limit = math.Min(limit, b.reducedRate*b.capacityAh)
	}
	return limit
}

func (b plainBank) leakPerH() float64 { return -math.Log(1-b.selfDischarge) / 730 }

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

// openV is the open-circuit voltage of the bank that holds chargeAh.
func (b plainBank) openV(chargeAh float64) float64 {
	place := chargeAh / b.capacityAh * 20
	k := int(place)
	if k > 19 {
		k = 19
	}
	return b.cells() * (plainNodes[k] + (plainNodes[k+1]-plainNodes[k])*(place-float64(k)))
}

// heldWh is the energy held: the area under openV, one trapezium for each 5 %.
func (b plainBank) heldWh(chargeAh float64) float64 {
	wh := 0.0
	for k := range 20 {
		fromAh := b.capacityAh * float64(k) / 20
		toAh := b.capacityAh * float64(k+1) / 20
		if chargeAh <= fromAh {
			break
		}
		if chargeAh < toAh {
			toAh = chargeAh
		}
		fromV := b.cells() * plainNodes[k]
		wh += (fromV + b.openV(toAh)) / 2 * (toAh - fromAh)
	}
	return wh
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

// plainBankTemps lets the bank follow the air, minute by minute, round and round until the start is forgotten, and
// returns the mean of each hour.
func plainBankTemps(airC []float64, lagH float64) []float64 {
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
			sum := 0.0
			for range 60 {
				sum += air + (tempC-air)*halfMinute
				tempC = air + (tempC-air)*minute
			}
			mean[i] = sum / 60
		}
		if math.Abs(tempC-startC) < 1e-9 {
			return mean
		}
	}
}

// plainController is a maximum-power-point controller that has started.
type plainController struct {
	efficiency, trackingEfficiency, ownDrawW, maxCurrentA float64
	maxInputW                                             float64 // 0: no limit
}

// plainInverter turns the bank's power into AC.
type plainInverter struct {
	mode             string // always_on, timetable, on_demand
	when             plainWhen
	ratedW, idleW    float64
	proportionalLoss float64
	resistiveLoss    float64
	restartAfterMin  float64
}

// plainPlant is all of it. Steps are hours.
type plainPlant struct {
	bank       plainBank
	controller plainController
	inverter   *plainInverter
	loads      []plainLoad
	start      time.Time // of the first step, in standard time
	zone       *time.Location
	arrayW     []float64
	blocked    []bool // in this step the controller does not start: its input window
	airC       []float64
	dark       func(t time.Time) bool // whether the sun is below the horizon
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

// plainNow is what happens at one moment, at a given charge: powers in W at the bus unless said otherwise.
type plainNow struct {
	asleep       bool
	sag          bool
	surplusW     float64 // of the controller's output over the draw
	offPeakW     float64 // at the modules
	clippedW     float64 // at the modules
	drawnW       float64 // at the modules
	barredW      float64 // at the modules
	curtailedW   float64 // at the modules
	currentA     float64 // into the bank
	batteryW     float64 // at the bus, into the bank
	wiringW      float64
	openV        float64
	chargePerH   float64 // change of charge, Ah an hour
	batteryLossW float64
}

// now works out the moment: chargeAh held, arrayW at the modules, drawW asked at the bus.
func (p plainPlant) now(chargeAh, arrayW float64, blocked bool, drawW float64, barred bool, tempC float64) plainNow {
	b, c := p.bank, p.controller
	ohm := b.ohm(chargeAh, tempC)
	var n plainNow
	n.openV = b.openV(chargeAh)

	foundW := 0.0
	if !blocked {
		foundW = arrayW * c.trackingEfficiency
		n.offPeakW = arrayW - foundW
	}
	allowedW := foundW
	if c.maxInputW > 0 {
		allowedW = math.Min(allowedW, c.maxInputW)
	}

	// What the bank would take if it were warm.
	takesC := tempC
	if barred {
		takesC = 25
	}
	takeA := math.Min(b.chargeLimitA(takesC), (b.chargeLimitV()-n.openV)/ohm)
	if chargeAh >= b.capacityAh {
		takeA = math.Min(takeA, b.leakPerH()*chargeAh/b.coulombic)
	}
	takeA = math.Max(0, takeA)
	takeW := takeA * (n.openV + ohm*takeA)

	// The rated output current is at the terminal voltage, which follows from the current: go round until it stands.
	terminalV := n.openV
	for range 100 {
		readyW := math.Min(allowedW, c.maxCurrentA*terminalV/c.efficiency)
		n.clippedW = foundW - readyW
		n.surplusW = readyW*c.efficiency - drawW
		n.barredW, n.curtailedW, n.sag = 0, 0, false
		if n.surplusW < 0 {
			n.drawnW = readyW
			n.batteryW = n.surplusW
			root := n.openV*n.openV + 4*ohm*n.batteryW
			if root < 0 {
				n.sag = true
				root = 0
			}
			n.currentA = (math.Sqrt(root) - n.openV) / (2 * ohm)
		} else {
			intoW := math.Min(n.surplusW, takeW)
			n.curtailedW = (n.surplusW - intoW) / c.efficiency
			if barred {
				n.barredW = intoW / c.efficiency
				intoW = 0
			}
			n.drawnW = (drawW + intoW) / c.efficiency
			n.batteryW = intoW
			n.currentA = (math.Sqrt(n.openV*n.openV+4*ohm*intoW) - n.openV) / (2 * ohm)
		}
		nextV := n.openV + ohm*n.currentA
		if math.Abs(nextV-terminalV) < 1e-12 {
			break
		}
		terminalV = nextV
	}

	leakA := b.leakPerH() * chargeAh
	n.wiringW = b.cableOhm * n.currentA * n.currentA
	n.batteryLossW = (ohm-b.cableOhm)*n.currentA*n.currentA + leakA*n.openV
	if n.currentA > 0 {
		n.chargePerH = b.coulombic*n.currentA - leakA
		n.batteryLossW += (1 - b.coulombic) * n.currentA * n.openV
	} else {
		n.chargePerH = n.currentA - leakA
	}
	if chargeAh >= b.capacityAh && takeA > 0 && n.currentA >= takeA*(1-1e-12) {
		n.chargePerH = 0 // full: what leaks is made up
	}
	return n
}

// run takes the plant through its weather.
func (p plainPlant) run() plainResult {
	b := p.bank
	asked := p.asked()
	temps := plainBankTemps(p.airC, b.tempLagH)
	r := plainResult{lackMin: map[string]float64{}, ruleMin: map[string]float64{}}
	f := &r.flows

	chargeAh := b.startSOC * b.capacityAh
	startWh := b.heldWh(chargeAh)
	r.lowestSOC = b.startSOC
	connected := true
	offCause := ""
	var offSinceH, tripUntilH float64 // hours since the start
	var spell *plainOutage            // while something is off: the first moment without, and the last
	var spellFromH float64

	barred := false
	for i := range p.arrayW {
		a := asked[i]
		if barred {
			barred = temps[i] < b.resumeTempC
		} else {
			barred = temps[i] < b.minChargeTempC
		}
		barred = barred || temps[i] > b.maxChargeTempC
		cutAh := b.capacityAh * math.Max(b.disconnectSOC, 1-plainColdShare(temps[i]))
		backAh := math.Min(b.capacityAh, cutAh+b.capacityAh*(b.reconnectSOC-b.disconnectSOC))

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
			idleW = v.idleW * on
			lossW = acW * (v.proportionalLoss + v.resistiveLoss*acW/v.ratedW)
			overload = acW > 0 && a.acOnW > v.ratedW
		}
		for minute := range 60 {
			moment := p.start.Add(time.Duration(i*60+minute) * time.Minute)
			date := p.date(moment)
			endH := float64(i) + float64(minute+1)/60
			nowH := float64(i) + float64(minute)/60
			r.ruleMin[date] += float64(a.mustWithheldMin) / 60
			for pieces := 0; endH-nowH > 1e-12; pieces++ {
				if pieces > 50 {
					panic("plain engine: loads come and go without end inside a minute")
				}
				tripped := overload || nowH < tripUntilH-1e-12
				standbyW := p.controller.ownDrawW + b.boardDrawW
				loadsW := a.dcW
				if p.inverter != nil && !tripped {
					loadsW += acW + idleW + lossW
				}

				// On or off?
				if !connected && chargeAh >= backAh && nowH-offSinceH >= b.minOffMin/60-1e-12 {
					if n := p.now(chargeAh, p.arrayW[i], p.blocked[i], standbyW+loadsW, barred, temps[i]); !n.sag {
						connected = true
					}
				}
				if connected {
					n := p.now(chargeAh, p.arrayW[i], p.blocked[i], standbyW+loadsW, barred, temps[i])
					if n.surplusW < 0 && chargeAh <= cutAh || n.sag {
						connected, offSinceH, offCause = false, nowH, "battery empty"
						if n.sag && chargeAh > cutAh {
							offCause = "voltage sag"
						}
					}
				}
				drawW := standbyW
				if connected {
					drawW += loadsW
				}
				n := p.now(chargeAh, p.arrayW[i], p.blocked[i], drawW, barred, temps[i])
				if !connected && chargeAh <= 0 && n.surplusW < 0 {
					n = plainNow{asleep: true}
				}

				// How long does this last? To the end of the minute, or to a level crossed.
				spanH := endH - nowH
				levelAh := math.NaN()
				crosses := func(ah float64) {
					if h := (ah - chargeAh) / n.chargePerH; n.chargePerH != 0 && h > 0 && h < spanH {
						spanH, levelAh = h, ah
					}
				}
				crosses(b.capacityAh)
				crosses(0)
				if connected {
					crosses(cutAh)
				} else {
					crosses(backAh)
					if wait := offSinceH + b.minOffMin/60 - nowH; wait > 1e-12 && wait < spanH {
						spanH, levelAh = wait, math.NaN()
					}
				}

				// Book it.
				f.demand += (a.acW + a.dcW + a.withheldW) * spanH
				f.withheld += a.withheldW * spanH
				f.array += p.arrayW[i] * spanH
				if p.blocked[i] || n.asleep {
					f.notStarted += p.arrayW[i] * spanH
				}
				f.offPeak += n.offPeakW * spanH
				f.clipped += n.clippedW * spanH
				f.chargeBarred += n.barredW * spanH
				f.curtailed += n.curtailedW * spanH
				f.drawn += n.drawnW * spanH
				f.controllerLoss += n.drawnW * (1 - p.controller.efficiency) * spanH
				f.batteryLoss += n.batteryLossW * spanH
				f.wiring += n.wiringW * spanH
				f.batteryIn += math.Max(0, n.batteryW-n.wiringW) * spanH
				f.batteryOut += math.Max(0, n.wiringW-n.batteryW) * spanH
				if !n.asleep {
					f.standby += standbyW * spanH
				}
				lackW, lackMust := 0.0, false
				if connected {
					f.servedDC += a.dcW * spanH
				} else {
					lackW += a.dcW
					lackMust = lackMust || a.mustDC
				}
				if connected && !tripped {
					f.servedAC += acW * spanH
					f.inverterIdle += idleW * spanH
					f.inverterLoss += lossW * spanH
				} else {
					lackW += acW
					lackMust = lackMust || a.mustAC
				}
				f.unserved += lackW * spanH
				if lackMust {
					r.lackMin[date] += spanH * 60
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
						}
					}
					spell.hours = nowH + spanH - spellFromH
				}

				if math.IsNaN(levelAh) {
					chargeAh += n.chargePerH * spanH
				} else {
					chargeAh = levelAh
				}
				r.lowestSOC = math.Min(r.lowestSOC, chargeAh/b.capacityAh)
				nowH += spanH
			}
		}
		if overload && connected {
			tripUntilH = float64(i+1) + p.inverter.restartAfterMin/60
		}
		r.soc = append(r.soc, chargeAh/b.capacityAh)
	}
	if spell != nil {
		r.outages = append(r.outages, *spell)
	}
	f.storeChange = b.heldWh(chargeAh) - startWh
	return r
}
