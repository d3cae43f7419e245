package plane

import (
	"cmp"
	"math"
	"slices"
	"sync"
	"sync/atomic"
)

const (
	// asShort: lines whose lengths differ by less are as short, m: far above rounding.
	asShort = 1e-6
	// bentBack is the sine of the angle by which a line must bend to the wrong side at a corner before it is known to be longer than
	// another: a hundred times as much as rounding of corners that lie in one line, and little beside the angles of corners.
	bentBack = 0.01
	// cornersPerBox: so many corners share a box.
	cornersPerBox = 8
	// cornersAsked: of so many corners it is kept which of them see each other, 4 MB at most.
	cornersAsked = 1 << 12
)

// Corner is a place where a shortest line may bend, and the rim there: it comes from Before and goes on to After, open ground on its
// left. Where these are At itself, nothing is known of the rim.
type Corner struct{ At, Before, After XY }

// Bare is a corner of whose rim nothing is known.
func Bare(at XY) Corner { return Corner{at, at, at} }

// Detours are the shortest lines past corners. Its properties:
//
//  1. Way bends at corners only, and its straights are all open, as sees says of two places.
//  2. No line of that kind is shorter, by asShort or more for each of its bends. Of lines as short the one over earlier corners counts.
//  3. The rims at corners change no length by more than that where sees keeps out what is behind a rim: they only spare looking.
//
// It is the shortest path in the graph of corners that see each other, found by A* with the straight to the end as the least that is left
// (Hart, Nilsson & Raphael 1968, from memory). The graph is made as far as it is needed:
//
//   - Corners lie in a tree of boxes. No line by way of a corner of a box is shorter than that to the box and on to the end, so that
//     most boxes are never opened. Whether a straight is open is asked only when it would be driven next.
//   - A shortest line is taut: at a corner it bends round what is behind the rim. A straight that reaches a corner between the two sides
//     of its rim would have to bend to the wrong side, and one that leaves it does so between straight on and along the rim (the reduced
//     visibility graph; Latombe 1991, from memory).
type Detours struct {
	corners []rimmed
	order   []int32      // of corners, box by box
	boxes   []cornersBox // boxes[0] holds them all
	sees    func(a, b XY) bool
	// seen are two bits for each corner and each that may be seen from it: whether it was asked, and what sees said. Many may ask at once. Nil: there are more than cornersAsked.
	seen []atomic.Uint32
	once sync.Once
}

// rimmed is a corner with the directions of its rim, of length 1 or 0, both away from it.
type rimmed struct {
	at            XY
	before, after XY
}

type cornersBox struct {
	box      Box
	from, to int32 // in order
	halves   int32 // the first of the two boxes in it; 0: none
}

// NewDetours takes corners, the earlier ones to be taken where two do as well, and whether the straight between two places is open.
func NewDetours(corners []Corner, sees func(a, b XY) bool) *Detours {
	d := &Detours{sees: sees, corners: make([]rimmed, len(corners)), order: make([]int32, len(corners))}
	away := func(from, to XY) XY {
		if from == to {
			return XY{}
		}
		return to.Sub(from).Unit()
	}
	for k, c := range corners {
		d.corners[k], d.order[k] = rimmed{c.At, away(c.At, c.Before), away(c.At, c.After)}, int32(k)
	}
	if len(corners) > 0 {
		d.boxes = append(d.boxes, cornersBox{from: 0, to: int32(len(corners))})
		d.halve(0)
	}
	return d
}

// halve shares the corners of a box out among two, across its longer side.
func (d *Detours) halve(i int32) {
	b := &d.boxes[i]
	b.box = EmptyBox()
	of := d.order[b.from:b.to]
	for _, k := range of {
		b.box = b.box.Extend(d.corners[k].at)
	}
	if len(of) <= cornersPerBox {
		return
	}
	across := func(p XY) float64 { return p.X }
	if size := b.box.Max.Sub(b.box.Min); size.Y > size.X {
		across = func(p XY) float64 { return p.Y }
	}
	slices.SortFunc(of, func(a, b int32) int {
		return cmp.Or(cmp.Compare(across(d.corners[a].at), across(d.corners[b].at)), cmp.Compare(a, b))
	})
	half, first := b.from+int32(len(of)/2), int32(len(d.boxes))
	b.halves = first
	d.boxes = append(d.boxes, cornersBox{from: b.from, to: half}, cornersBox{from: half, to: b.to})
	d.halve(first)
	d.halve(first + 1)
}

