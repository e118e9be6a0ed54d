package report

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"tideover/sim/ledger"
)

// rfc3339 always carries the offset in digits, UTC too.
const rfc3339 = "2006-01-02T15:04:05-07:00"

// column is one column of hourly.csv.
type column struct {
	name     string
	values   []float64
	decimals int
}

// hourlyColumns lists the columns after time, in the order of the energy path.
func hourlyColumns(h *ledger.Hours) []column {
	cols := []column{
		{"ghi_wm2", h.GHIWm2, 5}, {"dni_wm2", h.DNIWm2, 5}, {"dhi_wm2", h.DHIWm2, 5}, {"air_temp_c", h.AirTempC, 5},
		{"plane_wm2", h.PlaneWm2, 5}, {"cell_temp_c", h.CellTempC, 5},
	}
	for f := range ledger.NFlows {
		cols = append(cols, column{f.String() + "_w", h.FlowW[f], 5})
	}
	return append(cols,
		column{"ac_demand_w", h.ACDemandW, 5}, column{"dc_demand_w", h.DCDemandW, 5},
		column{"battery_w", h.BatteryW, 5}, column{"battery_v", h.BatteryV, 5},
		column{"battery_temp_c", h.BatteryTempC, 5}, column{"soc", h.SOC, 6})
}

// CSV writes hourly.csv: one line a step, the time at its end with the offset, flows as mean W, soc at the end.
// It panics when a column is not as long as the times: our bug.
func CSV(w io.Writer, h *ledger.Hours) error {
	cols := hourlyColumns(h)
	b := append(make([]byte, 0, 1<<16), "time"...)
	for _, c := range cols {
		if len(c.values) != len(h.End) {
			panic(fmt.Sprintf("report: CSV: column %s holds %d values, want %d", c.name, len(c.values), len(h.End)))
		}
		b = append(append(b, ','), c.name...)
	}
	b = append(b, '\n')
	for i, end := range h.End {
		b = end.Round(time.Second).AppendFormat(b, rfc3339)
		for _, c := range cols {
			b = appendNumber(append(b, ','), c.values[i], c.decimals)
		}
		b = append(b, '\n')
		if len(b) > 1<<15 {
			if _, err := w.Write(b); err != nil {
				return err
			}
			b = b[:0]
		}
	}
	_, err := w.Write(b)
	return err
}

var powers = [...]int64{1, 10, 100, 1000, 10_000, 100_000, 1_000_000}

// appendNumber appends v with up to the decimals given, zeros at the end left out, no exponent and no minus zero.
// It goes through a whole number because strconv is several times slower at a fixed number of decimals.
func appendNumber(b []byte, v float64, decimals int) []byte {
	unit := powers[decimals]
	scaled := math.Round(v * float64(unit))
	if !(math.Abs(scaled) < 1<<53) {
		return strconv.AppendFloat(b, v, 'f', -1, 64)
	}
	n := int64(scaled)
	if n < 0 {
		b, n = append(b, '-'), -n
	}
	b = strconv.AppendInt(b, n/unit, 10)
	rest := n % unit
	if rest == 0 {
		return b
	}
	b = append(b, '.')
	for rest > 0 {
		unit /= 10
		b = append(b, byte('0'+rest/unit))
		rest %= unit
	}
	return b
}
