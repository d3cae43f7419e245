package cli

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"balk/cmd/internal/job"
	"balk/cmd/internal/web"
	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/rework"
	"balk/coverage/rig"
	"balk/export/answer"
	"balk/export/sheet"
	"balk/export/words"
	"balk/geo"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// handover is the verb "balk handover".
func handover(v *voice) *cobra.Command {
	var s job.HandoverSpec
	var machine machineFlags
	var slip slipFlags
	var asJSON bool
	var language, zone, gate string
	var number int
	var share, value, perKm, workSpeed, waySpeed float64
	c := &cobra.Command{
		Use:  "handover [FIELD] TRACK... | RESULT | PLAN",
		Args: cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			filled, err := v.call.OpenFilled(args)
			if err != nil {
				return v.finish(nil, err)
			}
			switch {
			case filled == nil:
				err = v.operands(c, args)
			case filled.Planned():
				err = v.standing(c, args, func(name string) bool { return slices.Contains(planFlags, name) })
			default: // what was checked stands in the folder
				operation := pflag.NewFlagSet("", pflag.ContinueOnError)
				operationFlags(operation, new(job.Spec), new(machineFlags), new(slipFlags))
				err = v.standing(c, args, func(name string) bool { return operation.Lookup(name) == nil })
			}
			if err != nil {
				return err
			}
			s.Paperwork.Language = words.Language(language)
			if zone != "" {
				if s.Details.Zone, err = time.LoadLocation(zone); err != nil {
					return &stop{wrongCall, fmt.Errorf("--zone %s: %w", zone, err)}
				}
			}
			if filled != nil && filled.Planned() {
				spec, err := filled.Comparison(number)
				if err != nil {
					return v.finish(nil, err)
				}
				return handoverPlan(c, v, job.PlanHandoverSpec{CompareSpec: spec, Paperwork: s.Paperwork}, s.Out, asJSON)
			}
			if c.Flags().Changed("rank") {
				return &stop{wrongCall, errors.New("--rank: only a folder that balk compare filled has plans")}
			}
			if filled != nil {
				checked, err := filled.Checked()
				if err != nil {
					return v.finish(nil, err)
				}
				if s.Again, err = again(&v.call, c.Flags(), &checked, machine); err != nil {
					return err
				}
				s.Spec = checked // not before: the flags' values stand in s
			} else {
				if machine.file == "" && !c.Flags().Changed("width") {
					return &stop{wrongCall, errors.New("--width or --implement: one must be given")}
				}
				if s.Boundary, s.Tracks, err = split(c, s.Boundary, args); err != nil {
					return &stop{wrongCall, err}
				}
				s.Farm = v.farmOf(s.Farm)
				if err := machine.into(&v.call, c.Flags(), &slip, &s.Spec); err != nil {
					return err
				}
			}
			s.Spec.Language = s.Paperwork.Language
			s.Rework.Take.Share, s.Rework.Value, s.Rework.PerMetre = share/100, value/1e4, perKm/1000
			s.Rework.Speeds = rework.Speeds{Work: workSpeed / geo.Kmh, Way: waySpeed / geo.Kmh}
			if s.Details.Implement == "" {
				s.Details.Implement = s.Implement.Name
			}
			if s.Gate, err = placeOf(gate); err != nil {
				return &stop{wrongCall, err}
			}
			v.call.Page = web.WriteWhole
			rep, err := job.Handover(c.Context(), s, &v.call)
			return v.answer(rep.Findings, err, asJSON, rep.JSON, func(w io.Writer) error { return printHandover(w, rep, s.Rework) })
		},
	}
	f := c.Flags()
	f.SortFlags = false
	f.StringVar(&s.Details.Operation, "operation", "", "`WORDS` for what was done")
	f.StringVar(&s.Details.Driver, "driver", "", "`NAME` of the driver")
	f.StringVar(&s.Details.Client, "for", "", "`NAME` of the client")
	f.StringVar(&s.Details.Implement, "implement-name", "", "`WORDS` for the implement (its file's name if not given)")
	f.Var(measure{&s.Details.Fuel, "l"}, "fuel", "fuel used")
	f.StringVar(&s.Details.Remarks, "remarks", "", "`WORDS` for the record")
	f.StringVar(&language, "language", string(words.English), "`CODE` of the language of sheet, record and README.txt: en or de")
	f.StringVar(&zone, "zone", "", "`NAME` of the time zone for paper, such as Europe/Berlin (UTC if not given)")
	f.IntVar(&number, "rank", 1, "of PLAN, the `NUMBER` in the ranking")
	f.StringSliceVar((*[]string)(&s.Pictures), "pictures", nil, "`FORMS` in which the sheet's pages are drawn too: svg, png, or both with a comma; png also of the drawing")
	f.BoolVar(&s.Sweeps, "sweeps", false, "a page of the sheet with the layout of the set's sweeps: from above, crabbed and in a curve, and what lap is left (balk help sweeps)")
	f.BoolVar(&s.Page, "page", false, "write page.html too: the page of balk serve for this field in one file, which opens in a browser without a network, to look at and to tick strips in the field")
	f.StringVar(&s.Paper, "paper", "", "`SIZE` of the sheet: A4 or A3 (A4 if not given)")
	f.StringVar(&gate, "gate", "", "`LON,LAT` where the way to the strips begins and ends (the boundary nearest to the first strip if not given)")
	s.Rework.LeastArea, s.Rework.LeastWidth = job.LeastArea(), job.LeastWidth()
	f.Var(measure{&s.Rework.Take.Minutes, "min"}, "minutes", "work again what wins most in so much time, strips in patches first (as long as a minute wins more than on average, if nothing of this is given)")
	f.Var(measure{&share, "%"}, "share", "work again what holds this much of the missed ground; 100: all")
	f.Var(measure{&value, "per ha"}, "value", "`MONEY` that a hectare worked again is worth: strips that cost more are left, by --per-hour and --per-km")
	f.Var(measure{&s.Rework.PerHour, "per h"}, "per-hour", "`MONEY` for an hour of the set and its driver")
	f.Var(measure{&perKm, "per km"}, "per-km", "`MONEY` for a kilometre driven")
	f.Var(measure{&s.Rework.LeastArea, "m²"}, "least-area", "smaller strips are not worked again")
	f.Var(measure{&s.Rework.LeastWidth, "m"}, "least-width", "strips nowhere wider are not worked again")
	f.BoolVar(&s.Rework.CertainOnly, "certain-only", false, "work again only strips that are certain: half of them or more")
	f.Var(measure{&s.Rework.Before, "m"}, "lead", "worked ahead of a strip, for the tool to reach its depth")
	f.Var(measure{&s.Rework.Behind, "m"}, "run-out", "worked beyond a strip's end")
	f.Var(measure{&s.Rework.LineUp, "m"}, "line-up", "driven straight before the tool is lowered (two drawbars for a trailed set, else none, if not given)")
	f.BoolVar(&s.Rework.ForwardOnly, "forward-only", false, "never reverse on the way to strips")
	f.Var(measure{&workSpeed, "km/h"}, "work-speed", "speed of re-work (that of the operation if not given)")
	f.Var(measure{&waySpeed, "km/h"}, "way-speed", "speed with the tool lifted on the way to strips (that of turns if not given)")
	operationFlags(f, &s.Spec, &machine, &slip)
	f.StringVar(&s.Out, "out", "", "`DIR` to be filled")
	f.BoolVar(&asJSON, "json", false, "print the report as JSON")
	once(f, "fuel", "remarks", "rank", "minutes", "share", "days", "together", "out", "json")
	c.MarkFlagsMutuallyExclusive("rounds", "headland")
	return c
}

