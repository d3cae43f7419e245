package job

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"sync/atomic"
	"time"

	"balk/coverage/plan"
	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/export/answer"
	"balk/export/sheet"
	"balk/export/words"
	"balk/geo"
	"balk/geo/plane"
	"balk/geo/workers"

	"github.com/paulmach/orb"
)

// CompareSpec says what is compared before the work.
type CompareSpec struct {
	Boundary string `json:"boundary"` // file of the field boundaries; required
	Field    string `json:"field,omitempty"`
	Reading
	Implements []rig.Implement `json:"implements"` // at least one
	Options    plan.Options    `json:"options"`
	Gate       *orb.Point      `json:"gate,omitempty"`    // lon, lat; nil = none
	Bearing    *float64        `json:"bearing,omitempty"` // degrees from true north, of the rows; nil = the best
	Edge       *[2]orb.Point   `json:"edge,omitempty"`    // lon, lat of two corners: passes run parallel to the boundary between them
	Objective  plan.Objective  `json:"objective"`
	Seconds    float64         `json:"seconds,omitempty"` // after so many the search for each set is stopped, and its plan marked; 0 = it comes to its end
	Hill       HillSpec        `json:"hill,omitzero"`     // how the field lies, for what sweeps leave between them
	Farm       string          `json:"farm,omitempty"`    // folder of a farm; wanted with After
	After      int64           `json:"after,omitempty"`   // operation of the farm, up to which what was missed is to be worked in passing; 0 = none
	Out        string          `json:"out,omitempty"`
	Drawn
}

// mostImplements is how many are compared at once; more are no comparison that
// anyone reads.
const mostImplements = 50

// mostSeconds is a day: a search is not stopped later than that.
const mostSeconds = 24 * 60 * 60

// Validate says what is wrong with s; it opens no files.
func (s CompareSpec) Validate() error {
	if err := s.Drawn.Validate(); err != nil {
		return err
	}
	if s.Boundary == "" {
		return errors.New("no file of field boundaries named")
	}
	if n := len(s.Implements); n == 0 || n > mostImplements {
		return fmt.Errorf("%d implements: must be from 1 to %d", n, mostImplements)
	}
	for _, im := range s.Implements {
		if err := turn.Describes(im); err != nil {
			return fmt.Errorf("implement %q: %w", im.Name, err)
		}
	}
	if err := s.Objective.Validate(); err != nil {
		return err
	}
	if err := s.Objective.Payable(s.Options.Rates); err != nil {
		return err
	}
	if !(s.Seconds >= 0 && s.Seconds <= mostSeconds) {
		return fmt.Errorf("seconds %g: must be above 0 and at most %d", s.Seconds, mostSeconds)
	}
	if err := s.Hill.validate(s.Implements); err != nil {
		return err
	}
	if s.After < 0 || s.After > 0 && s.Farm == "" {
		return fmt.Errorf("after operation %d: must be one of a farm, whose folder is named (--farm)", s.After)
	}
	if s.Bearing != nil && !(*s.Bearing >= 0 && *s.Bearing <= 360) {
		return fmt.Errorf("bearing %g°: must be from 0 to 360°", *s.Bearing)
	}
	if s.Bearing != nil && (s.Edge != nil || s.Options.AlongLongest) {
		return errors.New("a bearing and an edge are given: rows follow one of them")
	}
	if s.Edge != nil && s.Options.AlongLongest {
		return errors.New("an edge is given, and the longest is asked for: rows follow one of them")
	}
	return s.Options.Validate()
}

// Assumed is a mounted set of so many metres, for comparing bare widths: the
// tractor is a middling one (common practice, no source).
func Assumed(width, overlap float64) rig.Implement {
	return rig.Implement{
		Name: fmt.Sprintf("assumed, %.2f m", width), Width: width, Overlap: overlap,
		Mount:   rig.Mount{AntennaAhead: 0, Hitch: 1.1, BarBehind: 1},
		Tractor: rig.Tractor{Ahead: 4.3, Behind: 0.9, Width: 2.5},
		Body:    rig.Body{Ahead: 0.8, Behind: 1},
		Turning: rig.Turning{Radius: 6, Speed: 6, ReverseSpeed: 4, Change: 3, Margin: 0.3},
	}
}

// Draught sets the pull of the tool by its names in the report, such as a=390 or
// depth=8 (ASABE D497, see plan.Draught).
func Draught(set map[string]string) (plan.Draught, error) {
	var d plan.Draught
	if err := byName("draught", &d, set, func(name string) string {
		if name == "depth" {
			return "cm"
		}
		return ""
	}); err != nil {
		return plan.Draught{}, err
	}
	if len(set) > 0 && d.Soil == 0 {
		return plan.Draught{}, errors.New("draught: soil, the factor of the soil, must be given: 1 fine, 0.85 medium, 0.65 coarse (ASABE D497, from memory)")
	}
	return d, nil
}

