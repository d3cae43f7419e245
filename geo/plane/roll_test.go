package plane

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/testdata/check"
)

// noisyRing is a field with so many corners whose boundary wavers by noise, m, across it: invented, as a boundary is that was
// walked, or drawn along the pixels of a picture.
func noisyRing(rng *rand.Rand, corners int, noise float64) Ring {
	r := make(Ring, 0, corners)
	lobes, deep := 2+rng.IntN(9), 0.3*rng.Float64()
	for i := range corners {
		a := 2 * math.Pi * float64(i) / float64(corners)
		r = append(r, Snap(XY{math.Cos(a), math.Sin(a)}.Scale(60*(1+deep*math.Sin(float64(lobes)*a))+noise*(2*rng.Float64()-1))))
	}
	return r
}

// walkedRing is a boundary whose points waver along it too, by more than they are apart: what is left of it after mending.
func walkedRing(t *testing.T, rng *rand.Rand, corners int) Ring {
	t.Helper()
	noise := 2 * math.Pi * 40 / float64(corners) * (0.3 + 3*rng.Float64())
	var r Ring
	for i := range corners {
		a := 2 * math.Pi * float64(i) / float64(corners)
		r = append(r, XY{40*math.Cos(a) + noise*rng.NormFloat64(), 40*math.Sin(a) + noise*rng.NormFloat64()})
	}
	polys, err := Mend([]Ring{r})
	if err != nil {
		t.Fatal(err)
	}
	return slices.MaxFunc(polys, func(a, b Polygon) int { return cmp.Compare(a.Area(), b.Area()) })[0]
}

// edgeByEdge is the line pulled in along every edge, as it is for rings of few corners.
func edgeByEdge(t *testing.T, polys []Polygon, depth float64) []Polygon {
	t.Helper()
	var outlines []Outline
	for _, p := range polys {
		for _, o := range appendPolygon(nil, p, laneField) {
			outlines = append(outlines, o, Outline{Line: pulledAlong(bendsAt(o.Line, upTo(len(o.Line)), false, depth), depth, nil), Lane: laneLess})
		}
	}
	kept, err := selectWhere(t.Context(), outlines, beyondStrip)
	if err != nil {
		t.Fatal(err)
	}
	return kept
}

// What a disc rolls over makes no difference: the inset of a dense boundary is the one that strips along all its edges leave, and
// every place is kept or not by its distance from the boundary.
func TestInsetOfDenseRings(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 9))
	hidden := 0
	for round := range 15 {
		n := denseRing + rng.IntN(1500)
		field := Polygon{noisyRing(rng, n, [3]float64{0, 0.02, 0.3}[rng.IntN(3)]*rng.Float64())}
		switch round % 3 {
		case 1:
			field = Polygon{walkedRing(t, rng, 2*n)}
		case 2:
			hole := noisyRing(rng, n, 0.05)
			for i, p := range hole {
				hole[i] = Snap(p.Scale(0.2))
			}
			field = append(field, backwards(hole))
		}
		depth := 1 + 14*rng.Float64()
		for _, r := range field {
			hidden += len(r) - len(bendsOf(r, false, depth))
		}
		got, err := Inset(t.Context(), []Polygon{field}, depth)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if err := invalid(got); err != nil {
			t.Fatalf("seed %d round %d: %v", seed, round, err)
		}
		want := edgeByEdge(t, []Polygon{field}, depth)
		onlyGot, onlyWant, _, err := Shared(t.Context(), got, want)
		if err != nil {
			t.Fatal(err)
		}
		// Each has its own tangents along the arcs, up to chordError from them.
		allowed := 0.0
		for _, p := range want {
			allowed += (chordError + layerMoved) * p.Perimeter()
		}
		if onlyGot > allowed || onlyWant > allowed {
			t.Errorf("seed %d round %d: %d corners, depth %g m: %g m² more and %g m² less than edge by edge, allowed %g m²", seed, round, n, depth, onlyGot, onlyWant, allowed)
		}
		for range 300 {
			x := XY{200*rng.Float64() - 100, 200*rng.Float64() - 100}
			far := slowDistance(field, x)
			in := insideAny(got, x)
			if wanted := insideSlow(field, x) && far >= depth; in != wanted && math.Abs(far-depth) > chordError+layerMoved {
				t.Fatalf("seed %d round %d: %v, %.4f m from the boundary, in the inset by %.4f m: %v", seed, round, x, far, depth, in)
			}
		}
	}
	if hidden < 5000 {
		t.Errorf("seed %d: only %d corners were rolled over: too few to say anything", seed, hidden)
	}
}

