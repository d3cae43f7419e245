package plan

import (
	"cmp"
	"math"
	"slices"

	"balk/geo/plane"
)

// patternOf is an order of n rows, each next one so many rows away that the
// turns take little time; cost[k] is that of a turn over k rows, s, cost[0] unused.
//
// The patterns: next row; every k-th row and back on those left (returns); lands of 2m rows taken
// in turn from both halves, where every turn goes over m or m − 1 rows. With improve set each is
// improved by reversing runs of rows (2-opt: Croes 1958, from memory) and by moving short runs elsewhere, and
// up to fewRows rows get the best order there is.
func patternOf(n int, cost []float64, furthest int, improve bool) (rows []int, seconds float64) {
	if improve && n <= fewRows {
		return bestOrder(n, cost)
	}
	type start struct {
		rows    []int
		seconds float64
	}
	var all []start
	for k := 1; k <= min(furthest, n); k++ {
		for _, rs := range [2][]int{everyKth(make([]int, 0, n), n, k), lands(make([]int, 0, n), n, k+1)} {
			all = append(all, start{rs, turnsOver(rs, cost)})
		}
	}
	if improve {
		if n > manyRows {
			slices.SortStableFunc(all, func(a, b start) int { return cmp.Compare(a.seconds, b.seconds) })
			all = all[:min(bestStarts, len(all))]
		}
		for i := range all {
			all[i].seconds -= improved(all[i].rows, cost)
		}
	}
	seconds = math.Inf(1)
	for _, one := range all {
		if one.seconds < seconds-leastGain {
			rows, seconds = one.rows, one.seconds
		}
	}
	return rows, seconds
}

const (
	// fewRows: up to so many the best order is found by carrying sets of rows along; that
	// doubles with each row.
	fewRows = 9
	// manyRows, bestStarts: of more rows than that so many of the patterns that take least are improved. Improving one takes time by the square of the rows, and what is
	// better by chance at the ends of a block is little among so many.
	manyRows, bestStarts = 100, 4
	// leastGain: what saves less is rounding, s.
	leastGain = 1e-6
)

// bestOrder is the fastest order of a few rows (Held & Karp 1962, from memory): best[set][last]
// is the time to drive a set of rows ending on one.
func bestOrder(n int, cost []float64) (rows []int, seconds float64) {
	if n == 0 {
		return nil, 0
	}
	best := make([][fewRows]float64, 1<<n)
	from := make([][fewRows]int, 1<<n)
	for set := 1; set < 1<<n; set++ {
		for last := range n {
			best[set][last] = math.Inf(1)
			rest := set &^ (1 << last)
			if rest == set {
				continue
			}
			if rest == 0 {
				best[set][last] = 0
				continue
			}
			for o := range n {
				if rest&(1<<o) == 0 {
					continue
				}
				if s := best[rest][o] + cost[apart(o, last)]; s < best[set][last]-leastGain {
					best[set][last], from[set][last] = s, o
				}
			}
		}
	}
	set, last := 1<<n-1, 0
	for o := range n {
		if best[set][o] < best[set][last]-leastGain {
			last = o
		}
	}
	seconds = best[set][last]
	for set != 0 {
		rows = append(rows, last)
		set, last = set&^(1<<last), from[set][last]
	}
	return rows, seconds
}

func everyKth(out []int, n, k int) []int {
	for r := range k {
		from := len(out)
		for i := r; i < n; i += k {
			out = append(out, i)
		}
		if r%2 == 1 {
			slices.Reverse(out[from:])
		}
	}
	return out
}

func lands(out []int, n, m int) []int {
	for a := 0; a < n; a += 2 * m {
		size := min(2*m, n-a)
		half := (size + 1) / 2
		for i := range half {
			out = append(out, a+i)
			if half+i < size {
				out = append(out, a+half+i)
			}
		}
	}
	return out
}

func turnsOver(rows []int, cost []float64) float64 {
	var s float64
	for i := 1; i < len(rows); i++ {
		s += turnBetween(rows, i-1, i, cost)
	}
	return s
}

// turnBetween is what the turn from the row at place i to the row at place k takes, s. Beyond the ends nothing is driven.
func turnBetween(rows []int, i, k int, cost []float64) float64 {
	if i < 0 || k >= len(rows) {
		return 0
	}
	return cost[apart(rows[i], rows[k])]
}

func apart(a, b int) int { return max(a-b, b-a) }

// orientation is one of four ways in which a block can be driven: both bits or none may be set.
type orientation uint8

const (
	reversed     orientation = 1 // the rows in the opposite order
	back         orientation = 2 // the first row against the heading
	orientations             = 4
)

// tour is the order of blocks and the way of each.
type tour struct {
	blocks []int
	ways   []orientation
	metres float64 // between them, as the crow flies
}

// sameWay: ways whose lengths differ by less are as long, m. Rounding must not choose between them, or the same field in another
// place would be driven differently.
const sameWay = 1e-4

// gap is the distance from the end of block a, driven so, to the start of block b, m; a = −1 is where the set stands.
type gap func(a int, wa orientation, b int, wb orientation) float64

