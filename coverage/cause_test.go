package coverage

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// TestTouchOfAPass: places beside and inside one step of a pass of 6 m, 10 m to the east. Only within its width, and where it begins
// or ends, is the flat end touched.
func TestTouchOfAPass(t *testing.T) {
	for _, c := range []struct {
		name       string
		at         plane.XY
		first, end bool // the pass begins, ends with the step
		cap        bool
	}{
		{"at the end, where the pass goes on", plane.XY{X: 10, Y: 1}, true, false, false},
		{"at the end, where the pass ends", plane.XY{X: 10, Y: 1}, false, true, true},
		{"at the beginning of a later step", plane.XY{Y: 1}, false, true, false},
		{"at the beginning of the pass", plane.XY{Y: -1}, true, false, true},
		{"in the middle of a pass of one step", plane.XY{X: 5, Y: 1}, true, true, false},
		{"on the corner", plane.XY{X: 10, Y: 3}, true, true, false},
		{"alongside", plane.XY{X: 5, Y: 3}, true, true, false},
	} {
		k := contact{near: []side{{Segment: plane.Segment{B: plane.XY{X: 10}}, half: 3, pass: 7, first: c.first, end: c.end}}}
		k.touch(c.at)
		ends, beside := 0, 1
		if c.cap {
			ends, beside = 1, 0
		}
		if k.ends != ends || len(k.caps) != ends || len(k.alongside) != beside || !slices.Equal(k.touched, []int{7}) {
			t.Errorf("%s: %d on ends, %d alongside of passes %v, want %d and %d", c.name, k.ends, len(k.alongside), k.touched, ends, beside)
		}
	}
}

// TestContactOfLongRims: a rim that many sides lie near is looked up bit by bit, and touches what it does when every side there is is held
// against every place of it.
func TestContactOfLongRims(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	var runs []drive.Run
	for k := range 6 {
		var line []plane.XY
		for i := range 400 {
			line = append(line, plane.XY{X: float64(i) * 0.25, Y: 5.1*float64(k) + 0.03*rng.NormFloat64()})
		}
		run := drive.Along(line, 5, 0)
		run.Pass.Number = k + 1
		runs = append(runs, run)
	}
	field := []plane.Polygon{{trial.Rectangle(-1, -4, 90, 30)}}
	around := surroundingsOf(runs, field, drive.Work{Width: 5})
	for k, strip := range []plane.Polygon{
		{trial.Rectangle(3, 2.5, 80, 2.6)},                               // between two passes
		{trial.Rectangle(90, -4, 101, 30)},                               // across the ends of all
		{trial.Rectangle(-1, -4, 90, 30), trial.Rectangle(0, 0, 80, 20)}, // round the field
		{{{X: 2, Y: 2.5}, {X: 88, Y: 23}, {X: 87, Y: 23.1}}},             // across all of them
	} {
		var got, want contact
		around.contact(&got, strip)
		if len(got.held) == 0 {
			t.Fatalf("strip %d: nothing was looked up in the tree", k)
		}
		for one := range around.tree.In(plane.Box{Min: plane.XY{X: -1e3, Y: -1e3}, Max: plane.XY{X: 1e3, Y: 1e3}}) {
			for i := one.from; i < one.to; i++ {
				if s, ok := one.line.side(i); ok {
					want.near = append(want.near, s)
				}
			}
		}
		step := min(around.step, strip.Perimeter()/12)
		for _, r := range strip {
			ahead := step / 2
			for i, a := range r {
				b := r[(i+1)%len(r)]
				for ; ahead <= a.Dist(b); ahead += step {
					want.touch(a.Lerp(b, ahead/a.Dist(b)))
				}
				ahead -= a.Dist(b)
			}
		}
		if got.points != want.points || got.outer != want.outer || got.ends != want.ends || !slices.Equal(got.passes(), want.passes()) ||
			got.alongside.points() != want.alongside.points() || got.rim.points() != want.rim.points() || got.caps.points() != want.caps.points() {
			t.Errorf("seed %d, strip %d: %d points, %d on the boundary, %d on ends, %d alongside of %v; want %d, %d, %d, %d of %v", seed, k,
				got.points, got.outer, got.ends, got.alongside.points(), got.passes(), want.points, want.outer, want.ends, want.alongside.points(), want.passes())
		}
	}
}

