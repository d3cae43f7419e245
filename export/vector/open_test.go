package vector

import (
	"io"
	"math"
	"testing"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/read"
	"balk/testdata/check"

	"github.com/paulmach/orb/encoding/wkb"
	"github.com/peterstace/simplefeatures/geom"
)

// realWork is a real operation on a real field (shared folder open/; origin and
// licences in its SOURCES.md): many thousand pieces of ground, some of them
// thinner than any file can hold.
func realWork(t *testing.T, boundary, log string, field int, w drive.Work) coverage.Result {
	t.Helper()
	fields, _, err := read.Fields(check.Shared(t, "open", boundary), read.Options{})
	if err != nil {
		t.Fatal(err)
	}
	tracks, _, err := read.Tracks(check.Shared(t, "open", log), read.TrackOptions{})
	if err != nil {
		t.Fatal(err)
	}
	var mine []geo.Track
	for _, track := range tracks {
		if track.FieldRef == "" || track.FieldRef == fields[field-1].Name {
			mine = append(mine, track)
		}
	}
	r, err := coverage.Check(t.Context(), fields[field-1], mine, w)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// validPieces: every polygon is one for a general library, on the numbers that
// are written.
func validPieces(t *testing.T, l Layer) {
	t.Helper()
	for i, f := range l.Features {
		blob, err := wkb.Marshal(f.Geometry)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := geom.UnmarshalWKB(blob); err != nil { // validates
			t.Errorf("layer %s, piece %d: %v", l.Name, i+1, err)
		}
	}
}

// All layers of real work come back from every format: as many pieces, with
// their areas to 1e-6, and GDAL counts as many.
func TestRealWorkReadsBack(t *testing.T) {
	for _, c := range []struct {
		boundary, log string
		field         int
		work          drive.Work
	}{
		{"seeding_boundaries.geojson", "seeding_ca_2019_1hz.csv", 1, drive.Work{Width: 13.2}},
		{"isobus", "isobus", 4, drive.Work{Width: 9, Rounds: 1}},
	} {
		r := realWork(t, c.boundary, c.log, c.field, c.work)
		layers, err := LayersOf(r)
		if err != nil {
			t.Fatal(err)
		}
		pieces := 0
		for _, l := range layers {
			if l.Kind != Areas || len(l.Features) == 0 {
				continue
			}
			pieces += len(l.Features)
			t.Logf("%s, %s: %d pieces, %d left out", c.log, l.Name, len(l.Features), l.LeftOut)
			validPieces(t, l)
			for _, format := range []string{"GeoJSON", "shapefile", "KMZ", "GeoPackage"} {
				if l.Name == "double" {
					break // slivers: geo/read takes a corner within 1e-9° of an edge as lying on it, which is meant for boundaries
				}
				path := saved(t, format, anonymous(l))
				fields, findings, err := read.Fields(path, read.Options{})
				if err != nil {
					t.Errorf("%s, layer %s: %v", format, l.Name, err)
					continue
				}
				for _, f := range findings {
					if f.Lost {
						t.Errorf("%s, layer %s: %v", format, l.Name, f)
					}
				}
				if len(fields) != len(l.Features) {
					t.Errorf("%s, layer %s: %d pieces, want %d", format, l.Name, len(fields), len(l.Features))
					continue
				}
				for i, f := range fields {
					a, b := squareMetres(l.Features[i].Geometry), squareMetres(f.Boundary)
					if math.Abs(a-b) > 1e-6*a {
						t.Errorf("%s, layer %s, piece %d: %g m², want %g", format, l.Name, i+1, b, a)
					}
				}
			}
			t.Run("GDAL, "+l.Name, func(t *testing.T) {
				sameShapes(t, l.Name, seenBy(t, saved(t, "GeoPackage", l), l.Name), l)
			})
		}
		if pieces < 20 {
			t.Errorf("%s: only %d pieces", c.log, pieces)
		}
		findings, err := WriteISOXML(io.Discard, TaskData{Fields: []TaskField{{Name: r.Field.Name, Area: r.Balance.Field, Boundary: multi(layers[0].Features[0].Geometry), Zones: []Layer{layers[7]}}}})
		for _, f := range findings {
			t.Errorf("task data: %v", f)
		}
		if err != nil {
			t.Error(err)
		}
	}
}
