package plan

import (
	"cmp"

	"balk/geo/plane"
)

const (
	// mostTried: a search that has tried so many different ways of the set, each driven with all its outline, begins no further step. The searches of
	// ordinary fields try 10,000 to 75,000, of 36 one 173,000; in a scribble one plan may take as many. Counted, not timed: the same call gives the same
	// plan on any machine.
	mostTried = 400_000
	// usualCorners: where a field has more, there are more ways to try and each is near to more of them: it counts so much more.
	usualCorners = 500
)

// halt is what stops a search before its end. It is asked between steps, and once it said so it stays so.
type halt struct {
	ask   func() bool // nil: never
	tried func() int  // ways so far; nil: nobody counts
	most  int         // of them
	said  bool
	spent bool // it was the ways that said so
}

// haltOf begins the time of a search.
func haltOf(o Options) *halt {
	if o.Stop == nil {
		return &halt{}
	}
	return &halt{ask: o.Stop()}
}

// count bounds the ways that are tried in a field.
func (h *halt) count(field []plane.Polygon, o Options, tried func() int) {
	corners := 0.0
	for _, p := range field {
		for _, r := range p {
			corners += float64(len(r))
		}
	}
	h.tried, h.most = tried, int(float64(cmp.Or(o.tried, mostTried))/max(1, corners/usualCorners))
}

func (h *halt) now() bool {
	switch {
	case h.said:
	case h.tried != nil && h.tried() > h.most:
		h.said, h.spent = true, true
	case h.ask != nil:
		h.said = h.ask()
	}
	return h.said
}
