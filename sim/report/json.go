package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"tideover/sim/ledger"
)

// six is a number rounded to 1e-6.
type six float64

// MarshalJSON refuses what JSON cannot hold.
func (v six) MarshalJSON() ([]byte, error) {
	if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
		return nil, fmt.Errorf("report: JSON: %v is not a finite number", float64(v))
	}
	return appendNumber(nil, float64(v), 6), nil
}

// stamp is a time with its offset, null when there is none.
type stamp time.Time

func (t stamp) MarshalJSON() ([]byte, error) {
	if time.Time(t).IsZero() {
		return []byte("null"), nil
	}
	return []byte(time.Time(t).Round(time.Second).Format(`"` + rfc3339 + `"`)), nil
}

// pair and object hold keys in the order written, which maps do not.
type pair struct {
	key   string
	value any
}

type object []pair

func (o object) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, p := range o {
		if i > 0 {
			b.WriteByte(',')
		}
		v, err := json.Marshal(p.value)
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&b, "%q:%s", p.key, v)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// cause is a cause as a key or a word for programs.
func cause(c ledger.Cause) string { return strings.NewReplacer(" ", "_", "-", "_").Replace(c.String()) }

func answerOf(a *ledger.Answer) object {
	return object{
		{"days_without_power", a.DaysWithoutPower},
		{"days_off_by_rule", a.DaysOffByRule},
		{"days_wholly_dark", a.DaysWhollyDark},
		{"hours_without_power", six(a.HoursWithoutPower)},
		{"longest_outage_h", six(a.LongestOutageH)},
		{"unserved_share", six(a.UnservedShare)},
		{"lowest_soc", six(a.LowestSOC)},
		{"lowest_soc_time", stamp(a.LowestSOCTime)},
		{"start_soc", six(a.StartSOC)},
		{"coincident_peak_w", six(a.CoincidentPeakW)},
	}
}

func daysByCause(r *ledger.Run) object {
	var o object
	for c, n := range r.DaysByCause {
		o = append(o, pair{cause(ledger.Cause(c)), n})
	}
	return o
}

// flowsOf lists the light on the array and every term of the four balances.
func flowsOf(sunlightWh float64, f *ledger.Flows) object {
	return append(object{{"sunlight", six(sunlightWh)}}, termsOf(f)...)
}

func termsOf(f *ledger.Flows) object {
	var o object
	for k, v := range f {
		o = append(o, pair{ledger.Flow(k).String(), six(v)})
	}
	return o
}

// ledgerOf adds how well the four balances close.
func ledgerOf(r *ledger.Run) object {
	return append(flowsOf(r.SunlightWh, &r.Total), pair{"residual", json.RawMessage(fmt.Sprintf("%.3g", r.Total.Residual()))})
}

func headerOf(h Header) object {
	return object{
		{"title", h.Title}, {"scenario", h.Scenario}, {"about", h.About}, {"place", h.Place},
		{"weather", h.Weather}, {"system", h.System},
	}
}

func settleOf(h Header, r *ledger.Run) object {
	if h.Carried {
		return object{{"carried_over", true}}
	}
	return object{
		{"typed", r.SettlePasses == 0}, {"passes", r.SettlePasses}, {"settled", r.SettlePasses > 0 && r.Settled},
	}
}

// JSON writes result.json: the header, the answer, the ledger in Wh, months, outages, loads, warnings and notes.
// Numbers are rounded to 1e-6, the residual to three digits; times are of the local clock with its offset.
// A number that is not finite is an error, and nothing is written.
func JSON(w io.Writer, h Header, r *ledger.Run) error { return writeJSON(w, resultOf(h, r)) }

