package coverage

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"balk/geo"
	"balk/geo/plane"
)

// shares are the areas of a balance as shares of the field.
func shares(r Result) map[string]float64 {
	b := r.Balance
	m := map[string]float64{"missed": b.Missed, "unknown": b.Unknown, "once": b.Once, "twice": b.Twice, "more": b.More,
		"outside": b.Outside, "swath": b.Swath, "full missed": r.FullMissed, "headland missed": r.Headland.Missed, "headland twice": r.Headland.Twice}
	for k := range m {
		m[k] /= b.Field
	}
	return m
}

// TestNothingChangesWhen: shifting, turning, mirroring, reading backwards and
// splitting at fixes change no share of the field by more than 1e-9. Moves stay
// near the middle of the drawing, where the plane's own scale error is below that.
func TestNothingChangesWhen(t *testing.T) {
	const limit = 1e-9
	for seed := range uint64(12) {
		t.Run(fmt.Sprintf("seed=%d", seed), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(seed, 1))
			s := operation(rng)
			w := Work{Width: 5, Overlap: 0.1, Headland: 8}
			want := shares(s.check(t, w))
			if want["twice"] == 0 || want["missed"] == 0 || want["outside"] == 0 {
				t.Fatalf("the sketch is too tame: %v", want)
			}
			sin, cos := math.Sincos(rng.Float64() * 2 * math.Pi)
			for name, o := range map[string]sketch{
				"shifted":        s.moved(func(p plane.XY) plane.XY { return p.Add(plane.XY{X: 37.3, Y: -21.9}) }),
				"turned by 180°": s.moved(func(p plane.XY) plane.XY { return plane.XY{X: -p.X, Y: -p.Y} }),
				"turned":         s.moved(func(p plane.XY) plane.XY { return plane.XY{X: cos*p.X - sin*p.Y, Y: sin*p.X + cos*p.Y} }),
				"mirrored":       s.moved(func(p plane.XY) plane.XY { return plane.XY{X: -p.X, Y: p.Y} }),
				"backwards":      s.reversed(),
				"split":          s.split(rng),
			} {
				got := shares(o.check(t, w))
				for k, v := range want {
					if !(math.Abs(got[k]-v) <= limit) {
						t.Errorf("%s, %s: %.12g of the field, was %.12g (%.2g apart)", name, k, got[k], v, got[k]-v)
					}
				}
			}
		})
	}
}

// TestWeighIsCheck: in balance, headland and effort Weigh gives the very figures of Check.
func TestWeighIsCheck(t *testing.T) {
	for seed := range uint64(4) {
		s := operation(rand.New(rand.NewPCG(seed, 3)))
		for _, w := range []Work{{Width: 5, Overlap: 0.1, Headland: 8}, {Width: 5}} {
			want := s.check(t, w)
			got, err := Weigh(t.Context(), s.field(), []geo.Track{s.track()}, w)
			if err != nil {
				t.Fatal(err)
			}
			if got.Balance != want.Balance || got.Headland != want.Headland || !reflect.DeepEqual(got.Effort, want.Effort) {
				t.Errorf("seed %d, headland %g m: %+v %+v, want %+v %+v", seed, w.Headland, got.Balance, got.Headland, want.Balance, want.Headland)
			}
			if want.Balance.Missed == 0 || w.Headland > 0 && want.Headland.Missed == 0 {
				t.Errorf("seed %d: the sketch is too tame: %+v", seed, want.Balance)
			}
		}
	}
}

// TestMoreOverlapNeverLessMissed holds for the missed ground and, the other way
// round, for the ground outside.
func TestMoreOverlapNeverLessMissed(t *testing.T) {
	for seed := range uint64(6) {
		s := operation(rand.New(rand.NewPCG(seed, 2)))
		missed, untouched := -1.0, 0.0
		for i, o := range []float64{0, 0.05, 0.1, 0.3, 1, 3} {
			r := s.check(t, Work{Width: 5, Overlap: o})
			if r.Balance.Missed < missed-1e-9*r.Balance.Field {
				t.Errorf("seed %d: overlap %g m leaves %g m² missed, less overlap left %g m²", seed, o, r.Balance.Missed, missed)
			}
			missed = r.Balance.Missed
			if i == 0 {
				untouched = r.FullMissed
				near(t, "missed at full width without overlap", untouched, missed, 1e-9*r.Balance.Field)
			}
			near(t, "missed at full width, whatever the overlap", r.FullMissed, untouched, 1e-9*r.Balance.Field)
		}
	}
}

// TestWorkersChangeNothing: the same bytes out.
func TestWorkersChangeNothing(t *testing.T) {
	s := operation(rand.New(rand.NewPCG(3, 3)))
	one := s.check(t, Work{Width: 5, Headland: 10, Workers: 1})
	for _, n := range []int{2, 7} {
		got := s.check(t, Work{Width: 5, Headland: 10, Workers: n})
		got.Work.Workers = 1
		if fmt.Sprintf("%+v", got) != fmt.Sprintf("%+v", one) {
			t.Errorf("%d workers give another result than one", n)
		}
	}
}

