package job

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/coverage/pattern"
	"balk/export/answer"
	"balk/export/sheet"
	"balk/geo"
	"balk/geo/read"
	"balk/geo/workers"

	"github.com/paulmach/orb"
)

// Report is what became of a job. Areas are m², lengths m, places lon/lat.
type Report struct {
	Settle     []string            `json:"settle,omitempty"` // what stands before the answer: the log says otherwise than the set's description
	Answer     []string            `json:"answer"`           // what was found in three sentences, in the language of Spec
	Holds      []string            `json:"holds,omitempty"`  // on what the first of them stands
	Spec       Spec                `json:"spec"`
	Field      FieldName           `json:"field"`
	Balance    ground.Balance      `json:"balance"`    // at credited width
	FullMissed float64             `json:"fullMissed"` // m² missed at full working width: certainly untouched
	Ribbons    *coverage.Ribbons   `json:"ribbons,omitempty"`
	Bars       *coverage.Bars      `json:"bars,omitempty"`    // of a set with several, beside each other; all else is of the first
	Trodden    float64             `json:"trodden,omitempty"` // m² on which tyres of the set ran after they were cut
	Slope      *coverage.Slope     `json:"slope,omitempty"`   // how the ground lies, where the log has heights
	Bar        drive.Bar           `json:"bar"`               // the working width all of it stands on
	Credited   float64             `json:"creditedWidth"`
	Headland   ground.HeadlandLoss `json:"headland,omitzero"`
	Strips     []coverage.Strip    `json:"strips"`
	Patterns   []pattern.Pattern   `json:"patterns"`           // what strips have in common, that with most ground first
	Slivers    int                 `json:"slivers"`            // missed pieces too narrow to list ...
	SliverArea float64             `json:"sliverArea"`         // ... and their m²
	Telling    coverage.Telling    `json:"telling"`            // what the log can tell of missed strips
	Noise      coverage.Noise      `json:"noise"`              // what the receiver's pass-to-pass error leaves open
	Doubt      *coverage.Doubt     `json:"doubt,omitempty"`    // what inferred work leaves open
	Open       coverage.Open       `json:"open"`               // what the log cannot tell, or tells otherwise than the set's description
	Zones      ground.Zones        `json:"zones"`              // where missed and double-worked ground lies
	Effort     coverage.Effort     `json:"effort"`             // way, time, speed, capacity
	Spacing    coverage.Spacing    `json:"spacing"`            // of neighbouring passes
	Counters   *Counters           `json:"counters,omitempty"` // the machine's own, beside ours
	Crab       *drive.Crab         `json:"crab,omitempty"`
	Weather    *Weather            `json:"weather,omitempty"` // after the work, where a station's log was given
	Turning    drive.Turning       `json:"turning"`           // the turns between passes, summed
	Turns      []drive.Turn        `json:"turns"`
	Passes     []drive.Pass        `json:"passes"`
	Fixes      int                 `json:"fixes"`             // read, on this field
	Used       int                 `json:"used"`              // of them part of a pass
	Patches    *coverage.Patches   `json:"patches,omitempty"` // what was missed in patches that the call names
	Worth      *coverage.Worth     `json:"worth,omitempty"`   // what working strips again wins; none where the implement lacks its turn radius
	Rework     *Rework             `json:"rework,omitempty"`  // handover only
	SetAside   []SetAside          `json:"setAside"`          // fixes that cannot be true, by run
	Findings   []geo.Finding       `json:"findings"`
	Placed
	Table sheet.Table `json:"-"` // the balance rounded for people
	Local geo.Local   `json:"-"` // the plane of Strips
	gate  *orb.Point  // that a farm has for the field
	logs  []string    // of Spec.Tracks, those that it was driven in
	told  geo.Told    // who says to have worked with what for whom
}

// FieldName tells which field of which file was checked.
type FieldName struct {
	Name   string `json:"name"`
	Number int    `json:"number"`
	File   string `json:"file"`
}

// Shown is the name as lists show it.
func (f FieldName) Shown() string { return cmp.Or(geo.Shown(f.Name), nameless) }

// title is the name as people may read it, or the number of a field without one.
func (f FieldName) title() string {
	return cmp.Or(geo.Shown(f.Name), fmt.Sprintf("field %d", f.Number))
}

// nameless stands where a field has no name.
const nameless = "(no name)"

// Lost tells whether part of the input could not be used.
func (r Report) Lost() bool { return Lost(r.Findings) }

// Lost tells whether findings say that part of the input could not be used.
func Lost(findings []geo.Finding) bool {
	return slices.ContainsFunc(findings, func(f geo.Finding) bool { return f.Lost })
}

// Run checks one operation on one field. A *WrongCall is the caller's fault;
// any other error means the job could not be done. On an error nothing is left
// in Spec.Out. Findings made before an error are in the report even then.
func Run(ctx context.Context, s Spec, call *Call) (Report, error) {
	call = call.ready()
	rep, err := run(ctx, s, nil, call)
	if err == nil {
		call.step("done", s.steps(), s.steps())
	}
	return rep, err
}

// run is Run for inputs that may be read already.
func run(ctx context.Context, s Spec, in *inputs, call *Call) (Report, error) {
	rep, result, err := judge(ctx, s, in, &targets{sure: s.Pictures.with(s.checkedNames())}, call)
	if err != nil || s.Out == "" {
		return rep, err
	}
	call.step("writing "+s.Out, s.steps()-1, s.steps())
	return rep, rep.write(ctx, result, call)
}

