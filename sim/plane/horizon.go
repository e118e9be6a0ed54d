package plane

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/integrate/quad"

	"tideover/sim/limit"
)

// HorizonPoint is a point of what hides the sky: its azimuth, 0..360 clockwise from north, and its height above the level,
// 0..89 degrees.
type HorizonPoint struct{ AzimuthDeg, HeightDeg float64 }

// Horizon is such points by rising azimuth, joined by straight lines all around; two at one azimuth make an upright edge.
// The zero value is open to the level.
type Horizon []HorizonPoint

// parse reads points, each as "135 20".
func (h *Horizon) parse(words []string) error {
	var points Horizon
	for _, w := range words {
		f := strings.Fields(w)
		if len(f) != 2 {
			return fmt.Errorf("%q is not an azimuth and a height; write it as 135 20", w)
		}
		var v [2]float64
		for i, name := range []string{"azimuth", "height"} {
			var err error
			if v[i], err = strconv.ParseFloat(f[i], 64); err != nil {
				return fmt.Errorf("%q: the %s %s is not a number", w, name, f[i])
			}
		}
		p := HorizonPoint{v[0], v[1]}
		if msg := p.fault(); msg != "" {
			return fmt.Errorf("%q: %s", w, msg)
		}
		points = append(points, p)
	}
	if !points.sorted() {
		return fmt.Errorf("the azimuths do not rise from point to point")
	}
	*h = points
	return nil
}

func (p HorizonPoint) fault() string {
	if msg := limit.Between(0, 360).Fault(p.AzimuthDeg); msg != "" {
		return "the azimuth " + msg
	}
	if msg := limit.Between(0, 89).Fault(p.HeightDeg); msg != "" {
		return "the height " + msg
	}
	return ""
}

func (h Horizon) sorted() bool {
	return slices.IsSortedFunc(h, func(a, b HorizonPoint) int { return cmp.Compare(a.AzimuthDeg, b.AzimuthDeg) })
}

func (h Horizon) check() []limit.Fault {
	msg := ""
	for _, p := range h {
		if msg = p.fault(); msg != "" {
			break
		}
	}
	if msg == "" && !h.sorted() {
		msg = "the azimuths do not rise from point to point"
	}
	if msg == "" {
		return nil
	}
	return []limit.Fault{{Key: "horizon", Msg: msg, Example: "[90 5, 135 20, 180 12, 225 5]"}}
}

func (h Horizon) highest() float64 {
	top := 0.0
	for _, p := range h {
		top = max(top, p.HeightDeg)
	}
	return top
}

// HeightDeg is the height above the level at an azimuth, degrees.
func (h Horizon) HeightDeg(azimuthDeg float64) float64 {
	if len(h) == 0 {
		return 0
	}
	az := math.Mod(azimuthDeg, 360)
	if az < 0 {
		az += 360
	}
	k := 0
	for k < len(h) && h[k].AzimuthDeg <= az {
		k++
	}
	a, b := h[(k+len(h)-1)%len(h)], h[k%len(h)]
	span, along := b.AzimuthDeg-a.AzimuthDeg, az-a.AzimuthDeg
	if span <= 0 {
		span += 360
	}
	if along < 0 {
		along += 360
	}
	return a.HeightDeg + (b.HeightDeg-a.HeightDeg)*along/span
}

// hides is the share, 0..1, of what the plane would get from an even sky that the horizon hides: the cosine of the angle
// of incidence integrated over the hidden part, relative to the whole.
func (h Horizon) hides(tiltDeg, azimuthDeg float64) float64 {
	if h.highest() == 0 {
		return 0
	}
	sinT, cosT := math.Sincos(tiltDeg * math.Pi / 180)
	const slices = 720
	sum := 0.0
	for i := range slices { // half a degree each
		az := (float64(i) + 0.5) * 360 / slices
		toward := sinT * math.Cos((az-azimuthDeg)*math.Pi/180)
		sum += quad.Fixed(func(rad float64) float64 {
			sinE, cosE := math.Sincos(rad)
			return max(0, sinE*cosT+cosE*toward) * cosE
		}, 0, h.HeightDeg(az)*math.Pi/180, 12, nil, 0)
	}
	return min(1, sum*2*math.Pi/slices/(math.Pi*(1+cosT)/2))
}

// SunAt is where the sun is, degrees.
type SunAt struct{ ZenithDeg, AzimuthDeg float64 }

// Hidden is the share, 0..1, of a step in which the sun stands behind the horizon, given where it is in the middle of this
// step and of its neighbours. Between the middles its course is taken as straight, at twelve moments of the step. The
// level itself hides nothing here: the light of a step belongs to its sunlit part already.
func (p *Prepared) Hidden(before, now, after SunAt) float64 {
	heightDeg := 90 - now.ZenithDeg
	if p.highestDeg == 0 || heightDeg <= 0 {
		return 0
	}
	if min(heightDeg, 90-before.ZenithDeg, 90-after.ZenithDeg) > p.highestDeg {
		return 0
	}
	const moments = 12
	hidden, lit := 0, 0
	for j := range moments {
		f := (float64(j)+0.5)/moments - 0.5
		to := after
		if f < 0 {
			to, f = before, -f
		}
		e := heightDeg + f*(now.ZenithDeg-to.ZenithDeg)
		if e <= 0 {
			continue
		}
		lit++
		if e < p.horizon.HeightDeg(now.AzimuthDeg+f*math.Remainder(to.AzimuthDeg-now.AzimuthDeg, 360)) {
			hidden++
		}
	}
	if lit == 0 {
		return 0
	}
	return float64(hidden) / float64(lit)
}
