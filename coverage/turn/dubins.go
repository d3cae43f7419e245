package turn

import (
	"cmp"
	"math"
	"slices"
)

// piece is one letter of a word: which way it steers (+1 L, 0 S, −1 R) and how
// far it drives in least radii (for L and R that is radians), negative in reverse.
type piece struct{ steer, drive float64 }

// word is up to five letters, the longest that a shortest path needs.
type word struct {
	pieces [5]piece
	n      int
}

func (w word) length() float64 {
	var l float64
	for _, p := range w.pieces[:w.n] {
		l += math.Abs(p.drive)
	}
	return l
}

func (w word) path(from Pose, r float64, k Kind) Path {
	pieces := make([]Arc, 0, w.n)
	for _, p := range w.pieces[:w.n] {
		pieces = add(pieces, Arc{p.drive * r, p.steer / r, p.steer / r})
	}
	return Path{From: from, Pieces: pieces, Kind: k}
}

// goal is where a word must lead, in least radii, seen from a start in the origin
// that heads along x: ahead x, left y, turned by phi.
type goal struct{ x, y, phi float64 }

func seen(from, to Pose, r float64) goal {
	x, y, phi := from.sees(to)
	return goal{x / r, y / r, phi}
}

func (g goal) mirrored() goal { return goal{g.x, -g.y, -g.phi} }

// centres are the ways from the centre of the start's left circle to those of the
// goal's left and right circle, as length and direction.
func (g goal) centres() (toLeft, toRight way) {
	sin, cos := math.Sincos(g.phi)
	return wayOf(g.x-sin, g.y-1+cos), wayOf(g.x+sin, g.y-1-cos)
}

// way is a vector: its length in least radii and its direction, rad.
type way struct{ length, arg float64 }

func wayOf(x, y float64) way { return way{math.Hypot(x, y), math.Atan2(y, x)} }

// Noise that the words are freed of, in least radii or rad. Taking it away moves
// the end of a path by less than a tenth of Exact.
const (
	// touching: circles that miss each other, or lie apart, by less touch or are the same.
	touching = 2e-13
	// An arc that lacks less than wholeTurn/(1 + u) + rounding of a whole turn is none at all, u being
	// the straight whose direction it gives; rounding is what angles are good for at best.
	wholeTurn = 1e-13
	rounding  = 4e-15
)

// arc brings an angle to 0 ≤ a < 2π, where u is how far the path drives straight after it.
func arc(a, u float64) float64 {
	for a < 0 {
		a += 2 * math.Pi
	}
	for a >= 2*math.Pi {
		a -= 2 * math.Pi
	}
	if a > 2*math.Pi-rounding-wholeTurn/(1+u) {
		return 0
	}
	return a
}

// Dubins is the shortest path from pose to pose that drives forward only and
// nowhere bends tighter than r (m). It always exists: an arc, a straight and an arc, or three arcs
// (Dubins 1957, Amer. J. Math. 79(3), 497-516). Both ends may head anywhere.
// Errors: a pose or r outside the limits of Validate.
func Dubins(from, to Pose, r float64) (Path, error) {
	if err := wayFault(from, to, r); err != nil {
		return Path{}, err
	}
	var best word
	shortest := math.Inf(1)
	forwardWords(seen(from, to, r), func(w word) {
		if l := w.length(); l < shortest {
			best, shortest = w, l
		}
	})
	return best.path(from, r, Forward), nil
}

// forwardWords calls f with the words LSL, LSR, LRL, RSR, RSL, RLR that lead to g.
func forwardWords(g goal, f func(word)) {
	forwardLeft(g, 1, f)
	forwardLeft(g.mirrored(), -1, f)
}

