package rig

import (
	"cmp"
	"fmt"
	"math"
)

// Bar is one of several bars of a set, each with a state of its own: the coarse and the fine rows of a drill, say.
//
//	├──────── coarse ────────┤   middle of the bar that Mount tells of
//	            │ behind
//	├───────── fine ─────────┤
type Bar struct {
	Name       string  `json:"name"`                 // required
	Behind     float64 `json:"behind,omitempty"`     // m, behind the middle of the bar that the mount tells of; below 0: ahead
	Right      float64 `json:"right,omitempty"`      // m, its middle right of that
	Width      float64 `json:"width,omitempty"`      // m, working width; 0 = that of the set
	State      string  `json:"state,omitempty"`      // column of a table with its work state; "" = the work state of the log
	Component  string  `json:"component,omitempty"`  // its element in task data, by name or number (DET-3); "" = the work state of the log
	LowerDelay float64 `json:"lowerDelay,omitempty"` // s, see Implement; 0 = that of the set
	LiftDelay  float64 `json:"liftDelay,omitempty"`  // s; 0 = that of the set
	Sweeps     Layout  `json:"sweeps,omitzero"`      // its sweeps, seen from its own middle; none = not known
}

const maxBars = 8 // more are typing errors

// validateBars says what is wrong with the bars of im.
func (im Implement) validateBars() error {
	n := len(im.Bars)
	if n == 0 {
		return nil
	}
	if n == 1 || n > maxBars {
		return fmt.Errorf("bars, %d given: must be from 2 to %d, or none", n, maxBars)
	}
	if im.Sweeps.Known() {
		return fmt.Errorf("sweeps of the set, and %d bars: must be given with each bar", n)
	}
	seen := map[string]bool{}
	for k, b := range im.Bars {
		switch {
		case b.Name == "":
			return fmt.Errorf("bar %d has no name: must have one", k+1)
		case seen[b.Name]:
			return fmt.Errorf("bar %d is called %q as another is: must have a name of its own", k+1, b.Name)
		case !(math.Abs(b.Behind) <= maxReach):
			return fmt.Errorf("bar %q, %g m behind: must be within ±%g m", b.Name, b.Behind, maxReach)
		case !(math.Abs(b.Right) <= MaxWidth/2):
			return fmt.Errorf("bar %q, %g m to the right: must be within ±%g m", b.Name, b.Right, MaxWidth/2)
		case !(b.Width >= 0):
			return fmt.Errorf("bar %q, %g m wide: must not be below 0 m", b.Name, b.Width)
		}
		if err := im.OfBar(k).Validate(); err != nil {
			return fmt.Errorf("bar %q: %w", b.Name, err)
		}
		seen[b.Name] = true
	}
	return nil
}

// OfBar is the implement as bar k, from 0, alone; one without bars as it is.
func (im Implement) OfBar(k int) Implement {
	if len(im.Bars) == 0 {
		return im
	}
	b, body := im.Bars[k], im.Body
	if b.Width > 0 {
		im = im.OfWidth(b.Width)
	}
	im.Mount.BarBehind, im.Mount.BarRight = im.Mount.BarBehind+b.Behind, im.Mount.BarRight+b.Right
	im.LowerDelay, im.LiftDelay = cmp.Or(b.LowerDelay, im.LowerDelay), cmp.Or(b.LiftDelay, im.LiftDelay)
	body.Ahead, body.Behind = max(0, body.Ahead+b.Behind), max(0, body.Behind-b.Behind) // the frame stays where it is
	im.Body, im.Sweeps, im.Bars = body, b.Sweeps, nil
	return im
}
