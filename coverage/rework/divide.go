package rework

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"balk/geo/plane"
)

const (
	// besideWidths: lines farther from a strip than so many widths do not guide its passes.
	besideWidths = 1.5
	// How many guides of a kind are tried, the longest first, and how many cuts of a piece, the
	// deepest corners first. More found nothing better on fields and logs tried.
	passGuides, rimGuides, edgeGuides = 4, 2, 3
	cutCorners                        = 6
)

// guides are the lines along which passes over some pieces are tried: the neighbouring passes and their directions, the direction
// in which the pieces are least broad, their longest edges, and the boundary beside them.
func (w *works) guides(pieces []piece) []guide {
	var rings []plane.Ring
	var all []plane.XY
	var passes []int
	for _, p := range pieces {
		for _, r := range p.shape {
			r = thinnedRing(r, w.width/wander)
			rings, all = append(rings, r), append(all, r...)
		}
		passes = append(passes, w.r.Strips[p.strip].Passes...)
	}
	slices.Sort(passes)
	var lines [][]plane.XY
	for _, n := range slices.Compact(passes) {
		lines = append(lines, w.lines[n-1])
	}
	var straights, bent []guide
	for _, l := range longest(linesNear(lines, rings, besideWidths*w.width), passGuides) {
		a, b := longestEdge(l)
		straights = append(straights, straightGuide(all[0], b.Sub(a), true))
		if len(l) > 2 {
			bent = append(bent, guideOf(l, true))
		}
	}
	straights = append(straights, straightGuide(all[0], plane.Thinnest(all), false))
	var edges [][]plane.XY
	for _, r := range rings {
		for _, side := range r.Sides() {
			edges = append(edges, []plane.XY{side.A, side.B})
		}
	}
	for _, e := range longest(edges, edgeGuides) {
		straights = append(straights, straightGuide(all[0], e[1].Sub(e[0]), false))
	}
	for _, l := range longest(linesNear(w.ground.rims, rings, besideWidths*w.width), rimGuides) {
		if len(l) > 2 {
			bent = append(bent, guideOf(l, false))
		}
	}
	var out []guide
	for _, g := range straights {
		if !slices.ContainsFunc(out, func(o guide) bool { return parallel(o, g) }) {
			out = append(out, g)
		}
	}
	return append(out, bent...)
}

// parallel: directions that differ by less than a milliradian, 10 cm on 100 m, are one.
func parallel(a, b guide) bool {
	u, v := a.line[1].Sub(a.line[0]), b.line[1].Sub(b.line[0])
	return math.Abs(u.Cross(v)) < 1e-3
}

// linesNear are the unbroken runs of lines within reach of rings.
func linesNear(lines [][]plane.XY, rings []plane.Ring, reach float64) [][]plane.XY {
	box := plane.EmptyBox()
	for _, r := range rings {
		box = box.Extend(r...)
	}
	within := func(a, b plane.XY) bool {
		if !plane.EmptyBox().Extend(a, b).Grown(reach).Meets(box) { // cheaper than what follows
			return false
		}
		for _, r := range rings {
			for _, side := range r.Sides() {
				if (plane.Segment{A: a, B: b}).Dist(side.A) <= reach || side.Dist(a) <= reach || side.Dist(b) <= reach {
					return true
				}
			}
		}
		return false
	}
	var out [][]plane.XY
	for _, l := range lines {
		from := -1
		for i := 0; i+1 < len(l); i++ {
			switch in := within(l[i], l[i+1]); {
			case in && from < 0:
				from = i
			case !in && from >= 0:
				out, from = append(out, l[from:i+1]), -1
			}
		}
		if from >= 0 {
			out = append(out, l[from:])
		}
	}
	return out
}

// longest are the n longest lines, the longest first.
func longest(lines [][]plane.XY, n int) [][]plane.XY {
	lines = slices.Clone(lines)
	slices.SortStableFunc(lines, func(a, b []plane.XY) int { return cmp.Compare(plane.Length(b), plane.Length(a)) })
	return lines[:min(n, len(lines))]
}

func longestEdge(line []plane.XY) (a, b plane.XY) {
	best := 0
	for i := 1; i+1 < len(line); i++ {
		if line[i+1].Dist(line[i]) > line[best+1].Dist(line[best]) {
			best = i
		}
	}
	return line[best], line[best+1]
}

// patience is how many cuts in a row may save nothing, in the hope that one behind them does. A ring of missed ground, for
// example, has to be opened before its sides come off.
const patience = 2

