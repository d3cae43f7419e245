package turn

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

// Ends are all row ends of a field worked in one direction, judged.
type Ends struct {
	HeadlandDepth float64  `json:"headlandDepth"` // m
	Rows          int      `json:"rows"`
	Ends          []RowEnd `json:"ends"`          // in the order of rows; the last row needs no turn
	Infeasible    int      `json:"infeasible"`    // of them
	Field         float64  `json:"field"`         // m²
	Headland      float64  `json:"headland"`      // m², between boundary and core
	HeadlandShare float64  `json:"headlandShare"` // of the field, 0 to 1
}

// RowEnd is one end of a row with the turn into the next row.
type RowEnd struct {
	Row  int      `json:"row"`  // from 1, from left to right as seen in the driving direction
	Next int      `json:"next"` // the row turned into
	Far  bool     `json:"far"`  // the end in the driving direction; false: the other one
	At   plane.XY `json:"at"`   // m, middle of the row on its end
	Turn Turn     `json:"turn"` // the quickest feasible, else the one that is least short
	// WayOut is what would help; nil where the turn is feasible.
	WayOut *WayOut `json:"wayOut,omitempty"`

	line Line
	run  int // of the row
}

// WayOut is what makes an infeasible turn feasible. Zero values: that does not.
type WayOut struct {
	Skip     int     `json:"skip,omitempty"`     // leave so many rows for later
	SkipKind Kind    `json:"skipKind,omitempty"` // and turn like this
	Backing  Kind    `json:"backing,omitempty"`  // a turn that would fit if the set might reverse
	Deeper   float64 `json:"deeper,omitempty"`   // m, end both rows so much earlier, along the rows; within Resolution
	Kind     Kind    `json:"kind,omitempty"`     // and turn like this
}

const (
	// Resolution is how exactly depths are searched, m: a wheel's width of headland is nothing that
	// anyone marks more exactly.
	Resolution = 0.05
	farSkip    = 5   // rows tried to be left for later; more is another order of work
	farBack    = 3.0 // how many times what is short rows are ended earlier, before it is given up
)

// course is a question to a whole field: what stays the same for all depths.
type course struct {
	judge
	field  []plane.Polygon
	room   *Room
	area   float64     // m²
	frame  plane.Frame // of the rows
	ahead  geo.Heading
	spaced float64 // m, credited width
}

func newCourse(field []plane.Polygon, im rig.Implement, heading geo.Heading) (*course, error) {
	j, err := newJudge(im)
	if err != nil {
		return nil, err
	}
	if !(math.Abs(float64(heading)) <= mostTurned) {
		return nil, fmt.Errorf("heading of the rows %g rad: must be within ±%g rad", float64(heading), mostTurned)
	}
	c := &course{judge: j, field: field, ahead: heading, frame: plane.Frame{Ahead: heading.Ahead()}, spaced: nano(im.Width - im.Overlap)}
	if c.room, err = NewRoom(field); err != nil {
		return nil, err
	}
	for _, p := range field {
		for i, r := range p {
			if a := math.Abs(r.Area()); i == 0 {
				c.area += a
			} else {
				c.area -= a
			}
		}
	}
	return c, nil
}

// FieldEnds lays rows of the heading over the field's core, what is left inside a headland of the given
// depth (m) round boundary and obstacles, and judges at every row end the turn into the next row.
//
//  1. Rows are spaced by the credited width. A row is worked as far as the core reaches under any of its
//     width, so at a slanting boundary the ends are staggered.
//  2. The whole field minus its obstacles is the room to turn in, the ground under the rows too.
//  3. A row stops at a core that does not reach through it, and the next row of its end is the one whose
//     end on that side is nearest; ends with no row beside them have no turn.
//  4. Moving and turning field and heading together changes no number.
//
// Each row goes over ground that is core somewhere under its width. Where depth is less than the implement's
// width a row may so come near a boundary beside it; that is not judged here. Cutting in, ground swept and how the set
// comes into the next row are left out: Judge gives them for one turn.
//
// Errors: im lacks what turning needs (*Lacking); a field without a boundary, depth below 0, no core left; ctx done.
func FieldEnds(ctx context.Context, field []plane.Polygon, im rig.Implement, depth float64, heading geo.Heading) (Ends, error) {
	c, err := newCourse(field, im, heading)
	if err != nil {
		return Ends{}, err
	}
	rows, e, err := c.rows(ctx, depth)
	if err != nil {
		return Ends{}, err
	}
	for end := range c.ends(rows, 0) {
		if err := ctx.Err(); err != nil {
			return Ends{}, err
		}
		end.Turn, err = c.best(end.line, 0)
		if err != nil {
			return Ends{}, err
		}
		if !end.Turn.Feasible {
			e.Infeasible++
			if end.WayOut, err = c.wayOut(rows, end); err != nil {
				return Ends{}, err
			}
		}
		end.Turn.Driven = nil // a field has hundreds; Judge gives it back for one
		e.Ends = append(e.Ends, end)
	}
	return e, nil
}

