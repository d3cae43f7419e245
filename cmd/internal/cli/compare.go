package cli

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"balk/cmd/internal/job"
	"balk/coverage/rig"
	"balk/export/answer"
	"balk/export/sheet"
	"balk/export/words"
	"balk/geo"

	"github.com/paulmach/orb"
	"github.com/spf13/cobra"
)

// compare is the verb "balk compare".
func compare(v *voice) *cobra.Command {
	var s job.CompareSpec
	var files, widths []string
	var overlap float64
	var gate, bearing, edge, downhill string
	var draught map[string]string
	var asJSON, details bool
	c := &cobra.Command{
		Use:  "compare [FIELD]",
		Args: cobra.MaximumNArgs(1),
		PreRunE: func(c *cobra.Command, args []string) error {
			if err := v.standing(c, pathOf(args), func(name string) bool { return name != "fields" || len(args) == 0 }); err != nil {
				return err
			}
			if len(args) == 0 && s.Boundary == "" {
				return errors.New("FIELD is wanted")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 1 {
				s.Boundary = args[0]
			}
			for _, f := range files {
				im, err := v.call.Implement(f)
				if err != nil {
					return &stop{couldNot, err}
				}
				if c.Flags().Changed("overlap") {
					im.Overlap = overlap
					if err := im.Validate(); err != nil {
						return &stop{wrongCall, fmt.Errorf("--overlap %g: %s: %w", overlap, f, err)}
					}
				}
				s.Implements = append(s.Implements, im)
			}
			more, note, err := assumed(widths, overlap, v.Language)
			if err != nil {
				return &stop{wrongCall, err}
			}
			if note != "" {
				v.say(v.Fault(note))
			}
			s.Implements = append(s.Implements, more...)
			if s.Gate, err = placeOf(gate); err != nil {
				return &stop{wrongCall, err}
			}
			if s.Bearing, err = bearingOf(bearing); err != nil {
				return &stop{wrongCall, err}
			}
			if s.Hill.Downhill, err = bearingOf(downhill); err != nil {
				return &stop{wrongCall, fmt.Errorf("--downhill %s: must be degrees from true north", downhill)}
			}
			if s.Edge, err = edgeOf(edge); err != nil {
				return &stop{wrongCall, err}
			}
			if s.Options.Fuel.Draught, err = job.Draught(draught); err != nil {
				return &stop{wrongCall, err}
			}
			rounds := c.Flags().Lookup("rounds")
			s.Options.NoRounds = rounds.Changed && s.Options.Rounds == 0
			for name, v := range map[string]float64{"missed-hours": s.Options.MissedHours, "seconds": s.Seconds, "unfit-minutes": s.Options.UnfitMinutes, "between-parts": s.Options.BetweenParts, "pass-error": s.Options.PassError} {
				if c.Flags().Changed(name) && !(v > 0) {
					return &stop{wrongCall, fmt.Errorf("--%s %g: must be above 0", name, v)}
				}
			}
			s.Farm = v.farmOf(s.Farm)
			if s.After > 0 {
				s.Farm = cmp.Or(s.Farm, v.folder, ".")
			}
			rep, err := job.Compare(c.Context(), s, &v.call)
			return v.answer(rep.Findings, err, asJSON, rep.JSON, func(w io.Writer) error { return printComparison(w, rep, len(more) > 0, details) })
		},
	}
	f := c.Flags()
	f.SortFlags = false
	fieldsFlag(f, &s.Boundary)
	f.StringArrayVar(&files, "implement", nil, "`FILE` (JSON or TOML) that describes an implement and how it turns (can be repeated)")
	f.StringArrayVar(&widths, "widths", nil, "working widths in `METRES` of assumed sets, separated by commas; by semicolons where decimals stand after a comma")
	f.Var(measure{&overlap, "m"}, "overlap", "planned lap between neighbouring passes, of all sets (none, and that of its file for a described one, if not given)")
	f.Var(measure{(*float64)(&s.Options.Speed), "km/h"}, "speed", "while working")
	f.StringVar(&s.Field, "field", "", "the field by its `NUMBER`, as listed, or as name=NAME (a name that is no number may stand alone), if the file holds several")
	f.IntVar(&s.Options.Rounds, "rounds", 0, "headland rounds; 0 = none, passes run up to the boundary (the number with which the work takes least, if not given)")
	f.Var(headlandOrder{&s.Options.HeadlandFirst}, "headland", "\"last\": rounds after the rows, from the inside out, so that what turns press is cut afterwards, which is usual for cutting; or \"first\": before them, from the outside in")
	f.BoolVar(&s.Options.FullSpacing, "full-spacing", false, "passes at full credited width, the last one laps; else they are spread evenly")
	f.BoolVar(&s.Options.LeaveWedges, "leave-wedges", false, "end passes where their middle leaves the interior, at slanting row ends too")
	f.StringVar(&bearing, "bearing", "", "of the rows, `DEGREES` from true north, such as along an edge (the best if not given, straight or bent along an edge)")
	f.BoolVar(&s.Options.AlongLongest, "along-longest", false, "passes parallel to the longest edge, bent as it is")
	f.StringVar(&edge, "edge", "", "passes parallel to the boundary between two of its corners, `LON,LAT,LON,LAT`, bent as it is")
	farmFlag(f, &s.Farm)
	f.Int64Var(&s.After, "after", 0, "`NUMBER` of an operation of the farm: direction and place of the rows are sought so that what was missed up to it, by all that do the same, lies well inside a pass, and joins do not fall on joins")
	f.StringVar(&downhill, "downhill", "", "`DEGREES` from true north in which the field falls; with --slope and --crab-per-percent what sweeps leave across the slope is told, and counts as missed ground does")
	f.Var(measure{&s.Hill.Percent, "%"}, "slope", "how steep it falls that way")
	f.StringVar(&s.Hill.Log, "heights", "", "`FILE` of an earlier log of the field with heights, in place of --downhill and --slope")
	f.Var(measure{&s.Hill.Crab, "°"}, "crab-per-percent", "`DEGREES` by which the set turns uphill per percent of slope across its way (crabPerPercent of its file, else by the headings of --heights, if not given)")
	f.StringVar(&gate, "gate", "", "`LON,LAT` where the set comes from and leaves to")
	f.Var(measure{&s.Options.PassError, "m"}, "pass-error", "pass-to-pass error of the driving, 95 %, for the sensitivity (0.05 m if not given)")
	f.Uint64Var(&s.Options.Seed, "seed", 1, "of the driving error")
	ratesFlags(f, &s.Options.Rates.Hour, &s.Options.Rates.Litre)
	f.Var(measure{&s.Options.Fuel.Hour, "l/h"}, "fuel", "litres per hour while working")
	f.Var(measure{&s.Options.Fuel.Turning, "l/h"}, "fuel-turning", "litres per hour while turning and on runs (half of what working burns if not given: common practice, no source)")
	f.StringToStringVar(&draught, "draught", nil, "`WHAT=VALUE` of the tool's pull after ASABE D497: soil, a, b, c, tools, depth in cm, traction (0.73 if not given: D497, from memory); a kWh takes 0.223 l (D497.7, from memory) (a sweep plough on medium soil: soil=0.85,a=390,b=19,depth=8)")
	f.Var(measure{&s.Options.MissedHours, "h/ha"}, "missed-hours", "what a hectare missed takes after all, in the ranking (8 h/ha if not given)")
	f.Var(measure{&s.Options.UnfitMinutes, "min"}, "unfit-minutes", "what a turn or run that does not fit takes beyond its way, in the ranking: out, reverse, back (2 min if not given)")
	f.Var(measure{&s.Options.BetweenParts, "min"}, "between-parts", "what it takes from one part of the field to another, folding and road with it (the way as the crow flies if not given)")
	f.Var(measure{&s.Objective.Hours, ""}, "weigh-hours", "weight of an hour in the ranking (1 if no weight is given)")
	f.Var(measure{&s.Objective.Cost, ""}, "weigh-cost", "weight of a unit of cost")
	f.Var(measure{&s.Objective.Missed, ""}, "weigh-missed", "weight of a hectare missed, besides its hours")
	f.Var(measure{&s.Objective.Double, ""}, "weigh-double", "weight of a hectare worked twice")
	f.Var(measure{&s.Objective.Turns, ""}, "weigh-turns", "weight of a turn")
	f.Var(measure{&s.Seconds, "s"}, "seconds", "stop the search for each set after so many; the best plan by then is marked, and no order of work is made of it")
	readingFlags(f, &s.Reading)
	f.StringVar(&s.Out, "out", "", "`DIR` for the drawing, the guidance lines and the report")
	drawn(f, &s.Drawn, "drawing")
	f.BoolVar(&asJSON, "json", false, "print the report as JSON")
	f.BoolVar(&details, "details", false, "tell all figures of each, what they differ in, and how they fare if something is other than planned")
	once(f, "rounds", "seed", "after", "seconds", "out", "json", "details")
	c.MarkFlagsOneRequired("implement", "widths")
	if err := c.MarkFlagRequired("speed"); err != nil {
		panic(err) // the flag is added above
	}
	return c
}

// assumed are sets of bare widths. Note is not empty where a list may be one number with a decimal comma, or several.
func assumed(lists []string, overlap float64, l words.Language) (all []rig.Implement, note string, err error) {
	for _, list := range lists {
		list = strings.TrimSpace(strings.TrimSuffix(list, "m")) // a unit behind the last may be that of all
		widths := listOf(list)
		if !strings.ContainsAny(list, ";. m") {
			switch n := len(widths); {
			case n == 2:
				note = fmt.Sprintf("--widths %s: taken as two sets, of %s m and %s m; for one of %s.%s m write a point", list, widths[0], widths[1], widths[0], widths[1])
			case n%2 == 0 && !rising(widths):
				note = fmt.Sprintf("--widths %s: taken as %d sets; where these are decimals after a comma write semicolons between the widths", list, n)
			}
		}
		for _, w := range widths {
			var width float64
			if err := (measure{&width, "m"}).Set(w); err != nil {
				return nil, "", fmt.Errorf("--widths %s: %w", w, err)
			}
			im := job.Assumed(width, overlap)
			im.Name = l.Say("assumed, %.2f m", width)
			if err := im.Validate(); err != nil {
				if note != "" {
					return nil, "", errors.New(note)
				}
				return nil, "", fmt.Errorf("--widths %s: %w", w, err)
			}
			all = append(all, im)
		}
	}
	return all, note, nil
}

// listOf are the numbers of a list, by semicolons if there is one, which leaves the comma to decimals, else by commas.
func listOf(s string) []string {
	separator := ","
	if strings.Contains(s, ";") {
		separator = ";"
	}
	return strings.Split(s, separator)
}

// rising tells whether each number of a list is greater than the one before it.
func rising(list []string) bool {
	last := math.Inf(-1)
	for _, s := range list {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil || v <= last {
			return false
		}
		last = v
	}
	return true
}

// placeOf reads LON,LAT; nil for nothing.
func placeOf(s string) (*orb.Point, error) {
	if s == "" {
		return nil, nil
	}
	if all := placesOf(s); len(all) == 1 {
		return &all[0], nil
	}
	return nil, fmt.Errorf("--gate %s: must be longitude and latitude in degrees, such as 11.5731,48.1371 or 11,5731;48,1371", s)
}

// placesOf reads LON,LAT,LON,LAT...; nil: it is something else.
func placesOf(s string) (all []orb.Point) {
	list := listOf(s)
	if len(list)%2 != 0 {
		return nil
	}
	for i := 0; i < len(list); i += 2 {
		x, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(list[i]), ",", ".", 1), 64)
		y, err2 := strconv.ParseFloat(strings.Replace(strings.TrimSpace(list[i+1]), ",", ".", 1), 64)
		if err != nil || err2 != nil || !(x >= -180 && x <= 180 && y >= -90 && y <= 90) {
			return nil
		}
		all = append(all, orb.Point{x, y})
	}
	return all
}

