package turn

import (
	"math"

	"balk/geo"
)

// Extent is how far p reaches in a direction, m from its start: its least and
// its most. Whatever runs square to the direction is found in closed form (θ is
// quadratic in s), so both are as exact as the path itself.
func (p Path) Extent(towards geo.Heading) (least, most float64) {
	// Turn the start so that the direction is "ahead" of a pose in the origin.
	at := Pose{Heading: p.From.Heading - towards}
	for _, a := range p.Pieces {
		for _, part := range a.oneWay() {
			part.square(float64(at.Heading), func(s float64) {
				x := at.Moved(part.first(s).travel()).At.X
				least, most = math.Min(least, x), math.Max(most, x)
			})
			at = at.Moved(part.travel())
			least, most = math.Min(least, at.At.X), math.Max(most, at.At.X)
		}
	}
	return least, most
}

// Depth is how far p reaches ahead of its start, m: the room a turn needs beyond
// the row end.
func (p Path) Depth() float64 {
	_, most := p.Extent(p.From.Heading)
	return most
}

// oneWay cuts a where its curvature changes sign.
func (a Arc) oneWay() []Arc {
	if !(a.From*a.To < 0) {
		return []Arc{a}
	}
	zero := a.Length * (a.From / (a.From - a.To))
	return []Arc{{Length: zero, From: a.From}, {Length: a.Length - zero, To: a.To}}
}

// square calls f with the distances driven at which a piece that bends one way
// only, starting at the heading, runs square to "ahead" (the heading 0).
func (a Arc) square(heading float64, f func(s float64)) {
	_, _, turn := a.travel()
	if turn == 0 || math.IsNaN(turn) || math.IsNaN(heading) {
		return
	}
	way := math.Copysign(1, turn)
	// Distances to the left and right are treated alike: all angles as seen along the turn.
	k, change := math.Abs(a.From), (math.Abs(a.To)-math.Abs(a.From))/math.Abs(a.Length)
	start := way * heading
	// The first heading π/2 + nπ at or beyond the start.
	for n := math.Ceil((start - math.Pi/2) / math.Pi); ; n++ {
		ahead := math.Pi/2 + n*math.Pi - start
		if ahead > math.Abs(turn) {
			return
		}
		// k·s + change·s²/2 = ahead, in the form that does not cancel. Where the
		// curvature goes down to 0 rounding may take the root just below 0.
		root := math.Sqrt(math.Max(0, k*k+2*change*ahead))
		if s := 2 * ahead / (k + root); s >= 0 {
			f(s)
		}
	}
}
