package sim

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"tideover/sim/battery"
	"tideover/sim/clock"
	"tideover/sim/ledger"
)

// State is what a run carries from one step to the next.
type State struct {
	ChargeAh    float64
	AvailableAh float64 // of it, lead: what can be drawn at once
	Off         bool    // loads are disconnected
	Asleep      bool    // and nothing at all is fed, until the sun gives what controller and box draw
	Barred      bool    // charging, where a heater may change it
	Float       bool    // the controller holds the float voltage
	Backup      bool    // the backup charger runs
	Shed        int8    // levels of loads that are kept off at this charge
	WaitH       float64 // of the minimum off time, still to go
	TripH       float64 // before the inverter starts again after a trip, still to go
	TripSag     bool    // the trip was one of voltage
	AbsorbH     float64 // at the absorption voltage since the sun rose
	NodeC       float64 // temperature of the bank, where a heater may run
	HoldH       float64 // for which packs that waited still hold off auto-off
	Sessions    [MostWaiting]session
}

// step is one step made ready: powers in W, constant within it. It holds what the loop reads, and is kept small: a year of them
// should stay in the cache.
type step struct {
	busW             float64 // tracked: at the bus, after window, tracking, ratings, cable and conversion
	acW, dcW         float64 // asked at the load terminals, withheld excluded
	idleW, convertW  float64 // the inverter's, while acW runs
	wirePer, lossPer float32 // of each watt of busW, what cable and conversion took before: the modules give 1 + both
	acWireW, dcWireW float32 // lost in the cables to inverter and DC loads
	lessW            float32 // of the standby draw, that a box saves while it is off
	peakW            float32 // coincident draw at the bus
	cutV             float32 // of the bus, while the inverter's input is at its cut-off under peakW
	sagAh            float32 // lithium: with more charge than this, peakW cannot pull the inverter's input under its cut-off
	day              int32
	month            int16
	overload         bool // coincident on-watts over the rating
	mustAC, mustDC   bool // a must-have load asks there
	quiet, carried   bool // for a part of it no backup may run; the battery is away being charged
	night            bool // no light at all
	changes          bool // what temperature makes of the bank's charging
	apart            bool // of several controllers one may be over its rating, or has the voltage of the bus: each is asked by itself
	visitMin         int8 // someone passes who wakes a box that went flat, so many minutes into the step; -1: nobody
}

// visitH is the time until someone passes, h, when atH of the step are over: 0 at that moment, +Inf where nobody will in this step.
func (s *step) visitH(atH float64) float64 {
	switch h := float64(s.visitMin)/60 - atH; {
	case s.visitMin < 0 || h < -1e-9:
		return math.Inf(1)
	case h <= 1e-9:
		return 0
	default:
		return h
	}
}

// lesser is what is left of a step's load while some are left off.
type lesser struct {
	acW, dcW, idleW, convertW float64
	peakW, cutV               float32
	overload                  bool
}

// shedGap is how much above its level the charge must rise before loads that were left off come back, share of the capacity.
const shedGap = 0.03

// lessen leaves off, or takes back, what the charge says, and returns the step with what is still asked. The run ends its
// turn where the charge comes to the next level.
func (p *Plant) lessen(st *State, in, own *step, i int) *step {
	n := int8(len(p.shedAh))
	for st.Shed < n && st.ChargeAh <= p.shedAh[st.Shed]*(1+lowTol) {
		st.Shed++
	}
	for st.Shed > 0 && st.ChargeAh >= min(p.shedAh[st.Shed-1]+shedGap*p.capAh, p.countsAh)*(1-lowTol) {
		st.Shed--
	}
	if st.Shed < n {
		p.pauseDownAh = max(p.pauseDownAh, p.shedAh[st.Shed])
	}
	if st.Shed == 0 || in.carried {
		return in
	}
	p.pauseUpAh = min(p.pauseUpAh, min(p.shedAh[st.Shed-1]+shedGap*p.capAh, p.countsAh))
	a := &p.shed[st.Shed-1][i]
	*own = *in
	own.acW, own.dcW, own.idleW, own.convertW, own.overload = a.acW, a.dcW, a.idleW, a.convertW, a.overload
	own.peakW, own.cutV = a.peakW, a.cutV
	if in.acW > 0 {
		own.acWireW *= float32(a.acW / in.acW)
	}
	if in.dcW > 0 {
		own.dcWireW *= float32(a.dcW / in.dcW)
	}
	return own
}

// perOut is the power at the module terminals for each watt of busW.
func (in *step) perOut() float64 { return 1 + float64(in.wirePer) + float64(in.lossPer) }

// fixed is what a step books whatever the battery does, unless the box is asleep. Powers in W.
type fixed struct {
	arrayW, notStartedW, offPeakW, clippedW float64 // array = notStarted + offPeak + clipped + what the loop may use
	withheldW, ruleMin                      float64
	deadW, mustDeadShare                    float64 // AC asked while auto-off waits for a hand, and the share of the step in which must-have loads do
}

// Plant is a System made ready for one weather: everything that does not depend on the charge is computed. It is
// read-only while it runs, so that many runs may share it.
type Plant struct {
	pack        battery.Pack // of a lithium bank
	lead        *battery.Lead
	bank        *battery.Bank
	steps       []step
	warm        []battery.Warmth  // of each step, where no heater changes it
	changes     []battery.Stretch // of steps in which it changes
	briefs      []brief
	given       []given // of each step, what its day was given by its end if all was served
	heater      *battery.Node
	around      []battery.Air  // the bank, where a heater may run
	pwm         *pwm           // nil: all controllers track
	parts       []*Plant       // several controllers: the plant as it would be with each alone, up to the bus
	lowestV     float64        // of the bus: under it no rating is looked at
	fixed       []fixed        // of each step
	fixedMonths []ledger.Flows // the same, summed, Wh
	fixedDays   []ledger.Day
	stepH       float64
	standbyW    float64
	maxOutA     float64 // controllers
	restartH    float64
	minOffH     float64
	capAh       float64
	reconnectAh float64         // above the level at which the loads are cut
	backSOC     float64         // lead
	shedAh      []float64       // levels of charge below which loads are left off, the highest first
	shed        [][]lesser      // what the others ask, by level and step
	quiet       []clock.Stretch // when no backup may run
	inputOff    bool            // nothing is taken while temperature forbids charging
	anyDead     bool
	wired       bool    // some cable loses energy besides the battery's
	fullAh      float64 // the capacity, but for rounding
	countsAh    float64 // counts as full
	cutoffV     float64 // of the inverter's input
	hold        stages
	backup      backupPlan
	waiting     *waiting // nil: no packs wait

	pauseUpAh, pauseDownAh, pauseHead float64 // the run's own: a turn ends where the charge, or lead's ready part, comes to one of them
	simple                            bool    // most steps are those of walk or walkLead
	watchV                            bool    // voltages are asked for
	warmA                             float64 // charging current that a warm bank takes
}

