package plane

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"tideover/sim/limit"
)

// Surface is a flat array, what stands around it and the ground before it. The zero value lies flat and faces north over
// black ground; start from Default.
type Surface struct {
	TiltDeg           float64   // 0 flat to 90 upright
	TiltByMonth       []float64 // the same, January to December, in place of TiltDeg; nil: never turned
	AzimuthDeg        float64   // of the outward normal, 0..360 clockwise from north; not read when FacesEquator
	FacesEquator      bool      // south north of the equator, north south of it
	GroundReflectance float64   // 0..1, without snow
	SoilingLoss       float64   // share of the light that dirt takes, 0..0.9
	SoilingByMonth    []float64 // the same, January to December, in place of SoilingLoss; nil: the same all year
	SkyModel          SkyModel
	Horizon           Horizon
	Shades            []Shade
}

// Default returns a surface with what need not be typed. Tilt and azimuth are left at 0: nobody can guess them.
func Default() Surface { return Surface{GroundReflectance: 0.2, SoilingLoss: 0.03} }

// Keys lists the parameters as a person types them, reading and writing s.
func (s *Surface) Keys() []limit.Key {
	return []limit.Key{
		limit.Num("tilt_deg", &s.TiltDeg, limit.Between(0, 90), "tilt of the array: 0 flat, 90 upright", "35").Needed(),
		limit.Parsed("azimuth_deg", s.parseAzimuth,
			"where the array faces, clockwise from true north (90 east, 180 south), or the word equator", "180").Needed(),
		limit.Num("ground_reflectance", &s.GroundReflectance, limit.Between(0, 1),
			"share of the light that the ground throws back: 0.2 grass or soil, 0.6 to 0.7 snow", "0.2").
			From("common practice since Liu & Jordan 1963"),
		limit.Num("soiling_loss", &s.SoilingLoss, limit.Between(0, 0.9), "share of the light that dirt takes, all year",
			"0.03").From("common practice"),
		limit.Parsed("soiling_by_month", byMonth(&s.SoilingByMonth, limit.Between(0, 0.9)),
			"the same, January to December, where dust or rain has its season; in place of soiling_loss",
			"[0.02, 0.02, 0.02, 0.03, 0.05, 0.08, 0.08, 0.08, 0.05, 0.03, 0.02, 0.02]").From("soiling_loss all year"),
		limit.Parsed("tilt_by_month", byMonth(&s.TiltByMonth, limit.Between(0, 90)),
			"tilt from January to December, for an array that is turned by hand; in place of tilt_deg",
			"[60, 60, 60, 20, 20, 20, 20, 20, 20, 60, 60, 60]").From("tilt_deg all year"),
		limit.OneOf("sky_model", &s.SkyModel, skyWords,
			"how bright which part of the sky is: around the sun and at the horizon (perez, hdkr), around the sun (hay_davies), nowhere (isotropic)",
			"perez").From("Perez et al. 1990; the reason stands in the package's documentation"),
		limit.Parsed("horizon", s.Horizon.parse,
			"points of what hides the sky, each an azimuth and a height in degrees, joined by straight lines all around",
			"[90 5, 135 20, 180 12, 225 5]").From("open to the level all around"),
	}
}

// byMonth reads twelve numbers.
func byMonth(dst *[]float64, allowed limit.Range) func([]string) error {
	return func(words []string) error {
		if len(words) != 12 {
			return fmt.Errorf("has %s, want twelve, January to December", count(len(words), "value"))
		}
		values := make([]float64, 12)
		for i, w := range words {
			v, err := strconv.ParseFloat(strings.TrimSpace(w), 64)
			if err != nil {
				return fmt.Errorf("%q is not a number", w)
			}
			if msg := allowed.Fault(v); msg != "" {
				hint := ""
				if allowed.Hi <= 1 {
					hint = percentHint(v)
				}
				return fmt.Errorf("%s (%q)%s", msg, w, hint)
			}
			values[i] = v
		}
		*dst = values
		return nil
	}
}

func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

var compass = map[string]string{"north": "0", "east": "90", "south": "180", "west": "270"}

