package plane

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"balk/testdata/check"
)

// vergeField is a field by turns of few corners, dense, walked, with a hole that is dense, or with one drawn as a fine arc.
func vergeField(t *testing.T, rng *rand.Rand, round int) Polygon {
	n := denseRing + rng.IntN(1500)
	switch round % 5 {
	case 0:
		return randomField(rng)
	case 1:
		return Polygon{noisyRing(rng, n, 0.3*rng.Float64())}
	case 2:
		return Polygon{walkedRing(t, rng, n)}
	case 3:
		hole := noisyRing(rng, n, 0.05)
		for i, p := range hole {
			hole[i] = Snap(p.Scale(0.2))
		}
		return Polygon{noisyRing(rng, n, 0.02), backwards(hole)}
	}
	var hole Ring
	radius, shift := 3+9*rng.Float64(), rng.Float64()
	for i := range 300 {
		a := -2 * math.Pi * (float64(i) + shift) / 300
		hole = append(hole, Snap(XY{math.Cos(a), math.Sin(a)}.Scale(radius)))
	}
	return Polygon{rectangle(-40, -40, 40, 40)[0], hole}
}

// Within boxes drawn along the boundary, the ground that verges asked for them leave is what the inset leaves, place by place.
func TestVergesAreWhatAnInsetTakesOff(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 21))
	const laneBox, laneVerge, laneInset = 1, 2, 3
	open, taken := 0, 0.0
	for round := range 60 {
		field := []Polygon{vergeField(t, rng, round)}
		depth := math.Exp(math.Log(0.02) + rng.Float64()*math.Log(12/0.02))
		inset, err := InsetRings(t.Context(), field, depth)
		if err != nil {
			t.Fatal(err)
		}
		var boxes []Box
		for range 1 + rng.IntN(4) {
			ring := field[0][rng.IntN(len(field[0]))]
			at := ring[rng.IntN(len(ring))]
			boxes = append(boxes, Box{at, at}.Grown(0.01+8*rng.Float64()))
		}
		meets := func(b Box) bool {
			for _, one := range boxes {
				if one.Meets(b) {
					return true
				}
			}
			return false
		}
		verges, err := Verges(field, depth, laneVerge, meets)
		if err != nil {
			t.Fatal(err)
		}
		if len(verges) != 2*len(appendPolygon(nil, field[0], 0)) {
			open++
		}
		outlines := append(appendPolygons(nil, field, laneField), verges...)
		for _, b := range boxes {
			outlines = append(outlines, Outline{Line: rectangle(b.Min.X, b.Min.Y, b.Max.X, b.Max.Y)[0], Lane: laneBox})
		}
		for _, r := range inset {
			outlines = append(outlines, Outline{Line: r, Lane: laneInset})
		}
		const alike, unlike, off = 1, 2, 3
		got := mustArrange(t, outlines, Question{Classify: func(l Label) Class {
			if l.Count(laneField) <= 0 || l.Count(laneBox) <= 0 {
				return 0
			}
			switch verge, in := l.Count(laneVerge) > 0, l.Count(laneInset) > 0; {
			case verge == in:
				return unlike
			case verge:
				return off
			}
			return alike
		}})
		// Each may have its own tangents along arcs, up to chordError from them.
		length := 0.0
		for _, r := range inset {
			for _, s := range r.Sides() {
				if meets(s.Box()) {
					length += s.A.Dist(s.B)
				}
			}
		}
		taken += got.Area[off]
		if allowed := (chordError+layerMoved)*(length+1) + 1e-6; got.Area[unlike] > allowed {
			t.Errorf("seed %d round %d: depth %g m: %g m² where verges and inset differ, allowed %g m²", seed, round, depth, got.Area[unlike], allowed)
		}
	}
	if open < 20 || taken < 100 {
		t.Errorf("seed %d: %d pieces of boundary, %g m² of verges: too few to say anything", seed, open, taken)
	}
}