// stages are the charging voltages and times.
type stages struct {
	chargeV, floatV float64 // at 25 C; floatV 0: held at chargeV for good
	compVPerK       float64
	absorptionH     float64
}

// at is the voltage held at tempC; compensation is kept within -20..50 C.
func (s *stages) at(tempC float64, float bool) float64 {
	v := s.chargeV
	if float {
		v = s.floatV
	}
	if s.compVPerK != 0 {
		v += s.compVPerK * (min(50, max(-20, tempC)) - 25)
	}
	return v
}

// backupPlan is a charger beside the sun, in the loop's terms.
type backupPlan struct {
	powerW, carryW  float64 // at the bus; 0: none
	startAh, stopAh float64
}

// book adds what step i books whatever the battery does.
func (p *Plant) book(f *ledger.Flows, i int) {
	in, x, h := &p.steps[i], &p.fixed[i], p.stepH
	f[ledger.Array] += x.arrayW * h
	f[ledger.NotStarted] += x.notStartedW * h
	f[ledger.OffPeak] += x.offPeakW * h
	f[ledger.Clipped] += x.clippedW * h
	f[ledger.Withheld] += x.withheldW * h
	f[ledger.Demand] += (in.acW + in.dcW + x.withheldW + x.deadW) * h
	f[ledger.Unserved] += x.deadW * h
}

// sumFixed fills what is the same in every run.
func (p *Plant) sumFixed(months int, days []ledger.Day) {
	p.fixedMonths, p.fixedDays = make([]ledger.Flows, months), days
	for i := range p.steps {
		var f ledger.Flows
		p.book(&f, i)
		p.fixedMonths[p.steps[i].month].Add(&f)
		d := &days[p.steps[i].day]
		d.AskedWh += f[ledger.Demand]
		d.OffByRuleMin += p.fixed[i].ruleMin
	}
}

// books is what a run writes; it is reused from pass to pass.
type books struct {
	months                   []ledger.Flows
	days                     []ledger.Day
	outages                  []outage
	open                     outage
	isOpen                   bool
	dayLowAh                 []float64
	lowAh                    float64
	lowAtH                   float64
	lackH                    float64
	spellWh                  float64 // lacking at the bus since the battery was last full
	mostWh                   float64 // the highest of them so far
	mostAtH                  float64
	spellAtH                 float64 // when it began to lack, and when that of the highest did
	mostOfH                  float64
	at                       int     // the step
	counted                  float64 // share of the step in which auto-off already keeps must-have loads without power
	cuts                     int     // times that the loads were cut
	backAtH                  float64 // when they first came back
	openEnd                  bool    // they were off to the end, and asked for
	frostH                   float64 // lead: hours in which its acid may freeze
	backupH                  float64
	starts                   []float64 // h, of the backup
	barredWh                 float64   // refused for cold since the battery was last full, had there been room, less what it would have served since; at the bus
	hotWh                    float64   // of it, for heat
	missedWh                 []float64 // of each month, what was added to it
	heatWh                   []float64 // of each month, refused for heat at the module terminals
	asleepWh, asleepBarredWh []float64 // of each month, at the bus: offered while all slept, and of it what temperature alone refused
	cableWh                  []float64 // of each month, lost in the battery's cable

	begun     []begun // sessions of packs that wait
	sessionWh [MostWaiting]float64
	wokenH    []float64 // of each small part, see searchNote
	needWh    []float64 // of them, by month
	peakW     float64   // of the AC loads while they run
	peakVA    float64
}

// outage is a ledger.Outage while it is running; times in hours from the start of the run.
type outage struct {
	startH, endH, mustH float64
	unservedWh          float64
	byCauseWh           [ledger.NCauses]float64
	hotWh               float64 // of that put to charge refused, for heat
}

// reset empties the books for a run that starts with startAh. With hours the run itself books what is fixed.
func (p *Plant) reset(b *books, startAh float64, hours bool) {
	copy(b.months, p.fixedMonths)
	if hours {
		clear(b.months)
	}
	copy(b.days, p.fixedDays)
	for i := range b.dayLowAh {
		b.dayLowAh[i] = math.Inf(1)
	}
	b.outages = b.outages[:0]
	b.open, b.isOpen = outage{}, false
	b.lowAh, b.lowAtH, b.lackH = startAh, 0, 0
	b.full()
	b.mostWh, b.mostAtH, b.mostOfH = 0, 0, 0
	clear(b.missedWh)
	clear(b.heatWh)
	clear(b.asleepWh)
	clear(b.asleepBarredWh)
	clear(b.cableWh)
	b.backAtH, b.openEnd = math.Inf(1), false
	b.cuts, b.frostH, b.backupH, b.starts = 0, 0, 0, b.starts[:0]
	b.begun, b.sessionWh, b.peakW, b.peakVA = b.begun[:0], [MostWaiting]float64{}, 0, 0
	clear(b.needWh)
	clear(b.wokenH)
}

// lack books a stretch in which wantW was asked, busW at the bus, and not supplied.
func (b *books) lack(atH, spanH, wantW, busW float64, must bool, cause ledger.Cause) {
	if spanH <= 0 {
		return
	}
	if !b.isOpen {
		b.isOpen = true
		b.open = outage{startH: atH}
	}
	o := &b.open
	o.endH = max(o.endH, atH+spanH) // what auto-off costs is booked as a step begins
	o.unservedWh += wantW * spanH
	if must {
		counted := spanH
		if cause != ledger.AutoOff {
			counted *= 1 - b.counted
		}
		o.mustH = min(o.mustH+counted, o.endH-o.startH)
		b.lackH += counted
	}
	if b.spellWh == 0 {
		b.spellAtH = atH
	}
	if b.spellWh += busW * spanH; b.spellWh > b.mostWh {
		b.mostWh, b.mostAtH, b.mostOfH = b.spellWh, atH, b.spellAtH
	}
	if cause == ledger.BatteryEmpty { // the charge refused for cold would have covered a part of it
		part := min(1, b.barredWh/(busW*spanH))
		if b.hotWh > 0 {
			o.hotWh += part * wantW * spanH * b.hotWh / b.barredWh
			b.hotWh *= 1 - part*busW*spanH/b.barredWh
		}
		b.barredWh -= part * busW * spanH
		o.byCauseWh[ledger.ColdBarred] += part * wantW * spanH
		wantW *= 1 - part
	}
	o.byCauseWh[cause] += wantW * spanH
}

