package plane

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/testdata/check"
)

// TestBandsByUprights: random polygons with a hole, cut into bands, some with gaps between them and some without breadth. On random
// uprights the ground in each band is found from all sides that the upright crosses, which shares nothing with the cut.
func TestBandsByUprights(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 8))
	star := func(corners int, least, most float64) Ring {
		var ring Ring
		for k := range corners {
			sin, cos := math.Sincos(2 * math.Pi * (float64(k) + 0.8*rng.Float64()) / float64(corners))
			ring = append(ring, XY{cos, sin}.Scale(least+(most-least)*rng.Float64()))
		}
		return ring
	}
	var room Bands
	inside, outside := 0, 0
	for k := range 300 {
		p := Polygon{star(8+rng.IntN(25), 2, 40), star(3+rng.IntN(5), 0.3, 0.6)}
		box := p[0].Bounds()
		n := 1 + rng.IntN(12)
		bands, gap := make([]Span, n), []float64{0, 5e-3, (box.Max.Y - box.Min.Y) / float64(n) / 2}[k%3]
		for i := range bands {
			at := func(i int) float64 { return box.Min.Y + (box.Max.Y-box.Min.Y)*float64(i)/float64(n) }
			if bands[i] = (Span{at(i) + gap, at(i+1) - gap}); k%3 == 2 {
				bands[i].To = bands[i].From
			}
		}
		for i, spans := range room.Cut(p, bands) {
			for j, s := range spans {
				if s.From > s.To || j > 0 && s.From <= spans[j-1].To {
					t.Fatalf("case %d, band %d of %d: %v is out of order or meets the span before", k, i+1, n, s)
				}
			}
			for range 30 {
				x := box.Min.X + (box.Max.X-box.Min.X)*(1.1*rng.Float64()-0.05)
				var cuts []float64
				for _, ring := range p {
					for j, a := range ring {
						if b := ring[(j+1)%len(ring)]; (a.X > x) != (b.X > x) {
							cuts = append(cuts, a.Y+(b.Y-a.Y)*(x-a.X)/(b.X-a.X))
						}
					}
				}
				slices.Sort(cuts)
				want, near := false, false
				for j := 0; j+1 < len(cuts); j += 2 {
					want = want || cuts[j] <= bands[i].To && cuts[j+1] >= bands[i].From
					for _, y := range cuts[j : j+2] {
						near = near || min(math.Abs(y-bands[i].From), math.Abs(y-bands[i].To)) < 1e-9
					}
				}
				got := slices.ContainsFunc(spans, func(s Span) bool { return s.From <= x && x <= s.To })
				if got != want && !near {
					t.Fatalf("case %d, band %d of %d, %v: ground at x = %g said %v, is %v", k, i+1, n, bands[i], x, got, want)
				}
				if want {
					inside++
				} else {
					outside++
				}
			}
		}
	}
	if inside < 1000 || outside < 1000 {
		t.Errorf("%d uprights with ground, %d without: too few of one", inside, outside)
	}
}
