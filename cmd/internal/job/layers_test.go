package job

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"balk/cmd/internal/demo"
	"balk/coverage/drive"

	"github.com/peterstace/simplefeatures/geom"
)

// Every polygon that is written must be one for a general library
// (simplefeatures checks rings, holes and crossings on the written digits), and
// none of a layer may lap another.
func TestLayersAreValid(t *testing.T) {
	farm := filepath.Join(t.TempDir(), "farm")
	if _, err := demo.Write(t.Context(), farm, 1, func(string) {}); err != nil {
		t.Fatal(err)
	}
	fields := filepath.Join(farm, "fields.geojson")
	jobs := []Spec{
		{Boundary: fields, Field: "1", Tracks: []string{filepath.Join(farm, "track-pond.geojson")}, Work: drive.Work{Width: 5, Overlap: 0.1, Rounds: 2}},
		{Boundary: fields, Field: "2", Tracks: []string{filepath.Join(farm, "track-elbow.geojson")}, Work: drive.Work{Width: 5, Overlap: 0.1, Rounds: 2}},
		{Boundary: fields, Field: "3", Tracks: []string{filepath.Join(farm, "track-ribbon.geojson")}, Work: drive.Work{Width: 5, Overlap: 0.1, Rounds: 2}},
	}
	if shared := os.Getenv("BALK_SHARED"); shared != "" {
		open := filepath.Join(shared, "open")
		jobs = append(jobs,
			Spec{Boundary: filepath.Join(open, "isobus"), Field: "4", Tracks: []string{filepath.Join(open, "isobus")}, Work: drive.Work{Width: 9, Rounds: 1}},
			Spec{Boundary: filepath.Join(open, "seeding_boundaries.geojson"), Field: "1", Tracks: []string{filepath.Join(open, "seeding_ca_2019_1hz.csv")}, Work: drive.Work{Width: 13.2}},
		)
	}
	for _, s := range jobs {
		s.Out = filepath.Join(t.TempDir(), "out")
		rep, err := Run(context.Background(), s, nil)
		if err != nil {
			t.Fatal(err)
		}
		looked := 0
		for _, file := range rep.Files {
			if !strings.HasSuffix(file, ".geojson") {
				continue
			}
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			var features geom.GeoJSONFeatureCollection
			if err := features.UnmarshalJSON(text); err != nil { // validates every geometry
				t.Errorf("%s: %v", file, err)
			}
			var parts []geom.Polygon
			for _, f := range features.Features {
				if f.Geometry.IsPolygon() {
					parts = append(parts, f.Geometry.MustAsPolygon())
				}
			}
			looked += len(parts)
			if strings.HasSuffix(file, "missed.geojson") { // strips cut at a neck have the cut in common, and nothing else but what rounding makes of it
				var all []geom.Geometry
				sum := 0.0
				for _, p := range parts {
					all, sum = append(all, p.AsGeometry()), sum+p.Area()
				}
				whole, err := geom.UnaryUnion(geom.NewGeometryCollection(all).AsGeometry())
				if err != nil || math.Abs(whole.Area()-sum) > 1e-7*sum {
					t.Errorf("%s: the strips together have %g square degrees, one by one %g: %v", file, whole.Area(), sum, err)
				}
			} else if !strings.HasSuffix(file, "passes.geojson") && len(parts) < 3000 {
				if err := geom.NewMultiPolygon(parts).Validate(); err != nil {
					t.Errorf("%s: the pieces together: %v", file, err)
				}
			}
		}
		if looked < 10 {
			t.Errorf("field %s: only %d polygons to look at", s.Field, looked)
		}
	}
}
