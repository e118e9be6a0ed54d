package loads

import (
	"cmp"
	"slices"
)

// Use is a stretch of the run in which an AC load may draw w at any moment, or stands by with it.
type Use struct {
	fromS, toS, w float64
	standby       bool
}

// Uses returns when an AC load may be on in the run, in the sense of Coincide: once for many questions by Together. Of a
// DC load it is nil.
func Uses(p Place, l Load) []Use {
	p.AnyMoment, p.Defer, p.ShedBelow = true, false, 0
	_, buses := gather(p, []Load{l}, everyStep)
	var out []Use
	open := make([]int, 0, 4) // places in out of those that may go on in the next step
	b := &buses[AC]
	for _, k := range b.last {
		var here []part
		for ; k != 0; k = b.parts[k-1].before {
			here = append(here, b.parts[k-1])
		}
		slices.Reverse(here)
		var next []int
		for _, x := range here {
			at := slices.IndexFunc(open, func(o int) bool {
				return out[o].toS == x.aS && out[o].w == x.w && out[o].standby == !x.use
			})
			if at >= 0 {
				o := open[at]
				out[o].toS = x.bS
				open = slices.Delete(open, at, at+1)
				next = append(next, o)
				continue
			}
			out = append(out, Use{x.aS, x.bS, x.w, !x.use})
			next = append(next, len(out)-1)
		}
		open = append(open[:0], next...)
	}
	slices.SortStableFunc(out, func(a, b Use) int { return cmp.Compare(a.fromS, b.fromS) })
	return out
}

// Hours is how long a load may be in use, h.
func Hours(uses []Use) (h float64) {
	for _, u := range uses {
		if !u.standby {
			h += (u.toS - u.fromS) / 3600
		}
	}
	return h
}

// Together returns what Coincide does for the AC bus, from uses made before: uses[k] are those of list[k]. The steps of the
// peaks are not told.
func Together(list []Load, uses [][]Use) Peaks {
	b := &bus{apart: rivals(list), plates: platesOf(list)}
	next := make([]int, len(list))
	var worst [4][]part
	var here []part
	var m moment
	var most ratings
	for {
		k, fromS := -1, 0.0
		for j := range list {
			if n := next[j]; n < len(uses[j]) && (k < 0 || uses[j][n].fromS < fromS) {
				k, fromS = j, uses[j][n].fromS
			}
		}
		if k < 0 {
			break
		}
		here = slices.DeleteFunc(here, func(x part) bool { return x.bS <= fromS })
		for j := range list {
			for ; next[j] < len(uses[j]) && uses[j][next[j]].fromS == fromS; next[j]++ {
				u := &uses[j][next[j]]
				here = append(here, part{load: int32(j), use: !u.standby, bS: u.toS, w: u.w})
			}
		}
		for i := range here {
			here[i].aS = fromS
		}
		now := m.most(here, ratings{}, b, nil)
		for r, w := range now {
			if w > most[r] {
				most[r] = w
				worst[r] = append(worst[r][:0], here...)
			}
		}
	}
	var out Peaks
	for r, peak := range []*Peak{onW: &out.RunW, onVA: &out.RunVA, startW: &out.StartW, restartW: &out.RestartW} {
		peak.Most, peak.Starter = most[r], -1
		if most[r] == 0 {
			continue
		}
		var who [4]Peak
		m.most(worst[r], ratings{}, b, &who)
		peak.On, peak.Starter = who[r].On, who[r].Starter
		if peak.Starter >= 0 {
			_, peak.StartS = list[peak.Starter].Start()
		}
	}
	return out
}
