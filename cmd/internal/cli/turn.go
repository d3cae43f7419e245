package cli

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"balk/cmd/internal/job"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/export/sheet"
	"balk/export/words"
	"balk/geo"

	"github.com/spf13/cobra"
)

// turnVerb is the verb "balk turn".
func turnVerb(v *voice) *cobra.Command {
	s := job.TurnSpec{}
	var machine machineFlags
	var asJSON bool
	var much amount
	var bearing string
	var radius float64
	c := &cobra.Command{
		Use:  "turn [FIELD]",
		Args: cobra.MaximumNArgs(1),
		PreRunE: func(c *cobra.Command, args []string) error {
			return v.standing(c, pathOf(args), func(name string) bool { return name != "fields" || len(args) == 0 && s.Field != "" })
		},
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 1 {
				s.Boundary = args[0]
			}
			var err error
			if s.Implement, s.WidthFrom, err = machine.over(&v.call, c.Flags(), rig.Implement{}, drive.WidthFile); err != nil {
				return err
			}
			if s.WidthFrom == drive.WidthLogged {
				return &stop{wrongCall, errors.New("--width logged: a turn has no log; give metres")}
			}
			if s.Bearing, err = bearingOf(bearing); err != nil {
				return &stop{wrongCall, err}
			}
			if c.Flags().Changed("radius") {
				s.Implement.Turning.Radius = radius
				if s.Implement.Mount.DrawbarRadius > 0 {
					s.Implement.Mount.DrawbarRadius = radius
				}
			}
			rep, err := job.Turn(c.Context(), s, &v.call)
			return v.answer(rep.Findings, err, asJSON, rep.JSON, func(w io.Writer) error { return printTurns(w, rep, much) })
		},
	}
	f := c.Flags()
	f.SortFlags = false
	fieldsFlag(f, &s.Boundary)
	machine.add(f)
	f.Var(measure{&s.Spacing, "m"}, "spacing", "between rows (credited width if not given)")
	f.Var(measure{&s.Headland, "m"}, "headland", "headland depth (what the quickest turn needs if not given)")
	f.Var(measure{&radius, "m"}, "radius", "least radius on which the set turns (that of the implement file if not given)")
	f.IntVar(&s.MostSkip, "skip", turn.UsualSkip, "most rows left for later that are tried")
	f.StringVar(&s.Field, "field", "", "the field by its `NUMBER`, as listed, or as name=NAME (a name that is no number may stand alone), if the file holds several")
	f.StringVar(&bearing, "bearing", "", "of the rows, `DEGREES` from true north (along the longest edge if not given)")
	readingFlags(f, &s.Reading)
	f.StringVar(&s.Out, "out", "", "`DIR` for drawings of the turns, the row ends (GeoJSON and map) and the report")
	drawn(f, &s.Drawn, "drawings")
	f.BoolVar(&asJSON, "json", false, "print the report as JSON")
	f.BoolVar(&much.details, "details", false, "tell every kind of turn, why not, and the row ends that do not fit")
	f.BoolVar(&much.all, "all", false, "list all kinds of turn of all patterns, and all row ends")
	once(f, "out", "json", "details", "all")
	if err := c.MarkFlagRequired("implement"); err != nil {
		panic(err) // the flag is added above
	}
	return c
}

