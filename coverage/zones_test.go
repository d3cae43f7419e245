package coverage

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo"
	"balk/geo/plane"
)

// TestZonesOfAField: fields and layers a person can add up, zones 10 m deep.
func TestZonesOfAField(t *testing.T) {
	hole := func(x0, y0, x1, y1 float64) []plane.XY {
		r := rectangle(x0, y0, x1, y1)
		slices.Reverse(r)
		return r
	}
	poly := func(rings ...[]plane.XY) []plane.Polygon {
		var p plane.Polygon
		for _, r := range rings {
			p = append(p, r)
		}
		return []plane.Polygon{p}
	}
	square := rectangle(0, 0, 100, 100)
	// a hole's own ring of 10 m has round corners: 4 · 20 · 10 + π · 10²
	const round = 800 + math.Pi*100
	for _, c := range []struct {
		name                          string
		field, missed, double         []plane.Polygon
		headland, obstacles, interior Zone // shares are worked out below
	}{
		{name: "nothing in the layers", field: poly(square), headland: Zone{Area: 3600}, interior: Zone{Area: 6400}},
		{name: "a missed strip across all of it", field: poly(square), missed: poly(rectangle(40, 0, 42, 100)),
			headland: Zone{Area: 3600, Missed: 40}, interior: Zone{Area: 6400, Missed: 160}},
		{name: "double-worked in a corner and in the middle", field: poly(square), double: append(poly(rectangle(0, 0, 20, 20)), poly(rectangle(50, 50, 60, 60))...),
			headland: Zone{Area: 3600, Double: 300}, interior: Zone{Area: 6400, Double: 200}},
		{name: "all missed", field: poly(square), missed: poly(square), headland: Zone{Area: 3600, Missed: 3600}, interior: Zone{Area: 6400, Missed: 6400}},
		{name: "narrower than two depths: all headland", field: poly(rectangle(0, 0, 100, 19)), missed: poly(rectangle(0, 9, 100, 10)), headland: Zone{Area: 1900, Missed: 100}},
		{name: "a hole in the middle", field: poly(square, hole(40, 40, 60, 60)), missed: poly(rectangle(60, 45, 100, 50)),
			headland: Zone{Area: 3600, Missed: 50}, obstacles: Zone{Area: round, Missed: 50}, interior: Zone{Area: 6400 - 400 - round, Missed: 100}},
		{name: "a hole at the headland: headland wins", field: poly(square, hole(40, 5, 60, 25)), missed: poly(rectangle(20, 12, 40, 16)), double: poly(rectangle(60, 2, 70, 8)),
			// above 10 m: two sides 15 m high, the top 20 m long and its two corners
			headland: Zone{Area: 3600 - 100, Double: 60}, obstacles: Zone{Area: 2*150 + 200 + math.Pi*50, Missed: 40}, interior: Zone{Area: 6400 - 300 - 500 - math.Pi*50, Missed: 40}},
		{name: "two fields", field: append(poly(square), poly(rectangle(200, 0, 240, 40))...), double: poly(rectangle(200, 0, 240, 20)),
			headland: Zone{Area: 3600 + 1200, Double: 600}, interior: Zone{Area: 6400 + 400, Double: 200}},
		{name: "a field in the hole of another", field: append(poly(square, hole(30, 30, 70, 70)), poly(rectangle(35, 35, 65, 65))...), missed: poly(rectangle(45, 45, 55, 55)),
			headland: Zone{Area: 3600 + 800}, obstacles: Zone{Area: 1600 + math.Pi*100}, interior: Zone{Area: 6400 - 1600 - 1600 - math.Pi*100 + 100, Missed: 100}},
	} {
		t.Run(c.name, func(t *testing.T) {
			z, err := ZonesOf(t.Context(), c.field, Layers{Missed: c.missed, Double: c.double}, Work{Width: 10})
			if err != nil {
				t.Fatal(err)
			}
			near(t, "depth", z.Depth, 10, 0)
			for _, k := range []struct {
				name      string
				got, want Zone
			}{{"headland", z.Headland, c.headland}, {"obstacles", z.Obstacles, c.obstacles}, {"interior", z.Interior, c.interior}} {
				near(t, k.name, k.got.Area, k.want.Area, 0.05) // 0.5 mm of chord on round corners of 16 m a quarter
				near(t, k.name+" missed", k.got.Missed, k.want.Missed, 0.05)
				near(t, k.name+" double", k.got.Double, k.want.Double, 0.05)
				near(t, k.name+" share missed", k.got.MissedShare*k.got.Area, k.got.Missed, 1e-9)
				near(t, k.name+" share double", k.got.DoubleShare*k.got.Area, k.got.Double, 1e-9)
			}
			if c.obstacles == (Zone{}) && z.Obstacles != (Zone{}) || c.interior == (Zone{}) && z.Interior != (Zone{}) {
				t.Errorf("%+v: want zones that are not there to be exactly nothing", z)
			}
			near(t, "sum", z.Headland.Area+z.Obstacles.Area+z.Interior.Area, AreaOf(c.field), 1e-6*AreaOf(c.field))
		})
	}
}

