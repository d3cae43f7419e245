package plane

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"sort"
	"strings"
	"testing"

	"balk/testdata/check"

	"github.com/peterstace/simplefeatures/geom"
)

func mustArrange(t testing.TB, outlines []Outline, q Question) Answer {
	t.Helper()
	answer, err := Arrange(context.Background(), outlines, q)
	if err != nil {
		t.Fatalf("arrange %v: %v", outlines, err)
	}
	return answer
}

// wildOutlines are outlines in general position that cross themselves and each
// other, in both senses, in lanes 0 and 1.
func wildOutlines(rng *rand.Rand, n int, extent float64) []Outline {
	out := make([]Outline, n)
	for i := range out {
		line := make([]XY, 3+rng.IntN(8))
		for k := range line {
			line[k] = Snap(XY{extent * rng.Float64(), extent * rng.Float64()})
		}
		out[i] = Outline{Line: line, Lane: rng.IntN(2)}
	}
	return out
}

// coarseOutlines live on whole metres from 0 to 20, so that points coincide,
// edges lie on each other, vertices lie on edges and many lines cross in one
// place. Some are passes of a bar, some wild, some rectangles, some repeated.
func coarseOutlines(rng *rand.Rand, n int) []Outline {
	const size = 20
	at := func() XY { return XY{float64(rng.IntN(size + 1)), float64(rng.IntN(size + 1))} }
	var out []Outline
	for range n {
		var line []XY
		switch kind := rng.IntN(6); kind {
		case 0: // wild
			for range 3 + rng.IntN(7) {
				line = append(line, at())
			}
		case 1: // rectangle
			a, b := at(), at()
			line = []XY{a, {b.X, a.Y}, b, {a.X, b.Y}}
		case 2: // a bar that moves on: right ends forward, left ends back
			c, half := at(), XY{0, float64(1 + rng.IntN(3))}
			var left []XY
			for range 2 + rng.IntN(5) {
				line, left = append(line, c.Sub(half)), append(left, c.Add(half))
				c = c.Add(XY{float64(rng.IntN(5)), float64(rng.IntN(3) - 1)})
			}
			for i := len(left) - 1; i >= 0; i-- {
				line = append(line, left[i])
			}
		case 3: // spike: out and back
			a, b := at(), at()
			line = []XY{a, b, at(), b, a, at()}
		case 4: // repeated points and points on straight edges
			a, w := at(), float64(2*(1+rng.IntN(4)))
			line = []XY{a, a, {a.X + w/2, a.Y}, {a.X + w, a.Y}, {a.X + w, a.Y + w}, {a.X + w, a.Y + w}, {a.X, a.Y + w}, {a.X, a.Y + w/2}}
		case 5: // an earlier one again, perhaps turned round, perhaps moved along
			if len(out) == 0 {
				continue
			}
			line = slices.Clone(out[rng.IntN(len(out))].Line)
			if rng.IntN(2) == 0 {
				slices.Reverse(line)
			}
			if rng.IntN(2) == 0 {
				d := XY{float64(rng.IntN(3)), float64(rng.IntN(3))}
				for i := range line {
					line[i] = line[i].Add(d)
				}
			}
		}
		out = append(out, Outline{Line: line, Lane: rng.IntN(2)})
	}
	return out
}

