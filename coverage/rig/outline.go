package rig

import (
	"fmt"

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
	return within("body", measured{"ahead", b.Ahead, maxReach, "m"}, measured{"behind", b.Behind, maxReach, "m"},
		measured{"width", b.Width, MaxWidth, "m"}, measured{"wheels", b.Wheels, maxReach, "m"})
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
