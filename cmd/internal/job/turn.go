package job

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/export/answer"
	"balk/geo"
	"balk/geo/plane"
	"balk/geo/workers"

	"github.com/paulmach/orb"
)

// TurnSpec says what is asked about turning.
type TurnSpec struct {
	Implement rig.Implement     `json:"implement"`
	WidthFrom drive.WidthSource `json:"widthFrom,omitempty"` // who says how wide the implement is
	Spacing   float64           `json:"spacing,omitempty"`   // m between rows; 0 = credited width
	Headland  float64           `json:"headland,omitempty"`  // m, depth; 0 = what the best turn into the next row needs
	MostSkip  int               `json:"mostSkip"`            // most rows left for later
	Boundary  string            `json:"boundary,omitempty"`  // file of the field boundaries; "" = one straight row end
	Field     string            `json:"field,omitempty"`     // number of the field, or name=NAME
	Reading
	Bearing *float64 `json:"bearing,omitempty"` // degrees from true north, of the rows; nil = along the longest edge
	Out     string   `json:"out,omitempty"`
	Drawn
}

const (
	maxSkip     = 20
	maxHeadland = 1000.0
)

// Validate says what is wrong with s; it opens no files.
func (s TurnSpec) Validate() error {
	if err := s.Drawn.Validate(); err != nil {
		return err
	}
	if err := turn.Describes(s.Implement); err != nil {
		return err
	}
	if !(s.Spacing >= 0 && s.Spacing <= rig.MaxWidth) {
		return fmt.Errorf("spacing %g m: must be from 0 to %g m", s.Spacing, rig.MaxWidth)
	}
	if !(s.Headland >= 0 && s.Headland <= maxHeadland) {
		return fmt.Errorf("headland depth %g m: must be from 0 to %g m", s.Headland, maxHeadland)
	}
	if s.MostSkip < 0 || s.MostSkip > maxSkip {
		return fmt.Errorf("skip %d rows: must be from 0 to %d", s.MostSkip, maxSkip)
	}
	if s.Bearing != nil && !(*s.Bearing >= 0 && *s.Bearing <= 360) {
		return fmt.Errorf("bearing %g°: must be from 0 to 360°", *s.Bearing)
	}
	if s.Boundary == "" && s.Bearing != nil {
		return errors.New("a bearing is of use only with a field")
	}
	return nil
}

// TurnReport answers whether a set can turn. Lengths are m, areas m², times s,
// angles degrees.
type TurnReport struct {
	Spec     TurnSpec       `json:"spec"`
	Answer   []string       `json:"answer"` // whether it can, in sentences, in the language of Spec
	Spacing  float64        `json:"spacing"`
	Headland float64        `json:"headland"` // m, the depth judged
	Patterns []turn.Pattern `json:"patterns"` // at a straight headland square to the rows
	Field    *FieldTurns    `json:"field,omitempty"`
	Findings []geo.Finding  `json:"findings"`
	Placed
}

// FieldTurns are the row ends of one field.
type FieldTurns struct {
	Name    FieldName   `json:"name"`
	Bearing geo.Bearing `json:"bearing"` // of the rows, from true north, 0 to 180
	Ends    turn.Ends   `json:"ends"`    // at the depth judged
	Places  []orb.Point `json:"places"`  // lon, lat of the row ends, in their order
	Least   turn.Least  `json:"least"`   // the least headland with which all ends are feasible

	ground geo.Field
	local  geo.Local
	plane  []plane.Polygon
}

// JSON writes the report.
func (r TurnReport) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		TurnReport
	}{madeBy(), r})
}

