package cli

import (
	"fmt"
	"math"
	"strings"
	"text/tabwriter"

	"balk/cmd/internal/job"
	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/export/answer"
	"balk/export/sheet"
	"balk/export/words"
	"balk/geo"
)

// zones says where missed and double-worked ground lies.
func zones(b *strings.Builder, r job.Report) error {
	z := r.Zones
	fmt.Fprintf(b, "\nwhere it lies (within %.2f m of boundary or obstacle, and inside)\n", z.Depth)
	t := table(b)
	fmt.Fprintln(t, "\tha\tmissed m²\t% of it\ttwice or more m²\t% of it\t")
	for _, row := range []struct {
		words string
		zone  ground.Zone
	}{{"along the boundary", z.Headland}, {"around obstacles", z.Obstacles}, {"interior", z.Interior}} {
		if row.zone.Area == 0 {
			continue
		}
		fmt.Fprintf(t, "%-20s\t%s\t%.0f\t%.2f\t%.0f\t%.2f\t\n", row.words, sheet.Hectares(row.zone.Area),
			row.zone.Missed, 100*row.zone.MissedShare, row.zone.Double, 100*row.zone.DoubleShare)
	}
	return t.Flush()
}

// driven says what the set did, and how fast.
func driven(b *strings.Builder, r job.Report) error {
	e := r.Effort
	fmt.Fprint(b, "\nhow it was driven\n")
	t := table(b)
	if e.Timed {
		fmt.Fprintln(t, "\tkm\th:min\t% of time on the field\t")
	} else {
		fmt.Fprintln(t, "\tkm\t")
	}
	for _, row := range []struct {
		words string
		spent coverage.Spent
		road  bool
	}{
		{"working", e.Working, false}, {"turning", e.Turning, false}, {"standing", e.Standing, false},
		{"not known (log gap)", e.Unknown, false}, {"on the road", e.Road, true},
	} {
		if row.spent.Metres == 0 && row.spent.Seconds == 0 {
			continue
		}
		fmt.Fprintf(t, "%-20s\t%.2f\t", row.words, row.spent.Metres/1000)
		switch {
		case e.Timed && row.road:
			fmt.Fprintf(t, "%s\t\t", words.Hours(row.spent.Seconds))
		case e.Timed:
			fmt.Fprintf(t, "%s\t%.1f\t", words.Hours(row.spent.Seconds), 100*row.spent.Share)
		}
		fmt.Fprintln(t)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	if e.Break > 0 {
		fmt.Fprintf(b, "  breaks of more than an hour, not counted: %s\n", words.Clock(e.Break))
	}
	if e.ClockFault > 0 {
		fmt.Fprintf(b, "  the clock went wrong %s; the way there has no time\n", count(e.ClockFault, "time", "times"))
	}
	if e.TheoreticalCapacity > 0 {
		s := e.Speed
		fmt.Fprintf(b, "working speed %.1f km/h in the mean; for half of the time from %.1f to %.1f, for nine tenths from %.1f to %.1f\n",
			s.Mean*geo.Kmh, s.Q25*geo.Kmh, s.Q75*geo.Kmh, s.Q05*geo.Kmh, s.Q95*geo.Kmh)
		fmt.Fprintf(b, "effective field capacity %.2f ha/h, of %.2f ha/h at full width without a stop: field efficiency %.0f %%\n",
			words.HaPerHour(e.EffectiveCapacity), words.HaPerHour(e.TheoreticalCapacity), 100*e.FieldEfficiency)
	}
	if c := r.Counters; c != nil {
		counters(b, *c)
	}
	if c := r.Crab; c != nil {
		crab(b, *c)
	}
	return nil
}

// counters says what the machine counted itself, and by how much it is off ours.
func counters(b *strings.Builder, c job.Counters) {
	var words []string
	add := func(one job.Counted, format string, unit float64) {
		if one.Machine == 0 {
			return
		}
		s := fmt.Sprintf(format, one.Machine/unit)
		if off := one.Off(); !math.IsNaN(off) {
			side := "above"
			if off < 0 {
				side = "below"
			}
			s += fmt.Sprintf(" (%.1f %% %s ours)", 100*math.Abs(off), side)
		}
		words = append(words, s)
	}
	add(c.Working, "%.2f km working", 1000)
	add(c.Idle, "%.2f km with the tool lifted", 1000)
	add(c.WorkingTime, "%.2f h working", 3600)
	add(c.Area, "%.2f ha", 1e4)
	if c.Fuel > 0 {
		s := fmt.Sprintf("%.1f l of fuel", c.Fuel)
		if c.Area.Ours > 0 {
			s += fmt.Sprintf(", %.1f l/ha", c.Fuel/(c.Area.Ours/1e4))
		}
		words = append(words, s)
	}
	of := ""
	if c.Tracks < c.Of {
		of = fmt.Sprintf(", for %d of %d tracks", c.Tracks, c.Of)
	}
	if len(words) > 0 {
		fmt.Fprintf(b, "by the machine's own counters%s: %s\n", of, strings.Join(words, "; "))
	}
	words = nil
	if c.Depth > 0 {
		words = append(words, fmt.Sprintf("depth %.1f cm", 100*c.Depth))
	}
	if c.Mass > 0 {
		words = append(words, fmt.Sprintf("%.0f kg/ha put out", 1e4*c.Mass))
	}
	if c.Count > 0 {
		words = append(words, fmt.Sprintf("%.1f pieces/m² put out", c.Count))
	}
	if len(words) > 0 {
		fmt.Fprintf(b, "logged at work%s, in the mean: %s\n", of, strings.Join(words, ", "))
	}
}

func crab(b *strings.Builder, c drive.Crab) {
	switch {
	case !c.Measured:
		fmt.Fprintf(b, "crab angle %.1f° as given, downhill towards %.0f°: the bar runs up to %.2f m below the way of the antenna\n", c.Angle, float64(c.Downhill), c.Shift)
	default:
		fmt.Fprintf(b, "crab angle %.1f ± %.1f° by the logged headings, downhill towards %.0f° (%d runs there, %d back)", c.Angle, c.Spread, float64(c.Downhill), c.Passes[0], c.Passes[1])
		if c.Applied {
			fmt.Fprintf(b, ": the bar runs up to %.2f m below the way of the antenna", c.Shift)
		} else if c.Angle > c.Spread {
			fmt.Fprintf(b, "; not applied (--crab %s)", measured)
		}
		b.WriteString("\n")
		if math.Abs(c.Sensor) > c.Spread {
			side := "left"
			if c.Sensor < 0 {
				side = "right"
			}
			fmt.Fprintf(b, "  the headings point %.1f° to the %s of the way in both directions: the sensor is not in line\n", math.Abs(c.Sensor), side)
		}
	}
}

// spacing says how far neighbouring passes lie apart.
func spacing(b *strings.Builder, r job.Report) error {
	s := r.Spacing
	if s.Samples == 0 {
		return nil
	}
	fmt.Fprintf(b, "spacing of neighbouring passes: planned %.2f m, median %.2f m, half of it from %.2f to %.2f, nine tenths from %.2f to %.2f\n",
		s.Planned, s.Median, s.Q25, s.Q75, s.Q05, s.Q95)
	fmt.Fprintf(b, "  %.1f %% wider than the implement, %.1f %% more than 5 cm narrower than planned\n", 100*s.Wider, 100*s.Narrower)
	if p := s.Parting; p.Along > 0 && math.Abs(p.Rate) >= 1e-3 {
		does := "part"
		if p.Rate < 0 {
			does = "close in"
		}
		fmt.Fprintf(b, "  passes %d and %d %s most: %.0f cm in 100 m\n", p.Passes[0], p.Passes[1], does, math.Abs(p.Rate)*1e4)
	}
	if next := answer.NextTime(s, words.English); next != "" {
		b.WriteString(words.Wrap(next, "  ") + "\n")
	}
	return nil
}

// inCommon says what missed strips have in common, and what would prevent it.
func inCommon(b *strings.Builder, r job.Report) error {
	if len(r.Patterns) == 0 {
		return nil
	}
	b.WriteString("what missed strips have in common\n")
	for _, line := range answer.Patterns(r.Patterns, words.English) {
		b.WriteString(words.Wrap(line, "  ") + "\n")
	}
	return nil
}

// tightListed is how many tight turns are listed; the report as JSON has all.
const tightListed = 10

// turns says how the set turned between passes, and where it was too tight.
func turns(b *strings.Builder, r job.Report) error {
	t := r.Turning
	if t.Turns == 0 {
		return nil
	}
	fmt.Fprintf(b, "%s between passes", count(t.Turns, "turn", "turns"))
	if t.Worst > 0 {
		fmt.Fprintf(b, ": half of them within %.0f s, the longest %.0f s", t.Median, t.Worst)
	}
	if t.Radius > 0 {
		fmt.Fprintf(b, "; least radius driven %.1f m", t.Radius)
	}
	if t.Angle > 0 {
		fmt.Fprintf(b, ", greatest drawbar angle %.0f°", t.Angle)
	}
	b.WriteString("\n")
	if t.Tight == 0 {
		return nil
	}
	var limits []string
	if radius := r.Spec.Work.TurnRadius; radius > 0 {
		limits = append(limits, fmt.Sprintf("radius %.1f m", radius))
	}
	if angle := r.Spec.Work.Mount.AngleLimit(); angle > 0 {
		limits = append(limits, fmt.Sprintf("drawbar angle %.0f°", angle))
	}
	fmt.Fprintf(b, "  %s tighter than the set may turn (%s):\n", count(t.Tight, "was", "were"), strings.Join(limits, ", "))
	w := table(b)
	fmt.Fprintln(w, "turn\tpasses\tradius m\tdrawbar\tlongitude\tlatitude\ttime (UTC)\t")
	listed := 0
	for _, one := range r.Turns {
		if !one.Tight {
			continue
		}
		if listed++; listed > tightListed {
			break
		}
		when := "-"
		if !one.Start.IsZero() {
			when = geo.Moment(one.Start)
		}
		radius, angle := "-", "-"
		if one.Radius > 0 {
			radius = fmt.Sprintf("%.1f", one.Radius)
		}
		if one.Angle > 0 {
			angle = fmt.Sprintf("%.0f°", one.Angle)
		}
		fmt.Fprintf(w, "%d\t%d-%d\t%s\t%s\t%.6f\t%.6f\t%s\t\n", one.Number, one.From, one.To, radius, angle, one.At[0], one.At[1], when)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if t.Tight > tightListed {
		fmt.Fprintf(b, "  and %d more (--json lists them)\n", t.Tight-tightListed)
	}
	return nil
}

func table(b *strings.Builder) *tabwriter.Writer {
	return tabwriter.NewWriter(b, 0, 0, 2, ' ', tabwriter.AlignRight)
}
