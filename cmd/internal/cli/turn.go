package cli

import (
	"cmp"
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
	var asJSON, all bool
	var bearing string
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
			rep, err := job.Turn(c.Context(), s, &v.call)
			return v.answer(rep.Findings, err, asJSON, rep.JSON, func(w io.Writer) error { return printTurns(w, rep, all) })
		},
	}
	f := c.Flags()
	f.SortFlags = false
	fieldsFlag(f, &s.Boundary)
	machine.add(f)
	f.Var(measure{&s.Spacing, "m"}, "spacing", "between rows (credited width if not given)")
	f.Var(measure{&s.Headland, "m"}, "headland", "headland depth (what the quickest turn needs if not given)")
	f.IntVar(&s.MostSkip, "skip", 4, "most rows left for later that are tried")
	f.StringVar(&s.Field, "field", "", "the field by its `NUMBER`, as listed, or as name=NAME (a name that is no number may stand alone), if the file holds several")
	f.StringVar(&bearing, "bearing", "", "of the rows, `DEGREES` from true north (along the longest edge if not given)")
	readingFlags(f, &s.Reading)
	f.StringVar(&s.Out, "out", "", "`DIR` for drawings of the turns, the row ends (GeoJSON and map) and the report")
	drawn(f, &s.Drawn, "drawings")
	f.BoolVar(&asJSON, "json", false, "print the report as JSON")
	f.BoolVar(&all, "all", false, "list all kinds of turn of all patterns, and all row ends")
	once(f, "out", "json", "all")
	if err := c.MarkFlagRequired("implement"); err != nil {
		panic(err) // the flag is added above
	}
	return c
}

// printTurns writes the report as a person reads it.
func printTurns(w io.Writer, r job.TurnReport, all bool) error {
	var b strings.Builder
	im := r.Spec.Implement
	hung := "mounted"
	if im.Mount.Trailed {
		hung = fmt.Sprintf("trailed on a drawbar of %.2f m", im.Mount.Drawbar)
	}
	fmt.Fprintf(&b, "%s, %.2f m wide (%s), %s; turns on a radius of %.2f m or more\n", geo.Shown(cmp.Or(im.Name, "implement")), im.Width, r.Spec.WidthFrom, hung, im.TurnRadius())
	given := ""
	if r.Spec.Headland == 0 {
		given = " (what the nearest row needs at least)"
	}
	fmt.Fprintf(&b, "rows %.2f m apart, headland %.2f m deep%s, margin %.2f m\n", r.Spacing, r.Headland, given, im.Turning.Margin)
	if err := patterns(&b, r, all); err != nil {
		return err
	}
	if r.Field != nil {
		if err := fieldTurns(&b, *r.Field, all); err != nil {
			return err
		}
	}
	return closing(w, &b, r.Files, words.English.BeforeWork())
}

// patterns is the table of turns on a straight headland: for the next row all
// kinds, for the others the best.
func patterns(b *strings.Builder, r job.TurnReport, all bool) error {
	b.WriteString("\nat a straight row end, headland square to the rows\n")
	t := table(b)
	fmt.Fprintln(t, "row\tm apart\tkind\tfeasible\tdepth m\tspare m\tlength m\ttime s\treverse m\tdrawbar\tcuts in m\tswept m²\tmissed m²\t")
	var why []string
	for _, p := range r.Patterns {
		row := strings.TrimSuffix(sheet.RowInto(p.Skip), " row")
		for _, k := range p.Turns {
			if p.Skip > 0 && !all && k.Kind != p.Best {
				continue
			}
			fmt.Fprintf(t, "%s\t%.2f\t%s\t", row, p.RowDistance, kindOf(k))
			if k.Length == 0 {
				fmt.Fprintln(t, "no\t-\t-\t-\t-\t-\t-\t-\t-\t-\t")
			} else {
				drawbar := "-"
				if k.Angle > 0 {
					drawbar = fmt.Sprintf("%.0f°", k.Angle)
				}
				fmt.Fprintf(t, "%s\t%.2f\t%+.2f\t%.1f\t%s\t%.1f\t%s\t%.2f\t%.0f\t%.2f\t\n", yes(k.Feasible), k.Depth, k.Spare, k.Length, seconds(k.Time), k.Reverse, drawbar, k.CutIn, k.Swept, k.Missed)
			}
			if k.Why != "" {
				why = append(why, fmt.Sprintf("  %s, %s: %s", sheet.RowInto(p.Skip), kindOf(k), k.Why))
			}
		}
		if p.Best == "" && p.Skip > 0 && !all {
			fmt.Fprintf(t, "%s\t%.2f\tany\tno\t-\t-\t-\t-\t-\t-\t-\t-\t-\t\n", row, p.RowDistance)
		}
	}
	if err := t.Flush(); err != nil {
		return err
	}
	for _, p := range r.Patterns {
		switch {
		case p.LeastDepth > 0:
			fmt.Fprintf(b, "%s: from %.2f m of headland", sheet.RowInto(p.Skip), p.LeastDepth)
		default:
			fmt.Fprintf(b, "%s: at no depth", sheet.RowInto(p.Skip))
		}
		if p.Best != "" {
			fmt.Fprintf(b, "; quickest here: %s", p.Best)
		}
		b.WriteString("\n")
	}
	if len(why) > 0 {
		b.WriteString("why not:\n" + strings.Join(why, "\n") + "\n")
	}
	return nil
}

