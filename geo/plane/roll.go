package plane

import (
	"math"
	"slices"
)

// A disc that rolls along the left side of a ring does not come to every corner. Between a and c, where it touches
// both, it hangs over a pocket:
//
//	      O          The ground of the pocket, between the arc of the disc and the ring below it, is nearer than the
//	    ╱   ╲        radius to the ring, and so is what strips along the pocket's edges take beyond it (both are proved
//	  a ╲___╱ c      below). So the ring may as well run along the arc, whose strip is the sector O a c: its line
//	   ╲╱╲_╱         pulled in by the radius is the one point O, where edge by edge it is a fan of lines that all
//	                 cross each other.
//
// Pockets are found as Graham's scan of 1972 finds a hull (from memory), with discs for straights: the corner b between a and c,
// neighbours among those still there, goes if
//
//	(1) a and c are no farther apart than the radius,
//	(2) b lies right of a → c and outside the disc D round O, which lies left of it,
//
// and afterwards all the ring between the corners that stayed is seen to keep to (2). Then it makes one loop with the arc, round
// the pocket, with D outside of it. The triangles a b c hold all the pocket. Each has one side of (1), and its others are edges of the
// ring or sides of (1): with two edges, a line along the first side ends at both within the radius; with fewer, all lies within
// the radius of the corner between two sides of (1). So the pocket's places are all nearer than the radius to the ring. A disc
// of that radius round a place elsewhere that comes below the arc without holding a or c would cross a → c in between,
// and its lower arc would cut that of D twice there, which by (1) two circles of one size do not: so all places from which the
// pocket's edges are nearer than the radius, seen through the arc, are nearer to a or c, or in the sector. ∎

// Rings of few corners are pulled in edge by edge, for which there is time, and all their arcs stay where they are. The disc rolls
// along others: those of many corners, where it makes the work smaller, and those that bend to the left on less than the radius in
// many fine steps, as a hole does that is an arc drawn round an obstacle: all the lines over such corners cross each other.
const (
	denseRing  = 1000 // corners
	finelyBent = 32   // corners that fan out: at most 3·32 lines, which cross each other some 4,600 times
)

// bend is a corner that the disc touches.
type bend struct {
	at     XY
	in, on XY      // directions of what comes to it and leaves it; along a pocket, of the disc's arc
	edge   float64 // m, of the shorter edge; 0 beside a pocket
	hangs  bool    // a pocket begins here
	centre XY      // of the disc over it
}

// bendsOf are the corners of a tidy ring that count for its line pulled in; of an open line, a piece of a ring, its ends stay.
func bendsOf(ring []XY, open bool, depth float64) []bend {
	all := bendsAt(ring, upTo(len(ring)), open, depth)
	fan := fans(all, depth)
	if !(depth > 0) || len(ring) < denseRing && fan <= finelyBent {
		return all
	}
	if kept := touched(ring, 0, 1, open, depth); fan > finelyBent || 3*len(kept) <= 2*len(ring) {
		all = bendsAt(ring, kept, open, depth)
	}
	if fan = fans(all, depth); fan > finelyBent {
		halved, kept := betweenMiddles(ring, open, depth)
		if mouths := bendsAt(halved, kept, open, depth); fans(mouths, depth) < fan {
			return mouths
		}
	}
	return all
}

