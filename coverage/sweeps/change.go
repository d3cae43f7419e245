package sweeps

import "math"

// What of a layout is changed.
const (
	ByWidth   = "width"   // wider sweeps
	BySpacing = "spacing" // sweeps closer together
	ByStagger = "stagger" // beams closer together
)

// Change is one change of a frame with which everything is cut up to a wanted crab angle to both sides.
type Change struct {
	What   string
	Factor float64 // of the sweeps' width, of the spacing or of the way between beams
	Wider  float64 // m, of each sweep, where What is ByWidth
	Sweeps int     // so many are needed then
}

// halvings: a range halved so often is known to 1e-12 of itself.
const halvings = 40

// Changes are those single changes that reach the crab angle wanted, rad, to both sides and leave nothing uncut straight ahead, the smallest of
// each kind, those with the fewest sweeps first; none where the frame does already or none reaches it. Each has been tried.
func (f Frame) Changes(wanted float64) []Change {
	if len(f) < 2 || f.reaches(wanted) {
		return nil
	}
	var changes []Change
	right, left := f.Span()
	if by, ok := least(func(by float64) bool { return f.Wider(by).reaches(wanted) }, left-right); ok {
		changes = append(changes, Change{ByWidth, 0, by, len(f)})
	}
	if closer, ok := least(func(c float64) bool { return f.scaled(1-c, 1).reaches(wanted) }, 0.99); ok {
		changes = append(changes, Change{ByStagger, 1 - closer, 0, len(f)})
	}
	if closer, ok := least(func(c float64) bool { return f.scaled(1, 1-c).reaches(wanted) }, 0.99); ok {
		// The span that is cut stays: the places between its ends are so many more.
		changes = append(changes, Change{BySpacing, 1 - closer, 0, int(math.Ceil(float64(len(f)-1)/(1-closer)-1e-9)) + 1})
	}
	return changes
}

// reaches says whether f cuts everything up to this crab angle to both sides.
func (f Frame) reaches(crab float64) bool {
	if thin, ok := f.Thinnest(Motion{}); ok && thin.Lap < 0 {
		return false
	}
	l := f.Limits(0)
	return l.CrabLeft.At >= crab && l.CrabRight.At >= crab
}

// scaled is the frame with its beams, and its sweeps along them, nearer to each other.
func (f Frame) scaled(along, across float64) Frame {
	g := make(Frame, len(f))
	for i, b := range f {
		to := b.Nose
		to.X, to.Y = to.X*along, to.Y*across
		g[i] = b.moved(to.Sub(b.Nose))
	}
	return g
}

// least is the least change up to most that does, to 1e-12 of most.
func least(does func(float64) bool, most float64) (float64, bool) {
	if !does(most) {
		return 0, false
	}
	from, to := 0.0, most
	for range halvings {
		if middle := (from + to) / 2; does(middle) {
			to = middle
		} else {
			from = middle
		}
	}
	return to, true
}
