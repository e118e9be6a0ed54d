package sim

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"tideover/sim/controller"
	"tideover/sim/ledger"
)

// Energy that was not started is told of from such a share of what the array offers in the run, or in one of its months; of the
// reasons, those of such a share of it: guesses.
const toldOfRun, toldOfMonth, toldOfReasons = 0.01, 0.05, 0.1

// notStarted says why the array did not start where that took more than a trifle, or "". Each step is put to one reason, by its
// mean light, warmth and voltage.
func (p *Prepared) notStarted(r *ledger.Run) string {
	worst, share := -1, 0.0
	for i := range r.Months {
		if m := &r.Months[i]; m.Wh[ledger.Array] > 0 && m.Wh[ledger.NotStarted]/m.Wh[ledger.Array] > share {
			worst, share = i, m.Wh[ledger.NotStarted]/m.Wh[ledger.Array]
		}
	}
	all := r.Total[ledger.NotStarted]
	if worst < 0 || all < toldOfRun*r.Total[ledger.Array] && share < toldOfMonth {
		return ""
	}
	type reason struct {
		words string
		wh    float64
	}
	reasons := make(map[string]float64)
	for i, w := range r.Hours.FlowW[ledger.NotStarted] {
		if w > 0 {
			reasons[p.whyNotStarted(i, r.Hours)] += w * p.stepH
		}
	}
	var list []reason
	for words, wh := range reasons {
		if wh >= toldOfReasons*all {
			list = append(list, reason{words, wh})
		}
	}
	slices.SortFunc(list, func(a, b reason) int { return cmp.Or(cmp.Compare(b.wh, a.wh), cmp.Compare(a.words, b.words)) })
	text := fmt.Sprintf("not started: %.1f %% of what the array offers, %.0f %% in %v", 100*all/r.Total[ledger.Array], 100*share, r.Months[worst].Month)
	if len(list) == 1 {
		return text + ", " + list[0].words
	}
	var words []string
	for _, v := range list {
		words = append(words, fmt.Sprintf("%.0f %% of it %s", 100*v.wh/all, v.words))
	}
	return text + ": " + strings.Join(words, ", ")
}

const tooWarm = "on panels so warm that their voltage is too low (more of them in series lift it)"

// whyNotStarted is the reason of a step.
func (p *Prepared) whyNotStarted(i int, h *ledger.Hours) string {
	switch {
	case p.steps[i].carried:
		return "with the battery away"
	case h.AsleepW[i] > 0:
		return "as all sleep, the battery flat"
	case p.light.stopped[i]&bySnow != 0:
		return "under snow"
	case p.light.stopped[i]&byWarmth != 0:
		return tooWarm
	}
	controllers := p.sys.Controllers()
	for _, sub := range p.sys.SubArrays() {
		c, a := &controllers[sub.Feeds].Controller, &sub.Array
		openV := a.OcVoltageV(h.PlaneWm2[i], h.CellTempC[i])
		switch {
		case openV > c.MaxInputV:
			return "over the controller's highest voltage"
		case c.Kind == controller.PWM && h.CellTempC[i] > 25 && openV < c.StartV(h.BatteryV[i]) && a.OcVoltageV(h.PlaneWm2[i], 25) > c.StartV(h.BatteryV[i]):
			return tooWarm
		}
	}
	return "in light too dim to begin"
}
