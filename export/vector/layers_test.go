package vector

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"

	"github.com/paulmach/orb"
)

// collection is a GeoJSON file as any reader sees it.
type collection struct {
	Type     string `json:"type"`
	Features []struct {
		Type     string `json:"type"`
		Geometry struct {
			Type        string          `json:"type"`
			Coordinates json.RawMessage `json:"coordinates"`
		} `json:"geometry"`
		Properties map[string]any `json:"properties"`
	} `json:"features"`
	Slivers  *int            `json:"slivers_not_listed"`
	LostRing int             `json:"rings_lost_by_rounding"`
	CRS      json.RawMessage `json:"crs"`
}

func written(t *testing.T, layer string, r coverage.Result) collection {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, layer, r); err != nil {
		t.Fatal(err)
	}
	var c collection
	if err := json.Unmarshal(b.Bytes(), &c); err != nil {
		t.Fatalf("%s does not parse: %v\n%s", layer, err, b.Bytes())
	}
	if c.Type != "FeatureCollection" || c.CRS != nil {
		t.Errorf("type %q, crs %s", c.Type, c.CRS)
	}
	return c
}

// farm is a 100 m square with a 10 m hole, one strip and one pass.
func farm() coverage.Result {
	square := func(x, y, a float64) plane.Ring {
		return plane.Ring{{X: x, Y: y}, {X: x + a, Y: y}, {X: x + a, Y: y + a}, {X: x, Y: y + a}}
	}
	hole := plane.Ring{{X: 10, Y: 10}, {X: 10, Y: 20}, {X: 20, Y: 20}, {X: 20, Y: 10}}
	l := geo.LocalAt(orb.Point{11.57, 48.14})
	field := plane.Polygon{square(-50, -50, 100), hole}
	strip := plane.Polygon{{{X: -40, Y: 0}, {X: 40, Y: 0}, {X: 40, Y: 0.25}, {X: -40, Y: 0.25}}}
	var boundary orb.Polygon
	for _, ring := range field {
		var r orb.Ring
		for _, p := range ring {
			r = append(r, l.Point(p))
		}
		boundary = append(boundary, append(r, r[0]))
	}
	return coverage.Result{
		Field: geo.Field{Name: `the "long" field`, Number: 3, Boundary: orb.MultiPolygon{boundary}}, Local: l,
		Balance: ground.Balance{Field: 9900, Missed: 20}, Slivers: 4, SliverArea: 0.5,
		Strips: []coverage.Strip{{Number: 1, Area: 20, Length: 80, MeanWidth: 0.25, MaxWidth: 0.25, Bearing: 90, At: l.Point(plane.XY{X: 0, Y: 0.125}),
			Passes: []int{4, 5}, Cause: coverage.CauseDrift, Shape: strip}},
		Passes: []drive.Pass{{Number: 1, From: time.Date(2026, 4, 14, 6, 0, 0, 0, time.UTC), Length: 80, Area: 392, Line: []plane.XY{{X: -40, Y: 3}, {X: 40, Y: 3}}}},
		Layers: ground.Layers{Field: []plane.Polygon{field}, Missed: []plane.Polygon{strip}, Double: []plane.Polygon{{square(0, 0, 4)}},
			Outside: []plane.Polygon{{square(60, 0, 5)}}, Headland: []plane.Polygon{field}},
	}
}

func TestEveryLayerIsGeoJSONWithTheRightHandRule(t *testing.T) {
	r := farm()
	want := map[string]int{"field": 1, "headland": 1, "states": 0, "passes": 1, "double": 1, "unknown": 0, "outside": 1, "missed": 1}
	for _, layer := range Layers {
		c := written(t, layer, r)
		if len(c.Features) != want[layer] {
			t.Errorf("%s: %d features, want %d", layer, len(c.Features), want[layer])
		}
		for _, f := range c.Features {
			if f.Geometry.Type == "Polygon" {
				checkPolygon(t, layer, f.Geometry.Coordinates)
			}
		}
	}
	if err := Write(io.Discard, "weeds", r); err == nil || !strings.Contains(err.Error(), `"weeds"`) {
		t.Errorf("unknown layer: %v", err)
	}
}

