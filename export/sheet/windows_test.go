package sheet

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo/plane"
	"balk/testdata/check"

	"github.com/paulmach/orb"
)

// A field of 2 km by 30 m is shown in windows at one scale, turned alike, several times as large as whole, and every part of it
// lies in one of them; a square field, and one that is only half as long as broad, is shown whole.
func TestLongFieldsAreShownInWindows(t *testing.T) {
	for _, c := range []struct {
		w, h, deg float64
		windows   bool
	}{{2000, 30, 0, true}, {2000, 30, 33, true}, {2000, 30, 90, true}, {1200, 12, -71, true}, {400, 400, 10, false}, {800, 400, 40, false}} {
		hull := plane.Hull(turned(levelRing(-c.w/2, -c.h/2, c.w, c.h), c.deg))
		for _, frame := range []paper.Box{paper.Rect(14, 33, 182, 100), paper.Rect(14, 33, 269, 60), paper.Rect(20, 40, 380, 220)} {
			views, whole := viewsOf(frame, hull), viewOf(frame, hull)
			if (len(views) > 1) != c.windows {
				t.Errorf("%g × %g m at %g° in %v: %d windows", c.w, c.h, c.deg, frame, len(views))
				continue
			}
			if c.windows && !(views[0].denominator*windowGain <= whole.denominator) {
				t.Errorf("%g × %g m: 1 : %.0f in windows, 1 : %.0f whole", c.w, c.h, views[0].denominator, whole.denominator)
			}
			for k, v := range views {
				if v.denominator != views[0].denominator || v.turn != views[0].turn || !v.frame.Within(frame.Inset(-1e-9)) {
					t.Errorf("window %d: 1 : %.0f turned by %.0f°, frame %v", k+1, v.denominator, v.turn, v.frame)
				}
				for _, o := range views[:k] {
					if v.frame.Inset(-gridGutter).Meets(o.frame.Inset(-gridGutter)) {
						t.Errorf("window %d runs into the numbers of the one before", k+1)
					}
				}
			}
			for x := -1.0; x <= 1; x += 1.0 / 512 {
				for _, y := range []float64{-1, 0, 1} {
					p := turned([]plane.XY{{X: x * c.w / 2, Y: y * c.h / 2}}, c.deg)[0]
					if windowOf(views, p) < 0 {
						t.Fatalf("%g × %g m at %g°: %v is in no window", c.w, c.h, c.deg, p)
					}
				}
			}
		}
	}
}

// The maps of one sheet are turned alike.
func TestOneTurningForAllMaps(t *testing.T) {
	r := field(900, 60, 30, 5)
	s, err := setUp(r, Page{})
	if err != nil {
		t.Fatal(err)
	}
	if s.view.turn == 0 {
		t.Fatal("the case is turned by nothing")
	}
	v, _ := s.detailView(paper.Rect(0, 0, 80, 80), r.Strips[0])
	if u := turnedView(paper.Rect(0, 0, 90, 90), s.hull, s.view.turn); v.turn != s.view.turn || u.turn != s.view.turn {
		t.Errorf("turned by %.0f°, %.0f° and %.0f°", s.view.turn, v.turn, u.turn)
	}
}

// The keys under the balance stay within their column, in both languages, whatever is on the map, and none lies on another.
func TestKeysHaveTheirRoom(t *testing.T) {
	for _, language := range []words.Language{"en", "de"} {
		r := field(400, 300, 0, 3)
		for i := range 1234 {
			r.Turns = append(r.Turns, drive.Turn{Number: i + 1, Tight: true})
		}
		s, err := setUp(r, Page{Language: language})
		if err != nil {
			t.Fatal(err)
		}
		for _, passes := range []bool{true, false} {
			keys, n := s.mapKeys(passes), 0
			for _, line := range keyLines(s.fonts, columnWidth, keys) {
				end := 0.0
				for _, k := range line {
					if n++; k.x < end {
						t.Errorf("%s: %q lies on the key before it", language, k.words)
					}
					end = k.x + k.wide + keyGap + s.fonts.Width(keyLettering, k.words)
				}
				if end > columnWidth {
					t.Errorf("%s: a line of keys takes %.1f mm of %.0f", language, end, columnWidth)
				}
			}
			if n != len(keys) {
				t.Errorf("%s: %d keys of %d", language, n, len(keys))
			}
		}
	}
}

