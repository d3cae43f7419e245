package geo

import (
	"cmp"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"balk/testdata/check"

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
		rule      RingRule // "" = good
		ring      int
		polygons  int
		holes     int
	}{
		{"a plain field", []orb.Ring{box(0, 0, 4, 4)}, []int{0}, "", 0, 1, 0},
		{"a field with an obstacle", []orb.Ring{box(0, 0, 4, 4), box(1, 1, 2, 2)}, []int{0}, "", 0, 1, 1},
		{"an obstacle touching the edge in a corner", []orb.Ring{box(0, 0, 4, 4), ringAt([2]int{0, 2}, [2]int{1, 1}, [2]int{1, 3}, [2]int{0, 2})}, []int{0}, "", 0, 1, 1},
		{"an obstacle along the edge", []orb.Ring{box(0, 0, 4, 4), box(0, 1, 1, 2)}, []int{0}, "", 0, 1, 1},
		{"an obstacle across the edge", []orb.Ring{box(0, 0, 4, 4), box(3, 1, 5, 2)}, []int{0}, RingApart, 2, 0, 0},
		{"an obstacle outside", []orb.Ring{box(0, 0, 4, 4), box(5, 1, 6, 2)}, []int{0}, RingInside, 2, 0, 0},
		{"an obstacle in an obstacle", []orb.Ring{box(0, 0, 9, 9), box(1, 1, 8, 8), box(2, 2, 3, 3)}, []int{0}, RingApart, 3, 0, 0},
		{"two obstacles touching along a side", []orb.Ring{box(0, 0, 9, 9), box(1, 1, 2, 2), box(2, 1, 3, 2)}, []int{0}, "", 0, 1, 2},
		{"a bow-tie", []orb.Ring{ringAt([2]int{0, 0}, [2]int{4, 4}, [2]int{4, 0}, [2]int{0, 4}, [2]int{0, 0})}, []int{0}, RingSimple, 1, 0, 0},
		{"a bow-tie crossing in a corner", []orb.Ring{ringAt([2]int{0, 0}, [2]int{2, 2}, [2]int{4, 4}, [2]int{4, 0}, [2]int{2, 2}, [2]int{0, 4}, [2]int{0, 0})}, []int{0}, RingSimple, 1, 0, 0},
		{"a ring touching itself in a corner", []orb.Ring{ringAt([2]int{0, 0}, [2]int{4, 0}, [2]int{2, 2}, [2]int{4, 4}, [2]int{0, 4}, [2]int{2, 2}, [2]int{0, 0})}, []int{0}, "", 0, 1, 0},
		{"a corner touching an edge of its own ring", []orb.Ring{ringAt([2]int{0, 0}, [2]int{4, 0}, [2]int{4, 4}, [2]int{2, 0}, [2]int{0, 4}, [2]int{0, 0})}, []int{0}, "", 0, 1, 0},
		{"a ring going round twice", []orb.Ring{append(box(0, 0, 4, 4), box(0, 0, 4, 4)[1:]...)}, []int{0}, RingSimple, 1, 0, 0},
		{"a cut leading to an island, walked both ways", []orb.Ring{ringAt([2]int{0, 0}, [2]int{6, 0}, [2]int{6, 6}, [2]int{0, 6}, [2]int{0, 3}, [2]int{2, 3}, [2]int{2, 4}, [2]int{4, 4}, [2]int{4, 2}, [2]int{2, 2}, [2]int{2, 3}, [2]int{0, 3}, [2]int{0, 0})}, []int{0}, "", 0, 1, 0},
		{"an edge that runs back on itself", []orb.Ring{ringAt([2]int{0, 0}, [2]int{4, 0}, [2]int{7, 0}, [2]int{4, 0}, [2]int{4, 4}, [2]int{0, 4}, [2]int{0, 0})}, []int{0}, "", 0, 1, 0},
		{"an edge of 500 m run along again in part, on the same side", []orb.Ring{ringAt([2]int{2, 3}, [2]int{2, 2}, [2]int{4, 4}, [2]int{1, 3}, [2]int{5, 5}, [2]int{1, 1}, [2]int{2, 3})}, []int{0}, "", 0, 1, 0},
		{"two points", []orb.Ring{ringAt([2]int{0, 0}, [2]int{4, 0}, [2]int{0, 0})}, []int{0}, RingClosed, 1, 0, 0},
		{"three points on a line", []orb.Ring{ringAt([2]int{0, 0}, [2]int{4, 0}, [2]int{2, 0}, [2]int{0, 0})}, []int{0}, RingClosed, 1, 0, 0},
		{"two parts side by side with a common edge", []orb.Ring{box(0, 0, 4, 4), box(4, 0, 8, 4)}, []int{0, 1}, "", 0, 2, 0},
		{"a part in another", []orb.Ring{box(0, 0, 8, 8), box(1, 1, 2, 2)}, []int{0, 1}, RingApart, 2, 0, 0},
		{"a part in an obstacle of another", []orb.Ring{box(0, 0, 8, 8), box(1, 1, 6, 6), box(2, 2, 3, 3)}, []int{0, 2}, "", 0, 2, 1},
		{"the same part twice", []orb.Ring{box(0, 0, 8, 8), box(0, 0, 8, 8)}, []int{0, 1}, RingApart, 1, 0, 0},
		{"shapefile: obstacle first, then the field", []orb.Ring{box(1, 1, 2, 2), box(0, 0, 4, 4)}, nil, "", 0, 1, 1},
		{"shapefile: field in the obstacle of a field", []orb.Ring{box(2, 2, 3, 3), box(1, 1, 6, 6), box(0, 0, 8, 8)}, nil, "", 0, 2, 1},
		{"shapefile: the same ring twice", []orb.Ring{box(0, 0, 8, 8), box(0, 0, 8, 8)}, nil, RingApart, 2, 0, 0},
	} {
		for _, turned := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s, reversed=%v", c.situation, turned), func(t *testing.T) {
				o := Outline{File: "test", Record: 7, Parts: c.parts}
				for _, r := range c.rings {
					r = append(orb.Ring(nil), r...)
					if turned {
						r.Reverse()
					}
					o.Rings = append(o.Rings, r)
				}
				m, _, err := o.Boundary(false)
				if c.rule != "" {
					re, ok := errors.AsType[*RingError](err)
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
	seed := check.Seed(t)
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
		o := Outline{Record: 1, Rings: []orb.Ring{r}, Parts: []int{0}}
		_, _, err := o.Boundary(false)
		crossed := hi-lo > 1
		if re, ok := errors.AsType[*RingError](err); ok && !crossed && strands(clean, re.At) > 2 {
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

func TestRingErrorIsShort(t *testing.T) {
	for at, want := range map[orb.Point]string{{11.5, 48.1}: "at 11.500000, 48.100000 breaks", {1e308, 48}: "at 1e+308, 48 breaks"} {
		if got := (&RingError{File: "f", Record: 1, Ring: 1, Rule: RingFinite, At: at}).Error(); !strings.Contains(got, want) {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
