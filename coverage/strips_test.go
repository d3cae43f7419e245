package coverage

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestCauses draws one missed strip of each kind. The field is 100 × 60 m where
// nothing else is said, worked 6 m wide.
func TestCauses(t *testing.T) {
	every := func(x0, x1 float64) [][]plane.XY {
		var ys []float64
		for y := 3.0; y < 60; y += 6 {
			ys = append(ys, y)
		}
		return trial.Rows(x0, x1, ys...)
	}
	field := trial.Rectangle(0, 0, 100, 60)
	shift := func(lines [][]plane.XY, k int, dx, dy float64) [][]plane.XY {
		lines[k] = trial.Apply(lines[k], func(p plane.XY) plane.XY { return p.Add(plane.XY{X: dx, Y: dy}) })
		return lines
	}
	drop := func(lines [][]plane.XY, k int) [][]plane.XY { return append(lines[:k:k], lines[k+1:]...) }
	for _, c := range []struct {
		name   string
		rings  [][]plane.XY
		lines  [][]plane.XY
		want   Cause
		area   float64
		passes []int
	}{
		//  ═══════  pass 5
		//  ───────  strip of 0.3 m: passes 5 to 10 lie 0.3 m too high
		//  ═══════  pass 4
		{"passes drift apart", [][]plane.XY{field}, func() [][]plane.XY {
			l := every(0, 100)
			for k := 4; k < 10; k++ {
				shift(l, k, 0, 0.3)
			}
			return l
		}(), CauseDrift, 30, []int{4, 5}},
		{"one pass left out", [][]plane.XY{field}, drop(every(0, 100), 4), CauseUndriven, 600, []int{4, 5}},
		// A headland pass runs along x = 97; all others were lifted half a metre before it.
		{"one pass left out, and slits at the ends of all others", [][]plane.XY{field}, append(drop(every(0, 93.5), 4), trial.Straight(plane.XY{X: 97}, plane.XY{X: 97, Y: 60}, 2)), CauseUndriven, 94*6 + 9*6*0.5, nil},
		// A headland pass runs along x = 97; pass 5 was lifted 2 m before it.
		{"lifted 2 m before the headland pass", [][]plane.XY{field}, func() [][]plane.XY {
			l := append(every(0, 94), trial.Straight(plane.XY{X: 97}, plane.XY{X: 97, Y: 60}, 2))
			l[4] = trial.Straight(plane.XY{Y: 27}, plane.XY{X: 92, Y: 27}, 2)
			return l
		}(), CauseLift, 12, []int{4, 5, 6, 11}},
		{"lifted 2 m before the boundary", [][]plane.XY{field}, func() [][]plane.XY {
			l := every(0, 100)
			l[4] = trial.Straight(plane.XY{Y: 27}, plane.XY{X: 98, Y: 27}, 2)
			return l
		}(), CauseLift, 12, []int{4, 5, 6}},
		// The last pass keeps 0.5 m off the boundary.
		{"strip along the boundary", [][]plane.XY{trial.Rectangle(0, 0, 100, 60.5)}, every(0, 100), CauseEdge, 50, []int{10}},
		// The east end of the field runs at 45°; every pass ends where its right
		// end meets it, so a triangle of 6 × 6 / 2 stays.
		{"oblique end", [][]plane.XY{{{X: 0, Y: 0}, {X: 100, Y: 0}, {X: 106, Y: 6}, {X: 0, Y: 6}}}, trial.Rows(0, 100, 3), CausePoint, 18, []int{1}},
		// A headland pass climbs 3 m in 100 m, two rows run level: between them stays a
		// wedge of 100 × 3 / 2.
		{"rows along a headland at 1.7°", [][]plane.XY{trial.Rectangle(0, 0, 100, 21)}, func() [][]plane.XY {
			up := plane.XY{X: -3, Y: 100}
			off := plane.XY{Y: 12}.Add(up.Scale(3 / up.Len()))
			return append(trial.Rows(0, 100, 3, 9), trial.Straight(off, off.Add(plane.XY{X: 110, Y: 3.3}), 2))
		}(), CausePoint, 150, []int{2, 3}},
		// Passes go round an obstacle of 10 × 12 m, 0.4 m off its south side.
		{"beside an obstacle", [][]plane.XY{field, trial.Rectangle(40, 24.4, 50, 36)}, func() [][]plane.XY {
			l := append(every(0, 100)[:4], every(0, 100)[6:]...)
			return append(append(l, trial.Rows(0, 40, 27, 33)...), trial.Rows(50, 100, 27, 33)...)
		}(), CauseObstacle, 4, nil},
		{"nothing missed", [][]plane.XY{field}, every(0, 100), "", 0, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, s := range []trial.Sketch{{Rings: c.rings, Lines: c.lines}, trial.Sketch{Rings: c.rings, Lines: c.lines}.Moved(func(p plane.XY) plane.XY { return plane.XY{X: -p.Y, Y: p.X} })} {
				r := checked(t, s, drive.Work{Width: 6})
				if c.want == "" {
					if len(r.Strips) != 0 {
						t.Errorf("got %d strips, want none", len(r.Strips))
					}
					continue
				}
				if len(r.Strips) == 0 {
					t.Fatal("no strip")
				}
				var g *Strip
				for k := range r.Strips {
					if math.Abs(r.Strips[k].Area-c.area) < 0.01 {
						g = &r.Strips[k]
					}
				}
				if g == nil {
					t.Fatalf("no strip of %g m²: %+v", c.area, r.Strips)
				}
				if g.Cause != c.want {
					t.Errorf("cause %q, want %q", g.Cause, c.want)
				}
				if c.passes != nil && !sameInts(g.Passes, c.passes) {
					t.Errorf("passes %v, want %v", g.Passes, c.passes)
				}
			}
		})
	}
}

