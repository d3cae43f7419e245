package paper

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
)

// Lines of hatching cover the area evenly, leave holes out and lie at whole
// multiples of their distance.
func TestHatchCoversTheArea(t *testing.T) {
	square := Box{20, 30, 40, 30}.Path()
	holed := append(Box{20, 30, 40, 30}.Path(), Box{30, 40, 10, 10}.Path()...)
	rng := rand.New(rand.NewPCG(3, 4))
	for _, c := range []struct {
		situation string
		rings     []orb.LineString
		area      float64
	}{{"rectangle", square, 1200}, {"rectangle with a hole", holed, 1100}, {"circle", []orb.LineString{Ring(orb.Point{50, 50}, 20)}, 12 * 400 * math.Sin(math.Pi/12)}, {"nothing", nil, 0}} {
		for range 20 {
			turn, apart := rng.Float64()*180-90, 0.2+rng.Float64()
			sum := 0.0
			for _, line := range hatch(c.rings, turn, apart) {
				sum += apart * math.Hypot(line[1][0]-line[0][0], line[1][1]-line[0][1])
				s, cos := math.Sincos(turn * math.Pi / 180)
				for _, p := range line {
					if row := (p[0]*s + p[1]*cos) / apart; math.Abs(row-math.Round(row)) > 1e-6 {
						t.Fatalf("%s: a line at %.4f distances", c.situation, row)
					}
					for _, r := range c.rings {
						if b := r.Bound(); c.situation != "rectangle with a hole" && !b.Pad(1e-9).Contains(p) {
							t.Fatalf("%s: a line at %v", c.situation, p)
						}
					}
				}
			}
			if limit := 4 * apart * 50; math.Abs(sum-c.area) > limit { // the distance times the rim, generously
				t.Errorf("%s, turned %.1f°, lines %.2f mm apart: they cover %.0f mm², want %.0f", c.situation, turn, apart, sum, c.area)
			}
		}
	}
	if got := hatch(square, 0, 0.1); math.Abs(float64(len(got))-300) > 1 {
		t.Errorf("%d lines over 30 mm, 0.1 mm apart", len(got))
	}
}

// A side that lies along a hatch line meets none, whichever way the quotient is rounded: no line ends nowhere.
func TestHatchBesideItsLines(t *testing.T) {
	for _, apart := range []float64{0.1, 0.7, 1.2, 1.4} {
		for k := range 2000 {
			y := float64(k) * apart
			for _, off := range []float64{y, math.Nextafter(y, math.Inf(1)), math.Nextafter(y, math.Inf(-1))} {
				ring := orb.LineString{{0, off}, {10, off}, {10, off + 2.5*apart}, {0, off + 2.5*apart}, {0, off}}
				lines := hatch([]orb.LineString{ring}, 0, apart)
				if n := len(lines); n != 2 && n != 3 {
					t.Fatalf("%d lines from %v, %g apart", n, off, apart)
				}
				for _, l := range lines {
					if l[0][0] != 0 || l[1][0] != 10 {
						t.Fatalf("a line from %v to %v", l[0], l[1])
					}
				}
			}
		}
	}
}