// refuse books charge that cold, or heat, kept out of a battery with room for roomWh: another would hold at most that more.
func (b *books) refuse(wh, roomWh float64, month int16, hot bool) {
	was := b.barredWh
	b.barredWh = min(was+wh, max(0, roomWh))
	b.missedWh[month] += max(0, b.barredWh-was)
	if hot {
		b.hotWh += wh
	}
	if b.hotWh > 0 { // what finds no room is of both alike
		b.hotWh *= b.barredWh / (was + wh)
	}
}

// full books that the battery is.
func (b *books) full() { b.barredWh, b.hotWh, b.spellWh = 0, 0, 0 }

// roomWh is the energy that a bank could still take in, of lead with availableAh of the charge in its ready part.
func (p *Plant) roomWh(chargeAh, availableAh float64) float64 {
	if p.lead != nil {
		return p.heldWh() - p.lead.HeldWh(battery.Wells{AvailableAh: availableAh, BoundAh: chargeAh - availableAh})
	}
	return p.heldWh() - p.pack.HeldWh(chargeAh)
}

// restored closes the open outage.
func (b *books) restored() {
	if b.isOpen {
		b.isOpen = false
		b.outages = append(b.outages, b.open)
	}
}

var errStuck = errors.New("a step did not come to an end: please report this with the scenario")

