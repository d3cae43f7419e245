package read

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"balk/geo"

	"github.com/paulmach/orb"
)

// ringAt makes a ring of corners on a lattice of 2^-10 degrees (about 110 m)
// near 48° N, so that corners meant to lie on an edge do so exactly.
func ringAt(corners ...[2]int) orb.Ring {
	var r orb.Ring
	for _, c := range corners {
		r = append(r, orb.Point{11 + float64(c[0])/1024, 48 + float64(c[1])/1024})
	}
	return r
}

func box(x0, y0, x1, y1 int) orb.Ring {
	return ringAt([2]int{x0, y0}, [2]int{x1, y0}, [2]int{x1, y1}, [2]int{x0, y1}, [2]int{x0, y0})
}

func TestBoundaryRules(t *testing.T) {
	for _, c := range []struct {
		situation string
		rings     []orb.Ring
		parts     []int
		rule      geo.RingRule // "" = good
		ring      int
		polygons  int
		holes     int
	}{
		{"a plain field", []orb.Ring{box(0, 0, 4, 4)}, []int{0}, "", 0, 1, 0},
		{"a field with an obstacle", []orb.Ring{box(0, 0, 4, 4), box(1, 1, 2, 2)}, []int{0}, "", 0, 1, 1},
		{"an obstacle touching the edge in a corner", []orb.Ring{box(0, 0, 4, 4), ringAt([2]int{0, 2}, [2]int{1, 1}, [2]int{1, 3}, [2]int{0, 2})}, []int{0}, "", 0, 1, 1},
		{"an obstacle along the edge", []orb.Ring{box(0, 0, 4, 4), box(0, 1, 1, 2)}, []int{0}, "", 0, 1, 1},
		{"an obstacle across the edge", []orb.Ring{box(0, 0, 4, 4), box(3, 1, 5, 2)}, []int{0}, geo.RingApart, 2, 0, 0},
		{"an obstacle outside", []orb.Ring{box(0, 0, 4, 4), box(5, 1, 6, 2)}, []int{0}, geo.RingInside, 2, 0, 0},
		{"an obstacle in an obstacle", []orb.Ring{box(0, 0, 9, 9), box(1, 1, 8, 8), box(2, 2, 3, 3)}, []int{0}, geo.RingApart, 3, 0, 0},
		{"two obstacles touching along a side", []orb.Ring{box(0, 0, 9, 9), box(1, 1, 2, 2), box(2, 1, 3, 2)}, []int{0}, "", 0, 1, 2},
		{"a bow-tie", []orb.Ring{ringAt([2]int{0, 0}, [2]int{4, 4}, [2]int{4, 0}, [2]int{0, 4}, [2]int{0, 0})}, []int{0}, geo.RingSimple, 1, 0, 0},
		{"a bow-tie crossing in a corner", []orb.Ring{ringAt([2]int{0, 0}, [2]int{2, 2}, [2]int{4, 4}, [2]int{4, 0}, [2]int{2, 2}, [2]int{0, 4}, [2]int{0, 0})}, []int{0}, geo.RingSimple, 1, 0, 0},
		{"a ring touching itself in a corner", []orb.Ring{ringAt([2]int{0, 0}, [2]int{4, 0}, [2]int{2, 2}, [2]int{4, 4}, [2]int{0, 4}, [2]int{2, 2}, [2]int{0, 0})}, []int{0}, "", 0, 1, 0},
		{"a corner touching an edge of its own ring", []orb.Ring{ringAt([2]int{0, 0}, [2]int{4, 0}, [2]int{4, 4}, [2]int{2, 0}, [2]int{0, 4}, [2]int{0, 0})}, []int{0}, "", 0, 1, 0},
		{"a ring going round twice", []orb.Ring{append(box(0, 0, 4, 4), box(0, 0, 4, 4)[1:]...)}, []int{0}, geo.RingSimple, 1, 0, 0},
		{"a cut leading to an island, walked both ways", []orb.Ring{ringAt([2]int{0, 0}, [2]int{6, 0}, [2]int{6, 6}, [2]int{0, 6}, [2]int{0, 3}, [2]int{2, 3}, [2]int{2, 4}, [2]int{4, 4}, [2]int{4, 2}, [2]int{2, 2}, [2]int{2, 3}, [2]int{0, 3}, [2]int{0, 0})}, []int{0}, "", 0, 1, 0},
		{"an edge that runs back on itself", []orb.Ring{ringAt([2]int{0, 0}, [2]int{4, 0}, [2]int{7, 0}, [2]int{4, 0}, [2]int{4, 4}, [2]int{0, 4}, [2]int{0, 0})}, []int{0}, "", 0, 1, 0},
		{"an edge of 500 m run along again in part, on the same side", []orb.Ring{ringAt([2]int{2, 3}, [2]int{2, 2}, [2]int{4, 4}, [2]int{1, 3}, [2]int{5, 5}, [2]int{1, 1}, [2]int{2, 3})}, []int{0}, "", 0, 1, 0},
		{"two points", []orb.Ring{ringAt([2]int{0, 0}, [2]int{4, 0}, [2]int{0, 0})}, []int{0}, geo.RingClosed, 1, 0, 0},
		{"three points on a line", []orb.Ring{ringAt([2]int{0, 0}, [2]int{4, 0}, [2]int{2, 0}, [2]int{0, 0})}, []int{0}, geo.RingClosed, 1, 0, 0},
		{"two parts side by side with a common edge", []orb.Ring{box(0, 0, 4, 4), box(4, 0, 8, 4)}, []int{0, 1}, "", 0, 2, 0},
		{"a part in another", []orb.Ring{box(0, 0, 8, 8), box(1, 1, 2, 2)}, []int{0, 1}, geo.RingApart, 2, 0, 0},
		{"a part in an obstacle of another", []orb.Ring{box(0, 0, 8, 8), box(1, 1, 6, 6), box(2, 2, 3, 3)}, []int{0, 2}, "", 0, 2, 1},
		{"the same part twice", []orb.Ring{box(0, 0, 8, 8), box(0, 0, 8, 8)}, []int{0, 1}, geo.RingApart, 1, 0, 0},
		{"shapefile: obstacle first, then the field", []orb.Ring{box(1, 1, 2, 2), box(0, 0, 4, 4)}, nil, "", 0, 1, 1},
		{"shapefile: field in the obstacle of a field", []orb.Ring{box(2, 2, 3, 3), box(1, 1, 6, 6), box(0, 0, 8, 8)}, nil, "", 0, 2, 1},
		{"shapefile: the same ring twice", []orb.Ring{box(0, 0, 8, 8), box(0, 0, 8, 8)}, nil, geo.RingApart, 2, 0, 0},
	} {
		for _, turned := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s, reversed=%v", c.situation, turned), func(t *testing.T) {
				o := outline{record: 7, parts: c.parts}
				for _, r := range c.rings {
					r = append(orb.Ring(nil), r...)
					if turned {
						r.Reverse()
					}
					o.rings = append(o.rings, r)
				}
				m, err := o.boundary(&tally{file: "test"}, Options{})
				if c.rule != "" {
					re, ok := errors.AsType[*geo.RingError](err)
					if !ok || re.Rule != c.rule || re.Ring != c.ring || re.Record != 7 || re.File != "test" || m != nil {
						t.Fatalf("%v, %v; want ring %d to break %q", m, err, c.ring, c.rule)
					}
					return
				}
				if err != nil {
					t.Fatal(err)
				}
				holes := 0
				for _, p := range m {
					for i, r := range p {
						if ringArea(r) > 0 != (i == 0) {
							t.Errorf("ring %d runs the wrong way", i)
						}
						if r[0] != r[len(r)-1] {
							t.Errorf("ring %d is open", i)
						}
					}
					holes += len(p) - 1
				}
				if len(m) != c.polygons || holes != c.holes {
					t.Errorf("%d polygons, %d holes, want %d and %d", len(m), holes, c.polygons, c.holes)
				}
			})
		}
	}
}

