// Package plane turns sun and sky into the light on the plane of the array, W/m2.
//
// It takes plain numbers: where the sun is, and what falls on level ground. Azimuths run clockwise from true north
// (90 east, 180 south); tilt is 0 flat, 90 upright; every irradiance is a mean over the step.
package plane

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"tideover/sim/limit"
)

// Surface is a fixed, flat array and the ground before it. The zero value lies flat and faces north over black ground;
// start from Default.
type Surface struct {
	TiltDeg           float64 // 0 flat to 90 upright
	AzimuthDeg        float64 // of the outward normal, 0..360 clockwise from north; not read when FacesEquator
	FacesEquator      bool    // south north of the equator, north south of it
	GroundReflectance float64 // 0..1
	SoilingLoss       float64 // share of the light that dirt takes, 0..0.9
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
	}
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
	return append(faults, azimuth...)
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
