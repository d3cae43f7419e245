package vector

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
	"github.com/peterstace/simplefeatures/geom"

	"balk/testdata/check"
)

func ringOf(v ...int64) []place {
	var r []place
	for i := 0; i < len(v); i += 2 {
		r = append(r, place{v[i], v[i+1]})
	}
	return r
}

// Drawn cases with answers a person can check: how many polygons and holes come out, and their doubled area.
func TestUntangled(t *testing.T) {
	for name, c := range map[string]struct {
		rings           [][]place
		polygons, holes int
		area            float64
	}{
		"nothing meets":                      {[][]place{ringOf(0, 0, 10, 0, 10, 10, 0, 10), ringOf(2, 2, 2, 4, 4, 4, 4, 2)}, 1, 1, 192},
		"a corner on a side across":          {[][]place{ringOf(0, 0, 20, 0, 20, 10, 10, 0, 0, 10)}, 2, 0, 200},
		"two lobes that share a corner":      {[][]place{ringOf(0, 0, 10, 0, 10, 10, 20, 10, 20, 20, 10, 20, 10, 10, 0, 10)}, 2, 0, 400},
		"lobes joined by a neck of nothing":  {[][]place{ringOf(0, 0, 10, 0, 10, 5, 20, 5, 20, 0, 30, 0, 30, 10, 20, 10, 20, 5, 10, 5, 10, 10, 0, 10)}, 2, 0, 400},
		"a hole that touches with a corner":  {[][]place{ringOf(0, 0, 10, 0, 10, 10, 0, 10), ringOf(0, 5, 3, 7, 5, 5, 3, 3)}, 1, 1, 200 - 20},
		"a hole on a side of the outer ring": {[][]place{ringOf(0, 0, 10, 0, 10, 10, 0, 10), ringOf(0, 2, 0, 8, 5, 8, 5, 2)}, 1, 0, 200 - 60},
		"holes that touch each other":        {[][]place{ringOf(0, 0, 20, 0, 20, 20, 0, 20), ringOf(2, 2, 2, 8, 8, 8, 8, 2), ringOf(8, 8, 8, 12, 12, 12, 12, 8)}, 1, 2, 800 - 72 - 32},
		"a hole from side to side":           {[][]place{ringOf(0, 0, 20, 0, 20, 10, 0, 10), ringOf(10, 0, 8, 5, 10, 10, 12, 5)}, 2, 0, 400 - 40},
	} {
		var s rounding
		got, ok := s.untangled(c.rings)
		if !ok {
			t.Errorf("%s: not untangled", name)
			continue
		}
		holes, area := 0, 0.0
		for _, p := range got {
			holes, area = holes+len(p)-1, area+netArea(p)
			valid(t, name, p)
		}
		if len(got) != c.polygons || holes != c.holes || area != c.area {
			t.Errorf("%s: %d polygons, %d holes, doubled area %g; want %d, %d, %g: %v", name, len(got), holes, area, c.polygons, c.holes, c.area, got)
		}
	}
}

// valid asks another library (simplefeatures) whether it is a polygon, and looks at the directions.
func valid(t *testing.T, name string, p [][]place) {
	t.Helper()
	var poly orb.Polygon
	for i, r := range p {
		if a := twiceArea(r); (a > 0) != (i == 0) {
			t.Errorf("%s: ring %d has the doubled area %g", name, i+1, a)
		}
		var ring orb.Ring
		for _, q := range append(r, r[0]) {
			ring = append(ring, orb.Point{float64(q.lon), float64(q.lat)})
		}
		poly = append(poly, ring)
	}
	raw, err := wkb.Marshal(poly)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := geom.UnmarshalWKB(raw); err != nil {
		t.Errorf("%s: %v", name, err)
	}
}

// Shapes that are simple before rounding, rounded so coarsely that they touch and cross: what comes out is valid, and its area
// is that of the shape but for what lies within a unit of its rim.
func TestUntangledShapesAreValid(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 9))
	tangled := 0
	for k := range 6000 {
		n := 6 + rng.IntN(30)
		size := 3 + 60*rng.Float64() // units
		var exact []orb.Point
		for i := range n { // star-shaped, deeply notched
			sin, cos := math.Sincos((float64(i) + 0.8*rng.Float64()) * 2 * math.Pi / float64(n))
			d := size * (0.02 + rng.Float64())
			exact = append(exact, orb.Point{d * cos, (0.1 + 0.9*float64(k%2)) * d * sin})
		}
		var r []place
		want, rim := 0.0, 0.0
		for i, p := range exact {
			q := exact[(i+1)%n]
			want += p[0]*q[1] - p[1]*q[0]
			rim += math.Hypot(p[0]-q[0], p[1]-q[1])
			r = append(r, place{int64(math.Round(p[0])), int64(math.Round(p[1]))})
		}
		var s rounding
		if r = tidy(r); len(r) < 3 || twiceArea(r) <= 0 || s.simple([][]place{r}) {
			continue
		}
		tangled++
		got, ok := s.untangled([][]place{r})
		if !ok {
			if want > 2*rim {
				t.Errorf("case %d: not untangled: %v", k, r)
			}
			continue
		}
		area := 0.0
		for _, p := range got {
			valid(t, "shape", p)
			area += netArea(p)
		}
		if math.Abs(area-want) > 2*1.5*rim {
			t.Errorf("case %d: doubled area %g, was %g, rim %g", k, area, want, rim)
		}
	}
	if t.Logf("%d of 6000 are tangled", tangled); tangled < 300 {
		t.Errorf("%d of 6000 are tangled: the test does not reach what it is for", tangled)
	}
}

// A side driven both ways falls out, once for each time that it is driven back.
func TestCycles(t *testing.T) {
	left, right := ringOf(0, 0, 10, 0, 10, 10, 0, 10), ringOf(10, 0, 20, 0, 20, 10, 10, 10)
	for name, c := range map[string]struct {
		rings [][]place
		want  []float64 // doubled areas
	}{
		"one ring":                         {[][]place{left}, []float64{200}},
		"two with a side between them":     {[][]place{left, right}, []float64{400}},
		"the same ring twice":              {[][]place{left, left}, []float64{200, 200}},
		"a side driven there twice":        {[][]place{left, left, right}, []float64{400, 200}},
		"a ring and its opposite":          {[][]place{left, ringOf(0, 0, 0, 10, 10, 10, 10, 0)}, nil},
		"two rings that meet in one place": {[][]place{left, ringOf(10, 10, 20, 10, 20, 20, 10, 20)}, []float64{200, 200}},
	} {
		var got []float64
		for _, r := range cycles(c.rings) {
			got = append(got, twiceArea(r))
		}
		slices.Sort(got)
		slices.Sort(c.want)
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: doubled areas %g, want %g", name, got, c.want)
		}
	}
}
