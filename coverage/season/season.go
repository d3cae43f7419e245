package season

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"balk/coverage/ground"
	"balk/geo"
	"balk/geo/plane"
)

// Result is what the operations of a season came to on one field.
type Result struct {
	Field      float64    `json:"field"`      // m²
	Operations []Single   `json:"operations"` // in the order given
	All        Together   `json:"all"`        // over all operations, whatever they do
	Each       []Together `json:"each"`       // over those that do the same, for each component that any of them does, as in Components
	Pairs      []Pair     `json:"pairs"`      // any two, the earlier number first
	Residual   float64    `json:"residual"`   // m², field less all that was told apart
	Local      geo.Local  `json:"-"`          // the field's plane
	laid       *ground.Together
	of         []Operation
	shifts     []ground.Offset // by pair
}

// Single is one operation by itself.
type Single struct {
	Name      string      `json:"name"`
	Does      []Component `json:"does"`
	When      time.Time   `json:"when,omitzero"` // zero: not known
	Worked    float64     `json:"worked"`        // m² of the field
	Missed    float64     `json:"missed"`        // m²
	Unknown   float64     `json:"unknown"`       // m² that may have been worked in a log gap
	Direction geo.Bearing `json:"direction"`     // of most of its travel, true north, 0 to 180
	Along     float64     `json:"along"`         // share of its travel that goes within 10° of it; 0 = no travel, and no direction
}

// Together is what several operations did together. Field = Missed + Unknown + Σ Times.
type Together struct {
	Component    Component `json:"component,omitempty"` // that all of them do; "" = any
	Operations   []int     `json:"operations"`          // indices in Result.Operations
	Missed       float64   `json:"missed"`              // m² that all of them missed
	Unknown      float64   `json:"unknown"`             // m² that none worked for sure, and one may have in a log gap
	Times        []float64 `json:"times"`               // m² worked by exactly 1, 2 ... n of them; an operation with a log gap there does not count
	Strips       []Strip   `json:"strips"`              // of the missed ground, largest first
	Slivers      int       `json:"slivers"`             // missed pieces too narrow to list ...
	SliverArea   float64   `json:"sliverArea"`          // ... and their m², part of Missed
	Possible     int       `json:"possible"`            // strips of which nothing is likely: not listed ...
	PossibleArea float64   `json:"possibleArea"`        // ... and their m², part of Missed
}

// Pair is any two operations: field = Both + OnlyA + OnlyB + Neither + Unknown.
type Pair struct {
	A       int     `json:"a"` // index in Result.Operations
	B       int     `json:"b"`
	Both    float64 `json:"both"`    // m² that both worked
	OnlyA   float64 `json:"onlyA"`   // m² that A worked and B missed
	OnlyB   float64 `json:"onlyB"`   // m² that B worked and A missed
	Neither float64 `json:"neither"` // m² that both missed
	Unknown float64 `json:"unknown"` // m² where either may have worked in a log gap and is not known to have
	Angle   float64 `json:"angle"`   // degrees between their directions, 0 to 90; -1 = one has none
	Shift   Shift   `json:"shift,omitzero"`
}

// Of lays operations over a field and tells what they came to. It satisfies
//
//  1. the areas of Single, of Together and of Pair each add up to the field's, to 1e-9 of it, else it is an error;
//  2. the order of the operations changes nothing but that of the lists;
//  3. an operation more never makes what all missed more.
//
// No operation is an error, and so is one that does nothing known or whose work is not valid.
func Of(ctx context.Context, f geo.Field, operations []Operation, on int) (Result, error) {
	if len(operations) == 0 {
		return Result{}, fmt.Errorf("field %q: no operation", f.Name)
	}
	for k, o := range operations {
		if err := o.validate(); err != nil {
			return Result{}, fmt.Errorf("operation %d, %s: %w", k+1, geo.Shown(o.Name), err)
		}
	}
	r := Result{Local: f.Local(), of: operations}
	field := f.OnPlane(r.Local)
	passes := make([]ground.Passes, len(operations))
	for k, o := range operations {
		passes[k] = o.passes()
	}
	var err error
	if r.laid, err = ground.LayTogether(ctx, field, passes, on); err != nil {
		return Result{}, fmt.Errorf("operations together: %w", err)
	}
	r.Field, r.Residual = r.laid.Field, r.laid.Residual
	if !(r.Field > 0) {
		return Result{}, fmt.Errorf("field %q: boundary holds %.6g m²: must be above 0 m²", f.Name, r.Field)
	}
	r.singles()
	r.pairs()
	r.findShifts(field)
	r.All = r.together("")
	if err := r.strips(ctx, &r.All, field, on); err != nil {
		return Result{}, err
	}
	for _, c := range Components {
		t := r.together(c)
		switch len(t.Operations) {
		case 0:
			continue
		case len(operations):
			t = r.All
			t.Component = c
		default:
			if err := r.strips(ctx, &t, field, on); err != nil {
				return Result{}, err
			}
		}
		r.Each = append(r.Each, t)
	}
	return r, nil
}