// run walks the steps from the first to before the last, from the state given, and returns the state at the end. hours
// may be nil.
func (p *Plant) run(st State, first, last int, b *books, hours *ledger.Hours) (State, error) {
	own := *p // its pack follows temperature and charge
	p = &own
	p.simple = hours == nil && p.bank.DisconnectV == 0 && p.shed == nil && p.heater == nil && !p.anyDead && p.waiting == nil &&
		(p.lead != nil || p.pwm == nil && p.hold.floatV == 0 && p.backup == backupPlan{})
	p.watchV = hours != nil || p.pwm != nil || p.backup.powerW > 0 || p.backup.carryW > 0 || p.bank.ReconnectV > 0 || p.inputOff || p.parts != nil
	cause := ledger.BatteryEmpty // of the present disconnection
	var scratch ledger.Flows
	var fl flow
	var src source
	var heated battery.Phase
	var now *battery.Stretch // of a step in which temperature changes something
	var lessened, withMore step
	var more extra // of packs that wait
	var risen bool // to the voltage at which loads come back
	risesH := math.Inf(1)
	for i := first; i < last; i++ {
		if p.simple {
			if p.lead != nil {
				i = p.walkLead(&st, i, last, b)
			} else {
				i = p.walk(&st, i, last, b)
			}
			if i == last {
				break
			}
		}
		in, t := &p.steps[i], &p.warm[i]
		f := &b.months[in.month]
		if hours != nil {
			scratch = ledger.Flows{}
			p.book(&scratch, i)
			f = &scratch
		}
		b.at = i
		if p.heater != nil {
			p.heat(&heated, &st, i, p.stepH)
			t = &heated.Warmth
		} else if in.changes {
			t = &p.stretch(i, 0).Warmth
		}
		if in.night {
			st.Float, st.AbsorbH = false, 0
		}
		var voltH, tempH, servedWh float64
		day := &b.days[in.day]
		var deadW, mustDead float64
		if p.anyDead {
			deadW, mustDead = p.fixed[i].deadW, p.fixed[i].mustDeadShare
		}
		if p.waiting != nil {
			deadW, mustDead = p.waiting.begin(p, &st, t, i, heated.HeaterW, f, b, &more, &withMore, &lessened)
		}
		dead := deadW > 0
		if b.counted = 0; dead {
			p.autoOff(b, day, i, deadW, mustDead)
		}
		for left, turns := p.stepH, 0; left > 0; turns++ {
			if turns > 100000 {
				return st, fmt.Errorf("step %d: %w", i, errStuck)
			}
			p.pauseUpAh, p.pauseDownAh, p.pauseHead = math.Inf(1), 0, 0
			var leftW float64 // of loads left off at this charge
			if p.shed != nil {
				all := &p.steps[i]
				in = p.lessen(&st, all, &lessened, i)
				leftW = all.acW + all.dcW - in.acW - in.dcW
			}
			if p.waiting != nil {
				if p.shed == nil {
					in = &p.steps[i]
				}
				in = p.waiting.add(p, &st, in, &withMore, i, &more)
			}
			span := left
			if p.heater != nil && turns > 0 {
				p.heat(&heated, &st, i, left)
			} else if in.changes {
				now = p.stretch(i, p.stepH-left)
				t = &now.Warmth
			}
			visitH := 0.0
			if st.Off && p.bank.WokenAtMin > 0 {
				visitH = in.visitH(p.stepH - left)
			}
			returns := st.Off && !st.Asleep && st.WaitH <= 0 && visitH == 0 && p.isBack(t, &st)
			if returns && (p.bank.ReconnectV == 0 || risen) {
				st.Off, risen, returns = false, false, false
				b.backAtH = min(b.backAtH, float64(i+1)*p.stepH-left)
				if p.heater != nil {
					p.heat(&heated, &st, i, left)
				}
			}
			if p.heater != nil {
				span = min(span, heated.UntilH)
			}
			if p.lead == nil {
				p.pack.Set(st.ChargeAh, t)
				p.pack.ChargeV = t.ChargeV
				if st.Float {
					p.pack.ChargeV = t.FloatV
				}
			}
			if visitH > 0 {
				span = min(span, visitH)
			}
			span, risesH = min(span, risesH), math.Inf(1)
			if st.TripH <= 0 && !st.Off && in.acW > 0 && !in.overload && p.sags(in, t, &st) {
				st.TripH, st.TripSag = max(p.restartH, sagH), true
			}
			tripped := in.overload || st.TripH > 0
			if st.Off && st.WaitH > 0 {
				span = min(span, st.WaitH)
			}
			if st.TripH > 0 && !in.overload {
				span = min(span, st.TripH)
			}
			if p.hold.floatV > 0 && !st.Float {
				span = min(span, max(p.hold.absorptionH-st.AbsorbH, 1.0/60)) // an absorption of seconds must not cut the year to pieces
			}
			standbyW := p.standbyOf(in)
			loadW := standbyW
			if !st.Off {
				loadW += in.dcW + float64(in.dcWireW) + heated.HeaterW
				if !tripped {
					loadW += in.acW + in.idleW + in.convertW + float64(in.acWireW)
				}
			}
			rawW, backupW, overA, shutW := in.busW, 0.0, p.maxOutA, 0.0
			if p.backup.powerW > 0 || in.carried {
				var untilH float64
				backupW, untilH = p.backupNow(in, &st, b, float64(i+1)*p.stepH-left)
				span = min(span, untilH)
			}
			if in.changes && p.heater == nil && (backupW > 0 || p.pwm != nil || in.apart || p.changeBinds(i, in.busW-loadW, &st)) {
				span = min(span, max(now.EndH-(p.stepH-left), 1e-9))
			}
			if !st.Off && !tripped && in.acW > 0 && p.cutoffV > 0 {
				if p.lead != nil {
					p.pauseHead = p.inputHead(in, t)
				} else {
					p.pauseDownAh = max(p.pauseDownAh, p.sagAh(in, &st))
				}
			}
			if p.lead == nil && p.bank.DisconnectV > 0 && !st.Off { // the voltage is looked at with the resistance of its charge
				p.pauseDownAh = max(p.pauseDownAh, p.pack.NextLookAh(st.ChargeAh))
			}
			var ok bool
			var overW, dimW float64 // at the module terminals
			follows, near := p.pwm != nil || in.apart, meetV
			if in.apart {
				near = meetApartV
			}
			for turn, v := 0, p.guessV(in, i, t, &st, loadW, backupW > 0); ; turn++ {
				if fl.odd {
					fl = flow{}
				}
				if in.apart {
					src, overW, dimW = p.together(i, v)
					rawW = src.rawW
				} else if p.pwm != nil {
					p.source(&src, in, i, v)
					rawW = src.rawW
				}
				if p.inputOff && t.Barred && rawW > 0 {
					rawW, shutW = 0, rawW
				}
				sunW := rawW
				if backupW > 0 { // the sun first, as far as its controller lets it
					sunW = min(rawW, overA*v)
					fl.odd = true
				}
				if p.lead != nil {
					ok = p.leadBus(&fl, t, &st, sunW+backupW, loadW, span, backupW > 0 || in.apart)
				} else {
					netW := sunW + backupW - loadW
					if t.Barred {
						netW = min(netW, 0)
					}
					p.pack.SetOhm(p.pack.MidAh(st.ChargeAh, netW*span, t.FloorAh), p.pack.BankOhm*t.OhmFactor)
					ok = p.bus(&fl, t, sunW+backupW, st.ChargeAh, loadW, span, st.Off, backupW > 0 || in.apart)
				}
				if backupW > 0 && !fl.asleep {
					fl.share(rawW, sunW)
				}
				if !follows && backupW == 0 || turn >= 4 || math.Abs(fl.busV-v) < near || !ok {
					break
				}
				if p.pwm != nil && backupW == 0 && p.meets(in, i, rawW, fl.busV) {
					break
				}
				v = fl.busV
				fl.odd = true
			}
			m := &fl.move
			if returns && ok && !fl.asleep { // the charge is there: is the voltage?
				switch v0, v1 := p.ends(&fl, &st); {
				case v0 >= p.bank.ReconnectV*(1-1e-6):
					risen, fl.odd = true, true
					continue
				case v1 > p.bank.ReconnectV:
					if h := max(shortLookH, m.SpanH*(p.bank.ReconnectV-v0)/(v1-v0)); h < 0.99*m.SpanH {
						risesH, fl.odd = h, true
						continue
					}
				}
			}
			if !ok || !st.Off && m.PowerW < 0 && p.isLow(t, &st, m.PowerW) {
				if !st.Off {
					st.Off, st.WaitH = true, p.minOffH
					if p.heater != nil { // without it the cold that keeps charge in may be another, and the loads be back at once
						st.WaitH = max(st.WaitH, sagH)
					}
					cause = ledger.BatteryEmpty
					b.cuts++
					if !ok || !p.isEmpty(t, &st) {
						st.WaitH = max(st.WaitH, sagH)
						cause = ledger.VoltageSag
					}
					fl.odd = true
					continue
				}
				p.sleep(&fl, &st, t, span) // nothing left to cut
			}

			h := m.SpanH
			wirePer, lossPer, offPeakPer := float64(in.wirePer), float64(in.lossPer), 0.0
			perOut, refusedWh := 1+wirePer+lossPer, 0.0
			if follows && src.rawW > 0 {
				perOut, wirePer, lossPer = src.arrayW/src.rawW, src.wireW/src.rawW, src.lossW/src.rawW
				offPeakPer = (src.arrayW - src.drawnW) / src.rawW
			}
			if fl.odd {
				f[ledger.Clipped] += fl.clippedW * perOut * h
				f[ledger.ChargeBarred] += fl.barredW * perOut * h
				f[ledger.Curtailed] += fl.curtailedW * perOut * h
				f[ledger.Backup] += fl.backupW * h
				refusedWh = fl.barredW * h
			}
			wireWh := fl.wireWh
			b.cableWh[in.month] += wireWh
			if shutW > 0 && !fl.asleep { // the rating comes first
				mayW := min(shutW, p.maxOutA*fl.busV)
				f[ledger.Clipped] += (shutW - mayW) * perOut * h
				f[ledger.ChargeBarred] += mayW * perOut * h
				refusedWh += mayW * h
			}
			if t.Hot {
				b.heatWh[in.month] += refusedWh * perOut
			}
			if fl.asleep && rawW+shutW > 0 {
				asleepWh, lostWh := (rawW+shutW)*h, 0.0
				if shutW > 0 { // awake, were it not for the temperature: its own draw comes first
					lostWh = max(0, min(shutW, p.maxOutA*fl.busV)-standbyW) * h
				}
				refusedWh += lostWh
				b.asleepWh[in.month] += asleepWh
				b.asleepBarredWh[in.month] += lostWh
				if hours != nil {
					hours.AsleepW[i] += asleepWh / p.stepH
					hours.AsleepBarredW[i] += lostWh / p.stepH
				}
			}
			if b.barredWh+refusedWh > 0 {
				b.refuse(refusedWh, p.roomWh(m.EndAh, fl.availableAh), in.month, t.Hot)
			}
			if fl.asleep {
				x := &p.fixed[i]
				f[ledger.NotStarted] += (x.arrayW - x.notStartedW) * h
				f[ledger.OffPeak] = max(0, f[ledger.OffPeak]-x.offPeakW*h) // 0 but for rounding where all the step is slept
				f[ledger.Clipped] = max(0, f[ledger.Clipped]-x.clippedW*h)
			} else {
				if in.apart {
					f[ledger.Clipped] += overW * h
					f[ledger.NotStarted] += dimW * h
				}
				if p.pwm != nil && src.arrayW == 0 { // too dim for the voltage of the bus
					f[ledger.NotStarted] += (p.fixed[i].arrayW - p.fixed[i].notStartedW) * h
				}
				if rawW > 0 {
					outWh := fl.outW * h
					offWh := outWh * offPeakPer
					f[ledger.Drawn] += outWh*perOut - offWh
					f[ledger.OffPeak] += offWh
					f[ledger.ControllerLoss] += outWh * lossPer
					wireWh += outWh * wirePer
				}
				f[ledger.Standby] += standbyW * h
			}
			f[ledger.WiringLoss] += wireWh
			f[ledger.BatteryLoss] += m.LossWh
			f[ledger.StoreChange] += m.StoreWh
			if m.PowerW >= 0 {
				f[ledger.BatteryIn] += m.PowerW*h - fl.wireWh
			} else {
				f[ledger.BatteryOut] += fl.wireWh - m.PowerW*h
			}
			if hours != nil {
				voltH += fl.bankV * h
			}

			var lackW, lackBusW float64
			must, why := false, cause
			if st.Off {
				lackW, must = in.acW+in.dcW, in.mustAC || in.mustDC
				lackBusW = lackW + in.idleW + in.convertW + float64(in.acWireW) + float64(in.dcWireW)
			} else {
				f[ledger.ServedDC] += in.dcW * h
				f[ledger.WiringLoss] += float64(in.dcWireW) * h
				servedWh += in.dcW * h
				f[ledger.Heater] += heated.HeaterW * h
				if tripped {
					lackW, must, why = in.acW, in.mustAC, ledger.Overload
					if st.TripSag && !in.overload {
						why = ledger.VoltageSag
					}
				} else {
					f[ledger.ServedAC] += in.acW * h
					servedWh += in.acW * h
					f[ledger.InverterIdle] += in.idleW * h
					f[ledger.InverterLoss] += in.convertW * h
					f[ledger.WiringLoss] += float64(in.acWireW) * h
				}
			}
			if leftW > 0 {
				f[ledger.Withheld] += leftW * h
			}
			if more.withheldW != 0 {
				f[ledger.Withheld] = max(0, f[ledger.Withheld]+more.withheldW*h)
			}
			if lackW > 0 {
				f[ledger.Unserved] += lackW * h
				b.lack(float64(i+1)*p.stepH-left, h, lackW, lackBusW, must, why)
				if must {
					day.LackMin += h * 60 * (1 - b.counted)
				}
			} else if b.isOpen && !st.Off && !tripped && !dead {
				b.restored()
			}

			st.ChargeAh, st.AvailableAh, st.Asleep = m.EndAh, fl.availableAh, fl.asleep
			if st.ChargeAh < b.dayLowAh[in.day] {
				b.dayLowAh[in.day] = st.ChargeAh
				if st.ChargeAh < b.lowAh {
					b.lowAh, b.lowAtH = st.ChargeAh, float64(i+1)*p.stepH-left+h
				}
			}
			if st.ChargeAh >= p.countsAh {
				b.full()
			}
			if st.WaitH > 0 {
				st.WaitH = max(0, st.WaitH-h)
			}
			if in.overload && !st.Off { // its minutes count from the last moment in which the loads would have been too much
				st.TripH, st.TripSag = p.restartH, false
			} else if st.TripH > 0 {
				st.TripH = max(0, st.TripH-h)
			}
			if fl.held && p.hold.floatV > 0 && !st.Float {
				if st.AbsorbH += h; st.AbsorbH >= p.hold.absorptionH-1e-9 {
					st.Float = true
				}
			}
			switch {
			case in.carried: // what is given there, as hours of its full power: the rest of the time nothing runs
				b.backupH += h * fl.backupW / p.backup.carryW
			case st.Backup:
				b.backupH += h
			}
			if p.heater != nil {
				tempH += heated.MeanC(h) * h
				st.NodeC = heated.End(h)
			}
			if left -= h; left < 1e-12 {
				left = 0
			}
			if fl.cut {
				st.Off, st.WaitH, cause = true, p.minOffH, ledger.BatteryEmpty
				if p.heater != nil {
					st.WaitH = max(st.WaitH, sagH)
				}
				b.cuts++
				if !p.isEmpty(t, &st) { // by voltage, with charge to spare
					st.WaitH = max(st.WaitH, sagH)
					cause = ledger.VoltageSag
				}
			}
		}
		if p.lead != nil && t.TempC < 0 && t.TempC < battery.FreezesC(st.ChargeAh/p.capAh) {
			b.frostH += p.stepH
		}
		f[ledger.Served] += servedWh
		day.ServedWh += servedWh
		if hours != nil {
			b.months[in.month].Add(f)
			for j, v := range f {
				hours.FlowW[j][i] = v / p.stepH
			}
			in = &p.steps[i]
			hours.ACDemandW[i] = in.acW + p.fixed[i].withheldW + p.fixed[i].deadW
			hours.DCDemandW[i] = in.dcW
			if p.waiting != nil {
				hours.ACDemandW[i] += more.acAskedW
				hours.DCDemandW[i] += more.askedW - more.acAskedW
			}
			hours.BatteryW[i] = (f[ledger.BatteryIn] - f[ledger.BatteryOut]) / p.stepH
			hours.BatteryV[i] = voltH / p.stepH
			hours.SOC[i] = st.ChargeAh / p.capAh
			if hours.BatteryTempC[i] = p.warm[i].TempC; p.heater != nil {
				hours.BatteryTempC[i] = tempH / p.stepH
			}
		}
	}
	b.openEnd = b.isOpen && st.Off
	b.restored()
	return st, nil
}

