package sim_test

// The loads of the plain engine: each rule looked at minute by minute on the wall clock.

import (
	"math"
	"time"
)

// plainWhen is a timetable by the clock on the wall. Empty parts do not limit.
type plainWhen struct {
	days   []time.Weekday
	hours  [][2]int // minutes of the day, end not included; an end past 1440 lies on the next day
	season [][2]int // month x 100 + day, both included
}

// allows says whether a span may begin on the date of t.
func (w plainWhen) allows(t time.Time) bool {
	dayOK := len(w.days) == 0
	for _, d := range w.days {
		dayOK = dayOK || d == t.Weekday()
	}
	seasonOK := len(w.season) == 0
	at := int(t.Month())*100 + t.Day()
	for _, s := range w.season {
		if s[0] <= s[1] {
			seasonOK = seasonOK || s[0] <= at && at <= s[1]
		} else {
			seasonOK = seasonOK || at >= s[0] || at <= s[1]
		}
	}
	return dayOK && seasonOK
}

// on says whether the wall-clock moment lies inside.
func (w plainWhen) on(wall time.Time) bool {
	hours := w.hours
	if len(hours) == 0 {
		hours = [][2]int{{0, 1440}}
	}
	minute := wall.Hour()*60 + wall.Minute()
	yesterday := time.Date(wall.Year(), wall.Month(), wall.Day()-1, 12, 0, 0, 0, time.UTC)
	for _, h := range hours {
		if w.allows(wall) && h[0] <= minute && minute < h[1] {
			return true
		}
		if w.allows(yesterday) && minute < h[1]-1440 {
			return true
		}
	}
	return false
}

// plainLoad is one load. Only the fields of its kind count.
type plainLoad struct {
	kind              string // always_on, timetable, dusk_to_dawn, motion_light, packs
	ac, mustHave      bool
	powerW            float64
	onMinutesPerHour  float64
	when              plainWhen
	visitsPerNight    float64
	minutesPerVisit   float64
	standbyInDaylight bool
	standbyW          float64
	count, chargers   int
	packWh, depth     float64
	chargerW          float64
	chargerEfficiency float64
	atMin, unplugMin  int // unplugMin -1: never
}

// plainAsked is what one step asks.
type plainAsked struct {
	acW, dcW        float64 // means; AC without what is withheld
	withheldW       float64 // mean that AC loads ask outside the inverter's timetable
	acOnW, dcOnW    float64 // most power that may be on together at one moment
	acShare         float64 // sum of the AC loads' shares of time
	inverterMin     int     // minutes of the step inside the inverter's timetable
	mustAC, mustDC  bool
	mustWithheldMin int

	// Of an inverter that sleeps.
	sleepsW     float64 // its own draw, mean
	deadW       float64 // mean that AC loads ask while it waits, off, for a hand
	mustDeadMin int
}

// plainMinute is what a load does in one minute.
type plainMinute struct {
	meanW float64
	onW   float64 // while it is on
	share float64 // of the minute in which it is on
	works bool    // of packs: one of them is charged, and not only standby drawn, which nobody misses
}

