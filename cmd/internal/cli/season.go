package cli

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"balk/cmd/internal/job"
	"balk/export/words"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// seasonVerb is the verb "balk season".
func seasonVerb(v *voice) *cobra.Command {
	return family(v, "season", seasonAdd(v), seasonList(v), seasonShow(v), seasonSheet(v), seasonRemove(v), seasonMove(v, "export", "all of the farm as plain files, from which import builds it again"),
		seasonMove(v, "import", "a farm built of plain files"))
}

// inFarm settles the folder of a farm for verbs that name no log.
func (v *voice) inFarm(c *cobra.Command, farm *string) error {
	path := cmp.Or(*farm, ".")
	if err := v.standing(c, []string{path}, nil); err != nil {
		return err
	}
	*farm = cmp.Or(v.farmOf(*farm), v.folder, ".")
	if err := v.Language.Validate(); err != nil {
		return &stop{wrongCall, err}
	}
	return nil
}

func languageFlag(f *pflag.FlagSet, l *words.Language) {
	f.StringVar((*string)(l), "language", "", "`CODE` of the language: en or de (en if not given)")
}

func ratesFlags(f *pflag.FlagSet, hour, litre *float64) {
	f.Var(measure{hour, ""}, "per-hour", "cost per hour of set and driver")
	f.Var(measure{litre, ""}, "per-litre", "cost per litre of fuel")
}

func seasonAdd(v *voice) *cobra.Command {
	var s job.SeasonAdd
	var machine machineFlags
	var slip slipFlags
	var asJSON bool
	c := &cobra.Command{
		Use:   "add [FIELD] TRACK...",
		Short: "check operations and keep them",
		Args:  cobra.MinimumNArgs(1),
		PreRunE: func(c *cobra.Command, args []string) error {
			if err := v.operands(c, args); err != nil {
				return err
			}
			s.Farm = cmp.Or(v.farmOf(s.Farm), v.folder, ".")
			if s.Boundary == "" && (len(args) == 1 || job.HasFarm(s.Farm) && v.call.IsLog(c.Context(), args[0])) {
				s.Tracks = args
				return nil
			}
			var err error
			s.Boundary, s.Tracks, err = split(c, s.Boundary, args)
			return err
		},
		RunE: func(c *cobra.Command, args []string) error {
			if err := machine.into(&v.call, c.Flags(), &slip, &s.Spec); err != nil {
				return err
			}
			rep, err := job.AddToSeason(c.Context(), s, &v.call)
			err = v.answer(rep.Findings, err, asJSON, rep.JSON, func(w io.Writer) error { return printAdded(w, rep, s.Language) })
			if n := rep.Failed(); err == nil && n > 0 {
				err = &stop{partLost, errors.New(v.Say("done, but %s could not be added: see above", v.Count(n, "operation")))}
			}
			return err
		},
	}
	f := c.Flags()
	f.SortFlags = false
	f.StringSliceVar(&s.Done.Does, "does", nil, "`WHAT` the operation does: loosens (in slots), cuts (the full width), combs, rolls, seeds; several with a comma")
	f.StringVar(&s.Official, "official", "", "`NUMBER` by which offices know the field")
	f.StringVar(&s.SetName, "set", "", "`NAME` of the set (that of the implement file if not given)")
	f.Var(measure{&s.Done.DepthSet, "cm"}, "depth", "`CM` that the implement was set to")
	f.Var(measure{&s.Done.DepthTarget, "cm"}, "depth-target", "`CM` that were aimed at")
	f.StringVar(&s.Done.CropBefore, "crop-before", "", "`WORDS` for what stood there")
	f.StringVar(&s.Done.CropAfter, "crop-after", "", "`WORDS` for what comes")
	f.StringVar(&s.Done.Soil, "soil", "", "`WORDS` for soil and its state")
	f.StringVar(&s.Done.Driver, "driver", "", "`NAME` of the driver")
	f.StringVar(&s.Done.Client, "for", "", "`NAME` of the client")
	operationFlags(f, &s.Spec, &machine, &slip)
	languageFlag(f, &s.Language)
	f.BoolVar(&asJSON, "json", false, "print the report as JSON")
	once(f, "days", "together", "json", "official")
	c.MarkFlagsMutuallyExclusive("rounds", "headland")
	c.MarkFlagsOneRequired("width", "implement")
	return c
}