// Turn answers whether a set can turn: at a straight headland, and if a field is
// named at each row end of it. Errors as Run.
func Turn(ctx context.Context, s TurnSpec, call *Call) (TurnReport, error) {
	call = call.ready()
	rep := TurnReport{Spec: s, Answer: []string{}, Findings: []geo.Finding{}}
	if err := s.Validate(); err != nil {
		return rep, &WrongCall{err}
	}
	rep.Spacing = s.Spacing
	if rep.Spacing == 0 {
		rep.Spacing = math.Round(1e9*(s.Implement.Width-s.Implement.Overlap)) / 1e9 // to a nanometre: decimals stay decimals
	}
	const steps = 3
	var ground geo.Field
	if s.Boundary != "" {
		call.step("reading boundaries", 0, steps)
		var err error
		if ground, rep.Findings, err = call.field(ctx, s.Boundary, s.Field, s.Reading, rep.Findings); err != nil {
			return rep, err
		}
	}
	if err := call.guard(ctx, s.Out, s.names()); err != nil {
		return rep, err
	}
	call.step("turning", 0, steps)
	if err := rep.table(ctx); err != nil {
		return rep, err
	}
	if s.Boundary != "" {
		call.step("row ends", 1, steps)
		if err := rep.onField(ctx, ground); err != nil {
			return rep, err
		}
	}
	rep.Answer = answer.Turns(s.Language, rep.Patterns, rep.Headland)
	if f := rep.Field; f != nil {
		rep.Answer = append(rep.Answer, answer.RowEnds(s.Language, f.Ends, f.Least))
	}
	if s.Out != "" {
		call.step("writing "+s.Out, 2, steps)
		if err := rep.write(ctx, call); err != nil {
			return rep, err
		}
	}
	call.step("done", steps, steps)
	return rep, nil
}

// table judges the patterns. Without a depth given it is what the set needs (turn.NeedOf).
func (r *TurnReport) table(ctx context.Context) error {
	r.Headland = r.Spec.Headland
	if r.Headland == 0 {
		need, serves, err := turn.NeedOf(ctx, r.Spec.Implement, r.Spacing, r.Spec.MostSkip)
		if err != nil {
			return err
		}
		if r.Headland = need.Depth; !serves {
			return fmt.Errorf("no turn is feasible for this set, whatever the headland up to %g m", turn.Deepest)
		}
	}
	var err error
	r.Patterns, err = turn.Table(ctx, r.Spec.Implement, r.Spacing, r.Headland, r.Spec.MostSkip)
	return err
}

// onField judges the row ends of field f.
func (r *TurnReport) onField(ctx context.Context, f geo.Field) error {
	t := &FieldTurns{Name: FieldName{f.Name, f.Number, r.Spec.Boundary}, ground: f, local: f.Local()}
	t.plane = f.OnPlane(t.local)
	heading := longestEdge(t.plane)
	if r.Spec.Bearing != nil {
		heading = t.local.HeadingOf(geo.Bearing(*r.Spec.Bearing))
	}
	t.Bearing = geo.Bearing(math.Mod(float64(t.local.BearingOf(heading)), 180))
	im := r.Spec.Implement
	im.Overlap = im.Width - r.Spacing // rows are laid at the spacing asked for
	if im.Overlap < 0 {
		return wrong("spacing %g m: must not be above the working width of %g m on a field", r.Spacing, im.Width)
	}
	var err error
	depth, ground := r.Headland, t.plane
	if t.Ends, err = workers.Until(ctx, func() (turn.Ends, error) { return turn.FieldEnds(ctx, ground, im, depth, heading) }); err != nil {
		return fmt.Errorf("field %q: %w", f.Name, err)
	}
	for _, e := range t.Ends.Ends {
		t.Places = append(t.Places, t.local.Point(e.At))
	}
	limit := t.limit(depth)
	if t.Least, err = workers.Until(ctx, func() (turn.Least, error) { return turn.LeastHeadland(ctx, ground, im, heading, limit) }); err != nil {
		return fmt.Errorf("field %q, least headland: %w", f.Name, err)
	}
	r.Field = t
	return nil
}

// limit is the deepest headland worth trying: a third of the field's breadth, but
// never less than what is asked for.
func (t *FieldTurns) limit(asked float64) float64 {
	box := plane.EmptyBox()
	for _, p := range t.plane {
		box = box.Extend(p[0]...)
	}
	size := box.Max.Sub(box.Min)
	return max(asked, min(turn.Deepest, min(size.X, size.Y)/3))
}

// longestEdge is the heading of the longest edge of a field.
func longestEdge(field []plane.Polygon) geo.Heading {
	long, heading := 0.0, 0.0
	for _, p := range field {
		for i, a := range p[0] {
			if d := p[0][(i+1)%len(p[0])].Sub(a); d.Len() > long {
				long, heading = d.Len(), math.Atan2(d.Y, d.X)
			}
		}
	}
	return geo.Heading(heading)
}
