package rework

import (
	"context"
	"slices"

	"balk/coverage/ground"
	"balk/geo/plane"
	"balk/geo/workers"
)

// Lanes of the arrangement that judges re-work.
const (
	laneWork = iota
	laneField
	laneMissed
	laneUnknown
)

// Classes of ground under re-work, those with the tool on it counted once.
const (
	classLeft plane.Class = iota + 1
	classCovered
	classUnknown
	classOutside
)

// outcome is what re-work does, m².
type outcome struct {
	left, covered, extra, unknown, outside, swath float64
}

// groundLeft is the ground as the operation left it.
type groundLeft struct {
	field, missed, unknown []plane.Polygon
	workers                int
}

// judge lays the swaths of re-work, pass by pass, over the ground as the operation left it.
//
// Missed ground, unknown ground and ground outside count once. extra is all other ground under the swaths: ground that was worked
// before, as often as the re-work goes over it, and ground that the re-work itself works twice.
func (u groundLeft) judge(ctx context.Context, swaths ...[]plane.Ring) (outcome, error) {
	var t outcome
	var all []plane.Outline
	for _, rings := range swaths {
		for _, r := range rings {
			t.swath += r.Area()
			all = append(all, plane.Outline{Line: r, Lane: laneWork})
		}
	}
	for k, polys := range [][]plane.Polygon{u.field, u.missed, u.unknown} {
		for _, p := range polys {
			for _, r := range p {
				all = append(all, plane.Outline{Line: r, Lane: laneField + k})
			}
		}
	}
	got, err := plane.Arrange(ctx, all, plane.Question{Workers: u.workers, Classify: classify})
	if err != nil {
		return outcome{}, err
	}
	t.left, t.covered = got.Area[classLeft], got.Area[classCovered]
	t.unknown, t.outside = got.Area[classUnknown], got.Area[classOutside]
	t.extra = t.swath - t.covered - t.unknown - t.outside
	return t, nil
}

func classify(l plane.Label) plane.Class {
	worked := l.Count(laneWork) > 0
	switch {
	case l.Count(laneMissed) > 0 && worked:
		return classCovered
	case l.Count(laneMissed) > 0:
		return classLeft
	case !worked:
		return 0
	case l.Count(laneUnknown) > 0:
		return classUnknown
	case l.Count(laneField) <= 0:
		return classOutside
	}
	return 0
}

// swathOf is the ground of one pass along the middle of its width, as rings with
// winding number one. Bars stand as in the balance of an operation.
func swathOf(ctx context.Context, line []plane.XY, width float64) ([]plane.Ring, error) {
	ring := ringOf(line, width)
	if len(line) == 2 {
		return []plane.Ring{ring}, nil
	}
	n := len(ring) / 2
	var quads []plane.Outline
	for i := 0; i+1 < n; i++ {
		quads = append(quads, plane.Outline{Line: plane.Ring{ring[i], ring[i+1], ring[2*n-2-i], ring[2*n-1-i]}})
	}
	return plane.Trace(ctx, quads, func(l plane.Label) bool { return l.Count(0) != 0 })
}

// ringOf runs along the right ends of the bars and back along the left ends.
func ringOf(line []plane.XY, width float64) plane.Ring {
	right, left := ground.BarsAlong(line, width, 0)
	slices.Reverse(left)
	return append(plane.Ring(right), left...)
}

// leftOf is the ground in m² that a cover leaves of its own pieces.
func (w *works) leftOf(ctx context.Context, c cover) (float64, error) {
	u := groundLeft{workers: 1}
	for _, p := range c.pieces {
		u.missed = append(u.missed, p.shape)
	}
	swaths := make([][]plane.Ring, len(c.runs))
	for k, r := range c.runs {
		if ring := ringOf(r.line, w.width); forward(ring) {
			swaths[k] = []plane.Ring{ring} // it may lap itself, which does not matter here
			continue
		}
		var err error
		if swaths[k], err = swathOf(ctx, r.line, w.width); err != nil {
			return 0, err
		}
	}
	t, err := u.judge(ctx, swaths...)
	return t.left, err
}