func sameInts(a, b []int) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

func TestCornerOfTheField(t *testing.T) {
	// One headland round with a bend of 8 m radius in the corner: the outer edge
	// runs on a circle of 11 m and leaves (1 − π/4)·121 = 26.0 m².
	line := append(trial.Straight(plane.XY{X: 3, Y: 60}, plane.XY{X: 3, Y: 12}, 2), trial.Arc(plane.XY{X: 11, Y: 11}, 8, 180, 270, 14)...)
	line = append(line, trial.Straight(plane.XY{X: 12, Y: 3}, plane.XY{X: 60, Y: 3}, 2)...)
	s := trial.Sketch{Rings: [][]plane.XY{{{X: 0, Y: 0}, {X: 60, Y: 0}, {X: 60, Y: 6}, {X: 6, Y: 6}, {X: 6, Y: 60}, {X: 0, Y: 60}}}, Lines: [][]plane.XY{line}}
	r := checked(t, s, drive.Work{Width: 6})
	if len(r.Strips) == 0 || r.Strips[0].Cause != CauseCorner {
		t.Fatalf("got %+v, want a corner first", r.Strips)
	}
	trial.Near(t, "area", r.Strips[0].Area, (1-math.Pi/4)*121, 0.3)
}

func TestSliversAreSummedNotListed(t *testing.T) {
	// Seams of 1 cm and of 3 cm.
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 18.04)}, Lines: trial.Rows(0, 100, 3, 9.01, 15.04)}
	r := checked(t, s, drive.Work{Width: 6})
	if len(r.Strips) != 1 || r.Slivers != 1 {
		t.Fatalf("got %d strips, %d slivers; want 1, 1", len(r.Strips), r.Slivers)
	}
	// The polygons are rounded to an eighth of a millimetre, on a rim of 200 m each.
	trial.Near(t, "sliver area", r.SliverArea, 1, 200.0/8000)
	trial.Near(t, "strips and slivers", r.SliverArea+r.Strips[0].Area, r.Balance.Missed, 400.0/8000)
}

// TestStripsAddUp: strips and slivers are the missed ground, numbered by area.
func TestStripsAddUp(t *testing.T) {
	for seed := range uint64(5) {
		r := checked(t, trial.Operation(rand.New(rand.NewPCG(seed, 6))), drive.Work{Width: 5, Overlap: 0.1, Headland: 8})
		sum, head := r.SliverArea, 0.0
		for k, s := range r.Strips {
			sum += s.Area
			if s.Headland {
				head += s.Area
			}
			if s.Number != k+1 || k > 0 && s.Area > r.Strips[k-1].Area {
				t.Errorf("seed %d: strip %d has number %d and %g m²", seed, k+1, s.Number, s.Area)
			}
			if s.MaxWidth < sliver || s.MeanWidth <= 0 || s.Bearing < 0 || s.Bearing >= 180 {
				t.Errorf("seed %d: strip %+v", seed, s)
			}
		}
		trial.Near(t, "strips and slivers", sum, r.Balance.Missed, 1e-6*r.Balance.Field)
		if head == 0 {
			t.Errorf("seed %d: no strip lies in the headland", seed)
		}
	}
}

