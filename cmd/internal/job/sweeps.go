package job

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/coverage/sweeps"
	"balk/export/sheet"
	"balk/export/sheet/paper"
)

// SweepsSpec says what is asked about the sweeps of a set.
type SweepsSpec struct {
	Implement rig.Implement `json:"implement"`
	Axle      *float64      `json:"axle,omitempty"` // m ahead of the middle of the bar: the centre of a curve lies abeam of it; nil = from the mount
	Want      float64       `json:"want,omitempty"` // degrees of crab angle to both sides that are wanted; 0 = none
	Wear      float64       `json:"wear,omitempty"` // m that every sweep is narrower when worn; 0 = as the file has it
	Bent      float64       `json:"bent,omitempty"` // m that a leg may be bent to one side; 0 = not asked
	Out       string        `json:"out,omitempty"`
	Drawn
}

const (
	mostBent = 0.5  // m; more is no bent leg
	mostAxle = 50.0 // m ahead of or behind the bar
	// sweepsDrawing is the drawing in a folder about sweeps.
	sweepsDrawing = "sweeps.svg"
)

// Validate says what is wrong with s; it opens no files.
func (s SweepsSpec) Validate() error {
	if err := s.Drawn.Validate(); err != nil {
		return err
	}
	if err := s.Implement.Validate(); err != nil {
		return err
	}
	if len(s.Alone()) == 0 {
		return errors.New("the implement file has no [sweeps]: must say where they stand (balk help implement)")
	}
	if most := sweeps.MostCrab * 180 / math.Pi; !(s.Want >= 0 && s.Want < most) {
		return fmt.Errorf("crab angle %g° wanted: must be from 0 to below %.0f°", s.Want, most)
	}
	for _, im := range s.Alone() {
		for _, one := range im.Sweeps.All() {
			if !(s.Wear >= 0 && s.Wear < one.Width) {
				return fmt.Errorf("sweeps %g m narrower when worn: must be from 0 to below their width of %g m", s.Wear, one.Width)
			}
		}
	}
	if !(s.Bent >= 0 && s.Bent <= mostBent) {
		return fmt.Errorf("a leg bent by %g m: must be from 0 to %g m", s.Bent, mostBent)
	}
	if s.Axle != nil && !(math.Abs(*s.Axle) <= mostAxle) {
		return fmt.Errorf("axle %g m ahead of the bar: must be within ±%g m", *s.Axle, mostAxle)
	}
	return nil
}

// Alone are the implement, or each of its bars alone, where sweeps stand on it; their names are those of the bars.
func (s SweepsSpec) Alone() (all []rig.Implement) {
	for k := range max(1, len(s.Implement.Bars)) {
		im := s.Implement.OfBar(k)
		if len(s.Implement.Bars) > 0 {
			im.Name = s.Implement.Bars[k].Name
		}
		if im.Sweeps.Known() {
			all = append(all, im)
		}
	}
	return all
}

// SweepsReport answers whether the sweeps cut everything. Lengths are m, angles degrees; numbers of sweeps count from the left end.
type SweepsReport struct {
	Spec    SweepsSpec     `json:"spec"`
	Axle    float64        `json:"axle"`           // m ahead of the middle of the bar
	Sweeps  int            `json:"sweeps"`         // how many
	Right   float64        `json:"right"`          // m, how far they cut to the right of the middle of the bar
	Left    float64        `json:"left"`           // m, to the left
	Uncut   float64        `json:"uncut"`          // m between, in all, that is not cut straight ahead
	Pairs   []Pair         `json:"pairs"`          // neighbours in the direction of travel, from the right end to the left
	New     Reach          `json:"new"`            // how far new sweeps go
	Worn    *WornReach     `json:"worn,omitempty"` // that of worn ones
	Lost    []SweepFault   `json:"lost"`           // what each sweep leaves that is lost
	Bent    *SweepFault    `json:"bent,omitempty"`
	Changes []Change       `json:"changes,omitempty"` // that reach the crab angle wanted, those with the fewest sweeps first
	Passage Passage        `json:"passage"`
	Draw    float64        `json:"draw"`            // m to the right of the middle of the bar, of the sweeps' pull, by width and depth
	Bars    []SweepsReport `json:"bars,omitempty"`  // of a set with several bars those after the first, each alone
	Apart   float64        `json:"apart,omitempty"` // m between its foremost bar and its last: lowered in one go, so far apart they begin and end
	Before  float64        `json:"before"`          // m before a line that the middle of the bar is lowered so that all sweeps cut from it on; below 0: past it
	Past    float64        `json:"past"`            // m past a line that it is lifted so that all cut up to it
	Deep    float64        `json:"deep"`            // m from the first nose to the last tip: cut in part only where the tool is lowered or lifted as it drives
	Placed
}