// forward says whether no bar of a ring of ringOf crosses the next one. Then each quadrilateral between two bars winds once round
// its ground. The ring winds round the sum of them, so its winding number is nowhere below 0, and above 0 on all of the swath.
func forward(ring plane.Ring) bool {
	for i, k := 0, len(ring)-1; i+1 < k; i, k = i+1, k-1 {
		a, b, c, d := ring[i], ring[i+1], ring[k-1], ring[k]
		if b.Sub(a).Cross(d.Sub(a)) < 0 || c.Sub(b).Cross(a.Sub(b)) < 0 || d.Sub(c).Cross(b.Sub(c)) < 0 || a.Sub(d).Cross(c.Sub(d)) < 0 {
			return false
		}
	}
	return true
}

// simulate works out what the plan leaves of each strip and in all, and what it works
// for nothing.
func (w *works) simulate(ctx context.Context, p *Plan) error {
	swaths := make([][]plane.Ring, len(p.Passes))
	share := make([]outcome, len(p.Passes)) // each pass alone
	err := workers.Each(ctx, w.r.Work.Workers, len(p.Passes), func(k int) (err error) {
		line := p.Passes[k].Line
		if swaths[k], err = swathOf(ctx, line, w.width); err != nil {
			return err
		}
		box := plane.EmptyBox().Extend(ringOf(line, w.width)...)
		share[k], err = groundLeft{w.r.Layers.Field, w.missed.within(box), w.unknown.within(box), 1}.judge(ctx, swaths[k])
		return err
	})
	if err != nil {
		return err
	}
	all := groundLeft{w.r.Layers.Field, w.r.Layers.Missed, w.r.Layers.Unknown, w.r.Work.Workers}
	t, err := all.judge(ctx, swaths...)
	if err != nil {
		return err
	}
	p.Covered, p.ExtraDouble, p.Unknown, p.Outside, p.Swath = t.covered, t.extra, t.unknown, t.outside, t.swath
	p.Left = p.Missed - p.Covered
	return workers.Each(ctx, w.r.Work.Workers, len(p.Chosen), func(k int) error { return w.visit(ctx, p, k, swaths, share) })
}

// visit fills in what becomes of one strip.
func (w *works) visit(ctx context.Context, p *Plan, k int, swaths [][]plane.Ring, share []outcome) error {
	v := &p.Chosen[k]
	strip := groundLeft{missed: []plane.Polygon{w.strip(v.Strip).Shape}, workers: 1}
	var own [][]plane.Ring
	for _, n := range v.Passes {
		own = append(own, swaths[n-1])
	}
	t, err := strip.judge(ctx, own...)
	if err != nil {
		return err
	}
	v.Covered, v.Left = t.covered, t.left
	for _, n := range v.Passes {
		if len(p.Passes[n-1].Strips) == 1 {
			v.ExtraDouble += share[n-1].extra
			continue
		}
		alone, err := strip.judge(ctx, swaths[n-1])
		if err != nil {
			return err
		}
		if share[n-1].covered > 0 {
			v.ExtraDouble += share[n-1].extra * alone.covered / share[n-1].covered
		}
	}
	return nil
}

// shelf finds polygons by place.
type shelf struct {
	polys []plane.Polygon
	tree  plane.Tree[int]
}

func shelfOf(polys []plane.Polygon) *shelf {
	s := &shelf{polys: polys}
	for k, p := range polys {
		s.tree.Insert(p[0].Bounds(), k)
	}
	return s
}

// within are the polygons whose boxes meet box, in their order.
func (s *shelf) within(box plane.Box) []plane.Polygon {
	var out []plane.Polygon
	for _, k := range slices.Sorted(s.tree.In(box)) {
		out = append(out, s.polys[k])
	}
	return out
}
