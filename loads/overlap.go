package loads

import (
	"math/bits"
	"slices"
)

// ratings are what loads that may be on together count for.
type ratings [4]float64

const (
	onW      = iota // while all run, W
	onVA            // the same, VA
	startW          // while one of them starts and the others run, W; until they are summed up, the most that a start adds
	restartW        // while all start at once, W
)

// plate is what the inverter sees of a load beside its watts.
type plate struct{ vaPerW, start float64 }

func platesOf(list []Load) []plate {
	plates := make([]plate, len(list))
	for k := range list {
		plates[k].vaPerW = 1 / list[k].RunningPF()
		plates[k].start, _ = list[k].Start()
	}
	return plates
}

// ratingsOf is what watts of a load count for; standby has no start.
func ratingsOf(w float64, p plate, use bool) ratings {
	if !use {
		p.start = 1
	}
	return ratings{onW: w, onVA: w * p.vaPerW, startW: w * (p.start - 1), restartW: w * p.start}
}

// add adds a load that may be on beside all that are in r.
func (r *ratings) add(o ratings) {
	r[onW] += o[onW]
	r[onVA] += o[onVA]
	r[startW] = max(r[startW], o[startW])
	r[restartW] += o[restartW]
}

// rivals returns for each load the loads of the same bus that are never on with it, by any rule of either of them. It is
// nil where there are no rules.
func rivals(list []Load) [][]int32 {
	var apart [][]int32
	for k := range list {
		for _, name := range list[k].NotWith {
			for j := range list {
				if list[j].Name != name || j == k || list[j].Bus != list[k].Bus {
					continue
				}
				if apart == nil {
					apart = make([][]int32, len(list))
				}
				if !slices.Contains(apart[k], int32(j)) {
					apart[k], apart[j] = append(apart[k], int32(j)), append(apart[j], int32(k))
				}
			}
		}
	}
	return apart
}

// exactly is up to how many loads, of those on at one moment that rules tie together, the largest permitted set is found.
const exactly = 12

// slot is the use of one load that has rivals, at one moment.
type slot struct {
	load int32
	r    ratings
}

// overlap adds to each step the most that its parts may draw at one moment, and puts the power of a start on top.
func (b *bus) overlap() {
	var m moment
	var here []part
	for i, k := range b.last {
		var x ratings
		for r, column := range b.on {
			if column != nil {
				x[r] = column[i]
			}
		}
		if k == 0 {
			if b.on[startW] != nil {
				b.on[startW][i] += x[onW]
			}
			continue
		}
		for here = here[:0]; k != 0; k = b.parts[k-1].before {
			here = append(here, b.parts[k-1])
		}
		x = m.most(here, x, b, nil)
		for r, column := range b.on {
			if column != nil {
				column[i] = x[r]
			}
		}
	}
}

// moment is what is on at one moment of a step; it is reused.
type moment struct {
	slots, group []slot
	rival        [exactly]uint32
	w            [exactly]float64
}

// most returns the most that the parts of a step and what is on all through it may draw at one moment, each of its ratings
// for itself. With who, it notes the loads that do.
func (m *moment) most(here []part, all ratings, b *bus, who *[4]Peak) ratings {
	out := all
	out[startW] += all[onW]
	var at float64
	for j := range here { // the most is drawn where some load begins
		if j > 0 && here[j].aS == at {
			continue
		}
		at = here[j].aS
		now := all
		m.slots = m.slots[:0]
		var free []int32
		starter, starts := int32(-1), all[startW]
		for k := range here {
			p := &here[k]
			if p.aS > at || at >= p.bS {
				continue
			}
			r := ratingsOf(p.w, b.plates[p.load], p.use)
			switch {
			case b.apart == nil || !p.use || b.apart[p.load] == nil:
				now.add(r)
				if r[startW] > starts {
					starter, starts = p.load, r[startW]
				}
				if who != nil && !slices.Contains(free, p.load) {
					free = append(free, p.load)
				}
			default:
				s := slices.IndexFunc(m.slots, func(s slot) bool { return s.load == p.load })
				if s < 0 {
					m.slots = append(m.slots, slot{p.load, r})
				} else {
					m.slots[s].r.add(r)
				}
			}
		}
		if len(m.slots) <= 1 && who == nil {
			for _, s := range m.slots {
				now.add(s.r)
			}
			now[startW] += now[onW]
			for r := range now {
				out[r] = max(out[r], now[r])
			}
			continue
		}
		sum, chosen, tied := m.permitted(now, b.apart, who != nil)
		if tied >= 0 {
			starter = tied
		}
		for r := range sum {
			if sum[r] > out[r] || who != nil && who[r].On == nil {
				out[r] = max(out[r], sum[r])
				if who != nil {
					who[r].On = nil
					for _, k := range append(slices.Clone(free), chosen[r]...) {
						who[r].On = append(who[r].On, int(k))
					}
					slices.Sort(who[r].On)
					who[r].Starter = -1
					if r == startW {
						who[r].Starter = int(starter)
					}
				}
			}
		}
	}
	return out
}

