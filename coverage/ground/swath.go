package ground

import (
	"cmp"
	"context"
	"math"
	"slices"

	"balk/coverage/drive"
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
	next        drive.Step
	told        bool // its heading is logged, or that of the set's model; else it comes from the track
}

// barsOf sets the bars of a run; less is taken off the full working width.
// A bar narrower than that works nothing: it is cut out.
func barsOf(run *drive.Run, less float64) []bar {
	return appendBars(make([]bar, 0, len(run.Stops)), run.Stops, run.Parts, setting{less: less}, 0)
}

// setting is how bars are set elsewhere than they were taken.
type setting struct {
	less  float64 // m, taken off the full working width
	share float64 // of the pass-to-pass error, by which they are wider
	aside float64 // m to the right
}

// appendBars is barsOf behind others, travel running on from start.
func appendBars(bars []bar, stops []drive.Stop, parts []drive.Part, how setting, start float64) []bar {
	n := len(bars)
	bars = slices.Grow(bars, len(stops))[:n+len(stops)]
	var half float64 // of the part of the last bar
	last := uint32(math.MaxUint32)
	for i := range stops {
		s, b := &stops[i], &bars[n+i]
		if s.Part != last {
			last, half = s.Part, how.half(&parts[s.Part])
		}
		at, next := s.At, s.Next
		if half == 0 {
			next = drive.StepCut
			if i > 0 {
				bars[n+i-1].next = drive.StepCut
			}
		}
		if how.aside != 0 {
			at = at.Sub(s.Left.Scale(how.aside))
		}
		reach := s.Left.Scale(half)
		b.left, b.right, b.s, b.next, b.told = plane.Snap(at.Add(reach)), plane.Snap(at.Sub(reach)), start+s.S, next, s.Told
	}
	return bars
}

// half is half the width of a bar, m; 0: it works nothing.
func (how setting) half(part *drive.Part) float64 {
	width := part.Width
	if how.share != 0 && width > how.less {
		width += how.share * known(part)
	}
	return max(0, (width-how.less)/2)
}

// Ring runs along the right ends of the bars of drive.Along and back along the left ends. It winds once round what the bar
// worked going ahead, and once less where an end ran backwards in a bend, on ground that lies in the swath before and
// after it too.
func Ring(line []plane.XY, width, aside float64) plane.Ring {
	run := drive.Along(line, width, aside)
	return outline(barsOf(&run, 0))
}

