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
	// that goes all the way round it while it helps: nearly all is gained in the first of them (tried on scattered passes). In
	// long tours it goes round less often, so that about mostSwaps swaps are tried.
	swapUpTo   = 30
	mostRounds = 12
	mostSwaps  = 20000
)

// searcher shortens a tour by links to near passes only, so that a step costs about the same however many passes there are.
type searcher struct {
	d     distances
	t     tour
	place []int32   // of a pass in t, −1: not in it
	there []float64 // the way to place i from the place before it, and behind the last to the gate
	back  []float64 // the same way driven from the other end: from t[i]^1 to t[i−1]^1; 0 next to the gate
	sumT  []float64 // of there, by blocks of places
	sumB  []float64 // of back
	from  int       // places from … to−1, and the way to the latter, have changed since they were kept
	to    int
	next  []nearest // by directed pass, and by the gate: the directed passes nearest behind it, the gate never
	prev  []nearest // nearest before it
	look  []int32   // passes whose surroundings have changed, the first in first
	told  []bool    // by pass: it is in look
	spare []int     // for moves
	ways  []float64
}

// block is how many places are summed together, so that a step costs no more for a tour of many.
const block = 64

// mostTurned is how many passes are turned round at once in a long tour. The longest stretches help least and cost most (Johnson &
// McGeoch 1997, from memory, who find a bound of 50 in a thousand harmless).
const mostTurned = 1000

// near is a way that a tour may have.
type near struct {
	to   int32
	cost float64
}

// nearest keeps the nearLinks cheapest ways of those put into it, of ways that cost the same the first.
type nearest []near

func (l *nearest) put(to int, cost float64) {
	n := len(*l)
	if n == nearLinks && cost >= (*l)[n-1].cost {
		return
	}
	if n < nearLinks {
		*l = append(*l, near{})
		n++
	}
	k := n - 1
	for ; k > 0 && (*l)[k-1].cost > cost; k-- {
		(*l)[k] = (*l)[k-1]
	}
	(*l)[k] = near{int32(to), cost}
}

func newSearcher(d distances, passes []int) *searcher {
	s := &searcher{d: d, place: make([]int32, d.n/2), told: make([]bool, d.n/2), next: make([]nearest, d.n+1), prev: make([]nearest, d.n+1)}
	all, in := []int{}, make([]bool, d.n/2)
	for _, k := range passes {
		all, in[k] = append(all, 2*k, 2*k+1), true
	}
	try := func(a, b int) {
		if b != d.n && in[b/2] && a/2 != b/2 {
			c := d.between(a, b)
			s.next[a].put(b, c)
			s.prev[b].put(a, c)
		}
	}
	for _, a := range all {
		d.ahead(a, all, func(b int) { try(a, b) })
		s.next[d.n].put(a, d.between(d.n, a))
		s.prev[d.n].put(a, d.between(a, d.n))
	}
	return s
}

// put keeps a way that costs other than it did.
func (s *searcher) put(a, b int, e errand) {
	s.d.put(a, b, e)
	for k := range s.next[a] {
		if l := &s.next[a][k]; int(l.to) == b {
			l.cost = e.cost
		}
	}
	for k := range s.prev[b] {
		if l := &s.prev[b][k]; int(l.to) == a {
			l.cost = e.cost
		}
	}
	for _, x := range [2]int{a, b} { // it is at one of these places, or behind it when driven from the other end
		if x == s.d.n {
			continue
		}
		p := int(s.place[x/2])
		s.renew(p, p+1)
		s.tell(x)
	}
}

// begin takes over a tour.
func (s *searcher) begin(t tour) {
	n := len(t)
	s.t = slices.Clone(t)
	s.there, s.back = make([]float64, n+1), make([]float64, n+1)
	s.sumT, s.sumB = make([]float64, n/block+1), make([]float64, n/block+1)
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

// renew works out places and ways from place i to that before k, and the way to k.
func (s *searcher) renew(i, k int) {
	for p := i; p <= min(k, len(s.t)); p++ {
		s.way(p)
	}
	s.moved(i, k)
}

// way works out the way to place p.
func (s *searcher) way(p int) {
	s.there[p], s.back[p] = s.d.between(s.at(p-1), s.at(p)), 0
	if p > 0 && p < len(s.t) {
		s.back[p] = s.d.between(s.t[p]^1, s.t[p-1]^1)
	}
}

// moved notes that places i … k−1, and the way to k, are others than before.
func (s *searcher) moved(i, k int) {
	n := len(s.t)
	k = min(k, n)
	for p := i; p < k; p++ {
		s.place[s.t[p]/2] = int32(p)
	}
	for b := i / block; b <= k/block; b++ {
		s.sumT[b], s.sumB[b] = s.sum(b*block, min(b*block+block, n+1))
	}
	s.from, s.to = min(s.from, i), max(s.to, k)
}

// sum is what the ways to places i … k−1 cost, there and back.
func (s *searcher) sum(i, k int) (there, back float64) {
	for p := i; p < k; p++ {
		there, back = there+s.there[p], back+s.back[p]
	}
	return there, back
}

func (s *searcher) cost() (sum float64) {
	for _, c := range s.sumT {
		sum += c
	}
	return sum
}

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
	from, to := i/block+1, (k+1)/block // whole blocks between
	if from >= to {
		return s.sum(i+1, k+1)
	}
	there, back = s.sum(i+1, from*block)
	for b := from; b < to; b++ {
		there, back = there+s.sumT[b], back+s.sumB[b]
	}
	t, u := s.sum(to*block, k+1)
	return there + t, back + u
}