// windings are the least and the greatest number of times that r goes round a
// place. The ring is cut into upright slabs at its corners and crossings; within a
// slab its edges keep their order, and the number changes from edge to edge. So
// every face is seen, however small. Corners are those of the test lattice of 6 × 6: its
// crossings are fractions with denominators up to 50, so two lie 1/2500 of its pitch
// apart or in one upright line, and edges in a slab far more than near.
func windings(r orb.Ring) (lo, hi int) {
	const near = 1e-9 // pitches of the lattice; float64 holds these to 1e-14
	type edge struct{ ax, ay, bx, by float64 }
	var edges []edge
	var cuts []float64
	for i := range len(r) - 1 {
		e := edge{(r[i][0] - 11) * 1024, (r[i][1] - 48) * 1024, (r[i+1][0] - 11) * 1024, (r[i+1][1] - 48) * 1024}
		cuts = append(cuts, e.ax)
		for _, f := range edges {
			if d := (e.bx-e.ax)*(f.by-f.ay) - (e.by-e.ay)*(f.bx-f.ax); d != 0 {
				t := ((f.ax-e.ax)*(f.by-f.ay) - (f.ay-e.ay)*(f.bx-f.ax)) / d
				cuts = append(cuts, e.ax+t*(e.bx-e.ax))
			}
		}
		edges = append(edges, e)
	}
	slices.Sort(cuts)
	type crossed struct {
		y    float64
		step int
	}
	for i := range len(cuts) - 1 {
		if cuts[i+1]-cuts[i] < near {
			continue
		}
		x := (cuts[i] + cuts[i+1]) / 2
		var column []crossed
		for _, e := range edges {
			if right := e.ax < x; right != (e.bx < x) {
				c := crossed{e.ay + (x-e.ax)/(e.bx-e.ax)*(e.by-e.ay), -1}
				if right {
					c.step = 1
				}
				column = append(column, c)
			}
		}
		slices.SortFunc(column, func(a, b crossed) int { return cmp.Compare(a.y, b.y) })
		n := 0
		for k, c := range column {
			n += c.step
			if k+1 == len(column) || column[k+1].y-c.y > near {
				lo, hi = min(lo, n), max(hi, n)
			}
		}
	}
	return lo, hi
}

