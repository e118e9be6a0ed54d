package climate

import (
	"encoding/binary"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"
)

// The slow part of the chain of clearness: fitted to measured series, our own.
const (
	slowShare = 0.13 // of the variance
	slowKeep  = 0.82 // from day to day: a memory of five days

	lagOfNormal = 0.96 // correlation of clearness over that of the normal numbers behind it
)

// fastKeep returns the day-to-day correlation of the fast part for which clearness has the given one.
func fastKeep(lag1 float64) float64 {
	return max(0, (lag1/lagOfNormal-slowShare*slowKeep)/(1-slowShare))
}

// days is the state of the weather of a day: three chains with mean 0 and standard deviation 1.
type days struct {
	fast, slow float64 // of clearness
	warm       float64 // of temperature, the part that does not follow the light
}

// light returns the normal number behind the day's clearness.
func (s days) light() float64 {
	return math.Sqrt(1-slowShare)*s.fast + math.Sqrt(slowShare)*s.slow
}

func (s days) next(d draws, fastLag1 float64) days {
	step := func(now, keep float64) float64 { return keep*now + math.Sqrt(1-keep*keep)*d.normal() }
	return days{step(s.fast, fastLag1), step(s.slow, slowKeep), step(s.warm, warmKeep)}
}

// draws is a stream of random numbers.
type draws struct{ *rand.ChaCha8 }

// The streams of a year are apart, so that one does not move another.
const (
	streamDays = iota
	streamHours
	streamMeans
	streamSwing
)

// stream returns the draws of one kind for year k of a seed.
func stream(seed uint64, k, kind int) draws {
	var key [32]byte
	binary.LittleEndian.PutUint64(key[:], seed)
	binary.LittleEndian.PutUint64(key[8:], uint64(int64(k)))
	binary.LittleEndian.PutUint64(key[16:], uint64(kind))
	return draws{rand.NewChaCha8(key)}
}

// uniform returns a number above 0 and below 1.
func (d draws) uniform() float64 { return (float64(d.Uint64()>>11) + 0.5) / (1 << 53) }

// normal returns a standard normal number. The quantile is used, not the library's own generator, whose method may change.
func (d draws) normal() float64 { return distuv.UnitNormal.Quantile(d.uniform()) }

// yearOfDays returns the state of each of n days of year k of a seed. Each year has its own draws; it goes on from the
// state that those of the year before, of before days, lead to. What that year itself started from is forgotten by then
// (0.82^365), so the years join, and none needs more than the one before.
func yearOfDays(seed uint64, k, before, n int, fastLag1 float64) []days {
	start := func(d draws) days { return days{d.normal(), d.normal(), d.normal()} }
	d := stream(seed, k-1, streamDays)
	state := start(d)
	for range before {
		state = state.next(d, fastLag1)
	}
	d = stream(seed, k, streamDays)
	start(d)
	year := make([]days, n)
	for i := range year {
		state = state.next(d, fastLag1)
		year[i] = state
	}
	return year
}
