package cli

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"balk/cmd/internal/job"
	"balk/coverage/spots"
	"balk/export/words"
	"balk/geo"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// spotsVerb is the verb "balk spots" with what can be done with spot checks.
func spotsVerb(v *voice) *cobra.Command { return family(v, "spots", spotsPlan(v), spotsRead(v)) }

// spotsPlan is "balk spots plan".
func spotsPlan(v *voice) *cobra.Command {
	s := job.SpotsPlanSpec{Draw: spots.Draw{Places: usualPlaces}}
	var asJSON bool
	var machine machineFlags
	var slip slipFlags
	var gate string
	c := &cobra.Command{
		Use:   "plan [FIELD] TRACK...",
		Short: "where to kneel after an operation, and what that can prove",
		PreRunE: func(c *cobra.Command, args []string) (err error) {
			if err = v.operands(c, args); err == nil {
				s.Boundary, s.Tracks, err = split(c, s.Boundary, args)
			}
			return err
		},
		RunE: func(c *cobra.Command, _ []string) error {
			if err := machine.into(&v.call, c.Flags(), &slip, &s.Spec); err != nil {
				return err
			}
			var err error
			if s.Gate, err = placeOf(gate); err != nil {
				return &stop{wrongCall, err}
			}
			if !c.Flags().Changed("deciding") {
				s.Draw.Deciding = s.Draw.Places / decidingShare
			}
			rep, err := job.PlanSpots(c.Context(), s, &v.call)
			return v.answer(rep.Findings, err, asJSON, rep.JSON, func(w io.Writer) error { return printSpotWalk(w, rep) })
		},
	}
	f := c.Flags()
	f.SortFlags = false
	f.IntVarP(&s.Draw.Places, "n", "n", usualPlaces, "`NUMBER` of places drawn")
	f.IntVar(&s.Draw.Deciding, "deciding", 0, "`NUMBER` of places beside them, at most, that decide something: missed strips that are not sure, log gaps (a quarter of -n if not given)")
	f.Uint64Var(&s.Draw.Seed, "seed", 0, "`NUMBER` of the draw, for other places (told by the log if not given: the same log gives the same places)")
	f.StringVar(&gate, "gate", "", "`LON,LAT` where the walk begins and ends (the boundary nearest to a place if not given)")
	f.StringVar(&s.Zone, "zone", "", "`NAME` of the time zone for paper, such as Europe/Berlin (UTC if not given)")
	operationFlags(f, &s.Spec, &machine, &slip)
	f.StringVar(&s.Out, "out", "", "`DIR` for places.gpx, the table places.csv, places.geojson and the sheet places.pdf")
	languageFlag(f, &s.Language)
	f.BoolVar(&asJSON, "json", false, "print the report as JSON")
	once(f, "n", "deciding", "seed", "out", "json", "days", "together")
	c.MarkFlagsMutuallyExclusive("rounds", "headland")
	c.MarkFlagsOneRequired("width", "implement")
	return c
}

const (
	usualPlaces   = 20 // a morning's walk
	decidingShare = 4  // one deciding place for so many drawn ones
)

// printSpotWalk writes where to kneel.
func printSpotWalk(w io.Writer, r job.SpotsPlanReport) error {
	b := &telling{Language: r.Spec.Language}
	b.put("%s\n", fieldOf(b.Language, r.Field))
	for _, sentence := range r.Answer {
		b.text(sentence, "")
	}
	b.put("\n")
	t := b.heads("no.", "place (lat, lon)", "why", "pass", "section", "from the left, m")
	for _, p := range r.Places {
		why := b.Word("drawn")
		switch p.Why {
		case geo.SpotStrip:
			why = b.Say("strip %d", p.Strip)
		case geo.SpotGap:
			why = b.Word("log gap")
		}
		if p.Pass == 0 {
			t.row("%d\t%s\t%s\t-\t-\t-\t\n", p.Number, words.Place(p.At), why)
			continue
		}
		t.row("%d\t%s\t%s\t%d\t%d\t%s\t\n", p.Number, words.Place(p.At), why, p.Pass, p.Section, b.Say("%.2f to %.2f", p.FromLeft, p.FromLeft+p.Length))
	}
	if err := t.end(); err != nil {
		return err
	}
	return b.closing(w, r.Files, b.OnFoot())
}