// In closed form: the verge of a square along a stretch of one side is its depth deep, and round the corner of an obstacle a quarter of a disc.
func TestVergesInClosedForm(t *testing.T) {
	field := []Polygon{{rectangle(0, 0, 100, 100)[0], backwards(rectangle(40, 40, 60, 60)[0])}}
	for _, c := range []struct {
		name  string
		asked Box
		want  float64 // m² of it within 3 m of the boundary
	}{
		{"along a side", Box{XY{10, 0}, XY{30, 10}}, 20 * 3},
		{"in the corner", Box{XY{0, 0}, XY{10, 10}}, 10*3 + 7*3},
		{"round the corner of the obstacle", Box{XY{30, 30}, XY{40, 40}}, math.Pi * 9 / 4},
		{"in the middle of nowhere", Box{XY{10, 10}, XY{30, 30}}, 0},
	} {
		verges, err := Verges(field, 3, 1, c.asked.Meets)
		if err != nil {
			t.Fatal(err)
		}
		outlines := append(verges, Outline{Line: rectangle(c.asked.Min.X, c.asked.Min.Y, c.asked.Max.X, c.asked.Max.Y)[0]})
		got := mustArrange(t, outlines, Question{Classify: func(l Label) Class {
			if l.Count(0) > 0 && l.Count(1) > 0 {
				return 1
			}
			return 0
		}})
		if math.Abs(got.Area[1]-c.want) > chordError*math.Pi*3/2+1e-6 {
			t.Errorf("%s: %g m², want %g m²", c.name, got.Area[1], c.want)
		}
		if c.want == 0 && len(verges) > 0 {
			t.Errorf("%s: %d outlines for nothing", c.name, len(verges))
		}
	}
	for _, depth := range []float64{-1, math.NaN(), 2 * Limit} {
		if _, err := Verges(field, depth, 1, Box{}.Meets); err == nil {
			t.Errorf("a depth of %g m was taken", depth)
		}
	}
}

// The ends of a piece of a ring stay where they are, though they lie close together and the disc hangs over either.
func TestEndsOfAPieceStay(t *testing.T) {
	ring := noisyRing(rand.New(rand.NewPCG(5, 21)), 2*denseRing, 0.3)
	rolled := 0
	for from := range 40 {
		line := append(append([]XY{}, ring[from:]...), ring[:from]...)
		bends := bendsOf(line, true, 5)
		rolled += len(line) - len(bends)
		if n := len(bends); bends[0].at != line[0] || bends[n-1].at != line[len(line)-1] {
			t.Errorf("begun at corner %d: from %v to %v, want %v to %v", from, bends[0].at, bends[n-1].at, line[0], line[len(line)-1])
		}
	}
	if rolled < 40*denseRing {
		t.Errorf("only %d corners were rolled over: too few to say anything", rolled)
	}
}

// BenchmarkVerges asks for the ground along one side of a square whose sides waver by a centimetre, and along the boundary of all of it. Its corners
// are always as far apart: nearer ones hide more of each other's arcs, so that a denser boundary takes more for each corner.
func BenchmarkVerges(b *testing.B) {
	const apart, depth = 0.004, 0.02
	for _, asked := range []struct {
		name string
		in   Box // of a square of 1 m
	}{{"side", Box{XY{-0.001, 0.1}, XY{0.001, 0.9}}}, {"all", Box{XY{-0.001, -0.001}, XY{1.001, 1.001}}}} {
		for _, n := range []int{10_000, 100_000, 1_000_000} {
			b.Run(fmt.Sprintf("%s/corners=%d", asked.name, n), func(b *testing.B) {
				long := apart * float64(n) / 4
				in := Box{asked.in.Min.Scale(long), asked.in.Max.Scale(long)}
				rng := rand.New(rand.NewPCG(1, 22))
				var ring Ring
				for k := range n {
					along, out := 4*long*float64(k%(n/4))/float64(n), 0.01*(2*rng.Float64()-1)
					if k%(n/4) == 0 {
						out = 0
					}
					ring = append(ring, Snap([4]XY{{along, out}, {long + out, along}, {long - along, long + out}, {out, long - along}}[4*k/n]))
				}
				used := check.CPUTime(b)
				for b.Loop() {
					got, err := Verges([]Polygon{{ring}}, depth, 1, in.Meets)
					if err != nil || len(got) == 0 {
						b.Fatal(len(got), err)
					}
				}
				reportEach(b, n, "corner", check.CPUTime(b)-used)
			})
		}
	}
}
