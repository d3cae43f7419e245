package turn

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

var bg = context.Background()

func judged(t testing.TB, field []plane.Polygon, im rig.Implement, depth float64, heading geo.Heading) Ends {
	t.Helper()
	e, err := FieldEnds(bg, field, im, depth, heading)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

const north = geo.Heading(math.Pi / 2)

// TestRectangleOf20Hectares: 400 m by 500 m, rows of 5.9 m to the north: the core is 400 − 2h wide, and the two
// ends of every row but the last have a turn. The least headland is that of the straight one.
func TestRectangleOf20Hectares(t *testing.T) {
	field := []plane.Polygon{{rectangle(0, 0, 400, 500)}}
	im := trailedSet()
	for _, c := range []struct {
		depth float64
		rows  int
		bad   int
		share float64
	}{
		{24, 60, 0, 1 - (1-48.0/400)*(1-48.0/500)}, // 352 m are 59.7 rows
		{18, 62, 122, 1 - (1-36.0/400)*(1-36.0/500)},
	} {
		e := judged(t, field, im, c.depth, north)
		if e.Rows != c.rows || len(e.Ends) != 2*(c.rows-1) || e.Infeasible != c.bad || !near(e.HeadlandShare, c.share, 1e-6) || !near(e.Headland, c.share*2e5, 0.2) {
			t.Errorf("depth %g m: %d rows, %d ends, %d infeasible, share %.6f, want %+v", c.depth, e.Rows, len(e.Ends), e.Infeasible, e.HeadlandShare, c)
		}
		for _, end := range e.Ends {
			want := 500 - c.depth
			if !end.Far {
				want = c.depth
			}
			if !near(end.At.Y, want, 1e-3) || !near(end.At.X, c.depth+5.9*(float64(end.Row)-0.5), 1e-3) || end.Next != end.Row+1 {
				t.Fatalf("row %d ends at %v, turns into row %d", end.Row, end.At, end.Next)
			}
		}
	}
	table, err := Table(bg, im, 5.9, 18, 1)
	if err != nil {
		t.Fatal(err)
	}
	end := judged(t, field, im, 18, north).Ends[60]
	short := table[0].LeastDepth - 18
	if end.Turn.Feasible || !near(end.Turn.Spare, -short, 2e-3) || end.WayOut == nil {
		t.Fatalf("%+v, want short by %.3f m", end.Turn, short)
	}
	if w := end.WayOut; w.Skip != 1 || w.SkipKind != table[1].Best || w.Backing != "" || !(w.Deeper >= short-2e-3 && w.Deeper <= short+Resolution+2e-3) {
		t.Errorf("way out %+v, want every second row with %q, or %.3f m deeper", *w, table[1].Best, short)
	}
	l, err := LeastHeadland(bg, field, im, north, 60)
	if err != nil || !l.Found || !(l.Depth >= table[0].LeastDepth-2e-3 && l.Depth <= table[0].LeastDepth+Resolution+2e-3) || l.Ends.Infeasible != 0 {
		t.Errorf("least headland %.3f m (%v), on a straight one %.3f m", l.Depth, err, table[0].LeastDepth)
	}
	if l, err := LeastHeadland(bg, field, im, north, 15); err != nil || l.Found || l.Limit != 15 {
		t.Errorf("up to 15 m: %+v, %v", l.Found, err)
	}
}

// TestSlantingEndsAreStaggered: the far boundary rises by 1 m in 2 m across. Neighbouring rows then end 2.95 m apart, and turning
// into the farther one takes another way than into the nearer one.
func TestSlantingEndsAreStaggered(t *testing.T) {
	field := []plane.Polygon{{{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200, Y: 300}, {X: 0, Y: 200}}}}
	e := judged(t, field, trailedSet(), 26, north)
	far := 0
	for i, end := range e.Ends {
		if !end.Far || i < 4 || i > len(e.Ends)-6 { // beside the corners rows end otherwise
			continue
		}
		far++
		if !near(end.line.Stagger, 2.95, 1e-3) {
			t.Errorf("row %d: stagger %.4f m, want 2.95 m", end.Row, end.line.Stagger)
		}
		// The core's edge lies 26 m off the boundary: 26·√5/2 m down. The row ends with its right corner.
		if want := 200 + (end.At.X+2.95)/2 - 26*math.Sqrt(5)/2; !near(end.At.Y, want, 2e-3) {
			t.Errorf("row %d ends at %.4f m, want %.4f m", end.Row, end.At.Y, want)
		}
	}
	if far < 15 {
		t.Errorf("%d far ends", far)
	}
}