// permitted adds to now, what is on without rivals, the largest sets of the slots that no rule parts, and puts a start on
// top. chosen are the loads of those sets; tied is the one of them that starts, or -1 where one without rivals does.
func (m *moment) permitted(now ratings, apart [][]int32, choose bool) (sum ratings, chosen [4][]int32, tied int32) {
	sum, tied = now, -1
	extraW := now[startW] // that a start adds to what runs, less what must be off for it
	var swap [2][]int32   // of the set that runs, and of that beside the one that starts
	for len(m.slots) > 0 {
		m.take(apart)
		n := len(m.group)
		if n > exactly {
			c := cover(m.group, apart)
			for r := range sum {
				if r != startW {
					sum[r] += c[r]
				}
			}
			for _, s := range m.group {
				if s.r[startW] > extraW {
					extraW, tied = s.r[startW], s.load
				}
				if choose {
					for r := range chosen {
						chosen[r] = append(chosen[r], s.load)
					}
				}
			}
			continue
		}
		for a := range m.group {
			m.rival[a] = 0
			for b := range m.group {
				if slices.Contains(apart[m.group[a].load], m.group[b].load) {
					m.rival[a] |= 1 << b
				}
			}
		}
		every := uint32(1)<<n - 1
		var runW float64
		var runs uint32
		for _, r := range []int{onVA, restartW, onW} { // power last: the weights stay for the starts
			for a := range m.group {
				m.w[a] = m.group[a].r[r]
			}
			w, set := m.best(every)
			sum[r] += w
			if choose {
				chosen[r] = append(chosen[r], m.loads(set)...)
			}
			runW, runs = w, set
		}
		was := len(chosen[startW])
		if choose {
			chosen[startW] = append(chosen[startW], m.loads(runs)...)
		}
		for a := range m.group {
			if m.group[a].r[startW] == 0 {
				continue
			}
			besideW, set := m.best(every &^ m.rival[a] &^ (1 << a))
			if w := m.w[a] + besideW + m.group[a].r[startW] - runW; w > extraW {
				extraW, tied = w, m.group[a].load
				if choose {
					swap = [2][]int32{chosen[startW][was:], m.loads(set | 1<<a)}
				}
			}
		}
	}
	sum[startW] = sum[onW] + extraW
	if choose && swap[0] != nil && tied >= 0 {
		off := swap[0]
		chosen[startW] = slices.DeleteFunc(slices.Clone(chosen[startW]), func(k int32) bool { return slices.Contains(off, k) })
		chosen[startW] = append(chosen[startW], swap[1]...)
	}
	return sum, chosen, tied
}

// take moves one group, slots that rules tie to each other and to no other slot, from slots to group.
func (m *moment) take(apart [][]int32) {
	m.group = append(m.group[:0], m.slots[len(m.slots)-1])
	m.slots = m.slots[:len(m.slots)-1]
	for a := 0; a < len(m.group); a++ {
		for k := 0; k < len(m.slots); {
			if !slices.Contains(apart[m.group[a].load], m.slots[k].load) {
				k++
				continue
			}
			m.group = append(m.group, m.slots[k])
			m.slots = slices.Delete(m.slots, k, k+1)
		}
	}
}

func (m *moment) loads(set uint32) (list []int32) {
	for ; set != 0; set &= set - 1 {
		list = append(list, m.group[bits.TrailingZeros32(set)].load)
	}
	return list
}

// best is the largest sum of weights of a subset of free in which no two are rivals: the one with the most rivals is in it
// or not.
func (m *moment) best(free uint32) (sum float64, set uint32) {
	pick, most := -1, 0
	for f := free; f != 0; f &= f - 1 {
		a := bits.TrailingZeros32(f)
		if n := bits.OnesCount32(m.rival[a] & free); n > most {
			pick, most = a, n
		}
	}
	if pick < 0 {
		for f := free; f != 0; f &= f - 1 {
			sum += m.w[bits.TrailingZeros32(f)]
		}
		return sum, free
	}
	bit := uint32(1) << pick
	without, out := m.best(free &^ bit)
	with, in := m.best(free &^ bit &^ m.rival[pick])
	if with += m.w[pick]; with >= without {
		return with, in | bit
	}
	return without, out
}

// cover is an upper bound of the same for many slots: they are put into heaps of which no two may be on together, and of
// each heap the most counts.
func cover(group []slot, apart [][]int32) (sum ratings) {
	group = slices.Clone(group)
	for len(group) > 0 {
		heap := []slot{group[0]}
		var rest []slot
		for _, s := range group[1:] {
			if slices.ContainsFunc(heap, func(h slot) bool { return !slices.Contains(apart[s.load], h.load) }) {
				rest = append(rest, s)
			} else {
				heap = append(heap, s)
			}
		}
		var most ratings
		for _, s := range heap {
			for r := range most {
				most[r] = max(most[r], s.r[r])
			}
		}
		for r := range sum {
			sum[r] += most[r]
		}
		group = rest
	}
	return sum
}