// TestWidestAgreesWithInscribed: the short way and the long one.
func TestWidestAgreesWithInscribed(t *testing.T) {
	short := 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 7))
		// a strip of 20 m between two wavering lines, turned
		var up, down plane.Ring
		for x := 0.0; x <= 20; x += 2.5 {
			up = append(up, plane.XY{X: x, Y: 0.02 + 0.05*rng.Float64()})
			down = append(plane.Ring{{X: x + 1, Y: -0.05 * rng.Float64()}}, down...)
		}
		for i, j := 0, len(up)-1; i < j; i, j = i+1, j-1 {
			up[i], up[j] = up[j], up[i]
		}
		for i, j := 0, len(down)-1; i < j; i, j = i+1, j-1 {
			down[i], down[j] = down[j], down[i]
		}
		sin, cos := math.Sincos(rng.Float64() * 7)
		p := plane.Polygon{trial.Apply(append(down, up...), func(p plane.XY) plane.XY { return plane.XY{X: cos*p.X - sin*p.Y, Y: sin*p.X + cos*p.Y} })}
		if p.Area() <= 0 {
			t.Fatal("the strip is drawn the wrong way round")
		}
		centre, got, _ := widest(p, 0)
		_, want := plane.Inscribed(p)
		trial.Near(t, "radius", got, want, 2*widestPrecision)
		trial.Near(t, "radius at its centre", clearance(p, centre), got, 1e-9)
		long, middle, _ := longestCut(p)
		if 2*want > long+1e-9 {
			t.Errorf("seed %d: a circle of %g m is wider than the longest cut of %g m", seed, 2*want, long)
		}
		if clearance(p, middle) >= long/2-widestPrecision {
			short++
		}
	}
	if short < 20 {
		t.Errorf("the short way served %d of 40 strips", short)
	}
}

// TestCauseOfItsOwnGround: blocks at row ends that hang together with long slivers between passes keep their own area and cause; what is
// left of the slivers is drift or, too narrow, summed.
//
//	────────────────────────────────────┬──┐
//	═══ row, lifted (or let in) early    │12│ 6 × 2 m
//	------- 217 m of 1 cm ---------------┴──┤
//	═══ row                                 │
func TestCauseOfItsOwnGround(t *testing.T) {
	field := trial.Rectangle(0, 0, 300, 60)
	// Rows from the k-th on lie a gap farther up, from x = 83 on; those ending in block are lifted, or lowered, 2 m inside.
	rows := func(gap float64, from []int, block func(k int) bool) (lines [][]plane.XY) {
		for k := range 10 {
			up := 0.0
			for _, f := range from {
				if k >= f {
					up += gap
				}
			}
			y, end := 3+6*float64(k), 300.0
			if block(k) {
				end = 298
			}
			line := append(trial.Straight(plane.XY{Y: y}, plane.XY{X: 82, Y: y}, 2), trial.Straight(plane.XY{X: 83, Y: y + up}, plane.XY{X: end, Y: y + up}, 2)...)
			if k%2 == 1 {
				slices.Reverse(line)
			}
			lines = append(lines, line)
		}
		return lines
	}
	one, all := func(k int) bool { return k == 4 }, func(int) bool { return true }
	for _, c := range []struct {
		name   string
		gap    float64
		from   []int
		block  func(int) bool
		blocks []float64 // m² of what is lifted
		drift  int       // strips of drift
	}{
		{"a sliver of 1 cm", 0.01, []int{4}, one, []float64{12}, 0},
		{"a strip of 4 cm", 0.04, []int{4}, one, []float64{12}, 1},
		{"slivers on both sides", 0.01, []int{4, 5}, one, []float64{12}, 0},
		// Every row 2 m short: blocks touch, and are one piece of ground that all slivers run into.
		{"late at all ends", 0.01, []int{1, 2, 3, 4, 5, 6, 7, 8, 9}, all, []float64{2 * 60}, 0},
	} {
		s := trial.Sketch{Rings: [][]plane.XY{field}, Lines: rows(c.gap, c.from, c.block)}
		for _, s := range []trial.Sketch{s, s.Moved(func(p plane.XY) plane.XY { return plane.XY{X: -p.Y, Y: p.X} })} {
			r := checked(t, s, drive.Work{Width: 6})
			var blocks []float64
			drift := 0
			for _, g := range r.Strips {
				switch g.Cause {
				case CauseLift:
					blocks = append(blocks, g.Area)
				case CauseDrift:
					drift++
				default:
					t.Errorf("%s: %.2f m² are %q", c.name, g.Area, g.Cause)
				}
			}
			if drift != c.drift || len(blocks) != len(c.blocks) {
				t.Errorf("%s: %d strips of drift, blocks %.2f m²; want %d, %.2f", c.name, drift, blocks, c.drift, c.blocks)
				continue
			}
			for k, want := range c.blocks {
				// The upper rows lie higher by all gaps, so that blocks have a corner of them more or less.
				trial.Near(t, c.name+": block", blocks[k], want, 0.02*want)
			}
			if c.drift == 0 {
				trial.Near(t, c.name+": slivers", r.SliverArea, 217*c.gap*float64(len(c.from)), 3*c.gap*float64(len(c.from))+0.05)
			}
		}
	}
}
