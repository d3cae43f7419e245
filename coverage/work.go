package coverage

import (
	"fmt"
	"math"
)

// Limits of what Work takes; wider sets and longer distances are typing errors.
const (
	maxWidth    = 100.0   // m, widest working width taken (common practice, no source: none above 60 m is built)
	maxHeadland = 1000.0  // m
	maxRounds   = 100     // headland rounds
	maxRelap    = 10000.0 // m of travel
	maxGapTime  = 86400.0 // s
	maxGapDist  = 10000.0 // m
)

// Validate says what is wrong with w: the first limit that is broken.
func (w Work) Validate() error {
	for _, c := range []struct {
		name     string
		v        float64
		min, max float64
		unit     string
	}{
		{"working width", w.Width, 0, maxWidth, "m"},
		{"headland depth", w.Headland, 0, maxHeadland, "m"},
		{"relap", w.Relap, 0, maxRelap, "m"},
		{"gap time", w.GapTime, 0, maxGapTime, "s"},
		{"gap distance", w.GapDist, 0, maxGapDist, "m"},
	} {
		if math.IsNaN(c.v) || c.v < c.min || c.v > c.max {
			return fmt.Errorf("%s %g %s: must be from %g to %g %s", c.name, c.v, c.unit, c.min, c.max, c.unit)
		}
	}
	if w.Width == 0 {
		return fmt.Errorf("working width %g m: must be above 0 m", w.Width)
	}
	if math.IsNaN(w.Overlap) || w.Overlap < 0 {
		return fmt.Errorf("overlap %g m: must not be below 0 m", w.Overlap)
	}
	if w.Overlap >= w.Width {
		return fmt.Errorf("overlap %g m: must be below the working width of %g m", w.Overlap, w.Width)
	}
	if w.Rounds < 0 || w.Rounds > maxRounds {
		return fmt.Errorf("headland rounds %d: must be from 0 to %d", w.Rounds, maxRounds)
	}
	if err := w.Mount.Validate(); err != nil {
		return err
	}
	if err := w.Working.validate(); err != nil {
		return err
	}
	if w.Workers < 0 {
		return fmt.Errorf("workers %d: must not be below 0", w.Workers)
	}
	return nil
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
