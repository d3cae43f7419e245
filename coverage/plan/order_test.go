package plan

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo/plane"
	"balk/testdata/check"
)

// shortestOrder tries every order.
func shortestOrder(rows []int, from int, cost []float64) float64 {
	if from == len(rows) {
		return turnsOver(rows, cost)
	}
	best := math.Inf(1)
	for i := from; i < len(rows); i++ {
		rows[from], rows[i] = rows[i], rows[from]
		best = min(best, shortestOrder(rows, from+1, cost))
		rows[from], rows[i] = rows[i], rows[from]
	}
	return best
}

// TestPatternsAgainstAllOrders: the pattern is a permutation, its time is what its turns
// take, and no order is faster. What local search finds without the best order is near.
func TestPatternsAgainstAllOrders(t *testing.T) {
	const seed = 7
	rng := rand.New(rand.NewPCG(seed, 1))
	for range 60 {
		n := 1 + rng.IntN(9)
		cost := make([]float64, n+1)
		near := 1 + rng.IntN(4)
		for k := 1; k <= n; k++ {
			cost[k] = 10 + float64(k) // a plain U
			if k < near {
				cost[k] = 30 + 5*float64(near-k) // a bulb
			}
		}
		rows, seconds := patternOf(n, cost, near+2, true)
		if sorted := slices.Sorted(slices.Values(rows)); len(sorted) != n || sorted[0] != 0 || sorted[n-1] != n-1 {
			t.Fatalf("seed %d: %v is no order of %d rows", seed, rows, n)
		}
		if got := turnsOver(rows, cost); math.Abs(got-seconds) > 1e-9 {
			t.Errorf("seed %d: %v takes %g s, said %g s", seed, rows, got, seconds)
		}
		best := shortestOrder(slices.Clone(rows), 0, cost)
		if math.Abs(seconds-best) > 1e-9 {
			t.Errorf("seed %d: %v takes %g s, the best order %g s", seed, rows, seconds, best)
		}
		local, most := everyKth(nil, n, 1), everyKth(nil, n, 2)
		improved(local, cost)
		improved(most, cost)
		if got := min(turnsOver(local, cost), turnsOver(most, cost)); got < best-1e-9 || got > 1.35*best {
			t.Errorf("seed %d: local search of %d rows comes to %g s, the best order %g s", seed, n, got, best)
		}
	}
}

func TestPatterns(t *testing.T) {
	if got := everyKth(nil, 7, 2); !slices.Equal(got, []int{0, 2, 4, 6, 5, 3, 1}) {
		t.Errorf("every second and back: %v", got)
	}
	if got := lands(nil, 9, 2); !slices.Equal(got, []int{0, 2, 1, 3, 4, 6, 5, 7, 8}) {
		t.Errorf("lands of four: %v", got)
	}
}

// TestManyRows: beyond manyRows only some patterns are improved. What comes of that is an order, no slower than any pattern as it
// stands, and two hundredths slower at most than the best of all improved.
func TestManyRows(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 2))
	for range 6 {
		n := manyRows + 1 + rng.IntN(60)
		cost := make([]float64, n+1)
		near, slope := 1+rng.IntN(5), 0.2+rng.Float64()
		for k := 1; k <= n; k++ {
			cost[k] = 10 + slope*float64(k) // a plain U
			if k < near {
				cost[k] = 30 + 5*float64(near-k) // a bulb
			}
		}
		furthest := near + 3
		rows, seconds := patternOf(n, cost, furthest, true)
		if sorted := slices.Sorted(slices.Values(rows)); len(slices.Compact(sorted)) != n || sorted[0] != 0 || sorted[n-1] != n-1 {
			t.Fatalf("seed %d: no order of %d rows", seed, n)
		}
		if got := turnsOver(rows, cost); math.Abs(got-seconds) > 1e-6 {
			t.Errorf("seed %d: takes %g s, said %g s", seed, got, seconds)
		}
		best := math.Inf(1)
		for k := 1; k <= furthest; k++ {
			for _, one := range [][]int{everyKth(nil, n, k), lands(nil, n, k+1)} {
				if plain := turnsOver(one, cost); seconds > plain+1e-6 {
					t.Errorf("seed %d: %d rows, nearest %d: %g s, and a pattern as it stands %g s", seed, n, near, seconds, plain)
				}
				improved(one, cost)
				best = min(best, turnsOver(one, cost))
			}
		}
		if seconds > 1.02*best {
			t.Errorf("seed %d: %d rows, nearest %d: %g s, and %g s with all patterns improved", seed, n, near, seconds, best)
		}
	}
}

// TestTourAgainstAllOrders: blocks on a line, each a place: the improved tour is as
// short as the shortest.
func TestTourAgainstAllOrders(t *testing.T) {
	const seed = 3
	rng := rand.New(rand.NewPCG(seed, 2))
	for range 40 {
		n := 1 + rng.IntN(6)
		at := make([]float64, n)
		for i := range at {
			at[i] = 100 * rng.Float64()
		}
		g := gaps{from: make([][orientations]plane.XY, n), at: &plane.XY{}}
		for i := range g.from {
			for w := range g.from[i] {
				g.from[i][w].X = at[i]
			}
		}
		g.to = g.from
		if got, want := tourOf(&g, true).metres, slices.Max(at); math.Abs(got-want) > hair {
			t.Errorf("seed %d: tour of %g m over places at %v: want %g m", seed, got, at, want)
		}
	}
}

