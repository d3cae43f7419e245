package plan

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// rowTip is an end of a pass that is no closed round, as the set stands when it leaves there and when it enters.
type rowTip struct {
	bar     plane.XY  // m, its middle
	out, in turn.Pose // of the tractor
	part    int
	pass    int
}

// leastBetween is a bound of what moves between the passes of p take, s, in whatever order and by whatever turns and runs: no plan with these rows and rounds, driven
// from either end, moves in less. A move that does not fit counts with its price.
//
// n passes in a row have n − 1 moves between them, and each joins two of their ends. Of a move from one end to another half is put down to each, so that an end takes half of its cheapest move, to it or from it, at the
// least: they differ, since the tractor stands ahead of the bar. Closed rounds are left out: they may begin anywhere, and a move to or from one may take nothing. So of the ends of rows two for each of
// them, and the first and the last of all, may be joined to no other end: which, nobody knows, so those that take most are left out. Stretches of rounds count as rows do.
func (p *Plan) leastBetween(t *turner) (float64, error) {
	var tips []rowTip
	free := 2
	for i, one := range p.Passes {
		if one.Round > 0 && one.Stretch == 0 {
			free += 2
			continue
		}
		in, out := headings(one.Line)
		for _, end := range [2]struct {
			at  plane.XY
			out geo.Heading
		}{{one.Line[0], in + math.Pi}, {one.Line[len(one.Line)-1], out}} {
			tips = append(tips, rowTip{end.at, t.axle(end.at, end.out), t.axle(end.at, end.out+math.Pi), one.Part, i})
		}
	}
	order := make([]int, len(tips)) // by place
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(tips[a].bar.X, tips[b].bar.X) })
	fastest, off := max(t.speed.Turning, t.speed.Reversing), 2*math.Hypot(t.lead, t.im.Mount.BarRight)
	var halves []float64
	road := math.Inf(1)
	if given := p.Options.BetweenParts; given > 0 && len(p.Field) > 1 {
		road = given * secondsM
	}
	for n, i := range order {
		least := road
		for _, step := range [2]int{-1, 1} {
			for m := n + step; m >= 0 && m < len(order); m += step {
				k := order[m]
				if math.Abs(tips[k].bar.X-tips[i].bar.X)-off >= least*fastest { // all beyond are farther off
					break
				}
				if tips[k].pass == tips[i].pass {
					continue
				}
				for _, way := range [2][2]int{{i, k}, {k, i}} {
					one, err := t.leastMove(&tips[way[0]], &tips[way[1]], off, least)
					if err != nil {
						return 0, err
					}
					least = min(least, one)
				}
			}
		}
		if !math.IsInf(least, 1) {
			halves = append(halves, least/2)
		}
	}
	slices.Sort(halves)
	sum := 0.0
	for _, s := range halves[:max(0, len(halves)-free)] {
		sum += s
	}
	return sum, nil
}

// leastMove is what a move from one row end to another takes at the least, s; most or more where that is known to be enough. Off is how far the bar may be from the axle at both ends, m.
//
// Forward that is the shortest way of Dubins 1957 (American Journal of Mathematics 79, 497-516; from memory). In reverse too: a way whose curvature is 1/r at
// most, and that ends turned by Δ, passes every heading between and spends r·dθ on each at least. So it takes Δ·r; and across its first heading it gets by no
// more than |sin θ| for every metre, which makes r(1 − cos Δ) while it turns (Δ ≤ π), and along it by |cos θ|, which makes r·sin Δ, from π/2 on r(2 − sin Δ). What it gets
// farther takes a metre for every metre beyond (derived here). It changes its direction once at least, or is in reverse as a whole. Between parts of a field, and where a way does not
// fit, it is as the crow flies, and then has its price.
func (t *turner) leastMove(a, b *rowTip, off, most float64) (float64, error) {
	fastest := max(t.speed.Turning, t.speed.Reversing)
	crow := max(0, a.bar.Dist(b.bar)-off) / fastest
	if a.part != b.part {
		return crow, nil
	}
	r, d := t.steer.Radius, b.in.At.Sub(a.out.At)
	turned := math.Abs(math.Remainder(float64(b.in.Heading-a.out.Heading), 2*math.Pi))
	ahead := a.out.Heading.Ahead()
	along, across := math.Abs(d.Dot(ahead)), math.Abs(d.Dot(ahead.Left()))
	sin, cos := math.Sincos(turned)
	if turned > math.Pi/2 {
		sin = 2 - sin
	}
	way := max(d.Len(), turned*r+max(0, across-r*(1-cos)), turned*r+max(0, along-r*sin))
	least := crow + t.unfit
	if t.reverses {
		least = min(least, way/fastest+t.speed.Change, way/t.speed.Reversing)
	}
	if way/t.speed.Turning >= min(least, most) {
		return least, nil
	}
	p, err := turn.Dubins(a.out, b.in, r)
	if err != nil {
		return 0, err
	}
	return min(least, p.Length()/t.speed.Turning), nil
}
