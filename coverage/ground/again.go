package ground

import (
	"context"
	"math"

	"balk/coverage/drive"
	"balk/geo/plane"
)

// laneLeft is ground that was missed before, in the lanes of an arrangement of re-work.
const laneLeft = laneCore

// Classes of ground under re-work, those with the tool on it counted once.
const (
	classLeft plane.Class = iota + 1
	classCovered
	classUnknown
	classOutside
)

// Before is the ground as an operation left it.
type Before struct {
	Field, Missed, Unknown []plane.Polygon
	Workers                int
}

// Again is what passes over such ground come to, m². Missed and unknown ground, and that outside, count once; Extra is all
// else of the swath: ground that was worked before, as often as the passes go over it, and what they lap.
type Again struct {
	Left, Covered, Extra, Unknown, Outside, Swath float64
}

// Again lays swaths, pass by pass as Once gives them, over the ground as it was left.
func (b Before) Again(ctx context.Context, swaths ...[]plane.Outline) (Again, error) {
	var a Again
	var all []plane.Outline
	for _, outlines := range swaths {
		for _, o := range outlines {
			a.Swath += plane.Ring(o.Line).Area()
		}
		all = append(all, outlines...)
	}
	all = append(all, inLane(b.Field, laneField)...)
	all = append(all, inLane(b.Missed, laneLeft)...)
	all = append(all, inLane(b.Unknown, laneUnknown)...)
	got, err := plane.Arrange(ctx, all, plane.Question{Workers: b.Workers, Classify: classifyAgain})
	if err != nil {
		return Again{}, err
	}
	a.Left, a.Covered = got.Area[classLeft], got.Area[classCovered]
	a.Unknown, a.Outside = got.Area[classUnknown], got.Area[classOutside]
	a.Extra = a.Swath - a.Covered - a.Unknown - a.Outside
	return a, nil
}

func classifyAgain(l plane.Label) plane.Class {
	worked := l.Count(laneWork) > 0
	switch {
	case l.Count(laneLeft) > 0 && worked:
		return classCovered
	case l.Count(laneLeft) > 0:
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

// Once is the ground of a pass, which counts once however often the bar goes over it.
func Once(ctx context.Context, run drive.Run) ([]plane.Outline, error) {
	sw, err := swathOf(ctx, barsOf(&run, 0), 0, math.Inf(1))
	return sw.outlines, err
}

// Cover are outlines that wind round the ground of a pass and nowhere else, once or more often. Nothing needs comparing for
// them.
func Cover(run drive.Run) []plane.Outline { return coverOf(barsOf(&run, 0)) }
