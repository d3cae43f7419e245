package plan

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"balk/geo/plane"
)

// wander is the driving error of passes: one shift aside for each, normal, so that the
// spacing of two neighbours, which is a difference of two, stays within e for 95 % of them.
func wander(e float64, seed uint64) func() float64 {
	rng := rand.New(rand.NewPCG(seed, 11783))
	sigma := e / 1.96 / math.Sqrt2
	return func() float64 { return sigma * rng.NormFloat64() }
}

// wandering is what a candidate comes to if every pass is driven aside by its own
// error. What that changes in missed and double-worked ground is measured on plain bands, with error less
// without, and added to what the engine says: bands count the inner lap of a bend twice, either way.
func (p *Plan) wandering(ctx context.Context, c Candidate, e float64, seed uint64) (Deviation, error) {
	missed, double, err := p.bands(ctx, func() float64 { return 0 })
	if err != nil {
		return Deviation{}, err
	}
	more, twice, err := p.bands(ctx, wander(e, seed))
	if err != nil {
		return Deviation{}, err
	}
	d := c.deviation(fmt.Sprintf("driven with a pass-to-pass error of %g m", e))
	d.Missed = max(0, d.Missed+more-missed)
	d.Double = max(0, d.Double+twice-double)
	return d, nil
}

// The lanes of bands.
const (
	laneField = iota
	laneBand
)

// bands lays a band of credited width along every pass, moved aside by off, over the
// field: m² of field under none and under two or more.
func (p *Plan) bands(ctx context.Context, off func() float64) (missed, double float64, err error) {
	var outlines []plane.Outline
	for _, poly := range p.Field {
		for _, r := range poly {
			outlines = append(outlines, plane.Outline{Line: r, Lane: laneField})
		}
	}
	for _, one := range p.Passes {
		for _, piece := range band(one, credited(p.Implement)/2, off()) {
			outlines = append(outlines, plane.Outline{Line: piece, Lane: laneBand})
		}
	}
	got, err := plane.Arrange(ctx, outlines, plane.Question{Workers: p.Options.Workers, Classify: func(l plane.Label) plane.Class {
		switch {
		case l.Count(laneField) <= 0:
			if l.Count(laneBand) == 0 {
				return 0
			}
			return 3
		case l.Count(laneBand) == 0:
			return 1
		case l.Count(laneBand) > 1:
			return 2
		}
		return 4
	}})
	if err != nil {
		return 0, 0, fmt.Errorf("bands of passes: %w", err)
	}
	return got.Area[1], got.Area[2], nil
}

// band is the ground of a pass, moved aside by off, as rings that run counter-clockwise: one
// for each stretch on which the bar goes ahead at both ends, elsewhere two triangles for each straight. Corners are mitred where
// the bend is gentle. What the rings wind round twice was worked twice.
func band(p Pass, half, off float64) []plane.Ring {
	line := spaced(p.Line)
	n := len(line)
	ends := func(i int, along plane.XY) (right, left plane.XY) {
		before, after := along, along
		if i > 0 {
			before = line[i].Sub(line[i-1])
		} else if p.Round > 0 {
			before = line[0].Sub(line[n-2])
		}
		if i < n-1 {
			after = line[i+1].Sub(line[i])
		} else if p.Round > 0 {
			after = line[1].Sub(line[0])
		}
		facing, wider := mitre(before, after)
		if facing == (plane.XY{}) {
			facing, wider = unit(along), 0
		}
		side := facing.Left().Scale(1 + wider)
		return plane.Snap(line[i].Add(side.Scale(off - half))), plane.Snap(line[i].Add(side.Scale(off + half)))
	}
	var out []plane.Ring
	var right, left plane.Ring // of the stretch so far, forwards
	flush := func() {
		if len(right) > 0 {
			slices.Reverse(left)
			out = append(out, append(right, left...))
		}
		right, left = nil, nil
	}
	for i := 1; i < n; i++ {
		along := line[i].Sub(line[i-1])
		if along.Len() == 0 {
			continue
		}
		r0, l0 := ends(i-1, along)
		r1, l1 := ends(i, along)
		one, two := plane.Ring{r0, r1, l1}, plane.Ring{r0, l1, l0}
		if one.Area() >= 0 && two.Area() >= 0 {
			if k := len(right) - 1; k < 0 || right[k] != r0 || left[k] != l0 {
				flush()
				right, left = plane.Ring{r0}, plane.Ring{l0}
			}
			right, left = append(right, r1), append(left, l1)
			continue
		}
		flush()
		for _, t := range []plane.Ring{one, two} {
			if t.Area() < 0 {
				t[1], t[2] = t[2], t[1]
			}
			out = append(out, t)
		}
	}
	flush()
	return out
}