// Arcs drawn in fine steps do not become fans of lines that all cross each other, whatever the steps and however near the radius of
// the arc is to that of the disc. What lies beyond a disc of radius r from ground with a round hole of radius R is a disc of radius
// R − r (closed form).
func TestArcsDoNotFan(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 12))
	const radius = 10.0
	for _, n := range []int{40, 300, 1200} {
		for _, ratio := range []float64{0.3, 0.8, 0.97, 1.004, 1.02, 1.3, 1.9, 2.5} {
			var hole Ring
			shift := rng.Float64()
			for i := range n {
				uneven := 0.25 * float64(i%2) // edges are short and long by turns
				a := 2 * math.Pi * (float64(i) + uneven + shift) / float64(n)
				hole = append(hole, Snap(XY{math.Cos(a), math.Sin(a)}.Scale(-radius)))
			}
			core := []Polygon{{rectangle(-30, -30, 30, 30)[0], hole}}
			field := []Polygon{rectangle(-30, -30, 30, 30)}
			if crossings := crossingsBeyond(t, field, core, ratio*radius); crossings > 100*n {
				t.Errorf("seed %d: %d corners, a disc of %g times their radius: %d crossings", seed, n, ratio, crossings)
			}
			got, err := Beyond(t.Context(), field, core, ratio*radius)
			if err != nil {
				t.Fatalf("seed %d: %d corners, a disc of %g times their radius: %v", seed, n, ratio, err)
			}
			left := max(0, 1-ratio) * radius
			sagitta := radius * (1 - math.Cos(0.625*2*math.Pi/float64(n)))
			if want := math.Pi * left * left; math.Abs(layerArea(got)-want) > 2*math.Pi*left*(sagitta+chordError)+layerTolerance(got) {
				t.Errorf("seed %d: %d corners, a disc of %g times their radius: %g m² beyond, want %g m²", seed, n, ratio, layerArea(got), want)
			}
		}
	}
}

// crossingsBeyond counts how often the outlines cross that Beyond lays out.
func crossingsBeyond(t *testing.T, polys, core []Polygon, r float64) int {
	t.Helper()
	outlines := appendPolygons(nil, polys, laneField)
	for _, o := range appendPolygons(nil, core, laneLess) {
		outlines = append(outlines, Outline{Line: pulledIn(backwards(o.Line), r), Lane: laneLess})
	}
	got, err := Arrange(t.Context(), outlines, Question{Classify: func(Label) Class { return 0 }})
	if err != nil {
		t.Fatal(err)
	}
	return got.Crossings
}

// Every pocket keeps to (1) and (2), looked at place by place, where rings overhang themselves too.
func TestPocketsAreGood(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 10))
	pockets := 0
	for round := range 10 {
		ring, radius := Ring(tidy(walkedRing(t, rng, 3000))), 0.5+5*rng.Float64()
		kept := append(touched(ring, 0, 1, false, radius), len(ring))
		for k := range len(kept) - 1 {
			from, to := kept[k], kept[k+1]
			if to == from+1 {
				continue
			}
			pockets++
			a, c := ring[from], ring[to%len(ring)]
			way := c.Sub(a)
			// √(r² − l²/4) to the left of the middle
			o := a.Lerp(c, 0.5).Add(way.Unit().Left().Scale(math.Sqrt(radius*radius - way.Dot(way)/4)))
			if way.Len() > radius {
				t.Fatalf("seed %d round %d: a pocket of %g m under a disc of %g m", seed, round, way.Len(), radius)
			}
			for i := from; i < to; i++ {
				p, q := ring[i], ring[(i+1)%len(ring)]
				for part := range 9 {
					x := p.Lerp(q, float64(part)/8)
					if left := way.Unit().Cross(x.Sub(a)); left > 1e-7 || x.Dist(o) < radius-1e-7 {
						t.Fatalf("seed %d round %d: a pocket's edge %g m left of its mouth, %g m from the disc of %g m", seed, round, left, x.Dist(o), radius)
					}
				}
			}
		}
	}
	if pockets < 1000 {
		t.Errorf("seed %d: %d pockets: too few to say anything", seed, pockets)
	}
}

