package coverage

import (
	"cmp"
	"slices"

	"balk/geo/plane"
)

// lapTolerance: quads that reach into each other by less do not lap. A few
// lattice steps; on a 6 m bar it is below a square millimetre.
const lapTolerance = 1e-7 // m

// pair is two quads of one pass, i driven before j, that lap within relap.
type pair struct{ i, j int }

// laps is what lapsOf finds in a pass.
type laps struct {
	odd    []bool // quad does not advance over its whole width
	pairs  []pair // by j, then i
	groups []span // disjoint runs of quads that hold all odd quads and all pairs, ascending
}

// earlier are the pairs whose later quad is j.
func (l laps) earlier(j int) []pair {
	at := func(p pair, j int) int { return cmp.Compare(p.j, j) }
	from, _ := slices.BinarySearchFunc(l.pairs, j, at)
	to, _ := slices.BinarySearchFunc(l.pairs, j+1, at)
	return l.pairs[from:to]
}

// lapsOf finds the quads of a pass that do not advance and the pairs that lap
// within relap metres of travel. Nearly all of a log is cleared by calm, window
// by window; only windows that fail it are compared pair by pair.
func lapsOf(bars []bar, relap float64) laps {
	n := len(bars) - 1 // quads
	if n < 1 {
		return laps{}
	}
	l := laps{odd: make([]bool, n)}
	for i := range n {
		if bars[i].next.ground() && !advancing(quad(bars, i)) {
			l.odd[i] = true
			l.groups = append(l.groups, span{i, i})
		}
	}
	last := 0 // last quad of the window
	for from := 0; from < n; {
		to := from + 1 // the block: quads that start within relap of its first
		for to < n && bars[to].s < bars[from].s+relap {
			to++
		}
		for last = max(last, to-1); last+1 < n && bars[last+1].s < bars[to].s+relap; {
			last++
		}
		if !calm(bars, l.odd, from, last) {
			l.compare(bars, from, to, relap)
		}
		from = to
	}
	slices.SortFunc(l.pairs, func(a, b pair) int { return cmp.Or(cmp.Compare(a.j, b.j), cmp.Compare(a.i, b.i)) })
	for _, p := range l.pairs {
		l.groups = append(l.groups, span{p.i, p.j})
	}
	l.groups = merge(l.groups)
	return l
}

// tan30 and 45°: any two angles with a sum below 90° would do.
const tan30 = 0.57735

// calm proves that no two of the quads from..last lap: with d the direction of
// one bar of the window,
//
//	(1) every quad advances (convex, counter-clockwise),
//	(2) every bar lies within 30° of square to d,
//	(3) every step of either bar end lies within 45° of d.
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
		if odd[i] || !bars[i].next.ground() {
			return false
		}
		if !square(d, bars[i]) {
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

// compare tests the quads from..to-1 against all later ones within relap.
// Neighbours that both advance are parted by the bar between them.
func (l *laps) compare(bars []bar, from, to int, relap float64) {
	n := len(bars) - 1
	var cut [][]plane.Ring // pieces of quads from on, as far as they were needed
	piecesOf := func(i int, q [4]plane.XY) []plane.Ring {
		for len(cut) <= i-from {
			cut = append(cut, nil)
		}
		if cut[i-from] == nil {
			cut[i-from] = pieces(q)
		}
		return cut[i-from]
	}
	for i := from; i < to; i++ {
		if !bars[i].next.ground() {
			continue
		}
		a := quad(bars, i)
		box := plane.EmptyBox().Extend(a[:]...)
		for j := i + 1; j < n && bars[j].s-bars[i+1].s < relap; j++ {
			if !bars[j].next.ground() || j == i+1 && !l.odd[i] && !l.odd[j] {
				continue
			}
			b := quad(bars, j)
			if apart(box, plane.EmptyBox().Extend(b[:]...)) {
				continue
			}
			if lapping(piecesOf(i, a), piecesOf(j, b)) {
				l.pairs = append(l.pairs, pair{i, j})
			}
		}
	}
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

// merge joins spans that share a quad, ascending.
func merge(spans []span) []span {
	slices.SortFunc(spans, func(a, b span) int { return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to)) })
	out := spans[:0]
	for _, s := range spans {
		if k := len(out) - 1; k >= 0 && s.from <= out[k].to {
			out[k].to = max(out[k].to, s.to)
			continue
		}
		out = append(out, s)
	}
	return out
}
