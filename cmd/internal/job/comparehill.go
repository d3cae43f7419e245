package job

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"balk/coverage/drive"
	"balk/coverage/plan"
	"balk/coverage/rig"
	"balk/geo"
)

// HillSpec says how a field lies before the work: evenly, or by the heights of an earlier log, and by how much the set turns uphill.
type HillSpec struct {
	Downhill *float64 `json:"downhill,omitempty"` // degrees from true north
	Percent  float64  `json:"percent,omitempty"`  // of slope, that way
	Crab     float64  `json:"crab,omitempty"`     // degrees of crab angle per percent of slope across, of all sets; 0 = as their files or the log have it
	Log      string   `json:"log,omitempty"`      // file of an earlier operation on the field, with heights; "" = none
}

const mostSlope = 100.0 // percent

func (h HillSpec) validate(sets []rig.Implement) error {
	switch {
	case h == HillSpec{}:
		return nil
	case h.Downhill != nil && h.Log != "":
		return errors.New("a bearing downhill and a log with heights are given: slopes are from one of them")
	case h.Downhill == nil && h.Log == "":
		return errors.New("a slope without the bearing downhill: needs it, or a log with heights")
	case h.Downhill != nil && !(*h.Downhill >= 0 && *h.Downhill <= 360):
		return fmt.Errorf("downhill bearing %g°: must be from 0 to 360°", *h.Downhill)
	case h.Downhill != nil && !(h.Percent > 0 && h.Percent <= mostSlope):
		return fmt.Errorf("slope %g %%: must be above 0 and not above %g %%", h.Percent, mostSlope)
	case h.Log != "" && h.Percent != 0:
		return errors.New("a slope in percent and a log with heights are given: slopes are from one of them")
	case !(h.Crab >= 0 && h.Crab <= rig.MostPerPercent):
		return fmt.Errorf("crab angle %g° per percent: must be from 0 to %g°", h.Crab, rig.MostPerPercent)
	}
	for _, im := range sets {
		if h.Downhill != nil && h.Crab == 0 && im.CrabPerPercent == 0 {
			return errors.New("a slope without the crab angle per percent: needs it, as balk check tells it of a log with heights and headings")
		}
	}
	return nil
}

// crabbing are sets as they turn uphill: by the call, else by their files, else by the log.
func (h HillSpec) crabbing(sets []rig.Implement, byLog float64) []rig.Implement {
	out := slices.Clone(sets)
	for i := range out {
		out[i].CrabPerPercent = cmp.Or(h.Crab, out[i].CrabPerPercent, byLog)
	}
	return out
}

// HillTold says which slopes plans were judged on. Slopes are percent.
type HillTold struct {
	Crab     float64 `json:"crab"`               // degrees per percent of slope across the way; of several sets the least
	CrabMost float64 `json:"crabMost,omitempty"` // the most, where it is more than that
	Doubt    float64 `json:"doubt,omitempty"`    // degrees per percent, 95 %; 0 = given
	Mean     float64 `json:"mean"`               // where the ground rises most
	Most     float64 `json:"most"`
	Unknown  bool    `json:"unknown,omitempty"` // the log's heights do not tell all of the field
}

// hill is how the field lies by what the call says, and the sets as they turn uphill on it.
func (r *CompareReport) hill(ctx context.Context, call *Call) (h plan.Hill, sets []rig.Implement, err error) {
	s := r.Spec.Hill
	r.Hill = &HillTold{Mean: s.Percent, Most: s.Percent}
	byLog := 0.0
	if s.Log == "" {
		h.Rise = r.local.HeadingOf(geo.Bearing(*s.Downhill)).Ahead().Scale(-s.Percent / 100)
	} else if h, byLog, err = r.heights(ctx, call); err != nil {
		return plan.Hill{}, nil, err
	}
	sets = s.crabbing(r.Spec.Implements, byLog)
	r.Hill.Crab = sets[0].CrabPerPercent
	for _, im := range sets {
		r.Hill.Crab, r.Hill.CrabMost = min(r.Hill.Crab, im.CrabPerPercent), max(r.Hill.CrabMost, im.CrabPerPercent)
	}
	if r.Hill.CrabMost == r.Hill.Crab {
		r.Hill.CrabMost = 0
	}
	return h, sets, nil
}

// heights are the ground by an earlier log, and the crab angle per percent by its headings, degrees; 0 where no set needs that.
func (r *CompareReport) heights(ctx context.Context, call *Call) (plan.Hill, float64, error) {
	s := r.Spec.Hill
	before := Spec{Boundary: r.Spec.Boundary, Field: r.Spec.Field, Reading: r.Spec.Reading, Tracks: []string{s.Log}, Together: true,
		Work: drive.Work{Width: r.Spec.Implements[0].Width, Workers: r.Spec.Options.Workers}}
	rep, earlier, err := judge(ctx, before, nil, nil, call)
	r.Findings = append(r.Findings, rep.Findings...)
	if err != nil {
		return plan.Hill{}, 0, fmt.Errorf("slopes by %s: %w", s.Log, err)
	}
	lie := earlier.Slope
	if lie == nil {
		return plan.Hill{}, 0, fmt.Errorf("%s tells no slopes: heights of four passes beside each other are wanted", s.Log)
	}
	r.Hill.Mean, r.Hill.Most, r.Hill.Unknown = 100*lie.Mean, 100*lie.Most.Slope, lie.Map < 0.9*r.Area
	lies := plan.Hill{Surface: earlier.Surface} // on the plane of the same field
	if !slices.ContainsFunc(s.crabbing(r.Spec.Implements, 0), func(im rig.Implement) bool { return im.CrabPerPercent == 0 }) {
		return lies, 0, nil
	}
	if lie.Crab == nil {
		return plan.Hill{}, 0, fmt.Errorf("%s tells no crab angle per percent of slope: headings on six passes over unlike slopes are wanted; or it must be given", s.Log)
	}
	r.Hill.Doubt = lie.Crab.Doubt
	return lies, max(0, lie.Crab.PerPercent), nil
}