// heat finds what the heater does from when leftH of step i are to go, and what temperature makes of the bank.
func (p *Plant) heat(x *battery.Phase, st *State, i int, leftH float64) {
	air := p.around[i]
	air.StartC = air.At(p.stepH - leftH)
	*x = p.heater.Phase(st.NodeC, air, !st.Off, leftH, st.Barred) // cut off with the loads, it does not warm
	x.ChargeV, x.FloatV = p.hold.at(x.TempC, false), p.hold.at(x.TempC, true)
	st.Barred = x.Barred
}

// stretch is the part of step i, in which temperature changes something, that atH lies in.
func (p *Plant) stretch(i int, atH float64) *battery.Stretch {
	k := sort.Search(len(p.changes), func(k int) bool {
		s := &p.changes[k]
		return s.Step > i || s.Step == i && s.EndH > atH+1e-9
	})
	if k == len(p.changes) || p.changes[k].Step != i { // at its end
		k--
	}
	return &p.changes[k]
}

// changeBinds reports whether what temperature changes within step i may matter where netW is left for the bank.
func (p *Plant) changeBinds(i int, netW float64, st *State) bool {
	if netW < 0 || p.lead != nil {
		return netW >= 0
	}
	amps := netW / p.pack.OpenV(st.ChargeAh)
	for s := p.stretch(i, 0); ; {
		if s.Barred || amps > 1.05*s.MaxChargeA { // walk leaves to us all that binds
			return true
		}
		if s.EndH >= p.stepH {
			return false
		}
		s = p.stretch(i, s.EndH)
	}
}

