package ground

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// arranged is the missed ground of moved passes, in m², by an arrangement of their moved bars: what transects.missed reads from transects.
func arranged(t testing.TB, field []plane.Polygon, runs []drive.Run, less float64, by wandering, size float64) float64 {
	t.Helper()
	g := ground{field: field, workers: 1}
	end := 0
	for i, one := range runs {
		one.Stops = slices.Clone(one.Stops)
		for k := range one.Stops {
			stop := &one.Stops[k]
			off := by.aside
			if by.slow != nil {
				off = off.Add(by.slow[i].at(stop.S / max(one.Pass.Length, 1e-9)).Scale(one.Parts[stop.Part].Slow))
			}
			stop.At = stop.At.Add(off.Scale(size))
		}
		bars := barsOf(&one, less)
		if by.outward != nil {
			bars = endsMoved(nil, bars, func(int) float64 { end++; return size * by.outward[end-1] })
		}
		g.work = append(g.work, coverOf(bars)...)
	}
	got, err := g.missed(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return got.Area[1]
}

// wandering is how passes are moved.
type wandering struct {
	slow    []drift
	aside   plane.XY
	outward []float64
}

// ringed is a field of a quarter of a ring, worked in passes of 5 m along it that lap by 3 cm, so that some of them go any way.
func ringed(rng *rand.Rand) trial.Sketch {
	const inner, passes, pitch = 40.0, 12, 4.97
	outer := inner + passes*pitch
	ring := trial.Arc(plane.XY{}, outer, 0, 90, 40)
	back := trial.Arc(plane.XY{}, inner, 90, 0, 40)
	s := trial.Sketch{Rings: [][]plane.XY{append(ring, back...)}}
	for k := range passes {
		aside := 0.0
		line := trial.Apply(trial.Arc(plane.XY{}, inner+(float64(k)+0.5)*pitch, 1, 89, 60), func(p plane.XY) plane.XY {
			aside = 0.9*aside + 0.015*rng.NormFloat64()
			return p.Scale(1 + aside/p.Len())
		})
		if k%2 == 1 {
			slices.Reverse(line)
		}
		s.Lines = append(s.Lines, line)
	}
	return s.Timed(0.5)
}

// shortRows is an operation of two rounds and of rows that end a metre earlier, at the edge of what the rounds work: its ends of rows count, and not the four
// ends of rounds alone, of which each is met by a few transects.
func shortRows(s trial.Sketch) trial.Sketch {
	for k, line := range s.Lines[2:] {
		n := len(line) - 1
		line = slices.Clone(line)
		out, in := line[1].Sub(line[0]), line[n-1].Sub(line[n])
		line[0], line[n] = line[0].Add(out.Scale(1/out.Len())), line[n].Add(in.Scale(1/in.Len()))
		s.Lines[2+k] = line
	}
	return s
}

// TestTransectsBesideArrangements: passes moved by a slow error, all of a log moved aside, ends of work moved out and in, by the errors that are drawn and by
// greater ones: what that adds to missed ground is the same by transects as by an arrangement of the moved bars.
//
// A draw's error is held against the mean square of such draws. Most had a twentieth; a single operation of all sorts of ways, of a few hundred square metres, is off by up to
// three quarters of that (one seed of 120), so several are taken together: then the worst of 60 seeds had a seventh, and the mean of draws was off by a seventeenth of theirs.
func TestTransectsBesideArrangements(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 31))
	var sorts []trial.Sketch
	for range 6 {
		sorts = append(sorts, trial.Operation(rng).Timed(1))
	}
	for name, all := range map[string][]trial.Sketch{
		"rows between rounds": {shortRows(trial.BigOperation(3000)).Timed(1)},
		"rows alone, turned":  {noisy{noise: 0.02, step: 1, rate: 2, lap: 0}.sketch(3000).Moved(func(p plane.XY) plane.XY { return plane.XY{X: 0.8*p.X - 0.6*p.Y, Y: 0.6*p.X + 0.8*p.Y} }).Timed(0.5)},
		"along a ring":        {ringed(rng), ringed(rng), ringed(rng)},
		"all sorts":           sorts,
	} {
		for _, passError := range []float64{0.04, 0.3} {
			sums := map[string]*twoWays{"slow": {}, "aside": {}, "ends": {}}
			for _, s := range all {
				besideArrangements(t, s, passError, rng, sums)
			}
			for kind, sum := range sums {
				n := float64(sum.n)
				off, draw, apart := math.Sqrt(sum.off/n), math.Sqrt(sum.all/n), math.Abs(sum.got-sum.want)/n
				t.Logf("%s, %g m, %s: %.2f m² by transects, %.2f by arrangements; a draw %.2f, off by %.2f", name, passError, kind, sum.got, sum.want, draw, off)
				if off > 0.2*draw+0.2 || apart > 0.12*draw+0.1 {
					t.Errorf("%s, %g m, %s: %.2f m² by transects, %.2f by arrangements; a draw %.2f, off by %.2f", name, passError, kind, sum.got, sum.want, draw, off)
				}
			}
		}
	}
}

// twoWays are sums over draws: what they add to missed ground by transects and by arrangements, m², and the squares of the difference and of the latter.
type twoWays struct {
	got, want, off, all float64
	n                   int
}