// forwardLeft calls f with the three words that begin to the left; steer −1 swaps
// left and right in them, for the mirrored goal.
//
// With v the way between the circles' centres and e^{it} the heading after the first arc t:
// LSL: v = u·e^{it}. LSR: v = (u − 2i)·e^{it}. LRL: v = 4 sin(u/2)·e^{i(t − u/2)}. The middle arc of LRL must be
// above π (Dubins 1957): with the one below π another word is shorter.
func forwardLeft(g goal, steer float64, f func(word)) {
	l, r := g.centres()
	if u := l.length; u < touching {
		f(word{[5]piece{{steer, arc(g.phi, 0)}}, 3})
	} else {
		t := arc(l.arg, u)
		f(word{[5]piece{{steer, t}, {0, u}, {steer, arc(g.phi-t, u)}}, 3})
	}
	if u, ok := tangent(r.length); ok {
		t := arc(r.arg+math.Atan2(2, u), u)
		f(word{[5]piece{{steer, t}, {0, u}, {-steer, arc(t-g.phi, u)}}, 3})
	}
	if half := l.length / 4; half <= 1+touching {
		u := 2*math.Pi - 2*math.Asin(math.Min(1, half))
		t := arc(l.arg+u/2, 0)
		f(word{[5]piece{{steer, t}, {-steer, u}, {steer, arc(g.phi-t+u, 0)}}, 3})
	}
}

// tangent is √(d² − 4), the straight between two circles that it crosses over
// between, d apart; false where they overlap.
func tangent(d float64) (float64, bool) {
	if d < 2-touching {
		return 0, false
	}
	return math.Sqrt(math.Max(0, (d-2)*(d+2))), true
}

// words are those of a kind, Forward or Reversing, that lead from pose to pose and are longer than the shortest by slack (m)
// at most.
func (k Kind) words(from, to Pose, r, slack float64) ([]word, error) {
	if err := wayFault(from, to, r); err != nil {
		return nil, err
	}
	g, limit := seen(from, to, r), math.Inf(1)
	var words []word
	take := func(w word) {
		if l := w.length(); l <= limit {
			limit = math.Min(limit, l+slack/r)
			words = append(words, w)
		}
	}
	if k == Reversing {
		reversingWords(g, &limit, take)
	} else {
		forwardWords(g, take)
	}
	return slices.DeleteFunc(words, func(w word) bool { return w.length() > limit }), nil
}

// drawn are the paths of words.
func (k Kind) drawn(words []word, from Pose, r float64) []Path {
	paths := make([]Path, len(words))
	for i, w := range words {
		paths[i] = w.path(from, r, k)
	}
	return paths
}

// unlike are some paths without those that come to the same as one before them.
func unlike(paths []Path, same func(a, b Path) bool) []Path {
	var told []Path
	for _, p := range paths {
		if !slices.ContainsFunc(told, func(o Path) bool { return same(o, p) }) {
			told = append(told, p)
		}
	}
	return told
}

// Words are all paths of the words of Dubins, or with reversing all of Reeds &
// Shepp, that lead from pose to pose, the shortest first: where the shortest does not fit into the
// field another may. Of words that come to the same path, as where a piece has no length, one is given.
// Errors as Dubins.
func Words(from, to Pose, r float64, reversing bool) ([]Path, error) {
	kind := Forward
	if reversing {
		kind = Reversing
	}
	words, err := kind.words(from, to, r, math.Inf(1))
	all := kind.drawn(words, from, r)
	slices.SortStableFunc(all, func(a, b Path) int { return cmp.Compare(a.Length(), b.Length()) })
	return unlike(all, func(a, b Path) bool { return math.Abs(a.Length()-b.Length()) <= Exact && a.Word() == b.Word() }), err
}

// sameLength: ways that differ by less are equally long to anyone who drives or marks them, m. Rounding of a
// boundary's coordinates must not decide which of two such ways is taken.
const sameLength = 0.01

// shortest are all paths that are as short as the shortest within sameLength, the shortest first: often there
// are two, one into the headland and one beside it. Errors as Dubins.
func (k Kind) shortest(from, to Pose, r float64) ([]Path, error) {
	words, err := k.words(from, to, r, sameLength)
	slices.SortStableFunc(words, func(a, b word) int { return cmp.Compare(a.length(), b.length()) })
	return unlike(k.drawn(words, from, r), func(a, b Path) bool { return slices.EqualFunc(a.Pieces, b.Pieces, sameArc) }), err
}

func sameArc(a, b Arc) bool {
	return math.Abs(a.Length-b.Length) <= Exact && a.From == b.From && a.To == b.To
}
