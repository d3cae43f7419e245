package plane

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/testdata/check"
)

// A second opinion that shares nothing with the engine: the counts of all lanes
// at the middle of every cell of a raster, turned by an odd angle so that no
// row runs along the driving direction.

// counts is how often the outlines of each lane go round a place.
type counts [Lanes]int

// rasterAngle in radians: no multiple of it is near a right angle.
const rasterAngle = 0.3719

// raster sums the area of cells of the given size by class. Along a row of
// cells the counts change only where the row meets an outline.
func raster(outlines []Outline, cellSize float64, classify func(counts) Class) (area [16]float64) {
	type crossing struct {
		x    float64
		lane int
		step int
	}
	box := EmptyBox()
	turned := make([][]XY, len(outlines))
	for i, o := range outlines {
		for _, p := range o.Line {
			turned[i] = append(turned[i], rotate(p, -rasterAngle))
		}
		box = box.Extend(turned[i]...)
	}
	rows := int(math.Ceil((box.Max.Y - box.Min.Y) / cellSize))
	met := make([][]crossing, rows)
	middle := func(row int) float64 { return box.Min.Y + (float64(row)+0.5)*cellSize }
	for i, o := range outlines {
		for k, a := range turned[i] {
			b, step := turned[i][(k+1)%len(turned[i])], -1
			if a.Y > b.Y {
				a, b, step = b, a, 1 // going down on the left: ground to the east is inside
			}
			for row := max(0, int((a.Y-box.Min.Y)/cellSize)-1); row < rows && middle(row) < b.Y; row++ {
				if y := middle(row); y >= a.Y {
					met[row] = append(met[row], crossing{a.X + (y-a.Y)*(b.X-a.X)/(b.Y-a.Y), o.Lane, step})
				}
			}
		}
	}
	for _, row := range met {
		slices.SortFunc(row, func(p, q crossing) int {
			switch {
			case p.x < q.x:
				return -1
			case p.x > q.x:
				return 1
			}
			return 0
		})
		var c counts
		for i, p := range row {
			if i > 0 {
				// Cells whose middle lies between the two crossings.
				from, to := math.Ceil(row[i-1].x/cellSize-0.5), math.Ceil(p.x/cellSize-0.5)
				area[classify(c)] += (to - from) * cellSize * cellSize
			}
			c[p.lane] += p.step
		}
	}
	return area
}

// rasterDiffers compares areas by class with the raster. A cell counts wrongly
// only if the boundary runs through it, so the difference stays below the cell
// size times the length of all outlines.
func rasterDiffers(got [16]float64, outlines []Outline, cellSize float64, classify func(counts) Class) (class int, diff, bound float64, differs bool) {
	want := raster(outlines, cellSize, classify)
	for _, o := range outlines {
		bound += cellSize * Ring(o.Line).Perimeter()
	}
	for class := 1; class < len(want); class++ {
		if diff := math.Abs(got[class] - want[class]); !(diff <= bound) {
			return class, diff, bound, true
		}
	}
	return 0, 0, bound, false
}

// exactCounts reads all lanes of a label.
func exactCounts(l Label) (c counts) {
	for i := range c {
		c[i] = l.Count(i)
	}
	return c
}

// byDepth sorts by how often lane 0 and lane 1 cover a place, whichever way
// round: class 4·min(|lane 0|,3) + min(|lane 1|,3).
func byDepth(c counts) Class {
	return Class(4*min(abs(c[0]), 3) + min(abs(c[1]), 3))
}

func abs(i int) int { return max(i, -i) }

func TestArrangeAgainstRaster(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 2))
	for round := range 60 {
		outlines := wildOutlines(rng, 2+rng.IntN(5), 40)
		answer := mustArrange(t, outlines, Question{Classify: func(l Label) Class { return byDepth(exactCounts(l)) }})
		if class, diff, bound, differs := rasterDiffers(answer.Area, outlines, 0.02, byDepth); differs {
			t.Fatalf("seed %d round %d: class %d differs by %.3f m², bound %.3f m²: %v", seed, round, class, diff, bound, outlines)
		}
	}
}

func TestOperationAgainstRaster(t *testing.T) {
	op := newOperation(1500, 3)
	answer := mustArrange(t, op.outlines, Question{Classify: balanceClass})
	if class, diff, bound, differs := rasterDiffers(answer.Area, op.outlines, 0.05, balanceOf); differs {
		t.Fatalf("class %d differs by %.1f m², bound %.1f m²", class, diff, bound)
	}
}

// The comparer must notice an outline that is missing, doubled, moved or turned
// round, and classes that are exchanged.
func TestRasterCanFail(t *testing.T) {
	square := func(x, y float64, lane int) Outline {
		return Outline{Line: []XY{{x, y}, {x + 10, y}, {x + 10, y + 10}, {x, y + 10}}, Lane: lane}
	}
	outlines := []Outline{square(0, 0, 0), square(5, 5, 0), square(3, -4, 1)}
	truth := raster(outlines, 0.001, byDepth)
	if class, diff, bound, differs := rasterDiffers(truth, outlines, 0.02, byDepth); differs {
		t.Fatalf("the right areas are refused: class %d differs by %.3f m², bound %.3f m²", class, diff, bound)
	}
	if a := truth[4]; math.Abs(a-(150-truth[5])) > 0.1 {
		t.Fatalf("ground covered once by lane 0 alone: %.3f m², with lane 1 %.3f m², want 150 m² together", a, truth[5])
	}
	swapped := truth
	swapped[4], swapped[8] = swapped[8], swapped[4]
	for name, wrong := range map[string][16]float64{
		"one outline missing":  raster(outlines[1:], 0.01, byDepth),
		"one outline twice":    raster(append(slices.Clone(outlines), outlines[2]), 0.01, byDepth),
		"one outline moved":    raster([]Outline{outlines[0], square(5.6, 5.6, 0), outlines[2]}, 0.01, byDepth),
		"one outline reversed": raster([]Outline{outlines[0], {Line: []XY{{5, 15}, {15, 15}, {15, 5}, {5, 5}}}, outlines[2]}, 0.01, byDepth),
		"classes exchanged":    swapped,
		"not a number":         {4: math.NaN()},
		"nothing":              {},
	} {
		if _, _, _, differs := rasterDiffers(wrong, outlines, 0.02, byDepth); !differs {
			t.Errorf("%s: not noticed", name)
		}
	}
}
