package plane

import (
	"context"
	"errors"
	"fmt"

	"balk/geo/workers"
)

// Lanes is how many kinds of outline Arrange counts apart; Lay counts as many as there are.
const Lanes = 4

// Outline is a closed line that adds one to the count of its lane at every
// point it winds round once counter-clockwise, and takes one off for clockwise.
// It may cross itself, touch itself and repeat points; the last point joins
// the first.
type Outline struct {
	Line []XY
	Lane int // 0 to Lanes-1 for Arrange, any from 0 on for Lay
}

// Label says how often a place is covered, lane by lane.
type Label uint64

// Class is what a Label means to the caller: 0 to 15. The unbounded outside,
// where all counts are zero, must be class 0.
type Class uint8

// ClassSet is a set of classes, one bit each: 1<<class.
type ClassSet uint16

// Question says what is wanted of an arrangement.
type Question struct {
	// Classify sorts places into classes. It is called from several goroutines
	// and must be pure; Classify of all-zero counts must be 0.
	Classify func(Label) Class
	// Layers are the sets of classes whose polygons are wanted. None: areas only.
	Layers []ClassSet
	// Workers is how many goroutines may run; 0 = one per processor. The answer
	// does not depend on it.
	Workers int
	// Sliver: rings with 2·area/perimeter below it (metres) are left out of the
	// layers and summed in Dropped. 0 = 0.2 mm. It does not touch Area.
	Sliver float64
}

// Answer is what an arrangement found.
type Answer struct {
	Area      [16]float64    // m² by class; class 0, the unbounded outside, is left at 0
	Outlines  [Lanes]float64 // m² summed over the outlines of each lane, by shoelace
	Depth     [Lanes]float64 // m² of all places by how often each lane covers them; where it does so less than no time, none
	Layers    [][]Polygon    // one list per set of Question.Layers, valid, closed, outer rings counter-clockwise
	Dropped   []float64      // m² of slivers left out, per layer
	Crossings int            // how many crossings the outlines have
}

// Arrange lays all outlines over each other and answers q.
//
//  1. Every decision is exact on the lattice; input that lies exactly on one
//     line or in one point is told apart symbolically.
//  2. Σ over classes of Area equals the area inside at least one outline.
//  3. The answer depends neither on the order of the outlines nor on Workers.
//  4. Each crossing is checked to give the same cover along both its lines; a
//     contradiction is an error, never an answer.
//  5. Layers are valid polygons: closed rings that neither cross nor overlap and
//     touch at single points at most, in metres; where edges come nearer than
//     0.5 mm they are rounded to an eighth of a millimetre.
//
// The way: copy to the lattice, index runs of edges in a grid turned into the
// driving direction, find all crossings, sort them along their outlines, carry
// the cover along each outline, sum areas while walking, link fragments to
// rings. O(n + k) in practice for n points and k crossings. Errors: coordinates
// that are not finite or beyond Limit, a lane out of range, a stack of more
// than 16383 outlines, ctx done.
func Arrange(ctx context.Context, outlines []Outline, q Question) (Answer, error) {
	if q.Classify == nil {
		return Answer{}, errors.New("question: Classify is missing")
	}
	if c := q.Classify(Label(bias)); c != 0 {
		return Answer{}, fmt.Errorf("question: the unbounded outside has class %d: must be 0", c)
	}
	ans := Answer{Layers: make([][]Polygon, len(q.Layers)), Dropped: make([]float64, len(q.Layers))}
	a := inFourLanes()
	if err := a.solve(ctx, outlines, q.Workers, q.Classify, &ans); err != nil {
		return Answer{}, err
	}
	if len(a.weight) == 0 {
		return ans, nil
	}
	ans.Crossings = len(a.cross)
	a.chunks, a.grid = nil, grid{}
	sliver := q.Sliver
	if sliver == 0 {
		sliver = defaultSliver
	}
	layers := make([]layer, len(q.Layers))
	each := func(draw func(k int) error) error {
		return workers.Each(ctx, a.workers, len(layers), func(k int) error {
			if err := draw(k); err != nil {
				return fmt.Errorf("layer %d: %w", k+1, err)
			}
			return nil
		})
	}
	err := each(func(k int) error {
		layers[k] = layer{a: a, sides: a.sides, set: q.Layers[k], sliver: sliver}
		return layers[k].collect()
	})
	if err != nil {
		return Answer{}, err
	}
	*a = arrangement{workers: a.workers} // its memory is wanted for polygons
	err = each(func(k int) (err error) {
		ans.Layers[k], err = layers[k].polygons()
		ans.Dropped[k] = layers[k].dropped
		return err
	})
	if err != nil {
		return Answer{}, err
	}
	return ans, nil
}

// inFourLanes is an arrangement whose labels hold the counts of four lanes themselves.
func inFourLanes() *arrangement {
	return &arrangement{lanes: Lanes, weigh: func(lane int) uint64 { return 1 << (laneBits * lane) }, outside: bias}
}

// solve goes from outlines to areas. Where no outline winds round anything,
// nothing is there to draw and a.weight is empty.
func (a *arrangement) solve(ctx context.Context, outlines []Outline, workers int, classify func(Label) Class, ans *Answer) error {
	return a.cut(ctx, outlines, workers, func() error { return a.sum(classify, ans) })
}

// cut cuts the outlines at each other, labels what lies beside them, and hands over to another stage.
func (a *arrangement) cut(ctx context.Context, outlines []Outline, workers int, then func() error) error {
	if err := a.load(outlines, workers); err != nil || len(a.weight) == 0 {
		return err
	}
	for _, stage := range []func() error{
		func() error { a.frame(); a.chop(); return nil },
		func() error { a.index(); return nil },
		func() error { return a.find(ctx) },
		func() error { a.gather(); return a.label() },
		then,
	} {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := stage(); err != nil {
			return err
		}
	}
	return nil
}

// defaultSliver is the narrowest ring worth drawing, 0.2 mm: just above the
// grid of the repair.
const defaultSliver = 2e-4