// asked looks at every load in every minute.
func (p plainPlant) asked() []plainAsked {
	out := make([]plainAsked, len(p.arrayW))
	dark := p.darkShares()
	each := make([][]plainMinute, len(p.loads))
	for k, l := range p.loads {
		each[k] = p.minutesOf(l, dark)
	}
	var states []sleepState
	if p.inverter != nil && p.inverter.sleeps() {
		states = p.sleepStates(each)
	}
	for m := range len(out) * 60 {
		s := &out[m/60]
		live := true
		if p.inverter != nil && p.inverter.mode == "timetable" {
			live = p.inverter.when.on(p.minuteAt(m))
		}
		var state sleepState
		if p.inverter != nil && p.inverter.sleeps() {
			state = states[m]
			s.sleepsW += p.inverter.sleepW(state) / 60
		}
		if live {
			s.inverterMin++
		}
		acOnW, dcOnW, mustWithheld, mustDead := 0.0, 0.0, false, false
		for k, l := range p.loads {
			x := each[k][m]
			must := l.mustHave && x.meanW > 0
			switch {
			case !l.ac:
				s.dcW += x.meanW / 60
				dcOnW += x.onW
				s.mustDC = s.mustDC || must
			case state == dead:
				s.deadW += x.meanW / 60
				mustDead = mustDead || must
			case live && state == awake:
				s.acW += x.meanW / 60
				acOnW += x.onW
				s.acShare += x.share / 60
				s.mustAC = s.mustAC || must
			default:
				s.withheldW += x.meanW / 60
				mustWithheld = mustWithheld || must && (x.works || l.kind != "packs")
			}
		}
		if mustWithheld {
			s.mustWithheldMin++
		}
		if mustDead {
			s.mustDeadMin++
		}
		s.acOnW, s.dcOnW = math.Max(s.acOnW, acOnW), math.Max(s.dcOnW, dcOnW)
	}
	return out
}

// wallMinute is the minute of the day on the wall.
func (p plainPlant) wallMinute(t time.Time) int {
	wall := t.In(p.zone)
	return wall.Hour()*60 + wall.Minute()
}

// minuteAt is the moment at which minute m begins, on the wall.
func (p plainPlant) minuteAt(m int) time.Time {
	return p.start.Add(time.Duration(m) * time.Minute).In(p.zone)
}

// darkShares is the share of each minute in which the sun is down: 0, 1, or a half where it sets or rises.
func (p plainPlant) darkShares() []float64 {
	out := make([]float64, len(p.arrayW)*60)
	before := p.dark(p.minuteAt(0))
	for m := range out {
		after := p.dark(p.minuteAt(m + 1))
		if before {
			out[m] += 0.5
		}
		if after {
			out[m] += 0.5
		}
		before = after
	}
	return out
}

func (p plainPlant) minutesOf(l plainLoad, dark []float64) []plainMinute {
	out := make([]plainMinute, len(p.arrayW)*60)
	switch l.kind {
	case "always_on", "timetable":
		for m := range out {
			if l.kind == "always_on" || l.when.on(p.minuteAt(m)) {
				share := l.onMinutesPerHour / 60
				out[m] = plainMinute{l.powerW * share, l.powerW, share, true}
			}
		}
	case "dusk_to_dawn":
		for m := range out {
			if dark[m] > 0 && l.when.on(p.minuteAt(m)) {
				out[m] = plainMinute{l.powerW * dark[m], l.powerW, dark[m], true}
			}
		}
	case "motion_light":
		p.motionLight(l, dark, out)
	case "packs":
		p.packs(l, out)
	}
	return out
}

// motionLight spreads each night's visits over its dark minutes. A night runs from noon to noon on the wall; of one that
// the run cuts, the visits are cut in proportion.
func (p plainPlant) motionLight(l plainLoad, dark []float64, out []plainMinute) {
	nightOf := func(m int) string {
		wall := p.minuteAt(m)
		day := wall.Day()
		if wall.Hour() < 12 {
			day--
		}
		return time.Date(wall.Year(), wall.Month(), day, 12, 0, 0, 0, time.UTC).Format("2006-01-02")
	}
	minutesOfNight := map[string]int{}  // whole, also outside the run
	darkMinutes := map[string]float64{} // in the run
	runMinutes := map[string]int{}
	for m := -2 * 1440; m < len(out)+2*1440; m++ {
		night := nightOf(m)
		minutesOfNight[night]++
		if m >= 0 && m < len(out) {
			runMinutes[night]++
			darkMinutes[night] += dark[m]
		}
	}
	for m := range out {
		night := nightOf(m)
		if dark[m] > 0 {
			litMin := l.visitsPerNight * l.minutesPerVisit * float64(runMinutes[night]) / float64(minutesOfNight[night])
			lit := math.Min(1, litMin/darkMinutes[night])
			if lit > 0 {
				out[m] = plainMinute{l.powerW * lit * dark[m], l.powerW, lit * dark[m], true}
			}
		}
		asleep := 0.0 // share of the minute in which the sensor is not at work
		if !l.standbyInDaylight {
			asleep = 1 - dark[m]
		}
		if l.standbyW > 0 && asleep < 1 {
			out[m].meanW += l.standbyW * (1 - asleep)
			out[m].onW += l.standbyW
			out[m].share += 1 - asleep
		}
	}
}