// The arrow to north has white under it only where that hides neither boundary nor missed ground; where a place beside the
// field is free it stands there.
func TestNorthHidesNothing(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 8))
	beside, over, clear := 0, 0, 0
	for range 300 {
		frame := paper.Rect(10, 10, 60+130*rng.Float64(), 40+60*rng.Float64())
		// a star of points anywhere on the frame, corners often
		var ring plane.Ring
		n, size := 4+rng.IntN(20), 0.5+1.5*rng.Float64()
		v := newView(frame, plane.XY{}, 1000, 0)
		for k := range n {
			sin, cos := math.Sincos(2 * math.Pi * (float64(k) + rng.Float64()) / float64(n))
			ring = append(ring, plane.XY{X: frame.W * cos * size * (0.5 + 0.3*rng.Float64()), Y: frame.H * sin * size * (0.5 + 0.3*rng.Float64())})
		}
		shape := newShapes(v.rings([]plane.Polygon{{ring}}))
		radius := 2 + 5*rng.Float64()
		at, white := northPlace(v, shape, newShapes(nil), radius, nil)
		if !(paper.Rect(at[0]-radius, at[1]-radius, 2*radius, 2*radius)).Within(frame) {
			t.Fatalf("at %v, radius %.1f mm, outside the frame", at, radius)
		}
		if !white {
			clear++
			continue
		}
		inside := shape.Holds(onPage(at))
		if beside++; inside {
			beside, over = beside-1, over+1
		}
		for k, a := range ring { // points of the rim, and whether the disc hides them
			b := ring[(k+1)%len(ring)]
			for f := 0.0; f <= 1; f += 1.0 / 64 {
				if p := v.at(a.Lerp(b, f)); frame.Bound().Contains(p) && math.Hypot(p[0]-at[0], p[1]-at[1]) < radius-0.1 {
					t.Fatalf("the disc at %v hides the boundary at %v", at, p)
				}
			}
		}
	}
	if t.Logf("%d beside the field, %d on it, %d without white", beside, over, clear); beside == 0 || over+clear == 0 {
		t.Error("the cases do not reach all answers")
	}
}

// Marks of tight turns lie neither on missed ground nor on each other, unless there is no room; then they are not filled.
func TestTightTurnsHideNothing(t *testing.T) {
	v := newView(paper.Rect(10, 10, 180, 100), plane.XY{}, 1000, 0)
	var missed []plane.Polygon
	var places []plane.XY
	for k := range 30 {
		x := -70 + 5*float64(k)
		missed = append(missed, plane.Polygon{levelRing(x-0.5, 20, 1, 4)})
		places = append(places, plane.XY{X: x, Y: 21})
	}
	l := &leaf{Leaf: paper.New(200, 120, nil)}
	got := l.tightTurns(v, places, missed, []paper.Box{paper.Rect(10, 10, 20, 20)})
	if len(got) != 31 {
		t.Fatalf("%d marks of 30", len(got)-1)
	}
	strips := newShapes(v.rings(missed))
	for i, b := range got[1:] {
		at := orb.Point{b.X + b.W/2, b.Y + b.H/2}
		if strips.under(at, tightRadius) {
			t.Errorf("mark %d hides missed ground", i+1)
		}
		if slices.ContainsFunc(slices.Concat(got[:i+1], got[i+2:]), b.Meets) {
			t.Errorf("mark %d lies on another", i+1)
		}
		if d := math.Hypot(at[0]-v.at(places[i])[0], at[1]-v.at(places[i])[1]); d > 9.1 {
			t.Errorf("mark %d stands %.1f mm off", i+1, d)
		}
	}
	everywhere := []plane.Polygon{{levelRing(-90, -50, 180, 100)}}
	if got := l.tightTurns(v, places[:1], everywhere, nil); got[0].X+got[0].W/2 != v.at(places[0])[0] {
		t.Error("without room the mark leaves its place")
	}
	if _, ok := nearby(orb.Point{}, []float64{1}, 4, func(orb.Point) bool { return false }); ok {
		t.Error("room was found where there is none")
	}
}
