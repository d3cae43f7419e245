package plan

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/testdata/check"
)

// TestImprovedAsPlain holds the search for better orders against one that looks at every pair and every place: the same order, turn by turn. Costs are
// such as sets have (dear near by, then by the metre), and drawn at random; rows from two to some hundred.
func TestImprovedAsPlain(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 5))
	quick, changed := 0, 0
	for k := range 400 {
		n := 2 + rng.IntN(40)
		if k%8 == 0 {
			n = 100 + rng.IntN(150)
		}
		cost := make([]float64, n)
		near, each := 1+rng.IntN(6), 3*rng.Float64()
		for d := 1; d < n; d++ {
			cost[d] = 20 + each*float64(d)
			if d < near {
				cost[d] = 40 + 5*float64(near-d)
			}
			if k%3 == 0 {
				cost[d] += 10 * rng.Float64()
			}
			if k%5 == 0 {
				cost[d] = 100 * rng.Float64()
			}
		}
		var rows []int
		switch m := 1 + rng.IntN(min(n, 9)); k % 4 {
		case 0:
			rows = rng.Perm(n)
		case 1:
			rows = everyKth(nil, n, m)
		default:
			rows = lands(nil, n, m+1)
		}
		want := slices.Clone(rows)
		wantSaved := plainly(want, cost)
		before := slices.Clone(rows)
		if saved := improved(rows, cost); !slices.Equal(rows, want) || math.Abs(saved-wantSaved) > 1e-9 {
			t.Fatalf("case %d, %d rows: saves %g s by %v, looking at all %g s by %v", k, n, saved, rows, wantSaved, want)
		}
		if o := orderOf(slices.Clone(rows), cost); o.few(2*o.high - o.least) {
			quick++
		}
		if !slices.Equal(before, rows) {
			changed++
		}
	}
	if quick < 40 || changed < 200 {
		t.Errorf("%d of 400 cases have few rows to look at, %d were improved: the test does not test what it is for", quick, changed)
	}
}

// plainly is improved, by looking at everything.
func plainly(rows []int, cost []float64) (saved float64) {
	turn := func(i, k int) float64 { return turnBetween(rows, i, k, cost) }
	place := func(from, to int) (int, float64) {
		out := turn(from-1, from) + turn(to-1, to) - turn(from-1, to)
		for k := -1; k < len(rows); k++ {
			if k >= from-1 && k < to {
				continue
			}
			if gain := out + turn(k, k+1) - turn(k, from) - turn(to-1, k+1); gain > leastGain {
				return k + 1, gain
			}
		}
		return 0, 0
	}
	for {
		all := 0.0
		for range mostReversals {
			gained := false
			for i := range rows {
				for k := i + 1; k < len(rows); k++ {
					if gain := turn(i-1, i) + turn(k, k+1) - turn(i-1, k) - turn(i, k+1); gain > leastGain {
						slices.Reverse(rows[i : k+1])
						all, gained = all+gain, true
					}
				}
			}
			if !gained {
				break
			}
		}
		for long := 1; long <= 3; long++ {
			for i := 0; i+long <= len(rows); i++ {
				if to, gain := place(i, i+long); gain > leastGain {
					if to > i {
						to -= long
					}
					run := slices.Clone(rows[i : i+long])
					copy(rows, slices.Insert(slices.Delete(slices.Clone(rows), i, i+long), to, run...))
					all += gain
				}
			}
		}
		saved += all
		if all <= leastGain {
			return saved
		}
	}
}