// steps is how many a job takes: the boundary, each track, the ground, the folder.
func (s Spec) steps() int {
	steps := len(s.Tracks) + 2
	if s.Out != "" {
		steps++
	}
	return steps
}

// judge is Run without its files. in: what was read already; nil = nothing. names are those of files that will be written into
// Spec.Out; nil = none will.
func judge(ctx context.Context, s Spec, in *inputs, names *targets, call *Call) (Report, coverage.Result, error) {
	rep := Report{Spec: s, Answer: []string{}, Strips: []coverage.Strip{}, Patterns: []pattern.Pattern{}, Passes: []drive.Pass{}, Turns: []drive.Turn{}, SetAside: []SetAside{}, Findings: []geo.Finding{}}
	if err := s.Validate(); err != nil {
		return rep, coverage.Result{}, &WrongCall{err}
	}
	own := in == nil
	if own {
		read, err := rep.inputs(ctx, call)
		if err != nil {
			return rep, coverage.Result{}, err
		}
		in = &read
	}
	field, tracks, err := rep.worked(ctx, *in)
	if err != nil {
		return rep, coverage.Result{}, err
	}
	rep.logs = logsOf(tracks, s.Tracks)
	var planned []geo.Line
	if s.Plan != "" {
		lines, findings, err := found(ctx, func() ([]geo.Line, []geo.Finding, error) { return read.Lines(s.Plan, s.Taking, &call.opened) })
		rep.Findings = append(rep.Findings, findings...)
		if err != nil {
			return rep, coverage.Result{}, sorted(err)
		}
		planned = lines
	}
	if err := rep.Spec.settle(tracks); err != nil {
		return rep, coverage.Result{}, err
	}
	if names != nil {
		if err := call.guard(ctx, s.Out, *names); err != nil {
			return rep, coverage.Result{}, err
		}
	}
	call.step("working out the ground", 1+len(s.Tracks), s.steps())
	work := rep.Spec.Work
	counted := countersOf(tracks)
	rep.told = toldBy(tracks)
	if own && len(rep.Spec.Implement.Bars) == 0 {
		in.tracks = nil // nobody looks at them again: the check lets go of them as soon as it has its passes
	}
	result, err := workers.Until(ctx, func() (coverage.Result, error) {
		one := tracks
		tracks = nil
		return coverage.Check(ctx, field, one, work)
	})
	if err != nil {
		return rep, coverage.Result{}, err
	}
	if planned != nil {
		result.NamePlanned(planned)
	}
	if err := rep.bars(ctx, *in, &result, call); err != nil {
		return rep, coverage.Result{}, err
	}
	if err := rep.lookIn(ctx, in.patches, &result); err != nil {
		return rep, coverage.Result{}, err
	}
	if !in.hasty && (names == nil || names.perhaps == nil) { // a handover plans all of the re-work
		if err := rep.worth(ctx, &result, call); err != nil {
			return rep, coverage.Result{}, err
		}
	}
	rep.take(result)
	rep.Counters = counted.beside(result)
	if rep.Used == 0 {
		return rep, coverage.Result{}, &noWork{rep.Fixes}
	}
	if b := rep.Balance; b.Once+b.Twice+b.More+b.Unknown == 0 {
		at := result.Local.Point(result.Passes[0].Line[0])
		return rep, coverage.Result{}, fmt.Errorf("no work on field %q: all of the %.4f ha worked lie outside its boundary; the first pass begins at %.6f, %.6f\nhint: is it the right field, and the right log?",
			field.Name, b.Outside/1e4, at[0], at[1])
	}
	return rep, result, rep.weather(ctx, field, call)
}

// noWork is the error of a log that is no work.
type noWork struct{ fixes int }

func (e *noWork) Error() string {
	return fmt.Sprintf("no work found: 0 of %d fixes belong to a pass", e.fixes)
}

// say puts what was found into sentences.
func (r *Report) say(c coverage.Result) {
	said := answer.Of(c, r.Spec.Language)
	r.Settle, r.Answer, r.Holds = said.Settle, said.Three, said.Holds
}

// Short is the answer in short.
func (r Report) Short() answer.Short {
	return answer.InShort(coverage.Result{Work: r.Spec.Work, Balance: r.Balance, Telling: r.Telling, Noise: r.Noise, Open: r.Open, Spacing: r.Spacing, Strips: r.Strips}, r.Spec.Language)
}

func (r *Report) take(c coverage.Result) {
	r.say(c)
	r.Telling = c.Telling
	r.Worth, r.Patches = c.Worth, c.Patches
	r.Balance, r.FullMissed, r.Headland, r.Ribbons, r.Bars, r.Slope, r.Trodden = c.Balance, c.FullMissed, c.Headland, c.Ribbons, c.Bars, c.Slope, c.Trodden
	r.Bar, r.Credited = c.Bar, c.Work.Credited()
	r.Strips, r.Local = append(r.Strips, c.Strips...), c.Local
	r.Patterns = append(r.Patterns, c.Patterns...)
	r.Slivers, r.SliverArea, r.Noise = c.Slivers, c.SliverArea, c.Noise
	r.Turns = append(r.Turns, c.Turns...)
	r.Turning = drive.TurningOf(c.Turns)
	r.Doubt, r.Open, r.Zones, r.Effort, r.Spacing, r.Crab = c.Doubt, c.Open, c.Zones, c.Effort, c.Spacing, c.Crab
	r.Passes = append(r.Passes, c.Passes...)
	r.Used = c.Used
	r.Findings = append(r.Findings, c.Findings...)
	r.Table = sheet.TableOf(c)
}