// autoOff books what step i lacks because auto-off waits for a hand: the step's own demand and unserved hold it already.
func (p *Plant) autoOff(b *books, day *ledger.Day, i int, deadW, mustShare float64) {
	spanH, must := p.stepH, mustShare > 0
	if must {
		spanH *= mustShare
		day.LackMin += spanH * 60
		b.counted = min(1, mustShare)
	}
	b.lack(float64(i)*p.stepH, spanH, deadW*p.stepH/spanH, 0, must, ledger.AutoOff)
}

// meetV is how near two guesses at the voltage of the bus must come, V: a PWM array's current changes by less than a
// thousandth over it.
const meetV = 2e-3

// meetApartV is the same where ratings of several controllers bind: the voltage that they make follows the guess by a hundredth
// or so, and a turn more makes the sum of equal ones that of a single one.
const meetApartV = 1e-6

// sagH is for how long loads are off at the least that pulled the voltage down, h.
const sagH = 5.0 / 60

// shortLookH is how near the voltage at which loads come back is closed in on, h.
const shortLookH = 1e-3

// backupNow switches the backup charger and returns its power at the bus, W, and the hours until quiet begins or ends. The
// run ends its turn there and at the charge where the charger is switched.
func (p *Plant) backupNow(in *step, st *State, b *books, atH float64) (powerW, untilH float64) {
	if in.carried {
		return p.backup.carryW, math.Inf(1)
	}
	plan, quiet, untilH := &p.backup, false, math.Inf(1)
	if in.quiet {
		quiet, untilH = p.quietAt(atH)
	}
	switch {
	case st.Backup && (quiet || st.ChargeAh >= plan.stopAh-lowTol*p.capAh):
		st.Backup = false
	case !st.Backup && !quiet && st.ChargeAh <= plan.startAh+lowTol*p.capAh:
		st.Backup = true
		b.starts = append(b.starts, atH)
	}
	if st.Backup {
		p.pauseUpAh = min(p.pauseUpAh, plan.stopAh)
		return plan.powerW, untilH
	}
	if !quiet {
		p.pauseDownAh = max(p.pauseDownAh, plan.startAh)
	}
	return 0, untilH
}

// quietAt reports whether no backup may run atH hours into the run, and for how long that holds, h.
func (p *Plant) quietAt(atH float64) (quiet bool, untilH float64) {
	const tolS = 1e-3
	atS := atH*3600 + tolS
	k := sort.Search(len(p.quiet), func(k int) bool { return float64(p.quiet[k].ToS) > atS })
	switch {
	case k == len(p.quiet):
		return false, math.Inf(1)
	case float64(p.quiet[k].FromS) <= atS:
		return true, float64(p.quiet[k].ToS)/3600 - atH
	}
	return false, float64(p.quiet[k].FromS)/3600 - atH
}

// sags reports whether the coincident draw would pull the inverter's input under its cut-off.
func (p *Plant) sags(in *step, t *battery.Warmth, st *State) bool {
	if p.cutoffV == 0 {
		return false
	}
	if p.lead != nil {
		return p.lead.Head(st.wells()) < p.inputHead(in, t)+1e-9
	}
	return st.ChargeAh <= float64(in.sagAh) && p.pack.OpenV(st.ChargeAh) < p.sagV(in)+1e-9
}

// sagV is the open-circuit voltage under which the coincident draw pulls the inverter's input below its cut-off, at peakW over
// cutV amperes; where more than half of the voltage would be lost on the way it collapses before.
func (p *Plant) sagV(in *step) float64 {
	v := max(float64(in.cutV), math.Sqrt(float64(in.peakW)*p.pack.ResistanceOhm))
	return v + p.pack.ResistanceOhm*float64(in.peakW)/v
}

// sagAh is the charge at which it would, or 0.
func (p *Plant) sagAh(in *step, st *State) float64 {
	if ah := float64(in.sagAh); st.ChargeAh > ah {
		return ah // to look again there
	}
	ah := p.pack.ChargeAtV(p.sagV(in))
	if ah >= st.ChargeAh {
		return 0
	}
	return max(ah*(1-1e-12), p.pack.NextLookAh(st.ChargeAh)) // or where the resistance is another
}

// isBack reports whether the charge lets loads that were cut come back.
func (p *Plant) isBack(t *battery.Warmth, st *State) bool {
	if p.lead != nil {
		return p.leadBack(st.wells(), t)
	}
	return st.ChargeAh >= p.backAh(t)
}

// ends are the voltages at the bank's terminals as a move begins and ends: around its mean by half of what charge moves them.
func (p *Plant) ends(fl *flow, st *State) (first, last float64) {
	if fl.held {
		return fl.bankV, fl.bankV
	}
	var half float64
	if p.lead != nil {
		end := battery.Wells{AvailableAh: fl.availableAh, BoundAh: fl.move.EndAh - fl.availableAh}
		half = (p.lead.OpenV(p.lead.Head(end)) - p.lead.OpenV(p.lead.Head(st.wells()))) / 2
	} else {
		half = (p.pack.OpenV(fl.move.EndAh) - p.pack.OpenV(st.ChargeAh)) / 2
	}
	return fl.bankV - half, fl.bankV + half
}

