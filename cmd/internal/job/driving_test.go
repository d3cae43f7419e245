package job

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"balk/coverage/ground"
	"balk/export/vector"
	"balk/export/words"
	"balk/geo/read"

	"github.com/paulmach/orb"
)

// driving is invented driving on the acre (148 m × 111 m): eight rows of 100 m, 5 m apart, a fix a second at 2 m/s with the
// tool down in the rows, turns of ten seconds between them.
type driving []fix

type fix struct {
	at   orb.Point
	when time.Time
	down bool
}

func driven(start time.Time) driving {
	const lon, lat, east, north = 11.5702, 48.1402, 1.3446e-5, 8.9927e-6 // degrees, and degrees in a metre there
	var d driving
	add := func(x, y float64, down bool) {
		d = append(d, fix{orb.Point{lon + x*east, lat + y*north}, start.Add(time.Duration(len(d)) * time.Second), down})
	}
	for r := range 8 {
		y := 5 * float64(r)
		for k := 0; k <= 50; k++ {
			x := 2 * float64(k)
			if r%2 == 1 {
				x = 100 - x
			}
			add(x, y, true)
		}
		for k := 1; k <= 9; k++ {
			side := 1.0
			if r%2 == 1 {
				side = -1
			}
			x := 100 * float64((r+1)%2)
			add(x+side*float64(5-max(k-5, 5-k)), y+0.5*float64(k), false)
		}
	}
	return d
}

// layer is the drive as points with a row per fix.
func (d driving) layer() vector.Layer {
	l := vector.Layer{Name: "log", Kind: vector.Points, Columns: []vector.Property{{Name: "time", Holds: vector.Words}, {Name: "working", Holds: vector.Truth}, {Name: "seq", Holds: vector.Whole}}}
	for i, f := range d {
		l.Features = append(l.Features, vector.Feature{Geometry: f.at, Row: []any{f.when.Format("2006-01-02T15:04:05.000Z"), f.down, i}})
	}
	return l
}

// formats are ways to write a drive to a file in dir, which they name. The last three say nothing of the tool.
var formats = []struct {
	name  string
	write func(t *testing.T, dir string, d driving) string
}{
	{"csv", func(t *testing.T, dir string, d driving) string {
		return toFile(t, filepath.Join(dir, "log.csv"), func(w io.Writer) error {
			fmt.Fprintln(w, "time,working,seq,lon,lat")
			for i, f := range d {
				fmt.Fprintf(w, "%s,%v,%d,%.8f,%.8f\n", f.when.Format(time.RFC3339Nano), f.down, i, f.at[0], f.at[1])
			}
			return nil
		})
	}},
	{"geojson", func(t *testing.T, dir string, d driving) string {
		return toFile(t, filepath.Join(dir, "log.geojson"), func(w io.Writer) error { return vector.WriteGeoJSON(w, d.layer()) })
	}},
	{"shapefile", func(t *testing.T, dir string, d driving) string {
		return shapefile(t, filepath.Join(dir, "log"), d.layer(), d[0].when)
	}},
	{"zip", func(t *testing.T, dir string, d driving) string {
		return toFile(t, filepath.Join(dir, "log.zip"), func(w io.Writer) error { return vector.ZipShapefiles(w, []vector.Layer{d.layer()}, d[0].when) })
	}},
	{"geopackage", func(t *testing.T, dir string, d driving) string {
		path := filepath.Join(dir, "log.gpkg")
		if err := vector.WriteGeoPackage(t.Context(), path, []vector.Layer{d.layer()}, d[0].when); err != nil {
			t.Fatal(err)
		}
		return path
	}},
	{"gpx", func(t *testing.T, dir string, d driving) string {
		return toFile(t, filepath.Join(dir, "log.gpx"), func(w io.Writer) error {
			fmt.Fprint(w, `<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="invented"><trk><trkseg>`)
			for _, f := range d {
				fmt.Fprintf(w, `<trkpt lat="%.7f" lon="%.7f"><time>%s</time></trkpt>`+"\n", f.at[1], f.at[0], f.when.Format(time.RFC3339Nano))
			}
			_, err := fmt.Fprint(w, `</trkseg></trk></gpx>`)
			return err
		})
	}},
	{"kml", func(t *testing.T, dir string, d driving) string {
		return toFile(t, filepath.Join(dir, "log.kml"), func(w io.Writer) error {
			fmt.Fprint(w, `<kml xmlns="http://www.opengis.net/kml/2.2"><Document>`)
			for _, f := range d {
				fmt.Fprintf(w, "<Placemark><TimeStamp><when>%s</when></TimeStamp><Point><coordinates>%.8f,%.8f</coordinates></Point></Placemark>\n", f.when.Format(time.RFC3339Nano), f.at[0], f.at[1])
			}
			_, err := fmt.Fprint(w, `</Document></kml>`)
			return err
		})
	}},
	{"nmea", func(t *testing.T, dir string, d driving) string {
		return toFile(t, filepath.Join(dir, "log.nmea"), func(w io.Writer) error {
			for _, f := range d {
				s := fmt.Sprintf("GPRMC,%s,A,%s,N,%s,E,,,%s,,", f.when.Format("150405.00"), angle(f.at[1], "%02d"), angle(f.at[0], "%03d"), f.when.Format("020106"))
				sum := byte(0)
				for _, c := range []byte(s) {
					sum ^= c
				}
				fmt.Fprintf(w, "$%s*%02X\r\n", s, sum)
			}
			return nil
		})
	}},
}