// slabs is the slow exact engine: the plane is cut into upright slabs at every
// vertex and every crossing; in a slab no edges cross, so the areas between
// neighbouring edges are trapezoids. Good to 1e-9 m² for a few dozen edges.
func slabs(outlines []Outline, classify func(counts) Class) (area [16]float64) {
	type edge struct {
		a, b XY // a.X < b.X
		lane int
		step int
	}
	var edges []edge
	var xs []float64
	for _, o := range outlines {
		for i, a := range o.Line {
			b, step := o.Line[(i+1)%len(o.Line)], 1
			xs = append(xs, a.X)
			if a.X > b.X {
				a, b, step = b, a, -1
			}
			if a.X < b.X { // upright edges bound no trapezoid
				edges = append(edges, edge{a, b, o.Lane, step})
			}
		}
	}
	for i, e := range edges {
		for _, f := range edges[i+1:] {
			d, g := e.b.Sub(e.a), f.b.Sub(f.a)
			if den := d.Cross(g); den != 0 {
				if x := e.a.X + d.X*f.a.Sub(e.a).Cross(g)/den; x > max(e.a.X, f.a.X) && x < min(e.b.X, f.b.X) {
					xs = append(xs, x)
				}
			}
		}
	}
	sort.Float64s(xs)
	for i := 1; i < len(xs); i++ {
		if xs[i]-xs[i-1] < 1e-12 {
			continue
		}
		mid := (xs[i] + xs[i-1]) / 2
		type met struct {
			y float64
			e edge
		}
		var row []met
		for _, e := range edges {
			if e.a.X < mid && mid < e.b.X {
				row = append(row, met{e.a.Y + (mid-e.a.X)*(e.b.Y-e.a.Y)/(e.b.X-e.a.X), e})
			}
		}
		slices.SortFunc(row, func(p, q met) int {
			switch {
			case p.y < q.y:
				return -1
			case p.y > q.y:
				return 1
			}
			return 0
		})
		var c counts
		for k, m := range row {
			if k > 0 {
				area[classify(c)] += (m.y - row[k-1].y) * (xs[i] - xs[i-1])
			}
			c[m.e.lane] += m.e.step // an edge that runs east has ground of the outline above it
		}
	}
	area[0] = 0
	return area
}

func TestSlabsKnowWhatAPersonKnows(t *testing.T) {
	area := slabs([]Outline{
		{Line: []XY{{0, 0}, {10, 0}, {10, 10}, {0, 10}}},
		{Line: []XY{{5, 5}, {15, 5}, {15, 15}, {5, 15}}},
		{Line: []XY{{0, 0}, {0, 4}, {4, 4}, {4, 0}}, Lane: 1}, // clockwise
	}, byDepth)
	for class, want := range map[Class]float64{4: 75 + 75 - 16 + 0, 8: 25, 5: 16, 1: 0} {
		if math.Abs(area[class]-want) > 1e-9 {
			t.Errorf("class %d: %.9f m², want %.0f m²", class, area[class], want)
		}
	}
}

const areaTolerance = 1e-6 // m²: lattice steps of 15 nm along some hundred metres of boundary

// layerMoved is how far, in metres, the boundary of a layer may lie from where
// it was found: half the diagonal of the grid of an eighth of a millimetre that
// narrow places are rounded to (Arrange, property 5).
const layerMoved = 0.09e-3

// collapsed is the area in m² of slivers that rounding may close altogether: a
// few metres long, a hundredth of a millimetre wide.
const collapsed = 1e-4

// layerTolerance is what that makes of the area of a layer, in m².
func layerTolerance(layers ...[]Polygon) float64 {
	sum := areaTolerance
	for _, polys := range layers {
		for _, p := range polys {
			for _, r := range p {
				sum += layerMoved * r.Perimeter()
			}
		}
	}
	return sum
}

// engineFault says what is wrong with the answer to byDepth for some outlines,
// or nothing. It is what the random tests and the shrinker ask.
func engineFault(outlines []Outline) error {
	layers := []ClassSet{}
	for class := 1; class < 16; class++ {
		layers = append(layers, 1<<class)
	}
	const pair = 0xaaaa // lane 1 once or three times: an arbitrary mixture of classes
	layers = append(layers, pair)
	answer, err := Arrange(context.Background(), outlines, Question{
		Classify: func(l Label) Class { return byDepth(exactCounts(l)) },
		Layers:   layers, Workers: 1,
	})
	if err != nil {
		return err
	}
	want := slabs(outlines, byDepth)
	for class := 1; class < 16; class++ {
		if !(math.Abs(answer.Area[class]-want[class]) <= areaTolerance) {
			return fmt.Errorf("class %d: %.9f m², slabs say %.9f m²", class, answer.Area[class], want[class])
		}
	}
	for i, set := range layers {
		var sum, wanted float64
		for _, p := range answer.Layers[i] {
			sum += p.Area()
			for k, r := range p {
				if (k == 0) != (r.Area() > 0) {
					return fmt.Errorf("layer %d: ring %d of a polygon runs the wrong way: %v", i, k, r)
				}
			}
		}
		for class := 1; class < 16; class++ {
			if set&(1<<class) != 0 {
				wanted += want[class]
			}
		}
		// What was dropped was narrower than the grid it was rounded to; some
		// slivers vanish in rounding.
		if !(math.Abs(sum+answer.Dropped[i]-wanted) <= layerTolerance(answer.Layers[i])+answer.Dropped[i]+collapsed) {
			return fmt.Errorf("layer %d: polygons %.9f m² and dropped %.9f m², slabs say %.9f m²", i, sum, answer.Dropped[i], wanted)
		}
		if err := invalid(answer.Layers[i]); err != nil {
			return fmt.Errorf("layer %d: %w: %v", i, err, answer.Layers[i])
		}
	}
	return nil
}