// isLow reports whether the loads are cut while the battery gives powerW (< 0).
func (p *Plant) isLow(t *battery.Warmth, st *State, powerW float64) bool {
	if p.lead != nil {
		return p.lowGap(st.wells(), t, powerW) <= lowTol
	}
	return st.ChargeAh <= p.lowAh(t, powerW)
}

// isEmpty reports whether charge, and not voltage, keeps the loads off.
func (p *Plant) isEmpty(t *battery.Warmth, st *State) bool {
	if p.lead != nil {
		return st.ChargeAh <= p.bank.DisconnectSOC*p.capAh*(1+1e-6) || p.lead.Head(st.wells()) <= t.FloorHead+1e-6
	}
	return st.ChargeAh <= t.FloorAh*(1+1e-9)
}

// lowAh is the charge at which a discharge of powerW (< 0) has the loads cut: by charge, by cold, or by voltage.
func (p *Plant) lowAh(t *battery.Warmth, powerW float64) float64 {
	if v := p.bank.DisconnectV; v > 0 {
		return max(t.FloorAh, p.pack.ChargeAtV(v-(p.pack.ResistanceOhm-p.pack.CableOhm)*powerW/v))
	}
	return t.FloorAh
}

// backAh is the charge at which loads that were cut come back.
func (p *Plant) backAh(t *battery.Warmth) float64 {
	return min(t.FloorAh+p.reconnectAh, p.pack.CapacityAh*(1-1e-9))
}

// guessV is a first guess at the voltage of the bus.
func (p *Plant) guessV(in *step, i int, t *battery.Warmth, st *State, loadW float64, backup bool) float64 {
	if p.pwm == nil && !backup && !in.apart {
		return 0
	}
	holdV := t.ChargeV
	if st.Float {
		holdV = t.FloatV
	}
	var v float64
	if p.lead != nil {
		v = p.lead.OpenV(p.lead.Head(st.wells())) + 0.5
	} else {
		v = p.pack.OpenV(st.ChargeAh)
	}
	if p.pwm == nil || in.night {
		return v
	}
	for range 2 {
		netA := (p.rawW(in, i, v) - loadW) / v
		if p.lead != nil {
			v = p.lead.BusV(st.wells(), netA, p.stepH, t)
		} else {
			v = p.pack.OpenV(st.ChargeAh) + p.pack.ResistanceOhm*netA
		}
		v = min(v, holdV)
	}
	return v
}

// meets reports whether a PWM array gives at volts what it was taken to give, but for a thousandth.
func (p *Plant) meets(in *step, i int, rawW, volts float64) bool {
	return math.Abs(p.rawW(in, i, volts)-rawW) <= 1e-3*rawW
}

// flow is what happens at the bus for the hours that move spans. outW, clippedW, barredW and curtailedW are at the
// controller's output.
type flow struct {
	move                                battery.Move
	outW, clippedW, barredW, curtailedW float64
	backupW                             float64
	wireWh                              float64 // in the battery's cable
	bankV, busV                         float64 // mean voltage of the bank and of the bus
	availableAh                         float64 // at the end
	odd                                 bool    // what is not set by every move may not be zero
	cut                                 bool    // the loads are cut at the end of it
	asleep                              bool    // nothing is fed, the array is not started
	held                                bool    // the voltage is that of the charging stage
}

// share parts what the bus took between the sun and the backup charger, the sun first. rawW is what the sun could give, of
// which the rating let sunW through.
func (fl *flow) share(rawW, sunW float64) {
	took := fl.outW
	fl.outW = min(sunW, took)
	fl.backupW = took - fl.outW
	spare := sunW - fl.outW
	fl.barredW = min(fl.barredW, spare)
	fl.clippedW, fl.curtailedW, fl.odd = rawW-sunW, spare-fl.barredW, true
}

// sleep lets the charge leak while nothing runs.
func (p *Plant) sleep(fl *flow, st *State, t *battery.Warmth, spanH float64) {
	*fl = flow{asleep: true, odd: true} // nothing of what was tried before
	if p.lead != nil {
		var m battery.LeadMove
		p.lead.Current(&m, st.wells(), 0, spanH, t)
		fl.fromLead(&m)
		return
	}
	fl.move, _ = p.pack.Power(st.ChargeAh, 0, spanH)
	p.finish(fl)
}

// finish fills what follows from a lithium bank's move.
func (p *Plant) finish(fl *flow) {
	m, pk := &fl.move, &p.pack
	if pk.CableOhm > 0 {
		fl.wireWh = m.HeatWh * (pk.CableOhm / pk.ResistanceOhm)
		m.LossWh -= fl.wireWh
	}
	if p.watchV {
		fl.bankV = m.OpenV + (pk.ResistanceOhm-pk.CableOhm)*m.CurrentA
		fl.busV = m.OpenV + pk.ResistanceOhm*m.CurrentA
	}
}

// bus balances array, loads and battery for at most spanH hours, and stops at the first limit crossed on the way. It
// fills fl, in which all but move and outW is zero, and reports false where the battery cannot give what is asked at any
// voltage. rawW is all that is offered at the bus.
func (p *Plant) bus(fl *flow, t *battery.Warmth, rawW, chargeAh, loadW, spanH float64, off, anyA bool) bool {
	ok := p.balance(fl, t, rawW, chargeAh, loadW, spanH, off, anyA)
	p.finish(fl)
	return ok
}

func (p *Plant) balance(fl *flow, t *battery.Warmth, outW, chargeAh, loadW, spanH float64, off, anyA bool) bool {
	if chargeAh <= 0 && outW < loadW {
		if off {
			*fl = flow{asleep: true, odd: true}
			fl.move, _ = p.pack.Power(chargeAh, 0, spanH)
		} else {
			fl.move.PowerW = -1 // the caller cuts
		}
		return true
	}
	fl.outW = outW
	overA := p.maxOutA
	if anyA {
		overA = math.Inf(1)
	}
	if outW >= loadW && (t.Barred || chargeAh >= p.fullAh) { // most sunny hours: the battery takes nothing
		p.charge(fl, t, overA, chargeAh, loadW, spanH, off)
		return true
	}
	var ok bool
	m := &fl.move
	if *m, ok = p.pack.Power(chargeAh, outW-loadW, spanH); !ok {
		return p.discharge(fl, t, chargeAh, outW-loadW, spanH, off)
	}
	if outW > overA*(m.OpenV+p.pack.ResistanceOhm*m.CurrentA) {
		return p.strong(fl, t, chargeAh, loadW, spanH, off)
	}
	if m.PowerW < 0 {
		if m.EndAh >= max(p.stopAh(t, off, m.PowerW), p.pauseDownAh) {
			return true
		}
		return p.discharge(fl, t, chargeAh, m.PowerW, spanH, off)
	}
	if !t.Barred && m.EndAh <= min(p.pack.CapacityAh, p.pauseUpAh) && m.CurrentA <= p.pack.MaxChargeA &&
		p.pack.OpenV(m.EndAh)+p.pack.ResistanceOhm*m.CurrentA <= p.pack.ChargeV &&
		!(off && chargeAh < p.backAh(t)) {
		return true
	}
	p.charge(fl, t, overA, chargeAh, loadW, spanH, off)
	return true
}

