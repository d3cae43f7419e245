package drive

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"balk/coverage/rig"
	"balk/testdata/trial"
)

func TestValidate(t *testing.T) {
	good := Work{Width: 6, Overlap: 0.2}
	if err := good.Validate(); err != nil {
		t.Error(err)
	}
	for name, w := range map[string]Work{
		"no width":           {},
		"overlap too large":  {Width: 6, Overlap: 6.5},
		"overlap below zero": {Width: 6, Overlap: -1},
		"width not a number": {Width: math.NaN()},
		"overlap not finite": {Width: 6, Overlap: math.Inf(1)},
		"rounds below zero":  {Width: 6, Rounds: -1},
		"relap below zero":   {Width: 6, Relap: -1},
		"headland too deep":  {Width: 6, Headland: 1e9},
	} {
		if w.Validate() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestMountIsRefused(t *testing.T) {
	for _, c := range []struct {
		name string
		m    rig.Mount
	}{
		{"trailed without a drawbar", rig.Mount{Trailed: true}},
		{"rigid with a drawbar", rig.Mount{Drawbar: 4}},
		{"antenna behind the axle", rig.Mount{AntennaAhead: -1}},
		{"a hitch of 100 m", rig.Mount{Hitch: 100}},
		{"no number", rig.Mount{BarRight: math.NaN()}},
	} {
		if err := (Work{Width: 5, Mount: c.m}).Validate(); err == nil {
			t.Errorf("%s: taken", c.name)
		}
	}
}

func TestPassErrorLimits(t *testing.T) {
	for _, e := range []float64{-0.01, 10.5, math.NaN(), math.Inf(1)} {
		if err := (Work{Width: 6, PassError: e}).Validate(); err == nil || !strings.Contains(err.Error(), "pass-to-pass error") {
			t.Errorf("pass-to-pass error %g m: got %v", e, err)
		}
	}
	for _, e := range []float64{0, 0.02, 10} {
		if err := (Work{Width: 6, PassError: e}).Validate(); err != nil {
			t.Errorf("pass-to-pass error %g m: %v", e, err)
		}
	}
}

// TestZoneDepth: the headland asked for, else one credited width.
func TestZoneDepth(t *testing.T) {
	for _, c := range []struct {
		w    Work
		want float64
	}{{Work{Width: 6, Overlap: 0.5}, 5.5}, {Work{Width: 6, Overlap: 0.5, Rounds: 2}, 11}, {Work{Width: 6, Headland: 20, Rounds: 2}, 20}} {
		trial.Near(t, fmt.Sprintf("%+v", c.w), c.w.ZoneDepth(), c.want, 0)
	}
}
