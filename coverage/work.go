package coverage

import (
	"fmt"
	"math"

	"balk/coverage/rig"
)

// Limits of what Work takes; wider sets and longer distances are typing errors.
const (
	maxHeadland = 1000.0  // m
	maxRounds   = 100     // headland rounds
	maxRelap    = 10000.0 // m of travel
	maxGapTime  = 86400.0 // s
	maxGapDist  = 10000.0 // m
)

// Validate says what is wrong with w: the first limit that is broken.
func (w Work) Validate() error {
	if err := w.implement().Validate(); err != nil {
		return err
	}
	for _, c := range []struct {
		name     string
		v        float64
		min, max float64
		unit     string
	}{
		{"headland depth", w.Headland, 0, maxHeadland, "m"},
		{"relap", w.Relap, 0, maxRelap, "m"},
		{"gap time", w.GapTime, 0, maxGapTime, "s"},
		{"gap distance", w.GapDist, 0, maxGapDist, "m"},
	} {
		if math.IsNaN(c.v) || c.v < c.min || c.v > c.max {
			return fmt.Errorf("%s %g %s: must be from %g to %g %s", c.name, c.v, c.unit, c.min, c.max, c.unit)
		}
	}
	if w.Rounds < 0 || w.Rounds > maxRounds {
		return fmt.Errorf("headland rounds %d: must be from 0 to %d", w.Rounds, maxRounds)
	}
	if err := w.Drift.Validate(); err != nil {
		return err
	}
	if w.Workers < 0 {
		return fmt.Errorf("workers %d: must not be below 0", w.Workers)
	}
	return nil
}

// With puts an implement into w: width, overlap, sections and mount.
func (w Work) With(im rig.Implement) Work {
	w.Width, w.Overlap, w.Sections, w.Mount = im.Width, im.Overlap, im.Sections, im.Mount
	return w
}

// implement is what w says of the machine.
func (w Work) implement() rig.Implement {
	return rig.Implement{Width: w.Width, Overlap: w.Overlap, Sections: w.Sections, Mount: w.Mount}
}

// Credited is the credited width in metres: what one pass is credited with, so
// that passes driven exactly at it tile without lap or gap.
func (w Work) Credited() float64 { return w.Width - w.Overlap }

// HeadlandDepth is the headland's depth in metres; 0 = not asked for.
func (w Work) HeadlandDepth() float64 {
	if w.Headland > 0 {
		return w.Headland
	}
	return float64(w.Rounds) * w.Credited()
}

// RelapLength is the travel in metres within which a place counts as worked once.
func (w Work) RelapLength() float64 {
	if w.Relap > 0 {
		return w.Relap
	}
	return 2 * w.Width
}
