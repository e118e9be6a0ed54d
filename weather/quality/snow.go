package quality

import "fmt"

// absurdSnow looks for snow that cannot lie or fall. A guess by arithmetic, not by files: a day with a mean of 15 degC
// melts about 9 cm of water (6 mm a day and kelvin), a winter's pack in ten days, so more than ten such days with a
// centimetre or more on the ground, one after another, do not occur. Nor does snow of 10 cm fall in a day that is nowhere
// colder than 8 degC, nor a metre come or go in an hour. The second is told from the third
// day on, as a reading may be late.
func (h *hours) absurdSnow() []Flaw {
	if h.snow == nil {
		return nil
	}
	const (
		warmC, warmDays = 15.0, 10
		fallC, fallCM   = 8.0, 10.0
		jumpCM          = 100.0
	)
	var flaws []Flaw
	var warm, fall, jump tally
	run := 0
	for from := 0; from+24 <= h.n; from += 24 {
		var mean float64
		coldest := h.temp[from]
		for _, c := range h.temp[from : from+24] {
			mean += c / 24
			coldest = min(coldest, c)
		}
		last := from + 23
		if run++; mean <= warmC || h.snow[last] < 1 {
			run = 0
		}
		if run > warmDays {
			if run == warmDays+1 {
				warm.n += warmDays // those before
			}
			warm.hit(last, mean)
		}
		if from > 0 && coldest > fallC && h.snow[last]-h.snow[from-1] >= fallCM {
			fall.hit(last, h.snow[last]-h.snow[from-1])
		}
	}
	for i := 1; i < h.n; i++ {
		if d := h.snow[i] - h.snow[i-1]; d > jumpCM || -d > jumpCM {
			jump.hit(i, max(d, -d))
		}
	}
	if warm.n > 0 {
		flaws = append(flaws, Flaw{Kind: Snow, Hours: 24 * warm.n, Msg: fmt.Sprintf(
			"absurd snow: it lies on %d days in spells of more than %d with a mean above %g C, at %.1f C for one (%.0f cm, %s)",
			warm.n, warmDays, warmC, warm.most, h.snow[warm.at], h.when(warm.at))})
	}
	if fall.n > 2 {
		flaws = append(flaws, Flaw{Kind: Snow, Hours: 24 * fall.n, Msg: fmt.Sprintf(
			"absurd snow: it grows by %g cm or more on %d days that are nowhere colder than %g C, up to %.0f cm (%s)",
			fallCM, fall.n, fallC, fall.most, h.when(fall.at))})
	}
	if jump.n > 0 {
		flaws = append(flaws, Flaw{Kind: Snow, Hours: jump.n, Msg: fmt.Sprintf(
			"absurd snow: %d jumps of more than %g cm from hour to hour, up to %.0f cm (%s)", jump.n, jumpCM, jump.most, h.when(jump.at))})
	}
	return flaws
}