// TestWayOutByReversing: a field of 60 m by 100 m for a mounted set whose reverse speed is not told. Where no turn fits that goes ahead only,
// the first of those in reverse that would fit is named, as the set judges it once it may; none if none does.
func TestWayOutByReversing(t *testing.T) {
	field := []plane.Polygon{{rectangle(0, 0, 60, 100)}}
	may, not := mountedSet(), mountedSet()
	not.Turning.ReverseSpeed = 0
	c, err := newCourse(field, may, north)
	if err != nil {
		t.Fatal(err)
	}
	named := 0
	for _, depth := range []float64{7, 9, 12} {
		end := judged(t, field, not, depth, north).Ends[10]
		if end.Turn.Feasible {
			t.Fatalf("depth %g m: a turn ahead only fits", depth)
		}
		var want Kind
		for _, k := range Kinds() {
			if of, err := c.of(k, end.line, 0, c.room.Fit); err != nil {
				t.Fatal(err)
			} else if k.Reverses() && of.Feasible {
				want = k
				break
			}
		}
		if end.WayOut.Backing != want {
			t.Errorf("depth %g m: %q, want %q", depth, end.WayOut.Backing, want)
		}
		if want != "" {
			named++
		}
		if back := judged(t, field, may, depth, north).Ends[10]; back.Turn.Feasible != (want != "") || back.WayOut != nil && back.WayOut.Backing != "" {
			t.Errorf("depth %g m: with a reverse speed %v, %+v, want %v", depth, back.Turn.Feasible, back.WayOut, want != "")
		}
	}
	if named != 2 {
		t.Errorf("a turn in reverse is named at %d depths, want 2: too shallow at 7 m", named)
	}
}

// TestTheNextRowIsBeside: a turn goes to the next row's run that ends nearest, of those beside the run, up to 5 km off.
func TestTheNextRowIsBeside(t *testing.T) {
	c, err := newCourse([]plane.Polygon{{rectangle(0, 0, 100, 100)}}, trailedSet(), north)
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range []struct {
		name    string
		next    []run
		stagger float64
		ok      bool
	}{
		{"as long", []run{{0, 100}}, 0, true},
		{"of two the nearer", []run{{0, 40}, {50, 90}}, -10, true},
		{"touching only", []run{{100, 120}}, 0, false},
		{"4 km longer", []run{{0, 4100}}, 4000, true},
		{"5 km longer", []run{{0, 5100}}, 5000, true},
		{"more than 5 km longer", []run{{0, 5101}}, 0, false},
		{"none", nil, 0, false},
	} {
		e, ok := c.end([]row{{3, []run{{0, 100}}}, {9, k.next}}, 0, 0, 0, true)
		if ok != k.ok || ok && (!near(e.line.Stagger, k.stagger, 1e-9) || !near(e.line.Distance, 6, 1e-9)) {
			t.Errorf("%s: %v, %+v, want %v, stagger %g m", k.name, ok, e.line, k.ok, k.stagger)
		}
	}
}

