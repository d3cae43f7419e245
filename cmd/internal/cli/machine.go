package cli

import (
	"errors"
	"fmt"

	"balk/cmd/internal/job"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo"

	"github.com/spf13/pflag"
)

// machineFlags are the flags that describe the machine.
type machineFlags struct {
	width   barWidth
	overlap float64
	file    string
	mount   map[string]string
	crab    float64 // degrees per percent
}

func (m *machineFlags) add(f *pflag.FlagSet) {
	f.Var(&m.width, "width", "working width of the whole bar; it wins over the implement file and over logged widths, of which the parts lifted still count. \"logged\" takes the widths as logged")
	f.Var(measure{&m.overlap, "m"}, "overlap", "planned lap between neighbouring passes (that of the implement file, else none, if not given)")
	f.Var(measure{&m.crab, "°"}, "crab-per-percent", "`DEGREES` by which the set turns uphill per percent of slope across its way, by the heights of the log (crabPerPercent of the implement file if neither this nor --crab is given)")
	m.describe(f)
}

// describe adds those that need no log.
func (m *machineFlags) describe(f *pflag.FlagSet) {
	f.StringVar(&m.file, "implement", "", "`FILE` (JSON or TOML) that describes the implement: width, overlap, sections and where the bar is, seen from the antenna; the flags win over it")
	f.StringToStringVar(&m.mount, "mount", nil, "`WHAT=VALUE` of the mount by its name in an implement file: trailed=true, hitch=1.6, drawbar=4 ... (can be repeated)")
}

// barWidth is a width in metres, or the word that takes it from the log.
type barWidth struct {
	metres float64
	logged bool
}

func (b *barWidth) String() string {
	if b.logged {
		return string(drive.WidthLogged)
	}
	return measure{&b.metres, "m"}.String()
}

func (b *barWidth) Type() string { return "m" }

func (b *barWidth) Set(s string) error {
	*b = barWidth{logged: s == string(drive.WidthLogged)}
	if b.logged {
		return nil
	}
	return measure{&b.metres, "m"}.Set(s)
}

// over puts what the flags say over a machine: the flags win over the file, and the file over im.
// from says who told the width.
func (m *machineFlags) over(call *job.Call, f *pflag.FlagSet, im rig.Implement, from drive.WidthSource) (rig.Implement, drive.WidthSource, error) {
	var err error
	if m.file != "" {
		if im, err = call.Implement(m.file); err != nil {
			return rig.Implement{}, from, &stop{couldNot, err}
		}
		from = drive.WidthFile
	}
	if im.Mount, err = job.Mount(im.Mount, m.mount); err != nil {
		return rig.Implement{}, from, &stop{wrongCall, err}
	}
	if f.Changed("overlap") {
		im.Overlap = m.overlap
	}
	if f.Changed("crab-per-percent") {
		im.CrabPerPercent = m.crab
	}
	switch {
	case m.width.logged:
		from = drive.WidthLogged
	case f.Changed("width"):
		im, from = im.OfWidth(m.width.metres), drive.WidthGiven
	}
	return im, from, nil
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

func (s *slipFlags) into(f *pflag.FlagSet, d *drive.Drift) error {
	if s.crab != "" && f.Changed("crab-per-percent") {
		return errors.New("--crab and --crab-per-percent: one of them is given")
	}
	if s.crab != "" {
		d.PerPercent = 0 // of the implement file
	}
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
	if d.Angle, err = job.Number(s.crab, "°"); err != nil {
		return fmt.Errorf("--crab %s: must be degrees, or %q", s.crab, measured)
	}
	bearing, err := job.Number(s.downhill, "°")
	if err != nil {
		return fmt.Errorf("--downhill %s: must be degrees from true north", s.downhill)
	}
	d.Downhill = geo.Bearing(bearing)
	return nil
}

// into makes the machine of the flags, and how it slips on a slope, those of an operation.
func (m *machineFlags) into(call *job.Call, f *pflag.FlagSet, slip *slipFlags, s *job.Spec) error {
	im, from, err := m.over(call, f, rig.Implement{}, drive.WidthGiven)
	if err != nil {
		return err
	}
	s.Use(im, from)
	if err := slip.into(f, &s.Work.Drift); err != nil {
		return &stop{wrongCall, err}
	}
	return nil
}
