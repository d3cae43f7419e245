package read

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"balk/geo"

	"github.com/paulmach/orb"
)

func TestMending(t *testing.T) {
	bow := `{"type":"Polygon","coordinates":[[[11,48],[11.004,48.004],[11.004,48],[11,48.004],[11,48]]]}`
	_, _, err := GeoJSONFields(strings.NewReader(bow), "bow.geojson", Options{})
	re, ok := errors.AsType[*geo.RingError](err)
	if !ok || re.Rule != geo.RingSimple || re.Record != 1 || re.Ring != 1 || re.At[0] < 11.0019 || re.At[0] > 11.0021 {
		t.Fatalf("%v", err)
	}
	fields, findings, err := GeoJSONFields(strings.NewReader(bow), "bow.geojson", Options{Mend: true})
	if err != nil || len(fields) != 1 || len(findings) != 1 || findings[0].Lost {
		t.Fatalf("%v, %v, %v", fields, findings, err)
	}
	square := `{"type":"Polygon","coordinates":[[[11,48],[11.004,48],[11.004,48.004],[11,48.004],[11,48]]]}`
	whole, _, err := GeoJSONFields(strings.NewReader(square), "square.geojson", Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := hectares(fields[0].Boundary), hectares(whole[0].Boundary)/2; got < 0.999*want || got > 1.001*want {
		t.Errorf("a mended bow-tie has %.4f ha, want half the square, %.4f", got, want)
	}
	if len(fields[0].Boundary) != 2 {
		t.Errorf("a mended bow-tie has %d parts, want 2", len(fields[0].Boundary))
	}
	poor := `{"type":"Polygon","coordinates":[` + squareRing + `,[[11.001,48.001],[11.002,48.001],[11.001,48.001]]]}`
	if _, _, err := GeoJSONFields(strings.NewReader(poor), "poor.geojson", Options{}); !isA[*geo.RingError](err) {
		t.Errorf("an obstacle of two points: %v", err)
	}
	fields, findings, err = GeoJSONFields(strings.NewReader(poor), "poor.geojson", Options{Mend: true})
	if err != nil || len(fields) != 1 || len(findings) != 2 || len(fields[0].Boundary[0]) != 1 {
		t.Errorf("an obstacle of two points mended: %v, %v, %v", fields, findings, err)
	}
}

// What mending keeps, by closed forms: a square of 200 m is 4 ha. The wobble of a second round
// is invented.
func TestMendingRounds(t *testing.T) {
	const side = 200.0                       // m
	const degree = 6371008.8 * math.Pi / 180 // m, of the mean sphere (IUGG)
	square := func(off float64, back bool, loops int) (ring orb.Ring) {
		for n := range loops {
			for k := range 40 {
				// every round lies as much inside as outside of the one before
				wobble := off * float64(n) * math.Pow(-1, float64(k))
				at := []orb.Point{{float64(k) * 20, -wobble}, {side + wobble, float64(k-10) * 20}, {side - float64(k-20)*20, side + wobble}, {-wobble, side - float64(k-30)*20}}[k/10]
				ring = append(ring, at)
			}
		}
		if back {
			slices.Reverse(ring)
		}
		return append(ring, ring[0])
	}
	degrees := func(r orb.Ring) string {
		var b strings.Builder
		for i, p := range r {
			if i > 0 {
				b.WriteByte(',')
			}
			fmt.Fprintf(&b, "[%.12f,%.12f]", 11+p[0]/degree/math.Cos(48*math.Pi/180), 48+p[1]/degree)
		}
		return "[" + b.String() + "]"
	}
	rect := func(x0, y0, x1, y1 float64) orb.Ring {
		return orb.Ring{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}, {x0, y0}}
	}
	reversed := func(r orb.Ring) orb.Ring { r = slices.Clone(r); slices.Reverse(r); return r }
	for _, c := range []struct {
		name          string
		polygons      [][]orb.Ring
		before, after float64 // ha; of rounds that wobble by 1 m what the outermost holds
		lost          bool
	}{
		{"two rounds", [][]orb.Ring{{square(1, false, 2)}}, 4, 4, false},
		{"two rounds, clockwise", [][]orb.Ring{{square(1, true, 2)}}, 4, 4, false},
		{"three rounds", [][]orb.Ring{{square(1, false, 3)}}, 4.05, 4.05, false},
		{"two rounds in two rings", [][]orb.Ring{{square(0, false, 1), square(1, false, 2)[40:]}}, 0, 4, true},
		{"two rounds in two parts", [][]orb.Ring{{square(0, false, 1)}, {square(1, false, 2)[40:]}}, 8, 4, true},
		{"two parts that overlap", [][]orb.Ring{{rect(0, 0, 200, 200)}, {rect(100, 100, 300, 300)}}, 8, 7, true},
		{"the same part twice", [][]orb.Ring{{rect(0, 0, 200, 200)}, {rect(0, 0, 200, 200)}}, 8, 4, true},
		{"a part within another, nearly as large", [][]orb.Ring{{rect(0, 0, 200, 200)}, {rect(1, 1, 199, 199)}}, 7.92, 4, true},
		{"there and back", [][]orb.Ring{{append(square(0, false, 1), square(1, true, 2)[:40]...)}}, 4, 0.04, true},
		{"an eight", [][]orb.Ring{{orb.Ring{{0, 0}, {200, 200}, {200, 0}, {0, 200}, {0, 0}}}}, 2, 2, false},
		{"a loop at the corner", [][]orb.Ring{{orb.Ring{{0, 0}, {200, 0}, {200, 205}, {195, 205}, {195, 200}, {205, 200}, {205, 210}, {0, 200}, {0, 0}}}}, 4.1, 4.1, false},
		{"a hole that sticks out", [][]orb.Ring{{rect(0, 0, 200, 200), reversed(rect(150, 50, 250, 100))}}, 3.5, 3.75, true},
		{"an obstacle as a part of its own", [][]orb.Ring{{rect(0, 0, 200, 200)}, {rect(50, 50, 60, 60)}}, 4.01, 3.99, false},
	} {
		var polys []string
		for _, rings := range c.polygons {
			var texts []string
			for _, r := range rings {
				texts = append(texts, degrees(r))
			}
			polys = append(polys, "["+strings.Join(texts, ",")+"]")
		}
		text := `{"type":"MultiPolygon","coordinates":[` + strings.Join(polys, ",") + `]}`
		fields, findings, err := GeoJSONFields(strings.NewReader(text), "f", Options{Mend: true})
		if err != nil || len(findings) == 0 {
			t.Errorf("%s: %v, %v", c.name, findings, err)
			continue
		}
		last := findings[len(findings)-1]
		if got := hectares(fields[0].Boundary); math.Abs(got-c.after) > 0.03 {
			t.Errorf("%s: %.4f ha kept, want %.2f", c.name, got, c.after)
		}
		var before, after float64
		if _, err := fmt.Sscanf(last.What[strings.Index(last.What, "mended"):], "mended, %f ha before → %f ha after", &before, &after); err != nil || math.Abs(before-c.before) > 0.03 || math.Abs(after-c.after) > 0.03 || last.Lost != c.lost {
			t.Errorf("%s: said %q (lost %t), want %.2f → %.2f ha (lost %t)", c.name, last.What, last.Lost, c.before, c.after, c.lost)
		}
	}
}

