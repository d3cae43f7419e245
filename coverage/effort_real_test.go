package coverage

import (
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"

	"github.com/paulmach/orb"
)

// logOf is the log of a track whose work state is logged, or which worked all the
// time: by the state at both ends of each step; who goes slower than
// 0.1 m/s stands. It stands in for the log of a result in the tests of its parts.
func logOf(local geo.Local, track geo.Track) []drive.Stretch {
	flat := track.Line.FlatCoords()
	var at []plane.XY
	var seconds []float64
	for k := 0; k < len(flat); k += 3 {
		at, seconds = append(at, local.XY(orb.Point{flat[k], flat[k+1]})), append(seconds, flat[k+2])
	}
	var log []drive.Stretch
	for k := 1; k < len(at); k++ {
		d, dt := at[k].Dist(at[k-1]), seconds[k]-seconds[k-1]
		a := drive.ActivityWork
		if track.State != nil && (track.State[k] != geo.Working || track.State[k-1] != geo.Working) {
			a = drive.ActivityTurn
		}
		if dt > 0 && d < 0.1*dt {
			a = drive.ActivityIdle
		}
		if n := len(log); n == 0 || log[n-1].Activity != a {
			log = append(log, drive.Stretch{Activity: a, Line: []plane.XY{at[k-1]}, Seconds: []float64{seconds[k-1]}})
		}
		s := &log[len(log)-1]
		s.Line, s.Seconds, s.Length = append(s.Line, at[k]), append(s.Seconds, seconds[k]), s.Length+d
	}
	return log
}

func checkReport(t *testing.T, r Result, e Effort) {
	t.Helper()
	s, z := r.Spacing, r.Zones
	t.Logf("effort: working %.1f km %s, turning %.1f km %s, standing %s, unknown %s, break %s, clock faults %d", e.Working.Metres/1000, duration(e.Working.Seconds),
		e.Turning.Metres/1000, duration(e.Turning.Seconds), duration(e.Standing.Seconds), duration(e.Unknown.Seconds), duration(e.Break), e.ClockFault)
	t.Logf("speed %.1f km/h, 5 to 95 %%: %.1f %.1f %.1f %.1f %.1f; capacity %.2f of %.2f ha/h, efficiency %.2f", 3.6*e.Speed.Mean, 3.6*e.Speed.Q05, 3.6*e.Speed.Q25, 3.6*e.Speed.Median, 3.6*e.Speed.Q75, 3.6*e.Speed.Q95,
		0.36*e.EffectiveCapacity, 0.36*e.TheoreticalCapacity, e.FieldEfficiency)
	t.Logf("spacing: %+v", s)
	t.Logf("zones: %+v", z)
	checkZones(t, r)
	if sum := s.Samples + s.Again + s.Alone + s.Partial + s.Bent; sum != 2*s.Places || s.Samples == 0 {
		t.Errorf("%d sides of %d places, %d samples", sum, s.Places, s.Samples)
	}
	between(t, "field efficiency", e.FieldEfficiency, 0.4, 1)
	between(t, "median speed", e.Speed.Median, 1, 6)
	between(t, "quantiles", e.Speed.Q95-e.Speed.Q05, 0, 6)
}

func duration(seconds float64) string {
	return (time.Duration(seconds) * time.Second).String()
}

func between(t *testing.T, what string, got, low, high float64) {
	t.Helper()
	if !(got >= low && got <= high) {
		t.Errorf("%s: %g, want from %g to %g", what, got, low, high)
	}
}

// TestReportOfRealSeeding: a day of seeding 13.2 m wide (open/SOURCES.md). What a
// grain drill does: 6.5 to 11 km/h at a field efficiency of 55 to 80 % (ASABE D497.7 from
// memory); the log has no work state, so its turns count as work and the efficiency is above that.
func TestReportOfRealSeeding(t *testing.T) {
	field, track := trial.Seeding(t)
	r, err := Check(t.Context(), field, []geo.Track{track}, drive.Work{Width: 13.2})
	if err != nil {
		t.Fatal(err)
	}
	e := effortOf(logOf(r.Local, track), r.Balance, r.Work)
	checkReport(t, r, e)
	first, last := track.Line.FlatCoords()[2], track.Line.FlatCoords()[len(track.Line.FlatCoords())-1]
	trial.Near(t, "all time", e.OnField+e.Break+e.Road.Seconds, last-first, 1)
	between(t, "median speed in km/h", 3.6*e.Speed.Median, 5, 12)
	between(t, "spacing", r.Spacing.Median, 13.2-0.5, 13.2+0.5)
	between(t, "middle half of the spacing", r.Spacing.Q75-r.Spacing.Q25, 0, 0.5)
	between(t, "bar to the right", math.Abs(r.Spacing.Offset.Right), 0, 0.3)
}

// TestReportOfMachineLogs: logs with work state of a 9 m set.
func TestReportOfMachineLogs(t *testing.T) {
	dir := filepath.Join(trial.OpenData(t), "isobus")
	fields := trial.OpenFields(t, filepath.Join(dir, "boundaries.geojson"))
	for _, row := range trial.Table(t, filepath.Join(dir, "reference_coverage.csv")) {
		if !strings.Contains("TLG00004 TLG00009 TLG00021", row["log"]) {
			continue // the reference holds more logs than the folder
		}
		t.Run(row["log"], func(t *testing.T) {
			track := trial.Logged(t, filepath.Join(dir, row["log"]+".csv"))
			r, err := Check(t.Context(), trial.FieldNamed(t, fields, strings.TrimSpace(row["field"])), []geo.Track{track}, drive.Work{Width: 9})
			if err != nil {
				t.Fatal(err)
			}
			e := effortOf(logOf(r.Local, track), r.Balance, r.Work)
			checkReport(t, r, e)
			between(t, "working metres against the machine's", e.Working.Metres, 0.9*trial.Number(t, row, "workdist_m"), 1.1*trial.Number(t, row, "workdist_m"))
			between(t, "spacing", r.Spacing.Median, 9*0.85, 9*1.1)
		})
	}
}
