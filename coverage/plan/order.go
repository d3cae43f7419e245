package plan

import (
	"math"
	"slices"
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
	seconds = math.Inf(1)
	var room []int
	try := func(rs []int) {
		s := turnsOver(rs, cost)
		if improve {
			s -= improved(rs, cost)
		}
		if s < seconds-leastGain {
			rows, seconds = append(rows[:0], rs...), s
		}
	}
	for k := 1; k <= min(furthest, n); k++ {
		room = everyKth(room[:0], n, k)
		try(room)
		room = lands(room[:0], n, k+1)
		try(room)
	}
	return rows, seconds
}

const (
	// fewRows: up to so many the best order is found by carrying sets of rows along; that
	// doubles with each row.
	fewRows = 9
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

// tourOf orders n blocks. The first tour goes to the nearest end of a block each time. It is improved by 2-opt, with the best
// orientations for each order.
func tourOf(n int, gap gap, improve bool) tour {
	t := tour{}
	done := make([]bool, n)
	at, how := -1, orientation(0)
	for range n {
		best, bestHow, near := -1, orientation(0), math.Inf(1)
		for b := range n {
			if done[b] {
				continue
			}
			for w := range orientation(orientations) {
				if d := gap(at, how, b, w); d < near-sameWay {
					best, bestHow, near = b, w, d
				}
			}
		}
		done[best] = true
		t.blocks, t.ways, t.metres = append(t.blocks, best), append(t.ways, bestHow), t.metres+near
		at, how = best, bestHow
	}
	if !improve || n < 2 {
		return t
	}
	bestWays(&t, gap, math.Inf(1))
	for range mostReversals {
		gained := false
		for i := 0; i < n; i++ {
			for k := i + 1; k < n; k++ {
				o := tour{blocks: slices.Clone(t.blocks), ways: make([]orientation, n)}
				slices.Reverse(o.blocks[i : k+1])
				if bestWays(&o, gap, t.metres-hair) {
					t, gained = o, true
				}
			}
		}
		if !gained || n > mostBlocks {
			break
		}
	}
	return t
}

// mostBlocks: with more blocks one round of 2-opt has to do; its cost grows with their cube.
const mostBlocks = 24

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