// kindOf is the kind of a turn, and to which side where that makes a difference.
func kindOf(t turn.Turn) string {
	if t.Side == "" {
		return string(t.Kind)
	}
	return fmt.Sprintf("%s (%s)", t.Kind, t.Side)
}

func yes(is bool) string {
	if is {
		return "yes"
	}
	return "no"
}

func seconds(s float64) string {
	if s == 0 {
		return "-"
	}
	return fmt.Sprintf("%.0f", s)
}

// fieldTurns says at which row ends the set cannot turn, and what would help.
func fieldTurns(b *strings.Builder, f job.FieldTurns, all bool) error {
	e := f.Ends
	fmt.Fprintf(b, "\n%s: %s at %.0f°, headland %.2f m deep takes %.1f %% of the field\n", fieldOf(words.English, f.Name),
		count(e.Rows, "row", "rows"), float64(f.Bearing), e.HeadlandDepth, 100*e.HeadlandShare)
	fmt.Fprintf(b, "%s judged, %d infeasible\n", count(len(e.Ends), "row end", "row ends"), e.Infeasible)
	if l := f.Least; l.Found {
		fmt.Fprintf(b, "all feasible from a headland of %.2f m on, which takes %s ha, %.1f %% of the field\n", l.Depth, sheet.Hectares(l.Ends.Headland), 100*l.Ends.HeadlandShare)
	} else {
		fmt.Fprintf(b, "no headland up to %.1f m makes all of them feasible\n", l.Limit)
	}
	if e.Infeasible == 0 && !all {
		return nil
	}
	t := table(b)
	fmt.Fprintln(t, "row\tinto\tend\tlongitude\tlatitude\tkind\tspare m\t  way out")
	shown := 0
	for i, one := range e.Ends {
		if one.Turn.Feasible && !all {
			continue
		}
		if shown++; shown > listed && !all {
			continue
		}
		end := "near"
		if one.Far {
			end = "far"
		}
		fmt.Fprintf(t, "%d\t%d\t%s\t%.6f\t%.6f\t%s\t%+.2f\t  %s\n", one.Row, one.Next, end, f.Places[i][0], f.Places[i][1], one.Turn.Kind, one.Turn.Spare, wayOut(one))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	if shown > listed && !all {
		fmt.Fprintf(b, "and %d more infeasible ones (--all lists all row ends)\n", shown-listed)
	}
	return nil
}

// wayOut says what would make a turn feasible.
func wayOut(e turn.RowEnd) string {
	if e.Turn.Feasible {
		return "feasible"
	}
	var ways []string
	if w := e.WayOut; w != nil {
		if w.Skip > 0 {
			ways = append(ways, fmt.Sprintf("leave %s for later (%s)", count(w.Skip, "row", "rows"), w.SkipKind))
		}
		if w.Deeper > 0 {
			ways = append(ways, fmt.Sprintf("end the rows %.1f m earlier (%s)", w.Deeper, w.Kind))
		}
		if w.Backing != "" {
			ways = append(ways, fmt.Sprintf("reverse, if the set might (%s)", w.Backing))
		}
	}
	if len(ways) == 0 {
		return "none found: " + e.Turn.Why
	}
	return strings.Join(ways, "; or ")
}
