package coverage

import (
	"context"

	"balk/geo/plane"
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
	over := liftedCover(lifted, w)
	if loss.Missed <= 0 || len(over) == 0 {
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

// liftedCover is the ground under the lifted tool at full working width.
func liftedCover(lines [][]plane.XY, w Work) []plane.Outline {
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
		out = append(out, coverOf(barsOf(stops, 0))...)
	}
	return out
}
