package cli

import (
	"strings"

	"balk/cmd/internal/job"
	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/export/answer"
	"balk/export/words"
	"balk/geo"
)

// zones says where missed and double-worked ground lies.
func zones(b *telling, r job.Report) error {
	z := r.Zones
	b.put("\nwhere it lies (within %.2f m of boundary or obstacle, and inside)\n", z.Depth)
	t := b.heads("", "ha", "missed m²", "% of it", "twice or more m²", "% of it")
	for _, row := range []struct {
		words string
		zone  ground.Zone
	}{{"along the boundary", z.Headland}, {"around obstacles", z.Obstacles}, {"interior", z.Interior}} {
		if row.zone.Area == 0 {
			continue
		}
		t.row("%-20s\t%s\t%.0f\t%.2f\t%.0f\t%.2f\t\n", b.Word(row.words), ha(b, row.zone.Area),
			row.zone.Missed, 100*row.zone.MissedShare, row.zone.Double, 100*row.zone.DoubleShare)
	}
	return t.end()
}

// driven says what the set did, and how fast.
func driven(b *telling, r job.Report) error {
	e := r.Effort
	b.put("\nhow it was driven\n")
	heads := []string{"", "km"}
	if e.Timed {
		heads = append(heads, "h:min", "% of time on the field")
	}
	t := b.heads(heads...)
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
		t.row("%-20s\t%.2f\t", b.Word(row.words), row.spent.Metres/1000)
		switch {
		case e.Timed && row.road:
			t.row("%s\t\t", words.Hours(row.spent.Seconds))
		case e.Timed:
			t.row("%s\t%.1f\t", words.Hours(row.spent.Seconds), 100*row.spent.Share)
		}
		t.row("\n")
	}
	if err := t.end(); err != nil {
		return err
	}
	if e.Break > 0 {
		b.put("  breaks of more than an hour, not counted: %s\n", words.Clock(e.Break))
	}
	if e.ClockFault > 0 {
		b.put("  the clock went wrong %s; the way there has no time\n", b.Count(e.ClockFault, "time"))
	}
	if e.TheoreticalCapacity > 0 {
		s := e.Speed
		b.put("working speed %.1f km/h in the mean; for half of the time from %.1f to %.1f, for nine tenths from %.1f to %.1f\n",
			s.Mean*geo.Kmh, s.Q25*geo.Kmh, s.Q75*geo.Kmh, s.Q05*geo.Kmh, s.Q95*geo.Kmh)
		b.put("effective field capacity %.2f ha/h, of %.2f ha/h at full width without a stop: field efficiency %.0f %%\n",
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
func counters(b *telling, c job.Counters) {
	var said []string
	add := func(one job.Counted, format string, unit float64) {
		if one.Machine == 0 {
			return
		}
		s := b.Say(format, one.Machine/unit)
		switch off := 100 * one.Off(); {
		case off >= 0:
			s += b.Say(" (%.1f %% above ours)", off)
		case off < 0:
			s += b.Say(" (%.1f %% below ours)", -off)
		}
		said = append(said, s)
	}
	add(c.Working, "%.2f km working", 1000)
	add(c.Idle, "%.2f km with the tool lifted", 1000)
	add(c.WorkingTime, "%.2f h working", 3600)
	add(c.Area, "%.2f ha", 1e4)
	if c.Fuel > 0 {
		s := b.Say("%.1f l of fuel", c.Fuel)
		if c.Area.Ours > 0 {
			s += b.Say(", %.1f l/ha", c.Fuel/(c.Area.Ours/1e4))
		}
		said = append(said, s)
	}
	of := ""
	if c.Tracks < c.Of {
		of = b.Say(", for %d of %d tracks", c.Tracks, c.Of)
	}
	if len(said) > 0 {
		b.put("by the machine's own counters%s: %s\n", of, strings.Join(said, "; "))
	}
	said = nil
	if c.Depth > 0 {
		said = append(said, b.Say("depth %.1f cm", 100*c.Depth))
	}
	if c.Mass > 0 {
		said = append(said, b.Say("%.0f kg/ha put out", 1e4*c.Mass))
	}
	if c.Count > 0 {
		said = append(said, b.Say("%.1f pieces/m² put out", c.Count))
	}
	if len(said) > 0 {
		b.put("logged at work%s, in the mean: %s\n", of, strings.Join(said, ", "))
	}
}

func crab(b *telling, c drive.Crab) {
	if c.PerPercent > 0 {
		b.put("crab angle %.2f° per percent of slope across the way, supposed, not measured: on %.0f %% of the way at work, up to %.1f°, and the bar up to %.2f m below the way of the antenna\n",
			c.PerPercent, 100*c.Share, c.Angle, c.Shift)
		return
	}
	if !c.Measured {
		b.put("crab angle %.1f° as given, downhill towards %.0f°: the bar runs up to %.2f m below the way of the antenna\n", c.Angle, float64(c.Downhill), c.Shift)
		return
	}
	b.put("crab angle %.1f ± %.1f° by the logged headings, downhill towards %.0f° (%d runs there, %d back)", c.Angle, c.Spread, float64(c.Downhill), c.Passes[0], c.Passes[1])
	if c.Applied {
		b.put(": the bar runs up to %.2f m below the way of the antenna", c.Shift)
	} else if c.Angle > c.Spread {
		b.put("; not applied (--crab measured)")
	}
	b.put("\n")
	switch {
	case c.Sensor > c.Spread:
		b.put("  the headings point %.1f° to the left of the way in both directions: the sensor is not in line\n", c.Sensor)
	case -c.Sensor > c.Spread:
		b.put("  the headings point %.1f° to the right of the way in both directions: the sensor is not in line\n", -c.Sensor)
	}
}

// spacing says how far neighbouring passes lie apart.
func spacing(b *telling, r job.Report) error {
	s := r.Spacing
	if s.Samples == 0 {
		return nil
	}
	b.put("spacing of neighbouring passes: planned %.2f m, mostly about %.2f m, half of it from %.2f to %.2f, nine tenths from %.2f to %.2f\n",
		s.Planned, s.Median, s.Q25, s.Q75, s.Q05, s.Q95)
	b.put("  %.1f %% wider than the implement, %.1f %% more than 5 cm narrower than planned\n", 100*s.Wider, 100*s.Narrower)
	if p := s.Parting; p.Along > 0 && p.Rate >= 1e-3 {
		b.put("  passes %d and %d part most: %.0f cm in 100 m\n", p.Passes[0], p.Passes[1], p.Rate*1e4)
	} else if p.Along > 0 && p.Rate <= -1e-3 {
		b.put("  passes %d and %d close in most: %.0f cm in 100 m\n", p.Passes[0], p.Passes[1], -p.Rate*1e4)
	}
	found := coverage.Result{Spacing: s, Noise: r.Noise, Telling: r.Telling, Passes: r.Passes}
	if err := trade(b, found); err != nil {
		return err
	}
	if next := answer.NextTime(found, b.Language); next != "" {
		b.text(next, "  ")
	}
	return nil
}

// trade is what is missed and worked twice between passes over the planned overlap.
func trade(b *telling, r coverage.Result) error {
	laps := r.Trade()
	if len(laps) == 0 {
		return nil
	}
	b.put("  between passes, had they been planned with another overlap and driven as unevenly\n")
	w := b.heads("overlap m", "missed %", "worked twice %", "way %", "")
	for _, l := range laps {
		way, planned := b.Say("%+.1f", 100*(l.Way-1)), ""
		if r.Spacing.AsPlanned(l) {
			way, planned = "", b.Word("as planned")
		}
		w.row("%.2f\t%.2f\t%.2f\t%s\t%s\t\n", l.Overlap, 100*l.Missed, 100*l.Double, way, planned)
	}
	return w.end()
}

// inCommon says what missed strips have in common, and what would prevent it.
func inCommon(b *telling, r job.Report) error {
	if len(r.Patterns) == 0 {
		return nil
	}
	b.put("what missed strips have in common\n")
	for _, line := range answer.Patterns(r.Patterns, b.Language) {
		b.text(line, "  ")
	}
	return nil
}

// tightListed is how many tight turns are listed; the report as JSON has all.
const tightListed = 10

// turns says how the set turned between passes, and where it was too tight.
func turns(b *telling, r job.Report) error {
	t := r.Turning
	if t.Turns == 0 {
		return nil
	}
	b.put("%s between passes", b.Count(t.Turns, "turn"))
	if t.Worst > 0 {
		b.put(": half of them within %.0f s, the longest %.0f s", t.Median, t.Worst)
	}
	if t.Radius > 0 {
		b.put("; least radius driven %.1f m", t.Radius)
	}
	if t.Angle > 0 {
		b.put(", greatest drawbar angle %.0f°", t.Angle)
	}
	b.put("\n")
	if t.Tight == 0 {
		return nil
	}
	var limits []string
	if radius := r.Spec.Work.TurnRadius; radius > 0 {
		limits = append(limits, b.Say("radius %.1f m", radius))
	}
	if angle := r.Spec.Work.Mount.AngleLimit(); angle > 0 {
		limits = append(limits, b.Say("drawbar angle %.0f°", angle))
	}
	b.put("  tighter than the set may turn (%s): %d\n", strings.Join(limits, ", "), t.Tight)
	w := b.heads("turn", "passes", "radius m", "drawbar", "longitude", "latitude", "time (UTC)")
	listed := 0
	for _, one := range r.Turns {
		if !one.Tight {
			continue
		}
		if listed++; listed > tightListed {
			break
		}
		when, radius, angle := "-", "-", "-"
		if !one.Start.IsZero() {
			when = geo.Moment(one.Start)
		}
		if one.Radius > 0 {
			radius = b.Say("%.1f", one.Radius)
		}
		if one.Angle > 0 {
			angle = b.Say("%.0f°", one.Angle)
		}
		w.row("%d\t%d-%d\t%s\t%s\t%s\t%s\t%s\t\n", one.Number, one.From, one.To, radius, angle, degrees(one.At[0]), degrees(one.At[1]), when)
	}
	if err := w.end(); err != nil {
		return err
	}
	if t.Tight > tightListed {
		b.put("  and %d more (--json lists them)\n", t.Tight-tightListed)
	}
	return nil
}
