package plane

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/bits"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"balk/testdata/check"
)

func mustLay(t testing.TB, outlines []Outline) *Laid {
	t.Helper()
	l, err := Lay(t.Context(), outlines, 0)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// inBox is an outline round a rectangle.
func inBox(lane int, x0, y0, x1, y1 float64) Outline {
	o := box(x0, y0, x1, y1)
	o.Lane = lane
	return o
}

// layFault says where the kinds break a property of Lay.
func layFault(outlines []Outline, l *Laid) error {
	var around, rim float64
	for lane := range l.Kinds[0].Counts {
		var want, got float64
		for _, o := range outlines {
			if o.Lane == lane {
				want += Ring(o.Line).Area()
				rim += Ring(o.Line).Perimeter()
			}
		}
		for _, k := range l.Kinds {
			got += float64(k.Counts[lane]) * k.Area
		}
		if math.Abs(got-want) > 1e-8*(1+rim) {
			return fmt.Errorf("lane %d: %.12f m² by kinds, %.12f m² by its outlines", lane, got, want)
		}
	}
	seen := map[string]bool{}
	for _, k := range l.Kinds {
		if name := fmt.Sprint(k.Counts); seen[name] {
			return fmt.Errorf("two kinds with counts %s", name)
		} else {
			seen[name] = true
		}
		around += k.Area
	}
	if around < -1e-8 || l.Kinds[0].Area != 0 {
		return fmt.Errorf("%g m² in all, %g m² outside", around, l.Kinds[0].Area)
	}
	return nil
}

// Lane i covers the cells of a row whose number has bit i: all 2ⁿ−1 kinds are there, with one cell each. Edges of all lanes lie on each other.
func TestAllKindsOfTenLanes(t *testing.T) {
	const lanes, high = 10, 3.0
	for _, angle := range []float64{0, 0.3} {
		var outlines []Outline
		for lane := range lanes {
			wide := 1 << lane
			for x := wide; x < 1<<lanes; x += 2 * wide {
				outlines = append(outlines, inBox(lane, float64(x), 0, float64(x+wide), high))
			}
		}
		outlines = mapped(outlines, func(p XY) XY { return Snap(rotate(p, angle)) })
		l := mustLay(t, outlines)
		if err := layFault(outlines, l); err != nil {
			t.Error(err)
		}
		found := 0
		for _, k := range l.Kinds[1:] {
			for _, c := range k.Counts {
				if c != 0 && c != 1 && k.Area > 1e-4 {
					t.Errorf("counts %v", k.Counts)
				}
			}
			if k.Area > 1e-4 { // turned, corners are moved by the lattice
				found++
				if math.Abs(k.Area-high) > 1e-5 {
					t.Errorf("turned by %g: %v has %.9f m², want %g m²", angle, k.Counts, k.Area, high)
				}
			}
		}
		if found != 1<<lanes-1 {
			t.Errorf("turned by %g: %d kinds with ground, want %d", angle, found, 1<<lanes-1)
		}
	}
}

// Two sets of strips cross at right angles, each strip in a lane of its own: a strip and one across share 2 · 3 m², and each keeps what the others leave.
func TestCrossingStrips(t *testing.T) {
	const along, across = 12, 9
	var outlines []Outline
	for i := range along {
		outlines = append(outlines, inBox(i, -5, 4*float64(i), 5*across, 4*float64(i)+2))
	}
	for j := range across {
		outlines = append(outlines, inBox(along+j, 5*float64(j), -5, 5*float64(j)+3, 4*along))
	}
	l := mustLay(t, outlines)
	if err := layFault(outlines, l); err != nil {
		t.Error(err)
	}
	if len(l.Kinds) != 1+along*across+along+across || l.Crossings != 4*along*across {
		t.Errorf("%d kinds, %d crossings", len(l.Kinds), l.Crossings)
	}
	for _, k := range l.Kinds[1:] {
		var lanes []int
		for lane, c := range k.Counts {
			if c == 1 {
				lanes = append(lanes, lane)
			} else if c != 0 {
				t.Errorf("counts %v", k.Counts)
			}
		}
		want := 2.0 * 3
		if len(lanes) == 1 && lanes[0] < along {
			want = 2 * (5*across + 5 - 3*across)
		} else if len(lanes) == 1 {
			want = 3 * (4*along + 5 - 2*along)
		}
		if math.Abs(k.Area-want) > 1e-9 {
			t.Errorf("lanes %v: %.12f m², want %g m²", lanes, k.Area, want)
		}
	}
}

// Three discs of radius r, each through the middles of the others: all three share a Reuleaux triangle, (π − √3)/2·r², two of them a lens, (2π/3 − √3/2)·r².
func TestThreeDiscs(t *testing.T) {
	const r, corners = 100.0, 1 << 14
	disc := func(lane int, at XY) (o Outline) {
		o.Lane = lane
		for k := range corners {
			s, c := math.Sincos(2 * math.Pi * (float64(k) + 0.5) / corners)
			o.Line = append(o.Line, at.Add(XY{r * c, r * s}))
		}
		return o
	}
	outlines := []Outline{disc(0, XY{}), disc(5, XY{r, 0}), disc(7, XY{r / 2, r * math.Sqrt(3) / 2})}
	l := mustLay(t, outlines)
	if err := layFault(outlines, l); err != nil {
		t.Error(err)
	}
	all, lens := (math.Pi-math.Sqrt(3))/2*r*r, (2*math.Pi/3-math.Sqrt(3)/2)*r*r
	want := []float64{0, math.Pi*r*r - 2*lens + all, lens - all, all}
	if len(l.Kinds) != 8 {
		t.Fatalf("%d kinds, want 8", len(l.Kinds))
	}
	for _, k := range l.Kinds {
		n := k.Counts[0] + k.Counts[5] + k.Counts[7]
		if math.Abs(k.Area-want[n]) > 2e-7*math.Pi*r*r { // what the corners cut off a disc
			t.Errorf("%v: %.6f m², want %.6f m²", k.Counts, k.Area, want[n])
		}
	}
}

// inLanes puts outlines into lanes at random.
func inLanes(rng *rand.Rand, outlines []Outline, lanes int) []Outline {
	for i := range outlines {
		outlines[i].Lane = rng.IntN(lanes)
	}
	return outlines
}

// Any two lanes out of many have the areas that the slow exact engine and, coarsely, the raster find for them.
func TestLayAgainstSlabs(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 21))
	const lanes = 9
	for round := range 250 {
		outlines := coarseOutlines(rng, 2+rng.IntN(12))
		if round%2 == 0 {
			outlines = wildOutlines(rng, 2+rng.IntN(8), 60)
		}
		outlines = inLanes(rng, outlines, lanes)
		l := mustLay(t, outlines)
		if err := layFault(outlines, l); err != nil {
			t.Fatalf("seed %d round %d: %v", seed, round, err)
		}
		lane := rng.Perm(lanes)[:2]
		var two []Outline
		for _, o := range outlines {
			if k := slices.Index(lane, o.Lane); k >= 0 {
				two = append(two, Outline{o.Line, k})
			}
		}
		want := slabs(two, byDepth)
		var got [16]float64
		for _, k := range l.Kinds {
			var c counts
			for i, n := range lane {
				if n < len(k.Counts) {
					c[i] = k.Counts[n]
				}
			}
			got[byDepth(c)] += k.Area
		}
		for class := 1; class < 16; class++ {
			if !(math.Abs(got[class]-want[class]) <= areaTolerance) {
				t.Fatalf("seed %d round %d: lanes %v, class %d: %.9f m², slabs say %.9f m²", seed, round, lane, class, got[class], want[class])
			}
		}
		if round < 20 && len(two) > 0 {
			if class, diff, bound, differs := rasterDiffers(got, two, 0.05, byDepth); differs {
				t.Fatalf("seed %d round %d: class %d differs by %.3f m², bound %.3f m²", seed, round, class, diff, bound)
			}
		}
	}
}

