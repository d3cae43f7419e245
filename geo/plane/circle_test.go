package plane

import (
	"math"
	"math/rand/v2"
	"testing"
)

// wavyStrip is a strip of the given length along a sine line, with the given
// width across it, its sides drawn every step metres.
func wavyStrip(length, width, amplitude, wave, step float64) Polygon {
	var left, right Ring
	for x := 0.0; x <= length; x += step {
		k := 2 * math.Pi / wave
		c := XY{x, amplitude * math.Sin(k*x)}
		n := unit(XY{1, amplitude * k * math.Cos(k*x)}).Left().Scale(width / 2)
		left, right = append(left, c.Add(n)), append(right, c.Sub(n))
	}
	for i := len(left) - 1; i >= 0; i-- {
		right = append(right, left[i])
	}
	return Polygon{right}
}

func circleRing(centre XY, radius float64, n int, clockwise bool) Ring {
	r := make(Ring, n)
	for i := range r {
		a := 2 * math.Pi * float64(i) / float64(n)
		if clockwise {
			a = -a
		}
		r[i] = centre.Add(XY{radius * math.Cos(a), radius * math.Sin(a)})
	}
	return r
}

func TestInscribed(t *testing.T) {
	// L: two arms 4 wide, 10 long. The circle sits in the elbow and touches the
	// outer sides and the inner corner (4,4): (4-r)·√2 = r.
	elbow := 4 * math.Sqrt2 / (1 + math.Sqrt2)
	// Two rooms: triangles with sides 4, √20, √20: 2·8/(4+2√20) = 4/(1+√5).
	rooms := 4 / (1 + math.Sqrt(5))
	for _, c := range []struct {
		name string
		p    Polygon
		want float64
	}{
		{"rectangle 10 by 4", Polygon{{{0, 0}, {10, 0}, {10, 4}, {0, 4}}}, 2},
		{"rectangle at an angle", turned(Polygon{{{0, 0}, {10, 0}, {10, 4}, {0, 4}}}, 0.4), 2},
		{"triangle 3 4 5", Polygon{{{0, 0}, {4, 0}, {0, 3}}}, 1},
		{"L", Polygon{{{0, 0}, {10, 0}, {10, 4}, {4, 4}, {4, 10}, {0, 10}}}, elbow},
		{"annulus 3 to 10", Polygon{circleRing(XY{}, 10, 4000, false), circleRing(XY{}, 3, 4000, true)}, 3.5},
		{"disc off the origin", Polygon{circleRing(XY{1000, -2000}, 7, 5000, false)}, 7},
		{"straight strip 800 by 0.1", Polygon{{{0, 0}, {800, 0}, {800, 0.1}, {0, 0.1}}}, 0.05},
		{"diagonal strip 800 by 0.1", turned(Polygon{{{0, 0}, {800, 0}, {800, 0.1}, {0, 0.1}}}, 0.7), 0.05},
		{"curved strip 800 by 0.1", wavyStrip(800, 0.1, 10, 300, 0.5), 0.05},
		{"two rooms joined at a point", Polygon{{{0, 0}, {2, 2}, {6, 0}, {6, 4}, {2, 2}, {0, 4}}}, rooms},
		{"no ground", Polygon{{{0, 0}, {10, 0}}}, 0},
		{"nothing", nil, 0},
		{"one point", Polygon{{{3, 3}}}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			centre, radius := Inscribed(c.p)
			if radius < c.want-circlePrecision || radius > c.want+1e-4 {
				t.Errorf("radius %.5f m, want %.5f m", radius, c.want)
			}
			if again, r := Inscribed(c.p); again != centre || r != radius {
				t.Errorf("a second run gives %v %v, the first gave %v %v", again, r, centre, radius)
			}
			if radius > 0 && math.Abs(slowDistance(c.p, centre)-radius) > 1e-7 {
				t.Errorf("the boundary is %.6f m from the centre %v, not %.6f m", slowDistance(c.p, centre), centre, radius)
			}
		})
	}
}

func turned(p Polygon, angle float64) Polygon {
	out := make(Polygon, len(p))
	for i, r := range p {
		for _, v := range r {
			out[i] = append(out[i], rotate(v, angle))
		}
	}
	return out
}

func slowDistance(p Polygon, x XY) float64 {
	d := math.Inf(1)
	for _, r := range p {
		for i, a := range r {
			if b := r[(i+1)%len(r)]; a != b {
				d = min(d, x.Dist(segment{a, b}.closest(x)))
			}
		}
	}
	return d
}

// No place on a fine grid beats the circle by more than the precision, and few
// edges or many (list or tree) make no difference.
func TestInscribedAgainstGrid(t *testing.T) {
	seed := rand.Uint64()
	rng := rand.New(rand.NewPCG(seed, 1))
	for range 30 {
		var r Ring
		n := 5 + rng.IntN(100)
		for i := range n {
			a := 2 * math.Pi * float64(i) / float64(n)
			d := 2 + 8*rng.Float64()
			r = append(r, XY{d * math.Cos(a), d * math.Sin(a)})
		}
		p := Polygon{r}
		centre, radius := Inscribed(p)
		if !insideSlow(p, centre) {
			t.Fatalf("seed %d: centre %v lies outside %v", seed, centre, p)
		}
		for y := -10.0; y < 10; y += 0.11 {
			for x := -10.0; x < 10; x += 0.11 {
				if v := (XY{x, y}); insideSlow(p, v) {
					if d := slowDistance(p, v); d > radius+circlePrecision {
						t.Fatalf("seed %d: %v is %.5f m from the boundary, the circle found has %.5f m: %v", seed, v, d, radius, p)
					}
				}
			}
		}
	}
}

func insideSlow(p Polygon, x XY) bool {
	odd := false
	for _, r := range p {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			if (a.Y > x.Y) != (b.Y > x.Y) && x.X < a.X+(x.Y-a.Y)*(b.X-a.X)/(b.Y-a.Y) {
				odd = !odd
			}
		}
	}
	return odd
}

func BenchmarkInscribed(b *testing.B) {
	for _, c := range []struct {
		name string
		p    Polygon
		want float64
	}{
		{"straight strip 800 by 0.1", Polygon{{{0, 0}, {800, 0}, {800, 0.1}, {0, 0.1}}}, 0.05},
		{"curved strip 800 by 0.1", wavyStrip(800, 0.1, 10, 300, 0.5), 0.05},
		{"L", Polygon{{{0, 0}, {10, 0}, {10, 4}, {4, 4}, {4, 10}, {0, 10}}}, 4 * math.Sqrt2 / (1 + math.Sqrt2)},
		{"ring of 8000 edges", Polygon{circleRing(XY{}, 10, 4000, false), circleRing(XY{}, 3, 4000, true)}, 3.5},
	} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				if _, r := Inscribed(c.p); math.Abs(r-c.want) > circlePrecision {
					b.Fatalf("radius %.5f m, want %.5f m", r, c.want)
				}
			}
		})
	}
}
