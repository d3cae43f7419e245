package plan

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo/plane"
	"balk/testdata/check"
)

// TestGroundLeftByRounds: a lane of 400 by 4 m between rounds is worked along, not across; a piece of 5 by 5 m, whose two rows take longer to turn
// between than 25 m² are worth, is left unless missing it is dear.
func TestGroundLeftByRounds(t *testing.T) {
	survey := func(hours float64) *survey {
		s, err := surveyOf(t.Context(), box(600, 600), mounted(3), Options{Speed: 8, MissedHours: hours, UnfitMinutes: 10})
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	lane := box(400, 4)[0]
	l := survey(8).leftRows(lane, 3)
	if b := bearing(l.heading); !l.worth || b < 89 || b > 91 {
		t.Errorf("lane: worked %v at %g°, want at 90°", l.worth, b)
	}
	if survey(8).leftRows(box(5, 5)[0], 3).worth {
		t.Error("5 by 5 m in a headland of 3 m is worked: want it left")
	}
	if !survey(800).leftRows(box(5, 5)[0], 3).worth {
		t.Error("5 by 5 m is left at 800 h/ha: want it worked")
	}
}

// TestBentLaneLeftByRounds: a lane 3 m wide along an arc of 60° on a radius of 300 m is worked in one pass along its middle, of 60° · 300 m; the
// bar's own width at either end adds less than itself. Straight rows across would be a hundred.
func TestBentLaneLeftByRounds(t *testing.T) {
	s, err := surveyOf(t.Context(), box(600, 600), mounted(3), Options{Speed: 8})
	if err != nil {
		t.Fatal(err)
	}
	var outer, inner []plane.XY
	for i := range 61 {
		u := headingOf(float64(30 + i)).Ahead()
		outer, inner = append(outer, u.Scale(301.45)), append(inner, u.Scale(298.55))
	}
	slices.Reverse(inner)
	lane := plane.Polygon{slices.Concat(outer, inner)}
	if lane.Area() < 0 {
		slices.Reverse(lane[0])
	}
	l := s.leftRows(lane, 3)
	if !l.worth || l.guide == nil {
		t.Fatalf("worked %v, along a guide %v: want both", l.worth, l.guide != nil)
	}
	blocks := s.leftBlocks(nil, l, 0, true)
	long, rows := 0.0, 0
	for _, b := range blocks {
		for _, st := range b.strips {
			long, rows = long+st.long(), rows+1
		}
	}
	if want := 300 * math.Pi / 3; rows != 1 || long < want || long > want+3 {
		t.Errorf("%d rows of %.1f m in all: want one of %.1f to %.1f m", rows, long, want, want+3)
	}
}

// TestLaneRoundCorners: lanes 3 m wide round right angles are cut at each of them and worked along every leg, so that what is worked is all of the lane and none of it twice. A
// leg that is not worth its row stays out; a lane that bends by 10° is no elbow.
func TestLaneRoundCorners(t *testing.T) {
	s, err := surveyOf(t.Context(), box(600, 600), mounted(3), Options{Speed: 8})
	if err != nil {
		t.Fatal(err)
	}
	sin, cos := math.Sincos(10 * math.Pi / 180)
	for _, c := range []struct {
		name  string
		lane  plane.Polygon
		along []float64 // bearings of the pieces, degrees below 180
		area  float64   // of all pieces, m²
	}{
		{"straight", box(200, 3)[0], []float64{90}, 600},
		{"one corner", plane.Polygon{{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200, Y: 150}, {X: 197, Y: 150}, {X: 197, Y: 3}, {X: 0, Y: 3}}}, []float64{0, 90}, 600 + 147*3},
		{"two corners", plane.Polygon{{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200, Y: 147}, {X: 400, Y: 147}, {X: 400, Y: 150}, {X: 197, Y: 150}, {X: 197, Y: 3}, {X: 0, Y: 3}}},
			[]float64{0, 90, 90}, 600 + 147*3 + 600},
		{"a short leg", plane.Polygon{{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200, Y: 3.5}, {X: 198, Y: 3.5}, {X: 198, Y: 2}, {X: 0, Y: 2}}}, []float64{90}, 400},
		{"a short leg at its other end", plane.Polygon{{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200, Y: 2}, {X: 2, Y: 2}, {X: 2, Y: 3.5}, {X: 0, Y: 3.5}}}, []float64{90}, 400},
		{"a bend", plane.Polygon{{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200 + 200*cos, Y: 200 * sin}, {X: 200 + 200*cos - 3*sin, Y: 200*sin + 3*cos}, {X: 200 - 3*sin/(1+cos), Y: 3}, {X: 0, Y: 3}}},
			[]float64{85}, 1199.2},
		{"with a hole", plane.Polygon{rectangle(0, 0, 200, 200), hole(3, 3, 197, 197)}, nil, 0},
	} {
		var bearings []float64
		sum, overlap := 0.0, 0.0
		all := s.leftovers(c.lane, 3)
		for i, l := range all {
			bearings = append(bearings, math.Mod(bearing(l.heading)+180, 180))
			sum += l.ground.Area()
			for _, other := range all[:i] {
				both, err := plane.Intersection(t.Context(), []plane.Polygon{l.ground}, []plane.Polygon{other.ground})
				if err != nil {
					t.Fatal(err)
				}
				for _, p := range both {
					overlap += p.Area()
				}
			}
		}
		slices.Sort(bearings)
		if !slices.EqualFunc(bearings, c.along, func(a, b float64) bool { return math.Abs(math.Remainder(a-b, 180)) < 6 }) || math.Abs(sum-c.area) > 1 || overlap > 0.01 {
			t.Errorf("%s: %d pieces at %.0f°, %.0f m² in all, %.2f twice: want them at %.0f°, %.0f m²", c.name, len(all), bearings, sum, overlap, c.along, c.area)
		}
	}
}

