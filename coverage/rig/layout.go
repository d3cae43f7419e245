package rig

import (
	"fmt"
	"math"
	"slices"
)

// Layout is where the sweeps of an implement stand, seen from the middle of its bar. It is given by a rule (Count, Spacing, Beams,
// Order) or sweep by sweep (Each). The zero value is a layout that is not known.
//
//	      ∧       ∧      beam 1        ↑ travel
//	          ∧       ∧  beam 2
//	←left     │     right→
//	        middle of the bar
type Layout struct {
	Width    float64   `json:"width,omitempty"`    // m, cutting width of a new sweep, from tip to tip of its wings
	Worn     float64   `json:"worn,omitempty"`     // m, that of one about to be changed; 0 = not known
	Life     float64   `json:"life,omitempty"`     // km that a sweep goes in the ground until it is changed; 0 = not known
	Angle    float64   `json:"angle,omitempty"`    // degrees between the wings; 0 = not known: the tips lie where the sweep does
	Count    int       `json:"count,omitempty"`    // sweeps from end to end, those left out counted
	Spacing  float64   `json:"spacing,omitempty"`  // m, between neighbours, across the direction of travel
	Beams    []float64 `json:"beams,omitempty"`    // m, behind the middle of the bar, one per beam, of the noses of its sweeps; below 0: ahead
	Order    []int     `json:"order,omitempty"`    // the beam of each sweep from left to right, from 1, again and again; none = 1, 2, 3 …
	Mirrored bool      `json:"mirrored,omitempty"` // the order runs from the middle to both ends
	LeftOut  []int     `json:"leftOut,omitempty"`  // numbers of the places without a sweep, from the left end, from 1
	Depths   []float64 `json:"depths,omitempty"`   // m, depth of each beam; none = all alike
	Each     []Sweep   `json:"each,omitempty"`     // every sweep by itself, in any order
}

// Sweep is one sweep of a layout.
type Sweep struct {
	Right  float64 `json:"right"`           // m, right of the middle of the bar
	Behind float64 `json:"behind"`          // m, its nose behind the middle of the bar; below 0: ahead
	Width  float64 `json:"width,omitempty"` // m, cutting width when new; 0 = that of the layout
	Worn   float64 `json:"worn,omitempty"`  // m, when worn; 0 = that of the layout
	Angle  float64 `json:"angle,omitempty"` // degrees between its wings; 0 = that of the layout
	Depth  float64 `json:"depth,omitempty"` // m; 0 = not known
}

const (
	maxSweeps  = 400  // more are typing errors
	maxBeams   = 20   // more are typing errors
	leastAngle = 20.0 // degrees between wings; sharper ones are typing errors. Common practice, no source: sweeps have 50 to 110
	mostAngle  = 170.0
	maxDepth   = 1.0 // m; deeper ones are typing errors
	maxLife    = 1e5 // km; longer ones are typing errors
)

// Known says whether there is a layout.
func (l Layout) Known() bool { return l.Count > 0 || len(l.Each) > 0 }

// given says whether anything of a rule is.
func (l Layout) given() bool {
	return l.Count != 0 || l.Spacing != 0 || len(l.Beams)+len(l.Order)+len(l.LeftOut)+len(l.Depths) > 0 || l.Mirrored
}

