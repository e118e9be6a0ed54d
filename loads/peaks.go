package loads

// Peak is the most of one of the ratings in the run, and the loads that are then on.
type Peak struct {
	Most    float64 // W, or VA
	Step    int     // the first that has it
	On      []int   // places in the list, in its order
	Starter int     // the one that starts while the others run, or -1
	StartS  float64 // how long its start lasts, s
}

// Peaks are the ratings that one bus must carry in the run.
type Peaks struct {
	RunW, RunVA Peak // all that may run at one moment
	StartW      Peak // the same while one of them starts
	RestartW    Peak // all that may run at one moment start together, as after a cut
}

// Coincide returns the most that the loads of a bus may draw at one moment of the run, in the sense of ACOnW: what comes at
// moments drawn by lot, or waits, may come at any that is allowed, and nothing is shed. Of more than 12 loads that rules tie
// together and that may be on at one moment the most is an upper bound, and On names all of them.
func Coincide(p Place, list []Load, side Bus) Peaks {
	p.AnyMoment, p.Defer, p.ShedBelow = true, false, 0
	_, buses := gather(p, list, noStep, onW, onVA, startW, restartW)
	b := &buses[side]
	b.overlap()
	var out Peaks
	for r, peak := range []*Peak{onW: &out.RunW, onVA: &out.RunVA, startW: &out.StartW, restartW: &out.RestartW} {
		if side == DC && r == onVA {
			*peak = out.RunW
			continue
		}
		for i, w := range b.on[r] {
			if w > peak.Most {
				peak.Most, peak.Step = w, i
			}
		}
		if peak.Starter = -1; peak.Most == 0 {
			continue
		}
		_, again := gather(p, list, peak.Step)
		var m moment
		var who [4]Peak
		m.most(again[side].parts, ratings{}, b, &who)
		peak.On, peak.Starter = who[r].On, who[r].Starter
		if peak.Starter >= 0 {
			_, peak.StartS = list[peak.Starter].Start()
		}
	}
	return out
}
