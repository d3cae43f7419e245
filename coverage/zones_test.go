package coverage

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// drawnFor is how far a layer's area may be off by its drawing: 0.09 mm along its rim
// (half the diagonal of the grid of an eighth of a millimetre).
func drawnFor(polys []plane.Polygon) float64 {
	sum := 0.0
	for _, p := range polys {
		sum += 0.09e-3 * p.Perimeter()
	}
	return sum
}

// checkZones holds zones to the balance, to each other, and to the headland loss.
func checkZones(t *testing.T, r Result) {
	t.Helper()
	z, b := r.Zones, r.Balance
	trial.Near(t, "zones", z.Headland.Area+z.Obstacles.Area+z.Interior.Area, b.Field, 1e-6*b.Field)
	// slivers that are not drawn are thinner than 0.2 mm and lie along the passes
	slivers := 0.0
	for _, p := range r.Passes {
		slivers += 0.2e-3 * p.Length
	}
	trial.Near(t, "missed", z.Headland.Missed+z.Obstacles.Missed+z.Interior.Missed, b.Missed, 1e-6+slivers+drawnFor(r.Layers.Missed))
	trial.Near(t, "double", z.Headland.Double+z.Obstacles.Double+z.Interior.Double, b.Twice+b.More, 1e-6+slivers+drawnFor(r.Layers.Double))
	if r.Headland.Depth > 0 { // there the headland takes in the ground round obstacles
		trial.Near(t, "headland and obstacles", z.Headland.Area+z.Obstacles.Area, r.Headland.Area, 1e-6*b.Field)
		trial.Near(t, "missed there", z.Headland.Missed+z.Obstacles.Missed, r.Headland.Missed, 1e-6+slivers+drawnFor(r.Layers.Missed))
		trial.Near(t, "double there", z.Headland.Double+z.Obstacles.Double, r.Headland.Twice, 1e-6+slivers+drawnFor(r.Layers.Double))
	}
}

// TestZonesAddUp on invented operations, with and without a headland asked for.
func TestZonesAddUp(t *testing.T) {
	seed := check.Seed(t)
	holes := 0
	for k := range trial.Few(12) {
		s := trial.Operation(rand.New(rand.NewPCG(seed, k)))
		for _, w := range []drive.Work{{Width: 5, Overlap: 0.1}, {Width: 5, Overlap: 0.1, Headland: 9}, {Width: 5, Headland: 500}} {
			r := checked(t, s, w)
			checkZones(t, r)
			if r.Zones.Obstacles.Area > 0 {
				holes++
			}
		}
		if t.Failed() {
			t.Fatalf("seed %d, operation %d", seed, k)
		}
	}
	if holes == 0 && !trial.UnderRaceDetector() {
		t.Error("too tame: no obstacle in any field")
	}
}

// TestZonesByRaster is the second opinion: cells of 25 cm, each sorted by its middle's
// distance to the rings and by the polygons around it. A cell counts wrongly only
// if a line goes through it, so the difference stays below the cell size times the
// length of the lines. Borders of zones are shorter than the rings they follow, and
// the arcs around obstacles.
func TestZonesByRaster(t *testing.T) {
	const cell = 0.25
	for k := range uint64(2) {
		s := trial.Operation(rand.New(rand.NewPCG(k, 11)))
		s.Rings = [][]plane.XY{s.Rings[0], trial.Rectangle(-20, -9, 5, 4)}
		w := drive.Work{Width: 5, Headland: 8}
		r := checked(t, s, w)
		field := r.Layers.Field
		rims := 2*field[0].Perimeter() + 2*math.Pi*w.Headland
		var got [3][3]float64 // zone; plain, missed, double
		box := field[0][0].Bounds()
		for y := box.Min.Y + cell/2; y < box.Max.Y; y += cell {
			in, missed, double := crossedAt(field, y), crossedAt(r.Layers.Missed, y), crossedAt(r.Layers.Double, y)
			for x := box.Min.X + cell/2; x < box.Max.X; x += cell {
				if !odd(in, x) {
					continue
				}
				zone, kind := 2, 0
				for i, ring := range field[0] {
					for n, a := range ring {
						if zone > i && beside(plane.XY{X: x, Y: y}, a, ring[(n+1)%len(ring)]) < w.Headland {
							zone = i
						}
					}
				}
				if odd(missed, x) {
					kind = 1
				} else if odd(double, x) {
					kind = 2
				}
				got[zone][kind] += cell * cell
			}
		}
		length := func(layer []plane.Polygon) (sum float64) {
			for _, p := range layer {
				sum += p.Perimeter()
			}
			return sum
		}
		zones := []ground.Zone{r.Zones.Headland, r.Zones.Obstacles, r.Zones.Interior}
		for i, z := range zones {
			name := fmt.Sprintf("operation %d, zone %d", k, i)
			trial.Near(t, name, z.Area, got[i][0]+got[i][1]+got[i][2], cell*rims)
			trial.Near(t, name+" missed", z.Missed, got[i][1], cell*(rims+length(r.Layers.Missed)))
			trial.Near(t, name+" double", z.Double, got[i][2], cell*(rims+length(r.Layers.Double)))
			// the bounds are for the worst; errors of both signs leave a hundredth of the zone
			trial.Near(t, name+" on the whole", z.Area, got[i][0]+got[i][1]+got[i][2], 0.01*z.Area)
			// the comparison can fail: no zone passes for another
			for n, o := range zones {
				if d := math.Abs(z.Area - got[n][0] - got[n][1] - got[n][2]); n != i && d <= cell*rims {
					t.Errorf("%s: %+v cannot be told from %+v", name, z, o)
				}
			}
		}
	}
}

// crossedAt is where the rings cross a height, ascending.
func crossedAt(polys []plane.Polygon, y float64) []float64 {
	var xs []float64
	for _, p := range polys {
		for _, ring := range p {
			for i, a := range ring {
				if b := ring[(i+1)%len(ring)]; (a.Y <= y) != (b.Y <= y) {
					xs = append(xs, a.X+(y-a.Y)/(b.Y-a.Y)*(b.X-a.X))
				}
			}
		}
	}
	slices.Sort(xs)
	return xs
}

// odd says whether an odd number of crossings lies below x.
func odd(xs []float64, x float64) bool {
	n, _ := slices.BinarySearch(xs, x)
	return n%2 == 1
}

// beside is the distance of p from the segment ab.
func beside(p, a, b plane.XY) float64 {
	e, v := b.Sub(a), p.Sub(a)
	return p.Dist(a.Lerp(b, min(max(e.Dot(v)/e.Dot(e), 0), 1)))
}

// BenchmarkZones is per fix of the operation, beside the main arrangement of the same
// field (BenchmarkCheck).
func BenchmarkZones(b *testing.B) {
	for _, n := range trial.BenchSizes {
		b.Run(fmt.Sprintf("fixes=%d", n), func(b *testing.B) {
			s := trial.BigOperation(n)
			r, err := Check(b.Context(), s.Field(), []geo.Track{s.Track()}, drive.Work{Width: 5, Overlap: 0.1})
			if err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			for b.Loop() {
				z, err := ground.ZonesOf(b.Context(), r.Layers.Field, r.Layers, r.Work)
				if err != nil || z != r.Zones || z.Interior.Missed == 0 {
					b.Fatalf("%+v: %v", z, err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(r.Fixes), "ns/fix")
		})
	}
}