func (s *Surface) parseAzimuth(words []string) error {
	if len(words) != 1 {
		return fmt.Errorf("has %d values, want one: a number from 0 to 360 or the word equator", len(words))
	}
	word := strings.ToLower(words[0])
	if word == "equator" {
		s.FacesEquator, s.AzimuthDeg = true, 0
		return nil
	}
	v, err := strconv.ParseFloat(word, 64)
	if err != nil || strings.Trim(word, "+-.0123456789") != "" {
		msg := fmt.Sprintf("%q is neither a number from 0 to 360 nor the word equator", words[0])
		if deg, ok := compass[word]; ok {
			msg += "; " + word + " is " + deg
		}
		return fmt.Errorf("%s", msg)
	}
	s.FacesEquator, s.AzimuthDeg = false, v // Check says whether it lies in the range
	return nil
}

// Check returns what is wrong with the parameters, in the order of Keys; nil when nothing is.
func (s Surface) Check() []limit.Fault {
	var azimuth []limit.Fault
	if !s.FacesEquator {
		if msg := limit.Between(0, 360).Fault(s.AzimuthDeg); msg != "" {
			if s.AzimuthDeg < 0 && s.AzimuthDeg >= -180 {
				msg += ", clockwise from true north: " + limit.Plain(s.AzimuthDeg) + " is " + limit.Plain(s.AzimuthDeg+360)
			}
			azimuth = append(azimuth, limit.Fault{Key: "azimuth_deg", Msg: msg, Example: "180"})
		}
	}
	var faults []limit.Fault
	for _, f := range limit.Check(s.Keys()) {
		switch f.Key {
		case "tilt_deg":
			if !s.FacesEquator && s.TiltDeg > 90 && s.TiltDeg <= 360 && s.AzimuthDeg >= 0 && s.AzimuthDeg <= 90 {
				f.Msg += ": tilt and azimuth look swapped, as azimuth_deg is " + limit.Plain(s.AzimuthDeg)
			}
		case "ground_reflectance":
			f.Msg += percentHint(s.GroundReflectance)
		case "soiling_loss":
			f.Msg += percentHint(s.SoilingLoss)
		}
		if f.Key != "tilt_deg" {
			faults, azimuth = append(faults, azimuth...), nil // in its place among the keys
		}
		faults = append(faults, f)
	}
	faults = append(faults, azimuth...)
	for _, m := range []struct {
		key     string
		values  []float64
		allowed limit.Range
	}{{"soiling_by_month", s.SoilingByMonth, limit.Between(0, 0.9)}, {"tilt_by_month", s.TiltByMonth, limit.Between(0, 90)}} {
		faults = append(faults, monthFaults(m.key, m.values, m.allowed)...)
	}
	faults = append(faults, s.Horizon.check()...)
	for i := range s.Shades {
		for _, f := range s.Shades[i].Check() {
			f.Key = fmt.Sprintf("shade[%d].%s", i+1, f.Key)
			faults = append(faults, f)
		}
	}
	return faults
}

// monthFaults checks values that were not typed but set.
func monthFaults(key string, values []float64, allowed limit.Range) (faults []limit.Fault) {
	if values == nil {
		return nil
	}
	if len(values) != 12 {
		return []limit.Fault{{Key: key, Msg: fmt.Sprintf("has %s, want twelve, January to December", count(len(values), "value"))}}
	}
	for _, v := range values {
		if msg := allowed.Fault(v); msg != "" {
			return []limit.Fault{{Key: key, Msg: msg}}
		}
	}
	return nil
}

// percentHint names the likely slip behind a fraction of 1 to 100.
func percentHint(v float64) string {
	if !(v >= 1 && v <= 100) {
		return ""
	}
	return fmt.Sprintf(": it looks like percent; %s %% is %s", limit.Plain(v), strconv.FormatFloat(v/100, 'g', 4, 64))
}

// At returns the surface as it stands at a latitude (degrees, north positive): the word equator becomes 180 in the
// north and at 0, and 0 in the south.
func (s Surface) At(latDeg float64) Surface {
	if s.FacesEquator {
		s.FacesEquator, s.AzimuthDeg = false, 180
		if latDeg < 0 {
			s.AzimuthDeg = 0
		}
	}
	return s
}

// FacesPole reports an array that leans more than 10 degrees and faces within 60 degrees of the pole's direction:
// likely an azimuth counted from south, or a system carried across the equator.
func (s Surface) FacesPole(latDeg float64) bool {
	poleDeg := 0.0
	if latDeg < 0 {
		poleDeg = 180
	}
	off := math.Abs(math.Remainder(s.At(latDeg).AzimuthDeg-poleDeg, 360))
	return s.TiltDeg > 10 && off <= 60
}
