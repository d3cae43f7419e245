package ground

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// runsOf are the passes of tracks.
func runsOf(t testing.TB, f geo.Field, tracks []geo.Track, w drive.Work) []drive.Run {
	t.Helper()
	log, err := drive.Read(t.Context(), f.OnPlane(f.Local()), f.Local(), tracks, w, drive.AsJudged)
	if err != nil {
		t.Fatal(err)
	}
	return log.Runs
}

// TestDepthAgainstCounting is the slow second opinion: at random points, the
// depth of a pass by its definition, quad by quad.
func TestDepthAgainstCounting(t *testing.T) {
	odd, deep := 0, 0
	for seed := range uint64(8) {
		rng := rand.New(rand.NewPCG(seed, 4))
		s := trial.Operation(rng)
		w := drive.Work{Width: 5, Overlap: 0.1}
		for _, r := range runsOf(t, s.Field(), []geo.Track{s.Track()}, w) {
			bars := barsOf(&r, w.Overlap)
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
						got += trial.Winding(o.Line, p)
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
		if !bars[i].next.Ground() {
			continue
		}
		q := quad(bars, i)
		if trial.Winding(q[:], p) == 0 {
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
	hull := trial.Winding(q[:], m.at) != 0
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

// TestWildDepth compares the depth of wild passes with counting.
func TestWildDepth(t *testing.T) {
	deep := 0
	for seed := range uint64(150) {
		rng := rand.New(rand.NewPCG(seed, 9))
		s := trial.Wild(rng)
		w := drive.Work{Width: 3, Relap: []float64{5, 30}[rng.IntN(2)]}
		for _, r := range runsOf(t, s.Field(), []geo.Track{s.Track()}, w) {
			bars := barsOf(&r, 0)
			sw, err := swathOf(t.Context(), bars, 0, w.Relap)
			if err != nil {
				t.Errorf("seed %d: %v", seed, err)
				continue
			}
			for range 50 {
				b := bars[rng.IntN(len(bars))]
				p := b.left.Lerp(b.right, rng.Float64()).Add(plane.XY{X: rng.NormFloat64(), Y: rng.NormFloat64()})
				got := 0
				for _, o := range sw.outlines {
					if o.Lane == laneWork {
						got += trial.Winding(o.Line, p)
					}
				}
				want, _, close := counted(bars, w.Relap, p)
				if close {
					continue
				}
				if want > 1 {
					deep++
				}
				if got != want {
					t.Errorf("seed %d at %.4f, %.4f: depth %d by outlines, %d by counting", seed, p.X, p.Y, got, want)
					break
				}
			}
		}
	}
	if deep < 100 {
		t.Errorf("too tame: %d points worked more than once", deep)
	}
}
