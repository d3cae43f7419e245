package cli

import (
	"errors"
	"fmt"
	"time"
	_ "time/tzdata" // time zones by name, wherever it runs

	"balk/cmd/internal/job"
	"balk/export/record"

	"github.com/spf13/cobra"
)

// handover is the verb "balk handover".
func handover(v *voice) *cobra.Command {
	var s job.HandoverSpec
	var machine machineFlags
	var slip slipFlags
	var asJSON bool
	var language, zone string
	c := &cobra.Command{
		Use:   "handover FIELD TRACK...",
		Short: "the folder for the contractor: map, record of work, and files for whatever they use",
		Long: `handover checks an operation as "balk check" does and fills a folder that needs no
asking back: the record of work, the map, the missed strips with their places, and
everything as GeoJSON, shapefile, KML, GPX, GeoPackage, table, well-known binary and
ISO 11783-10 task data. The numbers of the strips are the same everywhere.

` + exitTable,
		Example: "  balk handover fields.geojson track.geojson --implement sweep.toml --rounds 2 --operation undercutting --driver \"N. N.\" --zone Europe/Berlin --out for-contractor",
		Args:    cobra.MinimumNArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			s.Boundary, s.Tracks = args[0], args[1:]
			if err := machine.into(c, &s.Work); err != nil {
				return err
			}
			if s.Details.Implement == "" {
				im, err := machine.implement()
				if err != nil {
					return err
				}
				s.Details.Implement = im.Name
			}
			if err := slip.into(&s.Work.Drift); err != nil {
				return &stop{wrongCall, err}
			}
			s.Language = record.Language(language)
			if zone != "" {
				var err error
				if s.Details.Zone, err = time.LoadLocation(zone); err != nil {
					return &stop{wrongCall, fmt.Errorf("--zone %s: %w", zone, err)}
				}
			}
			rep, err := job.Handover(c.Context(), s, v.progress)
			if err := v.finish(rep.Findings, err); err != nil {
				return err
			}
			if asJSON {
				err = rep.JSON(v.out)
			} else {
				for _, f := range rep.Files {
					if _, err = fmt.Fprintln(v.out, f); err != nil {
						break
					}
				}
			}
			if err != nil {
				return &stop{couldNot, err}
			}
			if rep.Lost() {
				return &stop{partLost, errors.New("done, but part of the input was unusable: see above")}
			}
			return nil
		},
	}
	f := c.Flags()
	f.SortFlags = false
	f.StringVar(&s.Out, "out", "", "`DIR` to be filled")
	f.StringVar(&s.Details.Operation, "operation", "", "`WORDS` for what was done")
	f.StringVar(&s.Details.Driver, "driver", "", "`NAME` of the driver")
	f.StringVar(&s.Details.Client, "for", "", "`NAME` of the client")
	f.StringVar(&s.Details.Implement, "implement-name", "", "`WORDS` for the implement (its file's name if not given)")
	f.Var(measure{&s.Details.Fuel, "l"}, "fuel", "fuel used")
	f.StringVar(&s.Details.Remarks, "remarks", "", "`WORDS` for the record")
	f.StringVar(&language, "language", string(record.English), "`CODE` of the record's language: en or de")
	f.StringVar(&zone, "zone", "", "`NAME` of the time zone for paper, such as Europe/Berlin (UTC if not given)")
	operationFlags(f, &s.Spec, &machine, &slip)
	f.BoolVar(&asJSON, "json", false, "print the report as JSON")
	c.MarkFlagsMutuallyExclusive("rounds", "headland")
	c.MarkFlagsOneRequired("width", "implement")
	return c
}
