package rework

import (
	"context"
	"math"
	"slices"
)

// errand is the price of a way: what it counts in the order, its length in m, its time in s.
type errand struct{ cost, length, time float64 }

// distances are the ways between driven passes. A pass has two directions: number 2k is pass k as
// laid, 2k+1 the other way round; number n is the gate.
type distances struct {
	n    int                       // directed passes
	ways []errand                  // all of them, from × to; nil: only those in near
	near []row                     // by from
	far  func(from, to int) errand // estimate of a way that is not in near
}

func newDistances(passes int) distances {
	n := 2 * passes
	return distances{n: n, ways: make([]errand, (n+1)*(n+1))}
}

// sparse keeps only the ways put into it; others are estimated.
func sparse(passes int, far func(from, to int) errand) distances {
	return distances{n: 2 * passes, near: make([]row, 2*passes+1), far: far}
}

// put keeps a way. Ways from different passes may be put by different workers.
func (d *distances) put(from, to int, e errand) {
	if d.ways != nil {
		d.ways[from*(d.n+1)+to] = e
		return
	}
	d.near[from].put(int32(to), e)
}

func (d *distances) at(from, to int) errand {
	if e := d.kept(from, to); e != nil {
		return *e
	}
	return d.far(from, to)
}

// kept is a way that was put; nil: it was not.
func (d *distances) kept(from, to int) *errand {
	if d.ways != nil {
		return &d.ways[from*(d.n+1)+to]
	}
	return d.near[from].at(int32(to))
}

// row is the ways from one end, by where they lead: a table open to the next free place (Knuth 1973, 6.4, from memory), several
// times as fast to look up in as a map, which is most of what a search for an order does.
type row struct {
	to   []int32 // 1 + where a way leads; 0: free; as many as a power of two, half of them free at least
	ways []errand
	n    int
}

func (r *row) slot(to int32) int {
	for k := int(to) & (len(r.to) - 1); ; k = (k + 1) & (len(r.to) - 1) {
		if r.to[k] == to+1 || r.to[k] == 0 {
			return k
		}
	}
}

func (r *row) at(to int32) *errand {
	if r.n == 0 {
		return nil
	}
	if k := r.slot(to); r.to[k] != 0 {
		return &r.ways[k]
	}
	return nil
}

func (r *row) put(to int32, e errand) {
	if 2*(r.n+1) > len(r.to) {
		old := *r
		size := max(16, 2*len(old.to))
		*r = row{to: make([]int32, size), ways: make([]errand, size)}
		for k, t := range old.to {
			if t != 0 {
				r.put(t-1, old.ways[k])
			}
		}
	}
	k := r.slot(to)
	if r.to[k] == 0 {
		r.n++
	}
	r.to[k], r.ways[k] = to+1, e
}

// ahead goes through the ends of ways from one end that may be links of a tour over all: all of them, or those worked out.
func (d *distances) ahead(from int, all []int, yield func(to int)) {
	if d.ways != nil {
		for _, to := range all {
			yield(to)
		}
		return
	}
	for _, to := range d.near[from].to {
		if to > 0 {
			yield(int(to - 1))
		}
	}
}

func (d *distances) between(from, to int) float64 {
	if e := d.kept(from, to); e != nil {
		return e.cost
	}
	return d.far(from, to).cost
}

// tour is an order of directed passes, the gate before and behind it.
type tour []int

func (d distances) cost(t tour) float64 {
	sum, at := 0.0, d.n
	for _, next := range t {
		sum, at = sum+d.between(at, next), next
	}
	return sum + d.between(at, d.n)
}

const (
	// exactUpTo: so few passes are put into the shortest order there is; each more would double the work, and
	// of ten a plan is made in some milliseconds.
	exactUpTo = 10
	// everyFirst: with so few passes every one of them, in both directions, is tried as the first;
	// with more, only the nearest.
	everyFirst = 30
	// thoroughUpTo: with so few passes every stretch is tried in every place of the tour, from every first tour. With more passes,
	// shaking makes up for what links to near passes miss (tried on scattered passes).
	thoroughUpTo = 100
)