// turn turns the stretch i … k round if that shortens the tour.
func (s *searcher) turn(i, k int) bool {
	if i > k || k-i >= mostTurned {
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
	s.turned(i, k)
	s.way(i)
	s.way(k + 1)
	s.moved(i, k+1)
	return true
}

// turnFrom turns stretches that begin behind place i, so that one of its near passes comes next.
func (s *searcher) turnFrom(i int) bool {
	for _, c := range s.next[s.t[i]] {
		if k := int(s.place[c.to/2]); s.t[k] == int(c.to)^1 && s.turn(i+1, k) {
			return true
		}
	}
	return false
}

// turnTo turns stretches that end before place i.
func (s *searcher) turnTo(i int) bool {
	for _, c := range s.prev[s.t[i]] {
		if k := int(s.place[c.to/2]); s.t[k] == int(c.to)^1 && s.turn(k, i-1) {
			return true
		}
	}
	return false
}

// turnAtGate turns the way from the gate to place i, or from there to the gate, or the pass there.
func (s *searcher) turnAtGate(i int) bool {
	return s.turn(i, i) || s.nearGate(s.next, s.t[i]^1) && s.turn(0, i) || s.nearGate(s.prev, s.t[i]^1) && s.turn(i, len(s.t)-1)
}

// nearGate says whether an end of a pass is so near to the gate that a way between both is tried; in a short tour any is.
func (s *searcher) nearGate(links []nearest, a int) bool {
	return len(s.t) <= thoroughUpTo || slices.ContainsFunc(links[s.d.n], func(l near) bool { return int(l.to) == a })
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
	if gain <= 0 {
		return false
	}
	for _, turned := range [2]bool{false, true} {
		first, last, own := s.t[i], s.t[k], there
		if turned {
			first, last, own = last^1, first^1, back
		}
		const open = -1                              // a way not looked up yet
		try := func(p int, into, out float64) bool { // between places p − 1 and p
			if p >= i && p <= k+1 {
				return false // where it is
			}
			if into == open {
				into = s.d.between(s.at(p-1), first)
			}
			if out == open {
				out = s.d.between(last, s.at(p))
			}
			if into+own+out-s.there[p] >= gain {
				return false
			}
			for _, e := range []int{a, b, first, last, s.at(p - 1), s.at(p)} {
				s.tell(e)
			}
			if turned {
				s.turned(i, k)
			}
			s.shift(i, k, p)
			return true
		}
		if s.nearGate(s.next, first) && try(0, open, open) || s.nearGate(s.prev, last) && try(len(s.t), open, open) {
			return true
		}
		// Most ways are too long, whatever the other one.
		for _, c := range s.prev[first] {
			if p := int(s.place[c.to/2]); c.cost+own-s.there[p+1] < gain && s.t[p] == int(c.to) && try(p+1, c.cost, open) {
				return true
			}
		}
		for _, c := range s.next[last] {
			if p := int(s.place[c.to/2]); c.cost+own-s.there[p] < gain && s.t[p] == int(c.to) && try(p, open, c.cost) {
				return true
			}
		}
	}
	return false
}

// turned turns a stretch round, with the ways inside it.
func (s *searcher) turned(i, k int) {
	turnRound(s.t[i : k+1])
	slices.Reverse(s.there[i+1 : k+1])
	slices.Reverse(s.back[i+1 : k+1])
	for p := i + 1; p <= k; p++ {
		s.there[p], s.back[p] = s.back[p], s.there[p]
	}
}

// shift puts the stretch i … k between places p − 1 and p.
func (s *searcher) shift(i, k, p int) {
	l, from, to := k+1-i, min(i, p), max(k+1, p)
	rotate(s.t, i, k, p, &s.spare)
	rotate(s.there, i, k, p, &s.ways)
	rotate(s.back, i, k, p, &s.ways)
	s.way(from)
	if p < i {
		s.way(p + l)
	} else {
		s.way(p - l)
	}
	s.way(to)
	s.moved(from, to)
}

// rotate puts what is at places i … k of a list between places p − 1 and p.
func rotate[T any](list []T, i, k, p int, spare *[]T) {
	*spare = append((*spare)[:0], list[i:k+1]...)
	if l := k + 1 - i; p < i {
		copy(list[p+l:], list[p:i])
		copy(list[p:], *spare)
	} else {
		copy(list[i:], list[k+1:p])
		copy(list[p-l:], *spare)
	}
}

// shake swaps neighbouring stretches, place after place, of lengths that change from one place to the next, and keeps what is
// shorter after settling. Neither turning nor moving undoes such a swap at once (Martin, Otto & Felten 1991).
func (s *searcher) shake(ctx context.Context) error {
	n := len(s.t)
	if n < 3 {
		return nil
	}
	best, there, back, least := slices.Clone(s.t), slices.Clone(s.there), slices.Clone(s.back), s.cost()
	s.from, s.to = n, 0
	long := func(k int) int { return 1 + k%min(swapUpTo, n/2) }
	for round, helped := 0, true; helped && round < max(1, min(mostRounds, mostSwaps/n)); round++ {
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
			from, to := s.from, s.to // and the way to the latter
			if c := s.cost(); c < least-touch {
				least, helped = c, true
				copy(best[from:to], s.t[from:to])
				copy(there[from:to+1], s.there[from:])
				copy(back[from:to+1], s.back[from:])
			} else {
				copy(s.t[from:to], best[from:to])
				copy(s.there[from:to+1], there[from:])
				copy(s.back[from:to+1], back[from:])
				s.moved(from, to)
			}
			s.from, s.to = n, 0
		}
	}
	return nil
}
