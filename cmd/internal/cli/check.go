package cli

import (
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"balk/cmd/internal/job"
	"balk/geo"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// check is the verb "balk check".
func check(v *voice) *cobra.Command {
	var s job.Spec
	var asJSON, each bool
	var much amount
	var machine machineFlags
	var slip slipFlags
	c := &cobra.Command{
		Use: "check [FIELD] TRACK... | FOLDER",
		PreRunE: func(c *cobra.Command, args []string) (err error) {
			if err = v.operands(c, args); err == nil {
				s.Boundary, s.Tracks, err = split(c, s.Boundary, args)
				s.Farm = v.farmOf(s.Farm)
			}
			return err
		},
		RunE: func(c *cobra.Command, args []string) error {
			if err := machine.into(&v.call, c.Flags(), &slip, &s); err != nil {
				return err
			}
			if v.take != nil {
				v.take(s)
				return nil
			}
			if each || slices.ContainsFunc(s.Tracks, isFolder) {
				rep, err := job.Each(c.Context(), s, &v.call)
				return v.eachAnswer(rep, err, asJSON, much)
			}
			rep, err := job.Run(c.Context(), s, &v.call)
			if job.Several(err) {
				err = fmt.Errorf("%w\nhint: --each judges each by itself", err)
			}
			return v.answer(rep.Findings, err, asJSON, rep.JSON, func(w io.Writer) error { return printReport(w, rep, much) })
		},
	}
	f := c.Flags()
	f.SortFlags = false
	operationFlags(f, &s, &machine, &slip)
	f.BoolVar(&each, "each", false, "one answer per field and operation, and their totals, as for a folder of logs")
	f.StringVar(&s.Out, "out", "", "`DIR` for layers, map and report; one below it for each of several answers")
	drawn(f, &s.Drawn, "map")
	f.BoolVar(&asJSON, "json", false, "print the report as JSON")
	f.BoolVar(&much.details, "details", false, "print all that was found, and the 20 largest missed strips")
	f.BoolVar(&much.all, "all", false, "as --details, with all missed strips")
	c.MarkFlagsMutuallyExclusive("rounds", "headland")
	once(f, "each", "out", "json", "details", "all", "days", "together")
	c.MarkFlagsOneRequired("width", "implement")
	return c
}

func isFolder(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.IsDir()
}

// operationFlags are those that say what was done and how it is to be judged.
func operationFlags(f *pflag.FlagSet, s *job.Spec, machine *machineFlags, slip *slipFlags) {
	fieldsFlag(f, &s.Boundary)
	farmFlag(f, &s.Farm)
	machine.add(f)
	f.IntVar(&s.Work.Rounds, "rounds", 0, "headland rounds; headland depth = rounds × credited width")
	f.Var(measure{&s.Work.Headland, "m"}, "headland", "headland depth, instead of --rounds")
	f.StringVar(&s.Field, "field", "", "the field by its `NUMBER`, as listed, or as name=NAME (a name that is no number may stand alone), if the file holds several and the log lies on more than one")
	f.StringSliceVar(&s.WorkingValues, "working-values", nil, "`VALUE,VALUE...` of the work-state column that mean working, where they are not words that are known; all others mean lifted")
	f.StringToStringVar(&s.Columns, "column", nil, "`WHAT=NAME` of a column in a table, where its name is not a usual one: lon, lat, time, width_m, width_ft, width_in, speed_kmh, state ...; and order: what numbers the fixes, section: which section or machine they are of, both in any file of points (can be repeated)")
	f.Var(days{&s.Days}, "days", "only what was driven on `DAY`, or DAY..DAY, as 2026-04-14 (UTC; work over midnight is of both days)")
	f.BoolVar(&s.Together, "together", false, "judge as one what was driven more than a week apart, or again over the same ground after a night")
	f.StringVar(&s.LogZone, "log-zone", "", "`NAME` of the time zone of logged times that name none, such as Europe/Berlin (UTC if not given)")
	f.StringVar((*string)(&s.Frame), "frame", "", "what the log is in: maps (the frame of the country's maps, to which its reference stations correct), satellites (their own, through which the ground moves by centimetres a year: the log is then moved to the map's), or either if not given")
	f.StringVar(&s.Plan, "plan", "", "`FILE` of planned lines (balk compare writes them in several formats): strips then name the planned passes that were not driven")
	f.Var(measure{&s.Work.PassError, "m"}, "pass-error", "pass-to-pass error of the receiver, 95 % (from the logged fix quality if not given): says how sure a strip is")
	f.Var(measure{&s.Approach, "min"}, "approach", "minutes for coming back to the field once the set has left: what a minute then wins is said")
	f.StringVar((*string)(&s.Target), "target", "", "`WHAT` the operation was to kill: annual (re-work as long as a minute wins more than on average), perennial (all that is worth a visit) or sod (nine tenths); or a file of patches, such as thistles: strips in them are told and worked first, whatever their size")
	f.StringVar(&s.TargetLayer, "target-layer", "", "`NAME` of the layer of the file of patches that holds them (as --layer if not given)")
	slip.add(f)
	f.Var(measure{&s.Work.Steep, "%"}, "steep", "slope in percent from which strips and ways of re-work are named, where the log has heights: your own limit, none is presumed safe (the steepest if not given)")
	f.StringVar((*string)(&s.Work.Working), "working", "", "by what work is told from driving with the tool lifted: logged, inferred or all (logged where a track has a work state, else inferred, if not given)")
	f.Var(measure{&s.Work.Relap, "m"}, "relap", "a place worked again counts once where less travel lies between, at that very place, lifted or not (2 × width if not given)")
	f.Var(measure{&s.Work.GapTime, "s"}, "gap-time", "time without a fix that makes a log gap (10 s if not given, more for slow logs)")
	f.Var(measure{&s.Work.GapDist, "m"}, "gap-distance", "distance without a fix that makes a log gap (25 m if not given, more for slow logs)")
	readingFlags(f, &s.Reading)
	weatherFlags(f, &s.Weather)
}

// weatherFlags are those of the weather after the work.
func weatherFlags(f *pflag.FlagSet, s *job.Station) {
	f.StringVar(&s.File, "weather", "", "`FILE` of a weather station near the field, hours or days (balk help weather): says what it rained and how much the air asked for after the last pass")
	f.Var(measure{&s.Altitude, "m"}, "weather-altitude", "altitude of the station above the sea")
	f.Var(measure{&s.WindHeight, "m"}, "wind-height", "height above ground at which the station reads the wind (2 m if not given)")
	f.StringVar(&s.Zone, "weather-zone", "", "`NAME` of the time zone of the station's days, and of its times that name none (UTC if not given)")
	f.BoolVar(&s.Begin, "weather-begin", false, "the station's times are the begin of a reading, not its end")
	f.Var(measure{&s.Rain, "mm"}, "rain", "what counts as rain, in one fall (1 mm if not given)")
	f.Var(measure{&s.Base, "°"}, "warmth-base", "`DEGREES` Celsius above which warmth is summed after the work")
}

// readingFlags are those that say how files are read.
func readingFlags(f *pflag.FlagSet, r *job.Reading) {
	f.BoolVar(&r.Mend, "mend", false, "mend boundary rings that cross themselves instead of refusing them")
	f.BoolVar(&r.Large, "large", false, "the field really is larger than 100,000 ha; without it such a boundary is taken for one with a digit wrong")
	f.BoolVar(&r.Close, "close", false, "the boundary is a closed line, or a track walked or driven round the field")
	f.IntVar(&r.CRS, "crs", 0, "`CODE` of the EPSG dataset of the coordinate system of files that name none, such as 25832")
	f.StringArrayVar(&r.Layers, "layer", nil, "`NAME` of the layer to be read of a file that holds several: a table of a GeoPackage, a folder of a KML, a file in a zip (can be repeated)")
}

// finish says what was found, and makes an error of a job one of the command.
func (v *voice) finish(findings []geo.Finding, err error) error {
	for _, s := range summed(v.Language, findings) {
		v.say(s)
	}
	var wrong *job.WrongCall
	if errors.As(err, &wrong) {
		return &stop{wrongCall, err}
	}
	if err != nil {
		return &stop{couldNot, err}
	}
	v.clear()
	return nil
}

// answer ends a verb: what was found is said, the report is put on stdout, for people or as JSON, and the exit code tells whether
// part of the input was lost.
func (v *voice) answer(findings []geo.Finding, err error, asJSON bool, json, text func(io.Writer) error) error {
	if err := v.finish(findings, err); err != nil {
		return err
	}
	if asJSON {
		err = json(v.out)
	} else {
		err = v.readable(text)
	}
	switch {
	case err != nil:
		return &stop{couldNot, err}
	case job.Lost(findings):
		return &stop{partLost, errors.New(v.Word("done, but part of the input was unusable: see above"))}
	}
	return nil
}

// readable puts a text on stdout as people may read it.
func (v *voice) readable(text func(io.Writer) error) error {
	var b strings.Builder
	if err := text(&b); err != nil {
		return err
	}
	for line := range strings.Lines(b.String()) {
		words, end := strings.CutSuffix(line, "\n")
		if words = geo.Shown(words); end {
			words += "\n"
		}
		if _, err := v.out.WriteString(words); err != nil {
			return err
		}
	}
	return nil
}