// TestObstacleStopsRows: a hole of 30 m by 30 m in the middle; rows over its headland are two.
func TestObstacleStopsRows(t *testing.T) {
	field := []plane.Polygon{{rectangle(0, 0, 300, 300), rectangle(135, 135, 165, 165)}}
	f := plane.Frame{Ahead: geo.Heading(north).Ahead()}
	core, err := plane.Inset(bg, field, 24)
	if err != nil {
		t.Fatal(err)
	}
	whole, halved := 0, 0
	for _, l := range rowsOver(core, f, 5.9) {
		switch left, right := l.middle-2.95, l.middle+2.95; {
		case len(l.runs) == 1:
			whole++
			if left > 135-24+1 && right < 165+24-1 && left > 130 && right < 170 {
				t.Errorf("a row at %.1f m goes through the obstacle", l.middle)
			}
		case len(l.runs) == 2:
			halved++
			if !near(l.runs[0].from, 24, 1e-3) || !near(l.runs[1].to, 276, 1e-3) {
				t.Errorf("row at %.1f m: %v", l.middle, l.runs)
			}
		default:
			t.Errorf("row at %.1f m: %v", l.middle, l.runs)
		}
	}
	if halved < 11 || whole+halved != 43 {
		t.Errorf("%d rows in one, %d in two", whole, halved)
	}
	e := judged(t, field, trailedSet(), 24, north)
	if e.Infeasible != 0 {
		t.Errorf("%d infeasible ends", e.Infeasible)
	}
	// A pole in the headland, where the turns swing: those near it are stopped, the others not.
	field[0] = append(field[0], rectangle(99.9, 284.9, 100.1, 285.1))
	c, err := newCourse(field, trailedSet(), north)
	if err != nil {
		t.Fatal(err)
	}
	stopped := 0
	for end := range c.ends(rowsOver(core, f, 5.9), 0) {
		w, err := c.best(end.line, 0)
		if err != nil {
			t.Fatal(err)
		}
		if !w.Feasible {
			stopped++
			if math.Abs(end.At.X-100) > 25 || !end.Far {
				t.Errorf("row %d at %v is stopped by a pole at 100, 285: %s", end.Row, end.At, w.Why)
			}
		}
	}
	if stopped == 0 {
		t.Error("the pole stops nobody")
	}
}

// TestRunsByScanning: rows over random polygons, their runs beside those of 200 lines along each row.
func TestRunsByScanning(t *testing.T) {
	const seed, lines = 61, 400
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	for i := range 30 {
		polys, err := plane.Mend([]plane.Ring{roundField(5+rng.IntN(20), 30), rectangle(-20, -10, 10, 25)})
		if err != nil {
			t.Fatal(err)
		}
		heading := geo.Heading(2 * math.Pi * rng.Float64())
		f := plane.Frame{Ahead: heading.Ahead()}
		for _, l := range rowsOver(polys, f, 11) {
			var seen []run
			for k := range lines {
				x := l.middle + 11*((float64(k)+0.5)/lines-0.5)
				var at []float64
				edgesOf(polys, func(e plane.Segment) {
					a, b := f.To(e.A), f.To(e.B) // rows are counted to the right
					if (-a.Y > x) != (-b.Y > x) {
						at = append(at, a.X+(b.X-a.X)*(x+a.Y)/(a.Y-b.Y))
					}
				})
				for len(at) > 1 { // pairs in order
					lo := 0
					for j := range at {
						if at[j] < at[lo] {
							lo = j
						}
					}
					from := at[lo]
					at = append(at[:lo], at[lo+1:]...)
					lo = 0
					for j := range at {
						if at[j] < at[lo] {
							lo = j
						}
					}
					seen = append(seen, run{from, at[lo]})
					at = append(at[:lo], at[lo+1:]...)
				}
			}
			var all, covered float64
			for _, r := range l.runs {
				all += r.to - r.from
			}
			for _, s := range seen {
				inside := false
				for _, r := range l.runs {
					inside = inside || s.from >= r.from-1e-9 && s.to <= r.to+1e-9
				}
				if !inside {
					t.Fatalf("case %d: %v is not in the runs %v", i, s, l.runs)
				}
			}
			for _, r := range l.runs {
				lo, hi := math.Inf(1), math.Inf(-1)
				for _, s := range seen {
					if s.from >= r.from-1e-9 && s.to <= r.to+1e-9 {
						lo, hi = math.Min(lo, s.from), math.Max(hi, s.to)
					}
				}
				if hi > lo {
					covered += hi - lo
				}
			}
			// Between two lines a steep edge may run on; 400 lines of 11 m see all but that.
			if covered > all+1e-9 || all-covered > 1.5+0.1*all {
				t.Errorf("case %d, row at %.2f m: runs of %.3f m, seen %.3f m", i, l.middle, all, covered)
			}
		}
	}
}