// stopAh is where a discharge ends: where the loads are cut or, with the loads off, where the bank is flat.
func (p *Plant) stopAh(t *battery.Warmth, off bool, powerW float64) float64 {
	if off {
		return 0
	}
	return p.lowAh(t, powerW)
}

// discharge fills fl with a discharge that may come to its end within spanH.
func (p *Plant) discharge(fl *flow, t *battery.Warmth, chargeAh, powerW, spanH float64, off bool) bool {
	stop := p.stopAh(t, off, powerW)
	if chargeAh <= stop { // the caller cuts
		fl.move.PowerW = powerW
		return true
	}
	var ok bool
	if fl.move, ok = p.pack.PowerTo(chargeAh, powerW, spanH, max(stop, p.pauseDownAh)); !ok {
		return false
	}
	if !off && fl.move.EndAh <= stop {
		fl.cut, fl.odd = true, true
	}
	return true
}

// strong is bus where the controller's current rating binds: it finds the battery voltage at which it does.
func (p *Plant) strong(fl *flow, t *battery.Warmth, chargeAh, loadW, spanH float64, off bool) bool {
	rawW := fl.outW
	fl.outW = min(rawW, p.maxOutA*p.pack.BusV(chargeAh, p.maxOutA, loadW, spanH))
	fl.clippedW, fl.odd = rawW-fl.outW, true
	if fl.outW >= loadW {
		p.charge(fl, t, p.maxOutA, chargeAh, loadW, spanH, off)
		return true
	}
	if off && chargeAh <= 0 { // flat, and the rating lets through less than the standby
		*fl = flow{asleep: true, odd: true}
		fl.move, _ = p.pack.Power(chargeAh, 0, spanH)
		return true
	}
	return p.discharge(fl, t, chargeAh, fl.outW-loadW, spanH, off)
}

// charge lets the battery take what it accepts of a surplus. fl.outW is at the controller's output after its current
// rating took fl.clippedW at the voltage of an unhindered charge; where the battery takes less, its voltage is another
// and the rating is applied again.
func (p *Plant) charge(fl *flow, t *battery.Warmth, overA, chargeAh, loadW, spanH float64, off bool) {
	pk := &p.pack
	rawW := fl.outW + fl.clippedW
	mayW := func(v float64) float64 { return min(rawW, max(overA*v, loadW)) } // output that the rating allows
	if t.Barred {
		v := pk.OpenV(chargeAh)
		spareW := mayW(v) - loadW
		if a := min(pk.TaperA(chargeAh), p.warmA); chargeAh < pk.CapacityAh && a > 0 { // what a warm battery would take
			fl.barredW = min(spareW, (v+pk.ResistanceOhm*a)*a)
		}
		fl.move, _ = pk.Power(chargeAh, 0, spanH)
		fl.outW, fl.clippedW, fl.curtailedW, fl.odd = loadW, rawW-mayW(v), spareW-fl.barredW, true
		return
	}
	hold, taperA := pk.Hold(chargeAh, spanH), 0.0
	if chargeAh < p.fullAh {
		taperA = pk.TaperA(chargeAh)
	}
	if taperA <= hold.CurrentA {
		w := mayW(hold.OpenV + pk.ResistanceOhm*hold.CurrentA)
		if w < loadW+hold.PowerW { // not even enough against self-discharge
			hold, _ = pk.Power(chargeAh, w-loadW, spanH)
		}
		fl.takes(hold, w, rawW, loadW)
		fl.held = true
		return
	}
	stopAh := min(pk.CapacityAh, p.pauseUpAh)
	if back := p.backAh(t); off && chargeAh < back {
		stopAh = min(stopAh, back)
	}
	spareW := fl.outW - loadW
	amps := pk.CurrentA(chargeAh, spareW)
	limitA := min(amps, pk.MaxChargeA)
	taperAh := pk.ChargeAtV(pk.ChargeV - pk.ResistanceOhm*min(spareW/pk.ChargeV, pk.MaxChargeA)) // the taper begins
	if taperA < limitA || taperAh <= chargeAh*(1+1e-12) {
		fl.takes(pk.Taper(chargeAh, spanH, stopAh), mayW(pk.ChargeV), rawW, loadW)
		fl.held = true
		return
	}
	stopAh = min(stopAh, taperAh)
	// Where the voltage has risen so far that this current takes all there is, power limits and not current.
	powerAh := pk.ChargeAtV(spareW/pk.MaxChargeA - pk.ResistanceOhm*pk.MaxChargeA)
	if amps > pk.MaxChargeA && powerAh > chargeAh*(1+1e-12) {
		stopAh = min(stopAh, powerAh)
		h := min(spanH, pk.UntilCurrent(chargeAh, pk.MaxChargeA, stopAh))
		m := pk.Current(chargeAh, pk.MaxChargeA, h)
		if h < spanH {
			m.EndAh = stopAh
		}
		fl.takes(m, mayW(m.OpenV+pk.ResistanceOhm*m.CurrentA), rawW, loadW)
		return
	}
	fl.move, _ = pk.PowerTo(chargeAh, spareW, spanH, stopAh)
}

// takes fills fl for a battery that takes only m's power of mayW, what the controller's rating leaves of rawW.
func (fl *flow) takes(m battery.Move, mayW, rawW, loadW float64) {
	fl.move, fl.outW = m, loadW+m.PowerW
	mayW = max(mayW, fl.outW) // where the two limits meet, the rating was taken at a slightly other voltage
	fl.clippedW, fl.curtailedW, fl.odd = max(0, rawW-mayW), mayW-fl.outW, true
}