// spotsRead is "balk spots read".
func spotsRead(v *voice) *cobra.Command {
	var s job.SpotsReadSpec
	var asJSON, details bool
	var machine machineFlags
	var slip slipFlags
	var depth string
	var seed map[string]string
	c := &cobra.Command{
		Use:   "read CHECKS [FIELD] [TRACK...]",
		Short: "what spot checks prove of an operation",
		Args:  cobra.MinimumNArgs(1),
		PreRunE: func(c *cobra.Command, args []string) (err error) {
			s.Checks = args[:1]
			if s.Keep != 0 {
				if len(args) > 1 {
					return fmt.Errorf("%q: no field and no log is wanted with --keep, which takes those of the farm", args[1])
				}
				if name := otherThan(c.Flags(), "keep", "farm", "depth", "seed-depth", "place-error", "checks-zone", "out", "language", "pictures", "json", "details"); name != "" {
					return fmt.Errorf("--%s: with --keep the operation is judged as it was when the farm took it", name)
				}
				return v.inFarm(c, &s.Farm)
			}
			if len(args) == 1 {
				return errors.New("spots read wants FIELD and TRACK, or --keep and an operation of a farm")
			}
			if err = v.operands(c, args[1:]); err == nil {
				s.Boundary, s.Tracks, err = split(c, s.Boundary, args[1:])
			}
			if err == nil && !c.Flags().Changed("width") && !c.Flags().Changed("implement") {
				err = errors.New("spots read wants --width or --implement, or --keep and an operation of a farm")
			}
			return err
		},
		RunE: func(c *cobra.Command, _ []string) error {
			if s.Keep == 0 {
				if err := machine.into(&v.call, c.Flags(), &slip, &s.Spec); err != nil {
					return err
				}
			}
			var err error
			if depth != "" {
				if s.Wanted.Depth, err = bandOf(depth); err != nil {
					return &stop{wrongCall, fmt.Errorf("--depth %s: %w", depth, err)}
				}
			}
			for what, text := range seed {
				band, err := bandOf(text)
				if err != nil {
					return &stop{wrongCall, fmt.Errorf("--seed-depth %s=%s: %w", what, text, err)}
				}
				if s.Wanted.Seed == nil {
					s.Wanted.Seed = map[string]spots.Band{}
				}
				s.Wanted.Seed[what] = *band
			}
			rep, err := job.ReadSpots(c.Context(), s, &v.call)
			return v.answer(rep.Findings, err, asJSON, rep.JSON, func(w io.Writer) error { return printSpots(w, rep, details) })
		},
	}
	f := c.Flags()
	f.SortFlags = false
	f.StringVar(&depth, "depth", "", "`FROM..TO` in cm, the depth that was asked for, as 3..5")
	f.StringToStringVar(&seed, "seed-depth", nil, "`COMPONENT=FROM..TO` in cm, the depth asked for of what was sown, as coarse=2..4 (can be repeated)")
	f.Var(measure{&s.Wanted.Error, "m"}, "place-error", "how far the places of the spot checks may lie off, 95 %, where they do not tell (5 m, as a phone's, if not given)")
	f.Int64Var(&s.Keep, "keep", 0, "`NUMBER` of an operation that the farm keeps: its field, logs and settings are taken, and the spot checks are kept with it")
	f.StringVar(&s.Zone, "checks-zone", "", "`NAME` of the time zone of the spot checks' times that name none (UTC if not given)")
	operationFlags(f, &s.Spec, &machine, &slip)
	f.StringVar(&s.Out, "out", "", "`DIR` for the spot checks as table and layer, and the report")
	languageFlag(f, &s.Language)
	f.BoolVar(&asJSON, "json", false, "print the report as JSON")
	f.BoolVar(&details, "details", false, "print groups, sections, laps, plants, and every spot check against the map")
	once(f, "keep", "depth", "seed-depth", "place-error", "checks-zone", "out", "json", "details", "days", "together")
	c.MarkFlagsMutuallyExclusive("rounds", "headland")
	return c
}

// otherThan is a flag that was given and is none of these; "" = none.
func otherThan(f *pflag.FlagSet, these ...string) (other string) {
	f.Visit(func(one *pflag.Flag) {
		if !slices.Contains(these, one.Name) {
			other = one.Name
		}
	})
	return other
}

// bandOf reads depths in cm, as 3..5.
func bandOf(s string) (*spots.Band, error) {
	from, to, ok := strings.Cut(s, "..")
	least, err := job.Number(from, "cm")
	most, err2 := job.Number(to, "cm")
	if !ok || err != nil || err2 != nil {
		return nil, errors.New("must be two depths in cm, as 3..5")
	}
	return &spots.Band{Least: least / 100, Most: most / 100}, nil
}

