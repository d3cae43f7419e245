package sweeps

import (
	"cmp"
	"math"
	"slices"

	"balk/geo/plane"
)

// Limit is how far a frame goes until something is left uncut that is cut straight ahead.
type Limit struct {
	At          float64 // rad of crab angle, or 1/m of curvature, both above 0
	Left, Right int     // numbers of the neighbours that open there, the first from the left end; 0 = none does up to At, the farthest that is judged
	Alike       int     // so many other neighbours open there too
}

// Opens says whether a gap opens at the limit.
func (l Limit) Opens() bool { return l.Left > 0 }

// Limits are those of a frame to each side. A curve to the left has its centre on the left; crab to the left is a frame turned to the left of its way.
type Limits struct{ CrabLeft, CrabRight, CurveLeft, CurveRight Limit }

// MostCrab is the largest crab angle judged: no larger one is taken for one anywhere (common practice, no source).
const MostCrab = 30 * math.Pi / 180 // rad

// Limits are found exactly, by the places where one blade takes over from another. With T = tan(crab angle), and with curvature κ about a
// centre abeam of the point axle ahead of the middle of the bar, the order of places across the way is that of
//
//	y + x·T        and of        y − κ·((x − axle)² + y²)/2,
//
// both linear (own derivation: the second is (R² − r²)/2R). Limits satisfies: (1) up to the limit no lap is below 0 that is not so straight
// ahead, beyond it there is one; (2) a mirrored frame has mirrored limits; (3) wider sweeps never lower one. Curvature is judged up to where a
// wing stands edge on to its own way, at the latest where the inner end stands on the turning centre.
func (f Frame) Limits(axle float64) Limits {
	crab := func(side float64) Limit {
		at := func(p plane.XY) line { return line{p.Y, side * p.X} }
		l := f.first(math.Tan(MostCrab), at, func(b Blade) float64 { return within(at(b.Left).over(at(b.Nose)), at(b.Nose).over(at(b.Right))) })
		l.At = math.Atan(l.At)
		return l
	}
	about := f.Moved(plane.XY{X: -axle})
	curve := func(side float64) Limit {
		at := func(p plane.XY) line { return line{p.Y, -side * p.Dot(p) / 2} }
		return about.first(math.Inf(1), at, func(b Blade) float64 {
			// The wing towards the centre is edge on where its tip is no longer the point nearest to the centre; the other one where its
			// tip comes nearer than the nose.
			near, far := b.Left, at(b.Nose).over(at(b.Right))
			if side < 0 {
				near, far = b.Right, at(b.Left).over(at(b.Nose))
			}
			d := near.Sub(b.Nose)
			return within(line{side * d.Y, -near.Dot(d)}, far)
		})
	}
	return Limits{CrabLeft: crab(1), CrabRight: crab(-1), CurveLeft: curve(1), CurveRight: curve(-1)}
}

// within is the least p at which one of some lines, none below 0 at p = 0, comes below it.
func within(lines ...line) float64 {
	most := math.Inf(1)
	for _, l := range lines {
		most = min(most, l.notBelow().to)
	}
	return most
}

// line is a value that changes evenly: at + slope·p.
type line struct{ at, slope float64 }

func (l line) over(m line) line        { return line{l.at - m.at, l.slope - m.slope} }
func (l line) value(p float64) float64 { return l.at + l.slope*p }

// span is a stretch of p from 0 on.
type span struct{ from, to float64 }

// notBelow is where l is not below 0.
func (l line) notBelow() span {
	switch {
	case l.slope > 0:
		return span{max(0, -l.at/l.slope), math.Inf(1)}
	case l.slope < 0:
		return span{0, -l.at / l.slope}
	case l.at >= 0:
		return span{0, math.Inf(1)}
	}
	return span{1, 0} // nowhere
}

func (s span) and(t span) span { return span{max(s.from, t.from), min(s.to, t.to)} }

// sameEvent: two blades that take over from one another do so at the same p but for rounding.
const sameEvent = 1e-12 // of a tangent, or 1/m

// first is the least p at which the left end of a blade is neither covered by another blade nor the left end of all. place gives a
// point's place across the way as a line over p, and edgeOn up to where the tips of a blade are its ends. Blades whose left end is open at p = 0 do not count.
func (f Frame) first(most float64, place func(plane.XY) line, edgeOn func(Blade) float64) Limit {
	left, right := make([]line, len(f)), make([]line, len(f))
	for i, b := range f {
		left[i], right[i] = place(b.Left), place(b.Right)
		most = min(most, edgeOn(b))
	}
	limit := Limit{At: most}
	var covered []span
	for i := range f {
		covered = covered[:0]
		outer := span{0, math.Inf(1)}
		for j := range f {
			beyond := left[j].over(left[i])
			if j == i || beyond == (line{}) && j < i {
				continue // of two at the same place one must be covered by a third
			}
			outer = outer.and(left[i].over(left[j]).notBelow())
			if s := left[i].over(right[j]).notBelow().and(beyond.notBelow()); s.from <= s.to {
				covered = append(covered, s)
			}
		}
		if outer.from <= outer.to {
			covered = append(covered, outer)
		}
		slices.SortFunc(covered, func(a, b span) int { return cmp.Compare(a.from, b.from) })
		reach := 0.0
		for _, s := range covered {
			if s.from > reach+sameEvent {
				break
			}
			reach = max(reach, s.to)
		}
		switch {
		case reach == 0: // open straight ahead
		case reach < limit.At-sameEvent:
			limit = Limit{At: reach, Left: f.nextLeft(left, right, i, reach), Right: f[i].Number}
		case limit.Opens() && reach <= limit.At+sameEvent:
			limit.Alike++
		}
	}
	return limit
}

// nextLeft is the number of the blade whose right end comes first to the left of blade i's left end at p.
func (f Frame) nextLeft(left, right []line, i int, p float64) int {
	number, least := 0, math.Inf(1)
	for j, b := range f {
		beyond := left[j].over(left[i])
		if j == i || beyond.value(p) < -sameEvent || beyond.value(p) <= sameEvent && beyond.slope <= 0 {
			continue
		}
		if at := right[j].value(p); at < least {
			number, least = b.Number, at
		}
	}
	return number
}
