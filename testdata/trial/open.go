package trial

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"balk/geo"
	"balk/geo/plane"
	"balk/geo/read"
	"balk/testdata/check"

	geom "github.com/twpayne/go-geom"
)

// OpenData is the folder of real fields and logs; origin and licences are in its
// SOURCES.md.
func OpenData(t testing.TB) string {
	t.Helper()
	return check.Shared(t, "open")
}

func OpenFields(t testing.TB, path string) []geo.Field {
	t.Helper()
	fields, findings, err := read.Fields(path, read.Options{Mend: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range findings {
		t.Log(f)
	}
	return fields
}

// Registered are the fields of open registers.
func Registered(t testing.TB) []geo.Field {
	t.Helper()
	return OpenFields(t, filepath.Join(OpenData(t), "fields_permissive.geojson"))
}

// OnPlanes are the fields of open registers, each in metres around its middle.
func OnPlanes(t testing.TB) (fields [][]plane.Polygon) {
	t.Helper()
	for _, f := range Registered(t) {
		fields = append(fields, f.OnPlane(f.Local()))
	}
	return fields
}

// Seeding is a log of seeding at 1 Hz with headings and section widths, and a field around it.
func Seeding(t testing.TB) (geo.Field, geo.Track) {
	t.Helper()
	dir := OpenData(t)
	return FieldNamed(t, OpenFields(t, filepath.Join(dir, "seeding_boundaries.geojson")), "millview_bbox"), Logged(t, filepath.Join(dir, "seeding_ca_2019_1hz.csv"))
}

// Table reads a CSV file: one value per column and row, by the names of its head.
func Table(t testing.TB, path string) (rows []map[string]string) {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	all, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, record := range all[1:] {
		row := make(map[string]string, len(record))
		for i, v := range record {
			row[all[0][i]] = v
		}
		rows = append(rows, row)
	}
	return rows
}

func Number(t testing.TB, row map[string]string, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(row[column], 64)
	if err != nil {
		t.Fatalf("column %s of %v: %v", column, row, err)
	}
	return v
}

// Logged makes a track of a log as CSV. Columns it does not have stay nil.
func Logged(t testing.TB, path string) geo.Track {
	t.Helper()
	rows := Table(t, path)
	track := geo.Track{Source: filepath.Base(path), Line: geom.NewMultiLineString(geom.XYM)}
	var flat []float64
	for _, row := range rows {
		at, err := time.Parse(time.RFC3339Nano, row["time"])
		if err != nil {
			t.Fatal(err)
		}
		flat = append(flat, Number(t, row, "lon"), Number(t, row, "lat"), float64(at.UnixNano())/1e9)
		if _, ok := row["heading_deg"]; ok {
			track.Heading = append(track.Heading, geo.Bearing(Number(t, row, "heading_deg")))
		}
		if _, ok := row["swath_ft"]; ok {
			track.Width = append(track.Width, 0.3048*Number(t, row, "swath_ft"))
		}
		if _, ok := row["width_mm"]; ok {
			track.Width = append(track.Width, Number(t, row, "width_mm")/1000)
		}
		if s, ok := row["work_state"]; ok {
			state := geo.Lifted
			if s == "1" {
				state = geo.Working
			}
			track.State = append(track.State, state)
		}
	}
	if err := track.Line.Push(geom.NewLineStringFlat(geom.XYM, flat)); err != nil {
		t.Fatal(err)
	}
	return track
}

func FieldNamed(t testing.TB, fields []geo.Field, name string) geo.Field {
	t.Helper()
	for _, f := range fields {
		if f.Name == name {
			return f
		}
	}
	t.Fatalf("no field %q", name)
	return geo.Field{}
}
