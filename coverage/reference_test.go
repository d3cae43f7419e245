package coverage

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/testdata/trial"
)

// TestDistanceCounter compares the way of the passes with the machine's own
// distance counter, within 2 %. The logs are anonymised: east-west is short, by the
// share that the field's area is short of the declared one (both in the table), so
// field and log are stretched by it. No pass of these logs runs north-south alone.
func TestDistanceCounter(t *testing.T) {
	dir := filepath.Join(trial.OpenData(t), "isobus")
	fields := trial.OpenFields(t, filepath.Join(dir, "boundaries.geojson"))
	seen := 0
	for _, row := range trial.Table(t, filepath.Join(dir, "reference_coverage.csv")) {
		path := filepath.Join(dir, row["log"]+".csv")
		if _, err := os.Stat(path); err != nil {
			continue // the table holds more logs than the folder
		}
		seen++
		stretch := trial.Number(t, row, "declared_m2") / trial.Number(t, row, "boundary_m2")
		f, track := trial.FieldNamed(t, fields, strings.TrimSpace(row["field"])), trial.Logged(t, path)
		lon0 := f.Boundary[0][0][0][0]
		f.Boundary = f.Boundary.Clone()
		for _, ring := range f.Boundary[0] {
			for i := range ring {
				ring[i][0] = lon0 + stretch*(ring[i][0]-lon0)
			}
		}
		flat := track.Line.FlatCoords()
		for k := 0; k < len(flat); k += 3 {
			flat[k] = lon0 + stretch*(flat[k]-lon0)
		}
		r, err := Check(t.Context(), f, []geo.Track{track}, drive.Work{Width: 9})
		if err != nil {
			t.Fatal(err)
		}
		way := 0.0
		for _, p := range r.Passes {
			way += p.Length
		}
		counter := trial.Number(t, row, "counter_dist_m")
		t.Logf("%s: passes %.0f m, counter %.0f m: %+.2f %%", row["log"], way, counter, 100*(way/counter-1))
		if math.Abs(way/counter-1) > 0.02 {
			t.Errorf("%s: passes %.0f m, the machine counted %.0f m", row["log"], way, counter)
		}
	}
	if seen != 3 {
		t.Errorf("%d logs, want 3", seen)
	}
}