// TestRulesOfCauses: each rule just inside its limits and just beyond them, for a strip of 100 points on its rim beside passes of 6 m.
func TestRulesOfCauses(t *testing.T) {
	sides := func(n int, degrees ...float64) (out ways) { // n of each
		for _, d := range degrees {
			for range n {
				out.add(trial.Towards(d)[0])
			}
		}
		return out
	}
	two := []int{3, 4}
	perimeter200 := plane.Polygon{{{X: 0, Y: 0}, {X: 94, Y: 0}, {X: 94, Y: 6}, {X: 0, Y: 6}}}
	wedge := func(angle, length, by, mean float64) Strip { // by: of what its sides open to
		wide := length * math.Tan(angle*math.Pi/180) * by
		return Strip{Length: length, MaxWidth: wide, MeanWidth: mean * wide}
	}
	for _, c := range []struct {
		name  string
		c     contact
		strip Strip
		want  Cause
	}{
		{"a pass fits in", contact{points: 100, ends: 9, hole: 50}, Strip{Length: 100, MaxWidth: 5.71}, CauseUndriven},
		{"a pass fits in, and a tenth of the rim is the end of one", contact{points: 100, ends: 10, caps: towards(0)}, Strip{Length: 100, MaxWidth: 5.71}, CauseLift},
		{"a row left out, and row ends", contact{points: 100, ends: 40, caps: towards(0), alongside: sides(24, 180)}, Strip{Length: 100, MaxWidth: 11.9, Shape: perimeter200}, CauseUndriven},
		{"row ends of a whole width, less long beside passes than eight", contact{points: 100, ends: 40, caps: towards(0), alongside: sides(23, 0)}, Strip{Length: 100, MaxWidth: 6, Shape: perimeter200}, CauseLift},
		{"row ends as wide as two rows", contact{points: 100, ends: 40, caps: towards(0), alongside: sides(24, 0)}, Strip{Length: 100, MaxWidth: 12, Shape: perimeter200}, CauseLift},
		{"row ends beside a headland pass", contact{points: 100, ends: 40, caps: towards(0), alongside: sides(24, 90)}, Strip{Length: 100, MaxWidth: 6, Shape: perimeter200}, CauseLift},
		{"a pass hardly fits in, beside the boundary", contact{points: 100, outer: 20}, Strip{Length: 100, MaxWidth: 5.69}, CauseEdge},
		{"a fifth on an obstacle", contact{points: 100, hole: 20, ends: 50, caps: towards(0)}, Strip{Length: 100, MaxWidth: 2}, CauseObstacle},
		{"less than a fifth on an obstacle", contact{points: 100, hole: 19, outer: 20}, Strip{Length: 100, MaxWidth: 2}, CauseEdge},
		{"short, the boundary turns by 46°", contact{points: 100, outer: 60, rim: towards(10, 12, 56)}, Strip{Length: 24, MaxWidth: 2}, CauseCorner},
		{"short, the boundary turns by 44°", contact{points: 100, outer: 60, rim: towards(10, 12, 54)}, Strip{Length: 24, MaxWidth: 2}, CauseEdge},
		{"short, passes beside it turn by 46°", contact{points: 100, alongside: towards(0, 180, 226)}, Strip{Length: 24, MaxWidth: 2}, CauseCorner},
		{"short, passes beside it to and fro", contact{points: 100, alongside: towards(0, 180, 1)}, Strip{Length: 24, MaxWidth: 2}, CauseDrift},
		{"not short", contact{points: 100, outer: 60, rim: towards(0, 90)}, Strip{Length: 24.1, MaxWidth: 2}, CauseEdge},
		{"short, and a pass ends there", contact{points: 100, ends: 10, rim: towards(0, 90), caps: towards(0)}, Strip{Length: 20, MaxWidth: 2}, CauseLift},
		{"a pass ends at a boundary of 16°", contact{points: 100, ends: 10, rim: towards(16), caps: towards(0)}, Strip{Length: 20, MaxWidth: 2}, CausePoint},
		{"a pass ends beside a boundary of 14°", contact{points: 100, ends: 10, rim: towards(14), caps: towards(0)}, Strip{Length: 20, MaxWidth: 2}, CauseLift},
		{"a pass ends at a boundary of 74°", contact{points: 100, ends: 10, rim: towards(-74), caps: towards(0)}, Strip{Length: 20, MaxWidth: 2}, CausePoint},
		{"a pass ends at a boundary of 76°", contact{points: 100, ends: 10, rim: towards(76), caps: towards(0)}, Strip{Length: 20, MaxWidth: 2}, CauseLift},
		{"half of the boundary is oblique", contact{points: 100, ends: 10, rim: towards(45, 90), caps: towards(0)}, Strip{Length: 20, MaxWidth: 2}, CauseLift},
		{"more than half of it, what runs along aside", contact{points: 100, ends: 10, rim: towards(45, 46, 90, 0, 1, 2), caps: towards(0)}, Strip{Length: 20, MaxWidth: 2}, CausePoint},
		{"the boundary counts, not passes", contact{points: 100, ends: 10, rim: towards(90), alongside: towards(45), caps: towards(0)}, Strip{Length: 20, MaxWidth: 2}, CauseLift},
		{"no boundary: the pass across", contact{points: 100, ends: 10, alongside: towards(45), caps: towards(0)}, Strip{Length: 20, MaxWidth: 2}, CausePoint},
		{"a wedge of 1.1°", contact{points: 100, outer: 19, touched: two, alongside: sides(4, 0, 1.1)}, wedge(1.1, 100, 1, 0.5), CausePoint},
		{"passes that part by 0.9°", contact{points: 100, touched: two, alongside: sides(4, 0, 0.9)}, wedge(0.9, 100, 1, 0.5), CauseDrift},
		{"a wedge driven to and fro", contact{points: 100, touched: two, alongside: sides(4, 0, 182)}, wedge(2, 100, 1, 0.5), CausePoint},
		{"as broad as long wedges are not", contact{points: 100, touched: two, alongside: sides(4, 0, 2)}, wedge(2, 100, 1, 0.76), CauseDrift},
		{"just pointed", contact{points: 100, touched: two, alongside: sides(4, 0, 2)}, wedge(2, 100, 1, 0.74), CausePoint},
		{"narrower than half of what its sides open to", contact{points: 100, touched: two, alongside: sides(4, 0, 2)}, wedge(2, 100, 0.49, 0.5), CauseDrift},
		{"wider than twice that", contact{points: 100, touched: two, alongside: sides(4, 0, 1.1)}, wedge(1.1, 100, 2.01, 0.5), CauseDrift},
		{"just within both", contact{points: 100, touched: two, alongside: sides(4, 0, 1.1)}, wedge(1.1, 100, 1.99, 0.5), CausePoint},
		{"beside one pass only", contact{points: 100, touched: two[:1], alongside: sides(4, 0, 2)}, wedge(2, 100, 1, 0.5), CauseDrift},
		{"too few points beside passes", contact{points: 100, touched: two, alongside: sides(4, 0, 2)[1:]}, wedge(2, 100, 1, 0.5), CauseDrift},
		{"a wedge shorter than two widths", contact{points: 100, touched: two, alongside: sides(4, 0, 20)}, wedge(20, 11.9, 1, 0.5), CauseDrift},
		{"a wedge of two widths", contact{points: 100, touched: two, alongside: sides(4, 0, 20)}, wedge(20, 12.1, 1, 0.5), CausePoint},
		{"a hair of the boundary, and nothing else", contact{points: 100, outer: 1}, Strip{Length: 100, MaxWidth: 2}, CauseEdge},
		{"nothing beside it", contact{points: 100}, Strip{Length: 100, MaxWidth: 2}, CauseUndriven},
	} {
		if got := c.c.cause(c.strip, 6); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// TestReachesInAGap: the set drives 50 m between places 30 m apart: the ellipse has the half axes 25 and 20 m. Beside the straight means
// beside its ends too.
func TestReachesInAGap(t *testing.T) {
	s := silence{from: plane.XY{X: 10, Y: 5}, to: plane.XY{X: 40, Y: 5}, way: 50}
	for _, c := range []struct {
		name    string
		q       plane.XY
		reached bool
		beside  bool // within 6 m
	}{
		{"on the straight", plane.XY{X: 20, Y: 5}, true, true},
		{"19.9 m aside of its middle", plane.XY{X: 25, Y: 24.9}, true, false},
		{"20.1 m aside", plane.XY{X: 25, Y: 25.1}, false, false},
		{"9.9 m beyond an end", plane.XY{X: 49.9, Y: 5}, true, false},
		{"10.1 m beyond the other", plane.XY{X: -0.1, Y: 5}, false, false},
		{"5.9 m beyond an end", plane.XY{X: 4.1, Y: 5}, true, true},
		{"5.9 m aside", plane.XY{X: 12, Y: -0.9}, true, true},
		{"6.1 m aside", plane.XY{X: 12, Y: -1.1}, true, false},
	} {
		if s.reaches(c.q) != c.reached || s.beside(c.q, 6) != c.beside {
			t.Errorf("%s: reached %v, beside %v", c.name, s.reaches(c.q), s.beside(c.q, 6))
		}
	}
}

// towards are directions, each met from one point, or from more where they follow each other.
func towards(degrees ...float64) (w ways) {
	for _, d := range trial.Towards(degrees...) {
		w.add(d)
	}
	return w
}
