package ground

import (
	"context"
	"fmt"
	"math"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/geo/workers"
)

// State is what an operation did at a place.
type State uint8

const (
	Missed  State = iota
	Worked        // once or more
	Unknown       // it may have been worked while nothing was logged
)

// Passes are those of one operation, and how they are judged.
type Passes struct {
	Runs []drive.Run
	Work drive.Work
}

// Together is several operations on one field, laid over each other once.
type Together struct {
	Field    float64 // m²
	Residual float64 // m², field less the areas of all kinds
	Kinds    []Kind  // all ground of the field, told apart by what each operation did there
	laid     *plane.Laid
}

// Kind is all ground of the field to which the operations did the same.
type Kind struct {
	States []State // by operation
	Area   float64 // m²
}

// allowedTogether is the largest residual, as a share of the field, that is taken for rounding.
const allowedTogether = 1e-9

// The lanes of operations laid together: the field, and two for each operation.
const (
	laneWhole = iota
	laneFirstWork
	laneFirstUnknown
	lanesEach = 2
)

// LayTogether lays operations at credited width over a field, each in lanes of its own. It satisfies
//
//  1. field = Σ area of the kinds, the left side by shoelace over the boundary, to 1e-9 of the field, else it is an error;
//  2. the ground that an operation worked, Σ area of the kinds where it did, is what Lay finds for it alone;
//  3. all questions about areas are sums over the kinds. None is answered from drawn polygons, whose rounding does not add up.
func LayTogether(ctx context.Context, field []plane.Polygon, operations []Passes, on int) (*Together, error) {
	t := new(Together)
	var all []plane.Outline
	for _, p := range field {
		for _, r := range p {
			line := make(plane.Ring, len(r))
			for i, q := range r {
				line[i] = plane.Snap(q)
			}
			t.Field += line.Area()
			all = append(all, plane.Outline{Line: line, Lane: laneWhole})
		}
	}
	covers := make([][]plane.Outline, len(operations))
	err := workers.Each(ctx, on, len(operations), func(k int) error {
		covers[k] = coversOf(operations[k], laneFirstWork+lanesEach*k)
		return nil
	})
	if err != nil {
		return nil, err
	}
	for _, some := range covers {
		all = append(all, some...)
	}
	if t.laid, err = plane.Lay(ctx, all, on); err != nil {
		return nil, err
	}
	t.Residual = t.Field
	number := map[string]int{}
	for _, k := range t.laid.Kinds {
		states, in := statesOf(k.Counts, len(operations))
		if !in {
			continue
		}
		t.Residual -= k.Area
		name := make([]byte, len(states))
		for i, s := range states {
			name[i] = byte(s)
		}
		n, ok := number[string(name)]
		if !ok {
			n = len(t.Kinds)
			number[string(name)] = n
			t.Kinds = append(t.Kinds, Kind{States: states})
		}
		t.Kinds[n].Area += k.Area
	}
	if !(math.Abs(t.Residual) <= allowedTogether*t.Field) {
		return nil, fmt.Errorf("balance of the field is off by %.3g m²: must be within %.3g m², a billionth of it", t.Residual, allowedTogether*t.Field)
	}
	return t, nil
}

// coversOf are the outlines of an operation, worked ground in lane first, unknown in the next.
func coversOf(p Passes, first int) []plane.Outline {
	var out []plane.Outline
	for _, one := range p.Runs {
		for _, o := range coverOf(barsOf(&one, p.Work.Overlap)) {
			if o.Lane == laneUnknown {
				o.Lane = first + laneFirstUnknown - laneFirstWork
			} else {
				o.Lane = first
			}
			out = append(out, o)
		}
	}
	return out
}

// statesOf are what so many operations did where the lanes count so, and whether it is ground of the field.
func statesOf(counts []int, operations int) ([]State, bool) {
	if counts[laneWhole] <= 0 {
		return nil, false
	}
	states := make([]State, operations)
	for k := range states {
		switch of := counts[min(laneFirstWork+lanesEach*k, len(counts)):]; {
		case len(of) > 0 && of[0] > 0:
			states[k] = Worked
		case len(of) > 1 && of[1] > 0:
			states[k] = Unknown
		}
	}
	return states, true
}

// Draw is the ground of the field that keep holds of, as polygons.
func (t *Together) Draw(ctx context.Context, keep func([]State) bool) (plane.Drawn, error) {
	operations := 0
	if len(t.Kinds) > 0 {
		operations = len(t.Kinds[0].States)
	}
	return t.laid.Draw(ctx, func(counts []int) bool {
		states, in := statesOf(counts, operations)
		return in && keep(states)
	})
}
