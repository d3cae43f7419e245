package rework

import (
	"context"
	"slices"
)

const (
	// nearLinks is how many of the cheapest ways from and to each end of a pass are tried as links of the tour. Shortest tours
	// hardly ever have others (from memory: five to ten serve).
	nearLinks = 10
	// swapUpTo: stretches of up to so many passes are swapped to shake a tour that nothing shortens, and mostRounds is how often
	// that goes all the way round it while it helps: nearly all is gained in the first of them (tried on scattered passes).
	swapUpTo   = 30
	mostRounds = 12
)

// searcher shortens a tour by links to near passes only, so that a step costs about the same however many passes there are.
type searcher struct {
	d     distances
	t     tour
	place []int32   // of a pass in t, −1: not in it
	there []float64 // the way to place i from the place before it, and behind the last to the gate
	back  []float64 // the same way driven from the other end: from t[i]^1 to t[i−1]^1; 0 next to the gate
	sumT  []float64 // of there over the places before i
	sumB  []float64 // of back
	next  [][]int32 // by directed pass, and by the gate: the directed passes nearest behind it, the gate never
	prev  [][]int32 // nearest before it
	look  []int32   // passes whose surroundings have changed, the first in first
	told  []bool    // by pass: it is in look
	spare tour      // for moves
}

func newSearcher(d distances, passes []int) *searcher {
	s := &searcher{d: d, place: make([]int32, d.n/2), told: make([]bool, d.n/2), next: make([][]int32, d.n+1), prev: make([][]int32, d.n+1)}
	var all []int
	for _, k := range passes {
		all = append(all, 2*k, 2*k+1)
	}
	type link struct {
		to   int32
		cost float64
	}
	var links [nearLinks]link
	nearest := func(a int, cost func(b int) float64) (out []int32) {
		n := 0
		for _, b := range all {
			if b/2 == a/2 && a != d.n {
				continue
			}
			c := cost(b)
			if n == nearLinks && c >= links[n-1].cost {
				continue
			}
			if n < nearLinks {
				n++
			}
			k := n - 1
			for ; k > 0 && links[k-1].cost > c; k-- {
				links[k] = links[k-1]
			}
			links[k] = link{int32(b), c}
		}
		for _, l := range links[:n] {
			out = append(out, l.to)
		}
		return out
	}
	for _, a := range append(slices.Clone(all), d.n) {
		s.next[a] = nearest(a, func(b int) float64 { return d.between(a, b) })
		s.prev[a] = nearest(a, func(b int) float64 { return d.between(b, a) })
	}
	return s
}

// begin takes over a tour.
func (s *searcher) begin(t tour) {
	n := len(t)
	s.t = slices.Clone(t)
	s.there, s.back = make([]float64, n+1), make([]float64, n+1)
	s.sumT, s.sumB = make([]float64, n+2), make([]float64, n+2)
	for i := range s.place {
		s.place[i] = -1
	}
	s.renew(0, n)
	for _, k := range t {
		s.tell(k)
	}
}

// at is what the tour has at place i, the gate before and behind it.
func (s *searcher) at(i int) int {
	if i < 0 || i >= len(s.t) {
		return s.d.n
	}
	return s.t[i]
}

// renew works out places and ways from place i to that before k, the way to k and all sums.
func (s *searcher) renew(i, k int) {
	n := len(s.t)
	for p := i; p < min(k, n); p++ {
		s.place[s.t[p]/2] = int32(p)
	}
	for p := i; p <= min(k, n); p++ {
		s.there[p], s.back[p] = s.d.between(s.at(p-1), s.at(p)), 0
		if p > 0 && p < n {
			s.back[p] = s.d.between(s.t[p]^1, s.t[p-1]^1)
		}
	}
	for p := i; p <= n; p++ {
		s.sumT[p+1], s.sumB[p+1] = s.sumT[p]+s.there[p], s.sumB[p]+s.back[p]
	}
}

func (s *searcher) cost() float64 { return s.sumT[len(s.t)+1] }

// tell puts a pass among those to look at.
func (s *searcher) tell(k int) {
	if k != s.d.n && !s.told[k/2] {
		s.told[k/2] = true
		s.look = append(s.look, int32(k/2))
	}
}

// settle shortens the tour until no link between a pass on the list and one near it does. Passes inside a stretch that is turned
// round are not put on the list, so now and then one of their links would still shorten the tour.
func (s *searcher) settle() {
	for len(s.look) > 0 {
		k := s.look[0]
		s.look = s.look[1:]
		s.told[k] = false
		for s.place[k] >= 0 && s.better(int(s.place[k])) {
		}
	}
}

// better makes the first change found around place i that shortens the tour.
func (s *searcher) better(i int) bool {
	return s.turnFrom(i) || s.turnTo(i) || s.turnAtGate(i) || s.move(i)
}

// inner is what driving the stretch i … k costs inside, as it is and turned round.
func (s *searcher) inner(i, k int) (there, back float64) {
	return s.sumT[k+1] - s.sumT[i+1], s.sumB[k+1] - s.sumB[i+1]
}