// TestDepthAgainstCounting is the slow second opinion: at random points, the
// depth of a pass by its definition, quad by quad.
func TestDepthAgainstCounting(t *testing.T) {
	odd, deep := 0, 0
	for seed := range uint64(8) {
		rng := rand.New(rand.NewPCG(seed, 4))
		s := operation(rng)
		w := Work{Width: 5, Overlap: 0.1}
		trails, _, err := trailsOf(t.Context(), s.field().Local(), []geo.Track{s.track()}, w)
		if err != nil {
			t.Fatal(err)
		}
		for _, tr := range trails {
			for _, sp := range byBreaks(tr) {
				r, _, ok := runOf(tr, sp, limitsOf(tr, w), w)
				if !ok {
					t.Fatal("the pass did not move")
				}
				bars := barsOf(r.stops, w.Overlap)
				sw, err := swathOf(t.Context(), bars, 0, w.RelapLength())
				if err != nil {
					t.Fatal(err)
				}
				for range 300 {
					b := bars[rng.IntN(len(bars))]
					p := b.left.Lerp(b.right, rng.Float64()).Add(plane.XY{X: rng.NormFloat64(), Y: rng.NormFloat64()})
					got := 0
					for _, o := range sw.outlines {
						if o.Lane == laneWork {
							got += winding(o.Line, p)
						}
					}
					want, o, close := counted(bars, w.RelapLength(), p)
					if close {
						continue
					}
					odd += o
					if want > 1 {
						deep++
					}
					if got != want {
						t.Fatalf("seed %d at %.4f, %.4f: depth %d by outlines, %d by counting", seed, p.X, p.Y, got, want)
					}
				}
			}
		}
	}
	if odd < 100 || deep < 100 {
		t.Errorf("too tame: %d points on quads that do not advance, %d worked more than once", odd, deep)
	}
}

// counted is the depth at p by its definition: the quads that hold p, of which those
// count that no earlier one is followed by within relap of travel, at p. close says that
// some two of them are apart there by relap to a thousandth of a metre.
func counted(bars []bar, relap float64, p plane.XY) (depth, odd int, close bool) {
	var before []float64 // travel of earlier coverings of p
	for i := 0; i+1 < len(bars); i++ {
		if !bars[i].next.ground() {
			continue
		}
		q := quad(bars, i)
		if winding(q[:], p) == 0 {
			continue
		}
		if !advancing(q) {
			odd++
		}
		s := travelAt(bars[i], bars[i+1], p)
		fresh := true
		close = close || math.IsNaN(s)
		for _, b := range before {
			fresh = fresh && s-b >= relap
			close = close || math.Abs(s-b-relap) < 1e-3
		}
		if fresh {
			depth++
		}
		before = append(before, s)
	}
	return depth, odd, close
}

// travelAt is the travel at which the quad between two bars passed p. On a leg it is by
// how far p lies from the beginning and the end; elsewhere by weights: with the middle between
// the corners p lies in one of four triangles, and its travel is the mean of theirs by
// the areas that it cuts off opposite to each.
func travelAt(a, b bar, p plane.XY) float64 {
	q, s0, s1 := quad([]bar{a, b}, 0), a.s, b.s
	if !a.told && !b.told && advancing(q) {
		begin, end := a.left.Add(a.right).Scale(0.5), b.left.Add(b.right).Scale(0.5)
		c, d, l := p.Dist(begin), p.Dist(end), begin.Dist(end)
		x := (c*c - d*d + l*l) / (2 * l) // by the cosine rule
		return min(max(s0+x/l*(s1-s0), s0), s1)
	}
	type place struct {
		at plane.XY
		s  float64
	}
	c := []place{{q[0], s0}, {q[1], s1}, {q[2], s1}, {q[3], s0}}
	weighed := func(a, b, d place) (s float64, in bool) {
		area := func(a, b, d plane.XY) float64 { return b.Sub(a).Cross(d.Sub(a)) }
		whole := area(a.at, b.at, d.at)
		u, v, w := area(p, b.at, d.at)/whole, area(a.at, p, d.at)/whole, area(a.at, b.at, p)/whole
		return u*a.s + v*b.s + w*d.s, min(u, v, w) >= -1e-9
	}
	m := place{q[0].Add(q[1]).Add(q[2]).Add(q[3]).Scale(0.25), (s0 + s1) / 2}
	crossed := false
	if x, ok := crossing(q[0], q[3], q[1], q[2]); ok {
		m.at, crossed = x, true
	} else if x, ok := crossing(q[0], q[1], q[2], q[3]); ok {
		m, crossed = place{x, s0 + (s1-s0)*(x.Dist(q[0])/q[1].Dist(q[0])+x.Dist(q[3])/q[2].Dist(q[3]))/2}, true
	}
	hull := winding(q[:], m.at) != 0
	if convex := turn(q[0], q[1], q[2]) >= 0; !crossed && (!hull || convex != (turn(q[1], q[2], q[3]) >= 0) || convex != (turn(q[2], q[3], q[0]) >= 0)) {
		// an arrowhead is cut from its point to the corner opposite
		for k := range 4 {
			a, b, d := c[k], c[(k+1)%4], c[(k+2)%4]
			o := c[(k+3)%4]
			half := turn(a.at, b.at, d.at) >= 0 == (turn(d.at, o.at, a.at) >= 0)
			if s, in := weighed(a, b, d); half && in {
				return s
			}
		}
		return math.NaN()
	}
	for k := range 4 {
		if s, in := weighed(c[k], c[(k+1)%4], m); in {
			return s
		}
	}
	return math.NaN()
}

// winding is how often a closed line winds counter-clockwise round p.
func winding(line []plane.XY, p plane.XY) int {
	n := 0
	for i, a := range line {
		b := line[(i+1)%len(line)]
		side := b.Sub(a).Cross(p.Sub(a))
		switch {
		case a.Y <= p.Y && b.Y > p.Y && side > 0:
			n++
		case a.Y > p.Y && b.Y <= p.Y && side < 0:
			n--
		}
	}
	return n
}
