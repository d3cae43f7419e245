package vector

import (
	"bytes"
	"errors"
	"io"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"balk/coverage"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// The layers that other formats get are the same, to the last digit, as those
// that stream into GeoJSON.
func TestLayersOfHoldsWhatGeoJSONHas(t *testing.T) {
	const seed = 11
	t.Logf("seed %d", seed)
	for name, r := range map[string]coverage.Result{"a farm": farm(), "many strips": strips(60), "pieces that vanish": seededDoubles(seed, 300)} {
		layers, err := LayersOf(r)
		if err != nil {
			t.Fatal(err)
		}
		if len(layers) != len(Layers) {
			t.Fatalf("%s: %d layers, want %d", name, len(layers), len(Layers))
		}
		lost := 0
		for i, l := range layers {
			lost += l.LeftOut
			streamed := writtenBytes(t, func(w io.Writer) error { return Write(w, Layers[i], r) })
			held := writtenBytes(t, func(w io.Writer) error { return WriteGeoJSON(w, l) })
			if !bytes.Equal(streamed, held) {
				t.Errorf("%s, %s: streamed\n%.300s\nheld\n%.300s", name, Layers[i], streamed, held)
			}
		}
		if name == "pieces that vanish" && lost < 10 {
			t.Errorf("only %d pieces vanish: the test does not reach them", lost)
		}
	}
}

func TestPlacesAreTheStrips(t *testing.T) {
	r := strips(5)
	l, err := Places(r, nil)
	if err != nil {
		t.Fatal(err)
	}
	if l.Kind != Points || len(l.Features) != 5 || l.Features[4].Row[0] != 5 {
		t.Fatalf("%d %s, last %v", len(l.Features), l.Kind, l.Features[4].Row)
	}
	if p := l.Features[2].Geometry.(orb.Point); math.Abs(p[0]-r.Strips[2].At[0]) > 0.5e-8 || math.Abs(p[1]-r.Strips[2].At[1]) > 0.5e-8 {
		t.Errorf("place %v, want %v to 8 decimals", p, r.Strips[2].At)
	}
}

// A layer that breaks a promise of its types is an error in every format, and
// nothing is written.
func TestBrokenLayersAreRefusedByEveryFormat(t *testing.T) {
	square := func() orb.Ring { return orb.Ring{{11, 48}, {11.001, 48}, {11.001, 48.001}, {11, 48.001}, {11, 48}} }
	base := func(g orb.Geometry) Layer {
		return Layer{Name: "fields", Kind: Areas, Label: "name", Columns: []Property{{Name: "name", Holds: Words}, {Name: "area_m2", Holds: Number, Decimals: 2}},
			Features: []Feature{{orb.Polygon{square()}, []any{"a", 1.0}}, {g, []any{"b", nil}}}}
	}
	reversed := square()
	reversed.Reverse()
	nan, inf := math.NaN(), math.Inf(1)
	with := func(change func(*Layer)) Layer { l := base(orb.Polygon{square()}); change(&l); return l }
	for name, l := range map[string]Layer{
		"a position that is NaN":          base(orb.Polygon{{{11, 48}, {nan, 48}, {11.001, 48.001}, {11, 48}}}),
		"a position at infinity":          base(orb.Polygon{{{11, 48}, {11.001, inf}, {11, 48.001}, {11, 48}}}),
		"a latitude of 91":                base(orb.Polygon{{{11, 90}, {11.001, 90}, {11, 91}, {11, 90}}}),
		"a field across the antimeridian": base(orb.Polygon{{{179.999, 48}, {-179.999, 48}, {-179.999, 48.001}, {179.999, 48.001}, {179.999, 48}}}),
		"from the other side":             base(orb.Polygon{{{-179.999, 48}, {-179.999, 48.001}, {179.999, 48.001}, {179.999, 48}, {-179.999, 48}}}),
		"a line over it eastward": with(func(l *Layer) {
			l.Kind, l.Features = Lines, []Feature{{orb.LineString{{179.9, 1}, {-179.9, 1}}, []any{"a", 1.0}}}
		}),
		"a line over it westward": with(func(l *Layer) {
			l.Kind, l.Features = Lines, []Feature{{orb.LineString{{-179.9, 1}, {179.9, 1}}, []any{"a", 1.0}}}
		}),
		"a field beyond 180":                  base(orb.Polygon{{{179.999, 48}, {180.001, 48}, {180.001, 48.001}, {179.999, 48}}}),
		"an open ring":                        base(orb.Polygon{square()[:4]}),
		"a ring of three positions":           base(orb.Polygon{{{11, 48}, {12, 48}, {11, 48}}}),
		"an outer ring that runs clockwise":   base(orb.Polygon{reversed}),
		"a hole that runs counter-clockwise":  base(orb.Polygon{square(), square()}),
		"a polygon without rings":             base(orb.Polygon{}),
		"a multipolygon without polygons":     base(orb.MultiPolygon{}),
		"no geometry":                         base(nil),
		"a line among areas":                  base(orb.LineString{{11, 48}, {12, 48}}),
		"a point among areas":                 base(orb.Point{11, 48}),
		"a ring of its own":                   base(square()),
		"a line of one position":              with(func(l *Layer) { l.Kind, l.Features = Lines, []Feature{{orb.LineString{{1, 2}}, []any{"a", 1.0}}} }),
		"a point that is NaN":                 with(func(l *Layer) { l.Kind, l.Features = Points, []Feature{{orb.Point{nan, 2}, []any{"a", 1.0}}} }),
		"a value too few":                     with(func(l *Layer) { l.Features[1].Row = l.Features[1].Row[:1] }),
		"a number that is NaN":                with(func(l *Layer) { l.Features[1].Row[1] = nan }),
		"a number at infinity":                with(func(l *Layer) { l.Features[1].Row[1] = inf }),
		"a text in a column of numbers":       with(func(l *Layer) { l.Features[1].Row[1] = "1" }),
		"an int in a column of numbers":       with(func(l *Layer) { l.Features[1].Row[1] = 1 }),
		"a value of a type that is not known": with(func(l *Layer) { l.Features[1].Row[0] = []byte("a") }),
		"a fact of the wrong type":            with(func(l *Layer) { l.Facts = []Fact{{Property{Name: "n", Holds: Whole}, 1.5}} }),
		"two columns of one name":             with(func(l *Layer) { l.Columns[1].Name = "name" }),
		"a column name with a quote":          with(func(l *Layer) { l.Columns[1].Name = `a"b` }),
		"a column that holds nothing":         with(func(l *Layer) { l.Columns[1].Holds = 0 }),
		"a column with 16 decimals":           with(func(l *Layer) { l.Columns[1].Decimals = 16 }),
		"a layer without name":                with(func(l *Layer) { l.Name = "" }),
		"a layer name with a path":            with(func(l *Layer) { l.Name = "../x" }),
		"a label that is no column":           with(func(l *Layer) { l.Label = "title" }),
		"a colour by name":                    with(func(l *Layer) { l.Style.Fill = "red" }),
		"no kind":                             with(func(l *Layer) { l.Kind = 0 }),
	} {
		for _, w := range writers() {
			dir := t.TempDir()
			var b bytes.Buffer
			err := w.write(dir, l, &b)
			var broken *LayerError
			if !errors.As(err, &broken) {
				t.Errorf("%s, %s: error %v, want a *LayerError", name, w.name, err)
			}
			left, derr := os.ReadDir(dir)
			if b.Len() > 0 || len(left) > 0 || derr != nil {
				t.Errorf("%s, %s: %d bytes and %d files were written (%v)", name, w.name, b.Len(), len(left), derr)
			}
		}
	}
	for _, w := range writers() { // the base itself is good: nothing above fails for another reason
		if err := w.write(t.TempDir(), base(orb.Polygon{square()}), &bytes.Buffer{}); (err == nil) != slices.Contains(w.kinds, Areas) {
			t.Errorf("%s: %v", w.name, err)
		}
	}
}

// The same faults in a result are errors of Write and LayersOf.
func TestBrokenResultsAreRefused(t *testing.T) {
	nan := math.NaN()
	for name, r := range map[string]func(r *coverage.Result){
		"a boundary across the antimeridian": func(r *coverage.Result) {
			r.Field.Boundary = orb.MultiPolygon{{{{179.999, 48}, {-179.999, 48}, {-179.999, 48.001}, {179.999, 48}}}}
		},
		"a boundary with NaN": func(r *coverage.Result) { r.Field.Boundary[0][0][1][0] = nan },
		"a piece with NaN":    func(r *coverage.Result) { r.Layers.Double = []plane.Polygon{{{{X: nan}, {X: 1}, {Y: 1}}}} },
		"a pass with NaN":     func(r *coverage.Result) { r.Passes[0].Line[1].Y = nan },
	} {
		res := farm()
		r(&res)
		_, err := LayersOf(res)
		var broken *LayerError
		if !errors.As(err, &broken) || broken.Feature != 1 || broken.Layer == "" {
			t.Errorf("%s: LayersOf gives %v", name, err)
			continue
		}
		if err := Write(io.Discard, broken.Layer, res); err == nil || err.Error() != broken.Error() {
			t.Errorf("%s: Write gives %v, LayersOf %v", name, err, broken)
		}
	}
}

// What cannot be reckoned is no value, not a wrong one.
func TestNumbersThatAreNoneBecomeNil(t *testing.T) {
	r := farm()
	r.Strips[0].MeanWidth, r.Strips[0].Length = math.NaN(), math.Inf(1)
	layers, err := LayersOf(r)
	if err != nil {
		t.Fatal(err)
	}
	missed := layers[7]
	for i, c := range missed.Columns {
		got := missed.Features[0].Row[i]
		if wantNil := c.Name == "mean_width_m" || c.Name == "length_m"; (got == nil) != wantNil {
			t.Errorf("%s is %v", c.Name, got)
		}
	}
	for _, w := range writers() {
		if err := w.write(t.TempDir(), missed, io.Discard); (err == nil) != slices.Contains(w.kinds, Areas) {
			t.Errorf("%s: %v", w.name, err)
		}
	}
}

// What was left out is told in every format that has a place for it.
func TestLeftOutIsTold(t *testing.T) {
	l := guidance()
	l.LeftOut = 3
	for _, w := range writers() {
		var b bytes.Buffer
		dir := t.TempDir()
		if err := w.write(dir, l, &b); err != nil {
			t.Fatal(err)
		}
		text := b.String()
		switch w.name {
		case "GeoJSON":
			if !strings.Contains(text, `"rings_lost_by_rounding":3`) {
				t.Errorf("%s does not tell", w.name)
			}
		case "GeoPackage":
			text = strings.Join(asked(t, dir+"/out.gpkg", "SELECT description FROM gpkg_contents WHERE table_name = 'guidance'"), "")
			fallthrough
		case "KML", "GPX", "legend":
			if !strings.Contains(text, "rings lost by rounding: 3") {
				t.Errorf("%s does not tell: %s", w.name, text)
			}
		}
	}
}

// Empty layers are written as such.
func TestEmptyLayersAreWritten(t *testing.T) {
	for _, kind := range []Kind{Areas, Lines, Points} {
		l := Layer{Name: "nothing", Kind: kind, Columns: []Property{{Name: "name", Holds: Words}, {Name: "n", Holds: Number, Decimals: 1}}}
		for _, w := range writers() {
			var b bytes.Buffer
			err := w.write(t.TempDir(), l, &b)
			if holds := slices.Contains(w.kinds, kind); (err == nil) != holds {
				t.Errorf("%s of %s: error %v, held by the format: %t", w.name, kind, err, holds)
			}
		}
	}
	var b bytes.Buffer
	if err := WriteKML(&b, "farm", []Layer{{Name: "nothing", Title: "Nothing at all", Kind: Areas}}); err != nil || !strings.Contains(b.String(), "<Folder><name>Nothing at all</name>") {
		t.Errorf("an empty layer has no folder (%v)", err)
	}
}

// The same layers give the same bytes.
func TestSameLayersSameBytes(t *testing.T) {
	for _, l := range sampleLayers(t) {
		for _, w := range writers() {
			if !slices.Contains(w.kinds, l.Kind) {
				continue
			}
			var first []byte
			for range 2 {
				var b bytes.Buffer
				dir := t.TempDir()
				if err := w.write(dir, l, &b); err != nil {
					t.Fatalf("%s, layer %s: %v", w.name, l.Name, err)
				}
				got := b.Bytes()
				entries, err := os.ReadDir(dir)
				if err != nil {
					t.Fatal(err)
				}
				for _, e := range entries {
					text, err := os.ReadFile(dir + "/" + e.Name())
					if err != nil {
						t.Fatal(err)
					}
					got = append(got, text...)
				}
				if first == nil {
					first = got
				} else if !bytes.Equal(first, got) {
					t.Errorf("%s, layer %s: two runs differ", w.name, l.Name)
				}
				if len(got) == 0 {
					t.Errorf("%s, layer %s: nothing written", w.name, l.Name)
				}
			}
		}
	}
}

// A writer whose disk is full says so.
func TestFullDiskIsAnError(t *testing.T) {
	for _, l := range sampleLayers(t) {
		for _, w := range writers() {
			var all bytes.Buffer
			if err := w.write(t.TempDir(), l, &all); err != nil || all.Len() == 0 {
				continue // cannot hold it, or writes files of its own
			}
			for _, room := range []int{0, 1, all.Len() / 2, all.Len() - 1} {
				if err := w.write(t.TempDir(), l, &full{room}); !errors.Is(err, errFull) {
					t.Errorf("%s, layer %s, room for %d of %d bytes: %v", w.name, l.Name, room, all.Len(), err)
				}
			}
		}
	}
}

var errFull = errors.New("no space left")

type full struct{ room int }

func (f *full) Write(b []byte) (int, error) {
	if f.room -= len(b); f.room < 0 {
		return 0, errFull
	}
	return len(b), nil
}
