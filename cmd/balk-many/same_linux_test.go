package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/demo"
	"balk/cmd/internal/queue"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/read"
	"balk/testdata/check"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// place is a corner of ground of its own for a field, longitude and latitude.
func place(f int) orb.Point { return orb.Point{5 + 0.02*float64(f%150), 47 + 0.02*float64(f/150)} }

// Which logs a season has: of so many one is the demo's and one over a real boundary, the others are small.
const (
	mostlySmall = 40
	wholeFields = 2
)

// season is fields with a log each, and gives the Spec of their batch. One in so many is the demo's, with every eighth fix of its logs, one lies over a real
// boundary (where these are there) with invented rows; the others are invented, of 60 by 40 m; one log in twenty is broken. Each lies at a place of its own.
func season(t *testing.T, dir string, n, every int) batch.Spec {
	t.Helper()
	write := func(name, text string) string {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	farm := filepath.Join(dir, "demo")
	if _, err := demo.Write(t.Context(), farm, 1, func(string) {}); err != nil {
		t.Fatal(err)
	}
	fieldsOf := func(path string) []geo.Field {
		all, _, err := read.Fields(path, read.Options{})
		if err != nil {
			t.Fatal(err)
		}
		return all
	}
	ours := fieldsOf(filepath.Join(farm, "fields.geojson"))
	tracks := map[int][]string{}
	for i, name := range []string{"pond", "elbow", "ribbon"} {
		text, err := os.ReadFile(filepath.Join(farm, "track-"+name+".geojson"))
		if err != nil {
			t.Fatal(err)
		}
		tracks[i] = strings.Split(string(text), "\n")
	}
	var open []geo.Field
	if shared := os.Getenv("BALK_SHARED"); shared != "" {
		for _, f := range fieldsOf(check.Shared(t, "open", "fields_permissive.geojson")) {
			if b := f.Boundary.Bound(); len(f.Boundary) == 1 && b.Max[0]-b.Min[0] < 0.012 && b.Max[1]-b.Min[1] < 0.012 {
				open = append(open, f)
			}
		}
	}
	const metre = 1 / 111194.0 // degrees of latitude
	all := geojson.NewFeatureCollection()
	r := rand.New(rand.NewPCG(20, 1))
	for f := range n {
		to := place(f)
		var boundary orb.MultiPolygon
		var log strings.Builder
		name := fmt.Sprintf("logs/farm %d/%05d.csv", f/40%7, f)
		at := time.Date(2026, 4, 1+f%28, 6, 0, 0, 0, time.UTC)
		rows := func(east, north float64) { // over so many metres; some are left out, some lie twice
			log.WriteString("time,longitude,latitude,state,driver\n")
			for x, row := 3.0, 0; x < east; x, row = x+6, row+1 {
				if draw := r.IntN(12); draw == 0 {
					continue
				} else if draw == 1 {
					x -= 2.5
				}
				for k := 0.0; k <= north; k += 8 {
					y := k
					if row%2 == 1 {
						y = north - k
					}
					fmt.Fprintf(&log, "%s,%.8f,%.8f,working,N. N. %d\n", at.Format(time.RFC3339Nano), to[0]+x*metre*1.5, to[1]+y*metre, f%3)
					at = at.Add(4300 * time.Millisecond)
				}
				at = at.Add(20 * time.Second)
			}
		}
		shift := func(mp orb.MultiPolygon) {
			b := mp.Bound()
			for _, p := range mp {
				var moved orb.Polygon
				for _, ring := range p {
					var m orb.Ring
					for _, q := range ring {
						m = append(m, orb.Point{q[0] - b.Min[0] + to[0], q[1] - b.Min[1] + to[1]})
					}
					moved = append(moved, m)
				}
				boundary = append(boundary, moved)
			}
		}
		switch {
		case f%every == 5%every:
			i := f / every % 3
			shift(ours[i].Boundary)
			b := ours[i].Boundary.Bound()
			name = strings.TrimSuffix(name, "csv") + "geojson"
			log.WriteString(`{"type":"FeatureCollection","features":[`)
			kept := 0
			for k, line := range tracks[i] {
				var one geojson.Feature
				line = strings.TrimSuffix(strings.TrimSpace(line), ",")
				if k%8 != 0 || !strings.HasPrefix(line, `{"type":"Feature",`) || json.Unmarshal([]byte(line), &one) != nil {
					continue
				}
				p := one.Geometry.(orb.Point)
				one.Geometry = orb.Point{p[0] - b.Min[0] + to[0], p[1] - b.Min[1] + to[1]}
				text, err := one.MarshalJSON()
				if err != nil {
					t.Fatal(err)
				}
				if kept++; kept > 1 {
					log.WriteString(",\n")
				}
				log.Write(text)
			}
			if log.WriteString("]}"); kept < 100 {
				t.Fatalf("%d fixes of the demo", kept)
			}
		case f%every == (5+every/2)%every && len(open) > 0:
			shift(open[f%len(open)].Boundary)
			b := boundary.Bound()
			rows((b.Max[0]-b.Min[0])/metre/1.5, (b.Max[1]-b.Min[1])/metre)
		default:
			square := func(x, y float64) orb.Point { return orb.Point{to[0] + x*metre*1.5, to[1] + y*metre} }
			boundary = orb.MultiPolygon{{{square(0, 0), square(60, 0), square(60, 40), square(0, 40), square(0, 0)}}}
			rows(60, 40)
		}
		one := geojson.NewFeature(boundary)
		one.Properties["name"] = fmt.Sprintf("Field %d", f)
		all.Append(one)
		switch f % 60 {
		case 19: // no log
			write(name, "what is this\n")
		case 39: // cut off in the middle of a number
			write(name, "time,longitude,latitude,state\n2026-04-14T06:00:00Z,11.5,4")
		case 59: // cut off in the middle
			write(name, log.String()[:log.Len()/2]+",,,,,,,,\"")
		default:
			write(name, log.String())
		}
	}
	text, err := all.MarshalJSON()
	if err != nil {
		t.Fatal(err)
	}
	spec := batch.Spec{Sources: []string{filepath.Join(dir, "logs")}, Memory: 2048, Most: 10 * time.Minute}
	spec.Check.Boundary = write("fields.geojson", string(text))
	spec.Check.Use(rig.Implement{Name: "harrow", Width: 6}, drive.WidthFile)
	return spec
}

// told is what comes of a batch asked for as balk asks.
func told(t *testing.T, spec batch.Spec, do func(ctx context.Context, in io.Reader, out, errs io.Writer) int) (rep batch.Report) {
	t.Helper()
	text, err := json.Marshal(spec)
	if err != nil {
		t.Fatal(err)
	}
	in, hold := io.Pipe()
	defer hold.Close()
	go func() { _, _ = hold.Write(text) }() // what is wrong with it is told by who reads
	var out, errs bytes.Buffer
	if code := do(t.Context(), in, &out, &errs); code != 0 {
		t.Fatalf("exit %d: %s", code, errs.String())
	}
	if err := json.Unmarshal(out.Bytes(), &rep); err != nil {
		t.Fatal(err)
	}
	return rep
}

// On this computer and in a database with three workers, one of them killed on the way, the tables are the same, byte for byte (BALK_LONG: 10,000 operations).
func TestSameTables(t *testing.T) {
	n, every := 60, mostlySmall
	if os.Getenv("BALK_LONG") != "" {
		n, every = 10_000, wholeFields
	}
	url := databases.Database(t, false)
	dir := t.TempDir()
	spec := season(t, dir, n, every)
	spec.Out = filepath.Join(dir, "here")
	began := time.Now()
	here := told(t, spec, func(ctx context.Context, in io.Reader, out, errs io.Writer) int {
		return queue.Serve(ctx, []string{"run"}, in, out, errs, sources)
	})
	alone := time.Since(began)

	t.Setenv("BALK_DATABASE", url)
	var workers [3]*exec.Cmd
	for i := range workers {
		workers[i] = exec.Command(os.Args[0], "worker", "--lease", "2s", "--workers", "1")
		workers[i].Stdout, workers[i].Stderr = io.Discard, io.Discard
		workers[i].SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
		if err := workers[i].Start(); err != nil {
			t.Fatal(err)
		}
	}
	ended := func(i int, s syscall.Signal) {
		_ = syscall.Kill(-workers[i].Process.Pid, s) // the first is gone already
		_ = workers[i].Wait()
	}
	spec.Out = filepath.Join(dir, "there")
	began = time.Now()
	there := told(t, spec, func(ctx context.Context, in io.Reader, out, errs io.Writer) int {
		lines, w := io.Pipe()
		go func() {
			s := bufio.NewScanner(lines)
			for k := 0; s.Scan(); k++ {
				if k == 4 {
					ended(0, syscall.SIGKILL)
				}
			}
		}()
		defer w.Close()
		return asked(ctx, []string{"run", "database"}, in, out, io.MultiWriter(errs, w))
	})
	t.Logf("%d logs: here %s, with a database and three workers %s", n, alone, time.Since(began))
	for i := range workers {
		ended(i, syscall.SIGTERM)
	}
	if here.Totals.All.Operations < n*9/10 || len(here.Faults)+len(here.Lost)+len(here.NoLogs) < n/20 || len(here.Totals.Worst) < n*9/10 || here.Totals.All.Missed == 0 {
		t.Fatalf("%+v, %d failed: the test sees nothing", here.Totals.All, len(here.Faults))
	}
	for _, name := range []string{"results.csv", "results.gpkg", "totals.csv", "failures.csv", "wear.csv"} {
		var texts [2][]byte
		var err error
		for i, from := range []string{"here", "there"} {
			if texts[i], err = os.ReadFile(filepath.Join(dir, from, name)); err != nil {
				t.Fatal(err)
			}
		}
		if bytes.Equal(texts[0], texts[1]) {
			continue
		}
		t.Errorf("%s: %d bytes here, %d there", name, len(texts[0]), len(texts[1]))
		there := bytes.Split(texts[1], []byte("\n"))
		for k, line := range bytes.Split(texts[0], []byte("\n")) {
			if strings.HasSuffix(name, ".csv") && (k >= len(there) || !bytes.Equal(line, there[k])) {
				t.Fatalf("line %d:\n%s\nthere:\n%s", k+1, line, there[min(k, len(there)-1)])
			}
		}
	}
	readInGDAL(t, filepath.Join(dir, "here"))
	if len(there.Faults) != len(here.Faults) || len(there.Lost) != len(here.Lost) || len(there.NoLogs) != len(here.NoLogs) || there.Logs != here.Logs {
		t.Errorf("there %d logs, %d failed, %d lost; here %d, %d, %d", there.Logs, len(there.Faults), len(there.Lost), here.Logs, len(here.Faults), len(here.Lost))
	}

	// How far it is, as a run here tells it, and the same tables once more from the database alone.
	var st batch.Status
	var out bytes.Buffer
	if code := asked(t.Context(), []string{"far", "database"}, strings.NewReader(""), &out, io.Discard); code != 0 || json.Unmarshal(out.Bytes(), &st) != nil {
		t.Fatalf("exit %d, %s", code, out.String())
	}
	want, err := queue.StatusOf(t.Context(), filepath.Join(dir, "here"))
	if err != nil {
		t.Fatal(err)
	}
	want.Batch, want.Rate, want.Workers = 1, st.Rate, st.Workers
	want.Failed = st.Failed // there operations are counted, here rows
	if st != want || st.LogsFailed < n/60 {
		t.Errorf("there %+v, here %+v", st, want)
	}
	called(t, lost, "", "results", "--out", filepath.Join(dir, "again"))
	again, err := os.ReadFile(filepath.Join(dir, "again", "results.csv"))
	if first, err2 := os.ReadFile(filepath.Join(dir, "here", "results.csv")); err != nil || err2 != nil || !bytes.Equal(again, first) {
		t.Errorf("once more from the database: %v, %v, %d bytes, first %d", err, err2, len(again), len(first))
	}
}

// readInGDAL has GDAL count the rows and the strips of a batch's GeoPackage, and measure these beside the area that is told of each.
func readInGDAL(t *testing.T, dir string) {
	t.Helper()
	tool, err := exec.LookPath("ogrinfo")
	if err != nil {
		t.Log("GDAL (ogrinfo, Debian package gdal-bin) is not installed: the results are not read by it")
		return
	}
	file, err := os.Open(filepath.Join(dir, "results.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	ask := func(layer, what string) float64 {
		t.Helper()
		text, err := exec.Command(tool, "-q", filepath.Join(dir, "results.gpkg"), "-sql", "SELECT "+what+" AS answer FROM "+layer).CombinedOutput()
		_, answer, ok := strings.Cut(string(text), " = ")
		v, err2 := strconv.ParseFloat(strings.TrimSpace(answer), 64)
		if err != nil || !ok || err2 != nil {
			t.Fatalf("ogrinfo, %s of %s: %v, %v\n%s", what, layer, err, err2, text)
		}
		return v
	}
	if n := ask("operations", "COUNT(*)"); n != float64(len(rows)-1) {
		t.Errorf("GDAL counts %g rows, the table has %d", n, len(rows)-1)
	}
	// A degree of WGS84 at a latitude, m, by the series of the meridian and the parallel (from memory).
	north := ask("strips", "AVG(ST_MinY(geom))") * math.Pi / 180
	degree := (111_132.954 - 559.822*math.Cos(2*north)) * (111_412.84*math.Cos(north) - 93.5*math.Cos(3*north))
	told, drawn := ask("strips", "SUM(area_m2)"), ask("strips", "SUM(ST_Area(geom))")*degree
	if told == 0 || math.Abs(drawn/told-1) > 0.001 {
		t.Errorf("GDAL measures %.1f m² of strips, %.1f are told", drawn, told)
	}
}