// gaps are those between blocks that begin and end at places, by their ways, and where the set stands; nil: anywhere.
type gaps struct {
	from, to [][orientations]plane.XY
	at       *plane.XY

	starts starts // room of nextByPlace
}

func (g *gaps) between(a int, wa orientation, b int, wb orientation) float64 {
	start := g.from[b][wb]
	if a >= 0 {
		return g.to[a][wa].Dist(start)
	}
	if g.at != nil {
		return g.at.Dist(start)
	}
	return 0
}

// onward is a block to go to next, driven so.
type onward struct {
	block int
	way   orientation
}

// nearest is a tour to the nearest end of a block each time, of those as near to that of the first block.
func (g *gaps) nearest() tour {
	n := len(g.from)
	next := g.nextOf(make([]bool, n))
	if n > fewBlocks {
		next = g.nextByPlace()
	}
	t := tour{}
	at := onward{-1, 0}
	for range n {
		to, near := next(at)
		t.blocks, t.ways, t.metres = append(t.blocks, to.block), append(t.ways, to.way), t.metres+near
		at = to
	}
	return t
}

// nextOf looks at all blocks that are not done.
func (g *gaps) nextOf(done []bool) func(at onward) (onward, float64) {
	return func(at onward) (best onward, near float64) {
		near = math.Inf(1)
		for b := range done {
			if done[b] {
				continue
			}
			for w := range orientation(orientations) {
				if d := g.between(at.block, at.way, b, w); d < near-sameWay {
					best, near = onward{b, w}, d
				}
			}
		}
		done[best.block] = true
		return best, near
	}
}

// nextByPlace finds what nextOf finds in a grid of starts. Only those can be meant that are as near as the nearest, or as one of them that is, and so on:
// whatever is farther than all of these by more than sameWay gives way to the first of them.
func (g *gaps) nextByPlace() func(at onward) (onward, float64) {
	left := &g.starts
	left.put(g.from)
	var near []onward
	return func(at onward) (best onward, away float64) {
		p := g.at
		if at.block >= 0 {
			p = &g.to[at.block][at.way]
		}
		if away = math.Inf(1); p == nil {
			away = 0
		} else {
			near = left.near(*p, 2*sameWay, near[:0]) // twice: far above rounding
			slices.SortFunc(near, func(a, b onward) int { return cmp.Or(cmp.Compare(a.block, b.block), cmp.Compare(a.way, b.way)) })
			for _, one := range near {
				if d := g.between(at.block, at.way, one.block, one.way); d < away-sameWay {
					best, away = one, d
				}
			}
		}
		left.done(best.block)
		return best, away
	}
}

// tourOf orders blocks. The first tour goes to the nearest end of a block each time. It is improved by 2-opt, with the best
// orientations for each order.
func tourOf(g *gaps, improve bool) tour {
	t, n, gap := g.nearest(), len(g.from), g.between
	if !improve || n < 2 {
		return t
	}
	bestWays(&t, gap, math.Inf(1))
	o := tour{blocks: make([]int, n), ways: make([]orientation, n)}
	r := reversalsOf(g, &t)
	r.settle()
	for range mostReversals {
		gained := false
		for i := 0; i < n; i++ {
			r.from(i)
			for k := i + 1; k < min(n, i+1+mostPairs/n); k++ {
				most := t.metres - hair/2 // far above rounding
				if r.atLeast(k) >= most+sameWay || r.least(k) >= most {
					continue
				}
				copy(o.blocks, t.blocks)
				slices.Reverse(o.blocks[i : k+1])
				if bestWays(&o, gap, t.metres-hair) {
					t, o, gained = o, t, true
					r.settle()
					r.from(i)
				}
			}
		}
		if !gained || n > mostBlocks {
			break
		}
	}
	return t
}

const (
	// fewBlocks: up to so many it takes less to look at all of them than to find those near.
	fewBlocks = 256
	// mostBlocks: with more blocks one round of 2-opt has to do.
	mostBlocks = 24
	// mostPairs: so many pairs of blocks are looked at in a round; of more than some five hundred blocks those that are nearest to each other in the tour.
	mostPairs = 1 << 18
)

// reversals bound what a tour with some blocks in the opposite order comes to at the least. Whether that gains is asked of most pairs in vain, and
// so costs no way through all blocks, but a look at both ends of the run; and of most of them a glance at the boxes about these.
type reversals struct {
	*tour
	gap gap
	// starts and ends are boxes about the places where each block begins and ends.
	starts, ends []plane.Box
	// ahead are the metres to the end of a block driven each way, left those from its start to the end of the tour.
	ahead, left [][orientations]float64
	// against are the metres from a block of the tour, each way, to the one before it; sum the least of them, added up to it.
	against     [][orientations][orientations]float64
	sum         []float64
	first, last int
	// run are the metres between the blocks of the run in the opposite order, by the way of its first block and of its last.
	run [orientations][orientations]float64
}

