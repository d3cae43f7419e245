package plane

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"balk/testdata/check"
)

// elbow is an L of 10 by 10 m with arms 4 m wide; its corner (4,4) turns
// inwards.
//
//	10 ┌───┐
//	   │   │
//	 4 │   └─────┐
//	 0 └─────────┘
//	   0   4    10
var elbow = Polygon{{{0, 0}, {10, 0}, {10, 4}, {4, 4}, {4, 10}, {0, 10}}}

func TestInsetAreas(t *testing.T) {
	holed := Polygon{rectangle(0, 0, 30, 30)[0], backwards(rectangle(10, 10, 20, 20)[0])}
	notch := Polygon{{{0, 0}, {40, 0}, {40, 20}, {21, 20}, {20, 10}, {19, 20}, {0, 20}}} // turns by 168° at (20,10)
	for _, c := range []struct {
		name      string
		polys     []Polygon
		depth     float64
		want, tol float64
	}{
		{"rectangle", []Polygon{rectangle(0, 0, 10, 6)}, 1, 32, 1e-6},
		{"depth nought", []Polygon{holed, rectangle(25, 25, 40, 40)}, 0, 800 + 200, 1e-6},
		{"just not too deep", []Polygon{rectangle(0, 0, 10, 6)}, 2.9, 4.2 * 0.2, 1e-6},
		{"exactly too deep", []Polygon{rectangle(0, 0, 10, 6)}, 3, 0, 0},
		{"far too deep", []Polygon{rectangle(0, 0, 10, 6)}, 1000, 0, 0},
		{"too deep for the triangle, not for its box", []Polygon{{{{0, 0}, {4, 0}, {0, 3}}}}, 1.01, 0, 0},
		{"as deep as many short edges allow, and a little less", []Polygon{{circleRing(XY{}, 10, 40, false)}}, 9.9, 40 * math.Tan(math.Pi/40) * square(10*math.Cos(math.Pi/40)-9.9), 1e-6},
		{"deeper than many short edges allow", []Polygon{{circleRing(XY{}, 10, 40, false)}}, 10, 0, 0},
		{"inner corner", []Polygon{elbow}, 1, 28 + 1 - math.Pi/4, 2 * chordError},
		{"hole", []Polygon{holed}, 2, 26*26 - (100 + 4*20 + 4*math.Pi), 4 * math.Pi * chordError},
		{"two fields, one too small", []Polygon{rectangle(0, 0, 10, 6), rectangle(20, 0, 21, 50)}, 1, 32, 1e-6},
		{"two fields that lap: each boundary counts on its own side", []Polygon{rectangle(0, 0, 10, 6), rectangle(6, 0, 16, 6)}, 1, 4 * (5 + 2 + 5), 1e-6},
		{"falls into two", []Polygon{{{{0, 0}, {10, 0}, {10, 4}, {20, 4}, {20, 0}, {30, 0}, {30, 10}, {20, 10}, {20, 6}, {10, 6}, {10, 10}, {0, 10}}}}, 2, 72 + 4*(2-math.Sqrt(3)/2-math.Pi/3), 5 * chordError},
		{"spike notch", []Polygon{notch}, 3, notchArc, 0.02},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Inset(context.Background(), c.polys, c.depth)
			if err != nil {
				t.Fatal(err)
			}
			if area := layerArea(got); math.Abs(area-c.want) > c.tol+layerTolerance(got) {
				t.Errorf("%.6f m², want %.6f m²", area, c.want)
			}
			if err := invalid(got); err != nil {
				t.Error(err)
			}
		})
	}
}

// The notch of TestInsetAreas by hand: the inset is 34 by 14 m, less what lies
// within 3 m of the two flanks or of the tip, above y = 3 and below y = 17.
// With s = 10/√101 and c = 1/√101 (the flank leans by 1 in 10), the line 3 m
// outside the right flank meets height y at x = 20 + 3/s + (y-10)/10.
var notchArc = func() float64 {
	s, c := 10/math.Sqrt(101), 1/math.Sqrt(101)
	edge := func(y float64) float64 { return 3/s + (y-10)/10 } // from the middle line
	// From the touching point (3s, 10-3c) upwards the flank, below it the circle.
	touch := 10 - 3*c
	flank := (edge(17) + edge(touch)) / 2 * (17 - touch)
	half := math.Acos(c) // from straight down to the touching point, as seen from the tip
	circle := 9 * half / 2
	triangle := 3 * s * 3 * c / 2 // between the tip, the touching point and its height
	return 34*14 - 2*(flank+circle-triangle)
}()

func TestInsetRefuses(t *testing.T) {
	for name, depth := range map[string]float64{"negative": -1, "not a number": math.NaN(), "endless": math.Inf(1)} {
		if got, err := Inset(context.Background(), []Polygon{elbow}, depth); err == nil || got != nil {
			t.Errorf("%s: %v %v, want an error", name, got, err)
		}
	}
	if got, err := Inset(context.Background(), []Polygon{{{{0, 0}, {math.NaN(), 0}, {10, 10}}}}, 1); err == nil || got != nil {
		t.Errorf("a vertex that is not a number: %v %v, want an error", got, err)
	}
}

