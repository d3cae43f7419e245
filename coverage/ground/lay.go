package ground

import (
	"context"
	"fmt"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/geo/workers"
)

// Laid is the ground with passes on it.
type Laid struct {
	Balance        Balance
	Areas          []float64    // m² of swath, pass by pass
	Headland       HeadlandLoss // zero Depth: not asked for
	FullMissed     float64      // m² missed at full width; where layers are drawn
	Layers         Layers
	MissedHeadland []plane.Polygon // the part of Layers.Missed in the headland
	Dropped        float64         // m² of Balance.Missed too thin to be drawn
	Crossings      int
}

// Layers are the polygons of the map.
type Layers struct {
	Field, Missed, Double, Triple, Outside, Unknown, Headland []plane.Polygon
}

// Lay lays passes over a field, with the overlap, relap and headland of w. Lifted is where the set went with the tool up,
// which tells what the headland lost. The headland lies along the boundary of around: the field itself, or the field with the ground of obstacles that have no headland about them. Layers, and what is missed at full width, are worked out where they are to be drawn.
func Lay(ctx context.Context, field, around []plane.Polygon, runs []drive.Run, lifted [][]plane.XY, w drive.Work, drawn bool) (Laid, error) {
	fail := func(what string, err error) (Laid, error) { return Laid{}, fmt.Errorf("%s: %w", what, err) }
	depth := w.HeadlandDepth()
	g := ground{field: field, workers: w.Workers, headland: depth > 0}
	var err error
	if g.headland {
		if g.core, err = plane.InsetRings(ctx, around, depth); err != nil {
			return fail(fmt.Sprintf("headland of %g m", depth), err)
		}
	}
	laid := Laid{Areas: make([]float64, len(runs)), Layers: Layers{Field: field}}
	if drawn { // first, while there are no layers yet: it takes most memory
		full := g
		if full.work, err = fullCover(ctx, runs, w.Workers); err != nil {
			return fail("full width", err)
		}
		if laid.FullMissed, err = full.untouched(ctx); err != nil {
			return fail("missed at full width", err)
		}
	}
	if err := g.creditSwaths(ctx, runs, w, laid.Areas); err != nil {
		return fail("swath", err)
	}
	balance, got, err := g.balance(ctx, layerSets(g.headland, drawn, len(lifted) > 0))
	if err != nil {
		return fail("balance", err)
	}
	laid.Balance, laid.Crossings = balance, got.Crossings
	if drawn {
		laid.takeLayers(got)
	}
	if g.headland {
		var missed []plane.Polygon
		if len(got.Layers) > 0 { // it is the last layer
			missed = got.Layers[len(got.Layers)-1]
		}
		if laid.Headland, err = headlandLoss(ctx, w, got, missed, lifted); err != nil {
			return fail("headland loss", err)
		}
	}
	return laid, nil
}

// creditSwaths works out the swaths at credited width, pass by pass.
func (g *ground) creditSwaths(ctx context.Context, runs []drive.Run, w drive.Work, areas []float64) error {
	swaths := make([]swath, len(runs))
	err := workers.Each(ctx, w.Workers, len(runs), func(k int) error {
		var err error
		bars, from := barsUpTo(runs, k, w.Overlap, w.RelapLength())
		swaths[k], err = swathOf(ctx, bars, from, w.RelapLength())
		if err != nil {
			return fmt.Errorf("pass %d: %w", runs[k].Pass.Number, err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for k, sw := range swaths {
		areas[k] = sw.area
		g.swath += sw.area
		g.work = append(g.work, sw.outlines...)
	}
	return nil
}

// fullCover is where the bars went at full working width.
func fullCover(ctx context.Context, runs []drive.Run, on int) ([]plane.Outline, error) {
	return coverAll(ctx, runs, on, func(room *rooms, run *drive.Run) []bar { return room.set.of(run, setting{}) })
}

// takeLayers hands the polygons of the arrangement to the map.
func (d *Laid) takeLayers(got plane.Answer) {
	l := &d.Layers
	l.Missed, l.Double, l.Triple = got.Layers[layerMissed], got.Layers[layerDouble], got.Layers[layerTriple]
	l.Outside, l.Unknown = got.Layers[layerOutside], got.Layers[layerUnknown]
	d.Dropped = got.Dropped[layerMissed] // thinner than the arrangement draws
	if len(got.Layers) > layerHeadland {
		l.Headland, d.MissedHeadland = got.Layers[layerHeadland], got.Layers[layerMissedHeadland]
	}
}
