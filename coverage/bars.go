package coverage

import (
	"context"
	"math"
	"slices"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo/plane"

	"github.com/tidwall/rtree"
)

// Bars is what became of a set with several bars (rig.Bar), each judged by its own place and state.
type Bars struct {
	All  float64   `json:"all"`  // m² of the field that all of them worked
	Some float64   `json:"some"` // m² that some worked and another missed: between the bars at row ends, and where one was lifted
	Each []BarWork `json:"each"`

	Others []plane.Polygon `json:"-"` // that the first worked and another missed
}

// BarWork is what became of one bar.
type BarWork struct {
	Name     string          `json:"name"`
	Behind   float64         `json:"behind"` // m, behind the middle of the bar that the mount tells of
	Width    float64         `json:"width"`  // m
	Balance  ground.Balance  `json:"balance"`
	Alone    float64         `json:"alone"`             // m² that it missed and another bar worked
	Rows     int             `json:"rows"`              // passes that it has where the first bar has one
	Begins   float64         `json:"begins"`            // m of way, how much farther on than the first bar it begins them, in the middle; below 0: earlier
	Ends     float64         `json:"ends"`              // m, the same for their ends
	OnlyHere int             `json:"onlyHere"`          // passes that it has and the first bar has not
	Strips   []Strip         `json:"strips,omitempty"`  // those of the first bar are those of the operation
	Ribbons  *Ribbons        `json:"ribbons,omitempty"` // what its sweeps left; those of the first bar are those of the operation
	Shapes   []plane.Polygon `json:"-"`                 // of Alone
}

// BarsOf puts together what each bar of a set came to, the first bar first; Name, Behind and Width are left to the caller. BarsOf satisfies:
// (1) bars at one place with one state leave nothing to each other, and begin and end as one; (2) All, Some, and what none worked or is unknown add up
// to the field; (3) the order of the bars changes neither All nor Some.
func BarsOf(ctx context.Context, bars []Result) (Bars, error) {
	left := make([][]plane.Polygon, len(bars)) // missed or unknown
	for k, r := range bars {
		left[k] = slices.Concat(r.Layers.Missed, r.Layers.Unknown)
	}
	var err error
	nobody := left[0] // worked by none, as far as is known
	for _, l := range left[1:] {
		if len(nobody) > 0 {
			if nobody, err = plane.Intersection(ctx, nobody, l); err != nil {
				return Bars{}, err
			}
		}
	}
	out := Bars{Each: make([]BarWork, len(bars))}
	var some []plane.Polygon
	for k, r := range bars {
		b := BarWork{Balance: r.Balance, Shapes: r.Layers.Missed}
		if k > 0 {
			b.Strips, b.Ribbons = r.Strips, r.Ribbons
		}
		if len(nobody) > 0 {
			if b.Shapes, err = plane.Difference(ctx, r.Layers.Missed, nobody); err != nil {
				return Bars{}, err
			}
		}
		b.Alone = ground.AreaOf(b.Shapes)
		b.rowEnds(bars[0], r)
		out.Each[k] = b
		some = append(some, b.Shapes...)
	}
	if some, err = plane.Union(ctx, some, nil); err != nil {
		return Bars{}, err
	}
	rest, err := plane.Union(ctx, slices.Concat(left...), nil)
	if err != nil {
		return Bars{}, err
	}
	if out.Others, err = plane.Difference(ctx, some, left[0]); err != nil {
		return Bars{}, err
	}
	out.Some, out.All = ground.AreaOf(some), bars[0].Balance.Field-ground.AreaOf(rest)
	return out, nil
}

const (
	// sameRow: a bar is lowered no farther than this from where another bar of its set is, for the same row (common practice, no source).
	sameRow = 25.0 // m
	// sameWay: rows driven in one go run within 30° of each other; cos 30°.
	sameWay = 0.87
	// wayFrom: a row's way is that over so much of it; shorter pieces waver.
	wayFrom = 3.0 // m
)

// rowEnd is where a pass begins or ends, and the way it runs there.
type rowEnd struct{ at, way plane.XY }

// rowEndsOf are the begin and the end of a line.
func rowEndsOf(line []plane.XY) [2]rowEnd {
	way := func(from, step int) plane.XY {
		k := from
		for k+step >= 0 && k+step < len(line) && line[k].Dist(line[from]) < wayFrom {
			k += step
		}
		d := line[k].Sub(line[from]).Scale(float64(step))
		if d == (plane.XY{}) {
			return d
		}
		return d.Unit()
	}
	last := len(line) - 1
	return [2]rowEnd{{line[0], way(0, 1)}, {line[last], way(last, -1)}}
}

// rowEnds compares where the passes of a bar begin and end with those of the first bar that lie beside them.
func (b *BarWork) rowEnds(first, own Result) {
	beside := first.Work.Width/2 + own.Work.Width/2
	var trees [2]rtree.RTreeG[rowEnd]
	for _, p := range first.Passes {
		for i, e := range rowEndsOf(p.Line) {
			trees[i].Insert([2]float64{e.at.X, e.at.Y}, [2]float64{e.at.X, e.at.Y}, e)
		}
	}
	var apart [2][]float64
	for _, p := range own.Passes {
		for i, e := range rowEndsOf(p.Line) {
			nearest, on := math.Inf(1), 0.0
			trees[i].Search([2]float64{e.at.X - sameRow, e.at.Y - sameRow}, [2]float64{e.at.X + sameRow, e.at.Y + sameRow}, func(_, _ [2]float64, f rowEnd) bool {
				d := e.at.Sub(f.at)
				if far := d.Len(); far < nearest && e.way.Dot(f.way) >= sameWay && math.Abs(f.way.Cross(d)) < beside {
					nearest, on = far, f.way.Dot(d)
				}
				return true
			})
			if nearest <= sameRow {
				apart[i] = append(apart[i], on)
			}
		}
	}
	b.Rows = len(apart[0])
	for i, to := range []*float64{&b.Begins, &b.Ends} {
		if len(apart[i]) > 0 {
			*to = drive.Median(apart[i])
		}
	}
	b.OnlyHere = len(own.Passes) - b.Rows
}