// TestEndsMoveWithTheField: moved and turned with its rows, a field keeps all numbers.
func TestEndsMoveWithTheField(t *testing.T) {
	const seed = 62
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	ring := roundField(9, 15)
	m := anyRigid(rng)
	m.mirror = false
	moved := make(plane.Ring, len(ring))
	for i, p := range ring {
		moved[i] = m.pose(Pose{At: p}).At
	}
	a := judged(t, []plane.Polygon{{ring}}, trailedSet(), 20, 0.3)
	b := judged(t, []plane.Polygon{{moved}}, trailedSet(), 20, geo.Heading(0.3+m.turn))
	if a.Rows != b.Rows || len(a.Ends) != len(b.Ends) || a.Infeasible != b.Infeasible || !near(a.HeadlandShare, b.HeadlandShare, 1e-6) {
		t.Fatalf("%d rows, %d ends, %d infeasible, were %d, %d, %d", b.Rows, len(b.Ends), b.Infeasible, a.Rows, len(a.Ends), a.Infeasible)
	}
	for i, e := range a.Ends {
		o := b.Ends[i]
		// Inset draws arcs to half a millimetre, and another place of the field to other corners.
		if e.Turn.Kind != o.Turn.Kind || !near(e.Turn.Spare, o.Turn.Spare, 0.01) || m.pose(Pose{At: e.At}).At.Dist(o.At) > 0.01 {
			t.Errorf("row %d: %s, spare %.4f m; moved %s, %.4f m", e.Row, e.Turn.Kind, e.Turn.Spare, o.Turn.Kind, o.Turn.Spare)
		}
	}
}

func TestEndsRefuse(t *testing.T) {
	field := []plane.Polygon{{rectangle(0, 0, 100, 100)}}
	var lacks *Lacking
	if _, err := FieldEnds(bg, field, bareBar(), 20, north); !errors.As(err, &lacks) {
		t.Errorf("bare implement: %v", err)
	}
	done, cancel := context.WithCancel(bg)
	cancel()
	for name, err := range map[string]error{
		"no field":        second(FieldEnds(bg, nil, trailedSet(), 20, north)),
		"no core left":    second(FieldEnds(bg, field, trailedSet(), 51, north)),
		"negative depth":  second(FieldEnds(bg, field, trailedSet(), -1, north)),
		"no heading":      second(FieldEnds(bg, field, trailedSet(), 20, geo.Heading(math.NaN()))),
		"interrupted":     second(FieldEnds(done, field, trailedSet(), 20, north)),
		"no limit":        second(LeastHeadland(bg, field, trailedSet(), north, 0)),
		"limit, no field": second(LeastHeadland(bg, nil, trailedSet(), north, 30)),
	} {
		if err == nil {
			t.Errorf("%s: taken", name)
		}
	}
}

func BenchmarkFieldEnds(b *testing.B) {
	field := []plane.Polygon{{rectangle(0, 0, 400, 500)}}
	for _, depth := range []float64{15, 24} {
		b.Run(fmt.Sprintf("20 ha/headland=%g", depth), func(b *testing.B) {
			for b.Loop() {
				e := judged(b, field, trailedSet(), depth, north)
				if len(e.Ends) < 100 || (e.Infeasible == 0) != (depth > 20) {
					b.Fatalf("%d of %d infeasible", e.Infeasible, len(e.Ends))
				}
			}
		})
	}
}

func BenchmarkLeastHeadland(b *testing.B) {
	field := []plane.Polygon{{rectangle(0, 0, 400, 500)}}
	for b.Loop() {
		if l, err := LeastHeadland(bg, field, trailedSet(), north, 60); err != nil || !near(l.Depth, 23.35, 0.05) {
			b.Fatal(l.Depth, err)
		}
	}
}