func seasonList(v *voice) *cobra.Command {
	var s job.SeasonShow
	var asJSON, all bool
	c := &cobra.Command{
		Use:     "list",
		Short:   "what is kept, and its totals",
		Args:    cobra.NoArgs,
		PreRunE: func(c *cobra.Command, _ []string) error { return v.inFarm(c, &s.Farm) },
		RunE: func(c *cobra.Command, _ []string) error {
			rep, err := job.ListSeason(c.Context(), s.Farm, s.Rates)
			return v.answer(nil, err, asJSON, rep.JSON, func(w io.Writer) error { return printSeasons(w, rep, v.Language, all) })
		},
	}
	f := c.Flags()
	f.SortFlags = false
	farmFlag(f, &s.Farm)
	ratesFlags(f, &s.Rates.Hour, &s.Rates.Litre)
	languageFlag(f, &v.Language)
	f.BoolVar(&all, "all", false, "list all operations, sets and drivers")
	f.BoolVar(&asJSON, "json", false, "print the report as JSON")
	once(f, "all", "json")
	return c
}

func seasonShow(v *voice) *cobra.Command {
	var s job.SeasonShow
	var asJSON, all bool
	c := &cobra.Command{
		Use:     "show FIELD",
		Short:   "one field over all its operations",
		Args:    cobra.ExactArgs(1),
		PreRunE: func(c *cobra.Command, _ []string) error { return v.inFarm(c, &s.Farm) },
		RunE: func(c *cobra.Command, args []string) error {
			s.Field = args[0]
			rep, err := job.ShowSeason(c.Context(), s, time.Now(), &v.call)
			return v.answer(rep.Findings, err, asJSON, rep.JSON, func(w io.Writer) error { return printField(w, rep, all) })
		},
	}
	f := c.Flags()
	f.SortFlags = false
	seasonFlags(f, &s)
	ratesFlags(f, &s.Rates.Hour, &s.Rates.Litre)
	f.StringVar(&s.Out, "out", "", "`DIR` for layers (missed by all, times worked, days since cut) as GeoJSON, the season sheet, and the report")
	f.BoolVar(&all, "all", false, "list all operations and strips")
	f.BoolVar(&asJSON, "json", false, "print the report as JSON")
	once(f, "day", "season", "out", "all", "json")
	return c
}

// seasonFlags are those of a field over its operations.
func seasonFlags(f *pflag.FlagSet, s *job.SeasonShow) {
	farmFlag(f, &s.Farm)
	f.IntVar(&s.Season, "season", 0, "`YEAR` in which operations began (all if not given)")
	f.Var(oneDay{&s.Day}, "day", "`DAY` on which the days since the last cut are counted, as 2026-05-14 (today if not given)")
	weatherFlags(f, &s.Weather)
	f.Var(measure{&s.Due.Days, "d"}, "due-days", "`DAYS` after the last cut from which the next one is due")
	f.Var(measure{&s.Due.Warmth, ""}, "due-warmth", "`DEGREE DAYS` above --warmth-base after the last cut from which the next one is due; wants --weather")
	f.StringVar(&s.Zone, "zone", "", "`NAME` of the time zone for paper, such as Europe/Berlin (UTC if not given)")
	languageFlag(f, &s.Language)
}

// oneDay is a flag that takes a day.
type oneDay struct{ to *time.Time }

func (d oneDay) String() string {
	if d.to == nil || d.to.IsZero() {
		return ""
	}
	return d.to.Format(time.DateOnly)
}

func (d oneDay) Type() string { return "DAY" }

func (d oneDay) Set(s string) (err error) {
	if *d.to, err = time.Parse(time.DateOnly, s); err != nil {
		return errors.New("must be a day like 2026-05-14")
	}
	return nil
}

