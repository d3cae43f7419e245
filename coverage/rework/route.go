package rework

import (
	"context"
	"fmt"
	"iter"
	"math"
	"slices"

	"balk/coverage"
	"balk/coverage/ground"
	"balk/geo/plane"
	"balk/geo/workers"
)

// oneWay is a run in one direction.
type oneWay struct {
	line           []plane.XY
	before, behind float64 // m
	lineUp         float64 // m
	entry, exit    pose
}

// drivesOf are a run's two directions: 2k as laid, 2k+1 the other way round.
func (w *works) drivesOf(jobs []job) (drives []oneWay, strips [][]int) {
	for _, j := range jobs {
		for _, r := range j.runs {
			back := slices.Clone(r.line)
			slices.Reverse(back)
			drives = append(drives, w.driveOf(r.line), w.driveOf(back))
			strips = append(strips, r.strips)
		}
	}
	return drives, strips
}

func (w *works) driveOf(line []plane.XY) oneWay {
	n := len(line)
	d := oneWay{}
	first, last := line[1].Sub(line[0]).Unit(), line[n-1].Sub(line[n-2]).Unit()
	d.before = w.room(line[0], first.Scale(-1), w.o.Before)
	d.behind = w.room(line[n-1], last, w.o.Behind)
	d.line = slices.Clone(line)
	d.line[0] = line[0].Sub(first.Scale(d.before))
	d.line[n-1] = line[n-1].Add(last.Scale(d.behind))
	d.exit = w.poseOf(d.line[n-1], last, w.back(), -1)
	for quarters := 4.0; quarters >= 0; quarters-- {
		d.lineUp = w.o.LineUp * quarters / 4
		if d.entry = w.poseOf(d.line[0], first, w.back()-d.lineUp, 1); d.entry.in && d.entry.back == 0 {
			return d
		}
	}
	return d
}

// room is how much of a way beyond the end of a pass, in quarters, the bar has in the
// field: all of it, or what is left before boundary or obstacle.
func (w *works) room(end, u plane.XY, want float64) float64 {
	for k := 4; k > 0; k-- {
		l := want * float64(k) / 4
		tip := end.Add(u.Scale(l))
		if l > 0 && w.ground.edges.Holds(tip) && w.ground.clearAlong(ground.Ring([]plane.XY{end, tip}, w.width, 0)) {
			return l
		}
	}
	return 0
}

const (
	// allPairs: between so many passes all ways are worked out. Beyond it those from each end to its nearestEnds nearest
	// beginnings are, and those between the gate and so many beginnings near it, so that time and memory grow with the passes, not
	// with their square. Other ways count as their straight and a half circle, and as not fitting where the set cannot stand at an
	// end.
	allPairs    = 200
	nearestEnds = 24
)

