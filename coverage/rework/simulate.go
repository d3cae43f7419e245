package rework

import (
	"context"
	"slices"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo/plane"
	"balk/geo/workers"
)

// leftOf is the ground in m² that a cover leaves of its own pieces.
func (w *works) leftOf(ctx context.Context, c cover) (float64, error) {
	before := ground.Before{Workers: 1}
	for _, p := range c.pieces {
		before.Missed = append(before.Missed, p.shape)
	}
	swaths := make([][]plane.Outline, len(c.runs))
	for k, r := range c.runs {
		swaths[k] = ground.Cover(drive.Along(r.line, w.width, 0)) // it may lap itself, which does not matter here
	}
	t, err := before.Again(ctx, swaths...)
	return t.Left, err
}

// simulate works out what the plan leaves of each strip and in all, and what it works
// for nothing.
func (w *works) simulate(ctx context.Context, p *Plan) error {
	swaths := make([][]plane.Outline, len(p.Passes))
	share := make([]ground.Again, len(p.Passes)) // each pass alone
	err := workers.Each(ctx, w.r.Work.Workers, len(p.Passes), func(k int) (err error) {
		line := p.Passes[k].Line
		if swaths[k], err = ground.Once(ctx, drive.Along(line, w.width, 0)); err != nil {
			return err
		}
		box := plane.EmptyBox().Extend(ground.Ring(line, w.width, 0)...)
		share[k], err = ground.Before{Field: w.r.Layers.Field, Missed: w.missed.within(box), Unknown: w.unknown.within(box), Workers: 1}.Again(ctx, swaths[k])
		return err
	})
	if err != nil {
		return err
	}
	all := ground.Before{Field: w.r.Layers.Field, Missed: w.r.Layers.Missed, Unknown: w.r.Layers.Unknown, Workers: w.r.Work.Workers}
	t, err := all.Again(ctx, swaths...)
	if err != nil {
		return err
	}
	p.Covered, p.ExtraDouble, p.Unknown, p.Outside, p.Swath = t.Covered, t.Extra, t.Unknown, t.Outside, t.Swath
	p.Left = p.Missed - p.Covered
	return workers.Each(ctx, w.r.Work.Workers, len(p.Chosen), func(k int) error { return w.visit(ctx, p, k, swaths, share) })
}

// visit fills in what becomes of one strip.
func (w *works) visit(ctx context.Context, p *Plan, k int, swaths [][]plane.Outline, share []ground.Again) error {
	v := &p.Chosen[k]
	strip := ground.Before{Missed: []plane.Polygon{w.strip(v.Strip).Shape}, Workers: 1}
	var own [][]plane.Outline
	for _, n := range v.Passes {
		own = append(own, swaths[n-1])
	}
	t, err := strip.Again(ctx, own...)
	if err != nil {
		return err
	}
	v.Covered, v.Left = t.Covered, t.Left
	for _, n := range v.Passes {
		if len(p.Passes[n-1].Strips) == 1 {
			v.ExtraDouble += share[n-1].Extra
			continue
		}
		alone, err := strip.Again(ctx, swaths[n-1])
		if err != nil {
			return err
		}
		if share[n-1].Covered > 0 {
			v.ExtraDouble += share[n-1].Extra * alone.Covered / share[n-1].Covered
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
