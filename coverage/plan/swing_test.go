package plan

import (
	"math"
	"testing"

	"balk/coverage/turn"
	"balk/geo/plane"
)

// TestSwungOffABoundary: the far end of a set 6 m wide, 3 m behind the axle, on the least radius at once swings √(9² + 3²) − 9 = 0.49 m
// out (own arithmetic). On the bends that begin gently it stays within the slack all the way, the least radius after them included, and so
// it does backing in; both sides are mirror images.
func TestSwungOffABoundary(t *testing.T) {
	s, err := surveyOf(t.Context(), box(300, 200), mounted(6), Options{Speed: 8})
	if err != nil {
		t.Fatal(err)
	}
	// out is how far the end of the set gets beyond the boundary, on the right at y = −3 m.
	out := func(pieces []turn.Arc) float64 {
		most := math.Inf(-1)
		p := turn.Path{Pieces: append(pieces, turn.Arc{Length: 6, From: 1 / s.turner.runRadius(), To: 1 / s.turner.runRadius()})}
		for far := 0.0; far <= p.Length(); far += 0.05 {
			for _, behind := range [2]float64{0, -3} {
				most = max(most, -3-p.At(far).Moved(behind, -3, 0).At.Y)
			}
		}
		return most
	}
	if at := out(nil); math.Abs(at-0.49) > 0.02 {
		t.Errorf("at once: %.3f m out, want 0.49 m", at)
	}
	away := s.turner.swungFrom(onRight)
	if at := out(away); at > swingSlack+0.005 || len(away) == 0 {
		t.Errorf("on %d bends: %.3f m out, want %.3f m at most", len(away), at, swingSlack)
	}
	left := s.turner.swungFrom(onLeft)
	a, b := turn.Path{Pieces: away}.End(), turn.Path{Pieces: left}.End()
	if a.At.Dist(plane.XY{X: b.At.X, Y: -b.At.Y}) > 1e-9 || math.Abs(float64(a.Heading+b.Heading)) > 1e-9 {
		t.Errorf("off a boundary on the right to %v, on the left to %v: want mirror images", a, b)
	}
	s.turner.reverses = false
	if got := s.turner.swungFrom(onRight); got != nil {
		t.Errorf("%d bends of a set that must not reverse: want none", len(got))
	}
}

// TestCornersOfTheOutermostRound: in a triangle with corners of 40°, 70° and 70° the outermost round turns by 140° and 110°. Rounded they
// leave (tan(θ/2) − θ/2)·(r + w/2)² each, 123.6 m² and 38.1 m² (own arithmetic). Driven to its end the sharp one leaves less than half of
// that, though the set stays in the field.
func TestCornersOfTheOutermostRound(t *testing.T) {
	high := 110 * math.Tan(70*math.Pi/180)
	field := []plane.Polygon{{{{X: 0, Y: 0}, {X: 220, Y: 0}, {X: 110, Y: high}}}}
	leaves := func(degrees float64) float64 {
		theta := degrees * math.Pi / 180
		return (math.Tan(theta/2) - theta/2) * 81
	}
	most := leaves(140)/2 + 2*leaves(110)
	p, c := laid(t, field, mounted(6), Options{Speed: 8, Rounds: 2})
	if c.Missed > most || len(c.Infeasible) > 0 || c.Stretches < 4 {
		t.Errorf("missed %.1f m² in %d stretches, %d moves do not fit: want less than %.1f m² and all of them", c.Missed, c.Stretches, len(c.Infeasible), most)
	}
	checkWays(t, p)
}
