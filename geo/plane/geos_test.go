//go:build geos

package plane

import (
	"fmt"
	"math"
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

func TestGEOSRefuses(t *testing.T) {
	if _, err := geos.Balance([]float64{0, 0, 1}, nil); err == nil {
		t.Error("a ring of three numbers: no error")
	}
	if _, err := geos.Balance([]float64{0, 0, 1, 0, 1, 1}, [][]float64{{0, 0}}); err == nil {
		t.Error("a pass of one point: no error")
	}
}