// Validate says what is wrong with l: the first limit that is broken.
func (l Layout) Validate() error {
	if len(l.Each) > 0 && l.given() {
		return fmt.Errorf("sweeps: each of %d is given, and a rule too: must be one of them", len(l.Each))
	}
	if !l.Known() {
		if l.given() || l.Width != 0 || l.Worn != 0 || l.Angle != 0 || l.Life != 0 {
			return fmt.Errorf("sweeps, count 0: must be from 1 to %d, or each sweep be given", maxSweeps)
		}
		return nil
	}
	if n := max(l.Count, len(l.Each)); l.Count < 0 || n > maxSweeps {
		return fmt.Errorf("%d sweeps: must be from 1 to %d", n, maxSweeps)
	}
	if !(l.Life >= 0 && l.Life <= maxLife) {
		return fmt.Errorf("sweeps, life %g km: must be from 0 to %g km", l.Life, maxLife)
	}
	if err := l.rule(); err != nil {
		return err
	}
	for i, s := range l.All() {
		switch {
		case !(math.Abs(s.Right) <= MaxWidth/2):
			return fmt.Errorf("sweep %d, %g m right of the middle: must be within ±%g m", i+1, s.Right, MaxWidth/2)
		case !(math.Abs(s.Behind) <= maxReach):
			return fmt.Errorf("sweep %d, %g m behind the middle: must be within ±%g m", i+1, s.Behind, maxReach)
		case !(s.Width > 0 && s.Width <= MaxWidth):
			return fmt.Errorf("sweep %d, %g m wide: must be above 0 and not above %g m", i+1, s.Width, MaxWidth)
		case !(s.Worn >= 0 && s.Worn <= s.Width):
			return fmt.Errorf("sweep %d, %g m wide when worn: must be from 0 to its width of %g m", i+1, s.Worn, s.Width)
		case s.Angle != 0 && !(s.Angle >= leastAngle && s.Angle <= mostAngle):
			return fmt.Errorf("sweep %d, %g° between its wings: must be from %g to %g°", i+1, s.Angle, leastAngle, mostAngle)
		case !(s.Depth >= 0 && s.Depth <= maxDepth):
			return fmt.Errorf("sweep %d, %g m deep: must be from 0 to %g m", i+1, s.Depth, maxDepth)
		}
	}
	return nil
}

// rule says what is wrong with the rule of a layout that has one.
func (l Layout) rule() error {
	if len(l.Each) > 0 {
		return nil
	}
	if len(l.Beams) == 0 || len(l.Beams) > maxBeams {
		return fmt.Errorf("sweeps, %d beams: must be from 1 to %d", len(l.Beams), maxBeams)
	}
	if l.Count > 1 && !(l.Spacing > 0 && l.Spacing <= MaxWidth) {
		return fmt.Errorf("sweeps, spacing %g m: must be above 0 and not above %g m", l.Spacing, MaxWidth)
	}
	for i, b := range l.Order {
		if b < 1 || b > len(l.Beams) {
			return fmt.Errorf("sweeps, order, place %d: beam %d: must be from 1 to %d", i+1, b, len(l.Beams))
		}
	}
	left := map[int]bool{}
	for _, n := range l.LeftOut {
		if n < 1 || n > l.Count {
			return fmt.Errorf("sweeps, place %d is left out: must be from 1 to %d", n, l.Count)
		}
		left[n] = true
	}
	if len(left) == l.Count {
		return fmt.Errorf("sweeps, all %d places are left out: must be fewer", l.Count)
	}
	if len(l.Depths) > 0 && len(l.Depths) != len(l.Beams) {
		return fmt.Errorf("sweeps, %d depths for %d beams: must be as many", len(l.Depths), len(l.Beams))
	}
	return nil
}

// All are the sweeps of l, each with what the layout says of all. Those of a rule come from left to right.
func (l Layout) All() []Sweep {
	var all []Sweep
	for _, s := range l.Each {
		all = append(all, l.over(s))
	}
	if len(all) > 0 {
		return all
	}
	out := map[int]bool{}
	for _, n := range l.LeftOut {
		out[n] = true
	}
	for k := range l.Count {
		if out[k+1] {
			continue
		}
		beam := l.beam(k)
		s := Sweep{Right: (float64(k) - float64(l.Count-1)/2) * l.Spacing, Behind: l.Beams[beam]}
		if len(l.Depths) > 0 {
			s.Depth = l.Depths[beam]
		}
		all = append(all, l.over(s))
	}
	return all
}

// Wears says whether l tells of any sweep how wide it is when worn.
func (l Layout) Wears() bool {
	return slices.ContainsFunc(l.All(), func(s Sweep) bool { return s.Worn > 0 })
}

// beam is that of place k, both from 0.
func (l Layout) beam(k int) int {
	if l.Mirrored {
		k = max(k, l.Count-1-k) - l.Count/2
	}
	if len(l.Order) > 0 {
		return l.Order[k%len(l.Order)] - 1
	}
	return k % len(l.Beams)
}

// over fills in what the layout says of all sweeps.
func (l Layout) over(s Sweep) Sweep {
	if s.Width == 0 {
		s.Width = l.Width
	}
	if s.Worn == 0 {
		s.Worn = min(l.Worn, s.Width)
	}
	if s.Angle == 0 {
		s.Angle = l.Angle
	}
	return s
}
