package plane

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/testdata/check"
)

// What a disc rolls over makes no difference: the circle found is as large as the one found corner by corner, up to the precision of both, and
// it lies inside, as far from the boundary as is said.
func TestInscribedInDenseRings(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 21))
	corners, left := 0, 0
	for round := range 40 {
		n := denseRing + rng.IntN(3000)
		var p Polygon
		switch round % 5 {
		case 0:
			p = Polygon{noisyRing(rng, n, [3]float64{0.001, 0.02, 0.3}[rng.IntN(3)])}
		case 1:
			p = Polygon{walkedRing(t, rng, 2*n)}
		case 2: // with a dense obstacle, or one of few corners
			hole := noisyRing(rng, []int{n, 30}[rng.IntN(2)], 0.05)
			aside := XY{10 * rng.Float64(), 0}
			for i, q := range hole {
				hole[i] = Snap(q.Scale(0.2).Add(aside))
			}
			p = Polygon{noisyRing(rng, n, 0.02), backwards(hole)}
		case 3:
			p = rough(wavyStrip(200, 3, 4, 90, 0.1), 0.01*rng.Float64(), rng)
		case 4: // a room behind a gateway, at times the larger one
			p = twoRooms(rng, 18, 17+4*rng.Float64())
		}
		slow := newCircleSearch(p)
		slow.sample()
		slow.round()
		fast := newCircleSearch(p)
		fast.sample()
		corners, left = corners+len(fast.edges), left+len(fast.rolled().edges)
		centre, radius := Inscribed(p)
		if math.Abs(radius-slow.radius) > circlePrecision {
			t.Errorf("seed %d round %d: radius %.5f m, corner by corner %.5f m", seed, round, radius, slow.radius)
		}
		if !insideSlow(p, centre) || math.Abs(slowDistance(p, centre)-radius) > 1e-7 {
			t.Errorf("seed %d round %d: the boundary is %.6f m from the centre %v, not %.6f m", seed, round, slowDistance(p, centre), centre, radius)
		}
	}
	if left > corners/2 {
		t.Errorf("seed %d: %d of %d corners are left: too many to say anything", seed, left, corners)
	}
}

// twoRooms are a square and a room of half its length again, with a gateway of 2 m between them, drawn in steps of some centimetres.
func twoRooms(rng *rand.Rand, square, deep float64) Polygon {
	half := square / 2
	corners := []XY{{-half, 0}, {-1, 0}, {-1, -1}, {-square, -1}, {-square, -1 - deep}, {square, -1 - deep}, {square, -1}, {1, -1}, {1, 0}, {half, 0}, {half, square}, {-half, square}}
	var r Ring
	for k, a := range corners {
		b := corners[(k+1)%len(corners)]
		for n, i := int(a.Dist(b)/0.06), 0; i < n; i++ {
			q := a.Lerp(b, float64(i)/float64(n))
			if i > 0 {
				q = q.Add(XY{0.002 * rng.Float64(), 0.002 * rng.Float64()})
			}
			r = append(r, q)
		}
	}
	k := rng.IntN(len(r))
	return Polygon{append(append(Ring{}, r[k:]...), r[:k]...)}
}