// printSpots writes what spot checks prove: the answer, and all there is with details.
func printSpots(w io.Writer, r job.SpotsReport, details bool) error {
	b := &telling{Language: r.Spec.Language}
	f := r.Found
	b.put("%s\n", fieldOf(b.Language, r.Field))
	counted := b.Count(f.Checks, "spot check")
	if f.Chosen.Deciding > 0 {
		counted += b.Say(", %d at places that were to decide something: in no share", f.Chosen.Deciding)
	}
	if f.Chosen.ByHand > 0 {
		counted += b.Say(", %d chosen by hand beside drawn ones: in no share", f.Chosen.ByHand)
	}
	b.text(counted, "")
	for _, sentence := range r.Answer {
		b.text(sentence, "")
	}
	if k := r.Kept; k != nil {
		b.put("kept with operation %d: %d, of which %d are new\n", k.Operation, len(r.Checks), k.Fresh)
	}
	if !details {
		b.put("More: --details.\n")
		return b.closing(w, r.Files, "")
	}
	if len(f.Groups) > 0 {
		b.put("\n")
		t := b.heads("group", "cut clean", "depth")
		for _, g := range f.Groups {
			share, depth := "-", "-"
			if g.Cut.Places > 0 {
				share = b.Say("%d of %d, %.0f to %.0f %%", g.Cut.Have, g.Cut.Places, 100*g.Cut.Lower, 100*g.Cut.Upper)
			}
			if g.Depth.Places > 0 {
				depth = b.Say("%.1f cm", 100*g.Depth.Mean)
			}
			if g.Depth.Limited() {
				depth += b.Say(" (%.1f to %.1f cm)", 100*g.Depth.Low, 100*g.Depth.High)
			}
			t.row("%s\t%s\t%s\t\n", groupName(b.Language, g), share, depth)
		}
		if err := t.end(); err != nil {
			return err
		}
	}
	if len(f.Sections) > 0 {
		b.put("\n")
		// to the millimetre, with no minus before nought
		millimetres := func(m float64) float64 { return math.Round(1000*m)/10 + 0 }
		t := b.heads("section", "deeper than the others, cm", "from", "to", "by chance, %")
		for _, s := range f.Sections {
			t.row("%d\t%+.1f\t%+.1f\t%+.1f\t%.1f\t\n", s.Section, millimetres(s.Deeper.Mean), millimetres(s.Deeper.Low), millimetres(s.Deeper.High), 100*s.Chance)
		}
		if err := t.end(); err != nil {
			return err
		}
		b.text(b.Word("(paired t test at the same places over passes, Holm's correction, level 5 %)"), "")
	}
	if m := f.CutLength; m.Places > 0 {
		b.put("\nof the length brushed free %.1f %% is cut", 100*m.Mean)
		if m.Limited() {
			b.put(" (%.1f to %.1f %%)", 100*m.Low, 100*min(1, m.High))
		}
		b.put("\n")
	}
	for _, d := range f.Burial {
		b.put("buried: %s %.1f cm at %s\n", geo.Shown(d.What), 100*d.Mean.Mean, b.Count(d.Mean.Places, "place"))
	}
	for _, e := range f.Effects {
		for _, p := range e.Places {
			b.put("%s at %s, visit %d: %g before, %g after, %.0f %% gone\n", geo.Shown(e.Kind), geo.Shown(p.ID), e.Visit, p.Before, p.After, 100*p.Effect)
		}
	}
	for _, d := range f.Decided {
		b.put("%s %s: %s\n", decidedWhat(b.Language, d), geo.Shown(d.ID), cutWord(b.Language, d.Cut))
	}
	for _, a := range f.Against {
		b.put("against the map: record %d %s is %s, and the map says %s", a.Record, geo.Shown(a.ID), cutWord(b.Language, a.Cut), b.Word(string(a.Map)))
		if !a.Sure {
			b.put(" (within the error of the place)")
		}
		b.put("\n")
	}
	return b.closing(w, r.Files, "")
}

func cutWord(l words.Language, cut bool) string {
	if cut {
		return l.Word("cut")
	}
	return l.Word("not cut")
}

func decidedWhat(l words.Language, d spots.Decided) string {
	if d.Why == geo.SpotStrip {
		return l.Say("strip %d", d.Strip)
	}
	return l.Word("log gap")
}

// groupName is what the spot checks of a group have in common.
func groupName(l words.Language, g spots.Group) string {
	switch {
	case g.By == spots.BySection:
		return l.Say("section %d", g.Section)
	case g.By == spots.ByZone:
		return l.Word(g.Zone)
	case g.By == spots.BySide:
		return l.Word(string(g.Side))
	case g.Bearing == nil:
		return l.Word("other directions")
	}
	return l.Say("towards %.0f°", float64(*g.Bearing))
}