// barsUpTo sets the bars of pass k, from bar from on, and before them those of earlier
// passes of its trail that it may work again within relap metres of travel. Travel
// runs on from pass to pass; what lies between two is cut.
func barsUpTo(runs []drive.Run, k int, less, relap float64) (bars []bar, from int) {
	begin := runs[k].Start - relap
	first := k
	for first > 0 && runs[first-1].Trail == runs[k].Trail && runs[first-1].End() > begin {
		first--
	}
	late := func(r drive.Run) []drive.Stop { // the quads that end late enough
		i, _ := slices.BinarySearchFunc(r.Stops, begin-r.Start, func(s drive.Stop, at float64) int { return cmp.Compare(s.S, at) })
		return r.Stops[max(0, i-1):]
	}
	for _, r := range runs[first:k] {
		from += len(late(r))
	}
	bars = make([]bar, 0, from+len(runs[k].Stops))
	for _, r := range runs[first:k] {
		bars = appendBars(bars, late(r), r.Parts, setting{less: less}, r.Start)
	}
	return appendBars(bars, runs[k].Stops, runs[k].Parts, setting{less: less}, runs[k].Start), from
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

// advances is advancing of the quad between two bars, which has a side in common with the one before and the one behind it.
func advances(a, b *bar) bool {
	rx, ry := b.right.X-a.right.X, b.right.Y-a.right.Y // the way of the right ends
	lx, ly := b.left.X-a.left.X, b.left.Y-a.left.Y
	ax, ay := a.left.X-a.right.X, a.left.Y-a.right.Y // the bars, from right to left
	bx, by := b.left.X-b.right.X, b.left.Y-b.right.Y
	return float64(rx*by) > float64(ry*bx) && float64(lx*by) > float64(ly*bx) &&
		float64(lx*ay) > float64(ly*ax) && float64(rx*ay) > float64(ry*ax)
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
}

// measure fills in the area.
func (s *swath) measure() {
	for _, o := range s.outlines {
		if o.Lane == laneWork {
			s.area += plane.Ring(o.Line).Area()
		}
	}
}

// swathOf turns the bars of one pass, those from bar from on, into outlines whose winding
// number is its part of the depth. The bars before are those of earlier passes of the
// same trail.
//
//	depth(p) = number of quads j that hold p while no earlier quad i holds p
//	           with s_j(p) − s_i(p) < relap
//
// where s_j(p) is the travel at which quad j passed that very place (see patch). That
// is the number of clusters when coverings are chained along the travel, and so
// the same when the track is read backwards; s does not depend on how many bars a
// straight has, so neither does the depth. A ring shorter than relap counts once
// however often it is driven. The ground belongs to the pass that worked it first.
//
// Quads that advance over ground that no earlier one has taken are joined to legs, one
// outline each. The few others (lapsOf finds them) come as outlines of what they add.
func swathOf(ctx context.Context, bars []bar, from int, relap float64) (swath, error) {
	var sw swath
	laps := lapsOf(bars, from, relap)
	if err := sw.others(ctx, bars, laps); err != nil {
		return swath{}, err
	}
	sw.legs(bars[from:], 0, len(laps.apart), laps.apart)
	sw.measure()
	return sw, nil
}

// coverOf turns bars into outlines whose winding number is positive exactly
// where the bars went; how often is left open. Nothing needs comparing for it.
func coverOf(bars []bar) []plane.Outline {
	var sw swath
	odd := make([]bool, len(bars))
	for i := 0; i+1 < len(bars); i++ {
		if odd[i] = !advances(&bars[i], &bars[i+1]); odd[i] && bars[i].next.Ground() {
			sw.addPieces(bars, i)
		}
	}
	sw.legs(bars, 0, len(bars)-1, odd)
	return sw.outlines
}

// legs adds the outlines of the quads from..to-1: one per unbroken run of
// worked quads that are not odd, and one per piece of unknown ground.
func (s *swath) legs(bars []bar, from, to int, odd []bool) {
	for i := from; i < to; {
		if bars[i].next == drive.StepUnknown {
			for _, p := range pieces(quad(bars, i)) {
				s.add(p, laneUnknown)
			}
		}
		if !bars[i].next.Ground() || odd[i] {
			i++
			continue
		}
		end := i
		for end < to && bars[end].next.Ground() && !odd[end] {
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

// bunch is some quads apart that go into one arrangement, since they lie within relap
// of travel of each other and of all the earlier quads they lap, at all places: ground
// that one of them holds and none of those earlier counts once.
type bunch struct {
	own, earlier []int
	start        float64 // m, least travel of all
}

// others adds what the quads apart add, in bunches where that is possible.
func (s *swath) others(ctx context.Context, bars []bar, l laps) error {
	var b bunch
	for k, apart := range l.apart {
		if !apart {
			continue
		}
		j := l.from + k
		earlier := l.earlier(j)
		start := bars[j].s
		for _, e := range earlier {
			start = min(start, bars[e.i].s)
		}
		if len(b.own) > 0 && !l.within(bars[j+1].s-min(start, b.start)) {
			if err := s.bunch(ctx, bars, b); err != nil {
				return err
			}
			b = bunch{own: b.own[:0], earlier: b.earlier[:0]}
		}
		if !l.within(bars[j+1].s - start) {
			if err := s.single(ctx, bars, j, earlier); err != nil {
				return err
			}
			continue
		}
		if len(b.own) == 0 {
			b.start = start
		}
		b.own, b.start = append(b.own, j), min(b.start, start)
		for _, e := range earlier {
			b.earlier = append(b.earlier, e.i)
		}
	}
	return s.bunch(ctx, bars, b)
}

// bunch adds what the quads of a bunch add.
func (s *swath) bunch(ctx context.Context, bars []bar, b bunch) error {
	if len(b.own) == 1 && len(b.earlier) == 0 {
		s.addPieces(bars, b.own[0])
		return nil
	}
	slices.Sort(b.earlier)
	earlier := slices.DeleteFunc(slices.Compact(b.earlier), func(i int) bool {
		_, own := slices.BinarySearch(b.own, i)
		return own
	})
	own, err := merged(ctx, covering(nil, bars, b.own, 0))
	if err != nil {
		return err
	}
	others, err := merged(ctx, covering(nil, bars, earlier, 1))
	if err != nil {
		return err
	}
	return s.trace(ctx, append(own, others...))
}

// single adds what quad j adds to what earlier quads have of it, some in part.
func (s *swath) single(ctx context.Context, bars []bar, j int, earlier []pair) error {
	if len(earlier) == 0 {
		s.addPieces(bars, j)
		return nil
	}
	set := covering(nil, bars, []int{j}, 0)
	for _, e := range earlier {
		if e.part == nil {
			set = covering(set, bars, []int{e.i}, 1)
		}
		for _, p := range e.part {
			set = append(set, plane.Outline{Line: p, Lane: 1})
		}
	}
	return s.addFirst(ctx, set)
}

// covering adds outlines that wind, all together, once or more round the ground of
// some quads, ascending.
func covering(to []plane.Outline, bars []bar, quads []int, lane int) []plane.Outline {
	for k := 0; k < len(quads); {
		i := quads[k]
		if !advancing(quad(bars, i)) {
			for _, p := range pieces(quad(bars, i)) {
				to = append(to, plane.Outline{Line: p, Lane: lane})
			}
			k++
			continue
		}
		end := i
		for ; k < len(quads) && quads[k] == end && advancing(quad(bars, end)); k++ {
			end++
		}
		to = append(to, plane.Outline{Line: outline(bars[i : end+1]), Lane: lane})
	}
	return to
}

// merged gives outlines that wind round the same ground as some of one lane, none of which winds backwards. Those of one place cross each other
// with the square of their number: such as follow each other are made one, and then such as these.
func merged(ctx context.Context, some []plane.Outline) ([]plane.Outline, error) {
	const together = 16
	if len(some) < 2*together {
		return some, nil
	}
	one := func(of []plane.Outline) (out []plane.Outline, err error) {
		rings, err := plane.Trace(ctx, of, func(l plane.Label) bool { return l.Count(of[0].Lane) > 0 })
		for _, r := range rings {
			out = append(out, plane.Outline{Line: r, Lane: of[0].Lane})
		}
		return out, err
	}
	var out []plane.Outline
	for large := range slices.Chunk(some, together*together) {
		var parts []plane.Outline
		for small := range slices.Chunk(large, together) {
			part, err := one(small)
			if err != nil {
				return nil, err
			}
			parts = append(parts, part...)
		}
		part, err := one(parts)
		if err != nil {
			return nil, err
		}
		out = append(out, part...)
	}
	return out, nil
}

// crowded: from so many outlines on, those of lane 1 are cut off beside the ground of lane 0, and taken so many at a time. A set that moves on
// laps fewer quads.
const crowded = 128

// beside is how much of lane 1 is left round the ground of lane 0, m: far above the lattice, so that no cut is a border of what is added.
const beside = 0.01

// addFirst adds the ground under lane 0 of a set that is not under lane 1.
func (s *swath) addFirst(ctx context.Context, set []plane.Outline) error {
	if len(set) == 0 {
		return nil
	}
	own, others := set, []plane.Outline(nil)
	if len(set) >= crowded {
		// Outlines over one place cross each other all round it, so that many cost their square; some of them mostly hold all that can be added.
		own, others = near(set)
	}
	for {
		n := min(crowded/4, len(others))
		rings, err := plane.Trace(ctx, append(own, others[:n]...), first)
		if err != nil {
			return err
		}
		if others = others[n:]; len(rings) == 0 || len(others) == 0 {
			for _, ring := range rings {
				s.add(ring, laneWork)
			}
			return nil
		}
		own = nil
		for _, ring := range rings {
			own = append(own, plane.Outline{Line: ring})
		}
	}
}

// first says that ground is under lane 0 and not under lane 1.
func first(l plane.Label) bool { return l.Count(0) > 0 && l.Count(1) <= 0 }

// trace adds the ground under lane 0 of a set that is not under lane 1, in one arrangement.
func (s *swath) trace(ctx context.Context, set []plane.Outline) error {
	rings, err := plane.Trace(ctx, set, first)
	for _, ring := range rings {
		s.add(ring, laneWork)
	}
	return err
}

// near parts a set by lane, with lane 1 cut off beside the ground of lane 0 and the largest first.
func near(set []plane.Outline) (own, others []plane.Outline) {
	var corners []plane.XY
	for _, o := range set {
		if o.Lane == 0 {
			own, corners = append(own, o), append(corners, o.Line...)
		}
	}
	hull := plane.Hull(corners)
	for _, o := range set {
		if o.Lane == 0 {
			continue
		}
		// Off one side after the other. What winds round a place near lane 0 still does, and as often.
		for _, side := range hull.Sides() {
			ahead := side.B.Sub(side.A).Unit()
			o.Line = below(nil, o.Line, func(p plane.XY) float64 { return -wedge(ahead, p.Sub(side.A)) - beside })
		}
		if len(o.Line) > 0 {
			others = append(others, o)
		}
	}
	slices.SortStableFunc(others, func(a, b plane.Outline) int { return cmp.Compare(plane.Ring(b.Line).Area(), plane.Ring(a.Line).Area()) })
	return own, others
}

// addPieces adds a quad that does not advance.
func (s *swath) addPieces(bars []bar, i int) {
	for _, p := range pieces(quad(bars, i)) {
		s.add(p, laneWork)
	}
}
