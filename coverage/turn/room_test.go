package turn

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"balk/geo"
	"balk/geo/plane"
)

// roundField is a boundary of n corners some 100 m from the middle, wavy by `wave` metres.
func roundField(n int, wave float64) plane.Ring {
	ring := make(plane.Ring, n)
	for i := range ring {
		a := 2 * math.Pi * float64(i) / float64(n)
		sin, cos := math.Sincos(a)
		r := 100 + wave*math.Sin(5*a)
		ring[i] = plane.XY{X: r * cos, Y: r * sin}
	}
	return ring
}

func room(t testing.TB, polys ...plane.Polygon) *Room {
	t.Helper()
	r, err := NewRoom(polys)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func rectangle(x0, y0, x1, y1 float64) plane.Ring {
	return plane.Ring{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

// TestDepthInARectangle: how far lines get into rectangles of one metre and of four, whose sides they pass.
func TestDepthInARectangle(t *testing.T) {
	narrow, unit := quad(rectangle(0, 0, 1, 4)), quad(rectangle(0, 0, 1, 1))
	for _, c := range []struct {
		name string
		in   quad
		e    plane.Segment
		want float64
	}{
		{"along the middle", narrow, plane.Segment{A: plane.XY{X: 0.5, Y: -1}, B: plane.XY{X: 0.5, Y: 5}}, 0.5},
		{"across", narrow, plane.Segment{A: plane.XY{X: -1, Y: 2}, B: plane.XY{X: 2, Y: 2}}, 0.5},
		{"its end inside", narrow, plane.Segment{A: plane.XY{X: -1, Y: 2}, B: plane.XY{X: 0.2, Y: 2}}, 0.2},
		{"over a corner, at 45°", unit, plane.Segment{A: plane.XY{X: -1, Y: 1.4}, B: plane.XY{X: 1.4, Y: -1}}, 0.2},
		{"along a diagonal", unit, plane.Segment{A: plane.XY{}, B: plane.XY{X: 1, Y: 1}}, 0.5},
		{"along a side", unit, plane.Segment{A: plane.XY{X: -1}, B: plane.XY{X: 2}}, 0},
		{"beside it", unit, plane.Segment{A: plane.XY{X: -1, Y: -1}, B: plane.XY{X: 2, Y: -1}}, math.Inf(-1)},
		{"a rectangle without width", quad(rectangle(0, 0, 0, 4)), plane.Segment{A: plane.XY{X: -1, Y: 2}, B: plane.XY{X: 1, Y: 2}}, math.Inf(-1)},
	} {
		if got, at := c.in.depth(c.e); got != c.want && !near(got, c.want, 1e-12) {
			t.Errorf("%s: %g m at %v, want %g m", c.name, got, at, c.want)
		}
	}
}

// TestFitOfASetThatStands: the tractor of the mounted set is 4.6 m by 2.5 m, its tool 3 m wide from 1.4 m to 3.4 m behind the axle.
// It stands in the origin and looks north; margin 0.5 m.
func TestFitOfASetThatStands(t *testing.T) {
	here := Path{From: Pose{Heading: math.Pi / 2}}
	for _, c := range []struct {
		name  string
		room  []plane.Polygon
		spare float64
		at    plane.XY
		cross bool
	}{
		{"wide field, nearest ahead", []plane.Polygon{{rectangle(-50, -50, 50, 10)}}, 10 - 3.8 - 0.5, plane.XY{}, false},
		{"nearest beside the tool", []plane.Polygon{{rectangle(-3, -50, 50, 50)}}, 3 - 1.5 - 0.5, plane.XY{}, false},
		{"margin just kept", []plane.Polygon{{rectangle(-2, -50, 50, 50)}}, 0, plane.XY{}, false},
		{"margin not kept", []plane.Polygon{{rectangle(-1.8, -50, 50, 50)}}, -0.2, plane.XY{}, false},
		{"nose beyond the boundary", []plane.Polygon{{rectangle(-50, -50, 50, 3)}}, -0.8 - 0.5, plane.XY{}, true},
		{"obstacle's corner to the right", []plane.Polygon{{rectangle(-50, -50, 50, 50), rectangle(4.5, 6.8, 8, 9)}}, math.Hypot(3.25, 3) - 0.5, plane.XY{X: 4.5, Y: 6.8}, false},
		{"pole of 0.2 m under the tractor, 1.15 m in from its flank", []plane.Polygon{{rectangle(-50, -50, 50, 50), rectangle(-0.1, 1, 0.1, 1.2)}}, -1.25 - 0.5, plane.XY{}, true},
		{"corner of an obstacle under the tool's end", []plane.Polygon{{rectangle(-50, -50, 50, 50), rectangle(1.3, -2.6, 5, -2.2)}}, -0.2 - 0.5, plane.XY{}, true},
		{"wall right across", []plane.Polygon{{rectangle(-50, -50, 50, 50), rectangle(-20, 1, 20, 1.1)}}, -1.25 - 0.5, plane.XY{}, true},
		{"all of it outside", []plane.Polygon{{rectangle(10, -50, 50, 50)}}, -11.5 - 0.5, plane.XY{X: -1.5, Y: -1.4}, true},
		{"in the courtyard of an obstacle", []plane.Polygon{{rectangle(-50, -50, 50, 50), rectangle(-20, -20, 20, 20)}}, -18.75 - 0.5, plane.XY{}, true},
	} {
		got := room(t, c.room...).Fit(drive(t, here, mountedSet(), Fine), 0.5)
		// Where the nearest place is not the only one, only the number is asked for.
		if !near(got.Spare, c.spare, 1e-9) || got.Cross != c.cross || c.at != (plane.XY{}) && got.At.Dist(c.at) > 1e-9 {
			t.Errorf("%s: spare %.6f m at %v (crosses: %t), want %.6f m at %v (%t)", c.name, got.Spare, got.At, got.Cross, c.spare, c.at, c.cross)
		}
	}
}

// TestFitIsThatOfTheSweptGround: the distance of the union's polygon to the boundary, measured edge by edge, is
// the fast fit's within what rounding the polygon for drawing moves (0.5 mm, see plane.Arrange).
func TestFitIsThatOfTheSweptGround(t *testing.T) {
	const seed, drawn = 41, 0.5e-3
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	inside, crossing := 0, 0
	for i := range 150 {
		p, im := anyTurn(rng)
		if i%5 != 0 {
			p.From.At = plane.XY{X: 75 + 15*rng.NormFloat64(), Y: 20 * rng.NormFloat64()}
		}
		d := drive(t, p, im, Fine)
		poly := plane.Polygon{roundField(3+rng.IntN(80), 10)}
		if at := (plane.XY{X: 40 * rng.NormFloat64(), Y: 40 * rng.NormFloat64()}); rng.IntN(2) == 0 {
			poly = append(poly, rectangle(at.X, at.Y, at.X+3*rng.Float64(), at.Y+3*rng.Float64()))
		}
		polys, err := plane.Mend(poly)
		if err != nil {
			t.Fatal(err)
		}
		r := room(t, polys...)
		got := r.Fit(d, 0)
		for _, margin := range []float64{0, 0.3, got.Spare - 1e-6, got.Spare + 1e-6, 20 * rng.Float64()} {
			if margin >= 0 && r.Holds(d, margin) != r.Fit(d, margin).Fits() {
				t.Errorf("case %d, %s: holds with a margin of %g m: %t, and %.6f m are spare without", i, p.Kind, margin, r.Holds(d, margin), got.Spare)
			}
		}
		g, err := d.Swept(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		beyond, err := plane.Difference(context.Background(), g.Both, polys)
		if err != nil {
			t.Fatal(err)
		}
		if out := 0.0; len(beyond) > 0 {
			for _, b := range beyond {
				out += b.Area()
			}
			crossing++
			if !got.Cross || !(got.Spare < 0) {
				t.Errorf("case %d, %s: %.4f m² lie outside, spare %.4f m", i, p.Kind, out, got.Spare)
			}
			continue
		}
		inside++
		least := math.Inf(1)
		edgesOf(polys, func(e plane.Segment) {
			edgesOf(g.Both, func(f plane.Segment) {
				least = min(least, e.Dist2(f.A), e.Dist2(f.B), f.Dist2(e.A), f.Dist2(e.B))
			})
		})
		if got.Cross || !near(got.Spare, math.Sqrt(least), drawn) {
			t.Errorf("case %d, %s: spare %.5f m (crosses: %t), union %.5f m", i, p.Kind, got.Spare, got.Cross, math.Sqrt(least))
		}
	}
	if inside < 30 || crossing < 30 {
		t.Errorf("%d inside, %d crossing: the cases say little", inside, crossing)
	}
}

func edgesOf(polys []plane.Polygon, f func(plane.Segment)) {
	for _, poly := range polys {
		for _, ring := range poly {
			for i, p := range ring {
				f(plane.Segment{A: p, B: ring[(i+1)%len(ring)]})
			}
		}
	}
}

// TestFitAtAStraightBoundary: across the row the spare metres are the boundary's distance less the set's reach, also
// where they are negative; each metre of margin takes one, each metre of headland gives one.
func TestFitAtAStraightBoundary(t *testing.T) {
	const seed = 42
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	for range 100 {
		p, im := anyTurn(rng)
		d := drive(t, p, im, Fine)
		reach := d.Reach(p.From.At, p.From.Heading)
		for _, depth := range []float64{reach - 2, reach - 0.01, reach + 0.01, reach + 3} {
			edge := func(ahead, left float64) plane.XY { return p.From.Moved(ahead, left, 0).At }
			r := room(t, plane.Polygon{{edge(-400, -400), edge(depth, -400), edge(depth, 400), edge(-400, 400)}})
			margin := rng.Float64()
			if got := r.Fit(d, margin); !near(got.Spare, depth-reach-margin, 1e-6) {
				t.Errorf("%s: spare %.6f m, want %.6f m", p.Kind, got.Spare, depth-reach-margin)
			}
		}
	}
}

// TestFitOfADenseBoundary: a boundary whose edges are cut into many more leaves as much to spare.
func TestFitOfADenseBoundary(t *testing.T) {
	const seed, pieces = 47, 60
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	inside, crossing := 0, 0
	for i := range 60 {
		p, im := anyTurn(rng)
		p.From.At = plane.XY{X: 60 + 20*rng.NormFloat64(), Y: 20 * rng.NormFloat64()}
		rings := plane.Polygon{roundField(20, 8), rectangle(62, 3, 65, 9)}
		var cut plane.Polygon
		for _, ring := range rings {
			var fine plane.Ring
			for k, q := range ring {
				for n := range pieces {
					fine = append(fine, q.Lerp(ring[(k+1)%len(ring)], float64(n)/pieces))
				}
			}
			cut = append(cut, fine)
		}
		d := drive(t, p, im, Fine)
		want, got := room(t, rings).Fit(d, 0.3), room(t, cut).Fit(d, 0.3)
		if !near(got.Spare, want.Spare, 1e-6) || got.Cross != want.Cross {
			t.Errorf("case %d, %s: %.7f m (%t), with long edges %.7f m (%t)", i, p.Kind, got.Spare, got.Cross, want.Spare, want.Cross)
		}
		if want.Cross {
			crossing++
		} else {
			inside++
		}
	}
	if inside < 10 || crossing < 10 {
		t.Errorf("%d inside, %d crossing: the cases say little", inside, crossing)
	}
}

// TestFitMovesWithTheRoom: moved, turned and mirrored together, the spare metres stay.
func TestFitMovesWithTheRoom(t *testing.T) {
	const seed = 43
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	for i := range 60 {
		p, im := anyTurn(rng)
		p.From.At = plane.XY{X: 75 + 10*rng.NormFloat64(), Y: 20 * rng.NormFloat64()}
		ring := roundField(40, 8)
		want := room(t, plane.Polygon{ring}).Fit(drive(t, p, im, Fine), 0.3)
		m := anyRigid(rng)
		m.mirror = false
		moved, mirrored := make(plane.Ring, len(ring)), make(plane.Ring, len(ring))
		for k, q := range ring {
			moved[k] = m.pose(Pose{At: q}).At
			mirrored[k] = plane.XY{X: q.X, Y: -q.Y}
		}
		there := p
		there.From = m.pose(p.From)
		glass := Path{From: Pose{plane.XY{X: p.From.At.X, Y: -p.From.At.Y}, -p.From.Heading}}
		for _, a := range p.Pieces {
			glass.Pieces = append(glass.Pieces, Arc{a.Length, -a.From, -a.To})
		}
		for name, got := range map[string]Fit{
			"moved":    room(t, plane.Polygon{moved}).Fit(drive(t, there, im, Fine), 0.3),
			"mirrored": room(t, plane.Polygon{mirrored}).Fit(drive(t, glass, im, Fine), 0.3),
		} {
			if !near(got.Spare, want.Spare, 1e-6) || got.Cross != want.Cross {
				t.Errorf("case %d, %s, %s: %.7f m (%t), was %.7f m (%t)", i, p.Kind, name, got.Spare, got.Cross, want.Spare, want.Cross)
			}
		}
	}
}

func TestRoomRefuses(t *testing.T) {
	for name, polys := range map[string][]plane.Polygon{
		"nothing": nil, "a ring of one point": {{{{X: 1, Y: 1}}}}, "no number": {{{{X: math.NaN()}, {X: 1}, {Y: 1}}}},
	} {
		if r, err := NewRoom(polys); err == nil || r != nil {
			t.Errorf("%s: taken", name)
		}
	}
}

func TestNothingDrivenFitsNowhere(t *testing.T) {
	d := drive(t, Path{}, mountedSet(), Fine)
	if r := room(t, plane.Polygon{roundField(40, 0)}); r.Holds(new(Driven), 0) || new(Room).Holds(d, 0) || r.Fit(new(Driven), 0).Fits() || new(Room).Fit(d, 0).Fits() {
		t.Error("nothing fits")
	}
}

// BenchmarkTurnInRoom is one turn driven and fitted: its path, the set on it, and its fit.
func BenchmarkTurnInRoom(b *testing.B) {
	for _, c := range []struct {
		name  string
		edges int
	}{{"corners=4", 4}, {"corners=60", 60}, {"corners=1000", 1000}} {
		for _, set := range []string{"mounted", "trailed"} {
			im := mountedSet()
			if set == "trailed" {
				im = trailedSet()
			}
			for _, away := range []float64{70, 95} { // spare metres; across the boundary
				b.Run(fmt.Sprintf("%s/%s/from=%g", set, c.name, away), func(b *testing.B) {
					r := room(b, plane.Polygon{roundField(c.edges, 0)})
					s, drv := SteeringOf(im), newDriver(im, Fine)
					b.ReportAllocs()
					n, fits := 0, 0
					for b.Loop() {
						n++
						heading := 2 * math.Pi * float64(n%97) / 97
						sin, cos := math.Sincos(heading)
						rows := Rows{From: Pose{plane.XY{X: away * cos, Y: away * sin}, geo.Heading(heading)}, Distance: float64(n%113) / 10, Left: n%2 == 0}
						k := Bulb
						if rows.Distance >= 2*s.Radius {
							k = PlainU
						}
						p, err := k.Path(rows, s)
						if err != nil {
							b.Fatal(err)
						}
						d, err := drv.drive(p)
						if err != nil {
							b.Fatal(err)
						}
						if r.Fit(d, 0.5).Fits() {
							fits++
						}
					}
					if c.edges > 4 && (away == 70) != (fits == n) || away == 95 && fits > 0 {
						b.Fatalf("%d of %d fit", fits, n)
					}
				})
			}
		}
	}
}

// A quadrilateral run either way, and a bow-tie: of that both triangles are inside, what lies beside its waist is not.
func TestInsideAQuadrilateral(t *testing.T) {
	kite := [4]plane.XY{{X: 0, Y: 0}, {X: 3, Y: -1}, {X: 5, Y: 2}, {X: 1, Y: 3}}
	tie := [4]plane.XY{{X: 0, Y: 0}, {X: 4, Y: 4}, {X: 4, Y: 0}, {X: 0, Y: 4}}
	for _, c := range []struct {
		name string
		q    [4]plane.XY
		p    plane.XY
		want bool
	}{
		{"the middle", kite, plane.XY{X: 2, Y: 1}, true},
		{"left of it", kite, plane.XY{X: -0.5, Y: 1}, false},
		{"right of it", kite, plane.XY{X: 4.8, Y: 1}, false},
		{"below it, between its corners", kite, plane.XY{X: 0.5, Y: -0.5}, false},
		{"above it", kite, plane.XY{X: 1, Y: 3.5}, false},
		{"just inside a side", kite, plane.XY{X: 1.5, Y: -0.45}, true},
		{"the left wing", tie, plane.XY{X: 1, Y: 2}, true},
		{"the right wing", tie, plane.XY{X: 3, Y: 2}, true},
		{"below the waist", tie, plane.XY{X: 2, Y: 1}, false},
		{"above the waist", tie, plane.XY{X: 2, Y: 3}, false},
	} {
		a, b, d, e := c.q[0], c.q[1], c.q[2], c.q[3]
		for k := range 4 {
			if winds(c.p, a, b, d, e) != c.want || winds(c.p, e, d, b, a) != c.want {
				t.Errorf("%s, from corner %d: want %t", c.name, k+1, c.want)
			}
			a, b, d, e = b, d, e, a
		}
	}
}

// A turn fits into room that is as wide as it needs but for rounding, and not into less.
func TestFitsButForRounding(t *testing.T) {
	for spare, want := range map[float64]bool{0: true, -1e-15: true, -1e-6: false, 1: true} {
		if got := (Fit{Spare: spare}).Fits(); got != want {
			t.Errorf("%g m to spare: fits %v", spare, got)
		}
	}
	if (Fit{Spare: 1, Cross: true}).Fits() {
		t.Error("what crosses a boundary fits")
	}
}
