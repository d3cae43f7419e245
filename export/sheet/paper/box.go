package paper

import (
	"math"

	"github.com/paulmach/orb"
)

// Box is an upright box on the page.
type Box struct{ X, Y, W, H float64 }

// Rect is the box with its upper left corner at x, y.
func Rect(x, y, w, h float64) Box { return Box{x, y, w, h} }

func (r Box) Bound() orb.Bound {
	return orb.Bound{Min: orb.Point{r.X, r.Y}, Max: orb.Point{r.X + r.W, r.Y + r.H}}
}

// Inset is r with so many mm taken off each side.
func (r Box) Inset(d float64) Box { return Box{r.X + d, r.Y + d, r.W - 2*d, r.H - 2*d} }

func (r Box) Meets(q Box) bool {
	return r.X < q.X+q.W && q.X < r.X+r.W && r.Y < q.Y+q.H && q.Y < r.Y+r.H
}

func (r Box) Within(q Box) bool {
	return r.X >= q.X && r.Y >= q.Y && r.X+r.W <= q.X+q.W && r.Y+r.H <= q.Y+q.H
}

// Path is the box as a ring.
func (r Box) Path() []orb.LineString {
	return []orb.LineString{{{r.X, r.Y}, {r.X + r.W, r.Y}, {r.X + r.W, r.Y + r.H}, {r.X, r.Y + r.H}, {r.X, r.Y}}}
}

// Ring is a circle as a many-sided line.
func Ring(at orb.Point, radius float64) orb.LineString {
	const sides = 24
	out := make(orb.LineString, sides+1)
	for i := range sides {
		s, c := math.Sincos(2 * math.Pi * float64(i) / sides)
		out[i] = orb.Point{at[0] + radius*c, at[1] + radius*s}
	}
	out[sides] = out[0]
	return out
}
