package rework

import (
	"cmp"
	"container/heap"
	"context"
	"slices"

	"balk/coverage"
	"balk/coverage/rig"
	"balk/geo/plane"
)

// Take says how many of the strips are worked again, those first that win most per minute. The zero value takes all.
type Take struct {
	Minutes float64 `json:"minutes,omitempty"` // as many as this time allows, ways from and to the gate included; 0 = not limited
	Share   float64 `json:"share,omitempty"`   // up to this part of what all strips hold, 0 to 1; 0 = not limited
	Knee    bool    `json:"knee,omitempty"`    // up to where a minute begins to win less than on average; see coverage.Worth.Knee
}

// why is the reason for which strips are left that are not taken.
func (t Take) why() Why {
	switch {
	case t.Minutes > 0:
		return WhyTime
	case t.Share > 0:
		return WhyShare
	}
	return WhyLess
}

// Worth is the curve that Of plans by, without the passes' simulation and the whole set's outline.
func Worth(ctx context.Context, r coverage.Result, im rig.Implement, o Options) (coverage.Worth, error) {
	w, err := begin(r, im, o)
	if err != nil {
		return coverage.Worth{}, err
	}
	jobs, err := w.jobsOf(ctx, w.choose(&Plan{}))
	if err != nil {
		return coverage.Worth{}, err
	}
	drives, strips := w.drivesOf(jobs)
	d, err := w.distances(ctx, drives, w.gate(jobs))
	if err != nil {
		return coverage.Worth{}, err
	}
	t, err := d.order(ctx, upTo(len(strips)))
	if err != nil {
		return coverage.Worth{}, err
	}
	curve, groups := w.curve(d, t, drives, strips)
	curve, _, err = w.timed(ctx, d, t, drives, curve, groups)
	return curve, err
}

// timedUpTo: the way of a step of so many passes is looked for anew, as the plan of it is. Of more, little is left out of a tour that is short already.
const timedUpTo = 30

// timed puts the time of a way of its own to each step of few passes. What is left of a tour from which strips were taken is no short one in the end, and
// goes by ways without room that nobody would plan. A step that takes as long as one that wins more is none: its strips come with those of the next.
func (w *works) timed(ctx context.Context, d distances, t tour, drives []oneWay, c coverage.Worth, groups []group) (coverage.Worth, []group, error) {
	taken := map[int]bool{}
	for k := range c.Steps {
		for _, p := range groups[k].passes {
			taken[p] = true
		}
		if len(taken) > timedUpTo {
			break
		}
		short, err := d.order(ctx, passesOf(slices.DeleteFunc(slices.Clone(t), func(k int) bool { return !taken[k/2] })))
		if err != nil {
			return coverage.Worth{}, nil, err
		}
		c.Steps[k].Time = w.time(d, short, drives)
	}
	for k := len(c.Steps) - 2; k >= 0; k-- {
		if next := &c.Steps[k+1]; c.Steps[k].Time >= next.Time {
			next.Strips = append(next.Strips, c.Steps[k].Strips...)
			slices.Sort(next.Strips)
			groups[k+1] = group{slices.Concat(groups[k].strips, groups[k+1].strips), slices.Concat(groups[k].passes, groups[k+1].passes)}
			c.Steps, groups = slices.Delete(c.Steps, k, k+1), slices.Delete(groups, k, k+1)
		}
	}
	return c, groups, nil
}

// own is the time of a pass itself, with the way on which it is lined up with, s.
func (w *works) own(one oneWay) float64 {
	return plane.Length(one.line)/w.o.Speeds.Work + one.lineUp/w.o.Speeds.Way
}

// time is that of a tour, from the gate and back, s.
func (w *works) time(d distances, t tour, drives []oneWay) (sum float64) {
	at := d.n
	for _, next := range t {
		sum, at = sum+d.at(at, next).time+w.own(drives[next]), next
	}
	return sum + d.at(at, d.n).time
}

// entry is a group of strips in the tour, with what its leaving would save.
type entry struct {
	group
	area   float64 // m²
	saved  float64 // s
	first  bool    // it holds a strip of Options.First: it leaves last
	place  int     // in the heap; −1: gone
	number int
}

// less is the order of leaving: what wins least per second first.
func (e *entry) less(o *entry) bool {
	if e.first != o.first {
		return o.first
	}
	return cmp.Or(cmp.Compare(e.area*max(o.saved, touch), o.area*max(e.saved, touch)), cmp.Compare(o.number, e.number)) < 0
}

type leaving []*entry

func (l leaving) Len() int           { return len(l) }
func (l leaving) Less(i, k int) bool { return l[i].less(l[k]) }
func (l leaving) Swap(i, k int) {
	l[i], l[k] = l[k], l[i]
	l[i].place, l[k].place = i, k
}
func (l *leaving) Push(e any) { *l = append(*l, e.(*entry)) }
func (l *leaving) Pop() any {
	e := (*l)[len(*l)-1]
	*l, e.place = (*l)[:len(*l)-1], -1
	return e
}

