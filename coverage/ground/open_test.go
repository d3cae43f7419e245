package ground

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"

	geom "github.com/twpayne/go-geom"
)

// drivenOver is an invented operation on a real field: passes at an odd bearing
// over the whole of it, some centimetres off the credited width, each with its
// own drift and sway, some with a log gap; the set works inside the outer rings only and drives
// through obstacles. Some pass in the middle is driven twice: on the very same
// fixes or half a metre beside them.
func drivenOver(f geo.Field, rng *rand.Rand) (geo.Track, drive.Work) {
	local := f.Local()
	field := f.OnPlane(local)
	box := plane.EmptyBox()
	for _, p := range field {
		box = box.Extend(p[0]...)
	}
	middle := box.Min.Lerp(box.Max, 0.5)
	reach := box.Min.Dist(box.Max) / 2
	w := drive.Work{Overlap: 0.05 + 0.15*rng.Float64()}
	w.Width = math.Round(10*min(36, max(3, reach/25*(0.7+0.6*rng.Float64())))) / 10
	pitch := w.Credited() + 0.08*(rng.Float64()-0.5)
	step := min(10, max(2, w.Width*(0.3+0.7*rng.Float64())))
	sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
	along, across := plane.XY{X: cos, Y: sin}, plane.XY{X: -sin, Y: cos}
	inside := func(p plane.XY) bool {
		for _, poly := range field {
			if trial.Winding(poly[0], p) != 0 {
				return true
			}
		}
		return false
	}
	track := geo.Track{Source: "simulated", Line: geom.NewMultiLineString(geom.XYM)}
	drive := func(line []plane.XY) {
		var flat []float64
		for _, p := range line {
			q := local.Point(p)
			flat = append(flat, q[0], q[1], math.NaN())
			state := geo.Lifted
			if inside(p) {
				state = geo.Working
			}
			track.State = append(track.State, state)
		}
		if err := track.Line.Push(geom.NewLineStringFlat(geom.XYM, flat)); err != nil {
			panic(err) // a fault of the test
		}
	}
	n := int(math.Ceil(reach / pitch))
	for k := -n; k <= n; k++ {
		drift, sway, phase := 0.05*rng.NormFloat64(), 0.06*rng.Float64(), 2*math.Pi*rng.Float64()
		var line []plane.XY
		for s := -reach; s <= reach; s += step {
			off := float64(k)*pitch + drift*s/reach + sway*math.Sin(s/40+phase) + 0.01*rng.NormFloat64()
			line = append(line, middle.Add(along.Scale(s)).Add(across.Scale(off)))
		}
		if (k+n)%2 == 1 {
			line = trial.Sketch{Lines: [][]plane.XY{line}}.Reversed().Lines[0]
		}
		if m := int(60/step) + 2; rng.IntN(8) == 0 && len(line) > m+4 { // a log gap of 60 m
			from := 2 + rng.IntN(len(line)-m-3)
			line = slices.Delete(line, from, from+m)
		}
		drive(line)
		if k == 0 {
			beside := across.Scale(0.5 * float64(rng.IntN(2)))
			drive(trial.Apply(line, func(p plane.XY) plane.XY { return p.Add(beside) }))
		}
	}
	return track, w
}

// TestOpenFieldsByTwoEngines: 157 fields of open registers (open/SOURCES.md)
// with simulated passes.
func TestOpenFieldsByTwoEngines(t *testing.T) {
	fields := trial.OpenFields(t, filepath.Join(trial.OpenData(t), "fields_permissive.geojson"))
	if len(fields) != 157 {
		t.Fatalf("%d fields, want 157", len(fields))
	}
	seed, every := check.Seed(t), 3
	switch {
	case trial.Long():
		every = 1
	case testing.Short(), trial.UnderRaceDetector():
		every = 10
	}
	t.Logf("seed %d", seed)
	var c tally
	var twice, unknown, fixes int
	for k := int(seed % uint64(every)); k < len(fields); k += every {
		f := fields[k]
		track, w := drivenOver(f, rand.New(rand.NewPCG(seed, uint64(k))))
		r := c.compare(t, fmt.Sprintf("seed %d, field %d %q", seed, f.Number, f.Name), f, []geo.Track{track}, w)
		fixes += r.Used
		if r.Balance.Missed > 0 && r.Balance.Twice > 0 {
			twice++
		}
		if r.Balance.Unknown > 0 {
			unknown++
		}
	}
	t.Logf("%d fixes in passes; of %d fields %d have missed and double-worked ground, %d unknown ground", fixes, c.fields, twice, unknown)
	c.report(t)
	if 2*twice < c.fields || unknown < 1 {
		t.Errorf("too tame: of %d fields only %d have missed and double-worked ground, and %d unknown ground", c.fields, twice, unknown)
	}
}

// TestSeedingLogByTwoEngines: a day of seeding at 1 Hz with the logged width, on
// the field it belongs to. The log says nothing about lifting.
func TestSeedingLogByTwoEngines(t *testing.T) {
	dir := trial.OpenData(t)
	f := trial.FieldNamed(t, trial.OpenFields(t, filepath.Join(dir, "seeding_boundaries.geojson")), "millview_bbox")
	track := trial.Logged(t, filepath.Join(dir, "seeding_ca_2019_1hz.csv"))
	var c tally
	r := c.compare(t, track.Source, f, []geo.Track{track}, drive.Work{Width: 13.2})
	logBalance(t, r)
	c.report(t)
}

// TestMachineLogsByTwoEngines: three logs with work state and working width from
// a machine's own task file.
func TestMachineLogsByTwoEngines(t *testing.T) {
	dir := filepath.Join(trial.OpenData(t), "isobus")
	fields := trial.OpenFields(t, filepath.Join(dir, "boundaries.geojson"))
	var c tally
	seen := 0
	for _, row := range trial.Table(t, filepath.Join(dir, "reference_coverage.csv")) {
		path := filepath.Join(dir, row["log"]+".csv")
		if _, err := os.Stat(path); err != nil {
			continue // the reference holds more logs than the folder
		}
		seen++
		f := trial.FieldNamed(t, fields, strings.TrimSpace(row["field"]))
		r := c.compare(t, row["log"], f, []geo.Track{trial.Logged(t, path)}, drive.Work{Width: 9})
		logBalance(t, r)
		againstReference(t, row, f, trial.Logged(t, path), r.Balance)
	}
	if seen != 3 {
		t.Errorf("%d logs, want 3", seen)
	}
	c.reportUpTo(t, 1) // on one the independent engine loses 0.2 m² and fails when it is checked; a scan judges that
}

func logBalance(t *testing.T, r operated) {
	t.Helper()
	b := r.Balance
	t.Logf("%d fixes, %d in %d passes: field %.0f m², missed %.0f, unknown %.0f, once %.0f, twice %.0f, more %.0f, outside %.0f, swath %.0f; net %.0f, overlap %.0f",
		r.Fixes, r.Used, len(r.Runs), b.Field, b.Missed, b.Unknown, b.Once, b.Twice, b.More, b.Outside, b.Swath,
		b.Once+b.Twice+b.More+b.Outside, b.Swath-(b.Once+b.Twice+b.More+b.Outside))
}