// again puts the flags that are given over what a filled folder was made with: they win, and
// the operation is judged anew. An implement file is the machine for the re-work alone, nil
// without one.
func again(call *job.Call, given *pflag.FlagSet, s *job.Spec, machine machineFlags) (*rig.Implement, error) {
	filled := *s
	var unused machineFlags
	var slip slipFlags
	over := pflag.NewFlagSet("", pflag.ContinueOnError)
	operationFlags(over, s, &unused, &slip)
	over.StringVar(&s.Out, "out", "", "")
	*s = filled // flags begin by setting what they stand for to nothing
	var err error
	worked := machine
	worked.file = ""
	turned := false
	given.Visit(func(f *pflag.Flag) {
		switch f.Name {
		case "width", "overlap", "mount":
			turned = true
		case "crab-per-percent":
			turned, s.Work.Drift = true, drive.Drift{}
		case "rounds":
			s.Work.Headland = 0 // which would win over it
		case "crab", "downhill":
			s.Work.Drift = drive.Drift{}
		}
		if err == nil && over.Lookup(f.Name) != nil {
			value := f.Value.String()
			if f.Value.Type() == "stringToString" { // as it takes it, without brackets
				value = strings.TrimSuffix(strings.TrimPrefix(value, "["), "]")
			}
			err = over.Set(f.Name, value)
		}
	})
	if err != nil {
		return nil, &stop{wrongCall, err}
	}
	if turned {
		im := s.Implement
		if im.Width == 0 { // a folder filled before machines were kept
			im.Width, im.Overlap, im.Sections, im.Mount = s.Work.Width, s.Work.Overlap, s.Work.Sections, s.Work.Mount
		}
		im, from, err := worked.over(call, given, im, s.Work.WidthFrom)
		if err != nil {
			return nil, err
		}
		s.Use(im, from)
	}
	if err := slip.into(given, &s.Work.Drift); err != nil {
		return nil, &stop{wrongCall, err}
	}
	if machine.file == "" {
		return nil, nil
	}
	im, _, err := machine.over(call, given, rig.Implement{}, drive.WidthGiven)
	return &im, err
}

