package ground

import (
	"context"

	"balk/coverage/drive"
	"balk/geo/plane"
)

// HeadlandLoss is what the headland cost, in m².
type HeadlandLoss struct {
	Depth  float64 `json:"depth"`  // m
	Area   float64 `json:"area"`   // m² of headland in the field
	Missed float64 `json:"missed"` // missed ground in the headland
	Lifted float64 `json:"lifted"` // missed ground that was driven over with the tool lifted (part of Missed)
	Twice  float64 `json:"twice"`  // ground in the headland worked twice or more
}

// headlandLoss sums what the headland cost; missed is its missed ground. That counts as driven over
// with the tool lifted where a bar of the full working width went over it
// between two passes.
func headlandLoss(ctx context.Context, w drive.Work, got plane.Answer, missed []plane.Polygon, lifted [][]plane.XY) (HeadlandLoss, error) {
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
	over := liftedCover(lifted, w.Width, missed)
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
func liftedCover(lines [][]plane.XY, width float64, to []plane.Polygon) []plane.Outline {
	var near plane.Tree[struct{}]
	for _, p := range to {
		near.Insert(p[0].Bounds(), struct{}{})
	}
	var out []plane.Outline
	for _, line := range lines {
		run := drive.Along(line, width, 0)
		bars := barsOf(&run, 0)
		for i := range bars[:max(0, len(bars)-1)] {
			q := quad(bars, i)
			touched := false
			for range near.In(plane.EmptyBox().Extend(q[:]...)) {
				touched = true
				break
			}
			if !touched {
				bars[i].next = drive.StepCut
			}
		}
		out = append(out, coverOf(bars)...)
	}
	return out
}
