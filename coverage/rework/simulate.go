package rework

import (
	"context"
	"slices"

	"balk/geo/plane"

	"github.com/tidwall/rtree"
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

// tally is what re-work does, m².
type tally struct {
	left, covered, extra, unknown, outside, swath float64
}

// under is the ground as the operation left it.
type under struct {
	field, missed, unknown []plane.Polygon
	workers                int
}

// judge lays re-work over the ground as it was left. Missed and unknown ground, and that
// outside, count once; extra is all else of the swath: ground that was worked before, as often as the
// re-work goes over it, and what the re-work itself laps.
func (u under) judge(ctx context.Context, lines [][]plane.XY, width float64) (tally, error) {
	var t tally
	var all []plane.Outline
	for _, line := range lines {
		rings, err := swathOf(ctx, line, width)
		if err != nil {
			return tally{}, err
		}
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
		return tally{}, err
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
// winding number one. Bars stand square to the sum of the steps beside them, as in the balance of an operation.
func swathOf(ctx context.Context, line []plane.XY, width float64) ([]plane.Ring, error) {
	ring := ringOf(line, width)
	if len(line) == 2 {
		return []plane.Ring{ring}, nil
	}
	n := len(line)
	var quads []plane.Outline
	for i := 0; i+1 < n; i++ {
		quads = append(quads, plane.Outline{Line: plane.Ring{ring[i], ring[i+1], ring[2*n-2-i], ring[2*n-1-i]}})
	}
	return plane.Trace(ctx, quads, func(l plane.Label) bool { return l.Count(0) != 0 })
}

// ringOf runs along the right ends of the bars and back along the left ends.
func ringOf(line []plane.XY, width float64) plane.Ring {
	n := len(line)
	ring := make(plane.Ring, 2*n)
	for i, p := range line {
		var d plane.XY
		if i > 0 {
			d = p.Sub(line[i-1])
		}
		if i+1 < n {
			d = d.Add(line[i+1].Sub(p))
		}
		reach := unit(d).Left().Scale(width / 2)
		ring[i], ring[2*n-1-i] = plane.Snap(p.Sub(reach)), plane.Snap(p.Add(reach))
	}
	return ring
}

func linesOf(runs []run) [][]plane.XY {
	lines := make([][]plane.XY, len(runs))
	for k, r := range runs {
		lines[k] = r.line
	}
	return lines
}

// leftOf is the ground in m² that a cover leaves of its own pieces.
func (w *works) leftOf(ctx context.Context, c cover) (float64, error) {
	u := under{workers: 1}
	for _, p := range c.pieces {
		u.missed = append(u.missed, p.shape)
	}
	t, err := u.judge(ctx, linesOf(c.runs), w.width)
	return t.left, err
}

// simulate works out what the plan leaves of each strip and in all, and what it works
// for nothing.
func (w *works) simulate(ctx context.Context, p *Plan) error {
	all := under{w.r.Layers.Field, w.r.Layers.Missed, w.r.Layers.Unknown, w.r.Work.Workers}
	lines := make([][]plane.XY, len(p.Passes))
	share := make([]tally, len(p.Passes)) // each pass alone
	for k, one := range p.Passes {
		lines[k] = one.Line
		box := plane.EmptyBox().Extend(ringOf(one.Line, w.width)...)
		u := under{w.r.Layers.Field, w.missed.within(box), w.unknown.within(box), 1}
		var err error
		if share[k], err = u.judge(ctx, lines[k:k+1], w.width); err != nil {
			return err
		}
	}
	t, err := all.judge(ctx, lines, w.width)
	if err != nil {
		return err
	}
	p.Covered, p.ExtraDouble, p.Unknown, p.Outside, p.Swath = t.covered, t.extra, t.unknown, t.outside, t.swath
	p.Left = p.Missed - p.Covered
	for k := range p.Chosen {
		if err := w.visit(ctx, p, k, share); err != nil {
			return err
		}
	}
	return nil
}

// visit fills in what becomes of one strip.
func (w *works) visit(ctx context.Context, p *Plan, k int, share []tally) error {
	v := &p.Chosen[k]
	s := w.strip(v.Strip)
	var lines [][]plane.XY
	for _, n := range v.Passes {
		lines = append(lines, p.Passes[n-1].Line)
	}
	t, err := under{missed: []plane.Polygon{s.Shape}, workers: 1}.judge(ctx, lines, w.width)
	if err != nil {
		return err
	}
	v.Covered, v.Left = t.covered, t.left
	for _, n := range v.Passes {
		one := p.Passes[n-1]
		if len(one.Strips) == 1 {
			v.ExtraDouble += share[n-1].extra
			continue
		}
		alone, err := under{missed: []plane.Polygon{s.Shape}, workers: 1}.judge(ctx, [][]plane.XY{one.Line}, w.width)
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
	tree  rtree.RTreeG[int]
}

func shelfOf(polys []plane.Polygon) *shelf {
	s := &shelf{polys: polys}
	for k, p := range polys {
		b := p[0].Bounds()
		s.tree.Insert([2]float64{b.Min.X, b.Min.Y}, [2]float64{b.Max.X, b.Max.Y}, k)
	}
	return s
}

// within are the polygons whose boxes meet box, in their order.
func (s *shelf) within(box plane.Box) []plane.Polygon {
	var at []int
	s.tree.Search([2]float64{box.Min.X, box.Min.Y}, [2]float64{box.Max.X, box.Max.Y}, func(_, _ [2]float64, k int) bool {
		at = append(at, k)
		return true
	})
	slices.Sort(at)
	var out []plane.Polygon
	for _, k := range at {
		out = append(out, s.polys[k])
	}
	return out
}
