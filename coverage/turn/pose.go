package turn

import (
	"fmt"
	"math"

	"balk/geo"
	"balk/geo/plane"
)

const (
	// Exact is how near its goal a path ends, m and rad, for everything within
	// the limits below. A hundred thousandth of a receiver's noise; what is left is the
	// rounding of coordinates and headings.
	Exact = 1e-9
	// crumb: shorter pieces are rounding of pieces of no length and left out, m, unless
	// they turn by more than rounding: the way that follows may be long. Five of them stay far below Exact.
	crumb = 1e-12

	farthest    = 2e4  // m; a field's plane serves for 10 km across, 5 km to each side
	mostTurned  = 20.0 // rad, three turns; held to 2e-15 rad, so a way across the plane goes amiss by 1e-10 m
	leastRadius = 0.1  // m, turning on the spot is another matter
	mostRadius  = 1000 // m, a bend of 1 mm in 3 m: nothing that steers needs more
)

// Pose is a place and where the set points: the heading of the tractor also
// where it reverses.
type Pose struct {
	At      plane.XY
	Heading geo.Heading // radians counter-clockwise from east
}

// Validate says what is wrong with p.
func (p Pose) Validate() error {
	if !(math.Abs(p.At.X) <= farthest && math.Abs(p.At.Y) <= farthest) {
		return fmt.Errorf("pose at %g, %g: must be within ±%g m", p.At.X, p.At.Y, farthest)
	}
	if !(math.Abs(float64(p.Heading)) <= mostTurned) {
		return fmt.Errorf("pose, heading %g rad: must be within ±%g rad", float64(p.Heading), mostTurned)
	}
	return nil
}

// Moved is the pose so far ahead and to the left (m) of p, turned by so much (rad).
func (p Pose) Moved(ahead, left, turn float64) Pose {
	sin, cos := math.Sincos(float64(p.Heading))
	return Pose{
		At:      plane.XY{X: p.At.X + cos*ahead - sin*left, Y: p.At.Y + sin*ahead + cos*left},
		Heading: p.Heading + geo.Heading(turn),
	}
}

// sees is the pose q as seen from p: how far ahead and to the left (m), and by
// how much it is turned, within ±π.
func (p Pose) sees(q Pose) (ahead, left, turn float64) {
	sin, cos := math.Sincos(float64(p.Heading))
	d := q.At.Sub(p.At)
	turn = float64(q.Heading - p.Heading)
	if !(math.Abs(turn) <= math.Pi) {
		turn = math.Remainder(turn, 2*math.Pi)
	}
	return cos*d.X + sin*d.Y, cos*d.Y - sin*d.X, turn
}

func radiusFault(r float64) error {
	if !(r >= leastRadius && r <= mostRadius) {
		return fmt.Errorf("least radius %g m: must be from %g to %d m", r, leastRadius, mostRadius)
	}
	return nil
}

// endsFault says what is wrong with the two ends of a way.
func endsFault(from, to Pose) error {
	if err := from.Validate(); err != nil {
		return fmt.Errorf("start: %w", err)
	}
	if err := to.Validate(); err != nil {
		return fmt.Errorf("goal: %w", err)
	}
	return nil
}

// wayFault says what is wrong with a way asked for from pose to pose.
func wayFault(from, to Pose, r float64) error {
	if err := endsFault(from, to); err != nil {
		return err
	}
	return radiusFault(r)
}
