package plan

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"balk/coverage/ground"
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
func (p *Plan) wandering(ctx context.Context, c Candidate, goal Objective, e float64, seed uint64) (Deviation, error) {
	missed, double, err := p.bands(ctx, func() float64 { return 0 })
	if err != nil {
		return Deviation{}, err
	}
	more, twice, err := p.bands(ctx, wander(e, seed))
	if err != nil {
		return Deviation{}, err
	}
	planned := c.Missed
	c.Missed, c.Double = max(0, c.Missed+more-missed), max(0, c.Double+twice-double)
	c.Open += p.Options.MissedPrice() * (c.Missed - planned) / hectare
	c.spend(p)
	c.Value = goal.of(c)
	return c.deviation(Deviation{What: fmt.Sprintf("driven with a pass-to-pass error of %g m", e), Kind: Wandering, By: e}), nil
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
		outlines = append(outlines, plane.Outline{Line: ground.Ring(spaced(one.Line), credited(p.Implement), off()), Lane: laneBand})
	}
	got, err := plane.Arrange(ctx, outlines, plane.Question{Workers: p.Options.Workers, Classify: func(l plane.Label) plane.Class {
		switch {
		case l.Count(laneField) <= 0:
			return 0
		case l.Count(laneBand) <= 0:
			return 1
		case l.Count(laneBand) > 1:
			return 2
		}
		return 3
	}})
	if err != nil {
		return 0, 0, fmt.Errorf("bands of passes: %w", err)
	}
	return got.Area[1], got.Area[2], nil
}