// CompareReport ranks the implements on a field, the best first.
type CompareReport struct {
	Spec   CompareSpec `json:"spec"`
	Answer []string    `json:"answer"` // what comes first, in sentences, in the language of Spec
	Field  FieldName   `json:"field"`
	Area   float64     `json:"area"` // m²
	// MissedHours is what a hectare missed counts in the ranking, h: it is still to be worked.
	MissedHours float64 `json:"missedHours"`
	// UnfitMinutes is what a turn or run that does not fit counts in the ranking beyond its way, min.
	UnfitMinutes float64          `json:"unfitMinutes"`
	Candidates   []plan.Candidate `json:"candidates"`
	FuelBasis    string           `json:"fuelBasis,omitempty"` // what the fuel rests on, and where each value comes from
	Hill         *HillTold        `json:"hill,omitempty"`      // what slopes were taken; absent: none
	After        *After           `json:"after,omitempty"`     // what was missed before; absent: not asked for
	Curve        []plan.Sample    `json:"curve"`               // the objective by direction, for the best implement
	Findings     []geo.Finding    `json:"findings"`
	Placed

	ground geo.Field
	local  geo.Local
	plane  []plane.Polygon
	found  []plan.Found // as ranked
}

// JSON writes the report.
func (r CompareReport) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		CompareReport
	}{madeBy(), r})
}

// Weighed says whether the ranking is by weights given, not by hours.
func (r CompareReport) Weighed() bool { return r.Spec.Objective != (plan.Objective{}) }

// Stopped says whether the search for any of the plans was stopped before its end, by the clock or by its ways (plan.Candidate).
func (r CompareReport) Stopped() bool {
	return slices.ContainsFunc(r.Candidates, func(c plan.Candidate) bool { return c.Stopped })
}

// Bearing is a plan's direction from true north, 0 to 180.
func (r CompareReport) Bearing(c plan.Candidate) float64 { return math.Mod(c.Direction+360, 180) }

// Compare lays out, simulates and ranks the work with each implement on a field.
// Errors as Run.
func Compare(ctx context.Context, s CompareSpec, call *Call) (CompareReport, error) {
	call = call.ready()
	rep, err := compared(ctx, s, targets{sure: s.Pictures.with(comparedNames(len(s.Implements)))}, call)
	if err != nil {
		return rep, err
	}
	if s.Out != "" {
		call.step("writing "+s.Out, 2, comparedSteps)
		if err := rep.write(ctx, call); err != nil {
			return rep, err
		}
	}
	call.step("done", comparedSteps, comparedSteps)
	return rep, nil
}

const comparedSteps = 3

// compared is Compare without its files; names are those that
// will be written into Spec.Out.
func compared(ctx context.Context, s CompareSpec, names targets, call *Call) (CompareReport, error) {
	rep := CompareReport{Spec: s, Answer: []string{}, Candidates: []plan.Candidate{}, Findings: []geo.Finding{}}
	if err := s.Validate(); err != nil {
		return rep, &WrongCall{err}
	}
	call.step("reading boundaries", 0, comparedSteps)
	var err error
	if rep.ground, rep.Findings, err = call.field(ctx, s.Boundary, s.Field, s.Reading, rep.Findings); err != nil {
		return rep, err
	}
	if err := call.guard(ctx, s.Out, names); err != nil {
		return rep, err
	}
	rep.Field = FieldName{rep.ground.Name, rep.ground.Number, s.Boundary}
	rep.local = rep.ground.Local()
	rep.plane = rep.ground.OnPlane(rep.local)
	for _, p := range rep.plane {
		rep.Area += p.Area()
	}
	opt := s.Options
	if s.Gate != nil {
		at, err := gateOn(rep.local, rep.plane, *s.Gate)
		if err != nil {
			return rep, err
		}
		opt.Gate = &at
	}
	if s.Bearing != nil {
		opt.Heading, opt.Fixed = rep.local.HeadingOf(geo.Bearing(*s.Bearing)), true
	}
	if s.Edge != nil {
		opt.Along = &plan.Edge{From: rep.local.XY(s.Edge[0]), To: rep.local.XY(s.Edge[1])}
	}
	sets := s.Implements
	if s.Hill != (HillSpec{}) {
		if opt.Hill, sets, err = rep.hill(ctx, call); err != nil {
			return rep, err
		}
	}
	if s.After > 0 {
		var more []geo.Finding
		opt.Before, rep.After, more, err = s.before(ctx, rep.ground, rep.local, call)
		if rep.Findings = append(rep.Findings, more...); err != nil {
			return rep, err
		}
	}
	call.step("planning", 1, comparedSteps)
	var plans atomic.Int64
	opt.Laid = func() {
		call.step(fmt.Sprintf("planning: %d laid out", plans.Add(1)), 1, comparedSteps)
	}
	if s.Seconds > 0 {
		opt.Stop = func() func() bool {
			end := time.Now().Add(time.Duration(s.Seconds * float64(time.Second)))
			return func() bool { return !time.Now().Before(end) }
		}
	}
	rep.MissedHours, rep.UnfitMinutes = opt.MissedPrice(), opt.UnfitPrice()
	rep.FuelBasis = sheet.FuelBasis(words.English, opt.Fuel)
	ground := rep.plane
	rep.found, err = workers.Until(ctx, func() ([]plan.Found, error) { return plan.Compare(ctx, ground, sets, opt, s.Objective) })
	if err != nil {
		return rep, fmt.Errorf("field %q: %w", rep.ground.Name, err)
	}
	for _, f := range rep.found {
		rep.Candidates = append(rep.Candidates, f.Candidate)
	}
	rep.Curve = rep.found[0].Curve
	rep.Answer = answer.Plans(s.Language, rep.Candidates, rep.Bearing(rep.Candidates[0]))
	return rep, nil
}
