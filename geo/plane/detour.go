package plane

import (
	"math"
	"slices"
)

// asShort: lines whose lengths differ by less are as short, m: far above rounding.
const asShort = 1e-6

// Detour is the shortest line from a to b that bends at corners only and whose straights are all open, as sees says of two places;
// nil: there is none. Of lines as short the one over earlier corners counts.
//
// It is the shortest path in the graph of corners that see each other, found by A* with the straight to b as the least that is left
// (Hart, Nilsson & Raphael 1968, from memory). Whether a straight is open is asked only when it would be driven next, so that
// far corners cost nothing but a distance.
func Detour(a, b XY, corners []XY, sees func(a, b XY) bool) []XY {
	if sees(a, b) {
		return []XY{a, b}
	}
	const start = -1
	places := append(slices.Clone(corners), b)
	goal := len(corners)
	reached := make([]int, len(places)) // the place before, once the shortest line to one is known
	known := make([]bool, len(places))
	untried := make([]strides, len(places)) // to each place
	leave := func(from int, at XY, driven float64) {
		for k, to := range places {
			if !known[k] && !(from == start && k == goal) {
				next := driven + at.Dist(to)
				untried[k].add(stride{from, next, math.Round((next + to.Dist(b)) / asShort)})
			}
		}
	}
	leave(start, a, 0)
	for !known[goal] {
		to, next := -1, stride{least: math.Inf(1)}
		for k := range untried {
			if one := &untried[k]; len(one.list) > 0 && !known[k] && one.list[one.best].least < next.least {
				to, next = k, one.list[one.best]
			}
		}
		if to < 0 {
			return nil
		}
		untried[to].drop()
		at := a
		if next.from != start {
			at = places[next.from]
		}
		if sees(at, places[to]) {
			reached[to], known[to] = next.from, true
			leave(to, places[to], next.driven)
		}
	}
	var line []XY
	for k := goal; k != start; k = reached[k] {
		line = append(line, places[k])
	}
	line = append(line, a)
	slices.Reverse(line)
	return line
}

// stride is a straight to a place, at the end of a line.
type stride struct {
	from   int     // the place where it begins
	driven float64 // m, from the start of the line to the end of the straight
	least  float64 // no line over it is shorter, in steps of asShort
}

// strides are those to one place, in the order in which they were found, and which of them may lead to the shortest line.
type strides struct {
	list []stride
	best int // of several the first
}

func (s *strides) add(one stride) {
	if s.list = append(s.list, one); one.least < s.list[s.best].least {
		s.best = len(s.list) - 1
	}
}

// drop leaves out the best.
func (s *strides) drop() {
	s.list, s.best = slices.Delete(s.list, s.best, s.best+1), 0
	for i, one := range s.list {
		if one.least < s.list[s.best].least {
			s.best = i
		}
	}
}
