package season

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// Strip is a piece of ground that several operations all missed.
type Strip struct {
	Number    int             `json:"number"`    // 1 = largest
	Area      float64         `json:"area"`      // m²
	Length    float64         `json:"length"`    // m, along its long axis
	MeanWidth float64         `json:"meanWidth"` // m
	MaxWidth  float64         `json:"maxWidth"`  // m, diameter of the largest inscribed circle
	Bearing   geo.Bearing     `json:"bearing"`   // of the long axis, true north, 0 to 180
	At        orb.Point       `json:"at"`        // lon, lat of the centre of the largest inscribed circle
	Beside    []int           `json:"beside"`    // indices in Result.Operations: whose swaths end along a tenth of its rim or more, or may, offsets included
	Surety    coverage.Surety `json:"surety,omitempty"`
	Certain   float64         `json:"certain,omitempty"` // m² that stay missed were the bars of all operations wider by their pass-to-pass error
	Likely    float64         `json:"likely,omitempty"`  // m² that do by half of it, Certain included
	Open      float64         `json:"open,omitempty"`    // m across, by which operations beside it may lie off each other; a narrower strip is not certain
	Shape     plane.Polygon   `json:"-"`                 // on the field's plane
}

// strips fills in the strips of what operations missed together, judged as coverage does those of one operation, with the
// bars of all operations wider by their errors. It satisfies
//
//  1. strips, slivers and strips that are only possible add up to Together.Missed, but for the rounding of what is drawn;
//  2. a strip between operations is never certain where it is narrower, across, than what these may lie off each other;
//  3. beside bars whose error is not known a strip has no surety.
func (r *Result) strips(ctx context.Context, t *Together, field []plane.Polygon, on int) error {
	drawn, err := r.laid.Draw(ctx, t.missed)
	if err != nil {
		return fmt.Errorf("missed by all: %w", err)
	}
	of := make([]ground.Passes, len(t.Operations))
	var runs []drive.Run
	for i, k := range t.Operations {
		of[i] = r.of[k].passes()
		runs = append(runs, of[i].Runs...)
	}
	pieces, err := coverage.PiecesOf(ctx, r.Local, drawn.Polygons, drawn.Dropped, runs, on)
	if err != nil {
		return fmt.Errorf("missed strips: %w", err)
	}
	t.Slivers, t.SliverArea = pieces.Slivers, pieces.SliverArea
	shapes := make([]plane.Polygon, len(pieces.Strips))
	for k, s := range pieces.Strips {
		shapes[k] = s.Shape
	}
	touching, err := ground.Touching(ctx, shapes, of, r.reach(t), on)
	if err != nil {
		return err
	}
	var left [2][]float64 // certain and likely
	for i, share := range [2]float64{1, 0.5} {
		still, err := ground.Still(ctx, field, shapes, of, share, on)
		if err != nil {
			return fmt.Errorf("at credited width + %g × pass-to-pass error: %w", share, err)
		}
		if left[i], err = pieces.Left(ctx, still, on); err != nil {
			return err
		}
	}
	for k, s := range pieces.Strips {
		one := Strip{Area: s.Area, Length: s.Length, MeanWidth: s.MeanWidth, MaxWidth: s.MaxWidth, Bearing: s.Bearing, At: s.At, Shape: s.Shape}
		for _, i := range touching[k].Operations {
			one.Beside = append(one.Beside, t.Operations[i])
		}
		one.Open = r.open(one)
		if !touching[k].Blind {
			one.judge(left[0][k], left[1][k])
		}
		if one.Surety == coverage.SuretyPossible && one.Likely == 0 {
			t.Possible++
			t.PossibleArea += one.Area
			continue
		}
		t.Strips = append(t.Strips, one)
	}
	slices.SortFunc(t.Strips, func(a, b Strip) int {
		return cmp.Or(cmp.Compare(b.Area, a.Area), cmp.Compare(a.At[0], b.At[0]), cmp.Compare(a.At[1], b.At[1]))
	})
	for k := range t.Strips {
		t.Strips[k].Number = k + 1
	}
	return nil
}

// judge says how sure a strip is, of which so many m² are certain and likely by the errors of passes.
func (s *Strip) judge(certain, likely float64) {
	s.Certain = min(certain, s.Area) // drawn polygons are rounded
	s.Likely = min(max(likely, s.Certain), s.Area)
	if s.MaxWidth < s.Open {
		s.Certain = 0
	}
	s.Surety = coverage.SuretyOf(s.Area, s.Certain, s.Likely)
}

// touches: what comes so near to a strip bounds it.
const touches = 0.05 // m

// reach is, for each operation of t, how near to a strip it must come to have a say in it: as near as it may lie off another one.
func (r *Result) reach(t *Together) []float64 {
	out := make([]float64, len(t.Operations))
	for i, k := range t.Operations {
		out[i] = touches
		for _, other := range t.Operations {
			if other != k {
				s := r.shift(k, other)
				out[i] = max(out[i], s.By.Len()+s.Doubt)
			}
		}
	}
	return out
}

// shift is that between two operations, one way or the other.
func (r *Result) shift(a, b int) ground.Offset {
	a, b = min(a, b), max(a, b)
	return r.shifts[b*(b-1)/2+a]
}

// compact: a strip less than so many times as long as it is wide has no direction, and shifts in all directions count.
const compact = 2.0

// open is how far operations beside a strip may lie off each other across it, m.
func (r *Result) open(s Strip) float64 {
	across := r.Local.HeadingOf(s.Bearing).Ahead().Left()
	most := 0.0
	for i, b := range s.Beside {
		for _, a := range s.Beside[:i] {
			by := r.shift(a, b)
			if s.Length < compact*s.MaxWidth {
				most = max(most, by.By.Len()+by.Doubt)
			} else {
				most = max(most, by.Open(across))
			}
		}
	}
	return most
}

// Shift is how far operation B lies off operation A, all of it by one and the same way, as both lie along the boundary at the same
// places. It is not applied: a driver may have driven so.
type Shift struct {
	East  float64 `json:"east"`  // m
	North float64 `json:"north"` // m
	Doubt float64 `json:"doubt"` // m, 95 %, in the direction in which it is known less well
	Seen  bool    `json:"seen"`  // it is beyond its doubt
}

// Towards is the compass direction of a shift, degrees.
func (s Shift) Towards() float64 {
	return math.Mod(math.Atan2(s.East, s.North)*180/math.Pi+360, 360)
}

func (r *Result) findShifts(field []plane.Polygon) {
	rims, errors := make([]ground.Rim, len(r.of)), make([]float64, len(r.of))
	for k, o := range r.of {
		rims[k], errors[k] = ground.RimOf(field, o.passes()), o.passes().Error()
	}
	for i := range r.Pairs {
		p := &r.Pairs[i]
		s := ground.Between(rims[p.A], rims[p.B], errors[p.A], errors[p.B])
		r.shifts = append(r.shifts, s)
		p.Shift = Shift{East: s.By.X, North: s.By.Y, Doubt: s.Doubt, Seen: s.By.Len() > s.Doubt}
	}
}
