package coverage

import (
	"context"

	"balk/geo/plane"
)

// The lanes of the arrangement.
const (
	laneWork = iota
	laneField
	laneUnknown
	laneCore // the field without its headland
)

// bar is the implement at one stop: the ends of the width it is credited with.
//
//	L0 ←── L1
//	│       ↑      a quad: right ends forward, left ends backward,
//	R0 ──→ R1      counter-clockwise as long as the bar advances
type bar struct {
	left, right plane.XY
	s           float64 // m, travel
	next        stretch
}

// barsOf sets the bars of a run; less is taken off the full working width.
// A bar narrower than that works nothing: it is cut out.
func barsOf(stops []stop, less float64) []bar {
	bars := make([]bar, len(stops))
	for i, s := range stops {
		half := (s.width - less) / 2
		if half <= 0 {
			half = 0
			s.next = cut
			if i > 0 {
				bars[i-1].next = cut
			}
		}
		reach := s.left.Scale(half)
		bars[i] = bar{plane.Snap(s.at.Add(reach)), plane.Snap(s.at.Sub(reach)), s.s, s.next}
	}
	return bars
}

// quad is the ground between a bar and the next.
func quad(bars []bar, i int) [4]plane.XY {
	return [4]plane.XY{bars[i].right, bars[i+1].right, bars[i+1].left, bars[i].left}
}

// turn is positive when the way from a over b to c turns left. The products are
// rounded apart, so equal edges give exactly zero on every processor.
func turn(a, b, c plane.XY) float64 { return wedge(b.Sub(a), c.Sub(b)) }

// wedge is the cross product without fused rounding.
func wedge(u, v plane.XY) float64 { return float64(u.X*v.Y) - float64(u.Y*v.X) }

// advancing says whether a quad turns left at all four corners: it is convex and
// counter-clockwise, the bar went forward over its whole width.
func advancing(q [4]plane.XY) bool {
	return turn(q[0], q[1], q[2]) > 0 && turn(q[1], q[2], q[3]) > 0 &&
		turn(q[2], q[3], q[0]) > 0 && turn(q[3], q[0], q[1]) > 0
}

// pieces cuts a quad of any shape into at most two convex counter-clockwise
// pieces: itself when it advances, both triangles of a bow-tie, the two halves
// of an arrowhead.
func pieces(q [4]plane.XY) []plane.Ring {
	if advancing(q) {
		return []plane.Ring{q[:]}
	}
	var out []plane.Ring
	add := func(a, b, c plane.XY) {
		switch t := turn(a, b, c); {
		case t > 0:
			out = append(out, plane.Ring{a, b, c})
		case t < 0:
			out = append(out, plane.Ring{a, c, b})
		}
	}
	if x, ok := crossing(q[0], q[3], q[1], q[2]); ok { // the bars cross: inner end ran backwards
		add(q[0], q[1], x)
		add(q[2], q[3], x)
		return out
	}
	if x, ok := crossing(q[0], q[1], q[2], q[3]); ok { // the ends' ways cross: the bar swapped sides
		add(q[1], q[2], x)
		add(q[3], q[0], x)
		return out
	}
	// Simple but not convex, or clockwise: the diagonal that leaves both halves
	// turning the same way lies inside.
	if (turn(q[0], q[1], q[2]) >= 0) == (turn(q[2], q[3], q[0]) >= 0) {
		add(q[0], q[1], q[2])
		add(q[2], q[3], q[0])
	} else {
		add(q[1], q[2], q[3])
		add(q[3], q[0], q[1])
	}
	return out
}

// crossing is where the segments ab and cd cross inside both, on the lattice.
func crossing(a, b, c, d plane.XY) (plane.XY, bool) {
	c1, d1 := wedge(b.Sub(a), c.Sub(a)), wedge(b.Sub(a), d.Sub(a))
	a1, b1 := wedge(d.Sub(c), a.Sub(c)), wedge(d.Sub(c), b.Sub(c))
	if !(c1 > 0 && d1 < 0 || c1 < 0 && d1 > 0) || !(a1 > 0 && b1 < 0 || a1 < 0 && b1 > 0) {
		return plane.XY{}, false
	}
	return plane.Snap(a.Lerp(b, a1/(a1-b1))), true
}

// swath is the ground of one pass as outlines, and its area in m² counted as
// often as it was worked.
type swath struct {
	outlines []plane.Outline
	area     float64
}

func (s *swath) add(line []plane.XY, lane int) {
	s.outlines = append(s.outlines, plane.Outline{Line: line, Lane: lane})
	if lane == laneWork {
		s.area += plane.Ring(line).Area()
	}
}