// printTurns writes the report as a person reads it.
func printTurns(w io.Writer, r job.TurnReport, much amount) error {
	b := &telling{Language: r.Spec.Language}
	im := r.Spec.Implement
	hung := b.Word("mounted")
	if im.Mount.Trailed {
		hung = b.Say("trailed on a drawbar of %.2f m", im.Mount.Drawbar)
	}
	name := im.Name
	if name == "" {
		name = b.Word("implement")
	}
	b.text(b.Say("%s, %.2f m wide (%s), %s; least turning radius with the implement %.2f m", geo.Shown(name), im.Width, b.Told(string(r.Spec.WidthFrom)), hung, im.TurnRadius()), "")
	given := ""
	if r.Spec.Headland == 0 {
		given = b.Word(" (what the nearest row needs at least)")
	}
	laid := b.Word("rows")
	if f := r.Field; f != nil {
		b.put("%s\n", fieldOf(b.Language, f.Name))
		laid = b.Say("%s at %.0f°,", b.Count(f.Ends.Rows, "row"), float64(f.Bearing))
	}
	laid += b.Say(" %.2f m apart, headland %.2f m wide%s", r.Spacing, r.Headland, given)
	if much.details || much.all {
		laid += b.Say(", margin %.2f m", im.Turning.Margin)
	}
	b.text(laid, "")
	b.text(strings.Join(r.Answer, " "), "")
	if !much.details && !much.all {
		if err := quickest(b, r.Patterns); err != nil {
			return err
		}
		b.put("More: --details; all row ends: --all.\n")
		return b.closing(w, r.Files, b.BeforeWork())
	}
	if err := patterns(b, r, much.all); err != nil {
		return err
	}
	if r.Field != nil {
		if err := fieldTurns(b, *r.Field, much.all); err != nil {
			return err
		}
	}
	return b.closing(w, r.Files, b.BeforeWork())
}

// quickest is what serves best into each row, at a straight row end; - where nothing does.
func quickest(b *telling, all []turn.Pattern) error {
	b.put("\n")
	t := b.heads("row", "m apart", "quickest", "time s", "from m of headland")
	for _, p := range all {
		kind, time, from := "-", "-", "-"
		for _, k := range p.Turns {
			if k.Kind == p.Best && p.Best != "" {
				kind, time = kindOf(b.Language, k), seconds(k.Time)
			}
		}
		if p.LeastDepth > 0 {
			from = b.Say("%.2f", p.LeastDepth)
		}
		t.row("%s\t%.2f\t%s\t%s\t%s\t\n", sheet.RowInto(b.Language, p.Skip), p.RowDistance, kind, time, from)
	}
	return t.end()
}

// patterns is the table of turns on a straight headland: for the next row all
// kinds, for the others the best.
func patterns(b *telling, r job.TurnReport, all bool) error {
	b.put("\nat a straight row end, headland square to the rows\n")
	t := b.heads("row", "m apart", "kind", "feasible", "depth m", "spare m", "length m", "time s", "reverse m", "drawbar", "cuts in m", "swept m²", "missed m²")
	var why []string
	for _, p := range r.Patterns {
		into := sheet.RowInto(b.Language, p.Skip)
		for _, k := range p.Turns {
			if p.Skip > 0 && !all && k.Kind != p.Best {
				continue
			}
			t.row("%s\t%.2f\t%s\t", into, p.RowDistance, kindOf(b.Language, k))
			if k.Length == 0 {
				t.row("%s\t-\t-\t-\t-\t-\t-\t-\t-\t-\t\n", b.Word("no"))
			} else {
				drawbar := "-"
				if k.Angle > 0 {
					drawbar = b.Say("%.0f°", k.Angle)
				}
				t.row("%s\t%.2f\t%+.2f\t%.1f\t%s\t%.1f\t%s\t%.2f\t%.0f\t%.2f\t\n", yes(b.Language, k.Feasible), k.Depth, turn.Told(k.Spare), k.Length, seconds(k.Time), k.Reverse, drawbar, k.CutIn, k.Swept, k.Missed)
			}
			if k.Why != "" {
				why = append(why, b.Say("  %s, %s: %s\n", into, kindOf(b.Language, k), sheet.WhyNot(b.Language, k)))
			}
		}
		if p.Best == "" && p.Skip > 0 && !all {
			t.row("%s\t%.2f\t%s\t%s\t-\t-\t-\t-\t-\t-\t-\t-\t-\t\n", into, p.RowDistance, b.Word("any"), b.Word("no"))
		}
	}
	if err := t.end(); err != nil {
		return err
	}
	for _, p := range r.Patterns {
		into := sheet.RowInto(b.Language, p.Skip)
		switch {
		case p.LeastDepth > 0:
			b.put("%s: from %.2f m of headland", into, p.LeastDepth)
		default:
			b.put("%s: with no headland", into)
		}
		if p.Best != "" {
			b.put("; quickest here: %s", b.Word(string(p.Best)))
		}
		b.put("\n")
	}
	if len(why) > 0 {
		b.put("why not:\n")
		b.put("%s", strings.Join(why, ""))
	}
	return nil
}

