package scenarios

import "strings"

// Nearest returns the word most like s, or "" where none is near enough to be meant.
func Nearest(s string, words []string) string {
	best, bestDistance := "", 0
	for _, w := range words {
		limit := max(1, len(w)/3)
		if d := distance(fold(s), fold(w), limit); d <= limit && (best == "" || d < bestDistance) {
			best, bestDistance = w, d
		}
	}
	return best
}

// fold takes away what people mix up without meaning anything by it.
func fold(s string) string {
	return strings.NewReplacer("-", "_", " ", "_").Replace(strings.ToLower(s))
}

// distance counts the letters to insert, drop, replace or swap with a neighbour to turn a into b. It gives up beyond
// limit and returns limit+1. Optimal string alignment: V. I. Levenshtein (1966) with the swap of F. J. Damerau (1964),
// no part edited twice. [From memory; the recurrence is checked by hand-counted words in the test.]
func distance(a, b string, limit int) int {
	if len(a) > 4*len(b)+4*limit { // a letter has at most 4 bytes, so this is past the limit
		return limit + 1
	}
	s, t := []rune(a), []rune(b)
	if d := len(s) - len(t); d > limit || -d > limit {
		return limit + 1
	}
	before, row, next := make([]int, len(t)+1), make([]int, len(t)+1), make([]int, len(t)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(s); i++ {
		next[0] = i
		for j := 1; j <= len(t); j++ {
			change := row[j-1]
			if s[i-1] != t[j-1] {
				change++
			}
			next[j] = min(change, row[j]+1, next[j-1]+1)
			if i > 1 && j > 1 && s[i-1] == t[j-2] && s[i-2] == t[j-1] {
				next[j] = min(next[j], before[j-2]+1)
			}
		}
		before, row, next = row, next, before
	}
	return min(row[len(t)], limit+1)
}

// unitNames are the unit words at the end of a key, as print writes them.
var unitNames = map[string]string{
	"w": "W", "kw": "kW", "va": "VA", "wh": "Wh", "kwh": "kWh", "v": "V", "mv": "mV", "a": "A", "ma": "mA", "ah": "Ah", "mah": "mAh",
	"ohm": "ohm", "mohm": "milliohm", "deg": "degrees", "rad": "radians", "c": "degC", "f": "degF", "k": "K", "m": "m", "cm": "cm", "mm": "mm",
	"km": "km", "m2": "m2", "mm2": "mm2", "minutes": "minutes", "hour": "hours",
	"watt": "W", "watts": "W", "volt": "V", "volts": "V", "amp": "A", "amps": "A", "degrees": "degrees", "ohms": "ohm", "wm2": "W/m2", "ms": "m/s", "s": "seconds", "sec": "seconds", "min": "minutes", "h": "hours",
	"hours": "hours", "days": "days", "years": "years", "pct": "percent", "percent": "percent", "l": "litres", "kg": "kg",
	"month": "month", "day": "day", "year": "year", "awg": "AWG",
}

// unit splits a key into what it measures and the unit at its end: "capacity_ah" is "capacity", "Ah", and
// "tempco_pct_per_k" is "tempco", "percent/K". The unit is "" where the key names none.
func unit(key string) (stem, unit string) {
	stem = key
	for {
		i := strings.LastIndexByte(stem, '_')
		if i <= 0 {
			return stem, unit
		}
		name, ok := unitNames[stem[i+1:]]
		switch {
		case stem[i+1:] == "per" && unit != "":
			unit = "/" + unit
		case ok && (unit == "" || unit[0] == '/'):
			unit = name + unit
		default:
			return stem, unit
		}
		stem = stem[:i]
	}
}

// otherUnit finds the known key that measures the same in another unit, or is written in another way, and says so in a
// few words: "it is typed in Ah: capacity_ah".
func otherUnit(key string, known []string) (word, why string) {
	if len(key) > 60 {
		return "", ""
	}
	stem, its := unit(fold(key))
	for _, k := range known {
		s, u := unit(k)
		if s != stem {
			continue
		}
		switch {
		case u == its:
			return k, "did you mean " + k + "?"
		case u == "":
			return k, "it is typed without a unit: " + k
		case its == "":
			return k, "its name carries the unit: " + k
		}
		return k, "it is typed in " + u + ": " + k
	}
	return "", ""
}