func besideArrangements(t *testing.T, s trial.Sketch, passError float64, rng *rand.Rand, sums map[string]*twoWays) {
	t.Helper()
	w := drive.Work{Width: 5, PassError: passError, Workers: 1}
	field, track := s.Field(), []geo.Track{s.Track()}
	runs := runsOf(t, field, track, w)
	polys := field.OnPlane(field.Local())
	tr, err := transectsOf(t.Context(), polys, slices.All(runs), w.Overlap)
	if err != nil {
		t.Fatal(err)
	}
	by := func(v wandering, size float64) float64 {
		got, err := tr.missed(t.Context(), tr.moves(runs, v.slow, v.aside, v.outward), size)
		if err != nil {
			t.Fatal(err)
		}
		return got.sum()
	}
	logged, exact := by(wandering{}, 0), arranged(t, polys, runs, w.Overlap, wandering{}, 0)
	of := map[string]func() wandering{
		"slow": func() wandering { return wandering{slow: slowly(runs, 1, freshly(rng))} },
		"aside": func() wandering {
			return wandering{aside: plane.XY{X: rng.NormFloat64(), Y: rng.NormFloat64()}.Scale(passError * perPassError)}
		},
		"ends": func() wandering {
			out, lean := tr.outward(make([]float64, len(tr.ends)), rng)[0], 0.3*rng.NormFloat64()
			for k, by := range tr.anywhere(rng) {
				out[k] += by + lean*runs[tr.ends[k].run].EndsLean
			}
			return wandering{outward: out}
		},
	}
	for _, kind := range []string{"slow", "aside", "ends"} { // in the same order with the same seed
		sum := sums[kind]
		for range 3 {
			v := of[kind]()
			for _, size := range [2]float64{1, -1} {
				a, b := by(v, size)-logged, arranged(t, polys, runs, w.Overlap, v, size)-exact
				sum.got, sum.want, sum.n = sum.got+a, sum.want+b, sum.n+1
				sum.off, sum.all = sum.off+(a-b)*(a-b), sum.all+b*b
			}
		}
	}
}

// TestEndsTakeTheirWidth: in rows side by side each end of every second row is moved by a metre. Outward that takes a bar's width of missed ground,
// inward it leaves as much, although transects run aslant from there into the neighbour's ground.
func TestEndsTakeTheirWidth(t *testing.T) {
	const rows, width = 21, 5.0
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-10, 0, 140, rows*width)}}
	for k := range rows {
		s.Lines = append(s.Lines, trial.Straight(plane.XY{Y: (float64(k) + 0.5) * width}, plane.XY{X: 130, Y: (float64(k) + 0.5) * width}, 2))
	}
	field := s.Field()
	polys, runs := field.OnPlane(field.Local()), runsOf(t, field, []geo.Track{s.Track()}, drive.Work{Width: width, Workers: 1})
	for k := range runs {
		runs[k].EndsLean = 0.5
	}
	tr, err := transectsOf(t.Context(), polys, slices.All(runs), 0)
	if err != nil {
		t.Fatal(err)
	}
	if len(runs) != rows || len(tr.ends) != 2*rows {
		t.Fatalf("%d runs, %d ends", len(runs), len(tr.ends))
	}
	outward := make([]float64, len(tr.ends))
	moved := 0
	for k, end := range tr.ends {
		if end.run%2 == 1 {
			outward[k], moved = 1, moved+1
		}
	}
	by := tr.moves(runs, nil, plane.XY{}, outward)
	var got [3]float64
	for k, size := range [3]float64{0, 1, -1} {
		missed, err := tr.missed(t.Context(), by, size)
		if err != nil {
			t.Fatal(err)
		}
		got[k] = missed.sum()
	}
	within := 0.01 * width * float64(moved)
	trial.Near(t, "outward", got[1]-got[0], -width*float64(moved), within)
	trial.Near(t, "inward", got[2]-got[0], width*float64(moved), within)
}

// BenchmarkDrawn is the range of missed ground, per fix, in logs that waver by 2 cm in all joins; "arranged" is the time of so many arrangements of moved
// bars as it draws, by one of them, beside it.
func BenchmarkDrawn(b *testing.B) {
	for _, n := range trial.BenchSizes {
		b.Run(fmt.Sprintf("fixes=%d", n), func(b *testing.B) {
			s, w := trial.BigOperation(n), drive.Work{Width: 5, Overlap: 0.1, PassError: 0.04, Workers: 1}
			field, track := s.Field(), []geo.Track{s.Track()}
			fixes, runs, polys := float64(track[0].Fixes()), runsOf(b, field, track, w), field.OnPlane(field.Local())
			missed, _, err := MissedAt(b.Context(), polys, runs, w, 0, false)
			if err != nil {
				b.Fatal(err)
			}
			shift := ShiftOf(rimOf(polys), runs, w, w.PassError)
			begin := check.CPUTime(b)
			for b.Loop() {
				d, err := Drawn(b.Context(), polys, runs, w, shift, missed)
				if err != nil {
					b.Fatal(err)
				}
				if !(d.Least < d.Best && d.Best < d.Most && d.Best > missed/3 && d.Most < 2*missed) {
					b.Fatalf("%+v of %.1f m² missed", d, missed)
				}
			}
			took := float64(check.CPUTime(b)-begin) / float64(b.N)
			b.ReportMetric(took/fixes, "cpu-ns/fix")
			if n == trial.BenchSizes[0] {
				begin = check.CPUTime(b)
				arranged(b, polys, runs, w.Overlap, wandering{slow: slowly(runs, 1, freshly(rand.New(rand.NewPCG(1, 2))))}, 1)
				b.ReportMetric((3*fewestDraws+1)*float64(check.CPUTime(b)-begin)/took, "arranged")
			}
		})
	}
}