// angle is degrees and minutes as NMEA 0183 has them.
func angle(v float64, degrees string) string {
	whole := int(v)
	return fmt.Sprintf(degrees+"%010.7f", whole, 60*(v-float64(whole)))
}

func toFile(t *testing.T, path string, write func(io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// shapefile puts a layer into files whose names begin with path, and names the .shp.
func shapefile(t *testing.T, path string, l vector.Layer, date time.Time) string {
	t.Helper()
	parts, err := vector.Shapefile(path, l, date)
	if err != nil {
		t.Fatal(err)
	}
	for _, part := range parts {
		toFile(t, part.Name, part.Write)
	}
	return path + ".shp"
}

// checked runs a check of the acre with some tracks; said are its findings, a line each.
func checked(t *testing.T, s Spec, tracks ...string) (rep Report, said string) {
	t.Helper()
	s.Tracks, s.Out = tracks, ""
	rep, err := Run(context.Background(), s, nil)
	if err != nil {
		t.Fatalf("%v: %v", tracks, err)
	}
	for _, f := range rep.Findings {
		said += f.String() + "\n"
	}
	return rep, said
}

func sameGround(a, b ground.Balance) bool {
	near := func(x, y float64) bool { return x-y < 0.5 && y-x < 0.5 } // m²; places differ by the rounding of their format
	return near(a.Once, b.Once) && near(a.Twice, b.Twice) && near(a.More, b.More) && near(a.Missed, b.Missed) && near(a.Unknown, b.Unknown)
}

var noon = time.Date(2026, 4, 14, 10, 0, 0, 0, time.UTC)

// TestOneDriveInEveryFormat: a log, and the same as another format beside it, before it or in a folder with it, is one
// drive, and the one that knows when the tool was down is used.
func TestOneDriveInEveryFormat(t *testing.T) {
	s := spec(t)
	d := driven(noon)
	alone, _ := checked(t, s, formats[0].write(t, t.TempDir(), d))
	if alone.Balance.Twice > 100 || alone.Balance.Once < 3500 {
		t.Fatalf("one driving: %+v", alone.Balance)
	}
	all := t.TempDir()
	for _, f := range formats {
		path := f.write(t, t.TempDir(), d)
		f.write(t, all, d)
		for _, tracks := range [][]string{{path, path}, {formats[0].write(t, t.TempDir(), d), path}, {path, formats[0].write(t, t.TempDir(), d)}} {
			rep, said := checked(t, s, tracks...)
			if !strings.Contains(said, "used once") {
				t.Errorf("%s: said %q", f.name, said)
			}
			if tracks[0] != tracks[1] && !sameGround(rep.Balance, alone.Balance) || rep.Balance.Twice > 150 || rep.Fixes > len(d)+5 {
				t.Errorf("%s, %d files: %d fixes, %+v; alone %d and %+v", f.name, len(tracks), rep.Fixes, rep.Balance, alone.Fixes, alone.Balance)
			}
		}
	}
	rep, said := checked(t, s, all)
	if !sameGround(rep.Balance, alone.Balance) || rep.Fixes != alone.Fixes || rep.Lost() {
		t.Errorf("a folder with all formats: %d fixes, %+v; said %s", rep.Fixes, rep.Balance, said)
	}
	later, said := checked(t, s, formats[0].write(t, t.TempDir(), d), formats[1].write(t, t.TempDir(), driven(noon.Add(2*time.Hour))))
	if strings.Contains(said, "used once") || later.Balance.Twice < 3500 {
		t.Errorf("a second driving two hours later: %+v, said %s", later.Balance, said)
	}
}

// TestShuffledInEveryFormat: points in random order or newest first, with times or with a column that numbers them, are the same
// drive in every format that has points; with neither they are refused.
func TestShuffledInEveryFormat(t *testing.T) {
	s := spec(t)
	d := driven(noon)
	for seed, f := range formats {
		want, _ := checked(t, s, f.write(t, t.TempDir(), d))
		shuffled := make(driving, len(d))
		for i, k := range rand.New(rand.NewPCG(uint64(seed), 3)).Perm(len(d)) {
			shuffled[i] = d[k]
		}
		rep, said := checked(t, s, f.write(t, t.TempDir(), shuffled))
		if rep.Balance != want.Balance || !strings.Contains(said, "put in the order of time") {
			t.Errorf("%s: %+v, in order %+v; said %s", f.name, rep.Balance, want.Balance, said)
		}
		newestFirst := slices.Clone(d)
		slices.Reverse(newestFirst)
		rep, said = checked(t, s, f.write(t, t.TempDir(), newestFirst))
		if rep.Balance != want.Balance || !strings.Contains(said, "put in the order of time") {
			t.Errorf("%s, newest first: %+v, in order %+v; said %s", f.name, rep.Balance, want.Balance, said)
		}
	}
}

// TestAPointPerSectionInEveryFormat: six sections of 0.8 m of one time, side by side, work the ground that one bar does.
func TestAPointPerSectionInEveryFormat(t *testing.T) {
	const east, north, apart = 1.3446e-5, 8.9927e-6, 0.8
	s := spec(t)
	d := driven(noon)
	want, _ := checked(t, s, formats[0].write(t, t.TempDir(), d))
	var wide driving
	for k, f := range d {
		a, b := d[max(0, k-1)].at, d[min(len(d)-1, k+1)].at
		x, y := (b[0]-a[0])/east, (b[1]-a[1])/north
		l := math.Hypot(x, y)
		for i := range 6 {
			right := (float64(i) - 2.5) * apart
			p := f
			p.at = orb.Point{f.at[0] + right*y/l*east, f.at[1] - right*x/l*north}
			wide = append(wide, p)
		}
	}
	for _, f := range formats {
		if f.name == "gpx" || f.name == "nmea" {
			continue // one receiver, one fix after the other
		}
		rep, said := checked(t, s, f.write(t, t.TempDir(), wide))
		if !strings.Contains(said, "6 points of each time stand side by side, 0.80 m apart") || rep.Fixes != len(d) {
			t.Errorf("%s: %d fixes, %d wanted; said %s", f.name, rep.Fixes, len(d), said)
		}
		if off := rep.Balance.Once - want.Balance.Once; strings.Contains("csv geojson shapefile zip geopackage", f.name) && (off > 1 || off < -1) {
			t.Errorf("%s: %+v, as one bar %+v", f.name, rep.Balance, want.Balance)
		}
	}
}

// TestResultsAreNoInput: no file of a result is a field, and none is a track but the layer of states, which gives the
// same balance in every format; whatever the files are called.
func TestResultsAreNoInput(t *testing.T) {
	s := spec(t)
	log := formats[0].write(t, t.TempDir(), driven(noon))
	s.Tracks = []string{log}
	alone, _ := checked(t, s, log)
	h := HandoverSpec{Spec: s, Paperwork: Paperwork{Language: words.English}}
	if _, err := Handover(context.Background(), h, nil); err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(t.TempDir(), "copy")
	states := 0
	err := filepath.WalkDir(s.Out, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		raw, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		if err := os.WriteFile(other, raw, 0o644); err != nil {
			return err
		}
		name := filepath.Base(path)
		if fields, _, err := read.Fields(other, read.Options{}); err == nil && name != "TASKDATA.XML" { // a terminal gives that back with its logs
			t.Errorf("%s: %d fields", path, len(fields))
		}
		tracks, findings, err := read.Tracks(other, read.TrackOptions{})
		holds := name == "states.geojson" || name == handoverKMZ || name == handoverPackage || name == handoverShapes
		if !holds {
			if err == nil {
				t.Errorf("%s: %d tracks", path, len(tracks))
			}
			return nil
		}
		states++
		for _, f := range findings {
			if f.Lost {
				t.Errorf("%s: %v", path, f)
			}
		}
		if rep, said := checked(t, s, other); rep.Balance.Once-alone.Balance.Once > 0.01 || alone.Balance.Once-rep.Balance.Once > 0.01 || rep.Effort.Working.Seconds != alone.Effort.Working.Seconds {
			t.Errorf("%s given back: %+v, %v s; the log %+v, %v s; said %s", path, rep.Balance, rep.Effort.Working.Seconds, alone.Balance, alone.Effort.Working.Seconds, said)
		}
		return nil
	})
	if err != nil || states != 4 {
		t.Errorf("%d files hold states, 4 are wanted (%v)", states, err)
	}
}

// TestResultsBesideTheLog: a folder of logs in which an earlier result lies, of a check and of a handover, gives what the
// log gives; so do the log and the result given side by side.
func TestResultsBesideTheLog(t *testing.T) {
	s := spec(t)
	dir := t.TempDir()
	log := formats[0].write(t, dir, driven(noon))
	alone, _ := checked(t, s, log)
	s.Tracks = []string{log}
	for _, out := range []string{"result", "folder"} {
		s.Out = filepath.Join(dir, out)
		var err error
		if out == "result" {
			_, err = Run(context.Background(), s, nil)
		} else {
			_, err = Handover(context.Background(), HandoverSpec{Spec: s, Paperwork: Paperwork{Language: words.English}}, nil)
		}
		if err != nil {
			t.Fatal(err)
		}
		rep, said := checked(t, s, dir)
		if !sameGround(rep.Balance, alone.Balance) || rep.Fixes != alone.Fixes || rep.Lost() {
			t.Errorf("%s beside the log: %d fixes, %+v; alone %d and %+v; said %s", out, rep.Fixes, rep.Balance, alone.Fixes, alone.Balance, said)
		}
		rep, said = checked(t, s, log, s.Out)
		if !sameGround(rep.Balance, alone.Balance) || rep.Lost() {
			t.Errorf("%s given with the log: %+v; said %s", out, rep.Balance, said)
		}
	}
}

// TestTwoMachinesInOneFile: two sets at work at the same time, side by side or one 13 s behind, logged into one file by turns, are what two files of them are,
// in every format that has columns, once the column is named that tells them apart, and by itself where it is called section.
func TestTwoMachinesInOneFile(t *testing.T) {
	s := spec(t)
	d := driven(noon)
	half := 4 * 60 // four rows with their turns
	first, second := d[:half], slices.Clone(d[half:])
	for n, column := range []string{"machine", "section", "machine", "section"} {
		for i := range second {
			second[i].when = first[i].when.Add(13 * time.Second * time.Duration(n/2))
		}
		s.Columns = nil
		want, _ := checked(t, s, formats[0].write(t, t.TempDir(), first), formats[0].write(t, t.TempDir(), second))
		l := driving{}.layer()
		l.Columns = append(l.Columns, vector.Property{Name: column, Holds: vector.Words})
		csv := "time,working,lon,lat," + column + "\n"
		add := func(name string, f fix) {
			when := f.when.Format("2006-01-02T15:04:05.000Z")
			l.Features = append(l.Features, vector.Feature{Geometry: f.at, Row: []any{when, f.down, len(l.Features), name}})
			csv += fmt.Sprintf("%s,%v,%.8f,%.8f,%s\n", when, f.down, f.at[0], f.at[1], name)
		}
		for i := range first {
			add("A", first[i])
			if i < len(second) {
				add("B", second[i])
			}
		}
		dir := t.TempDir()
		gpkg := filepath.Join(dir, "log.gpkg")
		if err := vector.WriteGeoPackage(t.Context(), gpkg, []vector.Layer{l}, noon); err != nil {
			t.Fatal(err)
		}
		for _, path := range []string{
			toFile(t, filepath.Join(dir, "log.csv"), func(w io.Writer) error { _, err := io.WriteString(w, csv); return err }),
			toFile(t, filepath.Join(dir, "log.geojson"), func(w io.Writer) error { return vector.WriteGeoJSON(w, l) }),
			shapefile(t, filepath.Join(dir, "log"), l, noon),
			gpkg,
		} {
			s.Columns = nil
			if column == "machine" {
				s.Tracks = []string{path}
				if _, err := Run(t.Context(), s, nil); err == nil || !strings.Contains(err.Error(), "--column section=NAME") {
					t.Errorf("%s without the column's name: %v", filepath.Base(path), err)
				}
				s.Columns = map[string]string{"section": column}
			}
			rep, said := checked(t, s, path)
			if !sameGround(rep.Balance, want.Balance) || rep.Fixes != want.Fixes || rep.Lost() {
				t.Errorf("%s, %s, %d s behind: %d fixes, %+v; as two files %d, %+v; said %s", filepath.Base(path), column, n/2*13, rep.Fixes, rep.Balance, want.Fixes, want.Balance, said)
			}
		}
	}
}
