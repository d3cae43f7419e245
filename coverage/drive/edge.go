package drive

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/motion"
	"balk/geo/plane"

	"github.com/tidwall/rtree"
)

const (
	// edgeSlant: a way that comes nearer to the boundary by less than this for each metre does not end at an edge parallel to it.
	edgeSlant = 0.5
	// edgeProbe is over what way about a step's middle that is looked up.
	edgeProbe = 1.0 // m
	// edgeKin: a side's spread has the say of its own row ends, and that of all sides the say of so many more. From a dozen ends seen a second
	// apart the spread of a side alone is good to a third only.
	edgeKin = 6.0
	// edgeUsual, edgeFew: before any row tells it, drivers lower and lift within this of their line, as a standard deviation, which has the say
	// of so many row ends. Common practice, no source.
	edgeUsual = 0.3 // m
	edgeFew   = 4.0
)

// toEdge is how far inside the boundary the bar is at the working fix, and by how much more for each metre along the way out, as it is about the
// middle of the step.
func (s *switchover) toEdge(scene *scene) (deep, nearer float64) {
	middle := (s.from + s.to) / 2
	in := func(at float64) float64 { return scene.inside(s.working.Add(s.out.Scale(at))) }
	nearer = (in(middle+edgeProbe/2) - in(middle-edgeProbe/2)) / edgeProbe
	return in(middle) - nearer*middle, nearer
}

// toEnd is the same for rounds, by how far the boundary lies ahead of the bar: a round runs beside one edge of it, the nearest, towards another. Where it meets none within
// a working width of its step, by beyond, nothing is known.
func (s *switchover) toEnd(scene *scene, beyond float64) (deep, nearer float64) {
	way := plane.Segment{A: s.working.Add(s.out.Scale(s.from - beyond)), B: s.working.Add(s.out.Scale(s.to + beyond))}
	middle, best := (s.from+s.to)/2, math.Inf(1)
	for k := range scene.edges.Along(way) {
		e := scene.edges.At(k)
		along := e.B.Sub(e.A)
		across := s.out.Cross(along)
		if share := s.out.Cross(s.working.Sub(e.A)) / across; math.Abs(across) > edgeSlant*along.Len() && share >= 0 && share <= 1 {
			if at := e.A.Add(along.Scale(share)).Sub(s.working).Dot(s.out); math.Abs(at-middle) < math.Abs(best-middle) {
				best = at
			}
		}
	}
	if !(best >= s.from-beyond && best <= s.to+beyond) {
		return 0, 0
	}
	return best, -1
}

// edges are lines parallel to the boundary at which rows begin or end, as far as each switch is concerned.
type edges struct {
	of    []*switchover // those that have enough others
	lines []edge        // of each of them
	sides []edgeSide
}

type edge struct {
	near      []otherRow // as if all were beside it
	side      int
	at, doubt float64 // m along out, and its standard deviation
}

// edgeSide are lowerings, or liftings, in one direction, or of all rounds.
type edgeSide struct {
	out      plane.XY
	lowering bool
	round    bool    // of rounds, on all sides
	spread   float64 // m, standard deviation of a switch about its line
}

// settledAlong is what the rows within a reach say of all switches where they begin and end alike far inside the boundary, as they do at a
// headland of one depth. It is one number that is to be told of a side, not the two of a line, and by how much drivers are off it is much alike on all sides.
//
// Of one row end hardly more is to be had at 1 Hz. A row end about a line σ wide, in a step L much longer than σ, tells of it by the nearer end of the step alone
// (doubtOf): n of them tell the line to √(σL/1.806n), and so each other to √(σ² + σL/1.806n), but for what its own step cuts off. With σ = 30 cm, L = 2.2 m and
// twelve others that is 34 cm; measured are 31 (TestEdgeTellsMore). What drivers do on other sides has no say in a side's line: it was tried, with what sides
// differ by taken from them, and a side begun 30 cm late was then taken for one 15 cm late, for 5 % less doubt (TestALateSideStaysLate).
//
// The spread comes from what each row's own step leaves of it about the others' line, that line a deviation off to either side: as if it were known, the
// doubt of that number would be missing in the spread (restricted likelihood, Patterson and Thompson 1971).
func settledAlong(all []*switchover, tree *rtree.RTreeG[*switchover], reach float64, rounds int) []sideLine {
	e := edgesOf(all, tree, reach)
	untilStill(e.of, rounds, func(place [][2]float64) {
		e.settleLines()
		e.settleSpreads()
		for i, s := range e.of {
			l := &e.lines[i]
			place[i][0], place[i][1] = s.settled(l.at, e.sides[l.side].spread)
		}
	})
	e.settleLines()
	told := map[*switchover]sideLine{}
	for i, s := range e.of {
		l, spread := &e.lines[i], e.sides[e.lines[i].side].spread
		if s.trail.apart {
			l.at, l.doubt = likelyLine(l.near, spread)
		}
		one := sideLine{told: true, line: l.at, doubt: l.doubt, spread: spread}
		one.at, one.sd = s.settled(l.at, math.Hypot(one.spread, l.doubt))
		told[s] = one
	}
	out := make([]sideLine, len(all))
	for i, s := range all {
		out[i] = told[s]
	}
	return out
}