// shrink takes away outlines and points while the fault stays.
func shrink(outlines []Outline, fault func([]Outline) error) []Outline {
	for again := true; again; {
		again = false
		for i := 0; i < len(outlines); i++ {
			if less := slices.Delete(slices.Clone(outlines), i, i+1); fault(less) != nil {
				outlines, again = less, true
				i--
				continue
			}
			for k := 0; k < len(outlines[i].Line); k++ {
				less := slices.Clone(outlines)
				less[i].Line = slices.Delete(slices.Clone(less[i].Line), k, k+1)
				if fault(less) != nil {
					outlines, again = less, true
					k--
				}
			}
		}
	}
	return outlines
}

func TestShrinkFindsTheOutlineAtFault(t *testing.T) {
	bad := XY{7, 7}
	fault := func(outlines []Outline) error {
		for _, o := range outlines {
			if slices.Contains(o.Line, bad) {
				return fmt.Errorf("bad")
			}
		}
		return nil
	}
	rng := rand.New(rand.NewPCG(1, 1))
	outlines := coarseOutlines(rng, 5)
	outlines = append(outlines, Outline{Line: []XY{{1, 1}, bad, {2, 9}}})
	if got := shrink(outlines, fault); len(got) != 1 || len(got[0].Line) != 1 {
		t.Errorf("shrunk to %v, want the one bad point", got)
	}
}

func testRandom(t *testing.T, rounds int, make func(*rand.Rand) []Outline) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 3))
	for round := range rounds {
		outlines := make(rng)
		if engineFault(outlines) != nil {
			small := shrink(outlines, engineFault)
			t.Fatalf("seed %d round %d: %v\n%#v", seed, round, engineFault(small), small)
		}
	}
}

func TestArrangeAgainstSlabs(t *testing.T) {
	t.Run("general position", func(t *testing.T) {
		testRandom(t, 300, func(rng *rand.Rand) []Outline { return wildOutlines(rng, 1+rng.IntN(5), 100) })
	})
	t.Run("coarse grid", func(t *testing.T) {
		testRandom(t, 1500, func(rng *rand.Rand) []Outline { return coarseOutlines(rng, 1+rng.IntN(6)) })
	})
	// Turned by an odd angle what lay on one line misses it by a lattice step.
	t.Run("coarse grid, turned", func(t *testing.T) {
		testRandom(t, 800, func(rng *rand.Rand) []Outline {
			angle := 2 * math.Pi * rng.Float64()
			return mapped(coarseOutlines(rng, 1+rng.IntN(5)), func(p XY) XY { return Snap(rotate(p, angle)) })
		})
	})
}

// mapped moves every point of every outline.
func mapped(outlines []Outline, f func(XY) XY) []Outline {
	out := make([]Outline, len(outlines))
	for i, o := range outlines {
		out[i] = Outline{Lane: o.Lane, Line: make([]XY, len(o.Line))}
		for k, p := range o.Line {
			out[i].Line[k] = f(p)
		}
	}
	return out
}