func reversalsOf(g *gaps, t *tour) *reversals {
	n := len(t.blocks)
	r := &reversals{tour: t, gap: g.between, starts: make([]plane.Box, n), ends: make([]plane.Box, n), ahead: make([][orientations]float64, n),
		left: make([][orientations]float64, n), against: make([][orientations][orientations]float64, n), sum: make([]float64, n)}
	for b := range n {
		r.starts[b], r.ends[b] = plane.EmptyBox().Extend(g.from[b][:]...), plane.EmptyBox().Extend(g.to[b][:]...)
	}
	return r
}

// settle takes the tour as it is now.
func (r *reversals) settle() {
	n := len(r.blocks)
	for w := range orientation(orientations) {
		r.ahead[0][w], r.left[n-1][w] = r.gap(-1, 0, r.blocks[0], w), 0
	}
	for i := 1; i < n; i++ {
		r.ahead[i] = r.after(r.ahead[i-1], r.blocks[i-1], r.blocks[i])
		least := math.Inf(1)
		for w := range orientation(orientations) {
			for o := range orientation(orientations) {
				back := r.gap(r.blocks[i], w, r.blocks[i-1], o)
				r.against[i][w][o], least = back, min(least, back)
			}
		}
		r.sum[i] = r.sum[i-1] + least
	}
	for i := n - 2; i >= 0; i-- {
		for w := range orientation(orientations) {
			r.left[i][w] = math.Inf(1)
			for o := range orientation(orientations) {
				r.left[i][w] = min(r.left[i][w], r.gap(r.blocks[i], w, r.blocks[i+1], o)+r.left[i+1][o])
			}
		}
	}
}

// after are the metres to each way of block b by way of a, to whose ways they are dist.
func (r *reversals) after(dist [orientations]float64, a, b int) (out [orientations]float64) {
	for w := range orientation(orientations) {
		out[w] = math.Inf(1)
		for o := range orientation(orientations) {
			out[w] = min(out[w], dist[o]+r.gap(a, o, b, w))
		}
	}
	return out
}

// from begins with the run of one block.
func (r *reversals) from(i int) {
	r.first, r.last = i, i
	for w := range r.run {
		for o := range r.run[w] {
			r.run[w][o] = math.Inf(1)
		}
		r.run[w][w] = 0
	}
}

// atLeast is no more than least, but for rounding.
func (r *reversals) atLeast(k int) float64 {
	all := r.sum[k] - r.sum[r.first]
	if i := r.first; i > 0 {
		all += slices.Min(r.ahead[i-1][:]) + boxGap(r.ends[r.blocks[i-1]], r.starts[r.blocks[k]], math.Inf(1))
	}
	if k+1 < len(r.blocks) {
		all += boxGap(r.ends[r.blocks[r.first]], r.starts[r.blocks[k+1]], math.Inf(1)) + slices.Min(r.left[k+1][:])
	}
	return all
}

// least bounds the tour in which the blocks from that of the run to the k-th are in the opposite order, m. It makes the run as long.
func (r *reversals) least(k int) float64 {
	for r.last < k {
		r.last++
		var longer [orientations][orientations]float64
		for w := range longer {
			for end := range longer[w] {
				longer[w][end] = math.Inf(1)
			}
			for o, gap := range r.against[r.last][w] {
				for end := range longer[w] {
					longer[w][end] = min(longer[w][end], gap+r.run[o][end])
				}
			}
		}
		r.run = longer
	}
	one := r.blocks[k]
	var ahead [orientations]float64
	if r.first == 0 {
		for w := range orientation(orientations) {
			ahead[w] = r.gap(-1, 0, one, w)
		}
	} else {
		ahead = r.after(r.ahead[r.first-1], r.blocks[r.first-1], one)
	}
	all := math.Inf(1)
	for end := range orientation(orientations) {
		left := 0.0
		if k+1 < len(r.blocks) {
			left = math.Inf(1)
			for o := range orientation(orientations) {
				left = min(left, r.gap(r.blocks[r.first], end, r.blocks[k+1], o)+r.left[k+1][o])
			}
		}
		for w := range ahead {
			all = min(all, ahead[w]+r.run[w][end]+left)
		}
	}
	return all
}

// bestWays finds the ways for an order by carrying the shortest to each way of each
// block along (dynamic programming, Bellman), and says whether they come to less than most, m. Where they do not they may be left unfinished.
func bestWays(t *tour, gap gap, most float64) bool {
	n := len(t.blocks)
	from := make([][orientations]orientation, n)
	var dist, next [orientations]float64
	for i, b := range t.blocks {
		for w := range orientation(orientations) {
			if i == 0 {
				next[w] = gap(-1, 0, b, w)
				continue
			}
			next[w] = math.Inf(1)
			for o := range orientation(orientations) {
				if d := dist[o] + gap(t.blocks[i-1], o, b, w); d < next[w]-sameWay {
					next[w], from[i][w] = d, o
				}
			}
		}
		if dist = next; slices.Min(dist[:]) >= most { // the way on is no shorter
			return false
		}
	}
	w := orientation(0)
	for o := range orientation(orientations) {
		if dist[o] < dist[w]-sameWay {
			w = o
		}
	}
	t.metres = dist[w]
	for i := n - 1; i >= 0; i-- {
		t.ways[i] = w
		w = from[i][w]
	}
	return t.metres < most
}