// divide covers a piece, and cuts it in two as long as that costs less. Cuts are tried along both edges of its deepest inward
// corners, and through the middle of its holes. A piece whose passes are little longer than itself stays whole.
func (w *works) divide(ctx context.Context, p piece) ([]cover, error) {
	whole, err := w.best(ctx, []piece{p}, math.Inf(1))
	if err != nil {
		return nil, err
	}
	if len(whole.runs) == 0 {
		return nil, fmt.Errorf("strip %d: no pass along any guide", w.r.Strips[p.strip].Number)
	}
	return w.divided(ctx, whole, patience)
}

func (w *works) divided(ctx context.Context, whole cover, patient int) ([]cover, error) {
	if w.slim(whole) {
		return []cover{whole}, nil
	}
	parts, err := w.bestCut(ctx, whole.pieces[0])
	if err != nil || len(parts) < 2 {
		return []cover{whole}, err
	}
	if costOf(parts) < whole.cost-tie*w.perPass() {
		patient = patience
	} else if patient--; patient < 0 {
		return []cover{whole}, nil
	}
	var out []cover
	for _, c := range parts {
		more, err := w.divided(ctx, c, patient)
		if err != nil {
			return nil, err
		}
		out = append(out, more...)
	}
	if costOf(out) >= whole.cost-tie*w.perPass() {
		return []cover{whole}, nil
	}
	return out, nil
}

// slim says whether the passes over a piece are little longer than the piece, or so cheap that two of them would cost more.
func (w *works) slim(c cover) bool {
	shape := c.pieces[0].shape
	rim := shape.Perimeter()
	// The length of a ribbon with this area and rim; see coverage.Strip.Length.
	long := (rim/2 + math.Sqrt(max(0, rim*rim/4-4*shape.Area()))) / 2
	return !c.broken && (c.cost <= 2*(w.perPass()+w.perRow()) || len(c.runs) == 1 && c.swath <= w.width*long+w.perPass())
}

func costOf(covers []cover) float64 {
	var sum float64
	for _, c := range covers {
		sum += c.cost
	}
	return sum
}

// bestCut is the cut of a piece whose parts cost least, each covered along a guide of its own.
func (w *works) bestCut(ctx context.Context, p piece) ([]cover, error) {
	var best []cover
	least := math.Inf(1)
	for _, cut := range w.cuts(p.shape) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		parts, err := cutAlong(ctx, p.shape, cut)
		if err != nil {
			return nil, err
		}
		if len(parts) < 2 {
			continue
		}
		var got []cover
		for _, part := range parts {
			c, err := w.best(ctx, []piece{{p.strip, part}}, least-costOf(got))
			if err != nil {
				return nil, err
			}
			if len(c.runs) == 0 {
				break
			}
			got = append(got, c)
		}
		if cost := costOf(got); len(got) == len(parts) && cost < least-tie*w.perPass() {
			least, best = cost, got
		}
	}
	return best, nil
}

// line is a straight without ends.
type line struct{ at, along plane.XY }

// cuts are the straights along which a shape may be cut.
func (w *works) cuts(shape plane.Polygon) []line {
	type corner struct {
		at, in, out plane.XY
		deep        float64
	}
	var corners []corner
	var out []line
	for k, r := range shape {
		r = thinnedRing(r, w.width/wander)
		n := len(r)
		for i, p := range r {
			in, ahead := p.Sub(r[(i+n-1)%n]), r[(i+1)%n].Sub(p)
			if in.Cross(ahead) < 0 { // the ground lies to the left: it turns away from it
				deep := -in.Cross(ahead) / max(in.Len(), ahead.Len())
				corners = append(corners, corner{p, in.Unit(), ahead.Unit(), deep})
			}
		}
		if k > 0 {
			var middle plane.XY
			for _, p := range r {
				middle = middle.Add(p.Scale(1 / float64(n)))
			}
			u := plane.Thinnest(r).Unit()
			out = append(out, line{middle, u}, line{middle, u.Left()})
		}
	}
	slices.SortStableFunc(corners, func(a, b corner) int {
		switch {
		case a.deep > b.deep+touch:
			return -1
		case a.deep < b.deep-touch:
			return 1
		}
		return 0
	})
	for _, c := range corners[:min(cutCorners, len(corners))] {
		out = append(out, line{c.at, c.in}, line{c.at, c.out})
	}
	return out
}

// cutAlong are the parts of a shape to both sides of a straight.
func cutAlong(ctx context.Context, shape plane.Polygon, l line) ([]plane.Polygon, error) {
	reach := 1.0
	for _, p := range shape[0] {
		reach = max(reach, 2*p.Dist(l.at))
	}
	a, b := l.at.Sub(l.along.Scale(reach)), l.at.Add(l.along.Scale(reach))
	up := l.along.Left().Scale(reach)
	left, right, err := plane.Split(ctx, []plane.Polygon{shape}, []plane.Polygon{{{a, b, b.Add(up), a.Add(up)}}})
	return append(left, right...), err
}
