package cli

import (
	"fmt"
	"strconv"

	"balk/cmd/internal/job"
	"balk/coverage"
	"balk/coverage/rig"
	"balk/geo"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// machineFlags are the flags that describe the machine beside --width and
// --overlap.
type machineFlags struct {
	file  string
	mount map[string]string
}

func (m *machineFlags) add(f *pflag.FlagSet) {
	f.StringVar(&m.file, "implement", "", "`FILE` (JSON or TOML) that describes the implement: width, overlap, sections and where the bar is, seen from the antenna; the flags win over it")
	f.StringToStringVar(&m.mount, "mount", nil, "`WHAT=VALUE` of the mount by its name in an implement file: trailed=true, hitch=1.6, drawbar=4 ... (can be repeated)")
}

// implement is what the flags say of the machine; without a file all but the
// mount is zero.
func (m *machineFlags) implement(call *job.Call) (rig.Implement, error) {
	var im rig.Implement
	var err error
	if m.file != "" {
		if im, err = call.Implement(m.file); err != nil {
			return rig.Implement{}, &stop{couldNot, err}
		}
	}
	if im.Mount, err = job.Mount(im.Mount, m.mount); err != nil {
		return rig.Implement{}, &stop{wrongCall, err}
	}
	return im, nil
}

// into puts an implement that the flags gave into w; what they say themselves wins
// over the file.
func (m *machineFlags) into(c *cobra.Command, im rig.Implement, w *coverage.Work) {
	if m.file == "" {
		w.Mount = im.Mount
		return
	}
	given := *w
	*w = given.With(im)
	if c.Flags().Changed("overlap") {
		w.Overlap = given.Overlap
	}
	if c.Flags().Changed("width") {
		if given.Width != w.Width {
			w.Sections = nil // those of another width
		}
		w.Width = given.Width
	}
}

// measured is the word that has a value taken from the log.
const measured = "measured"

// slipFlags say how the set slips on a slope.
type slipFlags struct {
	crab, downhill string
}

func (s *slipFlags) add(f *pflag.FlagSet) {
	f.StringVar(&s.crab, "crab", "", "crab angle on a slope, `DEGREES`, or \"measured\" from logged headings on passes driven in opposite directions")
	f.StringVar(&s.downhill, "downhill", "", "`BEARING` downhill from true north; wanted with --crab DEGREES")
}

func (s *slipFlags) into(d *coverage.Drift) error {
	if s.crab == measured {
		d.Measure = true
		if s.downhill != "" {
			return fmt.Errorf("--downhill %s: is measured with --crab %s", s.downhill, measured)
		}
		return nil
	}
	if (s.crab == "") != (s.downhill == "") {
		return fmt.Errorf("--crab and --downhill: one is given without the other")
	}
	if s.crab == "" {
		return nil
	}
	var err error
	if d.Angle, err = strconv.ParseFloat(s.crab, 64); err != nil {
		return fmt.Errorf("--crab %s: must be degrees, or %q", s.crab, measured)
	}
	bearing, err := strconv.ParseFloat(s.downhill, 64)
	if err != nil {
		return fmt.Errorf("--downhill %s: must be degrees from true north", s.downhill)
	}
	d.Downhill = geo.Bearing(bearing)
	return nil
}