// upTo are the numbers below n.
func upTo(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// betweenMiddles is a ring with the middles of edges as corners where a pocket begins or ends there, and the numbers of its corners that
// stay. An arc drawn in straights is hidden from a disc that is just larger: over two of its corners the disc would
// cut off the edges beside them, over two middles it does not.
func betweenMiddles(ring []XY, open bool, radius float64) ([]XY, []int) {
	halved := make([]XY, 0, 2*len(ring))
	for i, a := range ring {
		halved = append(halved, a, a.Lerp(ring[(i+1)%len(ring)], 0.5))
	}
	if open {
		halved = halved[:len(halved)-1]
	}
	stays := make([]bool, len(halved))
	for _, i := range touched(halved, 1, 2, open, radius) {
		stays[i] = true
	}
	n := len(halved)
	out, kept := halved[:0], []int(nil)
	for i, p := range halved {
		if i%2 == 1 && (!stays[i] || stays[i-1] && stays[(i+1)%n]) {
			continue // no mouth
		}
		if stays[i] {
			kept = append(kept, len(out))
		}
		out = append(out, p)
	}
	return out, kept
}

// fans counts the corners to the left that have no kite, so that three lines stand for each, see pulledIn.
func fans(bends []bend, depth float64) int {
	n := 0
	for _, b := range bends {
		if sin := b.in.Cross(b.on); sin > 0 && !b.kite(sin, depth) {
			n++
		}
	}
	return n
}

// kite says whether the rectangles at a corner to the left lap in the whole kite, see pulledIn.
func (b bend) kite(sin, depth float64) bool { return b.in.Dot(b.on) >= 0 && depth*sin <= b.edge }

// bendsAt are the bends at some corners, given by number, ascending. Between two that do not follow each other lies a pocket.
// Nothing comes to the first corner of an open line, nor leaves its last.
func bendsAt(ring []XY, kept []int, open bool, depth float64) []bend {
	bends := make([]bend, len(kept))
	for k, i := range kept {
		bends[k] = bend{at: ring[i], edge: math.Inf(1)}
	}
	for k, i := range kept {
		next := (k + 1) % len(kept)
		if open && next == 0 {
			break
		}
		a, b := &bends[k], &bends[next]
		if (i+1)%len(ring) == kept[next] {
			d := b.at.Sub(a.at)
			a.on, b.in = d.Unit(), d.Unit()
			a.edge, b.edge = min(a.edge, d.Len()), min(b.edge, d.Len())
			continue
		}
		o := hanging(a.at, b.at, depth)
		a.hangs, a.centre = true, o
		a.on, b.in = a.at.Sub(o).Left().Unit(), b.at.Sub(o).Left().Unit()
		a.edge, b.edge = 0, 0
	}
	return bends
}

// touched are the numbers of the corners that stay, ascending. Pockets begin and end at the corners first, first + step, and so on; step
// divides the number of corners of a ring.
func touched(ring []XY, first, step int, open bool, radius float64) []int {
	n := len(ring)
	stack, last := []int{first}, first+n
	if open {
		last = n - 1
	}
	for i := first + step; i <= last; i += step {
		for k := len(stack) - 1; k > 0 && hidden(ring[stack[k-1]], ring[stack[k]], ring[i%n], radius); k-- {
			stack = stack[:k]
		}
		stack = append(stack, i)
	}
	var to []int
	for k, from := range stack[:len(stack)-1] {
		end := stack[k+1]
		to = append(to, from)
		if end > from+step && goodPocket(ring, from, end, radius) {
			continue
		}
		for i := from + 1; i < end; i++ {
			to = append(to, i%n)
		}
	}
	if open {
		to = append(to, upTo(first)...)
		for i := stack[len(stack)-1]; i < n; i++ {
			to = append(to, i)
		}
	}
	slices.Sort(to) // where first is not 0 the last come round to it
	return to
}

// hidden is (1) and (2).
func hidden(a, b, c XY, radius float64) bool {
	d := c.Sub(a)
	if l2 := d.Dot(d); l2 > radius*radius || l2 == 0 || d.Cross(b.Sub(a)) > 0 {
		return false
	}
	w := b.Sub(hanging(a, c, radius))
	return w.Dot(w) >= radius*radius
}

// hanging is the centre of the disc over a → c, on its left.
func hanging(a, c XY, radius float64) XY {
	half := c.Sub(a).Scale(0.5)
	h := half.Len()
	return a.Add(half).Add(half.Left().Scale(math.Sqrt(radius*radius-h*h) / h))
}

// goodPocket says whether a ring keeps to (2) between two of its corners; beyond its length it goes on at corner 0.
func goodPocket(ring []XY, from, to int, radius float64) bool {
	n := len(ring)
	a, c := ring[from], ring[to%n]
	d, o := c.Sub(a), hanging(a, c, radius)
	for i, p := from, a; i < to; i++ {
		q := ring[(i+1)%n]
		if i+1 < to && d.Cross(q.Sub(a)) > 0 || (Segment{p, q}).Dist2(o) < radius*radius*(1-tied) {
			return false
		}
		p = q
	}
	return true
}