// distances works out the ways between passes and gate.
func (w *works) distances(ctx context.Context, drives []oneWay, gate plane.XY) (distances, error) {
	passes := len(drives) / 2
	good := make([]struct{ entry, exit bool }, len(drives)) // some way can begin or end there
	err := workers.Each(ctx, w.r.Work.Workers, len(drives), func(a int) error {
		good[a].entry, good[a].exit = w.reached(drives[a].entry) && w.stands(drives[a].entry), w.reached(drives[a].exit) && w.stands(drives[a].exit)
		return nil
	})
	if err != nil {
		return distances{}, err
	}
	var d distances
	everyOther := upTo(len(drives))
	others := func(int) []int { return everyOther }
	gateNear := func(a int) bool { return true }
	if passes <= allPairs {
		d = newDistances(passes)
	} else {
		type place struct { // flat, since an order asks millions of times
			at     plane.XY
			stands bool
		}
		from, to := make([]place, len(drives)+1), make([]place, len(drives)+1)
		for a, one := range drives {
			from[a], to[a] = place{one.exit.At, good[a].exit}, place{one.entry.At, good[a].entry}
		}
		from[len(drives)], to[len(drives)] = place{gate, true}, place{gate, true}
		arc, speed := math.Pi*w.im.TurnRadius(), w.o.Speeds.Way
		d = sparse(passes, func(i, k int) errand {
			a, b := &from[i], &to[k]
			l := a.at.Dist(b.at) + arc
			e := errand{l, l, l / speed}
			if !(a.stands && b.stands) {
				e.cost += unfitCost
			}
			return e
		})
		var near plane.Tree[int]
		others, near = nearestTo(drives)
		at := make([]bool, passes)
		for _, a := range firstOf(near.Nearby(gate), allPairs) {
			at[a/2] = true
		}
		gateNear = func(a int) bool { return at[a/2] }
	}
	fromGate := make([]errand, len(drives))
	err = workers.Each(ctx, w.r.Work.Workers, len(drives), func(a int) error {
		if gateNear(a) {
			got, err := w.gateWay(gate, drives[a].entry, false)
			if err != nil {
				return err
			}
			fromGate[a] = w.gateErrand(got, good[a].entry)
			if got, err = w.gateWay(gate, drives[a].exit, true); err != nil {
				return err
			}
			d.put(a, d.n, w.gateErrand(got, good[a].exit))
		}
		for _, b := range others(a) {
			if a/2 == b/2 {
				continue
			}
			got, up, err := w.between(drives[a], drives[b])
			if err != nil {
				return err
			}
			e := w.errandOf(link{got, up}, drives[b])
			if got.unfit == "" && !(good[a].exit && good[b].entry) {
				e.cost += unfitCost // whatever the way
			}
			d.put(a, b, e)
		}
		return nil
	})
	if err != nil {
		return distances{}, err
	}
	for a, e := range fromGate {
		if gateNear(a) {
			d.put(d.n, a, e)
		}
	}
	d.put(d.n, d.n, errand{})
	return d, nil
}

// gateErrand is what a way between the gate and an end of a pass counts, where the set can stand there or not.
func (w *works) gateErrand(a way, stands bool) errand {
	e := errand{a.cost(), a.length, a.time}
	if a.unfit == "" && !stands {
		e.cost += unfitCost
	}
	return e
}

// nearestTo gives the drives that begin nearest to where one ends, and all by where they begin.
func nearestTo(drives []oneWay) (func(a int) []int, plane.Tree[int]) {
	var tree plane.Tree[int]
	for k, d := range drives {
		tree.Insert(plane.Box{Min: d.entry.At, Max: d.entry.At}, k)
	}
	return func(a int) []int { return firstOf(tree.Nearby(drives[a].exit.At), nearestEnds) }, tree
}

// firstOf are the first n of a sequence.
func firstOf(all iter.Seq2[int, float64], n int) (found []int) {
	for k := range all {
		if found = append(found, k); len(found) == n {
			break
		}
	}
	return found
}

func upTo(n int) []int {
	all := make([]int, n)
	for k := range all {
		all[k] = k
	}
	return all
}

// gate is where the way begins and ends.
func (w *works) gate(jobs []job) plane.XY {
	if w.o.Gate != nil {
		return w.ground.gateAt(*w.o.Gate)
	}
	if len(jobs) == 0 {
		return plane.XY{}
	}
	return w.ground.onRim(middleOf(w.r.Strips[jobs[0].pieces[0].strip].Shape))
}

// middleOf is the centre of mass of a polygon.
func middleOf(p plane.Polygon) plane.XY {
	o := p[0][0]
	var a float64
	var m plane.XY
	for _, r := range p {
		for i, v := range r {
			u, v := v.Sub(o), r[(i+1)%len(r)].Sub(o)
			c := u.Cross(v)
			a, m = a+c/2, m.Add(u.Add(v).Scale(c/6))
		}
	}
	return o.Add(m.Scale(1 / a))
}