// TestCutAtElbowsTakesNoLonger: ground of the form of an L or a T, cut or not, takes no longer than worked in one direction.
func TestCutAtElbowsTakesNoLonger(t *testing.T) {
	s, err := surveyOf(t.Context(), box(600, 600), mounted(3), Options{Speed: 8})
	if err != nil {
		t.Fatal(err)
	}
	rng, cuts := rand.New(rand.NewPCG(check.Seed(t), 0)), 0
	for range 60 {
		long, up, lane, wide, at := 20+60*rng.Float64(), 5+40*rng.Float64(), 2+15*rng.Float64(), 2+15*rng.Float64(), 0.0
		if rng.IntN(2) == 0 {
			at = (long - wide) * rng.Float64()
		}
		shape := plane.Polygon{{{X: 0, Y: 0}, {X: long, Y: 0}, {X: long, Y: lane}, {X: at + wide, Y: lane}, {X: at + wide, Y: lane + up}, {X: at, Y: lane + up}, {X: at, Y: lane}, {X: 0, Y: lane}}}
		d := *s
		d.depth = 3 // of which the order of many rows depends
		whole, seconds := d.leftRows(shape, 3), s.price(shape.Area())
		all := s.leftovers(shape, 3)
		for _, l := range all {
			seconds += l.seconds - s.price(l.ground.Area())
		}
		if seconds > whole.seconds+1e-6 {
			t.Errorf("long %.1f, up %.1f, lanes %.1f and %.1f, at %.1f m: %d pieces take %.1f s, the whole %.1f", long, up, lane, wide, at, len(all), seconds, whole.seconds)
		}
		if len(all) > 1 {
			cuts++
		}
	}
	if cuts < 5 {
		t.Errorf("%d of 60 are cut: want some", cuts)
	}
}

