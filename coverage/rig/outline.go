package rig

import (
	"errors"
	"fmt"
	"math"

	"balk/geo"
)

// Tractor is the tractor's outline, a rectangle seen from its rear axle. The zero
// value: not known.
type Tractor struct {
	Ahead  float64 `json:"ahead,omitempty"`  // m, front end (weights, front hitch) ahead of the rear axle
	Behind float64 `json:"behind,omitempty"` // m, rear end behind the rear axle
	Width  float64 `json:"width,omitempty"`  // m, over everything
	Track  float64 `json:"track,omitempty"`  // m, between the middles of its tyres; needed for ground trodden after the cut only
	Tyre   float64 `json:"tyre,omitempty"`   // m, width of a tyre; 0 = not known
}

// Body is the implement's outline when lifted, a rectangle seen from its bar, the
// middle of its working tools. The zero value: the bar alone.
//
//	hitch ●───────┬──────────────┬────────────┐
//	              │  ahead  ←── bar ──→ behind │  width
//	              └──────────────┴────────────┘
type Body struct {
	Ahead  float64 `json:"ahead,omitempty"`  // m, front of the frame ahead of the bar
	Behind float64 `json:"behind,omitempty"` // m, last row of tools, roller or comb behind the bar
	Width  float64 `json:"width,omitempty"`  // m, lifted for turning; 0 = working width, less if it folds up
	Wheels float64 `json:"wheels,omitempty"` // m, over the wheels of its axle; trailed only, 0 = not known

	// Its tyres, for ground trodden after the cut.
	Tyre        float64   `json:"tyre,omitempty"`        // m, width of one; 0 = not known
	Track       float64   `json:"track,omitempty"`       // m, between the middles of two
	Tyres       []float64 `json:"tyres,omitempty"`       // m, right of the implement's middle, of each, in place of the track
	TyresBehind float64   `json:"tyresBehind,omitempty"` // m behind the bar; 0 = on the axle of a trailed set, ahead of the bar of a mounted one
}

// Tyre is one tyre: how far left of the middle of its machine it runs, and its width, m.
type Tyre struct{ Left, Width float64 }

// Tyres are those of t; none where they are not known.
func (t Tractor) Tyres() []Tyre {
	if t.Tyre == 0 {
		return nil
	}
	return []Tyre{{t.Track / 2, t.Tyre}, {-t.Track / 2, t.Tyre}}
}

// OwnTyres are those of the implement under a body and a mount, none where they are not known; behind says that they run on what the bar has cut.
func (b Body) OwnTyres(m Mount) (tyres []Tyre, behind bool) {
	if b.Tyre == 0 {
		return nil, false
	}
	for _, right := range b.Tyres {
		tyres = append(tyres, Tyre{-right, b.Tyre})
	}
	if len(tyres) == 0 {
		tyres = []Tyre{{b.Track / 2, b.Tyre}, {-b.Track / 2, b.Tyre}}
	}
	if m.Trailed && b.TyresBehind == 0 {
		return tyres, m.BarBehind < 0
	}
	return tyres, b.TyresBehind > 0
}

// Turning is how a set turns. Radius and speeds are those of the tractor's rear
// axle.
type Turning struct {
	Radius       float64       `json:"radius,omitempty"`       // m, least radius the tractor can steer; a larger drawbar radius wins
	Sharpness    float64       `json:"sharpness,omitempty"`    // 1/m², how much the curvature may change per metre driven; 0 = the wheels turn at once
	Standing     bool          `json:"standing,omitempty"`     // with a sharpness: the wheels may be turned while the set stands
	Speed        geo.KmPerHour `json:"speed,omitempty"`        // km/h while turning
	ReverseSpeed geo.KmPerHour `json:"reverseSpeed,omitempty"` // km/h in reverse
	Change       float64       `json:"change,omitempty"`       // s for each change of direction
	Margin       float64       `json:"margin,omitempty"`       // m, kept from boundary and obstacles
}

const (
	maxSpeed     = 60.0  // km/h; more is a mistake of units
	maxSharpness = 10.0  // 1/m²
	maxChange    = 600.0 // s
	maxTyres     = 64    // more are typing errors
	maxTyre      = 3.0   // m, twins counted as one; wider ones are typing errors
)

// measured is one value of a description and its greatest.
type measured struct {
	name string
	v    float64
	most float64
	unit string
}

func within(what string, list ...measured) error {
	for _, c := range list {
		if !(c.v >= 0 && c.v <= c.most) {
			return fmt.Errorf("%s, %s %g %s: must be from 0 to %g %s", what, c.name, c.v, c.unit, c.most, c.unit)
		}
	}
	return nil
}

// Validate says what is wrong with t.
func (t Tractor) Validate() error {
	return within("tractor", measured{"ahead", t.Ahead, maxReach, "m"}, measured{"behind", t.Behind, maxReach, "m"}, measured{"width", t.Width, maxReach, "m"},
		measured{"track", t.Track, maxReach, "m"}, measured{"tyre", t.Tyre, maxTyre, "m"})
}

// Validate says what is wrong with b.
func (b Body) Validate() error {
	err := within("body", measured{"ahead", b.Ahead, maxReach, "m"}, measured{"behind", b.Behind, maxReach, "m"},
		measured{"width", b.Width, MaxWidth, "m"}, measured{"wheels", b.Wheels, maxReach, "m"}, measured{"track", b.Track, maxReach, "m"}, measured{"tyre", b.Tyre, maxTyre, "m"})
	if err != nil {
		return err
	}
	if len(b.Tyres) > maxTyres {
		return fmt.Errorf("body, %d tyres: must be %d at the most", len(b.Tyres), maxTyres)
	}
	for i, right := range b.Tyres {
		if !(math.Abs(right) <= MaxWidth/2) {
			return fmt.Errorf("body, tyre %d, %g m right of the middle: must be within ±%g m", i+1, right, MaxWidth/2)
		}
	}
	if len(b.Tyres) > 0 && b.Track > 0 {
		return fmt.Errorf("body, track %g m, and %d tyres by their places: must be one of them", b.Track, len(b.Tyres))
	}
	if b.Tyre == 0 && (b.Track > 0 || len(b.Tyres) > 0 || b.TyresBehind != 0) {
		return errors.New("body, tyre 0 m wide: must be above 0 m where tyres stand")
	}
	if !(math.Abs(b.TyresBehind) <= maxReach) {
		return fmt.Errorf("body, tyres %g m behind the bar: must be within ±%g m", b.TyresBehind, maxReach)
	}
	return nil
}

// Validate says what is wrong with t.
func (t Turning) Validate() error {
	return within("turning", measured{"radius", t.Radius, maxReach, "m"}, measured{"sharpness", t.Sharpness, maxSharpness, "1/m²"},
		measured{"speed", float64(t.Speed), maxSpeed, "km/h"}, measured{"reverse speed", float64(t.ReverseSpeed), maxSpeed, "km/h"},
		measured{"change", t.Change, maxChange, "s"}, measured{"margin", t.Margin, maxReach, "m"})
}

// TurnRadius is the least radius the set may turn on, m: the tractor's, or the
// drawbar's if that is larger. 0 = not known.
func (im Implement) TurnRadius() float64 { return max(im.Turning.Radius, im.Mount.DrawbarRadius) }
