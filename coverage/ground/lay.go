package ground

import (
	"context"
	"fmt"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/geo/workers"
)

// Manner is how passes are laid over the ground.
type Manner struct {
	Overlap  float64      // m, taken off the width of every bar
	Relap    float64      // m of travel: a place worked again counts once where less lies between, see swathOf
	Headland float64      // m, depth of the headland; 0 = none
	Lifted   [][]plane.XY // where the set went with the tool lifted, for what the headland lost
	Width    float64      // m, of the lifted tool
	Drawn    bool         // the layers are wanted, and what is missed at full width
	Workers  int
}

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

// Lay lays passes over a field.
func Lay(ctx context.Context, field []plane.Polygon, runs []drive.Run, m Manner) (Laid, error) {
	fail := func(what string, err error) (Laid, error) { return Laid{}, fmt.Errorf("%s: %w", what, err) }
	g := ground{field: field, workers: m.Workers, headland: m.Headland > 0}
	var err error
	if g.headland {
		if g.core, err = plane.InsetRings(ctx, field, m.Headland); err != nil {
			return fail(fmt.Sprintf("headland of %g m", m.Headland), err)
		}
	}
	full := g // before the credited swaths go in
	laid := Laid{Areas: make([]float64, len(runs)), Layers: Layers{Field: field}}
	if err := g.creditSwaths(ctx, runs, m, laid.Areas); err != nil {
		return fail("swath", err)
	}
	sets := layerSets(g.headland, m.Drawn)
	balance, got, err := g.balance(ctx, sets)
	if err != nil {
		return fail("balance", err)
	}
	laid.Balance, laid.Crossings = balance, got.Crossings
	g.work = nil // room for the next
	if m.Drawn {
		laid.takeLayers(got)
		full.work = fullCover(runs)
		if laid.FullMissed, err = full.untouched(ctx); err != nil {
			return fail("missed at full width", err)
		}
	}
	if g.headland { // its missed ground is the last layer
		if laid.Headland, err = headlandLoss(ctx, m, got, got.Layers[len(sets)-1]); err != nil {
			return fail("headland loss", err)
		}
	}
	return laid, nil
}

// creditSwaths works out the swaths at credited width, pass by pass.
func (g *ground) creditSwaths(ctx context.Context, runs []drive.Run, m Manner, areas []float64) error {
	swaths := make([]swath, len(runs))
	err := workers.Each(ctx, m.Workers, len(runs), func(k int) error {
		var err error
		bars, from := barsUpTo(runs, k, m.Overlap, m.Relap)
		swaths[k], err = swathOf(ctx, bars, from, m.Relap)
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
func fullCover(runs []drive.Run) []plane.Outline {
	var out []plane.Outline
	for _, one := range runs {
		out = append(out, coverOf(barsOf(one.Stops, 0))...)
	}
	return out
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