// randomField is a star-shaped boundary of some hundred metres with obstacles.
func randomField(rng *rand.Rand) Polygon {
	n := 5 + rng.IntN(60)
	var outer Ring
	for i := range n {
		a := 2 * math.Pi * (float64(i) + 0.3*rng.Float64()) / float64(n)
		outer = append(outer, Snap(XY{math.Cos(a), math.Sin(a)}.Scale(60+60*rng.Float64())))
	}
	p := Polygon{outer}
	for i := range rng.IntN(4) {
		a := math.Pi / 2 * (float64(i) + 0.5)
		p = append(p, circleRing(XY{math.Cos(a), math.Sin(a)}.Scale(25), 1+6*rng.Float64(), 3+rng.IntN(10), true))
	}
	return p
}

// A place lies in the inset if and only if it lies in the field and as far from
// the boundary as the depth, but for chordError.
func TestInsetKeepsWhatIsFarEnough(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 6))
	for round := range 40 {
		field := randomField(rng)
		depth := 15 * rng.Float64()
		got, err := Inset(context.Background(), []Polygon{field}, depth)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if err := invalid(got); err != nil {
			t.Fatalf("seed %d round %d: inset by %g m of %v: %v", seed, round, depth, field, err)
		}
		for range 2000 {
			x := XY{240*rng.Float64() - 120, 240*rng.Float64() - 120}
			far := slowDistance(field, x)
			in, want := insideAny(got, x), insideSlow(field, x) && far >= depth
			if in != want && math.Abs(far-depth) > chordError+layerMoved {
				t.Fatalf("seed %d round %d: %v, %.4f m from the boundary, in the inset by %.4f m: %v, want %v; field %v", seed, round, x, far, depth, in, want, field)
			}
			if in && far < depth-layerMoved {
				t.Fatalf("seed %d round %d: %v is kept at %.7f m, depth %.7f m", seed, round, x, far, depth)
			}
		}
	}
}

func insideAny(polys []Polygon, x XY) bool {
	for _, p := range polys {
		if insideSlow(p, x) {
			return true
		}
	}
	return false
}

// A boundary drawn with a point every half metre, on nearly straight lines:
// rounding must not leave cracks between the pieces of the strip.
func TestInsetOfDenseBoundaryHasNoCracks(t *testing.T) {
	var r Ring
	for _, side := range [][2]XY{{{0, 0}, {200, 31}}, {{200, 31}, {180, 140}}, {{180, 140}, {-15, 120}}, {{-15, 120}, {0, 0}}} {
		for k := range 400 {
			r = append(r, side[0].Lerp(side[1], float64(k)/400))
		}
	}
	for _, depth := range []float64{0.01, 1, 12, 40} {
		got, err := Inset(context.Background(), []Polygon{{r}}, depth)
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != 1 || len(got[0]) != 1 {
			t.Fatalf("inset by %g m: %d polygons, want one without holes", depth, len(got))
		}
		if got[0][0].Perimeter() > r.Perimeter() {
			t.Errorf("inset by %g m: the boundary has grown from %.3f m to %.3f m", depth, r.Perimeter(), got[0][0].Perimeter())
		}
		least := math.Inf(1)
		for _, v := range got[0][0] {
			least = min(least, slowDistance(Polygon{r}, v))
		}
		if least < depth-layerMoved {
			t.Errorf("inset by %g m: a vertex only %.7f m from the boundary", depth, least)
		}
	}
}

func BenchmarkInset(b *testing.B) {
	field := wavyStrip(1000, 400, 30, 700, 2) // 1,000 vertices
	for b.Loop() {
		got, err := Inset(b.Context(), []Polygon{field}, 24)
		if err != nil {
			b.Fatal(err)
		}
		if a := layerArea(got); a < 0.8*field.Area() || a > 0.9*field.Area() {
			b.Fatalf("%.0f m² left of %.0f m²", a, field.Area())
		}
	}
}

// roundedField is a field whose boundary and obstacles bend in fine steps, to the left and to the right, as
// an inset has them.
func roundedField(rng *rand.Rand) Polygon {
	var outer Ring
	n := 200 + rng.IntN(400)
	lobes, deep := 3+rng.IntN(5), 0.1+0.25*rng.Float64()
	for i := range n {
		a := 2 * math.Pi * float64(i) / float64(n)
		outer = append(outer, Snap(XY{math.Cos(a), math.Sin(a)}.Scale(90*(1+deep*math.Sin(float64(lobes)*a)))))
	}
	p := Polygon{outer}
	for i := range 1 + rng.IntN(4) {
		a := math.Pi / 2 * (float64(i) + 0.5)
		p = append(p, circleRing(XY{math.Cos(a), math.Sin(a)}.Scale(25), 1+8*rng.Float64(), 40+rng.IntN(300), true))
	}
	return p
}

// Where boundaries bend in steps finer than the depth, strips lap many times over. What comes out is held
// against distances, for the inset of a field, and for what lies beyond and within some way of its inset.
func TestInsetOfFineBends(t *testing.T) {
	for _, seed := range []uint64{11367573785698680744, check.Seed(t)} { // the first has a hole whose corners all fanned out
		fineBends(t, seed)
	}
}