// checkPolygon holds a polygon to RFC 7946, 3.1.6.
func checkPolygon(t *testing.T, what string, raw json.RawMessage) {
	t.Helper()
	var rings [][][2]float64
	if err := json.Unmarshal(raw, &rings); err != nil {
		t.Fatalf("%s: %v", what, err)
	}
	for i, r := range rings {
		if len(r) < 4 || r[0] != r[len(r)-1] {
			t.Errorf("%s: ring %d is open or has only %d positions", what, i, len(r))
		}
		var twice float64
		for k := 0; k+1 < len(r); k++ {
			if r[k] == r[k+1] {
				t.Errorf("%s: ring %d repeats position %d", what, i, k)
			}
			twice += (r[k][0]-r[0][0])*(r[k+1][1]-r[0][1]) - (r[k+1][0]-r[0][0])*(r[k][1]-r[0][1])
		}
		if (i == 0) != (twice > 0) {
			t.Errorf("%s: ring %d runs the wrong way", what, i)
		}
	}
}

func TestPropertiesOfTheLayers(t *testing.T) {
	r := farm()
	missed := written(t, "missed", r)
	p := missed.Features[0].Properties
	for k, want := range map[string]any{"strip": 1.0, "area_m2": 20.0, "length_m": 80.0, "mean_width_m": 0.25, "max_width_m": 0.25, "bearing_deg": 90.0,
		"cause": "drift between passes", "headland": false} {
		if p[k] != want {
			t.Errorf("missed: %s is %v, want %v", k, p[k], want)
		}
	}
	if missed.Slivers == nil || *missed.Slivers != 4 {
		t.Errorf("the slivers that are not listed are not told: %v", missed.Slivers)
	}
	if got := written(t, "field", r).Features[0].Properties["name"]; got != r.Field.Name {
		t.Errorf("field: name %v", got)
	}
	pass := written(t, "passes", r).Features[0].Properties
	if pass["from"] != "2026-04-14T06:00:00Z" || pass["to"] != nil || pass["track"] != 1.0 {
		t.Errorf("passes: %v", pass)
	}
}

// Rounding must not break a file: rings thinner than the finest digit vanish and
// are counted, spikes go, all that is written keeps the rules. Seeded shapes.
func TestRoundingBreaksNoRing(t *testing.T) {
	const seed = 7
	rng := rand.New(rand.NewPCG(seed, 1))
	t.Logf("seed %d", seed)
	r := farm()
	r.Layers.Double = nil
	for range 400 {
		size := math.Pow(10, -8+9*rng.Float64()) // 10 nm to 10 m
		n := 3 + rng.IntN(8)
		var ring plane.Ring
		for k := range n { // star-shaped about its centre, so the true ring is simple
			s, c := math.Sincos((float64(k) + 0.8*rng.Float64()) * 2 * math.Pi / float64(n))
			d := size * (0.1 + rng.Float64())
			ring = append(ring, plane.XY{X: 30 + d*c, Y: 20 + 0.05*d*s})
		}
		if ring.Area() > 0 {
			r.Layers.Double = append(r.Layers.Double, plane.Polygon{ring})
		}
	}
	c := written(t, "double", r)
	for _, f := range c.Features {
		checkPolygon(t, "double", f.Geometry.Coordinates)
	}
	if len(c.Features)+c.LostRing != len(r.Layers.Double) {
		t.Errorf("%d polygons in, %d written, %d told as lost", len(r.Layers.Double), len(c.Features), c.LostRing)
	}
	if c.LostRing == 0 || len(c.Features) < 100 {
		t.Errorf("%d written, %d lost: the test does not reach both", len(c.Features), c.LostRing)
	}
}

