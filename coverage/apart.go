package coverage

import (
	"math"

	"balk/coverage/drive"
	"balk/geo/plane"
)

const (
	apartPlaces  = 2000  // that are looked from, at most
	apartEvery   = 5.0   // m of travel between them, at least
	apartChord   = 3.0   // m; their direction is good to 1° with a receiver's 5 cm
	apartFar     = 160.0 // m; beyond it nothing is a neighbour
	apartFirst   = 5.0   // m, the first look; the next goes twice as far
	apartOnTop   = 0.5   // m; nearer lines are the same driven again
	apartRelap   = 15.0  // m of travel: nearer the same pass is no neighbour of itself
	apartEven    = 0.3   // of the median: the middle half of even passes is no broader
	apartSamples = 40
	misfit       = 0.15 // of the width
)

// apartOf is how far neighbouring worked lines lie apart whatever width was given: the median over places spread evenly
// over the way, of the nearest line to either side that runs within 15°, either way. 0 where passes are few, or
// so uneven that it says nothing.
func apartOf(runs []drive.Run, width float64) float64 {
	way := 0.0
	for _, r := range runs {
		way += r.Pass.Length
	}
	lines := centrelines(runs, width, apartChord)
	tree := treeOf(lines)
	every := math.Max(apartEvery, way/apartPlaces)
	var found []float64
	next := every / 2
	for _, line := range lines {
		look := looker{tree: tree, relap: apartRelap, line: line}
		for c := 0; c+1 < len(line.knots); c++ {
			a, b := line.knots[c], line.knots[c+1]
			chord, long := line.chord(c)
			for ; next < long; next += every {
				found = append(found, look.farther(a.at.Lerp(b.at, next/long), chord.Scale(1/long), a.s+next)...)
			}
			next -= long
		}
	}
	if len(found) < apartSamples {
		return 0
	}
	if q := quartiles(found); q[2]-q[0] <= apartEven*q[1] {
		return q[1]
	}
	return 0
}

// farther looks to both sides of p, farther and farther until it sees a line.
func (k *looker) farther(p, d plane.XY, s float64) (off []float64) {
	var done [2]bool
	for reach := apartFirst; reach <= apartFar && !(done[toLeft] && done[toRight]); reach *= 2 {
		k.plan.Planned = reach / farthestNeighbour
		k.search(plane.Box{Min: p, Max: p})
		for side, o := range k.look(p, d, s) {
			if o.pass == 0 || done[side] {
				continue
			}
			if done[side] = true; o.off >= apartOnTop {
				off = append(off, o.off)
			}
		}
	}
	return off
}

// Misfit tells whether neighbouring passes lie so far from what width and overlap would have that another width must have
// worked here, or the overlap is another one.
func (s Spacing) Misfit() bool { return s.Apart > 0 && math.Abs(s.Apart-s.Planned) > misfit*s.Width }