func resultOf(h Header, r *ledger.Run) object {
	months := make([]object, len(r.Months))
	for i := range r.Months {
		m := &r.Months[i]
		months[i] = object{
			{"year", m.Year}, {"month", int(m.Month)}, {"days", m.Days},
			{"days_without_power", m.DaysWithoutPower}, {"days_off_by_rule", m.DaysOffByRule},
			{"lowest_soc", six(m.LowestSOC)}, {"ledger_wh", flowsOf(m.SunlightWh, &m.Wh)},
		}
	}
	outages := make([]object, len(r.Outages))
	for i, o := range r.Outages {
		outages[i] = object{
			{"start", stamp(o.Start)}, {"hours", six(o.Hours)}, {"must_have_hours", six(o.MustHaveHours)},
			{"cause", cause(o.Cause)}, {"unserved_wh", six(o.UnservedWh)},
		}
		if o.Hot {
			outages[i] = append(outages[i], pair{"for_heat", true})
		}
		if c := o.Chain; c != nil {
			before := object{
				{"sun_share", six(c.SunShare)}, {"start_soc", six(c.StartSOC)}, {"standing_share", six(c.StandingShare)},
				{"charge_barred_wh", six(c.BarredWh)}, {"clipped_wh", six(c.ClippedWh)},
			}
			if c.Days < 3 {
				before = append(before, pair{"days", six(c.Days)})
			}
			if c.Off {
				before = append(before, pair{"loads_off", true})
			}
			if c.AsleepWh > 0 {
				before = append(before, pair{"asleep_wh", six(c.AsleepWh)})
			}
			if c.Load != "" {
				before = append(before, pair{"load", c.Load}, pair{"load_wh", six(c.LoadWh)}, pair{"load_on", c.LoadOn.String()})
			}
			outages[i] = append(outages[i], pair{"three_days_before", before})
		}
	}
	loads := make([]object, len(r.Loads))
	for i, l := range r.Loads {
		loads[i] = object{{"name", l.Name}, {"bus", l.Bus}, {"demand_wh", six(l.DemandWh)}}
	}
	o := append(headerOf(h),
		pair{"answer", answerOf(&r.Answer)},
		pair{"cuts", r.Cuts},
		pair{"frost_hours", six(r.FrostHours)},
		pair{"days_by_cause", daysByCause(r)},
		pair{"days_heat_barred", r.DaysHeatBarred},
		pair{"start", settleOf(h, r)},
		pair{"shortage", shortageOf(r)},
		pair{"ledger_wh", ledgerOf(r)},
		pair{"months", months},
		pair{"outages", outages},
		pair{"loads", loads},
		pair{"capacity_wh", six(r.CapacityWh)},
		pair{"disconnect_soc", six(r.DisconnectSOC)},
		pair{"inverter_rated_w", six(r.InverterRatedW)},
		pair{"warnings", list(r.Warnings)},
		pair{"notes", list(r.Notes)},
	)
	if r.Backup != nil {
		o = append(o, pair{"backup", backupOf(r.Backup)})
	}
	if len(r.Waited) > 0 {
		o = append(o, pair{"waited", waitedOf(r.Waited)})
	}
	if h.Stagger != nil {
		o = append(o, pair{"stagger", staggerOf(h.Stagger)})
	}
	if h.Beside != nil {
		o = append(o, besideOf(h.Beside)...)
	}
	return o
}

func shortageOf(r *ledger.Run) object {
	w := r.Why()
	o := object{{"kind", w.Shortage.String()}}
	if w.Month >= 0 {
		m := &r.Months[w.Month]
		o = append(o, pair{"design_month", int(m.Month)}, pair{"year", m.Year}, pair{"harvest_wh_day", six(w.HarvestWh)},
			pair{"charge_barred_wh_day", six(w.BarredWh)}, pair{"need_wh_day", six(w.NeedWh)})
	}
	if w.Shortage == ledger.Storage {
		o = append(o, pair{"store_days_short", six(w.DaysShort)})
	}
	return o
}

// list is an empty list where there is none, never null.
func list(s []string) []string { return append([]string{}, s...) }

func writeJSON(w io.Writer, o object) error {
	b, err := json.MarshalIndent(o, "", "  ")
	if err != nil {
		return err
	}
	_, err = w.Write(append(b, '\n'))
	return err
}

// waitedOf is what the packs of each load that waits did.
func waitedOf(list []ledger.Waited) []object {
	var out []object
	for _, w := range list {
		begun := []stamp{}
		for _, t := range w.Begun {
			begun = append(begun, stamp(t))
		}
		out = append(out, object{{"name", w.Load}, {"at_deadline", w.AtDeadline}, {"mean_wait_h", six(w.MeanH)}, {"begun", begun}})
	}
	return out
}

// backupOf is what the charger beside the sun did.
func backupOf(c *ledger.Charged) object {
	starts := []stamp{}
	for _, t := range c.Starts {
		starts = append(starts, stamp(t))
	}
	return object{{"hours", six(c.Hours)}, {"backup_input_wh", six(c.InputWh)}, {"fuel_l", six(c.FuelL)}, {"starts", starts}}
}