// curve takes strips out of a tour, again and again those that win least per second saved, and tells what is left each time. Strips that
// share a pass leave together. The passes before and behind come to lie beside each other, in the order of the tour, so a step's time is
// that of a way that may still be shortened. It gives the groups too, the last to leave first.
func (w *works) curve(d distances, t tour, drives []oneWay, strips [][]int) (coverage.Worth, []group) {
	n := len(t)
	before, behind := make([]int, n+2), make([]int, n+2) // places in the tour, 1 … n; 0 and n+1 are the gate
	place := make([]int, len(strips))                    // of a pass
	for i := range n + 2 {
		before[i], behind[i] = i-1, i+1
	}
	for i, k := range t {
		place[k/2] = i + 1
	}
	at := func(i int) int {
		if i == 0 || i == n+1 {
			return d.n
		}
		return t[i-1]
	}
	own := func(i int) float64 { return w.own(drives[t[i-1]]) }
	time := func(a, b int) float64 {
		if (a == 0 || a == n+1) && (b == 0 || b == n+1) {
			return 0
		}
		return d.at(at(a), at(b)).time
	}
	first := map[int]bool{}
	for _, s := range w.o.First {
		first[s] = true
	}
	var all leaving
	of := make([]*entry, n+2)
	for k, g := range groupsOf(strips) {
		e := &entry{group: g, area: w.area(g.strips), place: k, number: k}
		slices.SortFunc(e.passes, func(a, b int) int { return cmp.Compare(place[a], place[b]) })
		e.first = slices.ContainsFunc(g.strips, func(s int) bool { return first[w.r.Strips[s].Number] })
		for _, p := range e.passes {
			of[place[p]] = e
		}
		all = append(all, e)
	}
	weigh := func(e *entry) {
		e.saved = 0
		for i := 0; i < len(e.passes); {
			from := place[e.passes[i]]
			to := from
			e.saved += time(before[from], from) + own(from)
			for i++; i < len(e.passes) && behind[to] == place[e.passes[i]]; i++ {
				e.saved += time(to, behind[to]) + own(behind[to])
				to = behind[to]
			}
			e.saved += time(to, behind[to]) - time(before[from], behind[to])
		}
	}
	left := coverage.Won{}
	for i := 1; i <= n; i++ {
		left.Time += time(i-1, i) + own(i)
	}
	left.Time += time(n, n+1)
	for _, e := range all {
		weigh(e)
		left.Area, left.Count = left.Area+e.area, left.Count+len(e.strips)
	}
	heap.Init(&all)
	var steps []coverage.Won
	var groups []group
	for len(all) > 0 {
		e := heap.Pop(&all).(*entry)
		step := left
		for _, s := range e.strips {
			step.Strips = append(step.Strips, w.r.Strips[s].Number)
		}
		slices.Sort(step.Strips)
		steps, groups = append(steps, step), append(groups, e.group)
		left.Area, left.Time, left.Count = left.Area-e.area, max(0, left.Time-e.saved), left.Count-len(e.strips)
		for _, p := range e.passes {
			i := place[p]
			behind[before[i]], before[behind[i]] = behind[i], before[i]
		}
		for _, p := range e.passes {
			for _, i := range [2]int{before[place[p]], behind[place[p]]} {
				if o := of[i]; o != nil && o.place >= 0 {
					weigh(o)
					heap.Fix(&all, o.place)
				}
			}
		}
	}
	slices.Reverse(steps)
	slices.Reverse(groups)
	return coverage.Worth{Steps: steps, Approach: w.o.Approach, Rate: w.r.Effort.EffectiveCapacity}, groups
}

// taken is how many steps of the curve are worked.
func (o Options) taken(c coverage.Worth) int {
	count := c.All().Count
	if o.Take.Knee {
		count = min(count, c.Knee().Count)
	}
	if o.Take.Share > 0 {
		count = min(count, c.Share(o.Take.Share).Count)
	}
	if o.Take.Minutes > 0 {
		count = min(count, c.Within(60*o.Take.Minutes).Count)
	}
	steps := 0
	for steps < len(c.Steps) && c.Steps[steps].Count <= count {
		steps++
	}
	return steps
}

// needed is how many steps of the curve it takes to have all strips of Options.First, whatever they win per minute.
func (o Options) needed(c coverage.Worth) (steps int) {
	for _, first := range o.First {
		for i := range c.Steps {
			if slices.Contains(c.Steps[i].Strips, first) {
				steps = max(steps, i+1)
			}
		}
	}
	return steps
}

// within plans as many steps of the curve as take so many seconds, most of them at most, and no fewer than least, whatever these take. Ways on which the outline of the set has room are longer than those of its axle, by which the curve is timed.
func within(seconds float64, least, most int, plan func(steps int) (Plan, error)) (Plan, error) {
	best, err := plan(most)
	if err != nil || best.Time <= seconds || most <= least {
		return best, err
	}
	if best, err = plan(least); err != nil {
		return Plan{}, err
	}
	for most-least > 1 {
		middle := (least + most) / 2
		tried, err := plan(middle)
		if err != nil {
			return Plan{}, err
		}
		if tried.Time > seconds {
			most = middle
		} else {
			least, best = middle, tried
		}
	}
	return best, nil
}

// take leaves the passes of strips out that are not to be taken, lists these, and puts the others in order anew.
func (w *works) take(ctx context.Context, d distances, t tour, groups []group, steps int) (tour, []Skip, error) {
	if steps == len(groups) {
		return t, nil, nil
	}
	gone := make([]bool, d.n/2)
	var skipped []Skip
	for _, g := range groups[steps:] {
		for _, k := range g.passes {
			gone[k] = true
		}
		for _, s := range g.strips {
			one := w.r.Strips[s]
			skipped = append(skipped, Skip{Strip: one.Number, Pieces: 1, Area: one.Area, Why: w.o.Take.why()})
		}
	}
	t, err := d.order(ctx, passesOf(slices.DeleteFunc(slices.Clone(t), func(k int) bool { return gone[k/2] })))
	return t, skipped, err
}
