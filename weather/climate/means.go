package climate

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"tideover/sim/limit"
)

// Means is a climate as a person types it: twelve monthly means, January to December, and how many years are behind them.
// The place they belong to (coordinates, offset) is typed elsewhere.
type Means struct {
	GHIKWhM2Day, TempMeanC, TempMinC, TempMaxC []float64 // twelve each; nil: not typed
	Years                                      int       // 0: not known
}

// Ranges of one month. They leave room for the day's course and the odd hot or cold day.
var (
	monthLightRange = limit.Between(0, 15)
	monthTempRange  = limit.Between(-60, 40)
)

// maxRangeK is the widest mean daily range of temperature.
const maxRangeK = 30.0

// Keys declares what a person may type. The ranges of the lists are looked at by Check.
func (t *Means) Keys() []limit.Key {
	twelve := func(name string, into *[]float64, doc, example string) limit.Key {
		return limit.Parsed(name, func(words []string) (err error) {
			*into, err = twelveNumbers(words)
			return err
		}, doc, example).Needed()
	}
	return []limit.Key{
		twelve("ghi_kwh_m2_day", &t.GHIKWhM2Day, "light on the level, kWh/m2 on the mean day of each month, January to December",
			"[0.64, 1.35, 2.60, 4.17, 5.09, 5.16, 5.13, 4.35, 3.08, 1.70, 0.84, 0.49]"),
		twelve("temp_mean_c", &t.TempMeanC, "mean air temperature of each month, degC",
			"[4.2, 4.1, 6.5, 10.2, 13.6, 16.6, 18.3, 18.0, 14.9, 11.5, 7.4, 5.9]"),
		twelve("temp_min_c", &t.TempMinC, "mean of the daily minima of each month, degC",
			"[1.7, 1.1, 2.3, 4.9, 8.1, 11.5, 13.2, 12.8, 10.1, 8.0, 4.4, 3.5]"),
		twelve("temp_max_c", &t.TempMaxC, "mean of the daily maxima of each month, degC",
			"[6.4, 7.0, 10.4, 14.9, 18.1, 20.8, 22.6, 22.6, 19.4, 15.1, 10.2, 8.0]"),
		limit.Int("years", &t.Years, limit.Between(0, 1000),
			"real years behind the means, 1 for a typical year; few years widen the spread between synthetic ones", "10").
			From("not known: the means are taken as exact"),
	}
}

func twelveNumbers(words []string) ([]float64, error) {
	if len(words) != 12 {
		return nil, fmt.Errorf("wants twelve numbers, January to December; %d given", len(words))
	}
	values := make([]float64, 12)
	for i, w := range words {
		v, err := strconv.ParseFloat(w, 64)
		if err != nil || strings.ContainsAny(w, "_xXpPnN") { // no 1_000, hexadecimal, nan or inf
			return nil, fmt.Errorf("%q, of %v, is not a number", w, time.Month(i+1))
		}
		values[i] = v
	}
	return values, nil
}

// Check returns what is wrong with the numbers by themselves. Whether the sun can give so much at a place, and whether
// the temperatures are in order, Place.Check says once the place is known.
func (t *Means) Check() []limit.Fault {
	keys := t.Keys()
	faults := limit.Check(keys)
	for i, list := range []struct {
		values  []float64
		allowed limit.Range
	}{{t.GHIKWhM2Day, monthLightRange}, {t.TempMeanC, monthTempRange}, {t.TempMinC, limit.Between(-90, 40)}, {t.TempMaxC, limit.Between(-60, 60)}} {
		fault := func(msg string) {
			faults = append(faults, limit.Fault{Key: keys[i].Name, Msg: msg, Example: keys[i].Example})
		}
		if len(list.values) != 12 {
			fault(fmt.Sprintf("wants twelve numbers, January to December; %d given", len(list.values)))
			continue
		}
		for m, v := range list.values {
			if msg := list.allowed.Fault(v); msg != "" {
				fault(fmt.Sprintf("%v: %s", time.Month(m+1), msg))
			}
		}
	}
	if len(faults) > 0 {
		return faults
	}
	for m := range 12 {
		if msg := orderFault(t.TempMinC[m], t.TempMeanC[m], t.TempMaxC[m]); msg != "" {
			faults = append(faults, limit.Fault{Key: "temp_mean_c", Msg: fmt.Sprintf("%v: %s", time.Month(m+1), msg), Example: keys[1].Example})
		}
	}
	return faults
}

// orderFault says what is wrong with a month's temperatures together, or "".
func orderFault(low, mean, high float64) string {
	if low <= mean && mean <= high && high-low <= maxRangeK {
		return ""
	}
	return fmt.Sprintf("minimum %g, mean %g, maximum %g are not in order, at most %g apart", low, mean, high, maxRangeK)
}

// Place returns the means at a place, whose name, coordinates, elevation and offset the caller has; call its Check. It
// panics unless each list has twelve numbers.
func (t *Means) Place(at Place) Place {
	for i, list := range [][]float64{t.GHIKWhM2Day, t.TempMeanC, t.TempMinC, t.TempMaxC} {
		if len(list) != 12 {
			panic(fmt.Sprintf("climate: Means.Place: list %d has %d numbers, want 12", i, len(list)))
		}
	}
	at.GHIKWhM2Day, at.TempMeanC = [12]float64(t.GHIKWhM2Day), [12]float64(t.TempMeanC)
	at.TempMinC, at.TempMaxC = [12]float64(t.TempMinC), [12]float64(t.TempMaxC)
	at.Years, at.Source = t.Years, "twelve monthly means, typed"
	return at
}