// singles tells of each operation by itself.
func (r *Result) singles() {
	r.Operations = make([]Single, len(r.of))
	for k, o := range r.of {
		s := &r.Operations[k]
		s.Name, s.Does, s.When = o.Name, o.Does, o.when()
		s.Direction, s.Along = directionOf(o.Runs, r.Local)
		for _, kind := range r.laid.Kinds {
			switch kind.States[k] {
			case ground.Worked:
				s.Worked += kind.Area
			case ground.Missed:
				s.Missed += kind.Area
			case ground.Unknown:
				s.Unknown += kind.Area
			}
		}
	}
}

// together tells of all operations that do c.
func (r *Result) together(c Component) Together {
	t := Together{Component: c}
	for k, o := range r.of {
		if o.does(c) {
			t.Operations = append(t.Operations, k)
		}
	}
	t.Times = make([]float64, len(t.Operations))
	for _, kind := range r.laid.Kinds {
		switch times, open := t.of(kind.States); {
		case times > 0:
			t.Times[times-1] += kind.Area
		case open:
			t.Unknown += kind.Area
		default:
			t.Missed += kind.Area
		}
	}
	return t
}

// of is how many of the operations worked a place, and whether one may have in a log gap.
func (t *Together) of(states []ground.State) (times int, open bool) {
	for _, k := range t.Operations {
		switch states[k] {
		case ground.Worked:
			times++
		case ground.Unknown:
			open = true
		}
	}
	return times, open
}

func (t *Together) missed(states []ground.State) bool { return t.state(states) == ground.Missed }

// pairs tells of any two.
func (r *Result) pairs() {
	for b := range r.of {
		for a := range b {
			p := Pair{A: a, B: b, Angle: -1}
			for _, kind := range r.laid.Kinds {
				switch [2]ground.State{kind.States[a], kind.States[b]} {
				case [2]ground.State{ground.Worked, ground.Worked}:
					p.Both += kind.Area
				case [2]ground.State{ground.Worked, ground.Missed}:
					p.OnlyA += kind.Area
				case [2]ground.State{ground.Missed, ground.Worked}:
					p.OnlyB += kind.Area
				case [2]ground.State{ground.Missed, ground.Missed}:
					p.Neither += kind.Area
				default:
					p.Unknown += kind.Area
				}
			}
			if A, B := r.Operations[a], r.Operations[b]; A.Along > 0 && B.Along > 0 {
				p.Angle = math.Abs(halfTurn(float64(A.Direction - B.Direction)))
			}
			r.Pairs = append(r.Pairs, p)
		}
	}
}

// Doing is what all operations that do c did together; nil: none does.
func (r *Result) Doing(c Component) *Together {
	if i := slices.IndexFunc(r.Each, func(t Together) bool { return t.Component == c }); i >= 0 {
		return &r.Each[i]
	}
	return nil
}

// Main is what all operations that cut did together, or all operations where none does: what they missed is what to go back for.
func (r *Result) Main() *Together {
	if cuts := r.Doing(Cuts); cuts != nil {
		return cuts
	}
	return &r.All
}

// Seeding is seed beside cuts, over all operations, m².
type Seeding struct {
	Both      float64 `json:"both"`
	NeverCut  float64 `json:"neverCut"`  // seeded
	NotSeeded float64 `json:"notSeeded"` // cut
	Unknown   float64 `json:"unknown"`   // where one of the two may have been done in a log gap
}

// SeedAndCut tells whether seed was put where ground was cut; nil: nothing seeds, or nothing cuts.
func (r *Result) SeedAndCut() *Seeding {
	seeds, cuts := r.Doing(Seeds), r.Doing(Cuts)
	if seeds == nil || cuts == nil {
		return nil
	}
	s := new(Seeding)
	for _, kind := range r.laid.Kinds {
		switch seeded, cut := seeds.state(kind.States), cuts.state(kind.States); {
		case seeded == ground.Unknown || cut == ground.Unknown:
			s.Unknown += kind.Area
		case seeded == ground.Worked && cut == ground.Worked:
			s.Both += kind.Area
		case seeded == ground.Worked:
			s.NeverCut += kind.Area
		case cut == ground.Worked:
			s.NotSeeded += kind.Area
		}
	}
	return s
}

