package sweeps

import (
	"cmp"
	"math"
	"slices"

	"balk/geo/plane"
)

// Motion is how a frame moves at one moment.
type Motion struct {
	Crab      float64 // rad, from the way to where the frame points: above 0 it is turned to the left of its way
	Curvature float64 // 1/m of the way of the point Axle ahead of the middle of the bar: above 0 to the left
	Axle      float64 // m, that point
}

// across is where p runs, measured to the left of the way of the point m.Axle ahead of the bar's middle, m. All places with the same
// value run in one line. On a straight way that is p·n with n to the left of the way; in a curve of radius R = 1/κ about a
// centre C = R·n it is R − |p − C|, in a form that holds for small κ too (own derivation):
//
//	R − |p − C| = (2·p·n − κ·p²) / (1 + √(1 − 2κ·p·n + κ²·p²))
func (m Motion) across(p plane.XY) float64 { return m.lines().across(p) }

// lines are the ways of all places under a motion.
type lines struct {
	n         plane.XY // to the left of the way, in the frame
	curvature float64
	axle      float64
}

func (m Motion) lines() lines { return lines{m.left(), m.Curvature, m.Axle} }

func (w lines) across(p plane.XY) float64 {
	p.X -= w.axle
	a, b := p.Dot(w.n), p.Dot(p)
	return (2*a - w.curvature*b) / (1 + math.Sqrt(max(0, 1-2*w.curvature*a+w.curvature*w.curvature*b)))
}

// left is the unit vector to the left of the way, in the frame.
func (m Motion) left() plane.XY {
	sin, cos := math.Sincos(m.Crab)
	return plane.XY{X: sin, Y: cos}
}

// cut is what blade b cuts: from right to left of the way, m. Its wings are straight, so in a curve the point nearest to the
// centre may lie inside one.
func (w lines) cut(b Blade) Cut {
	right := w.across(b.Nose)
	left := right
	for _, tip := range [2]plane.XY{b.Left, b.Right} {
		at := w.across(tip)
		right, left = min(right, at), max(left, at)
		if w.curvature == 0 {
			continue
		}
		// Along nose + t·d the distance from the centre is least where (2·p·n − κ·p²)′ = 0.
		d, q := tip.Sub(b.Nose), b.Nose.Sub(plane.XY{X: w.axle})
		if t := w.n.Dot(d) - w.curvature*q.Dot(d); t*w.curvature > 0 && math.Abs(t) < math.Abs(w.curvature)*d.Dot(d) {
			at := w.across(b.Nose.Add(d.Scale(t / w.curvature / d.Dot(d))))
			right, left = min(right, at), max(left, at)
		}
	}
	return Cut{b.Number, right, left}
}

// Lap is how far the cuts of two blades lap that are neighbours in the direction of travel.
type Lap struct {
	Left, Right int     // numbers of the blades
	Lap         float64 // m; below 0 a ribbon so wide stays uncut
	At          float64 // m, the middle of the lap or ribbon, to the left of the way
}

// Laps are those of all neighbours, from the right end to the left. Laps satisfies: (1) without a lap below 0 everything from the right
// end to the left is cut; (2) the laps below 0 add up to what is not; (3) mirroring the frame and the motion mirrors them.
func (f Frame) Laps(m Motion) []Lap { return lapsOf(f.Cuts(m), nil) }

// lapsOf are the laps of cuts in order, put behind laps.
func lapsOf(cuts []Cut, laps []Lap) []Lap {
	if len(cuts) == 0 {
		return laps
	}
	reach := cuts[0]
	for _, c := range cuts[1:] {
		if c.Left <= reach.Left {
			continue // inside what others cut already: no neighbour in the direction of travel
		}
		laps = append(laps, Lap{c.Number, reach.Number, reach.Left - c.Right, (reach.Left + c.Right) / 2})
		reach = c
	}
	return laps
}

// Cut is what one blade cuts, across the way, m to the left of it.
type Cut struct {
	Number      int
	Right, Left float64
}

// Cuts are those of all blades, by their right ends.
func (f Frame) Cuts(m Motion) []Cut { return f.cuts(m, make([]Cut, 0, len(f))) }

// cuts puts them behind cuts. Blades come from the left end, so those that come later lie farther right but for a few: they are put in
// from the last one back.
func (f Frame) cuts(m Motion, cuts []Cut) []Cut {
	w := m.lines()
	for _, b := range slices.Backward(f) {
		c := w.cut(b)
		i := len(cuts)
		for cuts = append(cuts, c); i > 0 && (cuts[i-1].Right > c.Right || cuts[i-1].Right == c.Right && cuts[i-1].Left > c.Left); i-- {
			cuts[i] = cuts[i-1]
		}
		cuts[i] = c
	}
	return cuts
}

// Seen is a place of the frame as it is seen along the way: x ahead along it, y to its left, from the point m.Axle ahead of the bar's middle.
func (m Motion) Seen(p plane.XY) plane.XY {
	n, q := m.left(), p.Sub(plane.XY{X: m.Axle})
	return plane.XY{X: q.Cross(n), Y: q.Dot(n)}
}

// Far is how far behind the point m.Axle ahead of the bar p runs, m along the way of that point.
func (m Motion) Far(p plane.XY) float64 {
	q := m.Seen(p)
	if m.Curvature == 0 {
		return -q.X
	}
	radius := 1 / m.Curvature
	side := math.Copysign(1, radius)
	return math.Atan2(-q.X, side*(radius-q.Y)) * math.Abs(radius)
}

// Behind is the place where what ran at across, m, was when the frame had still so far to go, m along the way; seen as by Seen.
func (m Motion) Behind(across, far float64) plane.XY {
	if m.Curvature == 0 {
		return plane.XY{X: -far, Y: across}
	}
	radius := 1 / m.Curvature
	sin, cos := math.Sincos(far / radius)
	return plane.XY{X: -(radius - across) * sin, Y: radius - (radius-across)*cos}
}

// alike: laps that differ by less differ by rounding.
const alike = 1e-9 // m

// Thinnest is the least lap under m, of several alike the one farthest left; false where there are no neighbours.
func (f Frame) Thinnest(m Motion) (Lap, bool) {
	laps := f.Laps(m)
	if len(laps) == 0 {
		return Lap{}, false
	}
	least := slices.MinFunc(laps, func(a, b Lap) int { return cmp.Compare(a.Lap, b.Lap) }).Lap
	for i, l := range slices.Backward(laps) {
		if l.Lap <= least+alike {
			return laps[i], true
		}
	}
	return Lap{}, false
}

// Uncut is the ground inside the frame's span that no blade cuts under m, m across the way.
func (f Frame) Uncut(m Motion) float64 {
	sum := 0.0
	for _, l := range f.Laps(m) {
		sum += max(0, -l.Lap)
	}
	return sum
}