// rows lays the rows out and fills what is known without a turn.
func (c *course) rows(ctx context.Context, depth float64) ([]row, Ends, error) {
	core, err := plane.Inset(ctx, c.field, depth)
	if err != nil {
		return nil, Ends{}, fmt.Errorf("headland: %w", err)
	}
	if len(core) == 0 {
		return nil, Ends{}, fmt.Errorf("headland depth %.6g m: leaves no field inside", depth)
	}
	left := 0.0
	for _, p := range core {
		left += p.Area()
	}
	rows := rowsOver(core, c.frame, c.spaced)
	return rows, Ends{HeadlandDepth: depth, Rows: len(rows), Field: c.area, Headland: c.area - left, HeadlandShare: 1 - left/c.area}, nil
}

// ends calls f for the ends of all rows that have another row so many farther on.
func (c *course) ends(rows []row, skip int) func(yield func(RowEnd) bool) {
	return func(yield func(RowEnd) bool) {
		for i := range rows {
			for k := range rows[i].runs {
				for _, far := range [2]bool{true, false} {
					if e, ok := c.end(rows, i, k, skip, far); ok && !yield(e) {
						return
					}
				}
			}
		}
	}
}

// end is one end of run k of row i, with the row skip+1 farther on.
func (c *course) end(rows []row, i, k, skip int, far bool) (RowEnd, bool) {
	next := i + skip + 1
	if next >= len(rows) {
		return RowEnd{}, false
	}
	this := rows[i].runs[k]
	side := func(r run) float64 {
		if far {
			return r.to
		}
		return r.from
	}
	var to run
	nearest := math.Inf(1)
	for _, r := range rows[next].runs {
		beside := r.from < this.to && r.to > this.from
		if off := math.Abs(side(r) - side(this)); beside && off < nearest {
			nearest, to = off, r
		}
	}
	if math.IsInf(nearest, 1) || nearest > mostApart/2 {
		return RowEnd{}, false
	}
	e := RowEnd{Row: i + 1, run: k, Next: next + 1, Far: far, At: c.frame.From(plane.XY{X: side(this), Y: -rows[i].middle})}
	e.line = Line{From: Pose{e.At, c.ahead}, Distance: nano(rows[next].middle - rows[i].middle), Stagger: nano(side(to) - side(this))}
	if !far { // looked at from the other side, the next row lies to the left
		e.line.From.Heading += math.Pi
		e.line.Left, e.line.Stagger = true, -e.line.Stagger
	}
	return e, true
}

// best is the quickest feasible turn, or the one that is least short.
func (c *course) best(l Line, skip int) (Turn, error) {
	var ways []trial
	for _, k := range Kinds() {
		of, err := c.ways(k, l, 0)
		if err != nil {
			return Turn{}, err
		}
		ways = append(ways, of...)
	}
	// Where two kinds come to the same path the first one stands.
	slices.SortStableFunc(ways, func(a, b trial) int { return cmp.Compare(math.Round(a.Time/sameTime), math.Round(b.Time/sameTime)) })
	best := Turn{RowDistance: l.Distance, Why: "no kind of turn serves", Place: l.From.At}
	for _, w := range ways {
		if len(w.path.Pieces) == 0 || w.Reason == NoGear {
			continue
		}
		// A run-in only makes it longer.
		if best.Feasible && (w.Time > best.Time+sameTime || w.Time > best.Time-sameTime && w.Kind != best.Kind) {
			continue
		}
		t, err := c.judge.judge(w, l, c.room.Fit)
		if err != nil {
			return Turn{}, err
		}
		if t.better(best) || best.Driven == nil {
			best = t
		}
	}
	best.Skip = skip
	return best, nil
}

