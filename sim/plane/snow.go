package plane

import (
	"cmp"
	"math"
	"slices"

	"tideover/sim/limit"
)

// Snow is what a person types of the snow at a place. It goes before a column of depth that the weather may have, as who
// types it knows the place, and few files hold a measured depth. The zero value has no snow.
type Snow struct {
	FallDays    []float64 // days a month on which at least a centimetre falls, January to December; nil: not known
	DepthCM     []float64 // mean depth on the ground, January to December; nil: not known
	Reflectance float64   // of snow on the ground, 0..1
	Swept       bool      // somebody clears the modules each morning at 9 h, standard time
}

// DefaultSnow returns a place of which nothing is known.
func DefaultSnow() Snow { return Snow{Reflectance: 0.65} }

// Known reports whether days or depths are given.
func (s Snow) Known() bool { return s.FallDays != nil || s.DepthCM != nil }

// Keys lists the parameters as a person types them, reading and writing s.
func (s *Snow) Keys() []limit.Key {
	return []limit.Key{
		limit.Parsed("fall_days", byMonth(&s.FallDays, limit.Between(0, 31)),
			"days of each month, January to December, on which at least 1 cm of snow falls", "[6, 5, 3, 1, 0, 0, 0, 0, 0, 0, 2, 5]").
			From("none; the weather's own column of snow depth where it has one"),
		limit.Parsed("depth_cm", byMonth(&s.DepthCM, limit.Between(0, 1000)),
			"mean depth of snow on the ground in each month, January to December", "[12, 15, 6, 0, 0, 0, 0, 0, 0, 0, 2, 8]").
			From("none; the weather's own column of snow depth where it has one"),
		limit.Num("reflectance", &s.Reflectance, limit.Between(0, 1), "share of the light that snow on the ground throws back", "0.65").
			From("0.6 to 0.7, common practice"),
		limit.Bool("swept", &s.Swept, "somebody clears the modules of snow each morning at 9:00 standard time", "true").
			From("nobody does"),
	}
}

// Check returns what is wrong with the parameters; nil when nothing is.
func (s Snow) Check() []limit.Fault {
	faults := monthFaults("fall_days", s.FallDays, limit.Between(0, 31))
	faults = append(faults, monthFaults("depth_cm", s.DepthCM, limit.Between(0, 1000))...)
	for _, f := range limit.Check(s.Keys()) {
		if f.Key == "reflectance" {
			f.Msg += percentHint(s.Reflectance)
		}
		faults = append(faults, f)
	}
	return faults
}

// groundCM is the depth from which the ground is white all over; below, in proportion. A guess: grass shows through less.
const groundCM = 5

// Fallen is what snow does at each step, before it is known how long it lies on the modules.
type Fallen struct {
	Fresh  []bool    // new snow that covers the modules whole
	Ground []float64 // share of the ground that is white, 0..1
}

// FromDepth reads a column of depths on the ground, cm, perHour steps to the hour: where the depth has grown by a centimetre
// or more within an hour, fresh snow covers the modules (Marion et al. 2013 ask for 1 cm in an hour, see Lying).
func FromDepth(depthCM []float64, perHour int) Fallen {
	f := Fallen{make([]bool, len(depthCM)), make([]float64, len(depthCM))}
	counted := -1 // the last step that fell; what lies since is no longer fresh
	for i, d := range depthCM {
		f.Ground[i] = min(1, max(0, d)/groundCM)
		for j := max(0, i-perHour, counted); j < i && !f.Fresh[i]; j++ {
			f.Fresh[i] = d-depthCM[j] >= 1-1e-9
		}
		if f.Fresh[i] {
			counted = i
		}
	}
	return f
}

// FromMonths makes falls of the typed days. The snow of a month comes on its dullest days among those no warmer than 2 degC
// in the mean, as it comes from clouds; where there are too few, on the coldest of the others. It falls before dawn.
// monthOf (0..11), ghiWm2 and airC are columns of days whole steps of perDay each, from midnight.
func (s Snow) FromMonths(monthOf []int, ghiWm2, airC []float64, perDay int) Fallen {
	n := len(ghiWm2)
	f := Fallen{make([]bool, n), make([]float64, n)}
	type day struct {
		first, index int
		light, airC  float64
	}
	for from := 0; from < n; {
		month := monthOf[from]
		var days []day
		to := from
		for ; to < n && monthOf[to] == month; to += perDay {
			d := day{first: to, index: len(days)}
			for i := to; i < min(n, to+perDay); i++ {
				d.light += ghiWm2[i]
				d.airC += airC[i] / float64(min(n, to+perDay)-to)
				if s.DepthCM != nil {
					f.Ground[i] = min(1, s.DepthCM[month]/groundCM)
				}
			}
			days = append(days, d)
		}
		from = to
		if s.FallDays == nil {
			continue
		}
		const snowC = 2
		slices.SortStableFunc(days, func(a, b day) int {
			if cold := cmp.Compare(max(snowC, a.airC), max(snowC, b.airC)); cold != 0 {
				return cold
			}
			return cmp.Compare(a.light, b.light)
		})
		falls := int(math.Round(s.FallDays[month] * min(1, float64(len(days))/28)))
		for _, d := range days[:min(len(days), falls)] {
			f.Fresh[d.first] = true
		}
	}
	return f
}

// meltKH is the warmth above freezing, K h, that melts a fall from modules on which it does not slide. A guess: 5 mm of
// water at 3 to 4 mm a day and kelvin.
const meltKH = 36

// Lying returns the share of the slant height of the modules that snow covers after a step of stepH hours, from the share
// before it. Fresh snow covers all; in any step whose air (degC) is warmer than -planeWm2/80 what lies slides by 1.97
// sin(tilt) tenths of the slant height an hour. planeWm2 is the light on the plane above the snow.
//
// B. Marion, R. Schaefer, H. Caine, G. Sanchez, "Measured and modeled photovoltaic system energy losses from snow for
// Colorado and Wisconsin locations", Solar Energy 97 (2013) 112-121; constants for modules on a roof, from memory, NOT
// verified. Melting where it lies is added, as a flat array would never clear.
func Lying(covered float64, fresh bool, planeWm2, airC, tiltDeg, stepH float64) float64 {
	if fresh {
		return 1
	}
	if covered > 0 && airC > -planeWm2/80 {
		covered -= 0.197 * math.Sin(tiltDeg*math.Pi/180) * stepH
	}
	if covered > 0 && airC > 0 {
		covered -= airC / meltKH * stepH
	}
	return max(0, covered)
}