// bearingOf reads degrees from true north; nil for nothing.
func bearingOf(s string) (*float64, error) {
	if s == "" {
		return nil, nil
	}
	b, err := job.Number(s, "°")
	if err != nil {
		return nil, fmt.Errorf("--bearing %s: must be degrees from true north", s)
	}
	return &b, nil
}

// edgeOf reads LON,LAT,LON,LAT; nil for nothing.
func edgeOf(s string) (*[2]orb.Point, error) {
	if s == "" {
		return nil, nil
	}
	if all := placesOf(s); len(all) == 2 {
		return &[2]orb.Point{all[0], all[1]}, nil
	}
	return nil, fmt.Errorf("--edge %s: must be longitude and latitude of two corners in degrees", s)
}

// printComparison writes the report as a person reads it.
func printComparison(w io.Writer, r job.CompareReport, assumed, details bool) error {
	b := &telling{Language: r.Spec.Language}
	b.put("%s, %s ha\nworking speed %.1f km/h\n", fieldOf(b.Language, r.Field), ha(b, r.Area), float64(r.Spec.Options.Speed))
	b.text(strings.Join(append(r.Answer, r.AfterWords()...), " "), "")
	b.put("\n")
	part := ranked
	if details {
		part = compared
	}
	if err := part(b, r); err != nil {
		return err
	}
	if assumed {
		said := b.Word("assumed sets: mounted, tractor 2.5 m wide, turning on a radius of 6 m at 6 km/h (common practice, no source)")
		if details {
			b.put("\n")
			b.text(said, "")
		} else {
			b.hint = said + ". " + b.hint
		}
	}
	return b.closing(w, r.Files, b.BeforeWork())
}