// order finds a short tour over the given passes: an asymmetric travelling salesman who may drive
// each pass either way.
//
//  1. It is never longer than going to the nearest pass next, from the gate.
//  2. On exactUpTo passes or fewer it is the shortest.
func (d distances) order(ctx context.Context, passes []int) (tour, error) {
	if len(passes) <= exactUpTo {
		return d.shortest(passes), ctx.Err()
	}
	return d.searched(ctx, passes)
}

// shortest is the shortest tour, by dynamic programming (Held & Karp 1962): the shortest way from the gate
// over a set of passes that ends in a certain one is that over the set without it, and on.
func (d distances) shortest(passes []int) tour {
	n := 2 * len(passes)
	if n == 0 {
		return nil
	}
	name := func(i int) int { return 2*passes[i/2] | i&1 } // directed pass
	type stop struct {
		cost float64
		from int8
	}
	best := make([]stop, n<<len(passes)) // by set and last directed pass
	for set := 1; set < 1<<len(passes); set++ {
		for to := range n {
			one := &best[set*n+to]
			one.cost = math.Inf(1)
			before := set &^ (1 << (to / 2))
			switch {
			case before == set:
			case before == 0:
				one.cost = d.between(d.n, name(to))
			default:
				for from := range n {
					if c := best[before*n+from].cost + d.between(name(from), name(to)); c < one.cost {
						*one = stop{c, int8(from)}
					}
				}
			}
		}
	}
	set, last, least := 1<<len(passes)-1, 0, math.Inf(1)
	for to := range n {
		if c := best[set*n+to].cost + d.between(name(to), d.n); c < least {
			last, least = to, c
		}
	}
	t := make(tour, len(passes))
	for k := len(t) - 1; k >= 0; k-- {
		t[k] = name(last)
		set, last = set&^(1<<(last/2)), int(best[set*n+last].from)
	}
	return t
}

// searched is a short tour: those built by going to the nearest next, and by insertion where that costs least, are improved by
// turning stretches round and moving short ones until nothing helps, and the best is taken and shaken. It keeps (1) of order; on
// ten passes it is within a twentieth of the shortest (see the test).
func (d distances) searched(ctx context.Context, passes []int) (tour, error) {
	starts := []tour{d.nearest(passes, -1)}
	if d.ways != nil {
		starts = append(starts, d.inserted(passes))
	}
	if len(passes) <= everyFirst {
		for _, k := range passes {
			starts = append(starts, d.nearest(passes, 2*k), d.nearest(passes, 2*k+1))
		}
	}
	s := newSearcher(d, passes)
	var best tour
	least := math.Inf(1)
	for _, t := range starts {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		s.begin(t)
		s.settle()
		if c := s.cost(); c < least-touch {
			best, least = slices.Clone(s.t), c
		}
		if len(passes) > thoroughUpTo {
			continue
		}
		d.improve(t)
		if c := d.cost(t); c < least-touch {
			best, least = t, c
		}
	}
	if best == nil {
		return nil, nil
	}
	s.begin(best)
	if err := s.shake(ctx); err != nil {
		return nil, err
	}
	best = s.t
	if d.ways != nil {
		d.improve(best) // by links to far passes too
	}
	return best, nil
}

// nearest goes on to the nearest pass left, in the direction that is nearer; first is the directed pass to begin
// with, -1 = the nearest to the gate. Where only some ways are worked out, those to others are not looked at before these are used up.
func (d distances) nearest(passes []int, first int) tour {
	left, place := slices.Clone(passes), make([]int, d.n/2) // place in left, and one more; 0: driven, or not wanted
	for i, k := range left {
		place[k] = i + 1
	}
	var t tour
	at := d.n
	for len(left) > 0 {
		best, to := math.Inf(1), first
		try := func(next int) {
			if next == d.n || place[next/2] == 0 {
				return
			}
			if c := d.between(at, next); to < 0 || c < best || c == best && next < to {
				best, to = c, next
			}
		}
		if first < 0 && d.ways == nil && at != d.n {
			d.ahead(at, nil, try)
		}
		if to < 0 {
			for _, k := range left {
				try(2 * k)
				try(2*k + 1)
			}
		}
		first = -1
		t, at = append(t, to), to
		hole, last := place[to/2], left[len(left)-1]
		left[hole-1], place[last] = last, hole
		left, place[to/2] = left[:len(left)-1], 0
	}
	return t
}

