package demo

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
)

// trackOf is a log as a reader gives it, without rounding.
func trackOf(g ground, log []fix) geo.Track {
	l := geo.LocalAt(g.centre)
	var flat []float64
	var t geo.Track
	for _, f := range log {
		p := l.Point(f.at)
		flat = append(flat, p[0], p[1], float64(f.time.UnixMilli())/1000)
		state := geo.Lifted
		if f.working {
			state = geo.Working
		}
		t.State = append(t.State, state)
	}
	t.Line = geom.NewMultiLineStringFlat(geom.XYM, flat, []int{len(flat)})
	return t
}

// The implement's file and the antenna's log together give the way that the bar truly went: where fixes come tightly and without
// error to the millimetre, where they come once a second to what the bends leave open between two of them.
func TestFileAndLogGiveTheBarDriven(t *testing.T) {
	for _, g := range grounds() {
		t.Run(g.slug, func(t *testing.T) {
			op, err := g.work(t.Context(), 1)
			if err != nil {
				t.Fatal(err)
			}
			op.windows = nil // no hole, no worse fix
			for _, c := range []struct {
				every, mean, most float64 // s, m
			}{{0.1, 0.001, 0.003}, {1, 0.003, 0.06}} {
				log := g.logged(op, c.every, 0, rand.New(rand.NewPCG(1, 1)))
				r, err := coverage.Check(t.Context(), geo.Field{Name: g.name, Number: 1, Boundary: orb.MultiPolygon{g.boundary()}}, []geo.Track{trackOf(g, log)}, coverage.Work{}.With(op.im))
				if err != nil {
					t.Fatal(err)
				}
				if len(r.Passes) != len(op.jobs) {
					t.Fatalf("%d passes, want %d", len(r.Passes), len(op.jobs))
				}
				mean, most, n := 0.0, 0.0, 0
				to := geo.LocalAt(g.centre)
				for k, pass := range r.Passes {
					way := workedOn(op.way, k)
					near := 0
					for _, p := range pass.Line {
						q := to.XY(r.Local.Point(p))
						off := math.Inf(1)
						for i := max(1, near-50); i < min(len(way), near+50); i++ { // 5 m to either side, more than between two fixes
							if d := plane.NearestOn(q, way[i-1], way[i]).Dist(q); d < off {
								near, off = i, d
							}
						}
						mean, most, n = mean+off, max(most, off), n+1
					}
				}
				mean /= float64(n)
				t.Logf("a fix every %g s: %.4f m off in the mean, %.4f m at most, over %d", c.every, mean, most, n)
				if !(mean <= c.mean && most <= c.most) {
					t.Errorf("a fix every %g s: the bar is %.4f m off in the mean, %.4f m at most: must be %g and %g", c.every, mean, most, c.mean, c.most)
				}
			}
		})
	}
}

// workedOn is where the bar went on pass k.
func workedOn(way []moment, k int) []plane.XY {
	var line []plane.XY
	for i, m := range way {
		if m.pass == k && m.working {
			if len(line) == 0 && i > 0 {
				line = append(line, way[i-1].bar)
			}
			line = append(line, m.bar)
		} else if len(line) > 0 {
			return append(line, m.bar)
		}
	}
	return line
}