// ranked is the ranking on a screen, no wider than 80 columns.
func ranked(b *telling, r job.CompareReport) error {
	costs := r.Candidates[0].CostHectare > 0
	last := "turns/runs"
	if costs {
		last = "cost/ha"
	}
	t := b.heads("", "implement", "m wide", "rows at", "passes", "h:min", "missed m²", last)
	for i, c := range r.Candidates {
		bent := ""
		if c.Bent {
			bent = " " + b.Word("bent")
		}
		t.row("%d\t%s\t%.2f\t%s%s\t%d\t%s\t%.0f\t", i+1, short(c.Name, 16), c.Width, b.Bearings(r.Bearing(c), c.Also, 0), bent, c.Passes, words.Hours(3600*c.Hours), c.Missed)
		if costs {
			t.row("%.2f\t\n", c.CostHectare)
		} else {
			t.row("%d/%d\t\n", c.Turns, c.Runs)
		}
	}
	if err := t.end(); err != nil {
		return err
	}
	b.prices(r)
	if r.Hill != nil { // it was asked for
		uncut(b, r)
	}
	b.hint = b.Word("More: --details.")
	return nil
}

// prices says by what plans are ranked, and what ground missed and turns without room count there.
func (t *telling) prices(r job.CompareReport) {
	by := t.Word("ranked by hours")
	if r.Weighed() {
		by = t.Word("ranked by the weights given")
	}
	t.text(by+t.Say(": a hectare missed counts %g h (--missed-hours), a turn or run that does not fit %g min more than its way (--unfit-minutes)", r.MissedHours, r.UnfitMinutes), "")
	if r.Candidates[0].Between == 0 {
		return
	}
	if given := r.Spec.Options.BetweenParts; given > 0 {
		t.text(t.Say("The parts of the field do not touch: from one to another each way counts %g min (--between-parts).", given), "")
	} else {
		t.text(t.Word("The parts of the field do not touch: from one to another the way counts as the crow flies (--between-parts tells what it takes); or plan each as a field."), "")
	}
}