func TestDegreesAsText(t *testing.T) {
	for v, want := range map[int64]string{0: "0.00000000", 1: "0.00000001", -1: "-0.00000001", 1157000000: "11.57000000", -18000000000: "-180.00000000"} {
		if got := string(appendDegrees(nil, v, 8)); got != want {
			t.Errorf("%d: %s, want %s", v, got, want)
		}
	}
	r := rand.New(rand.NewPCG(check.Seed(t), 9))
	for range 10_000 {
		v, dec := r.Int64N(360e14)-180e14, 1+r.IntN(14)
		v >>= r.IntN(60)
		digits := fmt.Sprintf("%0*d", dec+1, max(v, -v))
		want := digits[:len(digits)-dec] + "." + digits[len(digits)-dec:]
		if v < 0 {
			want = "-" + want
		}
		if got := string(appendDegrees(nil, v, dec)); got != want {
			t.Fatalf("%d with %d decimals: %s, want %s", v, dec, got, want)
		}
	}
}

// A strip thinner than the rounding step is written finer instead of crossing
// itself; one that is wide enough keeps its eight decimals.
func TestThinStripIsWrittenFiner(t *testing.T) {
	r := farm()
	var thin plane.Ring // 100 m long, 0.3 mm wide, not along an axis
	for k := range 41 {
		thin = append(thin, plane.XY{X: 2.5 * float64(k), Y: 0.7 * float64(k)})
	}
	for k := 39; k > 0; k-- {
		thin = append(thin, plane.XY{X: 2.5 * float64(k), Y: 0.7*float64(k) + 0.0003})
	}
	r.Layers.Double = []plane.Polygon{{thin}, {{{X: 0, Y: 10}, {X: 40, Y: 10}, {X: 40, Y: 50}}}}
	var b bytes.Buffer
	if err := Write(&b, "double", r); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(b.String(), "\n")
	for i, want := range []int{10, 8} {
		num := strings.SplitN(lines[i+1], "[[[", 2)[1]
		num = num[:strings.IndexByte(num, ',')]
		if got := len(num) - 1 - strings.IndexByte(num, '.'); got < want || want == 8 && got != 8 {
			t.Errorf("polygon %d has %d decimals, want %d", i, got, want)
		}
	}
	for _, f := range written(t, "double", r).Features {
		checkPolygon(t, "double", f.Geometry.Coordinates)
	}
}

// A strip keeps its area, whatever its width: measured on the digits written, by the shoelace formula on the plane, it is
// what its property says. With eight decimals alone strips of 2 mm lose up to half.
func TestThinStripsKeepTheirArea(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 5))
	r := farm()
	r.Layers.Double, r.Strips = nil, nil
	for k := range 200 {
		wide := math.Pow(10, -3+4*rng.Float64()) // 1 mm to 10 m
		long, n := 20+200*rng.Float64(), 1+rng.IntN(20)
		sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
		place := func(x, y float64) plane.XY { return plane.XY{X: x*cos - y*sin, Y: x*sin + y*cos} }
		var ring plane.Ring
		for i := range n + 1 {
			ring = append(ring, place(long*float64(i)/float64(n), 0))
		}
		for i := n; i >= 0; i-- {
			ring = append(ring, place(long*float64(i)/float64(n), wide*(0.7+0.3*rng.Float64())))
		}
		shape := plane.Polygon{ring}
		r.Layers.Double = append(r.Layers.Double, shape)
		r.Strips = append(r.Strips, coverage.Strip{Number: k + 1, Area: shape.Area(), Shape: shape})
	}
	layers, err := LayersOf(r)
	if err != nil {
		t.Fatal(err)
	}
	finer := 0
	for _, l := range layers {
		if l.Name != "missed" && l.Name != "double" {
			continue
		}
		if len(l.Features) != len(r.Strips) || l.LeftOut > 0 {
			t.Fatalf("%s: %d written, %d left out", l.Name, len(l.Features), l.LeftOut)
		}
		for i, f := range l.Features {
			var ring plane.Ring
			for _, p := range f.Geometry.(orb.Polygon)[0] {
				ring = append(ring, r.Local.XY(p))
			}
			want := r.Strips[i].Area
			if got := ring.Area(); math.Abs(got-want) > 1.05e-4*want { // float64 holds degrees to 0.8 nm there, up to some millionths of strips of a millimetre
				t.Errorf("%s %d of %.5f m²: %.5f m² as written", l.Name, i+1, want, got)
			}
			if isMoved(f.Geometry.(orb.Polygon), decimals) {
				finer++
			}
		}
	}
	if finer == 0 || finer == 2*len(r.Strips) {
		t.Errorf("%d of %d are written finer", finer, 2*len(r.Strips))
	}
}

