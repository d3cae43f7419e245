package rig

import (
	"fmt"
	"math"
)

// Mount says where the working bar is, seen from the antenna, and what the set
// may do. The zero value is an antenna above the middle of the bar.
//
//	    antenna    rear axle     hitch            axle     bar
//	───────⊙──────────╂────────────●───────────────╂────────┃──
//	       │←— ahead —→│                            │        │
//	       │←———— hitch ————————→│←—— drawbar ———→│← behind→│
type Mount struct {
	Trailed      bool    `json:"trailed,omitempty"`      // false: rigid, on the three-point hitch
	AntennaAhead float64 `json:"antennaAhead,omitempty"` // m, antenna ahead of the tractor's rear axle
	AntennaRight float64 `json:"antennaRight,omitempty"` // m, antenna right of the tractor's middle
	AntennaUp    float64 `json:"antennaUp,omitempty"`    // m, antenna above the ground
	Hitch        float64 `json:"hitch,omitempty"`        // m, hitch behind the antenna
	Drawbar      float64 `json:"drawbar,omitempty"`      // m, hitch to the implement's axle; trailed only
	BarBehind    float64 `json:"barBehind,omitempty"`    // m, bar behind the axle (trailed) or the hitch (rigid); negative: ahead
	BarRight     float64 `json:"barRight,omitempty"`     // m, middle of the bar right of the implement's middle

	MaxAngle      float64 `json:"maxAngle,omitempty"`      // degrees, greatest angle between tractor and implement; 0 = from DrawbarRadius
	DrawbarRadius float64 `json:"drawbarRadius,omitempty"` // m, smallest radius of the tractor's rear axle the trailed set may turn on; 0 = not known
	MayReverse    bool    `json:"mayReverse,omitempty"`    // the trailed set may be pushed backwards
}

// maxReach is the longest dimension of a set taken; longer ones are typing errors.
const maxReach = 50.0 // m

// Validate says what is wrong with m.
func (m Mount) Validate() error {
	for _, c := range []struct {
		name string
		v    float64
	}{
		{"antenna ahead", m.AntennaAhead}, {"antenna right", m.AntennaRight}, {"antenna up", m.AntennaUp}, {"hitch", m.Hitch},
		{"drawbar", m.Drawbar}, {"bar behind", m.BarBehind}, {"bar right", m.BarRight}, {"drawbar radius", m.DrawbarRadius},
	} {
		if !(math.Abs(c.v) <= maxReach) {
			return fmt.Errorf("mount, %s %g m: must be within ±%g m", c.name, c.v, maxReach)
		}
	}
	if m.AntennaAhead < 0 {
		return fmt.Errorf("mount, antenna %g m ahead of the rear axle: must not be below 0 m", m.AntennaAhead)
	}
	if m.AntennaUp < 0 {
		return fmt.Errorf("mount, antenna %g m above the ground: must not be below 0 m", m.AntennaUp)
	}
	if !m.Trailed {
		switch {
		case m.Drawbar != 0:
			return fmt.Errorf("mount, drawbar %g m: only a trailed set has one", m.Drawbar)
		case m.MaxAngle != 0:
			return fmt.Errorf("mount, greatest drawbar angle %g°: only a trailed set has one", m.MaxAngle)
		case m.DrawbarRadius != 0:
			return fmt.Errorf("mount, drawbar radius %g m: only a trailed set has one", m.DrawbarRadius)
		}
		return nil
	}
	if !(m.Drawbar > 0) {
		return fmt.Errorf("mount, drawbar %g m: a trailed set needs one above 0 m", m.Drawbar)
	}
	if !(m.MaxAngle >= 0 && m.MaxAngle <= 180) {
		return fmt.Errorf("mount, greatest drawbar angle %g°: must be from 0 to 180°", m.MaxAngle)
	}
	if m.DrawbarRadius < 0 {
		return fmt.Errorf("mount, drawbar radius %g m: must not be below 0 m", m.DrawbarRadius)
	}
	if least := m.LeastRadius(); m.DrawbarRadius > 0 && m.DrawbarRadius <= least {
		return fmt.Errorf("mount, drawbar radius %g m: must be above %.2f m, on which this drawbar folds", m.DrawbarRadius, least)
	}
	return nil
}

// HitchBehindAxle is how far the hitch lies behind the tractor's rear axle, m.
func (m Mount) HitchBehindAxle() float64 { return m.Hitch - m.AntennaAhead }

// LeastRadius is the radius of the tractor's rear axle at which the implement's
// axle would stand on the centre of the circle, m: below it there is no steady
// turn and the set folds. 0 for a rigid set.
//
// Hitch, rear axle and centre form a right triangle, and so do hitch, implement's
// axle and centre: R² + h² = Rt² + L² with Rt = 0 (derived here; see SteadyAngle).
func (m Mount) LeastRadius() float64 {
	h := m.HitchBehindAxle()
	return math.Sqrt(max(0, m.Drawbar*m.Drawbar-h*h))
}

// SteadyAngle is the angle between tractor and implement in a steady turn in which
// the tractor's rear axle runs on radius r, degrees; ok is false where the set folds.
//
//	Rt = √(R² + h² − L²),  angle = atan(h/R) + atan(L/Rt)
//
// (textbook form of off-tracking, derived here from the two right triangles).
func (m Mount) SteadyAngle(r float64) (angle float64, ok bool) {
	h := m.HitchBehindAxle()
	square := r*r + h*h - m.Drawbar*m.Drawbar
	if !(r > 0 && square > 0) {
		return 0, false
	}
	return (math.Atan(h/r) + math.Atan(m.Drawbar/math.Sqrt(square))) * 180 / math.Pi, true
}

// AngleLimit is the greatest angle allowed between tractor and implement, degrees:
// as given, else that of a steady turn on the drawbar radius. 0 = not known.
func (m Mount) AngleLimit() float64 {
	if m.MaxAngle > 0 || m.DrawbarRadius == 0 {
		return m.MaxAngle
	}
	angle, _ := m.SteadyAngle(m.DrawbarRadius)
	return angle
}

// Pivot is how far ahead of the middle of the bar the axle lies about whose line the implement turns in a steady curve, m: that of a
// trailed implement, else the tractor's rear axle.
func (m Mount) Pivot() float64 {
	if m.Trailed {
		return m.BarBehind
	}
	return m.HitchBehindAxle() + m.BarBehind
}