// state is what the operations did at a place together.
func (t *Together) state(states []ground.State) ground.State {
	switch times, open := t.of(states); {
	case times > 0:
		return ground.Worked
	case open:
		return ground.Unknown
	}
	return ground.Missed
}

// Since is how long ago the field was worked, on a day.
type Since struct {
	Day    time.Time `json:"day"`
	Days   float64   `json:"days"`             // mean over all ground that was worked by then, each m² as much as any other
	Worked float64   `json:"worked"`           // m² of such ground
	Never  float64   `json:"never"`            // m² of other, log gaps with it
	Last   []Last    `json:"last"`             // by the operation that came last, the latest first
	Untold []int     `json:"untold,omitempty"` // operations whose time is not known: they are left out
}

// Last is the ground on which an operation was the last.
type Last struct {
	Operation int     `json:"operation"` // index in Result.Operations
	Days      float64 `json:"days"`
	Area      float64 `json:"area"` // m²
}

// Since tells how long ago ground was worked by operations that do c, such as Cuts; those after the day are left out. An operation
// has one time, see Operation.When.
func (r *Result) Since(c Component, day time.Time) Since {
	s := Since{Day: day.UTC()}
	last := make([]float64, len(r.of))
	for _, kind := range r.laid.Kinds {
		if k := r.last(kind.States, c, day); k >= 0 {
			last[k] += kind.Area
			s.Worked += kind.Area
		} else {
			s.Never += kind.Area
		}
	}
	for k, area := range last {
		if r.of[k].does(c) && r.Operations[k].When.IsZero() {
			s.Untold = append(s.Untold, k)
		}
		if area > 0 {
			days := day.Sub(r.Operations[k].When).Hours() / 24
			s.Last = append(s.Last, Last{k, days, area})
			s.Days += days * area / s.Worked
		}
	}
	slices.SortFunc(s.Last, func(a, b Last) int { return cmp.Or(cmp.Compare(a.Days, b.Days), cmp.Compare(b.Operation, a.Operation)) })
	return s
}

// Later is s on another day, neither day being before any operation of r: then no place has another last operation.
func (r *Result) Later(s Since, day time.Time) Since {
	s.Day, s.Days, s.Last = day.UTC(), 0, slices.Clone(s.Last)
	for i := range s.Last {
		l := &s.Last[i]
		l.Days = day.Sub(r.Operations[l.Operation].When).Hours() / 24
		s.Days += l.Days * l.Area / s.Worked
	}
	return s
}

// last is the operation that worked a place last by the day; -1: none did.
func (r *Result) last(states []ground.State, c Component, day time.Time) int {
	best := -1
	for k, o := range r.Operations {
		if states[k] == ground.Worked && r.of[k].does(c) && !o.When.IsZero() && !o.When.After(day) && (best < 0 || !o.When.Before(r.Operations[best].When)) {
			best = k
		}
	}
	return best
}

// Part is some ground of the field as polygons on its plane. They are for maps: all areas come from the arrangement.
type Part struct {
	Number int // how often it was worked, or the index of an operation
	Ground []plane.Polygon
}

// WorkedTimes is the ground that operations missed together, and that they worked once, twice and so on; a log gap's is in none.
func (r *Result) WorkedTimes(ctx context.Context, t Together) ([]Part, error) {
	numbers := make([]int, len(t.Operations)+1)
	for n := range numbers {
		numbers[n] = n
	}
	return r.parts(ctx, numbers, func(states []ground.State) int {
		times, open := t.of(states)
		if times == 0 && open {
			return -1
		}
		return times
	})
}

// WorkedLast is the ground of Since by the operation that came last, in the order of Since.Last.
func (r *Result) WorkedLast(ctx context.Context, c Component, s Since) ([]Part, error) {
	var numbers []int
	for _, l := range s.Last {
		numbers = append(numbers, l.Operation)
	}
	return r.parts(ctx, numbers, func(states []ground.State) int { return r.last(states, c, s.Day) })
}

// parts draws the ground of each number.
func (r *Result) parts(ctx context.Context, numbers []int, of func([]ground.State) int) ([]Part, error) {
	out := make([]Part, len(numbers))
	for i, n := range numbers {
		drawn, err := r.laid.Draw(ctx, func(states []ground.State) bool { return of(states) == n })
		if err != nil {
			return nil, err
		}
		out[i] = Part{n, drawn.Polygons}
	}
	return out, nil
}
