package drive

import (
	"fmt"
	"math"
	"time"

	"balk/coverage/rig"
)

// Work describes the implement and how the log is to be judged. The zero value
// of a field means what its comment says.
type Work struct {
	Width      float64     `json:"width"`                // m, working width of the whole bar; required
	WidthFrom  WidthSource `json:"widthFrom,omitempty"`  // who says so; "" = given
	Overlap    float64     `json:"overlap"`              // m, planned lap between neighbouring passes; credited width = width − overlap
	Sections   []float64   `json:"sections,omitempty"`   // m, widths of the parts of the implement that can be lifted alone, left to right
	Mount      rig.Mount   `json:"mount,omitzero"`       // where the bar is, seen from the antenna; zero = antenna above its middle
	LowerDelay float64     `json:"lowerDelay,omitempty"` // s, the bar is in after work is logged; see rig.Implement
	LiftDelay  float64     `json:"liftDelay,omitempty"`  // s, the bar is out after work is logged to end
	Sweeps     rig.Layout  `json:"sweeps,omitzero"`      // where the sweeps stand; none = not known
	Tractor    rig.Tractor `json:"tractor,omitzero"`     // its tyres, for ground trodden after the cut; zero = not known
	Body       rig.Body    `json:"body,omitzero"`        // the implement's tyres, for the same; zero = not known
	TurnRadius float64     `json:"turnRadius,omitempty"` // m, least radius the set may turn on; 0 = not known
	Drift      Drift       `json:"drift,omitzero"`       // how the set slips on a slope; zero = not at all
	Rounds     int         `json:"rounds,omitempty"`     // headland rounds; headland depth = rounds × credited width
	Headland   float64     `json:"headland,omitempty"`   // m, headland depth; wins over Rounds
	Working    Evidence    `json:"working,omitempty"`    // by what work is told from driving with the tool lifted; see there
	PassError  float64     `json:"passError,omitempty"`  // m, pass-to-pass error of the receiver (95 %, ISO 12188-1 sense); 0 = from the logged fix quality
	Relap      float64     `json:"relap,omitempty"`      // m of travel: a place worked again counts once where less lies between, see swathOf; 0 = 2 × width
	GapTime    float64     `json:"gapTime,omitempty"`    // s without a fix that make a log gap; 0 = 10 s, or five times the track's usual step if longer
	GapDist    float64     `json:"gapDist,omitempty"`    // m without a fix that make a log gap; 0 = 25 m, or five times the track's usual step if longer
	Steep      float64     `json:"steep,omitempty"`      // percent of slope from which strips and ways are named; 0 = the steepest only
	Frames     Frames      `json:"frames,omitzero"`      // how the log's frame may lie off the boundary's; zero = they are one
	Gaps       bool        `json:"-"`                    // spacing is kept place by place, not only summed up
	Workers    int         `json:"-"`
}

// Frames is how far a place in the satellites' frame may lie from the same place in the frame of maps, which moves with the ground.
type Frames struct {
	Map   string    `json:"map,omitempty"`  // the map's frame, such as ETRS89
	EPSG  int       `json:"epsg,omitempty"` // code of the transformation that tells the distance
	Day   time.Time `json:"day,omitzero"`   // on which it was so
	East  float64   `json:"east,omitempty"` // m
	North float64   `json:"north,omitempty"`
	Told  bool      `json:"told,omitempty"` // the boundary is in the map's frame, as its file says; else either may be in either
}

// minCredited: a narrower credited width is a typing error (common practice, no
// source: the narrowest tine leaves some 5 cm). The work of finding strips grows as
// they get thinner, without bound.
const minCredited = 0.05 // m

// Limits of what Work takes; wider sets and longer distances are typing errors.
const (
	maxHeadland = 1000.0  // m
	maxRounds   = 100     // headland rounds
	maxRelap    = 10000.0 // m of travel
	maxGapTime  = 86400.0 // s
	maxGapDist  = 10000.0 // m
	maxSteep    = 100.0   // percent
)

// Validate says what is wrong with w: the first limit that is broken.
func (w Work) Validate() error {
	if err := w.implement().Validate(); err != nil {
		return err
	}
	if err := w.WidthFrom.validate(); err != nil {
		return err
	}
	if c := w.Credited(); c < minCredited {
		return fmt.Errorf("working width less overlap %g m: must be %g m or more", c, minCredited)
	}
	for _, c := range []struct {
		name     string
		v        float64
		min, max float64
		unit     string
	}{
		{"headland depth", w.Headland, 0, maxHeadland, "m"},
		{"turn radius", w.TurnRadius, 0, maxHeadland, "m"},
		{"relap", w.Relap, 0, maxRelap, "m"},
		{"gap time", w.GapTime, 0, maxGapTime, "s"},
		{"gap distance", w.GapDist, 0, maxGapDist, "m"},
		{"pass-to-pass error", w.PassError, 0, maxPassError, "m"},
		{"steep slope", w.Steep, 0, maxSteep, "%"},
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
	if err := w.Working.validate(); err != nil {
		return err
	}
	if w.Workers < 0 {
		return fmt.Errorf("workers %d: must not be below 0", w.Workers)
	}
	return nil
}

// With puts an implement into w: width, overlap, sections, mount, delays, the radius it
// may turn on, and its crab angle per percent of slope.
func (w Work) With(im rig.Implement) Work {
	w.Width, w.Overlap, w.Sections, w.Mount, w.TurnRadius = im.Width, im.Overlap, im.Sections, im.Mount, im.TurnRadius()
	if w.Drift.Angle == 0 && !w.Drift.Measure {
		w.Drift.PerPercent = im.CrabPerPercent
	}
	w.LowerDelay, w.LiftDelay, w.Sweeps, w.Tractor, w.Body = im.LowerDelay, im.LiftDelay, im.Sweeps, im.Tractor, im.Body
	return w
}

// implement is what w says of the machine.
func (w Work) implement() rig.Implement {
	return rig.Implement{Width: w.Width, Overlap: w.Overlap, Sections: w.Sections, Mount: w.Mount, Sweeps: w.Sweeps, Tractor: w.Tractor, Body: w.Body, LowerDelay: w.LowerDelay, LiftDelay: w.LiftDelay, CrabPerPercent: w.Drift.PerPercent}
}

// Credited is the credited width in metres: what one pass is credited with, so
// that passes driven exactly at it tile without lap or gap.
func (w Work) Credited() float64 { return toNano(w.Width - w.Overlap) }

// toNano rounds a length in metres to a nanometre: what is worked out from decimals is to read
// like them, 7.9 and not 7.8999999999999995.
func toNano(m float64) float64 { return math.Round(m*1e9) / 1e9 }

// HeadlandDepth is the headland's depth in metres; 0 = not asked for.
func (w Work) HeadlandDepth() float64 {
	if w.Headland > 0 {
		return w.Headland
	}
	return toNano(float64(w.Rounds) * w.Credited())
}

// RelapLength is the travel in metres within which a place counts as worked once.
func (w Work) RelapLength() float64 {
	if w.Relap > 0 {
		return w.Relap
	}
	return 2 * w.Width
}

// ZoneDepth is how deep in metres the zones along boundary and obstacles are.
func (w Work) ZoneDepth() float64 {
	if d := w.HeadlandDepth(); d > 0 {
		return d
	}
	return w.Credited()
}