// strands is how often a ring comes through a point.
func strands(r orb.Ring, p orb.Point) int {
	halves := 0
	for i := range len(r) - 1 {
		switch a, b := r[i], r[i+1]; {
		case a == p || b == p:
			halves++
		case onEdge(p, a, b):
			halves += 2
		}
	}
	return halves / 2
}

// A ring crosses itself exactly when it goes round some places two times more
// often than round others: sides of a crossing differ by two. Corners on a
// lattice of 6 × 6 make touching, shared edges and crossing in corners common.
func TestCrossingAgreesWithWinding(t *testing.T) {
	seed := rand.Uint64()
	rnd := rand.New(rand.NewPCG(seed, 1))
	good, bad, odd := 0, 0, 0
	wanted := 500
	if testing.Short() {
		wanted = 150
	}
	for range 30000 {
		n := 3 + rnd.IntN(6)
		var corners [][2]int
		for range n {
			corners = append(corners, [2]int{rnd.IntN(6), rnd.IntN(6)})
		}
		r := ringAt(append(corners, corners[0])...)
		clean, _, _ := cleanRing(r)
		if len(clean) < 4 || ringArea(clean) == 0 {
			continue
		}
		lo, hi := windings(clean)
		o := outline{record: 1, rings: []orb.Ring{r}, parts: []int{0}}
		_, err := o.boundary(&tally{}, Options{})
		crossed := hi-lo > 1
		if re, ok := errors.AsType[*geo.RingError](err); ok && !crossed && strands(clean, re.At) > 2 {
			continue // three strands through one point can be sorted so that none cross: both answers are right
		}
		if crossed != (err != nil) {
			if odd++; odd < 5 {
				t.Errorf("seed %d: corners %v go round %d to %d times; boundary says %v", seed, corners, lo, hi, err)
			}
		}
		if err == nil {
			good++
		} else {
			bad++
		}
		if good+bad == wanted {
			break
		}
	}
	if good < 15 || bad < 15 {
		t.Errorf("seed %d: %d good and %d bad rings: the test does not see both", seed, good, bad)
	}
}