func seasonSheet(v *voice) *cobra.Command {
	var s job.SeasonSheet
	var asJSON bool
	c := &cobra.Command{
		Use:     "sheet [FIELD...]",
		Short:   "a page per field to print: operations, weather, maps, what is due",
		PreRunE: func(c *cobra.Command, _ []string) error { return v.inFarm(c, &s.Farm) },
		RunE: func(c *cobra.Command, args []string) error {
			s.Fields = args
			rep, err := job.SheetSeason(c.Context(), s, time.Now(), &v.call)
			return v.answer(rep.Findings, err, asJSON, rep.JSON, func(w io.Writer) error {
				b := &telling{Language: s.Language}
				b.put("%s: %s\n", rep.Spec.Farm, b.Count(len(rep.Fields), "field"))
				return b.closing(w, rep.Files, b.AfterWork())
			})
		},
	}
	f := c.Flags()
	f.SortFlags = false
	seasonFlags(f, &s.SeasonShow)
	f.StringVar(&s.Out, "out", "", "`DIR` for season.pdf and the report")
	f.BoolVar(&asJSON, "json", false, "print the report as JSON")
	once(f, "day", "season", "out", "json")
	return c
}

func seasonRemove(v *voice) *cobra.Command {
	var farm string
	var asJSON bool
	c := &cobra.Command{
		Use:     "remove NUMBER...",
		Short:   "move operations aside; nothing is deleted",
		Args:    cobra.MinimumNArgs(1),
		PreRunE: func(c *cobra.Command, _ []string) error { return v.inFarm(c, &farm) },
		RunE: func(c *cobra.Command, args []string) error {
			var numbers []int64
			for _, a := range args {
				n, err := strconv.ParseInt(a, 10, 64)
				if err != nil {
					return &stop{wrongCall, fmt.Errorf("%q: must be the number of an operation, as balk season list shows it", a)}
				}
				numbers = append(numbers, n)
			}
			rep, err := job.RemoveFromSeason(c.Context(), farm, numbers, time.Now())
			return v.answer(nil, err, asJSON, rep.JSON, func(w io.Writer) error {
				format := "moved aside: operations %s; the logs stay kept"
				if len(args) == 1 {
					format = "moved aside: operation %s; the logs stay kept"
				}
				_, err := fmt.Fprintln(w, v.Say(format, strings.Join(args, ", ")))
				return err
			})
		},
	}
	farmFlag(c.Flags(), &farm)
	languageFlag(c.Flags(), &v.Language)
	c.Flags().BoolVar(&asJSON, "json", false, "print the report as JSON")
	once(c.Flags(), "json")
	return c
}

// seasonMove is export or import.
func seasonMove(v *voice, name, short string) *cobra.Command {
	var farm string
	var asJSON bool
	c := &cobra.Command{
		Use:     name + " DIR",
		Short:   short,
		Args:    cobra.ExactArgs(1),
		PreRunE: func(c *cobra.Command, _ []string) error { return v.inFarm(c, &farm) },
		RunE: func(c *cobra.Command, args []string) error {
			var rep job.SeasonMoved
			var err error
			if name == "export" {
				rep, err = job.ExportSeason(c.Context(), farm, args[0], &v.call)
			} else {
				rep, err = job.ImportSeason(c.Context(), farm, args[0])
			}
			return v.answer(nil, err, asJSON, rep.JSON, func(w io.Writer) error {
				if name == "export" {
					_, err := fmt.Fprintln(w, v.Say("Written: %d files in %s", len(rep.Files), args[0]))
					return err
				}
				_, err := fmt.Fprintln(w, v.Say("built: %s", farm))
				return err
			})
		},
	}
	farmFlag(c.Flags(), &farm)
	languageFlag(c.Flags(), &v.Language)
	c.Flags().BoolVar(&asJSON, "json", false, "print the report as JSON")
	once(c.Flags(), "json")
	return c
}