// Way is the shortest line from a to b; nil: there is none.
func (d *Detours) Way(a, b XY) []XY {
	if d.sees(a, b) {
		return []XY{a, b}
	}
	if d.hidden(b) { // else all corners would be driven to in vain
		return nil
	}
	s := detour{Detours: d, end: b, reached: map[int32]int32{}}
	s.leave(source{at: a, corner: fromStart})
	for len(s.untried) > 0 {
		next := s.untried.pop()
		from := &s.known[next.from]
		switch {
		case next.corner < 0:
			s.open(next)
			continue
		case int(next.corner) == len(d.corners):
			if d.sees(from.at, b) {
				return s.line(next.from)
			}
			continue
		}
		to := &d.corners[next.corner]
		if _, known := s.reached[next.corner]; !known && d.sight(from, next.corner) {
			s.reached[next.corner] = next.from
			s.leave(from.on(to, next.corner))
		}
	}
	return nil
}

// hidden says whether no corner sees p. Those near it are asked first.
func (d *Detours) hidden(p XY) bool {
	s := detour{Detours: d, end: p}
	s.leave(source{at: p, corner: fromStart})
	for len(s.untried) > 0 {
		if next := s.untried.pop(); next.corner < 0 {
			s.open(next)
		} else if d.sees(d.corners[next.corner].at, p) {
			return false
		}
	}
	return true
}

// sight says whether the straight from a source to a corner is open. Of two corners that is asked once.
func (d *Detours) sight(from *source, to int32) bool {
	n := len(d.corners)
	if from.corner == fromStart || n > cornersAsked {
		return d.sees(from.at, d.corners[to].at)
	}
	d.once.Do(func() { d.seen = make([]atomic.Uint32, n*n/pairsPerWord+1) })
	pair := int(from.corner)*n + int(to)
	word, at := &d.seen[pair/pairsPerWord], 2*(pair%pairsPerWord)
	if said := word.Load() >> at; said&asked != 0 {
		return said&yes != 0
	}
	bits := uint32(asked)
	is := d.sees(from.at, d.corners[to].at)
	if is {
		bits |= yes
	}
	word.Or(bits << at)
	return is
}

const (
	asked, yes   = 1, 2
	pairsPerWord = 16
)

const fromStart = -1

// source is a place to which the shortest line is known.
type source struct {
	at     XY
	corner int32   // fromStart: none
	driven float64 // m, from the start
	past   [2]XY   // across the two ends of the directions in which a line may go on, outwards
}

// on is the source at a corner that is reached straight from s.
func (s *source) on(to *rimmed, corner int32) source {
	in := to.at.Sub(s.at)
	next := source{at: to.at, corner: corner, driven: s.driven + s.at.Dist(to.at)}
	if most := bentBack * in.Len(); most > 0 {
		before, after := in.Cross(to.before), in.Cross(to.after)
		right, left := max(before, after) <= most, min(before, after) >= -most // what is behind the rim lies there
		in = in.Unit().Left()
		if right && !left {
			next.past = [2]XY{in, to.after.Left().Scale(-1)}
		} else if left && !right {
			next.past = [2]XY{in.Scale(-1), to.before.Left()}
		}
	}
	return next
}

// barred says which of the two ends of the directions in which a line may go on are passed on the way to p.
func (s *source) barred(p XY) (a, b bool) {
	w := p.Sub(s.at)
	most := bentBack * w.Len()
	return s.past[0].Dot(w) > most, s.past[1].Dot(w) > most
}