// Pair is two neighbours, taken alone.
type Pair struct {
	Left  int     `json:"left"`
	Right int     `json:"right"`
	Lap   float64 `json:"lap"` // m straight ahead; below 0 a ribbon
	At    float64 `json:"at"`  // m, its middle, to the left of the middle of the bar
	Reach
}

// Reach is how far everything is cut that is cut straight ahead.
type Reach struct {
	CrabLeft   Edge `json:"crabLeft"`   // degrees, turned to the left of its way
	CrabRight  Edge `json:"crabRight"`  // degrees
	CurveLeft  Edge `json:"curveLeft"`  // m, least radius about a centre on the left
	CurveRight Edge `json:"curveRight"` // m
}

// WornReach is how far worn sweeps cut what they cut straight ahead.
type WornReach struct {
	Uncut float64 `json:"uncut"` // m between, in all, that they do not cut even straight ahead
	Reach
}

// Edge is one limit.
type Edge struct {
	At    float64 `json:"at"`
	Opens bool    `json:"opens"` // false: nothing opens up to At, the farthest that is judged
	Left  int     `json:"left,omitempty"`
	Right int     `json:"right,omitempty"` // numbers of the neighbours that part first
	Alike int     `json:"alike,omitempty"` // so many other pairs part there too
}

// SweepFault is what a fault of one sweep does.
type SweepFault struct {
	Number int     `json:"number"`
	Side   string  `json:"side,omitempty"` // to which its leg is bent; "" = it is lost
	Uncut  float64 `json:"uncut"`          // m across the way, straight ahead, between the ends
	Narrow float64 `json:"narrow"`         // m less from end to end
	Crab   float64 `json:"crab"`           // degrees, the largest crab angle then, to the worse side
}

// Change is one change that reaches the crab angle wanted.
type Change struct {
	What   string  `json:"what"`             // width, spacing or stagger
	Factor float64 `json:"factor,omitempty"` // of the spacing, or of the way between beams
	Wider  float64 `json:"wider,omitempty"`  // m, each sweep
	Sweeps int     `json:"sweeps"`           // how many are needed then
}

// Passage is the room for straw and turf; below 0 = there are no such two.
type Passage struct {
	Beams   int     `json:"beams"`
	Beam    float64 `json:"beam"`    // m, least between neighbours on a beam
	Between float64 `json:"between"` // m, least between blades on different beams
}

// JSON writes the report.
func (r SweepsReport) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		SweepsReport
	}{madeBy(), r})
}

// Sweeps answers whether the sweeps of a set cut everything. Errors as Run.
func Sweeps(ctx context.Context, s SweepsSpec, call *Call) (SweepsReport, error) {
	call = call.ready()
	r := SweepsReport{Spec: s}
	if err := s.Validate(); err != nil {
		return r, &WrongCall{err}
	}
	bars := s.Alone()
	names := make([]string, len(bars))
	for k := range bars {
		if names[k] = sweepsDrawing; k > 0 {
			names[k] = fmt.Sprintf("sweeps-%d.svg", k+1)
		}
	}
	if err := call.guard(ctx, s.Out, targets{sure: s.Pictures.with(append(slices.Clone(names), reportFile))}); err != nil {
		return r, err
	}
	r = sweepsOf(s, bars[0])
	r.Spec = s
	first, last := math.Inf(1), math.Inf(-1)
	for _, b := range s.Implement.Bars {
		first, last = min(first, b.Behind), max(last, b.Behind)
	}
	r.Apart = max(0, last-first)
	var files []output
	for k, im := range bars {
		one := r
		if k > 0 {
			one = sweepsOf(s, im)
			r.Bars = append(r.Bars, one)
		}
		files = append(files, s.Pictures.drawing(names[k], func() (*paper.Leaf, error) {
			return sheet.Sweeps(sheet.SweepsPlan{Implement: im, Axle: one.Axle}, s.page())
		})...)
	}
	if s.Out != "" {
		call.step("writing "+s.Out, 0, 1)
		if err := call.fill(ctx, s.Out, "sweeps", files, &r.Placed, func(w io.Writer) error { return r.JSON(w) }); err != nil {
			return r, err
		}
		call.step("done", 1, 1)
	}
	return r, nil
}

