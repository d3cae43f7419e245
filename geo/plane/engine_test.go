package plane

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
)

// depthOf sorts places by how often lane 0 covers them: 1, 2, 3 … 15 or more.
func depthOf(l Label) Class {
	n := l.Count(0)
	if n < 0 {
		n = -n
	}
	return Class(min(n, 15))
}

func box(x0, y0, x1, y1 float64) Outline {
	return Outline{Line: []XY{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}}
}

func arrange(t testing.TB, outlines []Outline, layers ...ClassSet) Answer {
	t.Helper()
	ans, err := Arrange(context.Background(), outlines, Question{Classify: depthOf, Layers: layers})
	if err != nil {
		t.Fatal(err)
	}
	return ans
}

func areaOf(polys []Polygon) (s float64) {
	for _, p := range polys {
		s += p.Area()
	}
	return s
}

const (
	any1 ClassSet = 0xfffe // covered at all
	any2 ClassSet = 0xfffc // covered twice or more
)

func TestArrangeByHand(t *testing.T) {
	tests := []struct {
		name           string
		outlines       []Outline
		once, twice    float64
		union, double  int // polygons
		unionHoleCount int
	}{
		{"one square", []Outline{box(0, 0, 10, 10)}, 100, 0, 1, 0, 0},
		{"two apart", []Outline{box(0, 0, 10, 10), box(20, 0, 30, 10)}, 200, 0, 2, 0, 0},
		{"two crossing at a corner", []Outline{box(0, 0, 10, 10), box(5, 5, 15, 15)}, 150, 25, 1, 1, 0},
		{"a cross", []Outline{box(0, 4, 10, 6), box(4, 0, 6, 10)}, 32, 4, 1, 1, 0},
		{"one in the other", []Outline{box(0, 0, 10, 10), box(2, 2, 4, 4)}, 96, 4, 1, 1, 0},
		{"the same twice", []Outline{box(0, 0, 10, 10), box(0, 0, 10, 10)}, 0, 100, 1, 1, 0},
		{"side by side, shared edge", []Outline{box(0, 0, 10, 10), box(10, 0, 20, 10)}, 200, 0, 1, 0, 0},
		{"side by side, half a shared edge", []Outline{box(0, 0, 10, 10), box(10, 5, 20, 15)}, 200, 0, 1, 0, 0},
		{"touching at a corner", []Outline{box(0, 0, 10, 10), box(10, 10, 20, 20)}, 200, 0, 2, 0, 0},
		{"a ring of four", []Outline{box(0, 0, 30, 10), box(0, 20, 30, 30), box(0, 0, 10, 30), box(20, 0, 30, 30)}, 400, 400, 1, 4, 1},
		{"a ring of four, tiled", []Outline{box(0, 0, 30, 10), box(0, 20, 30, 30), box(0, 10, 10, 20), box(20, 10, 30, 20)}, 800, 0, 1, 0, 1},
		{"bow-tie", []Outline{{Line: []XY{{0, 0}, {10, 10}, {10, 0}, {0, 10}}}}, 50, 0, 2, 0, 0},
		{"spike", []Outline{{Line: []XY{{0, 0}, {10, 0}, {10, 5}, {20, 5}, {10, 5}, {10, 10}, {0, 10}}}}, 100, 0, 1, 0, 0},
		{"repeated points", []Outline{{Line: []XY{{0, 0}, {0, 0}, {10, 0}, {10, 0}, {10, 10}, {0, 10}, {0, 0}}}}, 100, 0, 1, 0, 0},
		{"no area", []Outline{{Line: []XY{{0, 0}, {10, 0}}}, {Line: []XY{{0, 0}, {10, 0}, {5, 0}}}}, 0, 0, 0, 0, 0},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			for turn := range 5 {
				var outlines []Outline
				for _, o := range tc.outlines {
					var line []XY
					for _, p := range o.Line {
						s, c := math.Sincos(float64(turn) * 0.7)
						line = append(line, XY{c*p.X - s*p.Y, s*p.X + c*p.Y})
					}
					outlines = append(outlines, Outline{Line: line})
				}
				ans := arrange(t, outlines, any1, any2)
				if math.Abs(ans.Area[1]-tc.once) > 1e-6 || math.Abs(ans.Area[2]-tc.twice) > 1e-6 {
					t.Fatalf("turned by %.1f: once %.9f, twice %.9f; want %g, %g", float64(turn)*0.7, ans.Area[1], ans.Area[2], tc.once, tc.twice)
				}
				holes := 0
				for _, p := range ans.Layers[0] {
					holes += len(p) - 1
				}
				if turn == 0 && (len(ans.Layers[0]) != tc.union || len(ans.Layers[1]) != tc.double || holes != tc.unionHoleCount) {
					t.Errorf("polygons %d, %d, holes %d; want %d, %d, %d\n%v", len(ans.Layers[0]), len(ans.Layers[1]), holes, tc.union, tc.double, tc.unionHoleCount, ans.Layers)
				}
				if math.Abs(areaOf(ans.Layers[0])-tc.once-tc.twice) > 0.01 || math.Abs(areaOf(ans.Layers[1])-tc.twice) > 0.01 {
					t.Errorf("turned by %.1f: polygons %.6f, %.6f", float64(turn)*0.7, areaOf(ans.Layers[0]), areaOf(ans.Layers[1]))
				}
			}
		})
	}
}

