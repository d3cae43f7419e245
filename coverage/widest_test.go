package coverage

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo/plane"
	"balk/testdata/check"
)

// TestCutsAscend: below and above every corner the places of the cut ascend, and are those of each ring asked alone. The sides to the
// right begin lower than those to the left.
func TestCutsAscend(t *testing.T) {
	p := plane.Polygon{
		{{X: 5}, {X: 9, Y: 4}, {X: 10, Y: 10}, {X: 6, Y: 7}, {X: 2, Y: 10}, {Y: 3}},
		{{X: 6, Y: 3}, {X: 4, Y: 4}, {X: 5, Y: 5}, {X: 7, Y: 4}},
	}
	var heights []float64
	sweep(p, func(y float64, cuts []float64) bool {
		above := len(heights)%2 == 1
		heights = append(heights, y)
		if want := cutsBeside(nil, p, y, above); !slices.IsSorted(cuts) || !slices.EqualFunc(cuts, want, func(a, b float64) bool { return math.Abs(a-b) < 1e-12 }) {
			t.Errorf("height %g, above %v: cut at %v, want %v", y, above, cuts, want)
		}
		return true
	})
	if want := []float64{0, 3, 4, 5, 7, 10}; !slices.Equal(slices.Compact(heights), want) {
		t.Errorf("heights %v, want %v", heights, want)
	}
}

// However often rings rise and fall, and however many corners have one height, corners come upwards, each once, with all cuts beside them.
func TestCutsOfWildRings(t *testing.T) {
	seed := check.Seed(t)
	for n := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, n))
		var p plane.Polygon
		var want []float64
		for range 1 + rng.IntN(3) {
			r := make(plane.Ring, 3+rng.IntN(40))
			for k := range r {
				r[k] = plane.XY{X: 100 * rng.Float64(), Y: float64(rng.IntN(30))}
				if k > 0 && rng.IntN(3) > 0 { // on in one way
					r[k].Y = r[k-1].Y + float64(n%3) - 1
				}
				want = append(want, r[k].Y)
			}
			p = append(p, r)
		}
		slices.Sort(want)
		var got []float64
		seen := map[corner]bool{}
		for _, c := range byHeight(p) {
			if got = append(got, c.y); seen[c] || p[c.ring][c.at].Y != c.y {
				t.Errorf("seed %d, case %d: corner %v", seed, n, c)
			}
			seen[c] = true
		}
		if !slices.Equal(got, want) {
			t.Errorf("seed %d, case %d: heights %v, want %v", seed, n, got, want)
		}
		above := true
		sweep(p, func(y float64, cuts []float64) bool {
			above = !above
			if want := cutsBeside(nil, p, y, above); !slices.EqualFunc(cuts, want, func(a, b float64) bool { return math.Abs(a-b) < 1e-9 }) {
				t.Errorf("seed %d, case %d: height %g, above %v: cut at %v, want %v", seed, n, y, above, cuts, want)
			}
			return !t.Failed()
		})
	}
}

// A comb of many teeth, one of them wider than the others: the circle is found in it, without a cut through all teeth at every corner.
func TestWidestOfAComb(t *testing.T) {
	const teeth, corners, wide = 100, 40, 57 // the tooth of that number is the wide one
	var r plane.Ring
	for k := range teeth {
		x, half := 5*float64(k), 0.05
		if k == wide {
			half = 0.2
		}
		for i := range corners {
			r = append(r, plane.XY{X: x - half, Y: 30*float64(i) + 0.01*float64(k)})
		}
		for i := range corners {
			r = append(r, plane.XY{X: x + half, Y: 30*float64(corners-1-i) + 0.01*float64(k)})
		}
	}
	r = append(r, plane.XY{X: 5*(teeth-1) + 0.05, Y: 0.01*(teeth-1) - 0.1}, plane.XY{X: -0.05, Y: -0.1})
	slices.Reverse(r)
	p := plane.Polygon{r}
	if p.Area() <= 0 {
		t.Fatal("the comb is drawn the wrong way round")
	}
	if _, _, comb := longestCut(p); !comb {
		t.Error("it is no comb")
	}
	centre, radius, below := widest(p, 0.02)
	if below || math.Abs(radius-0.2) > widestPrecision || math.Abs(centre.X-5*wide) > 0.01 {
		t.Errorf("radius %g m at %v, want 0.2 m in the tooth at x = %d", radius, centre, 5*wide)
	}
	cuts := 0
	sweep(p, func(_ float64, some []float64) bool { cuts += len(some); return true })
	if cuts < 3*mostCuts*len(r) {
		t.Errorf("all its cuts have %d places: too few to be spared", cuts)
	}
}

// Ground is broad where its largest circle says so: stars of 5 to 2,000 corners, some with a star of a hole, asked for diameters about
// their own and far below. The place that is given has the room.
func TestBroad(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 7))
	star := func(n int, least, most float64) (r plane.Ring) {
		for i := range n {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			d := least + (most-least)*rng.Float64()
			r = append(r, plane.XY{X: d * cos, Y: d * sin})
		}
		return r
	}
	plain, broadly, narrowly := 0, 0, 0
	for range 200 {
		n := []int{5, 40, 2000}[rng.IntN(3)]
		p := plane.Polygon{star(n, 8, 10)}
		if rng.IntN(2) == 0 {
			hole := star(n, 1, 7)
			slices.Reverse(hole)
			p = append(p, hole)
		}
		_, most, _ := widest(p, 0)
		for _, share := range []float64{0.01, 0.1, 0.9, 0.99, 1.01, 1.1, 3} {
			diameter := 2 * most * share
			if math.Abs(diameter-2*most) < 4*widestPrecision {
				continue
			}
			if _, ok := plainlyBroad(p, diameter); ok {
				plain++
			}
			at, ok := broad(p, diameter)
			if ok != (share < 1) {
				t.Errorf("seed %d, %d corners: a circle of %.3f m: broad enough %t, the largest is %.3f m", seed, n, diameter, ok, 2*most)
			}
			if !ok {
				narrowly++
				continue
			}
			broadly++
			if !p.Holds(at) || clearance(p, at) < diameter/2*(1-1e-6) {
				t.Errorf("seed %d: %v has %.4f m of room, asked for was %.4f", seed, at, 2*clearance(p, at), diameter)
			}
		}
	}
	if plain < 100 || plain == broadly || narrowly < 100 {
		t.Errorf("%d plainly broad, %d broad, %d not: the test asks too little", plain, broadly, narrowly)
	}
}