// With four lanes both doors give the same areas and the very same polygons.
func TestLayIsArrangeWithMoreLanes(t *testing.T) {
	op := newOperation(4000, 2)
	layers := []ClassSet{missedLayer, doubleLayer, 1 << onceClass}
	want := mustArrange(t, op.outlines, Question{Classify: balanceClass, Layers: layers})
	l := mustLay(t, op.outlines)
	class := func(c []int) Class {
		var four counts
		copy(four[:], c)
		return balanceOf(four)
	}
	var got [16]float64
	for _, k := range l.Kinds[1:] {
		got[class(k.Counts)] += k.Area
	}
	got[0] = 0
	for c := range got {
		if math.Abs(got[c]-want.Area[c]) > 1e-9*Ring(op.outlines[0].Line).Area() {
			t.Errorf("class %d: %.9f m², want %.9f m²", c, got[c], want.Area[c])
		}
	}
	for i, set := range layers {
		drawn, err := l.Draw(t.Context(), func(c []int) bool { return set>>class(c)&1 != 0 })
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(drawn.Polygons, want.Layers[i]) || drawn.Dropped != want.Dropped[i] {
			t.Errorf("layer %d is drawn otherwise", i)
		}
	}
	if l.Crossings != want.Crossings {
		t.Errorf("%d crossings, want %d", l.Crossings, want.Crossings)
	}
}