// packs plugs the chargers in when the wall first shows the time, on each of the days; they take one pack after another
// and then stand by until they are unplugged.
func (p plainPlant) packs(l plainLoad, out []plainMinute) {
	// One charge at the plug: constant power for 80 % of the energy, then an exponential taper to a tenth of the power.
	wh := l.packWh * l.depth / l.chargerEfficiency
	flatMin := 0.8 * wh / l.chargerW * 60
	tauMin := 0.2 * wh / (l.chargerW * 0.9) * 60
	chargeMin := flatMin + tauMin*math.Log(10)
	powerW := func(sinceMin float64) float64 {
		if sinceMin <= flatMin {
			return l.chargerW
		}
		return l.chargerW * math.Exp(-(sinceMin-flatMin)/tauMin)
	}

	endMin := l.unplugMin
	if endMin < 0 {
		endMin = l.atMin
	}
	if endMin <= l.atMin {
		endMin += 1440
	}
	packsOf := make([]int, l.chargers)
	for k := range l.count {
		packsOf[k%l.chargers]++
	}

	// Which charge each charger is at in each minute: a number for each pack, -1 for standing by, -2 unplugged.
	at := make([][]int, l.chargers)
	power := make([][]float64, l.chargers)
	for k := range at {
		at[k], power[k] = make([]int, len(out)), make([]float64, len(out))
	}

	session := ""     // the date whose session runs, or ran last
	sessionStart := 0 // its first minute
	plugged := false
	for m := -3 * 1440; m < len(out); m++ {
		wall := p.minuteAt(m)
		minute := wall.Hour()*60 + wall.Minute()
		today := wall.Format("2006-01-02")
		if plugged { // unplugged yet?
			sinceDate := minute
			if today != session {
				sinceDate += 1440
			}
			if sinceDate >= endMin {
				plugged = false
			}
		}
		if today != session && l.when.allows(wall) && minute >= l.atMin {
			session, sessionStart, plugged = today, m, true
		}
		if m < 0 {
			continue
		}
		for k, packs := range packsOf {
			switch pack := int((float64(m-sessionStart) + 0.5) / chargeMin); {
			case packs == 0:
				at[k][m] = -2
			case plugged && pack < packs:
				at[k][m] = pack
				out[m].works = true
				stepStart := float64(m/60*60 - sessionStart)
				// Ratings take the power with which the charge entered the step.
				out[m].onW += powerW(math.Max(0, stepStart-float64(pack)*chargeMin))
			case plugged || l.unplugMin < 0:
				at[k][m] = -1
				out[m].onW += l.standbyW
			default:
				at[k][m] = -2
			}
			if packs > 0 && (plugged || l.unplugMin < 0) {
				const parts = 20 // of a minute
				for part := range parts {
					sinceMin := float64(m-sessionStart) + (float64(part)+0.5)/parts
					pack := int(sinceMin / chargeMin)
					if plugged && pack < packs {
						power[k][m] += powerW(sinceMin-float64(pack)*chargeMin) / parts
					} else {
						power[k][m] += l.standbyW / parts
					}
				}
			}
		}
	}

	// Within a step each charge draws its mean.
	for k := range at {
		for from := 0; from < len(out); {
			to, sum := from, 0.0
			for to < len(out) && to/60 == from/60 && at[k][to] == at[k][from] {
				sum += power[k][to]
				to++
			}
			for m := from; m < to; m++ {
				out[m].meanW += sum / float64(to-from)
			}
			from = to
		}
	}
	for m := range out {
		if out[m].meanW > 0 {
			out[m].share = 1
		}
	}
}
