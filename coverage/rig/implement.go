package rig

import (
	"fmt"
	"math"
)

const (
	// MaxWidth is the widest working width taken, m (common practice, no source: none
	// above 60 m is built).
	MaxWidth = 100.0
	// MostPerPercent is the greatest crab angle taken per percent of slope across the way, degrees; more is a typing error: on 6 % that would be 30°.
	MostPerPercent = 5.0
	maxSections    = 256  // more are typing errors
	maxDelay       = 20.0 // s; bars are lowered and lifted in less. Common practice, no source
	// sectionSum: the widths of the sections add up to the working width within so
	// much; they are written down in centimetres.
	sectionSum = 0.01 // m
)

// Implement describes a machine, so that it need not be described again for every
// field. The zero value of a field means what its comment says.
type Implement struct {
	Name     string    `json:"name,omitempty"`
	Width    float64   `json:"width"`              // m, working width; required
	Overlap  float64   `json:"overlap,omitempty"`  // m, planned lap between neighbouring passes
	Sections []float64 `json:"sections,omitempty"` // m, widths of the parts that can be lifted alone, from left to right; none = lifted as a whole
	Mount    Mount     `json:"mount,omitzero"`     // where the bar is, seen from the antenna
	// The bar is in so many seconds after the work state is logged, and out so many after its end: where the driver's button is logged, or
	// a sensor answers late itself, below 0.
	LowerDelay float64 `json:"lowerDelay,omitempty"` // s
	LiftDelay  float64 `json:"liftDelay,omitempty"`  // s
	// On a slope the set runs with its front turned uphill: degrees of crab angle per percent of slope across its way; 0 = not known.
	CrabPerPercent float64 `json:"crabPerPercent,omitempty"`
	Tractor        Tractor `json:"tractor,omitzero"` // outline of the tractor; needed for turning only
	Body           Body    `json:"body,omitzero"`    // outline of the implement; needed for turning only
	Turning        Turning `json:"turning,omitzero"` // how the set turns; needed for turning only
	Sweeps         Layout  `json:"sweeps,omitzero"`  // where its sweeps stand; none = not known
	Bars           []Bar   `json:"bar,omitempty"`    // of a set whose rows are lowered apart; none = it is one bar
}

// Validate says what is wrong with im: the first limit that is broken.
func (im Implement) Validate() error {
	if !(im.Width > 0 && im.Width <= MaxWidth) {
		return fmt.Errorf("working width %g m: must be above 0 and not above %g m", im.Width, MaxWidth)
	}
	if !(im.Overlap >= 0) {
		return fmt.Errorf("overlap %g m: must not be below 0 m", im.Overlap)
	}
	if im.Overlap >= im.Width {
		return fmt.Errorf("overlap %g m: must be below the working width of %g m", im.Overlap, im.Width)
	}
	if len(im.Sections) > maxSections {
		return fmt.Errorf("%d sections: must be %d at the most", len(im.Sections), maxSections)
	}
	for _, d := range []struct {
		name string
		s    float64
	}{{"lower delay", im.LowerDelay}, {"lift delay", im.LiftDelay}} {
		if !(math.Abs(d.s) <= maxDelay) {
			return fmt.Errorf("%s %g s: must be within ±%g s", d.name, d.s, maxDelay)
		}
	}
	if !(im.CrabPerPercent >= 0 && im.CrabPerPercent <= MostPerPercent) {
		return fmt.Errorf("crab angle %g° per percent: must be from 0 to %g°", im.CrabPerPercent, MostPerPercent)
	}
	sum := 0.0
	for i, s := range im.Sections {
		if !(s > 0) {
			return fmt.Errorf("section %d of %g m: must be above 0 m", i+1, s)
		}
		sum += s
	}
	if len(im.Sections) > 0 && !(math.Abs(sum-im.Width) <= sectionSum) {
		return fmt.Errorf("%d sections, %.6g m together: must add up to the working width of %g m", len(im.Sections), sum, im.Width)
	}
	if err := im.Mount.Validate(); err != nil {
		return err
	}
	if err := im.Tractor.Validate(); err != nil {
		return err
	}
	if err := im.Body.Validate(); err != nil {
		return err
	}
	if err := im.Turning.Validate(); err != nil {
		return err
	}
	if err := im.Sweeps.Validate(); err != nil {
		return err
	}
	return im.validateBars()
}

// OfWidth is the implement at another working width, m: sections, sweeps and bars are those of the width
// described, so it has none, and an outline that is not folded up for turning grows or shrinks with the bar.
func (im Implement) OfWidth(width float64) Implement {
	if width == im.Width {
		return im
	}
	if im.Body.Width >= im.Width && im.Width > 0 {
		im.Body.Width += width - im.Width
	}
	im.Width, im.Sections, im.Sweeps, im.Bars = width, nil, Layout{}, nil
	return im
}

// Adds says whether some sections side by side have this width together, m.
func (im Implement) Adds(width float64) bool {
	for from := range im.Sections {
		sum := 0.0
		for _, s := range im.Sections[from:] {
			if sum += s; math.Abs(sum-width) <= sectionSum {
				return true
			}
		}
	}
	return false
}
