package ground

import (
	"context"
	"fmt"
	"math"

	"balk/geo/plane"
)

// Balance is where the ground of the field went, in m².
// It is what the log has: the receiver's error, and ends of work that nothing tells, make missed ground that there is not. Drawn takes that out.
// Field = Missed + Unknown + Once + Twice + More; Swath = worked in field, counted as often as worked, + Outside (depth counted).
type Balance struct {
	Field         float64 `json:"field"`
	Missed        float64 `json:"missed"`
	Unknown       float64 `json:"unknown"`
	Once          float64 `json:"once"`
	Twice         float64 `json:"twice"`
	More          float64 `json:"more"`
	Outside       float64 `json:"outside"`       // ground worked outside the boundary or inside an obstacle, counted once
	Swath         float64 `json:"swath"`         // Σ depth × area, from the passes' own outlines
	Residual      float64 `json:"residual"`      // m², field − (missed + unknown + once + twice + more)
	SwathResidual float64 `json:"swathResidual"` // m², swath − Σ depth × area over the arrangement
}

// allowed is the largest residual, as a share of the field, that is taken for
// rounding. Beyond it the result is wrong and is not handed out.
const allowed = 1e-6

// The classes of the arrangement. The first six occur twice: in the core of the
// field and, shifted by inHeadland, in its headland.
const (
	elsewhere plane.Class = iota
	missedCore
	unknownCore
	onceCore
	twiceCore
	thriceCore
	moreCore // four times or more
	missedHeadland
	unknownHeadland
	onceHeadland
	twiceHeadland
	thriceHeadland
	moreHeadland
	outsideOnce
	outsideTwice
	outsideMore // three times or more

	inHeadland = missedHeadland - missedCore
)

// classify sorts a place by where it lies and how often it was worked.
func classify(headland bool) func(plane.Label) plane.Class {
	return func(l plane.Label) plane.Class {
		depth := l.Count(laneWork)
		if l.Count(laneField) <= 0 {
			return outside(depth)
		}
		c := onceCore + plane.Class(min(depth, 4)-1)
		if depth <= 0 {
			c = missedCore
			if l.Count(laneUnknown) > 0 {
				c = unknownCore
			}
		}
		if headland && l.Count(laneCore) <= 0 {
			c += inHeadland
		}
		return c
	}
}

func outside(depth int) plane.Class {
	if depth <= 0 {
		return elsewhere
	}
	return outsideOnce + plane.Class(min(depth, 3)-1)
}

// set is the set of these classes, each with its headland twin.
func set(core ...plane.Class) plane.ClassSet {
	var s plane.ClassSet
	for _, c := range core {
		s |= 1<<c | 1<<(c+inHeadland)
	}
	return s
}

// The layers that are asked of the arrangement, in this order.
const (
	layerMissed = iota
	layerDouble
	layerTriple
	layerOutside
	layerUnknown
	layerHeadland
	layerMissedHeadland
)

// layerSets are the layers in this order, where they are drawn, and last the headland's missed ground,
// where it has any depth and the tool was lifted somewhere.
func layerSets(headland, drawn, lifted bool) []plane.ClassSet {
	const missed plane.ClassSet = 1 << missedHeadland
	switch {
	case !drawn && headland && lifted:
		return []plane.ClassSet{missed}
	case !drawn:
		return nil
	}
	sets := []plane.ClassSet{
		layerMissed:  set(missedCore),
		layerDouble:  set(twiceCore, thriceCore, moreCore),
		layerTriple:  set(thriceCore, moreCore),
		layerOutside: 1<<outsideOnce | 1<<outsideTwice | 1<<outsideMore,
		layerUnknown: set(unknownCore),
	}
	if headland {
		var all plane.ClassSet
		for c := missedHeadland; c <= moreHeadland; c++ {
			all |= 1 << c
		}
		sets = append(sets, all, missed)
	}
	return sets
}

// ground is what goes into the arrangement.
type ground struct {
	field    []plane.Polygon
	core     []plane.Ring
	headland bool
	work     []plane.Outline // of lanes laneWork and laneUnknown
	swath    float64         // m², summed pass by pass
	workers  int
}

// outlines of the whole question.
func (g ground) outlines() []plane.Outline {
	all := append(make([]plane.Outline, 0, len(g.work)+len(g.field)+len(g.core)), g.work...)
	all = append(all, inLane(g.field, laneField)...)
	for _, r := range g.core {
		all = append(all, plane.Outline{Line: r, Lane: laneCore})
	}
	return all
}