// kindOf is the kind of a turn, and to which side where that makes a difference.
func kindOf(l words.Language, t turn.Turn) string {
	if t.Side == "" {
		return l.Word(string(t.Kind))
	}
	return l.Say("%s (%s)", l.Word(string(t.Kind)), l.Word(string(t.Side)))
}

func yes(l words.Language, is bool) string {
	if is {
		return l.Word("yes")
	}
	return l.Word("no")
}

func seconds(s float64) string {
	if s == 0 {
		return "-"
	}
	return fmt.Sprintf("%.0f", s)
}

// endsListed is how many row ends at which the set cannot turn are shown without --all; how many more there are is said.
const endsListed = 20

// fieldTurns says at which row ends the set cannot turn, and what would help.
func fieldTurns(b *telling, f job.FieldTurns, all bool) error {
	e := f.Ends
	b.put("\n%s: %s at %.0f°, headland %.2f m wide takes %.1f %% of the field\n", fieldOf(b.Language, f.Name),
		b.Count(e.Rows, "row"), float64(f.Bearing), e.HeadlandDepth, 100*e.HeadlandShare)
	b.put("%s judged, %d infeasible\n", b.Count(len(e.Ends), "row end"), e.Infeasible)
	if l := f.Least; l.Found {
		b.put("all feasible from a headland of %.2f m on, which takes %s ha, %.1f %% of the field\n", l.Depth, ha(b, l.Ends.Headland), 100*l.Ends.HeadlandShare)
	} else {
		b.put("no headland up to %.1f m makes all of them feasible\n", l.Limit)
	}
	if e.Infeasible == 0 && !all {
		return nil
	}
	t := b.heads("row", "into", "end", "longitude", "latitude", "kind", "spare m", "  way out")
	shown := 0
	for i, one := range e.Ends {
		if one.Turn.Feasible && !all {
			continue
		}
		if shown++; shown > endsListed && !all {
			continue
		}
		end := b.Word("near")
		if one.Far {
			end = b.Word("far")
		}
		t.row("%d\t%d\t%s\t%s\t%s\t%s\t%+.2f\t  %s\t\n", one.Row, one.Next, end, degrees(f.Places[i][0]), degrees(f.Places[i][1]), b.Word(string(one.Turn.Kind)), turn.Told(one.Turn.Spare), wayOut(b.Language, one))
	}
	if err := t.end(); err != nil {
		return err
	}
	if shown > endsListed && !all {
		b.put("and %d more infeasible ones (--all lists all row ends)\n", shown-endsListed)
	}
	return nil
}

// wayOut says what would make a turn feasible.
func wayOut(l words.Language, e turn.RowEnd) string {
	if e.Turn.Feasible {
		return l.Word("feasible")
	}
	var ways []string
	if w := e.WayOut; w != nil {
		if w.Skip > 0 {
			ways = append(ways, l.Say("leave %s for later (%s)", l.Count(w.Skip, "row"), l.Word(string(w.SkipKind))))
		}
		if w.Deeper > 0 {
			ways = append(ways, l.Say("end the rows %.1f m earlier (%s)", w.Deeper, l.Word(string(w.Kind))))
		}
		if w.Backing != "" {
			ways = append(ways, l.Say("reverse, if the set might (%s)", l.Word(string(w.Backing))))
		}
	}
	if len(ways) == 0 {
		return l.Say("none found: %s", sheet.WhyNot(l, e.Turn))
	}
	return strings.Join(ways, l.Word("; or "))
}
