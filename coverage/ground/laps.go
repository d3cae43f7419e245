package ground

import (
	"cmp"
	"math"
	"slices"

	"balk/geo/plane"
)

// lapTolerance: quads that reach into each other by less do not lap. A few
// lattice steps; on a 6 m bar it is below a square millimetre.
const lapTolerance = 1e-7 // m

// pair is two quads of one trail, i driven before j, that lap within relap of travel.
type pair struct {
	i, j int
	part []plane.Ring // ground of i by which j comes within relap; nil: all of i
}

// laps is what lapsOf finds in a pass.
type laps struct {
	from  int     // first quad of the pass
	relap float64 // m
	apart []bool  // per quad of the pass: it does not advance over its whole width, or laps an earlier one
	pairs []pair  // by j, then i
}

// earlier are the pairs whose later quad is j.
func (l laps) earlier(j int) []pair {
	at := func(p pair, j int) int { return cmp.Compare(p.j, j) }
	from, _ := slices.BinarySearchFunc(l.pairs, j, at)
	to, _ := slices.BinarySearchFunc(l.pairs, j+1, at)
	return l.pairs[from:to]
}

// within says whether so many metres of travel are less than relap.
func (l laps) within(d float64) bool { return toStep(d) < l.relap }

// travelStep: differences of travel are rounded to so many metres before they are
// compared. With constant steps they are relap exactly, and the last bits of a sum
// must not decide.
const travelStep = 1e-6

func toStep(d float64) float64 { return math.Round(d/travelStep) * travelStep }

// lapsOf finds the quads of a pass, those from quad from on, that do not advance and
// those that lap an earlier quad within relap metres of travel. Nearly all of a log is
// cleared by calm, window by window; only windows that fail it are compared pair by pair.
func lapsOf(bars []bar, from int, relap float64) laps {
	n := len(bars) - 1 // quads
	l := laps{from: from, relap: toStep(relap)}
	if n <= from {
		return l
	}
	odd := make([]bool, n)
	for i := range n {
		odd[i] = bars[i].next.Ground() && !advances(&bars[i], &bars[i+1])
	}
	l.apart = slices.Clone(odd[from:])
	first := 0 // first quad of the window
	for at := from; at < n; {
		to := at + 1 // the block: quads that begin within relap of its first
		for to < n && bars[to].s < bars[at].s+relap {
			to++
		}
		for first < at && bars[at].s-bars[first+1].s >= relap {
			first++
		}
		if !calm(bars, odd, first, to-1) {
			l.compare(bars, odd, first, at, to)
		}
		at = to
	}
	return l
}

// tan30 and 45°: any two angles with a sum below 90° would do.
const tan30 = 0.57735

// calm proves that no two of the quads from..last lap: with d the direction of
// one bar of the window,
//
//	(1) every quad that is worked advances (convex, counter-clockwise),
//	(2) every bar lies within 30° of square to d,
//	(3) every step of either bar end, worked or not, lies within 45° of d.
//
// Proof. Let n be the forward normal of bar k. It lies within 30° of d, so it
// makes less than 75° with every step, and each step moves both ends forward
// along n. So all ends before bar k lie behind its line and all ends after it in
// front, and that line parts every quad before k from every quad after it. ∎
// False means only that nothing was proved.
func calm(bars []bar, odd []bool, from, last int) bool {
	mid := bars[(from+last+1)/2]
	v := mid.left.Sub(mid.right)
	d := plane.XY{X: v.Y, Y: -v.X}
	for i := from; i <= last; i++ {
		if odd[i] || !square(d, bars[i]) {
			return false
		}
		if !along(d, bars[i+1].right.Sub(bars[i].right)) || !along(d, bars[i+1].left.Sub(bars[i].left)) {
			return false
		}
	}
	return square(d, bars[last+1])
}

func square(d plane.XY, b bar) bool {
	v := b.left.Sub(b.right)
	across, slant := d.Cross(v), d.Dot(v)
	return across > 0 && slant <= tan30*across && -slant <= tan30*across
}

func along(d, step plane.XY) bool {
	fwd, side := d.Dot(step), d.Cross(step)
	return side <= fwd && -side <= fwd
}

