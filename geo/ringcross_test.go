package geo

import (
	"math/rand/v2"
	"testing"

	"balk/testdata/check"

	"github.com/paulmach/orb"
)

// Each two edges whose boxes meet are given once and no others, in rings of a few corners and of many runs of edges, that lie over each other.
func TestNearEdgesAreThoseWhoseBoxesMeet(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 31))
	for _, corners := range [][]int{{3}, {edgesPerBox}, {edgesPerBox + 1, 3, 4}, {200, 5, 130}} {
		var rings []orb.Ring
		for _, n := range corners {
			r := orb.Ring{{11, 48}}
			for range n - 1 {
				last := r[len(r)-1]
				r = append(r, orb.Point{last[0] + 1e-4*rng.NormFloat64(), last[1] + 1e-4*rng.NormFloat64()})
			}
			rings = append(rings, append(r, r[0]))
		}
		want := map[[2]edge]int{}
		var edges []edge
		for k, r := range rings {
			for i := range len(r) - 1 {
				e := edge{k, i}
				for _, other := range edges {
					s := rings[other.ring]
					one, two := orb.LineString{r[i], r[i+1]}.Bound().Pad(touch), orb.LineString{s[other.at], s[other.at+1]}.Bound().Pad(touch)
					if one.Intersects(two) {
						want[[2]edge{e, other}]++
					}
				}
				edges = append(edges, e)
			}
		}
		for e, other := range nearEdges(rings) {
			want[[2]edge{e, other}]--
		}
		for pair, n := range want {
			if n != 0 {
				t.Errorf("seed %d, rings of %v corners: %v given %d times too few", seed, corners, pair, n)
			}
		}
	}
}