// route orders the passes, drops what is not worth its way, and writes passes, visits and
// pieces of the way into p.
func (w *works) route(ctx context.Context, jobs []job, p *Plan) error {
	p.Outlined = w.ground.room != nil
	p.Gate = w.gate(jobs)
	drives, strips := w.drivesOf(jobs)
	d, err := w.distances(ctx, drives, p.Gate)
	if err != nil {
		return err
	}
	all, err := d.order(ctx, upTo(len(strips)))
	if err != nil {
		return err
	}
	curve, groups := w.curve(d, all, drives, strips)
	if p.Worth, groups, err = w.timed(ctx, d, all, drives, curve, groups); err != nil {
		return err
	}
	limit := 60 * w.o.Take.Minutes
	if limit == 0 {
		limit = math.Inf(1)
	}
	least := w.o.needed(p.Worth)
	*p, err = within(limit, least, max(w.o.taken(p.Worth), least), func(steps int) (Plan, error) {
		tried := *p
		t, skipped, err := w.take(ctx, d, all, groups, steps)
		if err != nil {
			return Plan{}, err
		}
		tried.Skipped = slices.Concat(p.Skipped, skipped)
		if t, err = w.worth(ctx, d, t, drives, strips, &tried); err != nil {
			return Plan{}, err
		}
		t, ways, err := w.fitted(ctx, d, t, drives)
		if err != nil {
			return Plan{}, err
		}
		err = w.pieces(ctx, t, ways, drives, strips, &tried)
		return tried, err
	})
	if err != nil {
		return err
	}
	w.visits(p)
	return nil
}

// pieces writes passes and ways in the order of the tour.
func (w *works) pieces(ctx context.Context, t tour, ways links, drives []oneWay, strips [][]int, p *Plan) error {
	for i, k := range t {
		if err := ctx.Err(); err != nil {
			return err
		}
		d := drives[k]
		var got way
		var err error
		if i == 0 {
			got, err = w.gateLink(p.Gate, d.entry, false)
		} else {
			l := ways[[2]int{t[i-1], k}]
			got, d.lineUp = l.way, l.lineUp
		}
		if err == nil {
			got, err = w.linedUp(got, d.lineUp)
		}
		if err == nil {
			err = p.addWay(got)
		}
		if err != nil {
			return fmt.Errorf("to pass %d: %w", i+1, err)
		}
		one := Pass{Number: i + 1, Length: plane.Length(d.line), Before: d.before, Behind: d.behind, LineUp: d.lineUp, Line: d.line}
		for _, s := range strips[k/2] {
			one.Strips = append(one.Strips, w.r.Strips[s].Number)
		}
		slices.Sort(one.Strips)
		p.Passes = append(p.Passes, one)
		unfit, err := w.passShort(d.line)
		if err != nil {
			return fmt.Errorf("pass %d: %w", i+1, err)
		}
		p.add(Piece{Pass: one.Number, Line: one.Line, Length: one.Length, Time: one.Length / w.o.Speeds.Work, Unfit: unfit})
	}
	if len(t) == 0 {
		return nil
	}
	got, err := w.gateLink(p.Gate, drives[t[len(t)-1]].exit, true)
	if err == nil {
		err = p.addWay(got)
	}
	if err != nil {
		return fmt.Errorf("to the gate: %w", err)
	}
	return nil
}

func (p *Plan) addWay(a way) error {
	one := Piece{Length: a.length, Reversed: a.reversed, Time: a.time, Unfit: a.unfit}
	for _, path := range a.paths {
		line, err := path.Line(wayBow)
		if err != nil {
			return err
		}
		if len(one.Line) > 0 {
			line = line[1:]
		}
		one.Line = append(one.Line, line...)
	}
	p.add(one)
	return nil
}

func (p *Plan) add(one Piece) {
	p.Route = append(p.Route, one)
	p.Length, p.Time = p.Length+one.Length, p.Time+one.Time
	if one.Unfit != "" {
		p.Unfit++
	}
}

// visits lists the strips that the passes serve.
func (w *works) visits(p *Plan) {
	at := map[int]int{}
	for _, one := range p.Passes {
		for _, n := range one.Strips {
			k, known := at[n]
			if !known {
				k = len(p.Chosen)
				at[n] = k
				p.Chosen = append(p.Chosen, Visit{Strip: n, Order: k + 1, Area: w.strip(n).Area})
			}
			p.Chosen[k].Passes = append(p.Chosen[k].Passes, one.Number)
		}
	}
	slices.SortFunc(p.Chosen, func(a, b Visit) int { return a.Strip - b.Strip })
}