// What must not change the answer: the order of outlines, the number of
// workers, quarter turns, moving, turning round every outline (all counts change
// their sign), where an outline begins.
func TestArrangeMetamorphic(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 4))
	classify := func(l Label) Class { return byDepth(exactCounts(l)) }
	q := Question{Classify: classify, Layers: []ClassSet{1 << 4, 1<<1 | 1<<5, 0xfffe}, Workers: 1}
	for round := range 200 {
		outlines := coarseOutlines(rng, 2+rng.IntN(5))
		if round%2 == 0 {
			outlines = wildOutlines(rng, 2+rng.IntN(4), 50)
		}
		base := mustArrange(t, outlines, q)
		for _, workers := range []int{0, 2, 7} {
			many := q
			many.Workers = workers
			if got := mustArrange(t, outlines, many); !sameAnswer(got, base) {
				t.Fatalf("seed %d round %d: %d workers change the answer of %#v", seed, round, workers, outlines)
			}
		}
		shuffled := slices.Clone(outlines)
		rng.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		begun := mapped(outlines, func(p XY) XY { return p })
		back := mapped(outlines, func(p XY) XY { return p })
		for i := range begun {
			k := rng.IntN(len(begun[i].Line))
			begun[i].Line = append(begun[i].Line[k:], begun[i].Line[:k]...)
			slices.Reverse(back[i].Line)
		}
		for name, same := range map[string][]Outline{
			"other order":        shuffled,
			"other beginnings":   begun,
			"turned round":       back,
			"quarter turn":       mapped(outlines, XY.Left),
			"half turn":          mapped(outlines, func(p XY) XY { return p.Scale(-1) }),
			"moved":              mapped(outlines, func(p XY) XY { return p.Add(XY{1234.5, -8765.25}) }),
			"mirrored (y = x)":   mapped(outlines, func(p XY) XY { return XY{p.Y, p.X} }),
			"moved by a lattice": mapped(outlines, func(p XY) XY { return p.Add(XY{1.0 / lattice, 3.0 / lattice}) }),
		} {
			got := mustArrange(t, same, q)
			for class := 1; class < 16; class++ {
				if !(math.Abs(got.Area[class]-base.Area[class]) <= areaTolerance) {
					t.Fatalf("seed %d round %d, %s: class %d has %.9f m² instead of %.9f m²: %#v", seed, round, name, class, got.Area[class], base.Area[class], outlines)
				}
			}
			for i := range q.Layers {
				if a, b := layerArea(got.Layers[i])+got.Dropped[i], layerArea(base.Layers[i])+base.Dropped[i]; !(math.Abs(a-b) <= layerTolerance(got.Layers[i], base.Layers[i])) {
					t.Fatalf("seed %d round %d, %s: layer %d has %.9f m² instead of %.9f m²: %#v", seed, round, name, i, a, b, outlines)
				}
			}
		}
	}
}

func sameAnswer(a, b Answer) bool {
	x, errA := json.Marshal(a)
	y, errB := json.Marshal(b)
	return errA == nil && errB == nil && string(x) == string(y)
}

func layerArea(polys []Polygon) (sum float64) {
	for _, p := range polys {
		sum += p.Area()
	}
	return sum
}

// The independent engine: simplefeatures overlays the same valid polygons.
func TestBooleanAgainstIndependentEngine(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 5))
	ctx := context.Background()
	rounds, asked, failed := 0, 0, 0
	defer func() {
		if 50*failed > asked {
			t.Errorf("the independent engine failed on %d of %d questions: must be at most 2 %%", failed, asked)
		}
	}()
	for rounds < 150 {
		make := func() []Polygon {
			var rings []Ring
			for _, o := range coarseOutlines(rng, 1+rng.IntN(3)) {
				rings = append(rings, o.Line)
			}
			polys, err := Mend(rings)
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
			return polys
		}
		a, b := make(), make()
		fa, fb := toFeatures(a), toFeatures(b)
		if err := invalid(a); err != nil {
			t.Fatalf("seed %d: mended polygons: %v: %v", seed, err, a)
		}
		if invalid(b) != nil || len(a) == 0 || len(b) == 0 {
			continue
		}
		rounds++
		for name, op := range map[string]struct {
			ours   func(context.Context, []Polygon, []Polygon) ([]Polygon, error)
			theirs func(a, b geom.Geometry) (geom.Geometry, error)
		}{
			"union":                {Union, geom.Union},
			"intersection":         {Intersection, geom.Intersection},
			"difference":           {Difference, geom.Difference},
			"symmetric difference": {SymDifference, geom.SymmetricDifference},
			"split, in":            {splitIn, geom.Intersection},
			"split, out":           {splitOut, geom.Difference},
		} {
			got, err := op.ours(ctx, a, b)
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
			// The independent engine now and then fails on its own valid input; that
			// says nothing of ours, but must stay rare.
			asked++
			want, err := op.theirs(fa.AsGeometry(), fb.AsGeometry())
			if err != nil {
				t.Logf("seed %d: the independent engine: %s: %v", seed, name, err)
				failed++
				continue
			}
			if g, w := layerArea(got), want.Area(); math.Abs(g-w) > layerTolerance(got) {
				t.Fatalf("seed %d: %s of\n%v and\n%v: %.6f m², the independent engine says %.6f m²", seed, name, a, b, g, w)
			}
			if err := invalid(got); err != nil {
				t.Fatalf("seed %d: %s of\n%v and\n%v: %v", seed, name, a, b, err)
			}
			// Same area and yet elsewhere?
			apart, err := geom.SymmetricDifference(toFeatures(got).AsGeometry(), want)
			if err != nil {
				t.Logf("seed %d: the independent engine: %v", seed, err)
				failed++
				continue
			}
			if apart.Area() > layerTolerance(got) {
				t.Fatalf("seed %d: %s of\n%v and\n%v: %.6f m² lie elsewhere", seed, name, a, b, apart.Area())
			}
		}
	}
}

