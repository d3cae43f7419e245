package coverage

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// TestLeftOfStripsThatCameTogether: strips that a hairline parts are one piece of ground when swaths are laid otherwise, by the rounding of drawn ground, and each keeps what lies in it,
// wherever the widest place of all is: with few corners and many, and the other way round.
func TestLeftOfStripsThatCameTogether(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 0))
	// wavy is a strip from x 0 to 100 whose upper edge wavers by some centimetres.
	wavy := func(low, high float64, corners int) (plane.Polygon, float64) {
		ring := plane.Ring{{X: 0, Y: low}, {X: 100, Y: low}}
		for k := corners; k >= 0; k-- {
			ring = append(ring, plane.XY{X: 100 * float64(k) / float64(corners), Y: high + 0.05*rng.Float64()})
		}
		return plane.Polygon{ring}, plane.Polygon{ring}.Area()
	}
	for _, c := range []struct {
		name    string
		corners int
		reached float64 // m, of the upper strip that wider bars leave, from the east
	}{
		{"all is left", 8, 100},
		{"nearly all is left, of many corners", 800, 99},
		{"a part is left", 8, 30},
		{"a part is left, of many corners", 800, 30},
		{"less than a sliver is left of one", 8, 0.01},
	} {
		lower, below := wavy(0, 1, c.corners)
		upper := plane.Polygon{trial.Rectangle(0, 1.06, 100, 6)}
		aside, _ := wavy(20, 25, c.corners) // no part of it
		pieces, err := PiecesOf(t.Context(), trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 30)}}.Field().Local(), []plane.Polygon{lower, upper, aside}, 0, nil, 1)
		if err != nil {
			t.Fatal(err)
		}
		if len(pieces.Strips) != 3 {
			t.Fatalf("%s: %d strips", c.name, len(pieces.Strips))
		}
		// What is left of both, with the hairline between them.
		hair := plane.Polygon{trial.Rectangle(100-c.reached, 0.9, 100, 1.2)}
		rest := plane.Polygon{trial.Rectangle(100-c.reached, 1.06, 100, 6)}
		joined, err := plane.Union(t.Context(), []plane.Polygon{lower, hair}, []plane.Polygon{rest})
		if err != nil {
			t.Fatal(err)
		}
		if len(joined) != 1 {
			t.Fatalf("%s: %d pieces of ground: no test", c.name, len(joined))
		}
		left, err := pieces.Left(t.Context(), joined, 1)
		if err != nil {
			t.Fatal(err)
		}
		want := 4.94 * c.reached
		if c.reached < sliver {
			want = 0
		}
		for at, want := range map[plane.XY]float64{{X: 50, Y: 0.5}: below, {X: 50, Y: 3}: 494, {X: 50, Y: 10}: 0} {
			got := 0.0
			if k := pieces.places.at(at); k >= 0 {
				got = pieces.Strips[k].Area
			}
			trial.Near(t, c.name+": the strip at a place", got, want, 0.01)
		}
		for k, s := range pieces.Strips {
			switch {
			case math.Abs(s.Area-below) < 0.01:
				trial.Near(t, c.name+": below", left[k], below, 0.05)
			case math.Abs(s.Area-494) < 0.01:
				trial.Near(t, c.name+": above", left[k], want, 0.02)
			default:
				trial.Near(t, c.name+": aside", left[k], 0, 0)
			}
		}
	}
}