// inLane are the rings of polygons as outlines.
func inLane(polys []plane.Polygon, lane int) []plane.Outline {
	var out []plane.Outline
	for _, p := range polys {
		for _, r := range p {
			out = append(out, plane.Outline{Line: r, Lane: lane})
		}
	}
	return out
}

// balance lays swaths, field and core over each other once. It satisfies
//
//	(1) field = missed + unknown + once + twice + more, the left side by
//	    shoelace over the boundary, the right side summed over the arrangement;
//	(2) swath = Σ depth × area, the left side by shoelace pass by pass.
//
// What either side is short of is the residual; more than a millionth of the
// field is an error. The work is given up, so that its memory is free once the arrangement has its own.
func (g *ground) balance(ctx context.Context, layers []plane.ClassSet) (Balance, plane.Answer, error) {
	all := g.outlines()
	g.work = nil
	got, err := plane.Arrange(ctx, all, plane.Question{Classify: classify(g.headland), Layers: layers, Workers: g.workers})
	if err != nil {
		return Balance{}, plane.Answer{}, err
	}
	both := func(c plane.Class) float64 { return got.Area[c] + got.Area[c+inHeadland] }
	b := Balance{
		Field:   AreaOf(g.field),
		Missed:  both(missedCore),
		Unknown: both(unknownCore),
		Once:    both(onceCore),
		Twice:   both(twiceCore),
		More:    both(thriceCore) + both(moreCore),
		Outside: got.Area[outsideOnce] + got.Area[outsideTwice] + got.Area[outsideMore],
		Swath:   g.swath,
	}
	b.Residual = b.Field - (b.Missed + b.Unknown + b.Once + b.Twice + b.More)
	counted := b.Once + 2*b.Twice + 3*both(thriceCore) + got.Area[outsideOnce] + 2*got.Area[outsideTwice]
	if both(moreCore) > 0 || got.Area[outsideMore] > 0 {
		counted = got.Depth[laneWork] // what the classes do not tell apart
	}
	b.SwathResidual = b.Swath - counted
	for _, r := range []struct {
		name string
		left float64
	}{{"field", b.Residual}, {"swath", b.SwathResidual}} {
		if !(math.Abs(r.left) <= allowed*b.Field) {
			return Balance{}, plane.Answer{}, fmt.Errorf("balance of the %s is off by %.3g m²: must be within %.3g m², a millionth of the field", r.name, r.left, allowed*b.Field)
		}
	}
	return b, got, nil
}

// untouched is the field's ground in m² that neither the swaths (now of the full
// working width) nor unknown ground cover.
func (g ground) untouched(ctx context.Context) (float64, error) {
	g.core = nil
	got, err := g.missed(ctx)
	return got.Area[1], err
}

// missed tells only the missed ground from all other: it is class 1. The work is outlines as coverOf gives them.
func (g ground) missed(ctx context.Context, layers ...plane.ClassSet) (plane.Answer, error) {
	var err error
	if g.work, err = quadsMerged(ctx, g.work); err != nil {
		return plane.Answer{}, err
	}
	return plane.Arrange(ctx, g.outlines(), plane.Question{Workers: g.workers, Layers: layers, Classify: func(l plane.Label) plane.Class {
		if l.Count(laneField) > 0 && l.Count(laneWork) <= 0 && l.Count(laneUnknown) <= 0 {
			return 1
		}
		return 0
	}})
}

// quadsMerged are outlines as coverOf gives them, with single quads that follow each other, which wind nowhere backwards, merged.
func quadsMerged(ctx context.Context, work []plane.Outline) ([]plane.Outline, error) {
	var out []plane.Outline
	for len(work) > 0 {
		n := 0
		for n < len(work) && work[n].Lane == laneWork && len(work[n].Line) <= 4 {
			n++
		}
		few, err := merged(ctx, work[:n])
		if err != nil {
			return nil, err
		}
		out = append(out, few...)
		if work = work[n:]; len(work) > 0 {
			out, work = append(out, work[0]), work[1:]
		}
	}
	return out, nil
}

func AreaOf(polys []plane.Polygon) float64 {
	var sum float64
	for _, p := range polys {
		sum += p.Area()
	}
	return sum
}