// A hole that sticks out of the field takes ground away where it lies in it, and adds none where it does not: a square of 100 m
// with a hole of 20 m by 20 m, half of it outside, has 9,800 m².
func TestMendHoleThatSticksOut(t *testing.T) {
	const lon, lat = 1 / 74625., 1 / 111200. // degrees of a metre at 48°, nearly
	ring := func(x0, y0, x1, y1 float64) string {
		s := ""
		for _, q := range [][2]float64{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}, {x0, y0}} {
			s += fmt.Sprintf(",[%.10f,%.10f]", 11+q[0]*lon, 48+q[1]*lat)
		}
		return "[" + s[1:] + "]"
	}
	for situation, c := range map[string]struct {
		hole string
		want float64
	}{
		"half outside":          {ring(90, 40, 110, 60), 9800},
		"inside":                {ring(40, 40, 60, 60), 9600},
		"over a corner":         {ring(90, 90, 110, 110), 9900},
		"all across":            {ring(-10, 40, 110, 60), 8000},
		"two, of which one out": {ring(90, 40, 110, 60) + "," + ring(40, 40, 60, 60), 9400},
	} {
		text := `{"type":"Polygon","coordinates":[` + ring(0, 0, 100, 100) + "," + c.hole + `]}`
		fields, findings, err := GeoJSONFields(strings.NewReader(text), "f", Options{Mend: true})
		if err != nil {
			t.Errorf("%s: %v", situation, err)
			continue
		}
		area := 0.0
		local := fields[0].Local()
		for _, p := range fields[0].OnPlane(local) {
			area += p.Area()
		}
		if math.Abs(area-c.want) > 0.0005*c.want {
			t.Errorf("%s: %.1f m², want %.0f: %v", situation, area, c.want, findings)
		}
	}
}