// TestRowsThatDoNotPayTogether: in a lane 7 m wide round two corners, of legs of 30 m, the rows of both legs between the rounds do not pay, but either may beside the other.
func TestRowsThatDoNotPayTogether(t *testing.T) {
	field := []plane.Polygon{{{{X: 0, Y: -3.5}, {X: 33.5, Y: -3.5}, {X: 33.5, Y: 17.5}, {X: 0, Y: 17.5}, {X: 0, Y: 10.5}, {X: 26.5, Y: 10.5}, {X: 26.5, Y: 3.5}, {X: 0, Y: 3.5}}}}
	im := mounted(3)
	im.Mount.Hitch, im.Tractor.Ahead, im.Tractor.Behind, im.Body.Behind, im.Body.Width = 1.1, 4.3, 0.9, 1, 0
	s, err := surveyOf(t.Context(), field, im, Options{Speed: 8})
	if err != nil {
		t.Fatal(err)
	}
	if s, err = s.at(t.Context(), 4); err != nil {
		t.Fatal(err)
	}
	if err := s.roundsAndCorridors(t.Context()); err != nil {
		t.Fatal(err)
	}
	if len(s.parts[0].left) < 2 {
		t.Fatalf("%d pieces are left: want one in each leg", len(s.parts[0].left))
	}
	bare := *s
	bare.parts = slices.Clone(s.parts)
	bare.parts[0].left = nil
	way := []choice{{heading: headingOf(90)}}
	none, err := bare.drawn(t.Context(), way, Objective{}, math.Inf(1))
	if err != nil {
		t.Fatal(err)
	}
	best, err := Best(t.Context(), field, im, Options{Speed: 8}, Objective{})
	if err != nil {
		t.Fatal(err)
	}
	if without := none[0].Candidate.Value; best.Candidate.Value > without {
		t.Errorf("%.4f h, %.4f without any such row: want no more", best.Candidate.Value, without)
	}
}

// TestManyElbowsStayWhole: a lane of more than eight corners is not cut: each of its corners would be tried again in all that is left.
func TestManyElbowsStayWhole(t *testing.T) {
	s, err := surveyOf(t.Context(), box(600, 600), mounted(3), Options{Speed: 8})
	if err != nil {
		t.Fatal(err)
	}
	for _, legs := range []int{3, 9, 10, 41} { // as many corners but one, half of them to either side
		up, down := []plane.XY{{X: 0, Y: 0}}, []plane.XY{{X: 0, Y: 2}}
		for i := range legs {
			x, y := 20*float64((i+2)/2), 20*float64((i+1)/2)
			up, down = append(up, plane.XY{X: x + 1, Y: y}), append(down, plane.XY{X: x - 1, Y: y + 2})
		}
		slices.Reverse(down)
		lane := plane.Polygon{slices.Concat(up, down)}
		if n := len(s.elbowsOf(s.leftRows(lane, 3))); (n > 0) != (legs < 10) {
			t.Errorf("%d legs: %d ways to cut, want some %v", legs, n, legs < 10)
		}
	}
}

// TestRowsThatDoNotPayAreLeftOut: rows on ground that others work too win nothing, so a plan is the better without them, with 20 and with 45 rows beside; not asked where
// twelve such pieces would be twelve plans of 45 rows and more.
func TestRowsThatDoNotPayAreLeftOut(t *testing.T) {
	for _, c := range []struct {
		name         string
		deep         float64 // m, of the field across its rows
		pieces, want int
	}{
		{"few rows", 156, 2, 0}, {"many rows", 306, 2, 0}, {"many rows and pieces", 306, 12, 12},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := surveyOf(t.Context(), box(250, c.deep), mounted(6), Options{Speed: 8})
			if err != nil {
				t.Fatal(err)
			}
			if s, err = s.at(t.Context(), 3); err != nil {
				t.Fatal(err)
			}
			if err := s.roundsAndCorridors(t.Context()); err != nil {
				t.Fatal(err)
			}
			for i := range c.pieces {
				at := 20 + 15*float64(i)
				s.parts[0].left = append(s.parts[0].left, s.leftRows(plane.Polygon{rectangle(at, 60, at+6, 100)}, 18))
			}
			found, err := s.drawn(t.Context(), []choice{{heading: headingOf(90)}}, Objective{}, math.Inf(1))
			if err != nil {
				t.Fatal(err)
			}
			best, at, err := s.leftOut(t.Context(), found[0], Objective{})
			if err != nil {
				t.Fatal(err)
			}
			if n := len(at.parts[0].left); n != c.want || len(found[0].Plan.Passes)-len(best.Plan.Passes) != c.pieces-c.want {
				t.Errorf("%d of %d pieces and %d of %d passes are left: want %d pieces, and a pass less for each other", n, c.pieces, len(best.Plan.Passes), len(found[0].Plan.Passes), c.want)
			}
		})
	}
}
