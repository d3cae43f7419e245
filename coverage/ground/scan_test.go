package ground

import (
	"cmp"
	"math"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

const (
	// scanStep apart run the lines of a scan.
	scanStep = 0.002 // m
	// scanShare of the field is what a scan is good to: edges are straight, so only
	// the ends of edges within a step err, by some step² each. Seen: 5e-8.
	scanShare = 3e-7
)

// scanOf is the third opinion, the judge where two engines differ: the areas of
// the balance by lines 2 mm apart. On each line the places where outlines cross
// it are sorted and the winding numbers counted up; it shares no code with either.
func scanOf(t *testing.T, f geo.Field, tracks []geo.Track, w drive.Work) opinion {
	t.Helper()
	runs := runsOf(t, f, tracks, w)
	g := ground{field: f.OnPlane(f.Local())}
	if err := g.creditSwaths(t.Context(), runs, w, make([]float64, len(runs))); err != nil {
		t.Fatal(err)
	}
	return scan(g.outlines())
}

// cutting is where an edge crosses a line of the scan.
type cutting struct {
	x        float64
	lane, by int // what the lane's winding number changes by to the right of x
}

// scan turns the ground by an odd angle first: of an edge that runs with the lines
// a whole strip may be counted or not.
func scan(outlines []plane.Outline) opinion {
	sin, cos := math.Sincos(0.3719)
	box := plane.EmptyBox()
	outlines = slices.Clone(outlines)
	for n, o := range outlines {
		line := make([]plane.XY, len(o.Line))
		for i, p := range o.Line {
			line[i] = plane.XY{X: cos*p.X - sin*p.Y, Y: sin*p.X + cos*p.Y}
		}
		outlines[n].Line = line
		box = box.Extend(line...)
	}
	rows := make([][]cutting, int((box.Max.Y-box.Min.Y)/scanStep)+1)
	for _, o := range outlines {
		for i, a := range o.Line {
			b, by := o.Line[(i+1)%len(o.Line)], -1 // an edge up has the inside to its left
			if a.Y > b.Y {
				a, b, by = b, a, 1
			}
			for k := max(0, int(math.Ceil((a.Y-box.Min.Y)/scanStep-0.5))); k < len(rows); k++ {
				y := box.Min.Y + (float64(k)+0.5)*scanStep
				if y >= b.Y {
					break
				}
				rows[k] = append(rows[k], cutting{a.X + (y-a.Y)/(b.Y-a.Y)*(b.X-a.X), o.Lane, by})
			}
		}
	}
	var o opinion
	for _, row := range rows {
		slices.SortFunc(row, func(a, b cutting) int { return cmp.Compare(a.x, b.x) })
		var wind [4]int
		for i := 0; i+1 < len(row); i++ {
			wind[row[i].lane] += row[i].by
			area := (row[i+1].x - row[i].x) * scanStep
			switch depth := wind[laneWork]; {
			case wind[laneField] <= 0 && depth > 0:
				o.outside += area
			case wind[laneField] <= 0:
			case depth > 1:
				o.double += area
			case depth <= 0 && wind[laneUnknown] > 0:
				o.unknown += area
			case depth <= 0:
				o.missed += area
			}
		}
	}
	return o
}

// The scan agrees with a person: half of a field worked, a quarter twice, a corner
// outside.
func TestScan(t *testing.T) {
	box := func(lane int, x0, y0, x1, y1 float64) plane.Outline {
		return plane.Outline{Lane: lane, Line: trial.Rectangle(x0, y0, x1, y1)}
	}
	got := scan([]plane.Outline{box(laneField, 0, 0, 20, 10), box(laneWork, 0, 0, 10, 10), box(laneWork, 5, 0, 10, 10.5), box(laneUnknown, 10, 0, 12, 10)})
	for name, v := range map[string][2]float64{"missed": {got.missed, 80}, "double": {got.double, 50}, "outside": {got.outside, 2.5}, "unknown": {got.unknown, 20}} {
		if math.Abs(v[0]-v[1]) > 0.05 {
			t.Errorf("%s: %.4f m², want %g m²", name, v[0], v[1])
		}
	}
}
