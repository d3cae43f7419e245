package plane

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"balk/testdata/check"
)

// wavyStrip is a strip of the given length along a sine line, with the given
// width across it, its sides drawn every step metres.
func wavyStrip(length, width, amplitude, wave, step float64) Polygon {
	var left, right Ring
	for x := 0.0; x <= length; x += step {
		k := 2 * math.Pi / wave
		c := XY{x, amplitude * math.Sin(k*x)}
		n := (XY{1, amplitude * k * math.Cos(k*x)}).Unit().Left().Scale(width / 2)
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
				d = min(d, x.Dist(Segment{a, b}.Nearest(x)))
			}
		}
	}
	return d
}

// No place on a fine grid beats the circle by more than the precision, and few
// edges or many (list or tree) make no difference.
func TestInscribedAgainstGrid(t *testing.T) {
	seed := check.Seed(t)
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
		for _, share := range []float64{0.05, 0.5, 0.95} {
			at, r := InscribedUpTo(p, share*radius)
			if r < share*radius || r > radius+circlePrecision || math.Abs(slowDistance(p, at)-r) > 1e-7 || !insideSlow(p, at) {
				t.Fatalf("seed %d: %g of %.5f m were enough: %.5f m at %v", seed, share, radius, r, at)
			}
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

// BenchmarkInscribedDense is the circle in squares of 500 m whose sides waver by a millimetre: most circles looked at nestle into a corner.
func BenchmarkInscribedDense(b *testing.B) {
	for _, n := range []int{10_000, 30_000, 100_000, 300_000} {
		b.Run(fmt.Sprintf("corners=%d", n), func(b *testing.B) {
			rng := rand.New(rand.NewPCG(1, 9))
			ring := make(Ring, n)
			for i := range ring {
				side := 4 * i / n
				u, off := 500*(4*float64(i)/float64(n)-float64(side)), 1e-3*(2*rng.Float64()-1)
				ring[i] = [4]XY{{u, off}, {500 + off, u}, {500 - u, 500 + off}, {off, 500 - u}}[side]
			}
			used := check.CPUTime(b)
			for b.Loop() {
				if _, r := Inscribed(Polygon{ring}); math.Abs(r-250) > 5e-3 {
					b.Fatalf("radius %.5f m, want 250 m", r)
				}
			}
			reportEach(b, n, "corner", check.CPUTime(b)-used)
		})
	}
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
		{"rectangle 4 by 2", Polygon{{{0, 0}, {4, 0}, {4, 2}, {0, 2}}}, 1},
		{"kite 2 by 4", Polygon{{{0, 0}, {2, -1}, {4, 0}, {2, 1}}}, 2 / math.Sqrt(5)},
		{"rough field of 4000 edges", rough(around(200, 200, 8000)[:1], 0.5, rand.New(rand.NewPCG(1, 2))), 199.3493}, // by quartering cells, another algorithm,
		{"straight sliver 5 km by 0.1", turned(Polygon{{{0, 0}, {5000, 0}, {5000, 0.1}, {0, 0.1}}}, 0.7), 0.05},
		{"wavy sliver 1 km, 1000 edges", wavyStrip(1000, 0.1, 10, 300, 2), 0.05},
		{"wavy sliver 5 km, 5000 edges", wavyStrip(5000, 0.1, 10, 300, 2), 0.05},
		{"wavy sliver 5 km, 20,000 edges", wavyStrip(5000, 0.1, 10, 300, 0.5), 0.05},
		{"spiral sliver, 8000 edges", spiral(0.3, 12, 8000), 0.15},
		{"sliver around 2000 edges", around(400, 0.5, 2000), 0.25},
		{"sliver around 20,000 edges", around(400, 0.1, 20000), 0.05},
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

// spiral is a strip of even width along r = 2 + 0.5·angle, turns rounds long.
func spiral(width float64, turns, n int) Polygon {
	var left, right Ring
	for i := range n / 2 {
		a := 2 * math.Pi * float64(turns) * float64(i) / float64(n/2-1)
		sin, cos := math.Sincos(a)
		r := 2 + 0.5*a
		side := (XY{0.5*cos - r*sin, 0.5*sin + r*cos}).Unit().Left().Scale(width / 2)
		left, right = append(left, XY{r * cos, r * sin}.Add(side)), append(right, XY{r * cos, r * sin}.Sub(side))
	}
	for i := len(left) - 1; i >= 0; i-- {
		right = append(right, left[i])
	}
	return Polygon{right}
}

// rough moves every corner by up to d each way.
func rough(p Polygon, d float64, rng *rand.Rand) Polygon {
	out := make(Polygon, len(p))
	for i, r := range p {
		for _, v := range r {
			out[i] = append(out[i], v.Add(XY{d * (2*rng.Float64() - 1), d * (2*rng.Float64() - 1)}))
		}
	}
	return out
}

func around(radius, width float64, n int) Polygon {
	return Polygon{circleRing(XY{}, radius, n/2, false), circleRing(XY{}, radius-width, n/2, true)}
}

// Slivers as passes leave them, even ones and rough ones. Climbing from places
// all along the sliver finds no centre that beats the circle.
func TestInscribedSlivers(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 2))
	for _, c := range []struct {
		name  string
		p     Polygon
		width float64
	}{
		{"straight 5 km by 0.05", Polygon{{{0, 0}, {5000, 0}, {5000, 0.05}, {0, 0.05}}}, 0.05},
		{"wavy 5 km by 0.1", wavyStrip(5000, 0.1, 10, 300, 2), 0.1},
		{"wavy 5 km by 0.5, 20,000 corners", turned(wavyStrip(5000, 0.5, 10, 300, 0.5), 0.7), 0.5},
		{"spiral 0.3 wide", spiral(0.3, 12, 8000), 0.3},
		{"around a field 0.1 wide", around(400, 0.1, 20000), 0.1},
		{"around a field 0.5 wide", around(400, 0.5, 2000), 0.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			centre, radius := Inscribed(c.p)
			// Chords of the outer side come nearer than the arc by less than 1 mm.
			if math.Abs(radius-c.width/2) > circlePrecision {
				t.Errorf("radius %.5f m, want %.5f m", radius, c.width/2)
			}
			if !insideSlow(c.p, centre) {
				t.Errorf("centre %v lies outside", centre)
			}
			p := rough(c.p, c.width/8, rng)
			centre, radius = Inscribed(p)
			if d := slowDistance(p, centre); !insideSlow(p, centre) || math.Abs(d-radius) > 1e-9 {
				t.Errorf("seed %d: the boundary is %.9f m from the centre %v, not %.9f m", seed, d, centre, radius)
			}
			ring := p[0]
			for range 60 {
				i := rng.IntN(len(ring))
				a, b := ring[i], ring[(i+1)%len(ring)]
				x := a.Lerp(b, rng.Float64()).Add(b.Sub(a).Unit().Left().Scale(c.width / 2))
				if !insideSlow(p, x) {
					continue
				}
				d := slowDistance(p, x)
				for step := c.width / 4; step > 1e-4; {
					v := x.Add(rotate(XY{step, 0}, 2*math.Pi*rng.Float64()))
					if e := slowDistance(p, v); e > d && insideSlow(p, v) {
						x, d = v, e
					} else {
						step *= 0.8
					}
				}
				if d > radius+circlePrecision {
					t.Fatalf("seed %d: %v is %.5f m from the boundary, the circle found has %.5f m", seed, x, d, radius)
				}
			}
		})
	}
}