// inserted puts one pass after the other in where, and in the direction in which, it lengthens the tour least.
func (d distances) inserted(passes []int) tour {
	var t tour
	for _, k := range passes {
		best, to, place := math.Inf(1), 0, 0
		for p := range len(t) + 1 {
			a, b := d.ends(t, p, p-1)
			for _, next := range [2]int{2 * k, 2*k + 1} {
				if c := d.between(a, next) + d.between(next, b) - d.between(a, b); c < best {
					best, to, place = c, next, p
				}
			}
		}
		t = slices.Insert(t, place, to)
	}
	return t
}

// ends are what comes before place i and behind place k of a tour.
func (d distances) ends(t tour, i, k int) (before, behind int) {
	before, behind = d.n, d.n
	if i > 0 {
		before = t[i-1]
	}
	if k+1 < len(t) {
		behind = t[k+1]
	}
	return before, behind
}

// longestMoved is how many passes are moved at once (Or 1976: three).
const longestMoved = 3

// improve turns stretches round (2-opt, Croes 1958, with both sums carried along since the way back has its own
// length) and moves stretches, either way round (Or 1976), until neither shortens t.
func (d distances) improve(t tour) {
	for changed := true; changed; {
		changed = d.turnStretches(t)
		for l := 1; l <= longestMoved && l < len(t); l++ {
			changed = d.moveStretches(t, l) || changed
		}
	}
}

func (d distances) turnStretches(t tour) bool {
	changed := false
	for i := range t {
		there, back := 0.0, 0.0
		for k := i; k < len(t); k++ {
			if k > i {
				there += d.between(t[k-1], t[k])
				back += d.between(t[k]^1, t[k-1]^1)
			}
			a, b := d.ends(t, i, k)
			old := d.between(a, t[i]) + there + d.between(t[k], b)
			if d.between(a, t[k]^1)+back+d.between(t[i]^1, b) < old-touch {
				turnRound(t[i : k+1])
				changed, there, back = true, back, there
			}
		}
	}
	return changed
}

func turnRound(t tour) {
	slices.Reverse(t)
	for i := range t {
		t[i] ^= 1
	}
}

// moveStretches moves stretches of l passes to where they lengthen the tour less.
func (d distances) moveStretches(t tour, l int) bool {
	changed := false
	rest := make(tour, 0, len(t))
	for i := 0; i+l <= len(t); i++ {
		a, b := d.ends(t, i, i+l-1)
		first, last := t[i], t[i+l-1]
		inner, back := 0.0, 0.0
		for k := i + 1; k < i+l; k++ {
			inner += d.between(t[k-1], t[k])
			back += d.between(t[k]^1, t[k-1]^1)
		}
		gain := d.between(a, first) + inner + d.between(last, b) - d.between(a, b)
		rest = append(append(rest[:0], t[:i]...), t[i+l:]...)
		best, place, turned := gain-touch, -1, false
		for p := range len(rest) + 1 {
			a, b := d.ends(rest, p, p-1)
			old := d.between(a, b)
			if c := d.between(a, first) + inner + d.between(last, b) - old; c < best {
				best, place, turned = c, p, false
			}
			if c := d.between(a, last^1) + back + d.between(first^1, b) - old; c < best {
				best, place, turned = c, p, true
			}
		}
		if place < 0 {
			continue
		}
		moved := slices.Clone(t[i : i+l])
		if turned {
			turnRound(moved)
		}
		copy(t, slices.Concat(rest[:place], moved, rest[place:]))
		changed = true
	}
	return changed
}
