package spots

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/slope"
	"balk/geo"
	"balk/geo/plane"
)

// onASlope is upAndDown with heights every 5 m of its passes on ground that rises by so much per metre to the east and to the north, and a receiver
// whose height is off by so much, m, another value for every pass.
func onASlope(east, north, off float64) Operation {
	o, r := upAndDown(), rand.New(rand.NewPCG(17, 4))
	for k, p := range o.Passes {
		bias := off * r.NormFloat64()
		for y := 0.0; y <= 200; y += 5 {
			at := plane.XY{X: p.Line[0].X, Y: y}
			o.Heights = append(o.Heights, slope.Height{At: at, Z: 400 + east*at.X + north*at.Y + bias, Line: k, Weight: 1})
		}
	}
	return o
}

// Pass 3 goes north at x = 15 m, pass 2 south at x = 9 m: on ground that rises to the east the right half of the one and the left half of the other is
// uphill.
func TestSideOfTheBarOnASlope(t *testing.T) {
	for _, c := range []struct {
		name             string
		east, north, off float64
		x, from, length  float64 // of the check; the strip brushed free begins so far from the left end
		heights          func(Operation) []slope.Height
		want             Side
	}{
		{"up, right half by place", 0.10, 0, 0.02, 16.5, 0, 0, nil, SideUphill},
		{"up, left half by place", 0.10, 0, 0.02, 13.5, 0, 0, nil, SideDownhill},
		{"down, left half by place", 0.10, 0, 0.02, 10.5, 0, 0, nil, SideUphill},
		{"up, right half by the strip brushed free", 0.10, 0, 0.02, 15, 4, 1, nil, SideUphill},
		{"the ground falls to the east", -0.10, 0, 0.02, 16.5, 0, 0, nil, SideDownhill},
		{"in the middle of the bar", 0.10, 0, 0.02, 15.2, 0, 0, nil, ""},
		{"level across, steep along", 0, 0.15, 0.02, 16.5, 0, 0, nil, ""},
		{"one in a hundred", 0.01, 0, 0, 16.5, 0, 0, nil, ""},
		{"a receiver whose height errs by metres", 0.03, 0, 3, 16.5, 0, 0, nil, ""},
		{"no heights", 0.10, 0, 0, 16.5, 0, 0, func(Operation) []slope.Height { return nil }, ""},
		{"heights of three passes only", 0.10, 0, 0, 16.5, 0, 0, func(o Operation) (two []slope.Height) {
			for _, h := range o.Heights {
				if h.Line >= 2 && h.Line <= 4 {
					two = append(two, h)
				}
			}
			return two
		}, ""},
	} {
		o := onASlope(c.east, c.north, c.off)
		if c.heights != nil {
			o.Heights = c.heights(o)
		}
		got := tiesOf([]Operation{o}).tie(0, geo.SpotCheck{At: o.place(c.x, 80), Accuracy: 0.2, From: c.from, Length: c.length, Time: o.To}, UsualError)
		if got.Side != c.want {
			t.Errorf("%s: %q, want %q", c.name, got.Side, c.want)
		}
	}
	o := onASlope(0.10, 0, 0)
	if got := tiesOf([]Operation{o}).tie(0, geo.SpotCheck{At: o.place(16.5, 80), Time: o.To}, UsualError); got.Side != "" {
		t.Errorf("by a phone's place: %q", got.Side)
	}
}

// Checks fall into halves of the bar, each with its depth.
func TestGroupsBySide(t *testing.T) {
	o := onASlope(0.12, 0, 0.02)
	var checks []geo.SpotCheck
	for k := range 12 {
		c := geo.SpotCheck{Record: k + 1, At: o.place(13.5+3*float64(k%2), 40+8*float64(k)), Accuracy: 0.2, Cut: geo.IsSo, Time: o.To}
		c.Depths = []geo.SpotValue{{Value: 0.03 + 0.01*float64(k%2)}}
		checks = append(checks, c)
	}
	// Across all of the bar: half a centimetre deeper for every metre to the right, that is uphill on the way north.
	for k := range 6 {
		c := geo.SpotCheck{Record: 20 + k, At: o.place(27, 40+8*float64(k)), Accuracy: 0.2, Length: 6, Cut: geo.IsSo, Time: o.To}
		for _, at := range []float64{1, 3, 5} {
			c.Depths = append(c.Depths, geo.SpotValue{At: at, Value: 0.025 + 0.005*at}) // 3, 4, 5 cm
		}
		checks = append(checks, c)
	}
	f, err := Of(checks[:12], []Operation{o}, Wanted{})
	if err != nil {
		t.Fatal(err)
	}
	means := map[Side]float64{}
	for _, g := range f.Groups {
		if g.By == BySide {
			means[g.Side] = g.Depth.Mean
		}
	}
	if len(means) != 2 || math.Abs(means[SideUphill]-0.04) > 1e-9 || math.Abs(means[SideDownhill]-0.03) > 1e-9 {
		t.Errorf("%v", means)
	}
	across, err := Of(checks[12:], []Operation{o}, Wanted{})
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range across.Groups {
		if want := map[Side]float64{SideUphill: 0.05, SideDownhill: 0.03}[g.Side]; g.By == BySide && math.Abs(g.Depth.Mean-want) > 1e-9 {
			t.Errorf("%s: %.4f m, want %.3f", g.Side, g.Depth.Mean, want)
		}
	}
	if !slices.ContainsFunc(across.Groups, func(g Group) bool { return g.By == BySide }) {
		t.Error("checks across the bar are in neither half")
	}
}