// TestZoneDepth: the headland asked for, else one credited width.
func TestZoneDepth(t *testing.T) {
	for _, c := range []struct {
		w    Work
		want float64
	}{{Work{Width: 6, Overlap: 0.5}, 5.5}, {Work{Width: 6, Overlap: 0.5, Rounds: 2}, 11}, {Work{Width: 6, Headland: 20, Rounds: 2}, 20}} {
		near(t, fmt.Sprintf("%+v", c.w), c.w.ZoneDepth(), c.want, 0)
	}
}

// drawnFor is how far a layer's area may be off by its drawing: 0.09 mm along its rim
// (half the diagonal of the grid of an eighth of a millimetre).
func drawnFor(polys []plane.Polygon) float64 {
	sum := 0.0
	for _, p := range polys {
		sum += 0.09e-3 * perimeter(p)
	}
	return sum
}

// checkZones holds zones to the balance, to each other, and to the headland loss.
func checkZones(t *testing.T, r Result) {
	t.Helper()
	z, b := r.Zones, r.Balance
	near(t, "zones", z.Headland.Area+z.Obstacles.Area+z.Interior.Area, b.Field, 1e-6*b.Field)
	// slivers that are not drawn are thinner than 0.2 mm and lie along the passes
	slivers := 0.0
	for _, p := range r.Passes {
		slivers += 0.2e-3 * p.Length
	}
	near(t, "missed", z.Headland.Missed+z.Obstacles.Missed+z.Interior.Missed, b.Missed, 1e-6+slivers+drawnFor(r.Layers.Missed))
	near(t, "double", z.Headland.Double+z.Obstacles.Double+z.Interior.Double, b.Twice+b.More, 1e-6+slivers+drawnFor(r.Layers.Double))
	if r.Headland.Depth > 0 { // there the headland takes in the ground round obstacles
		near(t, "headland and obstacles", z.Headland.Area+z.Obstacles.Area, r.Headland.Area, 1e-6*b.Field)
		near(t, "missed there", z.Headland.Missed+z.Obstacles.Missed, r.Headland.Missed, 1e-6+slivers+drawnFor(r.Layers.Missed))
		near(t, "double there", z.Headland.Double+z.Obstacles.Double, r.Headland.Twice, 1e-6+slivers+drawnFor(r.Layers.Double))
	}
}

// TestZonesAddUp on invented operations, with and without a headland asked for.
func TestZonesAddUp(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	holes := 0
	for k := range uint64(12) {
		s := operation(rand.New(rand.NewPCG(seed, k)))
		for _, w := range []Work{{Width: 5, Overlap: 0.1}, {Width: 5, Overlap: 0.1, Headland: 9}, {Width: 5, Headland: 500}} {
			r := s.check(t, w)
			checkZones(t, r)
			if r.Zones.Obstacles.Area > 0 {
				holes++
			}
		}
		if t.Failed() {
			t.Fatalf("seed %d, operation %d", seed, k)
		}
	}
	if holes == 0 {
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
		s := operation(rand.New(rand.NewPCG(k, 11)))
		s.rings = [][]plane.XY{s.rings[0], rectangle(-20, -9, 5, 4)}
		w := Work{Width: 5, Headland: 8}
		r := s.check(t, w)
		field := r.Layers.Field
		rims := 2*perimeter(field[0]) + 2*math.Pi*w.Headland
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
				sum += perimeter(p)
			}
			return sum
		}
		zones := []Zone{r.Zones.Headland, r.Zones.Obstacles, r.Zones.Interior}
		for i, z := range zones {
			name := fmt.Sprintf("operation %d, zone %d", k, i)
			near(t, name, z.Area, got[i][0]+got[i][1]+got[i][2], cell*rims)
			near(t, name+" missed", z.Missed, got[i][1], cell*(rims+length(r.Layers.Missed)))
			near(t, name+" double", z.Double, got[i][2], cell*(rims+length(r.Layers.Double)))
			// the bounds are for the worst; errors of both signs leave a hundredth of the zone
			near(t, name+" on the whole", z.Area, got[i][0]+got[i][1]+got[i][2], 0.01*z.Area)
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
	for _, n := range benchSizes {
		b.Run(fmt.Sprintf("fixes=%d", n), func(b *testing.B) {
			s := bigOperation(n)
			r, err := Check(b.Context(), s.field(), []geo.Track{s.track()}, Work{Width: 5, Overlap: 0.1})
			if err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			for b.Loop() {
				z, err := ZonesOf(b.Context(), r.Layers.Field, r.Layers, r.Work)
				if err != nil || z != r.Zones || z.Interior.Missed == 0 {
					b.Fatalf("%+v: %v", z, err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(r.Fixes), "ns/fix")
		})
	}
}
