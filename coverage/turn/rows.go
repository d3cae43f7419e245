package turn

import (
	"fmt"
	"math"
)

const (
	mostApart = 1e4 // m, row distance and stagger; more is a way across the field, no turn
	mostSkip  = 1e4 // passes
	// parallel: poses turned to each other by less from opposite are taken as
	// opposite, rad. The path then misses the goal's heading by as much: no more than Exact.
	parallel = Exact
)

// Rows is a turn asked for: from the end of one pass into the next, which is
// driven the other way.
type Rows struct {
	From     Pose    // the end of the pass
	Distance float64 // m, square to the next pass, 0 or more
	Left     bool    // the next pass lies to the left; counts also at distance 0, where it is the side of the main bend
	Stagger  float64 // m, the next pass begins so far ahead of the end of this one; negative: behind
}

// Between is the turn from the end of one pass to the start of another. Error:
// the poses are not opposite within 1e-9 rad, or one is not valid.
func Between(from, to Pose) (Rows, error) {
	if err := endsFault(from, to); err != nil {
		return Rows{}, err
	}
	ahead, left, turn := from.sees(to)
	if off := math.Pi - math.Abs(turn); off > parallel {
		return Rows{}, fmt.Errorf("passes turned by %g rad from opposite: must be within %g rad", off, parallel)
	}
	r := Rows{From: from, Distance: math.Abs(left), Left: left > 0, Stagger: ahead}
	if err := r.Validate(); err != nil {
		return Rows{}, err
	}
	return r, nil
}

// Validate says what is wrong with r.
func (r Rows) Validate() error {
	if err := r.From.Validate(); err != nil {
		return fmt.Errorf("end of the pass: %w", err)
	}
	if !(r.Distance >= 0 && r.Distance <= mostApart) {
		return fmt.Errorf("row distance %g m: must be from 0 to %g m", r.Distance, mostApart)
	}
	if !(math.Abs(r.Stagger) <= mostApart) {
		return fmt.Errorf("stagger %g m: must be within ±%g m", r.Stagger, mostApart)
	}
	return nil
}

// To is the start of the next pass.
func (r Rows) To() Pose {
	left, turn := -r.Distance, -math.Pi
	if r.Left {
		left, turn = r.Distance, math.Pi
	}
	return r.From.Moved(r.Stagger, left, turn)
}

// RowDistance is how far the next pass is when `skip` passes between are left
// for later, m; spacing is the credited width.
func RowDistance(spacing float64, skip int) (float64, error) {
	if !(spacing > 0 && spacing <= mostApart) {
		return 0, fmt.Errorf("spacing %g m: must be above 0 and at most %g m", spacing, mostApart)
	}
	if skip < 0 || skip > mostSkip {
		return 0, fmt.Errorf("skip %d passes: must be from 0 to %d", skip, int(mostSkip))
	}
	return spacing * float64(skip+1), nil
}