// turn turns the stretch i … k round if that shortens the tour.
func (s *searcher) turn(i, k int) bool {
	if i > k {
		return false
	}
	there, back := s.inner(i, k)
	a, b := s.at(i-1), s.at(k+1)
	if s.d.between(a, s.t[k]^1)+back+s.d.between(s.t[i]^1, b) >= s.there[i]+there+s.there[k+1]-touch {
		return false
	}
	for _, e := range []int{a, s.t[i], s.t[k], b} {
		s.tell(e)
	}
	turnRound(s.t[i : k+1])
	s.renew(i, k+1)
	return true
}

// turnFrom turns stretches that begin behind place i, so that one of its near passes comes next.
func (s *searcher) turnFrom(i int) bool {
	for _, c := range s.next[s.t[i]] {
		if k := int(s.place[c/2]); s.t[k] == int(c)^1 && s.turn(i+1, k) {
			return true
		}
	}
	return false
}

// turnTo turns stretches that end before place i.
func (s *searcher) turnTo(i int) bool {
	for _, c := range s.prev[s.t[i]] {
		if k := int(s.place[c/2]); s.t[k] == int(c)^1 && s.turn(k, i-1) {
			return true
		}
	}
	return false
}

// turnAtGate turns the way from the gate to place i, or from there to the gate, or the pass there.
func (s *searcher) turnAtGate(i int) bool {
	return s.turn(i, i) || s.turn(0, i) || s.turn(i, len(s.t)-1)
}

// move moves a stretch of up to longestMoved passes that begins or ends at place i, either way round, to where one of its
// ends has a near pass or the gate beside it.
func (s *searcher) move(i int) bool {
	for l := 1; l <= min(longestMoved, len(s.t)-1); l++ {
		for _, from := range [2]int{i, i - l + 1} {
			to := from + l - 1
			if from < 0 || to >= len(s.t) || l == 1 && from != i {
				continue
			}
			if s.moveStretch(from, to) {
				return true
			}
			if l == 1 {
				break
			}
		}
	}
	return false
}

func (s *searcher) moveStretch(i, k int) bool {
	there, back := s.inner(i, k)
	a, b := s.at(i-1), s.at(k+1)
	gain := s.there[i] + there + s.there[k+1] - s.d.between(a, b) - touch
	try := func(p int, turned bool) bool { // between places p − 1 and p
		if p >= i && p <= k+1 {
			return false // where it is
		}
		first, last, own := s.t[i], s.t[k], there
		if turned {
			first, last, own = last^1, first^1, back
		}
		if s.d.between(s.at(p-1), first)+own+s.d.between(last, s.at(p))-s.there[p] >= gain {
			return false
		}
		for _, e := range []int{a, b, first, last, s.at(p - 1), s.at(p)} {
			s.tell(e)
		}
		if turned {
			turnRound(s.t[i : k+1])
		}
		s.shift(i, k, p)
		return true
	}
	if gain <= 0 {
		return false
	}
	for _, turned := range [2]bool{false, true} {
		first, last := s.t[i], s.t[k]
		if turned {
			first, last = last^1, first^1
		}
		if try(0, turned) || try(len(s.t), turned) {
			return true
		}
		for _, c := range s.prev[first] {
			if p := int(s.place[c/2]); s.t[p] == int(c) && try(p+1, turned) {
				return true
			}
		}
		for _, c := range s.next[last] {
			if p := int(s.place[c/2]); s.t[p] == int(c) && try(p, turned) {
				return true
			}
		}
	}
	return false
}

// shift puts the stretch i … k between places p − 1 and p.
func (s *searcher) shift(i, k, p int) {
	s.spare = append(s.spare[:0], s.t[i:k+1]...)
	l := k + 1 - i
	if p < i {
		copy(s.t[p+l:], s.t[p:i])
		copy(s.t[p:], s.spare)
		s.renew(p, k+1)
		return
	}
	copy(s.t[i:], s.t[k+1:p])
	copy(s.t[p-l:], s.spare)
	s.renew(i, p)
}

// shake swaps neighbouring stretches, place after place, of lengths that change from one place to the next, and keeps what is
// shorter after settling. Neither turning nor moving undoes such a swap at once (Martin, Otto & Felten 1991).
func (s *searcher) shake(ctx context.Context) error {
	n := len(s.t)
	if n < 3 {
		return nil
	}
	best, least := slices.Clone(s.t), s.cost()
	long := func(k int) int { return 1 + k%min(swapUpTo, n/2) }
	for round, helped := 0, true; helped && round < mostRounds; round++ {
		helped = false
		for i := range n {
			if err := ctx.Err(); err != nil {
				return err
			}
			k := (i + round*n) * 7919 // a prime: one goes through all lengths, two along with it at its own pace
			one, two := long(k), long(k/swapUpTo+round)
			if i+one+two > n {
				continue
			}
			for _, e := range []int{s.at(i - 1), s.at(i), s.at(i + one - 1), s.at(i + one), s.at(i + one + two - 1), s.at(i + one + two)} {
				s.tell(e)
			}
			s.shift(i, i+one-1, i+one+two)
			s.settle()
			if c := s.cost(); c < least-touch {
				least, helped = c, true
				copy(best, s.t)
			} else {
				s.restore(best)
			}
		}
	}
	return nil
}

// restore goes back to a tour of the same passes.
func (s *searcher) restore(t tour) {
	from, to := 0, len(t)
	for from < to && s.t[from] == t[from] {
		from++
	}
	for to > from && s.t[to-1] == t[to-1] {
		to--
	}
	copy(s.t[from:to], t[from:to])
	s.renew(from, to)
}