// fewQuads: in longer windows earlier quads are looked up by place.
const fewQuads = 256

// compare tests the quads at..to-1 against all earlier ones from first on within relap.
// Neighbours that both advance are parted by the bar between them.
func (l *laps) compare(bars []bar, odd []bool, first, at, to int) {
	boxes := make([]plane.Box, to-first) // none where nothing was worked
	for i := range boxes {
		if boxes[i] = plane.EmptyBox(); bars[first+i].next.Ground() {
			q := quad(bars, first+i)
			boxes[i] = boxes[i].Extend(q[:]...)
		}
	}
	cut := make([][]plane.Ring, to-first) // pieces, as far as they were needed
	piecesOf := func(i int) []plane.Ring {
		if cut[i-first] == nil {
			cut[i-first] = pieces(quad(bars, i))
		}
		return cut[i-first]
	}
	var tree boxTree
	for j, begin := at, first; j < to; j++ {
		for begin < j && bars[j].s-bars[begin+1].s >= l.relap {
			begin++
		}
		test := func(k int) {
			if i := first + k; i == j-1 && !odd[i] && !odd[j] || !lapping(piecesOf(i), piecesOf(j)) {
				return
			}
			l.take(bars, first+k, j)
		}
		box := boxes[j-first]
		if j-begin > fewQuads {
			if tree == nil {
				tree = boxTreeOf(boxes)
			}
			tree.meeting(box, begin-first, j-first, test)
			continue
		}
		for k := begin - first; k < j-first; k++ {
			if !apart(boxes[k], box) {
				test(k)
			}
		}
	}
}

// take notes that quads i and j lap, as far as they do within relap.
func (l *laps) take(bars []bar, i, j int) {
	p := pair{i: i, j: j}
	if !l.within(bars[j+1].s - bars[i].s) {
		some, all := l.part(bars, i, j)
		if some == nil && !all {
			return
		}
		p.part = some
	}
	l.pairs, l.apart[j-l.from] = append(l.pairs, p), true
}

// fan is how many boxes of a level of a tree go into one of the next.
const fan = 16

// boxTree finds boxes of a list by place: the list, then level by level one box
// around fan boxes of the level before, up to a single one.
type boxTree [][]plane.Box

func boxTreeOf(boxes []plane.Box) boxTree {
	t := boxTree{boxes}
	for len(boxes) > 1 {
		above := make([]plane.Box, 0, len(boxes)/fan+1)
		for some := range slices.Chunk(boxes, fan) {
			around := plane.EmptyBox()
			for _, b := range some {
				around = around.Extend(b.Min, b.Max)
			}
			above = append(above, around)
		}
		t, boxes = append(t, above), above
	}
	return t
}

// meeting calls f with the boxes from..to-1 that lap box, ascending.
func (t boxTree) meeting(box plane.Box, from, to int, f func(k int)) {
	var down func(level, k, size int) // size: boxes of the list under one of the level
	down = func(level, k, size int) {
		switch {
		case k*size >= to || (k+1)*size <= from || apart(t[level][k], box):
		case level == 0:
			f(k)
		default:
			for c := k * fan; c < min((k+1)*fan, len(t[level-1])); c++ {
				down(level-1, c, size/fan)
			}
		}
	}
	top := len(t) - 1
	size := 1
	for range top {
		size *= fan
	}
	down(top, 0, size)
}

func apart(a, b plane.Box) bool {
	return a.Max.X <= b.Min.X || b.Max.X <= a.Min.X || a.Max.Y <= b.Min.Y || b.Max.Y <= a.Min.Y
}

func lapping(a, b []plane.Ring) bool {
	for _, p := range a {
		for _, q := range b {
			if !parted(p, q) && !parted(q, p) {
				return true
			}
		}
	}
	return false
}

// parted says whether the line of one edge of p has all of q on its outer side.
// Of two convex pieces that do not lap, one has such an edge.
func parted(p, q plane.Ring) bool {
	for i, a := range p {
		e := p[(i+1)%len(p)].Sub(a)
		limit := lapTolerance * e.Len()
		out := true
		for _, v := range q {
			if wedge(e, v.Sub(a)) > limit {
				out = false
				break
			}
		}
		if out {
			return true
		}
	}
	return false
}