func TestSimple(t *testing.T) {
	s := &rounding{}
	at := func(v ...int64) (r []place) {
		for i := 0; i < len(v); i += 2 {
			r = append(r, place{v[i], v[i+1]})
		}
		return r
	}
	square := at(0, 0, 10, 0, 10, 10, 0, 10)
	for _, c := range []struct {
		name  string
		rings [][]place
		want  bool
	}{
		{"a square", [][]place{square}, true},
		{"a triangle", [][]place{at(0, 0, 10, 0, 0, 10)}, true},
		{"a square with a hole", [][]place{square, at(2, 2, 2, 4, 4, 4, 4, 2)}, true},
		{"a hole that touches the outer ring", [][]place{square, at(0, 2, 2, 4, 4, 2)}, false},
		{"a hole that crosses it", [][]place{square, at(2, 2, 2, 4, 14, 4, 14, 2)}, false},
		{"a bow-tie", [][]place{at(0, 0, 10, 10, 10, 0, 0, 10)}, false},
		{"a ring that touches itself at a corner", [][]place{at(0, 0, 5, 5, 0, 10, 10, 10, 5, 5, 10, 0)}, false},
		{"a ring that touches its own side", [][]place{at(0, 0, 10, 0, 10, 10, 5, 0, 0, 10)}, false},
		{"a spike", [][]place{at(0, 0, 10, 0, 20, 0, 10, 0, 10, 10)}, false},
		{"a straight corner is no spike", [][]place{at(0, 0, 5, 0, 10, 0, 10, 10)}, true},
		{"far away numbers", [][]place{at(1e14, 1e14, 2e14, 1e14, 2e14, 2e14)}, true},
	} {
		for turn := range 4 { // by 90 degrees: the sweep goes both ways
			if got := s.simple(c.rings); got != c.want {
				t.Errorf("%s, turned %d times: %v", c.name, turn, got)
			}
			for _, r := range c.rings {
				for i, p := range r {
					r[i] = place{-p.lat, p.lon}
				}
			}
		}
	}
}

// A hole that runs the wrong way round, as rounding may turn a small one over, is no hole: it vanishes and is
// counted. So is an outer ring turned over, with all that is in it.
func TestRingsTurnedOverVanish(t *testing.T) {
	ring := func(x, y, side float64, turned bool) orb.Ring {
		r := orb.Ring{{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}, {x, y}}
		if turned {
			r.Reverse()
		}
		return r
	}
	for name, c := range map[string]struct {
		p           orb.Polygon
		rings, left int
	}{
		"a hole as it should be": {orb.Polygon{ring(11, 48, 0.01, false), ring(11.001, 48.001, 0.001, true)}, 2, 0},
		"a hole turned over":     {orb.Polygon{ring(11, 48, 0.01, false), ring(11.001, 48.001, 0.001, false)}, 1, 1},
		"one of two turned over": {orb.Polygon{ring(11, 48, 0.01, false), ring(11.001, 48.001, 0.001, false), ring(11.005, 48.005, 0.001, true)}, 2, 1},
		"an outer ring turned":   {orb.Polygon{ring(11, 48, 0.01, true), ring(11.001, 48.001, 0.001, true)}, 0, 1},
	} {
		var s rounding
		kept, _ := s.polygon(len(c.p), func(k, dec int) { s.addAll(c.p[k], dec) })
		if len(kept) != c.rings || s.leftOut != c.left {
			t.Errorf("%s: %d rings kept, %d left out; want %d, %d", name, len(kept), s.leftOut, c.rings, c.left)
		}
	}
}