// detour is one search.
type detour struct {
	*Detours
	end     XY
	known   []source
	reached map[int32]int32 // corners, with the source before
	untried strides
}

// leave adds a source, and what may follow it.
func (s *detour) leave(from source) {
	n := int32(len(s.known))
	s.known = append(s.known, from)
	if len(s.boxes) > 0 {
		s.add(n, 0)
	}
	if from.corner != fromStart {
		s.corner(n, int32(len(s.corners)), s.end)
	}
}

// corner adds the straight from a source to a corner, or the end.
func (s *detour) corner(n, k int32, at XY) {
	from := &s.known[n]
	s.untried.push(stride{math.Round((from.driven + from.at.Dist(at) + at.Dist(s.end)) / asShort), k, n})
}

// add adds those from a source to the corners of a box, as one.
func (s *detour) add(n, i int32) {
	from, box := &s.known[n], s.boxes[i].box
	if from.past != [2]XY{} {
		var all [2]int
		corners := [4]XY{box.Min, {box.Max.X, box.Min.Y}, box.Max, {box.Min.X, box.Max.Y}}
		for _, p := range corners {
			a, b := from.barred(p)
			if a {
				all[0]++
			}
			if b {
				all[1]++
			}
		}
		if max(all[0], all[1]) == len(corners) {
			return
		}
	}
	least := from.driven + box.Dist(from.at) + box.Dist(s.end)
	s.untried.push(stride{math.Round(least * (1 - tied) / asShort), -1 - i, n})
}

// open adds what is in a box.
func (s *detour) open(next stride) {
	box := &s.boxes[-1-next.corner]
	if box.halves > 0 {
		s.add(next.from, box.halves)
		s.add(next.from, box.halves+1)
		return
	}
	from := &s.known[next.from]
	for _, k := range s.order[box.from:box.to] {
		if _, known := s.reached[k]; known {
			continue
		}
		to := &s.corners[k]
		if a, b := from.barred(to.at); a || b {
			continue
		}
		w := to.at.Sub(from.at)
		most := bentBack * w.Len()
		if before, after := w.Cross(to.before), w.Cross(to.after); max(before, after) > most && min(before, after) < -most {
			continue
		}
		s.corner(next.from, k, to.at)
	}
}

// line is that over a source to the end.
func (s *detour) line(n int32) []XY {
	line := []XY{s.end}
	for ; s.known[n].corner != fromStart; n = s.reached[s.known[n].corner] {
		line = append(line, s.known[n].at)
	}
	line = append(line, s.known[n].at)
	slices.Reverse(line)
	return line
}

// stride is a straight to a corner at the end of a line.
type stride struct {
	least  float64 // no line over it is shorter, in steps of asShort
	corner int32   // the number after the last one: the end; −1 and below: any of a box
	from   int32   // the source
}

// before says which of two is tried first: of boxes and corners that may be as near the box, of corners the earlier one, from the source that was known first.
func (s stride) before(t stride) bool {
	if s.least != t.least {
		return s.least < t.least
	}
	return s.corner < t.corner || s.corner == t.corner && s.from < t.from
}

// strides are a heap: none is before that of half its number.
type strides []stride

func (s *strides) push(one stride) {
	all := append(*s, one)
	i := len(all) - 1
	for i > 0 && one.before(all[(i-1)/2]) {
		all[i] = all[(i-1)/2]
		i = (i - 1) / 2
	}
	all[i], *s = one, all
}

// pop takes the first.
func (s *strides) pop() stride {
	all := *s
	first, last := all[0], all[len(all)-1]
	all = all[:len(all)-1]
	i := 0
	for {
		k := 2*i + 1
		if k >= len(all) {
			break
		}
		if k+1 < len(all) && all[k+1].before(all[k]) {
			k++
		}
		if !all[k].before(last) {
			break
		}
		all[i] = all[k]
		i = k
	}
	if len(all) > 0 {
		all[i] = last
	}
	*s = all
	return first
}