func TestLayHangsOnNeitherOrderNorWorkers(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 22))
	outlines := inLanes(rng, wildOutlines(rng, 40, 300), 20)
	want, err := Lay(t.Context(), outlines, 1)
	if err != nil {
		t.Fatal(err)
	}
	rng.Shuffle(len(outlines), func(i, k int) { outlines[i], outlines[k] = outlines[k], outlines[i] })
	got, err := Lay(t.Context(), outlines, 3)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got.Kinds, want.Kinds) {
		t.Error("other kinds")
	}
}

// A spoiled weight makes different ground look alike, or ground that no way leads to. Neither becomes an answer.
func TestSpoiledWeights(t *testing.T) {
	outlines := []Outline{inBox(0, 0, 0, 10, 10), inBox(1, 5, 5, 15, 15), inBox(2, 8, -3, 12, 20), inBox(3, 1, 1, 2, 2), inBox(3, 20, 0, 22, 2), inBox(4, 9, 9, 9.5, 9.5)}
	if _, err := layWith(t.Context(), outlines, 1, scattered); err != nil {
		t.Fatal(err)
	}
	for name, spoiled := range map[string]func(lane int) uint64{
		"two lanes alike": func(lane int) uint64 { return scattered(lane % 3) },
		"a lane as two others": func(lane int) uint64 {
			return [5]uint64{1: scattered(1), 2: scattered(2), 3: scattered(3), 4: scattered(4), 0: scattered(1) + scattered(2)}[lane]
		},
		"a lane without a weight": func(lane int) uint64 { return scattered(lane) * uint64(min(lane, 1)) },
		"four bits a lane only":   func(lane int) uint64 { return 1 << (60 + lane) },
	} {
		if l, err := layWith(t.Context(), outlines, 1, spoiled); err == nil || !strings.HasPrefix(err.Error(), "internal: ") {
			t.Errorf("%s: %v, %v", name, l, err)
		}
	}
	// One outline alone has another weight than its lane.
	l := &Laid{a: &arrangement{lanes: 5, weigh: scattered}}
	a := l.a
	if err := a.load(outlines, 1); err != nil {
		t.Fatal(err)
	}
	a.weight[0] += 1 << bits.Len(7)
	a.frame()
	a.chop()
	a.index()
	if err := a.find(t.Context()); err != nil {
		t.Fatal(err)
	}
	a.gather()
	if err := a.label(); err != nil {
		t.Fatal(err) // its crossings agree: the weight is as good as any
	}
	s := sortingOf(a, 5)
	s.sort()
	if _, err := s.counts(); err == nil {
		t.Error("an outline of another weight than its lane: not noticed")
	}
}

func TestLayRefuses(t *testing.T) {
	if _, err := Lay(t.Context(), []Outline{inBox(-1, 0, 0, 1, 1)}, 1); err == nil || !strings.Contains(err.Error(), "lane -1") {
		t.Error(err)
	}
	stopped, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Lay(stopped, []Outline{box(0, 0, 1, 1)}, 1); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	l := mustLay(t, []Outline{box(0, 0, 1, 1)})
	if _, err := l.Draw(t.Context(), func([]int) bool { return true }); err == nil {
		t.Error("the unbounded outside is drawn")
	}
	if l = mustLay(t, nil); len(l.Kinds) != 1 {
		t.Errorf("%d kinds of nothing", len(l.Kinds))
	}
	if d, err := l.Draw(t.Context(), func([]int) bool { return false }); err != nil || d.Polygons != nil {
		t.Error(d, err)
	}
}

// BenchmarkLay is BenchmarkArrange through the door that counts all lanes.
func BenchmarkLay(b *testing.B) {
	for _, fixes := range []int{15_000, 150_000} {
		b.Run(fmt.Sprintf("fixes=%d", fixes), func(b *testing.B) {
			op := newOperation(fixes, 1)
			field := Ring(op.outlines[0].Line).Area()
			in := 0.0
			for b.Loop() {
				l := mustLay(b, op.outlines)
				in = 0
				for _, k := range l.Kinds {
					if k.Counts[op.outlines[0].Lane] > 0 {
						in += k.Area
					}
				}
			}
			if math.Abs(in-field) > 1e-9*field {
				b.Fatalf("ground of the field %.6f m², counted %.6f m²", field, in)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(op.fixes), "ns/fix")
		})
	}
}