// swathOf turns the bars of one pass into outlines whose winding number is the
// depth of the pass: how often it worked a place, where coverings less than
// relap metres of travel apart count once.
//
//	depth(p) = Σ over quads j of [p in quad j and in no earlier quad within relap of travel]
//
// which is the number of clusters when coverings are chained along the travel,
// and so the same when the track is read backwards. Quads that advance and lap
// no other within relap are joined to legs, one outline each. The few others
// (lapsOf finds them) come as outlines of what they add.
func swathOf(ctx context.Context, bars []bar, relap float64) (swath, error) {
	var sw swath
	laps := lapsOf(bars, relap)
	at := 0
	for _, g := range laps.groups {
		sw.legs(bars, at, g.from, laps.odd)
		if err := sw.group(ctx, bars, g, laps, relap); err != nil {
			return swath{}, err
		}
		at = g.to + 1
	}
	sw.legs(bars, at, len(bars)-1, laps.odd)
	return sw, nil
}

// coverOf turns bars into outlines whose winding number is positive exactly
// where the bars went; how often is left open. Nothing needs comparing for it.
func coverOf(bars []bar) []plane.Outline {
	var sw swath
	odd := make([]bool, len(bars))
	for i := 0; i+1 < len(bars); i++ {
		if odd[i] = !advancing(quad(bars, i)); odd[i] && bars[i].next.ground() {
			sw.addPieces(bars, i)
		}
	}
	sw.legs(bars, 0, len(bars)-1, odd)
	return sw.outlines
}

// ground says whether the bar worked the stretch.
func (s stretch) ground() bool { return s == worked || s == pivot }

// legs adds the outlines of the quads from..to-1: one per unbroken run of
// worked quads that are not odd, and one per piece of unknown ground.
func (s *swath) legs(bars []bar, from, to int, odd []bool) {
	for i := from; i < to; {
		if bars[i].next == unknown {
			for _, p := range pieces(quad(bars, i)) {
				s.add(p, laneUnknown)
			}
		}
		if !bars[i].next.ground() || odd[i] {
			i++
			continue
		}
		end := i
		for end < to && bars[end].next.ground() && !odd[end] {
			end++
		}
		s.add(outline(bars[i:end+1]), laneWork)
		i = end
	}
}

// outline runs along the right ends and back along the left ends.
func outline(bars []bar) []plane.XY {
	n := len(bars)
	line := make([]plane.XY, 2*n)
	for i, b := range bars {
		line[i], line[2*n-1-i] = b.right, b.left
	}
	return line
}

// group adds what a group of lapping quads works. A group shorter than relap
// counts once everywhere: the union of its quads. In a longer one each quad adds
// what no earlier quad within relap has.
func (s *swath) group(ctx context.Context, bars []bar, g span, laps laps, relap float64) error {
	if bars[g.to].s-bars[g.from+1].s < relap {
		var own swath
		own.legs(bars, g.from, g.to+1, laps.odd)
		for i := g.from; i <= g.to; i++ {
			if laps.odd[i] {
				own.addPieces(bars, i)
			}
		}
		var set []plane.Outline
		for _, o := range own.outlines {
			if o.Lane == laneUnknown {
				s.outlines = append(s.outlines, o)
				continue
			}
			set = append(set, o)
		}
		return s.addWhere(ctx, set, func(l plane.Label) bool { return l.Count(laneWork) > 0 })
	}
	alone := make([]bool, g.to+1-g.from)
	for j := g.from; j <= g.to; j++ {
		earlier := laps.earlier(j)
		if !bars[j].next.ground() || (len(earlier) == 0 && !laps.odd[j]) {
			continue // stays in a leg
		}
		alone[j-g.from] = true
		if len(earlier) == 0 {
			s.addPieces(bars, j)
			continue
		}
		var set []plane.Outline
		for _, p := range pieces(quad(bars, j)) {
			set = append(set, plane.Outline{Line: p, Lane: 0})
		}
		for _, e := range earlier {
			for _, p := range pieces(quad(bars, e.i)) {
				set = append(set, plane.Outline{Line: p, Lane: 1})
			}
		}
		err := s.addWhere(ctx, set, func(l plane.Label) bool { return l.Count(0) > 0 && l.Count(1) <= 0 })
		if err != nil {
			return err
		}
	}
	s.legs(bars[g.from:g.to+2], 0, g.to+1-g.from, alone)
	return nil
}

// addPieces adds a quad that does not advance.
func (s *swath) addPieces(bars []bar, i int) {
	for _, p := range pieces(quad(bars, i)) {
		s.add(p, laneWork)
	}
}

// addWhere adds the outlines of the places of a set that are kept.
func (s *swath) addWhere(ctx context.Context, set []plane.Outline, keep func(plane.Label) bool) error {
	if len(set) == 0 {
		return nil
	}
	rings, err := plane.Trace(ctx, set, keep)
	for _, ring := range rings {
		s.add(ring, laneWork)
	}
	return err
}