func toFeature(p Polygon) geom.Polygon {
	rings := make([]geom.LineString, len(p))
	for i, r := range p {
		flat := make([]float64, 0, 2*len(r)+2)
		for _, v := range append(slices.Clone(r), r[0]) {
			flat = append(flat, v.X, v.Y)
		}
		rings[i] = geom.NewLineString(geom.NewSequence(flat, geom.DimXY))
	}
	return geom.NewPolygon(rings)
}

// invalid asks the independent engine whether polygons are valid together:
// closed rings that do not cross themselves or each other, holes inside,
// interiors apart. (It panics on some that are not.)
func invalid(polys []Polygon) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("the independent engine panics: %v", r)
		}
	}()
	return toFeatures(polys).Validate()
}

func toFeatures(polys []Polygon) geom.MultiPolygon {
	out := make([]geom.Polygon, len(polys))
	for i, p := range polys {
		out[i] = toFeature(p)
	}
	return geom.NewMultiPolygon(out)
}

func fromFeature(g geom.Geometry) (polys []Polygon) {
	for _, part := range g.Dump() {
		if !part.IsPolygon() {
			continue // points and lines hold no ground
		}
		var p Polygon
		for _, ring := range part.MustAsPolygon().DumpRings() {
			seq := ring.Coordinates()
			var r Ring
			for i := range seq.Length() - 1 {
				xy := seq.GetXY(i)
				r = append(r, XY{xy.X, xy.Y})
			}
			p = append(p, r)
		}
		if len(p) > 0 {
			polys = append(polys, p)
		}
	}
	return polys
}

// Published overlay cases with their areas: see check/README.md of the data kept
// outside the repository for where they come from.
func TestPublishedOverlayAreas(t *testing.T) {
	data, err := os.ReadFile(check.Shared(t, "check", "overlay", "overlay_simple_areas.json"))
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		File string
		Case int
		Op   string
		Args []string
		A, B string
		Area float64
	}
	if err := json.Unmarshal(data, &cases); err != nil {
		t.Fatal(err)
	}
	if len(cases) < 100 {
		t.Fatalf("%d cases, want at least 100", len(cases))
	}
	for _, c := range cases {
		t.Run(fmt.Sprintf("%s %d %s", c.File, c.Case, c.Op), func(t *testing.T) {
			operand := func(wkt string) []Polygon {
				if wkt == "" {
					return nil
				}
				g, err := geom.UnmarshalWKT(strings.ReplaceAll(wkt, "LINEARRING", "LINESTRING"), geom.NoValidate{})
				if err != nil {
					t.Fatal(err)
				}
				return fromFeature(g)
			}
			a, b := operand(c.A), operand(c.B)
			if slices.Equal(c.Args, []string{"B", "A"}) {
				a, b = b, a
			}
			op, known := map[string]func(context.Context, []Polygon, []Polygon) ([]Polygon, error){
				"union": Union, "intersection": Intersection, "difference": Difference, "symdifference": SymDifference,
			}[c.Op]
			if !known {
				t.Fatalf("unknown operation %q", c.Op)
			}
			got, err := op(context.Background(), a, b)
			if err != nil {
				t.Fatal(err)
			}
			if area := layerArea(got); math.Abs(area-c.Area) > layerTolerance(got) {
				t.Errorf("area %.9f, want %.9f\na %s\nb %s", area, c.Area, c.A, c.B)
			}
			if err := invalid(got); err != nil {
				t.Errorf("%v: %v", err, got)
			}
		})
	}
}