func fineBends(t *testing.T, seed uint64) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 7))
	kept, left := 0, 0
	for round := range 10 {
		field := roundedField(rng)
		depth, back := 25*rng.Float64(), 15*rng.Float64()
		core, err := Inset(t.Context(), []Polygon{field}, depth)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		beyond, err := Beyond(t.Context(), []Polygon{field}, core, back)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		within, err := Within(t.Context(), []Polygon{field}, core, back)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		for _, polys := range [][]Polygon{core, beyond, within} {
			if err := invalid(polys); err != nil {
				t.Fatalf("seed %d round %d: depth %g m, back %g m: %v", seed, round, depth, back, err)
			}
		}
		if a := layerArea(beyond) + layerArea(within); math.Abs(a-field.Area()) > layerTolerance(beyond)+layerTolerance(within) {
			t.Fatalf("seed %d round %d: beyond and within hold %.6f m², the field %.6f m²", seed, round, a, field.Area())
		}
		for range 150 {
			x := XY{240*rng.Float64() - 120, 240*rng.Float64() - 120}
			inside, far := insideSlow(field, x), slowDistance(field, x)
			if in := insideAny(core, x); in != (inside && far >= depth) && math.Abs(far-depth) > chordError+layerMoved {
				t.Fatalf("seed %d round %d: %v, %.4f m from the boundary, in the inset by %.4f m: %v", seed, round, x, far, depth, in)
			}
			away := math.Inf(1)
			for _, p := range core {
				away = min(away, slowDistance(p, x))
			}
			if insideAny(core, x) {
				away = 0
			}
			if in := insideAny(beyond, x); in != (inside && away > back) && math.Abs(away-back) > chordError+layerMoved {
				t.Fatalf("seed %d round %d: %v, %.4f m from the inset by %g m, beyond %.4f m: %v", seed, round, x, away, depth, back, in)
			} else if in {
				left++
			}
			if inside && far >= depth {
				kept++
			}
		}
	}
	if kept < 50 || left < 5 {
		t.Errorf("seed %d: %d places kept, %d beyond: too few to say anything", seed, kept, left)
	}
}

func TestBeyondRefuses(t *testing.T) {
	for name, r := range map[string]float64{"negative": -1, "not a number": math.NaN(), "endless": math.Inf(1)} {
		if got, err := Beyond(t.Context(), []Polygon{elbow}, []Polygon{elbow}, r); err == nil || got != nil {
			t.Errorf("%s: %v %v, want an error", name, got, err)
		}
	}
}

// Fields mended from scribbles touch themselves, have spikes, needles and edges of a millimetre beside long ones:
// where strips end there, every place must still be told rightly.
func TestInsetOfMendedScribbles(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 8))
	for round := range 500 {
		var r Ring
		for range 4 + rng.IntN(14) {
			p := XY{2 * float64(rng.IntN(21)), 2 * float64(rng.IntN(21))}
			if rng.IntN(4) == 0 {
				p = XY{40 * rng.Float64(), 40 * rng.Float64()}
			}
			if r = append(r, p); rng.IntN(5) == 0 {
				r = append(r, p.Add(XY{1e-3 * rng.NormFloat64(), 1e-3 * rng.NormFloat64()}))
			}
		}
		polys, err := Mend([]Ring{r})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		depth := 3 * rng.Float64()
		got, err := Inset(t.Context(), polys, depth)
		if err != nil {
			t.Fatalf("seed %d round %d: %v", seed, round, err)
		}
		core := polys[:len(polys)/2]
		beyond, err := Beyond(t.Context(), polys, core, depth)
		if err != nil {
			t.Fatalf("seed %d round %d: %v", seed, round, err)
		}
		for _, made := range [][]Polygon{got, beyond} {
			if err := invalid(made); err != nil {
				t.Fatalf("seed %d round %d: %v", seed, round, err)
			}
		}
		far := func(polys []Polygon, x XY) float64 {
			least := math.Inf(1)
			for _, p := range polys {
				least = min(least, slowDistance(p, x))
			}
			return least
		}
		for range 60 {
			x := XY{44*rng.Float64() - 2, 44*rng.Float64() - 2}
			inside, rim, away := insideAny(polys, x), far(polys, x), far(core, x)
			if insideAny(core, x) {
				away = 0
			}
			if in := insideAny(got, x); in != (inside && rim >= depth) && math.Abs(rim-depth) > chordError+layerMoved {
				t.Fatalf("seed %d round %d: %v, %.4f m from a boundary, in the inset by %.4f m: %v; %v", seed, round, x, rim, depth, in, polys)
			}
			if in := insideAny(beyond, x); in != (inside && away > depth) && math.Abs(away-depth) > chordError+layerMoved && rim > 2*layerMoved {
				t.Fatalf("seed %d round %d: %v, %.4f m from the core, beyond %.4f m: %v; %v", seed, round, x, away, depth, in, polys)
			}
		}
	}
}