// sweepsOf answers for one bar.
func sweepsOf(s SweepsSpec, im rig.Implement) SweepsReport {
	s.Implement = im
	r := SweepsReport{Spec: s}
	l := im.Sweeps
	f := sweeps.Of(l, false)
	r.Axle = im.Mount.Pivot()
	if s.Axle != nil {
		r.Axle = *s.Axle
	}
	r.Sweeps = len(f)
	right, left := f.Span()
	r.Right, r.Left = -right, left
	r.Uncut = f.Uncut(sweeps.Motion{})
	for _, lap := range f.Laps(sweeps.Motion{}) {
		two := sweeps.Frame{f[lap.Right-1], f[lap.Left-1]}
		r.Pairs = append(r.Pairs, Pair{lap.Left, lap.Right, lap.Lap, lap.At, reachOf(two.Limits(r.Axle))})
	}
	r.New = reachOf(f.Limits(r.Axle))
	worn := sweeps.Of(l, true)
	if s.Wear > 0 {
		worn = f.Wider(-s.Wear)
	}
	if l.Wears() || s.Wear > 0 {
		r.Worn = &WornReach{worn.Uncut(sweeps.Motion{}), reachOf(worn.Limits(r.Axle))}
	}
	for _, one := range f.Lost() {
		r.Lost = append(r.Lost, lostOf(one))
	}
	if s.Bent > 0 {
		one := lostOf(f.WorstBent(s.Bent))
		r.Bent = &one
	}
	if s.Want > 0 {
		for _, c := range f.Changes(s.Want * math.Pi / 180) {
			r.Changes = append(r.Changes, Change(c))
		}
	}
	p := f.Passage()
	r.Passage = Passage{p.Beams, finite(p.Beam), finite(p.Between)}
	r.Draw, r.Deep = sweeps.Draw(l), f.Deep()
	r.Before, r.Past = f.Ends()
	return r
}

func finite(m float64) float64 {
	if math.IsInf(m, 1) {
		return -1
	}
	return m
}

func lostOf(f sweeps.Fault) SweepFault {
	l := SweepFault{Number: f.Number, Uncut: f.Uncut, Narrow: f.Narrow, Crab: f.Crab * 180 / math.Pi}
	switch {
	case f.Left > 0:
		l.Side = "left"
	case f.Left < 0:
		l.Side = "right"
	}
	return l
}

func reachOf(l sweeps.Limits) Reach {
	edge := func(l sweeps.Limit, at float64) Edge { return Edge{at, l.Opens(), l.Left, l.Right, l.Alike} }
	crab := func(l sweeps.Limit) Edge { return edge(l, l.At*180/math.Pi) }
	curve := func(l sweeps.Limit) Edge { return edge(l, 1/l.At) }
	return Reach{crab(l.CrabLeft), crab(l.CrabRight), curve(l.CurveLeft), curve(l.CurveRight)}
}

// Thinnest is the pair that laps least straight ahead, of several alike the one farthest left; the zero value of none.
func Thinnest(pairs []Pair) (thin Pair) {
	for _, p := range pairs { // from the right end
		if thin.Left == 0 || p.Lap <= thin.Lap+1e-9 { // m: but for rounding
			thin = p
		}
	}
	return thin
}

// FirstToPart are the n pairs that part at the least crab angle, those first; of two alike the one farther left.
func FirstToPart(pairs []Pair, n int) []Pair {
	first := slices.Clone(pairs)
	slices.SortFunc(first, func(a, b Pair) int {
		least := func(p Pair) float64 { return min(p.CrabLeft.At, p.CrabRight.At) }
		if d := least(a) - least(b); math.Abs(d) > 1e-9 { // degrees: but for rounding
			return cmp.Compare(d, 0)
		}
		return cmp.Compare(a.Left, b.Left)
	})
	return first[:min(n, len(first))]
}
