package ground

import (
	"context"
	"fmt"
	"math"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/geo/workers"
)

// laneVerge is where Still asks: what is too near to the boundary.
const laneVerge = laneCore

// Still is what of some strips stays missed were the bars of all operations wider by a share of their own pass-to-pass error,
// and their ends of work farther out, as MissedAt has it for one operation; and less what is so near to the boundary. Only bars and stretches of
// the boundary near the strips are laid.
func Still(ctx context.Context, field, strips []plane.Polygon, operations []Passes, share float64, on int) ([]plane.Polygon, error) {
	if len(strips) == 0 {
		return nil, nil
	}
	worst := 0.0
	for _, p := range operations {
		worst = max(worst, p.Error())
	}
	var rims plane.Rims
	rims.AddPolygons(strips)
	verges, err := plane.Verges(field, share*(AgainstBoundary(worst)-worst/2), laneVerge, rims.Meet)
	if err != nil {
		return nil, fmt.Errorf("beside the boundary: %w", err)
	}
	covers := make([][]plane.Outline, len(operations))
	err = workers.Each(ctx, on, len(operations), func(k int) error {
		var room rooms
		for _, one := range operations[k].Runs {
			covers[k] = appendNear(covers[k], room.barsWithin(&one, operations[k].Work.Overlap, share), rims.Meet, 0)
		}
		var err error
		covers[k], err = quadsMerged(ctx, covers[k])
		return err
	})
	if err != nil {
		return nil, err
	}
	all := append(inLane(strips, laneField), verges...)
	for _, some := range covers {
		all = append(all, some...)
	}
	got, err := plane.Arrange(ctx, all, plane.Question{Workers: on, Layers: []plane.ClassSet{1 << 1}, Classify: func(l plane.Label) plane.Class {
		if l.Count(laneField) > 0 && l.Count(laneVerge) <= 0 && l.Count(laneWork) <= 0 && l.Count(laneUnknown) <= 0 {
			return 1
		}
		return 0
	}})
	if err != nil {
		return nil, err
	}
	return got.Layers[0], nil
}

// quadsAtOnce: so many quads that follow each other are looked for together before each of them is.
const quadsAtOnce = 64

// appendNear appends the cover of the bars whose quads come within reach, m, of what is looked for, by their boxes: meets tells whether any of it lies in a
// box. Others may be among them.
func appendNear(to []plane.Outline, bars []bar, meets func(plane.Box) bool, reach float64) []plane.Outline {
	near := func(from, end int) bool {
		box := plane.EmptyBox()
		for _, b := range bars[from : end+1] {
			box = box.Extend(b.left, b.right)
		}
		return meets(box.Grown(reach))
	}
	last := len(bars) - 1 // so many quads
	from := 0             // quads from … i-1 are near
	take := func(i int) {
		if i > from {
			to = append(to, coverOf(bars[from:i+1])...)
		}
		from = i + 1
	}
	for i := 0; i < last; i++ {
		if i%quadsAtOnce == 0 && !near(i, min(i+quadsAtOnce, last)) {
			take(i)
			i += min(quadsAtOnce, last-i) - 1
			from = i + 1
		} else if !near(i, i+1) {
			take(i)
		}
	}
	take(last)
	return to
}

func quadOf(bars []bar, i int) plane.Ring {
	q := quad(bars, i)
	return q[:]
}

// Error is the greatest pass-to-pass error of the passes, m; 0: none is known.
func (p Passes) Error() float64 {
	worst := 0.0
	for _, one := range p.Runs {
		worst = max(worst, one.PassError)
	}
	return worst
}

// Touch is what lies along a strip.
type Touch struct {
	Operations []int // ascending
	Blind      bool  // bars lie along it whose pass-to-pass error is not known, or known as a bound only
}

const (
	// rimStep is how far apart places on the rim of a strip are looked at, or the perimeter over rimPlaces where that is less.
	rimStep   = 1.0 // m
	rimPlaces = 40
	// rimShare of these places must have an operation near for it to lie along the strip: one that only passes its ends does not.
	rimShare = 0.1
)

// Touching tells for each strip which operations come nearer to it than their reach, m, along a tenth of its rim or more.
func Touching(ctx context.Context, strips []plane.Polygon, operations []Passes, reach []float64, on int) ([]Touch, error) {
	var places []plane.XY
	var tree plane.Tree[int]
	first := make([]int, len(strips)+1) // the places of a strip
	for k, s := range strips {
		step := min(rimStep, s.Perimeter()/rimPlaces)
		for _, ring := range s {
			for _, side := range ring.Sides() {
				n := math.Ceil(side.A.Dist(side.B) / step)
				for i := range int(n) {
					at := side.At((float64(i) + 0.5) / n)
					tree.Insert(plane.Box{Min: at, Max: at}, len(places))
					places = append(places, at)
				}
			}
		}
		first[k+1] = len(places)
	}
	const near, blind = 1, 2
	found := make([][]uint8, len(operations))
	err := workers.Each(ctx, on, len(operations), func(k int) error {
		found[k] = make([]uint8, len(places))
		for _, one := range operations[k].Runs {
			bars := barsOf(&one, operations[k].Work.Overlap)
			for i := 0; i+1 < len(bars); i++ {
				if bars[i].next == drive.StepCut {
					continue
				}
				mark := uint8(near)
				if one.Bound || math.IsNaN(one.Parts[one.Stops[i].Part].PassError) || math.IsNaN(one.Parts[one.Stops[i+1].Part].PassError) {
					mark |= blind
				}
				q := plane.Polygon{quadOf(bars, i)}
				for n := range tree.In(q[0].Bounds().Grown(reach[k])) {
					if found[k][n]&mark != mark && within(q, places[n], reach[k]) {
						found[k][n] |= mark
					}
				}
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	out := make([]Touch, len(strips))
	for s := range strips {
		least := rimShare * float64(first[s+1]-first[s])
		for k := range operations {
			along, dark := 0, 0
			for _, m := range found[k][first[s]:first[s+1]] {
				along += int(m & near)
				dark += int(m & blind / blind)
			}
			if float64(along) >= least {
				out[s].Operations = append(out[s].Operations, k)
			}
			out[s].Blind = out[s].Blind || float64(dark) >= least
		}
	}
	return out, nil
}

// within says whether p lies in a quad, or no farther from it than reach.
func within(q plane.Polygon, p plane.XY, reach float64) bool {
	for _, side := range q[0].Sides() {
		if side.Dist2(p) <= reach*reach {
			return true
		}
	}
	return q.Holds(p)
}
