package job

import (
	"context"
	"errors"
	"fmt"

	"balk/coverage/drive"
	"balk/coverage/plan"
	"balk/geo"
)

// HillSpec says how a field lies before the work: evenly, or by the heights of an earlier log, and by how much the set turns uphill.
type HillSpec struct {
	Downhill *float64 `json:"downhill,omitempty"` // degrees from true north
	Percent  float64  `json:"percent,omitempty"`  // of slope, that way
	Crab     float64  `json:"crab,omitempty"`     // degrees of crab angle per percent of slope across; 0 = as the log has it
	Log      string   `json:"log,omitempty"`      // file of an earlier operation on the field, with heights; "" = none
}

const (
	mostSlope      = 100.0 // percent
	mostPerPercent = 5.0   // degrees
)

func (h HillSpec) validate() error {
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
	case !(h.Crab >= 0 && h.Crab <= mostPerPercent):
		return fmt.Errorf("crab angle %g° per percent: must be from 0 to %g°", h.Crab, mostPerPercent)
	case h.Downhill != nil && h.Crab == 0:
		return errors.New("a slope without the crab angle per percent: needs it, as balk check tells it of a log with heights and headings")
	}
	return nil
}

// HillTold says which slopes plans were judged on. Slopes are percent.
type HillTold struct {
	Crab    float64 `json:"crab"`            // degrees per percent of slope across the way
	Doubt   float64 `json:"doubt,omitempty"` // degrees per percent, 95 %; 0 = given
	Mean    float64 `json:"mean"`            // where the ground rises most
	Most    float64 `json:"most"`
	Unknown bool    `json:"unknown,omitempty"` // the log's heights do not tell all of the field
}

// hill is how the field lies by what the call says.
func (r *CompareReport) hill(ctx context.Context, call *Call) (plan.Hill, error) {
	s := r.Spec.Hill
	if s.Log == "" {
		down := r.local.HeadingOf(geo.Bearing(*s.Downhill)).Ahead()
		r.Hill = &HillTold{Crab: s.Crab, Mean: s.Percent, Most: s.Percent}
		return plan.Hill{Rise: down.Scale(-s.Percent / 100), Crab: s.Crab}, nil
	}
	before := Spec{Boundary: r.Spec.Boundary, Field: r.Spec.Field, Reading: r.Spec.Reading, Tracks: []string{s.Log}, Together: true,
		Work: drive.Work{Width: r.Spec.Implements[0].Width, Workers: r.Spec.Options.Workers}}
	rep, earlier, err := judge(ctx, before, nil, nil, call)
	r.Findings = append(r.Findings, rep.Findings...)
	if err != nil {
		return plan.Hill{}, fmt.Errorf("slopes by %s: %w", s.Log, err)
	}
	lie := earlier.Slope
	if lie == nil {
		return plan.Hill{}, fmt.Errorf("%s tells no slopes: heights of four passes beside each other are wanted", s.Log)
	}
	r.Hill = &HillTold{Crab: s.Crab, Mean: 100 * lie.Mean, Most: 100 * lie.Most.Slope, Unknown: lie.Map < 0.9*r.Area}
	if s.Crab == 0 {
		if lie.Crab == nil {
			return plan.Hill{}, fmt.Errorf("%s tells no crab angle per percent of slope: headings on six passes over unlike slopes are wanted; or it must be given", s.Log)
		}
		r.Hill.Crab, r.Hill.Doubt = max(0, lie.Crab.PerPercent), lie.Crab.Doubt
	}
	// Both are on the plane of the same field.
	return plan.Hill{Surface: earlier.Surface, Crab: r.Hill.Crab}, nil
}
