package job

import (
	"math"
	"testing"
	"time"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/geo"
)

// The machine's own counters stand beside our count of the same tracks alone; a closed form.
func TestCountersBesideOurs(t *testing.T) {
	start := time.Date(2026, 4, 14, 6, 0, 0, 0, time.UTC)
	with := geo.NotCounted()
	with.Working, with.Idle, with.Area, with.Fuel, with.Depth = 1030, 95, 5000, 12, 0.08
	tracks := []geo.Track{{Counted: &with}, {}}
	r := coverage.Result{
		Log: []drive.Stretch{
			{Activity: drive.ActivityWork, Length: 1000, From: start, To: start.Add(500 * time.Second)},
			{Activity: drive.ActivityTurn, Length: 100}, {Activity: drive.ActivityUnknown, Length: 40},
			{Track: 1, Activity: drive.ActivityWork, Length: 7000},
		},
		Passes: []drive.Pass{{Area: 4900}, {Track: 1, Area: 30000}},
	}
	c := countersOf(tracks).beside(r)
	if c == nil || c.Tracks != 1 || c.Of != 2 || c.Working != (Counted{1030, 1000}) || c.Idle != (Counted{95, 100}) || c.Area != (Counted{5000, 4900}) || c.WorkingTime != (Counted{0, 500}) || c.Fuel != 12 {
		t.Errorf("%+v", c)
	}
	if off := c.Working.Off(); math.Abs(off-0.03) > 1e-12 || !math.IsNaN(c.WorkingTime.Off()) {
		t.Errorf("off by %g", off)
	}
	if got := countersOf(tracks[1:]).beside(r); got != nil {
		t.Errorf("%+v of a track without counters", got)
	}
}