// compared is all that is known of the ranked.
func compared(b *telling, r job.CompareReport) error {
	t := b.heads("no.", "implement", "width m", "rows at", "rounds", "passes", "turns", "runs", "not fitting", "h:min", "ha/h", "efficiency", "missed ha", "and h:min for it", "twice ha", "headland", "cost/ha")
	for i, c := range r.Candidates {
		cost, bent := "-", ""
		if c.CostHectare > 0 {
			cost = b.Say("%.2f", c.CostHectare)
		}
		if c.Bent {
			bent = " " + b.Word("bent")
		}
		t.row("%d\t%s\t%.2f\t%s%s\t%d\t%d\t%d\t%d\t%d\t%s\t%.2f\t%.0f %%\t%s\t%s\t%s\t%.1f %%\t%s\t\n", i+1, geo.Shown(c.Name), c.Width, b.Bearings(r.Bearing(c), c.Also, 0), bent, c.Rounds, c.Passes, c.Turns, c.Runs, len(c.Infeasible),
			words.Hours(3600*c.Hours), words.HaPerHour(c.Capacity), 100*c.Share, ha(b, c.Missed), words.Hours(3600*c.Open), ha(b, c.Double), 100*c.HeadlandShare, cost)
	}
	if err := t.end(); err != nil {
		return err
	}
	b.prices(r)

	if others := r.Candidates[1:]; len(others) > 0 {
		b.put("\nhow they differ from the first\n")
		for i, c := range others {
			b.put("  %d. %s\n", i+2, sheet.Difference(b.Language, c, r.Candidates[0]))
		}
	}
	b.put("\nhow far each is above the least that its rows and rounds can take, in any order and with any turns\n")
	for i, c := range r.Candidates {
		b.put("  %d. %.1f %% above %s h; no plan at all works as much ground in less than %s h\n", i+1, 100*c.Gap, words.Hours(3600*c.Least), words.Hours(3600*c.LeastOfAny))
	}
	b.put("\nheadland that each needs to turn into the next row, where the boundary runs square (balk turn)\n")
	for i, c := range r.Candidates {
		switch n := c.Need; {
		case n == nil:
			b.put("  %d. it turns into none of the next rows\n", i+1)
		case n.LeastSkip > n.Skip:
			b.put("  %d. %.2f m: %s; with %s left between for later %.2f m: %s\n", i+1, n.Depth, b.Count(n.Rounds, "headland round"), b.Count(n.LeastSkip, "row"), n.Least, b.Count(n.LeastRounds, "headland round"))
		default:
			b.put("  %d. %.2f m: %s\n", i+1, n.Depth, b.Count(n.Rounds, "headland round"))
		}
	}
	told := false
	for i, c := range r.Candidates {
		if c.Small == 0 {
			continue
		}
		if !told {
			b.put("\n")
			told = true
		}
		b.put("  %d. %s\n", i+1, answer.SmallObstacles(b.Language, c.Small, c.Bends, c.Lifts))
	}
	b.put("\nhow each fares if something is other than planned\n")
	t = b.heads("no.", "  what", "h:min", "missed ha", "twice ha", "turns", "runs", "not fitting", "as ranked")
	for i, c := range r.Candidates {
		for _, d := range slices.Insert(slices.Clone(c.Sensitivity), 0, c.AsPlanned()) {
			value := b.Say("%.2f", d.Value)
			if !r.Weighed() {
				value = words.Hours(3600 * d.Value)
			}
			t.row("%d\t  %s\t%s\t%s\t%s\t%d\t%d\t%d\t%s\t\n", i+1, b.Told(d.What), words.Hours(3600*d.Hours), ha(b, d.Missed), ha(b, d.Double), d.Turns, d.Runs, d.Unfit, value)
		}
	}
	if err := t.end(); err != nil {
		return err
	}
	if r.Stopped() {
		b.put("narrower, and with a round more, is not worked out of plans whose search was stopped\n")
	}
	if c := r.Candidates[0]; len(c.Infeasible) > 0 {
		b.put("\nturns and runs of the first that do not fit: %s", b.Told(c.Infeasible[0].Why))
		if n := len(c.Infeasible) - 1; n > 0 {
			b.put(", and %d more (--json lists them)", n)
		}
		b.put("\n")
	}
	uncut(b, r)
	trodden(b, r)
	if r.Candidates[0].Litres > 0 {
		b.put("\nfuel\n")
		for i, c := range r.Candidates {
			power := ""
			if c.Power > 0 {
				power = b.Say(", %.0f kW at the drawbar", c.Power)
			}
			b.put("  %d. %.1f l, %.1f l/ha%s\n", i+1, c.Litres, c.Litres/(r.Area/1e4), power)
		}
		b.text(sheet.FuelBasis(b.Language, r.Spec.Options.Fuel), "  ")
	}
	return nil
}