// drawnGaps are those of blocks anywhere, or with all their ends on a grid, where many lie as near.
func drawnGaps(rng *rand.Rand, n int, grid bool) *gaps {
	g := &gaps{from: make([][orientations]plane.XY, n), to: make([][orientations]plane.XY, n), at: &plane.XY{}}
	for i := range n {
		for w := range orientations {
			for _, p := range [2]*plane.XY{&g.from[i][w], &g.to[i][w]} {
				if *p = (plane.XY{X: 100 * rng.Float64(), Y: 100 * rng.Float64()}); grid {
					*p = plane.XY{X: math.Round(p.X / 10), Y: math.Round(p.Y / 10)}
				}
			}
		}
	}
	return g
}

// TestNextByPlace: the blocks found by place are those found by looking at all, from anywhere, from nowhere, and where many are as near but for less than sameWay.
func TestNextByPlace(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 6))
	for k := range 60 {
		n := 1 + rng.IntN(120)
		g := drawnGaps(rng, n, k%3 > 0)
		if k%3 == 1 {
			for i := range n {
				for w := range orientations {
					g.from[i][w].X += 3 * sameWay * rng.Float64()
				}
			}
		}
		if k%4 == 0 {
			g.at = nil
		}
		all, byPlace := g.nextOf(make([]bool, n)), g.nextByPlace()
		at := onward{-1, 0}
		for i := range n {
			want, far := all(at)
			if got, d := byPlace(at); got != want || d != far {
				t.Fatalf("case %d, block %d of %d: to %v in %g m, want %v in %g m", k, i, n, got, d, want, far)
			}
			at = want
		}
	}
}

// TestToursWithoutBounds: the same tours as where every pair of blocks is turned round and measured; blocks lie anywhere, or on a grid, where many tours are as long.
func TestToursWithoutBounds(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 5))
	gained := 0
	for k := range 40 {
		n := 2 + rng.IntN(50)
		g := drawnGaps(rng, n, k%2 == 0)
		gap := g.between
		want := tourOf(g, false)
		nearest := want.metres
		bestWays(&want, gap, math.Inf(1))
		for range mostReversals {
			better := false
			for i := range n {
				for k := i + 1; k < n; k++ {
					o := tour{blocks: slices.Clone(want.blocks), ways: make([]orientation, n)}
					slices.Reverse(o.blocks[i : k+1])
					if bestWays(&o, gap, want.metres-hair) {
						want, better = o, true
					}
				}
			}
			if !better || n > mostBlocks {
				break
			}
		}
		if got := tourOf(g, true); !slices.Equal(got.blocks, want.blocks) || !slices.Equal(got.ways, want.ways) || got.metres != want.metres {
			t.Errorf("case %d: %d blocks in the order %v, ways %v, %g m; want %v, %v, %g m", k, n, got.blocks, got.ways, got.metres, want.blocks, want.ways, want.metres)
		}
		if want.metres < 0.99*nearest {
			gained++
		}
	}
	if gained < 20 {
		t.Errorf("%d of 40 tours are shorter than to the nearest block each time: the cases say little", gained)
	}
}

// TestWaysOfAnOrder: of all ways of blocks in a given order the shortest, and as long as what lies between them, by trying all; each gap
// is drawn, and goes for two blocks and their ways only.
func TestWaysOfAnOrder(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 4))
	for k := range 60 {
		n := 1 + rng.IntN(4)
		type pair struct {
			a  int
			wa orientation
			b  int
			wb orientation
		}
		drawn := map[pair]float64{}
		gap := func(a int, wa orientation, b int, wb orientation) float64 {
			if a < 0 {
				wa = 0 // the set stands there one way
			}
			one := pair{a, wa, b, wb}
			if _, ok := drawn[one]; !ok {
				drawn[one] = 100 * rng.Float64()
			}
			return drawn[one]
		}
		o := tour{blocks: rng.Perm(n), ways: make([]orientation, n)}
		bestWays(&o, gap, math.Inf(1))
		long := func(all []orientation) float64 {
			sum := gap(-1, 0, o.blocks[0], all[0])
			for i := 1; i < n; i++ {
				sum += gap(o.blocks[i-1], all[i-1], o.blocks[i], all[i])
			}
			return sum
		}
		least := math.Inf(1)
		for code := range 1 << (2 * n) {
			all := make([]orientation, n)
			for i := range all {
				all[i] = orientation(code >> (2 * i) & 3)
			}
			least = min(least, long(all))
		}
		if math.Abs(o.metres-least) > float64(n+1)*sameWay || math.Abs(long(o.ways)-o.metres) > 1e-9 {
			t.Errorf("case %d: %d blocks %g m apart, driven so %g m, the shortest ways are %g m", k, n, o.metres, long(o.ways), least)
		}
	}
}
