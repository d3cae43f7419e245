package demo

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/rig"
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
	for _, g := range operations() {
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
				r, err := coverage.Check(t.Context(), geo.Field{Name: g.name, Number: 1, Boundary: orb.MultiPolygon{g.boundary()}}, []geo.Track{trackOf(g, log)}, drive.Work{}.With(op.im))
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
							if d := (plane.Segment{A: way[i-1], B: way[i]}).Dist(q); d < off {
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

// What the check makes of the log is what the bar truly did: the balance of a fix a second of the antenna beside that of the bar
// itself and the way it faced every 10 cm, each on its own.
func TestCheckOfTheLogIsThatOfTheTruth(t *testing.T) {
	for _, g := range operations() {
		t.Run(g.slug, func(t *testing.T) {
			op, err := g.work(t.Context(), 1)
			if err != nil {
				t.Fatal(err)
			}
			op.windows = nil // neither hole nor worse fix: of these the bar knows nothing
			field := geo.Field{Name: g.name, Number: 1, Boundary: orb.MultiPolygon{g.boundary()}}
			w := drive.Work{Working: drive.EvidenceLogged}.With(op.im)
			var bars []fix
			var facing []geo.Bearing
			local := geo.LocalAt(g.centre)
			add := func(m moment, seconds float64, working bool) {
				bars = append(bars, fix{at: m.bar, time: g.clock(seconds), working: working})
				facing = append(facing, geo.Bearing(math.Atan2(m.facing.X, m.facing.Y)*180/math.Pi+local.Convergence(local.Point(m.bar))))
			}
			for i, m := range op.way {
				if i > 0 && m.working != op.way[i-1].working { // the switch is there, not half-way
					add(m, m.seconds, !m.working)
				}
				add(m, m.seconds+0.001, m.working)
			}
			bare := w
			bare.Mount = rig.Mount{}
			track := trackOf(g, bars)
			track.Heading = facing
			truth, err := coverage.Check(t.Context(), field, []geo.Track{track}, bare)
			if err != nil {
				t.Fatal(err)
			}
			// A receiver whose places are off by σ in each direction moves two passes side by side apart by √2·σ, and what that
			// opens is σ/√π in the mean (of a normal distribution): on every metre where they tile without a lap.
			sigma := jitter / math.Sqrt(1-keeps*keeps)
			for _, c := range []struct{ jitter, opens float64 }{{0, 0}, {jitter, sigma / math.Sqrt(math.Pi) * truth.Effort.Working.Metres}} {
				seen, err := coverage.Check(t.Context(), field, []geo.Track{trackOf(g, g.logged(op, second, c.jitter, rand.New(rand.NewPCG(1, 1))))}, w)
				if err != nil {
					t.Fatal(err)
				}
				slack := 3e-4*truth.Balance.Field + c.opens
				for _, is := range []struct {
					what       string
					seen, true float64
				}{
					{"missed", seen.Balance.Missed, truth.Balance.Missed}, {"worked twice or more", seen.Balance.Twice + seen.Balance.More, truth.Balance.Twice + truth.Balance.More},
					{"outside", seen.Balance.Outside, truth.Balance.Outside},
				} {
					t.Logf("%s: %.1f m² by the log, %.1f m² in truth, within %.1f", is.what, is.seen, is.true, slack)
					if math.Abs(is.seen-is.true) > slack {
						t.Errorf("%s: %.1f m² by the log, %.1f m² in truth: must be within %.1f m²", is.what, is.seen, is.true, slack)
					}
				}
			}
		})
	}
}