// A bay behind a mouth through which the disc does not go has ground of its own where it is wide enough, and so have both sides of
// a gateway.
func TestRollingLeavesBaysAlone(t *testing.T) {
	// A square of 100 m whose south side has a bay 40 m wide and 20 m deep behind a mouth of 2 m, drawn in steps of 5 cm.
	corners := []XY{{0, 0}, {49, 0}, {49, -1}, {30, -1}, {30, -21}, {70, -21}, {70, -1}, {51, -1}, {51, 0}, {100, 0}, {100, 100}, {0, 100}}
	var r Ring
	for k, a := range corners {
		b := corners[(k+1)%len(corners)]
		for n, i := int(a.Dist(b)/0.05), 0; i < n; i++ {
			r = append(r, Snap(a.Lerp(b, float64(i)/float64(n))))
		}
	}
	for from := range 4 { // wherever the ring begins
		k := from * len(r) / 4
		turned := append(append(Ring{}, r[k:]...), r[:k]...)
		got, err := Inset(t.Context(), []Polygon{{turned}}, 5)
		if err != nil {
			t.Fatal(err)
		}
		// The square keeps 90 by 90 m, less the part of the discs round both ends of the mouth that comes up to it, which is
		// nothing between them: the mouth's sagitta of 5 − √24 m is ground that a disc over both ends reaches down to.
		s := 5 - math.Sqrt(24)
		lens := 25*math.Asin(0.2) - math.Sqrt(24) // between the chord of the mouth, seen from 5 m, and the arc of the disc
		dip := 2*s - lens
		if want := 8100 + 30*10 + dip; math.Abs(layerArea(got)-want) > 0.3 {
			t.Errorf("begun at corner %d: %.3f m², want about %.3f m²", k, layerArea(got), want)
		}
		if len(got) != 2 {
			t.Errorf("begun at corner %d: %d pieces, want the square's and the bay's", k, len(got))
		}
	}
}

// The work grows with the corners, not with their square: what is laid out has no more crossings where the boundary is denser, and few
// points beside the boundary itself.
func TestDenseRingsStaySmall(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	for _, n := range []int{3000, 30000, 300000} {
		ring := noisyRing(rng, n, 0.1*2*math.Pi*60/float64(n))
		outlines, err := insetOutlines([]Polygon{{ring}}, 4.9)
		if err != nil {
			t.Fatal(err)
		}
		a := inFourLanes()
		var ans Answer
		if err := a.solve(t.Context(), outlines, 1, func(l Label) Class { return 0 }, &ans); err != nil {
			t.Fatal(err)
		}
		if crossings := len(a.cross); crossings > 5000 {
			t.Errorf("%d corners: %d crossings", n, crossings)
		}
		if points := len(a.v); points > 3*n {
			t.Errorf("%d corners: %d points laid out", n, points)
		}
	}
}

func BenchmarkInsetDense(b *testing.B) {
	for _, n := range []int{10_000, 30_000, 100_000, 1_000_000} {
		b.Run(fmt.Sprintf("corners=%d", n), func(b *testing.B) {
			ring := noisyRing(rand.New(rand.NewPCG(1, 9)), n, min(0.05, 0.1*2*math.Pi*60/float64(n)))
			used := check.CPUTime(b)
			for b.Loop() {
				got, err := InsetRings(context.Background(), []Polygon{{ring}}, 4.9)
				if err != nil || len(got) == 0 || !(got[0].Area() < ring.Area()) {
					b.Fatal(got, err)
				}
			}
			reportEach(b, n, "corner", check.CPUTime(b)-used)
		})
	}
}