// Random closed lines on a coarse lattice: full of shared points, shared edges
// and triple crossings. The depth-weighted area must equal the outlines' own.
func TestArrangeCoarseLattice(t *testing.T) {
	for seed := range uint64(400) {
		rng := rand.New(rand.NewPCG(seed, 1))
		var outlines []Outline
		for range 2 + rng.IntN(8) {
			// counter-clockwise convex-ish boxes and triangles with corners 0 … 12
			x, y := float64(rng.IntN(9)), float64(rng.IntN(9))
			w, h := float64(1+rng.IntN(4)), float64(1+rng.IntN(4))
			o := box(x, y, x+w, y+h)
			switch rng.IntN(4) {
			case 0:
				o.Line = o.Line[:3]
			case 1:
				o.Line[2].X -= float64(rng.IntN(2))
				o.Line[0].X -= float64(rng.IntN(3))
			}
			outlines = append(outlines, o)
		}
		ans, err := Arrange(context.Background(), outlines, Question{Classify: depthOf, Layers: []ClassSet{any1, any2, 1 << 1, 1 << 3}})
		if err != nil {
			t.Fatalf("seed %d: %v\n%v", seed, err, outlines)
		}
		var weighted, union, twice float64
		for c, s := range ans.Area {
			weighted += float64(c) * s
			if c >= 1 {
				union += s
			}
			if c >= 2 {
				twice += s
			}
		}
		for k, want := range []float64{union, twice, ans.Area[1], ans.Area[3]} {
			if got := areaOf(ans.Layers[k]); math.Abs(got-want) > 0.05 {
				t.Errorf("seed %d: layer %d has %.6f, want %.6f\n%v", seed, k, got, want, outlines)
			}
		}
		var own float64
		for _, o := range outlines {
			own += Ring(o.Line).Area()
		}
		if math.Abs(weighted-own) > 1e-9 {
			t.Errorf("seed %d: depth-weighted %.9f, outlines %.9f\n%v", seed, weighted, own, outlines)
		}
	}
}

// Random closed lines of any shape, crossing themselves and each other: on a
// coarse lattice (shared points and edges), the same turned (shared only up to
// rounding), and shaken by 0.1 mm (edges that almost coincide).
func TestArrangeWildLines(t *testing.T) {
	for seed := range uint64(900) {
		rng := rand.New(rand.NewPCG(seed, 9))
		n, span := 2+rng.IntN(10), 4+rng.IntN(20)
		turn := 0.0
		if seed%3 == 1 {
			turn = rng.Float64() * 2 * math.Pi
		}
		s, c := math.Sincos(turn)
		var outlines []Outline
		for range n {
			var line []XY
			for range 3 + rng.IntN(10) {
				x, y := float64(rng.IntN(span)), float64(rng.IntN(span))
				if seed%3 == 2 {
					x += rng.NormFloat64() * 1e-4
					y += rng.NormFloat64() * 1e-4
				}
				line = append(line, XY{c*x - s*y, s*x + c*y})
			}
			outlines = append(outlines, Outline{Line: line})
		}
		ans, err := Arrange(context.Background(), outlines, Question{Classify: depthOf, Layers: []ClassSet{any1, any2, 1 << 1, 1 << 3}})
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		var union, twice float64
		for k := 1; k < 16; k++ {
			union += ans.Area[k]
			if k > 1 {
				twice += ans.Area[k]
			}
		}
		for k, want := range []float64{union, twice, ans.Area[1], ans.Area[3]} {
			// repair moves points by less than 0.1 mm along at most a few hundred metres of edges
			if got := areaOf(ans.Layers[k]); math.Abs(got-want) > 0.02*float64(span) {
				t.Errorf("seed %d, layer %d: polygons have %.6f, classes %.6f", seed, k, got, want)
			}
		}
	}
}
