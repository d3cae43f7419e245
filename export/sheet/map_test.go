package sheet

import (
	"bytes"
	"encoding/xml"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/export/sheet/paper"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

func square(x, y, a float64) plane.Ring {
	return plane.Ring{{X: x, Y: y}, {X: x + a, Y: y}, {X: x + a, Y: y + a}, {X: x, Y: y + a}}
}

// worked is a field of 1 ha with every kind of ground on it.
func worked() coverage.Result {
	l := geo.LocalAt(orb.Point{11.57, 48.14})
	hole := plane.Ring{{X: 10, Y: 10}, {X: 10, Y: 20}, {X: 20, Y: 20}, {X: 20, Y: 10}}
	strip := plane.Polygon{square(-40, 0, 5)}
	return coverage.Result{
		Field: geo.Field{Name: `Müller & <Söhne>`, Number: 1}, Local: l, Work: drive.Work{Width: 5, Overlap: 0.1}, Bar: drive.Bar{Width: 5, From: drive.WidthGiven, Least: 5, Most: 5, Whole: 1},
		Balance:    ground.Balance{Field: 9900, Missed: 25, Once: 9809, Twice: 36, More: 4, Unknown: 26, Outside: 16},
		FullMissed: 20, Headland: ground.HeadlandLoss{Depth: 9.8, Area: 3000, Missed: 5},
		Strips: []coverage.Strip{{Number: 1, Area: 25, Length: 5, MeanWidth: 5, At: l.Point(plane.XY{X: -37, Y: 2}), Cause: coverage.CauseDrift, Shape: strip}},
		Passes: []drive.Pass{{Number: 1, Line: []plane.XY{{X: -40, Y: -20}, {X: 40, Y: -20}}}},
		Layers: ground.Layers{Field: []plane.Polygon{{square(-50, -50, 100), hole}}, Missed: []plane.Polygon{strip}, Double: []plane.Polygon{{square(0, -30, 6)}},
			Triple: []plane.Polygon{{square(2, -28, 2)}}, Unknown: []plane.Polygon{{square(-20, -40, 5)}}, Outside: []plane.Polygon{{square(48, 0, 4)}},
			Headland: []plane.Polygon{{square(-50, -50, 100), square(-40, -40, 80)}}},
	}
}

func drawn(t *testing.T, r coverage.Result) string {
	t.Helper()
	l, err := Map(r, Page{})
	if err != nil {
		t.Fatal(err)
	}
	return svgOf(t, "map", l)
}

// svgOf is a leaf as SVG, well formed and with numbers only. With BALK_DRAWINGS set to a folder it is
// also written there, to be looked at.
func svgOf(t *testing.T, name string, l *paper.Leaf) string {
	t.Helper()
	var b bytes.Buffer
	if err := l.SVG(&b); err != nil {
		t.Fatal(err)
	}
	dec := xml.NewDecoder(bytes.NewReader(b.Bytes()))
	for {
		if _, err := dec.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("%s is no XML: %v", name, err)
		}
	}
	s := b.String()
	if strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
		t.Errorf("%s: a number is none", name)
	}
	if dir := os.Getenv("BALK_DRAWINGS"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, name+".svg"), b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

func TestMapShowsColoursMarksAndNumbers(t *testing.T) {
	s := drawn(t, worked())
	upper := strings.ToUpper(s)
	for _, colour := range []string{straw, slate, ink, pink, orange} {
		if !strings.Contains(upper, colour) {
			t.Errorf("the map lacks the colour %s", colour)
		}
	}
	for _, want := range []string{"dasharray", "9900", "9809", "99.08", "Müller &amp; &lt;Söhne&gt;", ">N<", "20 m", "overhead lines", "drift between passes", "working width 5.00 m (given), planned overlap 0.10 m"} {
		if !strings.Contains(s, want) {
			t.Errorf("the map lacks %q", want)
		}
	}
}

func TestNoMapOfABalanceThatDoesNotAddUp(t *testing.T) {
	for _, residual := range []float64{1, -1, math.NaN()} {
		r := worked()
		r.Balance.Residual = residual
		if l, err := Map(r, Page{}); err == nil || l != nil {
			t.Errorf("residual %g m²: error %v, a map: %t", residual, err, l != nil)
		}
	}
	r := worked()
	r.Layers.Field = nil
	if _, err := Map(r, Page{}); err == nil {
		t.Error("a field without extent: no error")
	}
}

// The digits shown must add up to the total shown, whatever the parts.
func TestTableAddsUp(t *testing.T) {
	for i := range 500 {
		r := worked()
		b := &r.Balance
		k := float64(i)
		b.Once, b.Twice, b.More, b.Missed, b.Unknown = 1000+k*7.123456, 3.49+k/3, 0.5, 1.499999, k/7
		b.Field = b.Once + b.Twice + b.More + b.Missed + b.Unknown
		table := TableOf(r)
		var ha, share float64
		for _, p := range table.Parts {
			ha += number(t, p.Ha)
			share += number(t, p.Share)
		}
		if math.Abs(ha-number(t, table.Field.Ha)) > 1e-9 || math.Abs(share-100) > 1e-9 {
			t.Fatalf("case %d: the parts add up to %.4f ha and %.2f %%, the field is %s ha: %v", i, ha, share, table.Field.Ha, table.Parts)
		}
		if got := number(t, table.Parts[0].Ha); math.Abs(got-b.Once/1e4) > 1e-4 {
			t.Fatalf("case %d: worked once is shown as %.4f ha, is %.6f", i, got, b.Once/1e4)
		}
	}
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestRoundLength(t *testing.T) {
	for m, want := range map[float64]float64{1: 1, 1.99: 1, 2: 2, 4.9: 2, 5: 5, 99: 50, 130: 100, 0.7: 0.5} {
		if got := roundLength(m); got != want {
			t.Errorf("not above %g m: %g, want %g", m, got, want)
		}
	}
}

// A ring of many points on a line, or closer than a pixel, must not fill the file.
func TestMapStaysSmall(t *testing.T) {
	r := worked()
	var ring plane.Ring
	for i := range 20_000 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 20_000)
		ring = append(ring, plane.XY{X: 40 * c, Y: 40 * s})
	}
	before := len(drawn(t, r))
	r.Layers.Double = []plane.Polygon{{ring}}
	if more := len(drawn(t, r)) - before; more > 7000 || more < 300 {
		t.Errorf("a circle of 20000 points takes %d bytes, want 300 to 7000", more)
	}
}