// However small: half a square unit is a hole or none by the way it runs, and a polygon or none.
func TestSmallestRingsByTheirWay(t *testing.T) {
	const u = 1e-8
	small := func(turned bool) orb.Ring {
		r := orb.Ring{{11 + u, 48 + u}, {11 + 2*u, 48 + u}, {11 + u, 48 + 2*u}, {11 + u, 48 + u}}
		if turned {
			r.Reverse()
		}
		return r
	}
	around := orb.Ring{{11, 48}, {11 + 200*u, 48}, {11 + 200*u, 48 + 200*u}, {11, 48 + 200*u}, {11, 48}}
	for name, c := range map[string]struct {
		p           orb.Polygon
		rings, left int
	}{
		"a hole":             {orb.Polygon{around, small(true)}, 2, 0},
		"a hole turned over": {orb.Polygon{around, small(false)}, 1, 1},
		"a polygon":          {orb.Polygon{small(false)}, 1, 0},
		"one turned over":    {orb.Polygon{small(true)}, 0, 1},
	} {
		s := rounding{steps: []int{8}}
		kept, _ := s.polygon(len(c.p), func(k, dec int) { s.addAll(c.p[k], dec) })
		if len(kept) != c.rings || s.leftOut != c.left {
			t.Errorf("%s: %d rings kept, %d left out; want %d, %d", name, len(kept), s.leftOut, c.rings, c.left)
		}
	}
}

// Both sides of the antimeridian, whichever comes first, are said while a layer streams.
func TestStreamAcrossTheAntimeridian(t *testing.T) {
	for name, line := range map[string][]orb.Point{"eastward": {{179.9, 1}, {-179.9, 1}}, "westward": {{-179.9, 1}, {179.9, 1}}} {
		s := rounding{}
		s.line(func() { s.addAll(line, decimals) })
		if s.fault == nil || s.fault.What != acrossAntimeridian {
			t.Errorf("%s: %v", name, s.fault)
		}
	}
}

func TestTidyTakesSpikesOff(t *testing.T) {
	a, b, c, d := place{0, 0}, place{10, 0}, place{10, 10}, place{20, 0}
	for name, ring := range map[string][]place{
		"as it should be": {a, b, c}, "a repeated position": {a, b, b, c, c}, "closed": {a, b, c, a},
		"a spike": {a, b, d, b, c}, "a spike at the seam": {b, c, a, b, d}, "a spike on a spike": {a, b, d, c, d, b, c},
	} {
		if got := tidy(ring); len(got) != 3 || twiceArea(got) != 100 {
			t.Errorf("%s: %v, want the triangle", name, got)
		}
	}
}

func TestPlainTextNeedsNoMarshalling(t *testing.T) {
	for c := range 256 {
		s := "a" + string([]byte{byte(c)}) + "z"
		want, err := json.Marshal(s)
		if got := appendString(nil, s); err != nil || string(got) != string(want) {
			t.Errorf("%q: %s, want %s (%v)", s, got, want, err)
		}
	}
}

func BenchmarkPolygonLayer(b *testing.B) {
	r := farm()
	var ring plane.Ring
	for k := range 100_000 {
		s, c := math.Sincos(2 * math.Pi * float64(k) / 100_000)
		ring = append(ring, plane.XY{X: 1000 * c, Y: 1000 * s})
	}
	r.Layers.Double = []plane.Polygon{{ring}}
	var out bytes.Buffer
	for b.Loop() {
		out.Reset()
		if err := Write(&out, "double", r); err != nil {
			b.Fatal(err)
		}
	}
	if n := bytes.Count(out.Bytes(), []byte("],[")); n < 99_999 {
		b.Fatalf("%d positions written", n)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/100_000, "ns/vertex")
}