// The ring of six crossings has a face of a hundredth of a lattice square.
func TestWindingsSeeSmallFaces(t *testing.T) {
	r := ringAt([2]int{2, 0}, [2]int{0, 2}, [2]int{4, 5}, [2]int{3, 1}, [2]int{0, 3}, [2]int{0, 4}, [2]int{1, 2}, [2]int{2, 0})
	if lo, hi := windings(r); hi-lo != 2 {
		t.Errorf("goes round %d to %d times, want a difference of 2: its edges cross", lo, hi)
	}
	if lo, hi := windings(box(0, 0, 4, 4)); lo != 0 || hi != 1 {
		t.Errorf("a square is gone round %d to %d times, want 0 to 1", lo, hi)
	}
}

func TestMending(t *testing.T) {
	bow := `{"type":"Polygon","coordinates":[[[11,48],[11.004,48.004],[11.004,48],[11,48.004],[11,48]]]}`
	_, _, err := GeoJSONFields(strings.NewReader(bow), "bow.geojson", Options{})
	re, ok := errors.AsType[*geo.RingError](err)
	if !ok || re.Rule != geo.RingSimple || re.Record != 1 || re.Ring != 1 || re.At[0] < 11.0019 || re.At[0] > 11.0021 {
		t.Fatalf("%v", err)
	}
	fields, findings, err := GeoJSONFields(strings.NewReader(bow), "bow.geojson", Options{Mend: true})
	if err != nil || len(fields) != 1 || len(findings) != 1 || findings[0].Lost {
		t.Fatalf("%v, %v, %v", fields, findings, err)
	}
	square := `{"type":"Polygon","coordinates":[[[11,48],[11.004,48],[11.004,48.004],[11,48.004],[11,48]]]}`
	whole, _, err := GeoJSONFields(strings.NewReader(square), "square.geojson", Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := hectares(fields[0].Boundary), hectares(whole[0].Boundary)/2; got < 0.999*want || got > 1.001*want {
		t.Errorf("a mended bow-tie has %.4f ha, want half the square, %.4f", got, want)
	}
	if len(fields[0].Boundary) != 2 {
		t.Errorf("a mended bow-tie has %d parts, want 2", len(fields[0].Boundary))
	}
	poor := `{"type":"Polygon","coordinates":[` + squareRing + `,[[11.001,48.001],[11.002,48.001],[11.001,48.001]]]}`
	if _, _, err := GeoJSONFields(strings.NewReader(poor), "poor.geojson", Options{}); !isA[*geo.RingError](err) {
		t.Errorf("an obstacle of two points: %v", err)
	}
	fields, findings, err = GeoJSONFields(strings.NewReader(poor), "poor.geojson", Options{Mend: true})
	if err != nil || len(fields) != 1 || len(findings) != 2 || len(fields[0].Boundary[0]) != 1 {
		t.Errorf("an obstacle of two points mended: %v, %v, %v", fields, findings, err)
	}
}

// What mending keeps, by closed forms: a square of 200 m is 4 ha. The wobble of a second round
// is invented.
func TestMendingRounds(t *testing.T) {
	const side = 200.0 // m
	square := func(off float64, back bool, loops int) (ring orb.Ring) {
		for n := range loops {
			for k := range 40 {
				// every round lies as much inside as outside of the one before
				wobble := off * float64(n) * math.Pow(-1, float64(k))
				at := []orb.Point{{float64(k) * 20, -wobble}, {side + wobble, float64(k-10) * 20}, {side - float64(k-20)*20, side + wobble}, {-wobble, side - float64(k-30)*20}}[k/10]
				ring = append(ring, at)
			}
		}
		if back {
			slices.Reverse(ring)
		}
		return append(ring, ring[0])
	}
	degrees := func(r orb.Ring) string {
		var b strings.Builder
		for i, p := range r {
			if i > 0 {
				b.WriteByte(',')
			}
			fmt.Fprintf(&b, "[%.12f,%.12f]", 11+p[0]/degree/math.Cos(48*math.Pi/180), 48+p[1]/degree)
		}
		return "[" + b.String() + "]"
	}
	rect := func(x0, y0, x1, y1 float64) orb.Ring {
		return orb.Ring{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}, {x0, y0}}
	}
	reversed := func(r orb.Ring) orb.Ring { r = slices.Clone(r); slices.Reverse(r); return r }
	for _, c := range []struct {
		name          string
		polygons      [][]orb.Ring
		before, after float64 // ha; of rounds that wobble by 1 m what the outermost holds
		lost          bool
	}{
		{"two rounds", [][]orb.Ring{{square(1, false, 2)}}, 4, 4, false},
		{"two rounds, clockwise", [][]orb.Ring{{square(1, true, 2)}}, 4, 4, false},
		{"three rounds", [][]orb.Ring{{square(1, false, 3)}}, 4.05, 4.05, false},
		{"two rounds in two rings", [][]orb.Ring{{square(0, false, 1), square(1, false, 2)[40:]}}, 0, 4, true},
		{"two rounds in two parts", [][]orb.Ring{{square(0, false, 1)}, {square(1, false, 2)[40:]}}, 8, 4, true},
		{"two parts that overlap", [][]orb.Ring{{rect(0, 0, 200, 200)}, {rect(100, 100, 300, 300)}}, 8, 7, true},
		{"the same part twice", [][]orb.Ring{{rect(0, 0, 200, 200)}, {rect(0, 0, 200, 200)}}, 8, 4, true},
		{"a part within another, nearly as large", [][]orb.Ring{{rect(0, 0, 200, 200)}, {rect(1, 1, 199, 199)}}, 7.92, 4, true},
		{"there and back", [][]orb.Ring{{append(square(0, false, 1), square(1, true, 2)[:40]...)}}, 4, 0.04, true},
		{"an eight", [][]orb.Ring{{orb.Ring{{0, 0}, {200, 200}, {200, 0}, {0, 200}, {0, 0}}}}, 2, 2, false},
		{"a loop at the corner", [][]orb.Ring{{orb.Ring{{0, 0}, {200, 0}, {200, 205}, {195, 205}, {195, 200}, {205, 200}, {205, 210}, {0, 200}, {0, 0}}}}, 4.1, 4.1, false},
		{"a hole that sticks out", [][]orb.Ring{{rect(0, 0, 200, 200), reversed(rect(150, 50, 250, 100))}}, 3.5, 4, true},
		{"an obstacle as a part of its own", [][]orb.Ring{{rect(0, 0, 200, 200)}, {rect(50, 50, 60, 60)}}, 4.01, 3.99, false},
	} {
		var polys []string
		for _, rings := range c.polygons {
			var texts []string
			for _, r := range rings {
				texts = append(texts, degrees(r))
			}
			polys = append(polys, "["+strings.Join(texts, ",")+"]")
		}
		text := `{"type":"MultiPolygon","coordinates":[` + strings.Join(polys, ",") + `]}`
		fields, findings, err := GeoJSONFields(strings.NewReader(text), "f", Options{Mend: true})
		if err != nil || len(findings) == 0 {
			t.Errorf("%s: %v, %v", c.name, findings, err)
			continue
		}
		last := findings[len(findings)-1]
		if got := hectares(fields[0].Boundary); math.Abs(got-c.after) > 0.03 {
			t.Errorf("%s: %.4f ha kept, want %.2f", c.name, got, c.after)
		}
		var before, after float64
		if _, err := fmt.Sscanf(last.What[strings.Index(last.What, "mended"):], "mended, %f ha before → %f ha after", &before, &after); err != nil || math.Abs(before-c.before) > 0.03 || math.Abs(after-c.after) > 0.03 || last.Lost != c.lost {
			t.Errorf("%s: said %q (lost %t), want %.2f → %.2f ha (lost %t)", c.name, last.What, last.Lost, c.before, c.after, c.lost)
		}
	}
}