// likelyLine is where a line may run, m, by steps in which rows lie about it with a spread, and its standard deviation: the mean and the deviation of its likelihood, each step's part of it
// the chance that an end lies there. Rows driven alike have their fixes at like places, so that long steps may all leave one stretch open: what they tell in the mean (doubtOf) is too much then.
func likelyLine(near []otherRow, spread float64) (at, sd float64) {
	from, to := math.Inf(1), math.Inf(-1)
	for _, b := range near {
		from, to = min(from, b.base+b.slope*b.of.from), max(to, b.base+b.slope*b.of.to)
	}
	from, to = from-spread, to+spread
	var logs [linePlaces]float64
	place := func(k int) float64 { return from + (to-from)*(float64(k)+0.5)/linePlaces }
	most := math.Inf(-1)
	for k := range logs {
		for _, b := range near {
			far, close := b.base+b.slope*b.of.to-place(k), b.base+b.slope*b.of.from-place(k)
			logs[k] += math.Log(max(lower(far/spread)-lower(close/spread), rowElsewhere))
		}
		most = max(most, logs[k])
	}
	var all, first, second float64
	for k, l := range logs {
		p := math.Exp(l - most)
		all, first, second = all+p, first+p*place(k), second+p*place(k)*place(k)
	}
	at = first / all
	return at, math.Sqrt(max(0, second/all-at*at))
}

// linePlaces are looked at for a line, and a row lies elsewhere than the others once in so many (common practice, no source).
const (
	linePlaces   = 100
	rowElsewhere = 0.001
)

// edgesOf finds for each switch the others that lie along one line with it, and which side it is on.
func edgesOf(all []*switchover, tree *rtree.RTreeG[*switchover], reach float64) *edges {
	e := &edges{of: slices.Clone(all)}
	slices.SortFunc(e.of, func(a, b *switchover) int { // by direction, so that sides do not hang on the order of rows
		return cmp.Or(cmp.Compare(a.out.X, b.out.X), cmp.Compare(a.out.Y, b.out.Y), cmp.Compare(a.working.X, b.working.X), cmp.Compare(a.working.Y, b.working.Y))
	})
	var rounds []*switchover
	for _, s := range e.of {
		if s.round && s.nearer < 0 {
			rounds = append(rounds, s)
		}
	}
	kept := e.of[:0]
	for _, s := range e.of {
		near := besides(tree, s, reach)
		if s.round {
			near = s.otherRounds(rounds)
		}
		if near = alike(parallel(s, near)); len(near) < sideRows {
			continue
		}
		k := slices.IndexFunc(e.sides, func(one edgeSide) bool {
			return one.lowering == s.lowering && one.round == s.round && (s.round || one.out.Dot(s.out) >= sideCos)
		})
		if k < 0 {
			k = len(e.sides)
			e.sides = append(e.sides, edgeSide{out: s.out, lowering: s.lowering, round: s.round, spread: edgeUsual})
		}
		kept, e.lines = append(kept, s), append(e.lines, edge{near: near, side: k})
	}
	e.of = kept
	return e
}

// otherRounds are the other rounds that begin, or end, as s does, on whatever side of the field. There are more than sideMost where a sensor flaps in the headland: none then.
func (s *switchover) otherRounds(rounds []*switchover) (near []otherRow) {
	for _, o := range rounds {
		if o != s && o.lowering == s.lowering {
			near = append(near, otherRow{of: o})
		}
	}
	if len(near) > sideMost {
		return nil
	}
	return near
}

// parallel are rows as if they were beside s: where they would begin or end were they as far inside the boundary there.
func parallel(s *switchover, near []otherRow) []otherRow {
	kept := near[:0]
	for _, b := range near {
		if s.nearer < -edgeSlant && b.of.nearer < -edgeSlant {
			b.base, b.slope, b.aside, b.weight = (b.of.deep-s.deep)/s.nearer, b.of.nearer/s.nearer, 0, 1
			kept = append(kept, b)
		}
	}
	return kept
}

// alike leaves out rows that end elsewhere than most, as together does where lines are to be found.
func alike(near []otherRow) []otherRow {
	if len(near) < sideRows {
		return near
	}
	off := make([]float64, len(near))
	best, middle := math.Inf(1), 0.0
	for _, from := range near {
		for k, b := range near {
			off[k] = math.Abs(b.place() - from.place())
		}
		if m := Median(off); m < best {
			best, middle = m, from.place()
		}
	}
	return slices.DeleteFunc(near, func(b otherRow) bool {
		return math.Abs(b.place()-middle) > strayRow*math.Max(motion.FromMAD*best, b.of.sd)
	})
}

// settleLines works out the line of each switch, as far inside the boundary as the others on its side in the mean.
func (e *edges) settleLines() {
	for i := range e.lines {
		l := &e.lines[i]
		l.at = 0
		for _, b := range l.near {
			l.at += b.place() / float64(len(l.near))
		}
		l.doubt = doubtOf(l.near, e.sides[l.side].spread)
	}
}

// settleSpreads works out how far switches lie off the lines of their sides.
func (e *edges) settleSpreads() {
	left := make([]meanOf, len(e.sides))
	var whole meanOf
	for i, s := range e.of {
		l := &e.lines[i]
		spread := e.sides[l.side].spread
		if s.strays(l.at, spread) {
			continue
		}
		square := 0.0
		for _, line := range [2]float64{l.at - l.doubt, l.at + l.doubt} {
			at, sd := cutNormal(line, spread, s.from, s.to)
			square += (sd*sd + (at-line)*(at-line)) / 2
		}
		left[l.side] = meanOf{left[l.side].sum + square, left[l.side].n + 1}
		whole = meanOf{whole.sum + square, whole.n + 1}
	}
	usual := (whole.sum + edgeFew*edgeUsual*edgeUsual) / (float64(whole.n) + edgeFew)
	for k, m := range left {
		e.sides[k].spread = math.Sqrt((m.sum + edgeKin*usual) / (float64(m.n) + edgeKin))
	}
}
