//go:build geos

package plane

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"balk/geo/plane/internal/geos"
)

// TestAgainstGEOS puts the same outlines to GEOS and compares areas and time in
// one run. 1,500,000 fixes only with BALK_GEOS_LARGE set: GEOS takes minutes.
func TestAgainstGEOS(t *testing.T) {
	sizes := []int{1_500, 15_000, 150_000}
	if os.Getenv("BALK_GEOS_LARGE") != "" {
		sizes = append(sizes, 1_500_000)
	}
	for _, fixes := range sizes {
		t.Run(fmt.Sprintf("fixes=%d", fixes), func(t *testing.T) {
			op := newOperation(fixes, 1)
			var rings [][]float64
			for _, o := range op.outlines {
				var flat []float64
				for _, p := range o.Line {
					flat = append(flat, p.X, p.Y)
				}
				rings = append(rings, flat)
			}
			start := time.Now()
			want, err := geos.Balance(rings[0], rings[1:])
			theirs := time.Since(start)
			if err != nil {
				t.Fatal(err)
			}

			q := Question{Classify: balanceClass, Layers: []ClassSet{missedLayer, doubleLayer}}
			fastest := func(workers int) (answer Answer, best time.Duration) {
				q.Workers = workers
				best = math.MaxInt64
				for range 3 {
					start := time.Now()
					answer = mustArrange(t, op.outlines, q)
					best = min(best, time.Since(start))
				}
				return answer, best
			}
			answer, one := fastest(1)
			_, many := fastest(0)
			if err := operationFault(op, answer); err != nil {
				t.Fatal(err)
			}
			field := Ring(op.outlines[0].Line).Area()
			missed, double := answer.Area[missedClass], doubleArea(answer.Area)
			t.Logf("GEOS %s: %v; here, with polygons: %v on one processor (GEOS takes %.0f times as long), %v on all (%.0f times)",
				geos.Version(), theirs.Round(time.Millisecond), one.Round(time.Microsecond), float64(theirs)/float64(one), many.Round(time.Microsecond), float64(theirs)/float64(many))
			t.Logf("%d fixes, field %.1f m²; missed %.4f m² (GEOS %.4f), double %.4f m² (GEOS %.4f)", op.fixes, field, missed, want.Missed, double, want.Double)
			for name, pair := range map[string][2]float64{"missed": {missed, want.Missed}, "double": {double, want.Double}} {
				if math.Abs(pair[0]-pair[1]) > 1e-6*field {
					t.Errorf("%s: %.6f m², GEOS says %.6f m²", name, pair[0], pair[1])
				}
			}
		})
	}
}

// Noisy rings pulled in have the area that GEOS gives them, within what the straight pieces of arcs leave.
func TestInsetsAgainstGEOS(t *testing.T) {
	largest := 0.0
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 9))
		n := int(math.Exp(3 + 5*rng.Float64())) // 20 to 3,000 corners
		ring := noisyRing(rng, n, min(3, 0.3*2*math.Pi*60/float64(n)))
		depth := 0.5 + 12*rng.Float64()
		var flat []float64
		for _, p := range ring {
			flat = append(flat, p.X, p.Y)
		}
		want, err := geos.Inset(flat, depth, 200)
		if err != nil {
			t.Fatal(err)
		}
		kept, err := InsetRings(t.Context(), []Polygon{{ring}}, depth)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		var got, rim float64
		for _, r := range kept {
			got += r.Area()
			rim += r.Perimeter()
		}
		if largest = max(largest, math.Abs(got-want)/rim); math.Abs(got-want) > chordError*rim || want < 1000 {
			t.Errorf("seed %d: %d corners pulled in by %.2f m: %.4f m², GEOS says %.4f (a rim of %.0f m)", seed, n, depth, got, want, rim)
		}
	}
	t.Logf("the rim lies off by up to %.6f m in the mean", largest)
}

func TestGEOSRefuses(t *testing.T) {
	if _, err := geos.Balance([]float64{0, 0, 1}, nil); err == nil {
		t.Error("a ring of three numbers: no error")
	}
	if _, err := geos.Balance([]float64{0, 0, 1, 0, 1, 1}, [][]float64{{0, 0}}); err == nil {
		t.Error("a pass of one point: no error")
	}
}
