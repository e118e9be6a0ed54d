package sim_test

// The inverter of the plain engine that sleeps: search mode and auto-off, minute by minute, for loads that are on throughout
// each of their minutes.

// sleepState is what such an inverter does in a minute.
type sleepState int

const (
	awake     sleepState = iota
	closed               // outside its timetable
	feeling              // what is asked does not wake it from search
	offByRule            // by auto-off, till the time of day at which it wakes; or with less asked than search would wake for
	dead                 // by auto-off, till someone comes
)

// plainSleep is when it sleeps.
type plainSleep struct {
	wakesAtW, searchW float64 // 0: no search
	offBelowW         float64 // 0: no auto-off
	offAfterH, offW   float64
	wakeAtMin         int // of the day; 0: whoever comes to use a load wakes it
}

func (v *plainInverter) sleeps() bool { return v.sleep.wakesAtW > 0 || v.sleep.offBelowW > 0 }

// sleepW is its own draw.
func (v *plainInverter) sleepW(s sleepState) float64 {
	switch s {
	case closed:
		return 0
	case feeling:
		return v.sleep.searchW
	case offByRule, dead:
		return v.sleep.offW
	}
	return v.idleW
}

// sleepStates goes through the run twice, as it is taken for a ring.
func (p plainPlant) sleepStates(each [][]plainMinute) []sleepState {
	v := p.inverter
	c := v.sleep
	minutes := len(p.arrayW) * 60
	out := make([]sleepState, minutes)
	off, quietMin := false, 0
	for turn := range 2 * minutes {
		m := turn % minutes
		wall := p.minuteAt(m)
		if v.mode == "timetable" && !v.when.on(wall) {
			off, quietMin, out[m] = false, 0, closed // the timetable switches it on anew
			continue
		}
		askW, comesW := 0.0, 0.0 // of it, what someone came to use
		for k, l := range p.loads {
			if l.ac {
				askW += each[k][m].meanW
				if l.kind == "timetable" {
					comesW += each[k][m].meanW
				}
			}
		}
		needW := max(c.offBelowW, c.wakesAtW)
		if c.offBelowW > 0 {
			if c.wakeAtMin > 0 && p.wallMinute(wall) == c.wakeAtMin%1440 && off || c.wakeAtMin == 0 && comesW >= needW {
				off, quietMin = false, 0
			}
			switch {
			case off:
			case askW >= needW:
				quietMin = 0
			case float64(quietMin) >= c.offAfterH*60:
				off = true
			default:
				quietMin++
			}
		}
		switch {
		case off && (c.wakeAtMin > 0 || askW < c.wakesAtW):
			out[m] = offByRule
		case off:
			out[m] = dead
		case askW < c.wakesAtW:
			out[m] = feeling
		default:
			out[m] = awake
		}
	}
	return out
}
