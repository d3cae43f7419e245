package coverage

import (
	"context"

	"balk/geo/plane"

	"github.com/tidwall/rtree"
)

// headlandLoss sums what the headland cost; missed is its missed ground. That counts as driven over
// with the tool lifted where a bar of the full working width went over it
// between two passes.
func headlandLoss(ctx context.Context, w Work, got plane.Answer, missed []plane.Polygon, lifted [][]plane.XY) (HeadlandLoss, error) {
	loss := HeadlandLoss{Depth: w.HeadlandDepth(), Missed: got.Area[missedHeadland]}
	for c := missedHeadland; c <= moreHeadland; c++ {
		loss.Area += got.Area[c]
	}
	for c := twiceHeadland; c <= moreHeadland; c++ {
		loss.Twice += got.Area[c]
	}
	if loss.Missed <= 0 {
		return loss, nil
	}
	over := liftedCover(lifted, w, missed)
	if len(over) == 0 {
		return loss, nil
	}
	all := append(over, inLane(missed, laneField)...)
	lay, err := plane.Arrange(ctx, all, plane.Question{Workers: w.Workers, Classify: func(l plane.Label) plane.Class {
		if l.Count(laneField) > 0 && l.Count(laneWork) > 0 {
			return 1
		}
		return 0
	}})
	loss.Lifted = lay.Area[1]
	return loss, err
}

// liftedCover is the ground under the lifted tool at full working width, where it comes near to
// some polygons.
func liftedCover(lines [][]plane.XY, w Work, to []plane.Polygon) []plane.Outline {
	var near rtree.RTreeG[struct{}]
	corners := func(b plane.Box) (lo, hi [2]float64) {
		return [2]float64{b.Min.X, b.Min.Y}, [2]float64{b.Max.X, b.Max.Y}
	}
	for _, p := range to {
		lo, hi := corners(p[0].Bounds())
		near.Insert(lo, hi, struct{}{})
	}
	var out []plane.Outline
	for _, line := range lines {
		stops := make([]stop, 0, len(line))
		for i, p := range line {
			var in, ahead plane.XY
			here := stop{at: p, width: w.Width, next: cut}
			if i > 0 {
				in = p.Sub(line[i-1])
			}
			if i+1 < len(line) {
				ahead, here.next = line[i+1].Sub(p), worked
			}
			stops = barsAt(stops, here, in, ahead, plane.XY{}, false, w.Width)
		}
		bars := barsOf(stops, 0)
		for i := range bars[:max(0, len(bars)-1)] {
			q := quad(bars, i)
			lo, hi := corners(plane.EmptyBox().Extend(q[:]...))
			touched := false
			near.Search(lo, hi, func(_, _ [2]float64, _ struct{}) bool { touched = true; return false })
			if !touched {
				bars[i].next = cut
			}
		}
		out = append(out, coverOf(bars)...)
	}
	return out
}