// wayOut looks for help at an end where no turn into the next row is feasible.
func (c *course) wayOut(rows []row, e RowEnd) (*WayOut, error) {
	w := &WayOut{}
	for skip := 1; skip <= farSkip; skip++ {
		further, ok := c.end(rows, e.Row-1, e.run, skip, e.Far)
		if !ok {
			break
		}
		t, err := c.best(further.line, skip)
		if err != nil {
			return nil, err
		}
		if t.Feasible {
			w.Skip, w.SkipKind = skip, t.Kind
			break
		}
	}
	freely := c.judge
	freely.freely = true
	for _, k := range Kinds() {
		if !k.Reverses() || c.backs && c.speeds.Reversing > 0 {
			continue
		}
		t, err := freely.of(k, e.line, 0, c.room.Fit)
		if err != nil {
			return nil, err
		}
		if t.Feasible {
			w.Backing = k
			break
		}
	}
	return w, c.deeper(e, w)
}

// deeper ends both rows earlier until the turn that is least short fits.
func (c *course) deeper(e RowEnd, w *WayOut) error {
	if e.Turn.barred() {
		return nil
	}
	fits := func(back float64) (bool, error) {
		l := e.line
		l.From = l.From.Moved(-back, 0, 0)
		t, err := c.of(e.Turn.Kind, l, e.Turn.RunIn, c.room.Fit)
		return t.Feasible, err
	}
	lo, hi := 0.0, max(Resolution, -e.Turn.Spare)
	for most := farBack * hi; ; hi = min(2*hi, most) {
		ok, err := fits(hi)
		if err != nil {
			return err
		}
		if ok {
			break
		}
		if lo = hi; hi >= most {
			return nil
		}
	}
	// Where the boundary runs square to the rows what is short is the answer: less by Resolution does not do.
	if less := hi - Resolution; less > lo {
		ok, err := fits(less)
		if err != nil {
			return err
		}
		if ok {
			hi = less
		} else {
			lo = less
		}
	}
	w.Kind = e.Turn.Kind
	var err error
	w.Deeper, err = halved(lo, hi, fits)
	return err
}

// halved halves the range between a depth that does not serve and one that does, to Resolution, and gives the one that does.
func halved(lo, hi float64, serves func(depth float64) (bool, error)) (float64, error) {
	for hi-lo > Resolution {
		mid := (lo + hi) / 2
		ok, err := serves(mid)
		if err != nil {
			return 0, err
		}
		if ok {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi, nil
}

// Least is the least headland depth at which every row end of a field has a feasible turn
// into the next row.
type Least struct {
	Found bool    `json:"found"`
	Depth float64 `json:"depth,omitempty"` // m, within Resolution
	Limit float64 `json:"limit"`           // m, the deepest tried
	Ends  Ends    `json:"ends,omitzero"`   // at that depth
}

// LeastHeadland searches the least headland depth up to limit (m) at which all row ends are feasible, by halving
// to Resolution between a depth that serves and one that does not. Another depth moves all rows, so that a
// narrow range of depths that happens to serve below the one given may be passed over; the one given serves.
// Errors as FieldEnds; limit not above 0.
func LeastHeadland(ctx context.Context, field []plane.Polygon, im rig.Implement, heading geo.Heading, limit float64) (Least, error) {
	if !(limit > 0 && limit <= mostApart) {
		return Least{}, fmt.Errorf("deepest headland %g m: must be above 0 and at most %g m", limit, mostApart)
	}
	c, err := newCourse(field, im, heading)
	if err != nil {
		return Least{}, err
	}
	out := Least{Limit: limit}
	lo, hi := 0.0, min(limit, c.spaced)
	for {
		ok, core, err := c.serves(ctx, hi)
		if err != nil {
			return Least{}, err
		}
		if ok {
			break
		}
		if !core || hi >= limit {
			return out, nil
		}
		lo, hi = hi, min(limit, hi+c.spaced)
	}
	hi, err = halved(lo, hi, func(depth float64) (bool, error) {
		ok, _, err := c.serves(ctx, depth)
		return ok, err
	})
	if err != nil {
		return Least{}, err
	}
	out.Found, out.Depth = true, hi
	out.Ends, err = FieldEnds(ctx, field, im, hi, heading)
	return out, err
}

// serves says whether all ends are feasible at a depth, and whether it leaves any core.
func (c *course) serves(ctx context.Context, depth float64) (ok, core bool, err error) {
	inside, err := plane.Inset(ctx, c.field, depth)
	if err != nil || len(inside) == 0 {
		return false, false, err
	}
	for end := range c.ends(rowsOver(inside, c.frame, c.spaced), 0) {
		if err := ctx.Err(); err != nil {
			return false, true, err
		}
		t, err := c.best(end.line, 0)
		if err != nil || !t.Feasible {
			return false, true, err
		}
	}
	return true, true, nil
}