// strip is the strip of a number.
func (w *works) strip(number int) coverage.Strip { return w.r.Strips[w.index[number]] }

// worth drops strips whose ground is not worth the passes and the detour to them: again and again
// those that lose most, until none does. Strips that share a pass, or are worked in passes of one job, stay together.
func (w *works) worth(ctx context.Context, d distances, t tour, drives []oneWay, strips [][]int, p *Plan) (tour, error) {
	if w.o.Value == 0 || w.o.PerMetre == 0 && w.o.PerHour == 0 {
		return t, nil
	}
	groups := groupsOf(strips)
	ordered := true // t is put in order anew, not only shortened after a drop
	for len(t) > 0 {
		all := w.money(d, t, drives)
		most, drop, cost := 0.0, -1, 0.0
		for g := range groups {
			spent := all - w.money(d, without(t, groups[g].passes), drives)
			if loss := spent - w.o.Value*w.area(groups[g].strips); loss > most {
				most, drop, cost = loss, g, spent
			}
		}
		if drop < 0 && ordered {
			break
		}
		if drop < 0 {
			var err error
			if t, err = d.order(ctx, passesOf(t)); err != nil {
				return nil, err
			}
			ordered = true
			continue
		}
		gone := groups[drop]
		for _, s := range gone.strips {
			one := w.r.Strips[s]
			p.Skipped = append(p.Skipped, Skip{Strip: one.Number, Pieces: 1, Area: one.Area, Why: WhyWay,
				Worth: w.o.Value * one.Area, Cost: cost * one.Area / w.area(gone.strips)})
		}
		groups = slices.Delete(groups, drop, drop+1)
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		t = without(t, gone.passes)
		again := newSearcher(d, passesOf(t))
		again.begin(t)
		again.settle()
		t, ordered = again.t, false
	}
	return t, nil
}

// passesOf are the passes of a tour, ascending.
func passesOf(t tour) []int {
	passes := make([]int, len(t))
	for i, k := range t {
		passes[i] = k / 2
	}
	slices.Sort(passes)
	return passes
}

func (w *works) area(strips []int) float64 {
	var a float64
	for _, s := range strips {
		a += w.r.Strips[s].Area
	}
	return a
}

// money is what a tour costs, its passes included.
func (w *works) money(d distances, t tour, drives []oneWay) float64 {
	if len(t) == 0 {
		return 0
	}
	back := d.at(t[len(t)-1], d.n)
	length, time, at := back.length, back.time, d.n
	for _, k := range t {
		e := d.at(at, k)
		l := plane.Length(drives[k].line)
		up := drives[k].lineUp
		length, time = length+e.length+l+up, time+e.time+l/w.o.Speeds.Work+up/w.o.Speeds.Way
		at = k
	}
	return w.o.PerMetre*length + w.o.PerHour*time/3600
}

func without(t tour, passes []int) tour {
	return slices.DeleteFunc(slices.Clone(t), func(k int) bool { return slices.Contains(passes, k/2) })
}

// group is strips and passes that belong together.
type group struct{ strips, passes []int }

// groupsOf joins strips that share a pass, in the order of their first passes.
func groupsOf(strips [][]int) []group {
	of := map[int]int{} // a pass of the same group, by strip, towards the first one
	first := func(k int) int {
		for of[k] != k {
			k = of[k]
		}
		return k
	}
	by := map[int]int{} // a pass by strip
	for k, list := range strips {
		of[k] = k
		for _, s := range list {
			if other, known := by[s]; known {
				a, b := first(other), first(k)
				of[max(a, b)] = min(a, b)
			}
			by[s] = k
		}
	}
	var groups []group
	place := map[int]int{}
	for k, list := range strips {
		g, known := place[first(k)]
		if !known {
			g = len(groups)
			place[first(k)] = g
			groups = append(groups, group{})
		}
		groups[g].strips, groups[g].passes = append(groups[g].strips, list...), append(groups[g].passes, k)
	}
	for k := range groups {
		slices.Sort(groups[k].strips)
		groups[k].strips = slices.Compact(groups[k].strips)
	}
	return groups
}