// headlandOrder is when the rounds of the headland are driven.
type headlandOrder struct{ first *bool }

func (h headlandOrder) String() string {
	if h.first != nil && *h.first {
		return "first"
	}
	return "last"
}

func (h headlandOrder) Type() string { return "first|last" }

func (h headlandOrder) Set(s string) error {
	if s != "first" && s != "last" {
		return fmt.Errorf("%q: must be first or last", s)
	}
	*h.first = s == "first"
	return nil
}

// trodden says on how much ground tyres run after it was cut, of sets whose tyres are described.
func trodden(b *telling, r job.CompareReport) {
	head := "\nunder tyres after the cut, the headland worked last\n"
	if r.Spec.Options.HeadlandFirst {
		head = "\nunder tyres after the cut, the headland worked first\n"
	}
	for i, c := range r.Candidates {
		if c.Trodden >= 1 {
			b.b.WriteString(b.Word(head))
			fmt.Fprintf(&b.b, "  %d. %.0f m²\n", i+1, c.Trodden)
			head = ""
		}
	}
}

// uncut says what sweeps leave between them in bends, of plans whose sets say where their sweeps stand.
func uncut(b *telling, r job.CompareReport) {
	head := "\nbetween the sweeps, where rows and rounds bend (balk sweeps)\n"
	if h := r.Hill; h != nil {
		head = "\nbetween the sweeps, where rows and rounds bend or lie across the slope (balk sweeps)\n"
		b.put("\nslopes of %.0f %% in the mean, up to %.0f %%; the set turns uphill by %.2f° per percent across its way", h.Mean, h.Most, h.Crab)
		if h.CrabMost > 0 {
			b.put(", another by up to %.2f°", h.CrabMost)
		}
		if h.Doubt > 0 {
			b.put(" (± %.2f° by the log)", h.Doubt)
		}
		b.put("\n")
		if h.Unknown {
			b.put("  the log does not tell the slope of a part of the field: it counts as level\n")
		}
	}
	for i, c := range r.Candidates {
		if c.Uncut >= 1 {
			b.b.WriteString(b.Word(head))
			b.put("  %d. %.0f m² stay uncut\n", i+1, c.Uncut)
			head = ""
		}
	}
}
