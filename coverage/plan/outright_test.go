package plan

import (
	"math"
	"testing"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestOutright holds a corner that is driven outright to plane geometry, derived here: of a corner by θ the stretch that goes on beyond it has the outer end
// of its bar on the corner of the ground up to 90°, and the inner one on the next side from there on; it goes no farther than the corner where something
// stands beside it. The other stretch begins, or ends, on the corner of the round. Both ways to share a corner are held: with a set that may reverse, and one that may not.
func TestOutright(t *testing.T) {
	const w, long = 6.0, 80.0
	for _, im := range []rig.Implement{mounted(w), trailed(w)} {
		s, err := surveyOf(t.Context(), box(300, 300), im, Options{Speed: 8})
		if err != nil {
			t.Fatal(err)
		}
		for _, degrees := range []float64{40, 70, 90, 110, 140} {
			theta := degrees * math.Pi / 180
			on := geo.Heading(theta).Ahead()
			corner := plane.XY{X: w / 2 * math.Tan(theta/2), Y: -w / 2} // of the ground; the round's is the origin
			ground := plane.Polygon{{corner.Add(plane.XY{X: -long}), corner, corner.Add(on.Scale(long))}}
			ring := plane.Ring{{X: -long / 2}, {}, on.Scale(long / 2)}
			both := func() (before, next stretch) {
				of := s.stretchesOf(loop{ring: ring, cuts: []bend{{0, 0, 0}, {1, 1, theta}, {2, 2, 0}}}, false)
				make := func(p piece) stretch { // the set itself stands 5 m short of the corner
					all := plane.Length(p.line)
					return stretch{line: between(p.line, 5, all-5), of: p, from: 5, to: all - 5, cut: [2]float64{5, 5}}
				}
				return make(of[0]), make(of[1])
			}
			before, next := both()
			left := s.outright(ground, &before, &next)
			end, begin := before.line[len(before.line)-1], next.line[0]
			beyond, other, ahead := end, begin, plane.XY{X: 1}
			if s.turner.reverses {
				beyond, other, ahead = begin, end, on.Scale(-1)
			}
			trial.Near(t, "the other on the round's corner", other.Len(), 0, 1e-9)
			outer := ahead.Left().Scale(-w / 2)
			if s.turner.reverses {
				outer = outer.Scale(-1)
			}
			if degrees <= 90 {
				trial.Near(t, "outer end on the corner", beyond.Add(outer).Dist(corner), 0, 1e-9)
				trial.Near(t, "left", left, 0, 1e-6)
			} else {
				side := plane.Segment{A: corner, B: corner.Add(on.Scale(long))}
				if s.turner.reverses {
					side = plane.Segment{A: corner, B: corner.Add(plane.XY{X: -long})}
				}
				trial.Near(t, "inner end on the next side", side.Dist(beyond.Sub(outer)), 0, 1e-9)
				if !(left > 0) {
					t.Errorf("%g°: leaves %g s, but the bar does not reach the corner", degrees, left)
				}
			}
			if before.cut[1] != 0 || next.cut[0] != 0 || before.cut[0] != 5 || next.cut[1] != 5 || before.from != 5 {
				t.Errorf("%g°: %+v, %+v: want both cut at their other ends only", degrees, before.cut, next.cut)
			}
			if next.hop.Fault == nil || math.Abs(next.hop.Length-end.Dist(begin)) > 1e-9 {
				t.Errorf("%g°: way %+v: want one that does not fit, from end to beginning", degrees, next.hop)
			}
			before, next = both()
			thing := beyond.Add(outer.Scale(-0.9)).Sub(ahead.Scale(0.3)) // in the bar's way
			post := plane.Ring{thing, thing.Add(plane.XY{X: 0.05}), thing.Add(plane.XY{Y: 0.05})}
			s.outright(append(ground, post), &before, &next)
			if s.turner.reverses {
				beyond = next.line[0]
			} else {
				beyond = before.line[len(before.line)-1]
			}
			trial.Near(t, "beside a post no farther than the corner", beyond.Len(), 0, 1e-9)
		}
	}
}

// TestOutrightWhereItPays: in a strip 17 m wide with slanting ends a trailed set cannot turn at its corners. Driven outright each of them is told as what does
// not fit, the bar stays in the field, and with the price of that the plan comes to less than one that ends its rounds where the set stands; with a price
// that nothing is worth no corner is driven so.
func TestOutrightWhereItPays(t *testing.T) {
	field := []plane.Polygon{{{{X: 0, Y: 0}, {X: 300, Y: 0}, {X: 310, Y: 17}, {X: 10, Y: 17}}}}
	im := trailed(5)
	found, s, err := bestOf(t.Context(), field, im, Options{Speed: 8}, Objective{})
	if err != nil {
		t.Fatal(err)
	}
	if !found.Plan.outright() {
		t.Fatalf("no corner is driven outright: %+v", found.Candidate.Infeasible)
	}
	if c := found.Candidate; c.Outside > 1e-6*c.Field {
		t.Errorf("worked %g m² outside", c.Outside)
	}
	fitting, err := s.cornered(t.Context(), s.sharp, true, false)
	if err != nil {
		t.Fatal(err)
	}
	p, err := fitting.lay(t.Context(), found.choice, nil)
	if err != nil {
		t.Fatal(err)
	}
	other, err := Objective{}.judged(t.Context(), p)
	if err != nil {
		t.Fatal(err)
	}
	if p.outright() || other.Missed < found.Candidate.Missed || other.Value < found.Candidate.Value {
		t.Errorf("fitting: %.4f h, %.1f m² missed; outright: %.4f h, %.1f m²", other.Value, other.Missed, found.Candidate.Value, found.Candidate.Missed)
	}
	dear, _, err := bestOf(t.Context(), field, im, Options{Speed: 8, UnfitMinutes: 500}, Objective{})
	if err != nil {
		t.Fatal(err)
	}
	if dear.Plan.outright() {
		t.Errorf("at 500 min a corner is driven outright: %+v", dear.Candidate.Infeasible)
	}
}

// TestOverBlunted: past a corner that is blunted, by a side as long as the table says, a stretch goes on until its bar has reached every corner of the ground there, whichever of the two stretches does so. The corners are those
// of the ground that the round is an inset of by half a width.
func TestOverBlunted(t *testing.T) {
	const w, long = 6.0, 120.0
	for _, im := range []rig.Implement{mounted(w), trailed(w)} {
		s, err := surveyOf(t.Context(), box(300, 300), im, Options{Speed: 8})
		if err != nil {
			t.Fatal(err)
		}
		s.past = true
		for _, c := range []struct{ degrees, first, side float64 }{{90, 45, 4}, {120, 60, 5}, {120, 20, 6}, {140, 130, 8}} {
			first, theta := geo.Heading(c.first*math.Pi/180), geo.Heading(c.degrees*math.Pi/180)
			blunt := first.Ahead().Scale(c.side)
			ground := plane.Polygon{{{X: -long}, {}, blunt, blunt.Add(theta.Ahead().Scale(long))}}
			in, err := plane.Inset(t.Context(), []plane.Polygon{ground}, w/2)
			if err != nil {
				t.Fatal(err)
			}
			ring, asked := in[0][0], 0
			for _, b := range tightBends(ring, im.Turning.Radius) {
				if b.from == b.to || math.Abs(b.theta-float64(theta)) > 0.01 {
					continue
				}
				for _, after := range []bool{false, true} {
					n := len(ring)
					end, next := ring[b.from], ring[(b.from+n-1)%n]
					if after {
						end, next = ring[b.to%n], ring[(b.to+1)%n]
					}
					ahead := end.Sub(next).Unit()
					far := max(plane.XY{}.Sub(end).Dot(ahead), blunt.Sub(end).Dot(ahead))
					want := min(far, s.overCorner(mostCut)+b.long(ring))
					trial.Near(t, "beyond the bend", s.overBend(ring, b, after), want, 0.01)
					asked++
				}
			}
			if asked != 2 {
				t.Errorf("%g°, blunted by %g m: %d times asked, want once from either side", c.degrees, c.side, asked)
			}
		}
	}
}