// printHandover says what re-work is planned, at the rates given which overlap costs least, and which files were written.
func printHandover(w io.Writer, r job.Report, by rework.Options) error {
	b := &telling{Language: r.Spec.Language}
	b.whose(r)
	b.answer(r, "")
	caution := b.AfterWork()
	steep := r.Spec.Work.Steep // without a limit the sheet tells the steepest
	if slopes := answer.Slopes(b.Language, r.Slope, r.Strips, steep); steep > 0 && slopes != "" {
		b.text(slopes, "")
	}
	switch p := r.Rework; {
	case p != nil:
		b.text(reworked(b.Language, *p, by.Take.Minutes, steep), "")
		if len(p.Passes) > 0 {
			caution = b.Word("The strips are there to be worked again.") + " " + caution
		}
	case r.Telling.Strips == coverage.GraspNone:
		b.text(b.Word("no re-work plan: the log cannot tell missed strips"), "")
	case len(r.Strips) > 0:
		b.text(b.Word("no re-work plan: the implement's description lacks the radius it turns on (--implement)"), "")
	}
	if r.Telling.Strips != coverage.GraspNone {
		found := coverage.Result{Spacing: r.Spacing, Effort: r.Effort, Telling: r.Telling}
		if next := answer.CheapestLap(found, by.PerHour, by.Value, b.Language); next != "" {
			b.text(next, "")
		}
	}
	return b.closing(w, r.Files, caution)
}

// reworked says what is worked again, or why no strip is; what is left; and where the way has no room or lies across a slope steeper than steep.
func reworked(l words.Language, p job.Rework, limit, steep float64) string {
	said := l.Word("No re-work: no strip is worth it.")
	switch {
	case len(p.Passes) > 0:
		said = l.Say("Re-work: %s along %s, %.2f km in %s with %.2f m, win %s of the %s missed, and %s are worked once more than needed.",
			l.Count(len(p.Passes), "pass"), l.Count(len(p.Chosen), "strip"), p.Length/1000, words.Clock(p.Time), p.Width, answer.Area(l, p.Covered), answer.Area(l, p.Missed),
			answer.Area(l, p.ExtraDouble))
	case limit > 0 && len(p.Worth.Steps) > 0:
		said = l.Say("No re-work: no strip is worked in %.1f min, the way from the gate and back included; the one that wins most a minute takes about %.1f.", limit, p.Worth.Steps[0].Time/60)
	}
	if left := sheet.LeftOut(l, p.Plan); left != "" {
		said += " " + left
	}
	if p.Unfit > 0 {
		said += l.Say(" Pieces of the way without room: %d, see rework.geojson.", p.Unfit)
	}
	if slopes := sheet.WaysOnSlopes(l, p.Plan, steep); steep > 0 && slopes != "" {
		said += " " + slopes
	}
	return said
}
