package turn

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
)

// trailedSet is a set of 6 m on a drawbar of 4 m, hitched 1.2 m behind the axle.
func trailedSet() rig.Implement {
	return rig.Implement{
		Width: 6, Overlap: 0.1,
		Mount:   rig.Mount{Trailed: true, AntennaAhead: 1, Hitch: 2.2, Drawbar: 4, BarBehind: 0.5, MaxAngle: 70},
		Tractor: rig.Tractor{Ahead: 3.8, Behind: 0.8, Width: 2.5},
		Body:    rig.Body{Ahead: 1.5, Behind: 1.2, Wheels: 3},
		Turning: rig.Turning{Radius: 6, Speed: 6, ReverseSpeed: 4, Change: 3, Margin: 0.5},
	}
}

// mountedSet is a set of 3 m on the three-point hitch.
func mountedSet() rig.Implement {
	return rig.Implement{
		Width: 3, Overlap: 0.1,
		Mount:   rig.Mount{AntennaAhead: 1, Hitch: 2.2, BarBehind: 1},
		Tractor: rig.Tractor{Ahead: 3.8, Behind: 0.8, Width: 2.5},
		Body:    rig.Body{Ahead: 0.8, Behind: 1.2},
		Turning: rig.Turning{Radius: 5, Speed: 6, ReverseSpeed: 4, Change: 3, Margin: 0.5},
	}
}

func drive(t testing.TB, p Path, im rig.Implement, fine float64) *Driven {
	t.Helper()
	d, err := Drive(p, im, fine)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// circle is a way of s metres to the left on radius r.
func circle(r, s float64) Path { return Path{Pieces: []Arc{{s, 1 / r, 1 / r}}} }

// onAxle is a drawbar of length l hung on the axle, with nothing else to it.
func onAxle(l float64) rig.Implement {
	return rig.Implement{Width: 0.1, Mount: rig.Mount{Trailed: true, Drawbar: l}}
}

// TestDrawbarOfTheCheckTable: circles of check/turning/tractrix.csv that start straight, closed forms checked there by
// integration. Fine steps come within 1e-6°; Fine stays within property (2) of Drive, and what it is off by is
// written out.
func TestDrawbarOfTheCheckTable(t *testing.T) {
	n := 0
	for _, row := range check.Rows(t, "turning/tractrix.csv") {
		if row.Text("kind") != "circle" || row.Number("psi0_deg") != 0 {
			continue
		}
		n++
		r, l, s, want := row.Number("R_m"), row.Number("L_m"), row.Number("s_m"), row.Number("psi_deg")
		if got := drive(t, circle(r, s), onAxle(l), finest).Angle; !near(got, want, 1e-6) {
			t.Errorf("R %g, L %g, %g m: %.9f°, want %.9f°", r, l, s, got, want)
		}
		bound := 4.0 / 3 * Fine / l / math.Cos(want/perDegree) * perDegree
		if got := drive(t, circle(r, s), onAxle(l), Fine).Angle; !near(got, want, bound) {
			t.Errorf("R %g, L %g, %g m: %.9f° in steps, want %.9f° within %.4f°", r, l, s, got, want, bound)
		} else {
			t.Logf("R %g, L %g, %g m: off by %.5f°, bound %.4f°", r, l, s, got-want, bound)
		}
	}
	if n < 5 {
		t.Fatalf("%d rows", n)
	}
}

// TestCutsIn: a steady circle, R − √(R² + h² − L²) with the hitch on the axle (check/turning/trailer_steady.csv).
func TestCutsIn(t *testing.T) {
	d := drive(t, circle(10, 80), onAxle(6), Fine)
	got, at := d.CutIn()
	if !near(got, 2, 0.005) || d.Moments[at].S < 20 {
		t.Errorf("%.4f m after %.1f m, want 2.000 m late on the circle", got, d.Moments[at].S)
	}
	if got, _ := drive(t, circle(10, 80), mountedSet(), Fine).CutIn(); got != 0 {
		t.Errorf("a rigid set cuts in by %g m", got)
	}
	if got, _ := drive(t, Path{Pieces: []Arc{{Length: 30}}}, trailedSet(), Fine).CutIn(); !near(got, 0, 1e-9) {
		t.Errorf("straight ahead it cuts in by %g m", got)
	}
}

// TestReverseIsUnstable: pushed straight back from a bend, the drawbar's angle grows by e^(s/L) until it folds.
func TestReverseIsUnstable(t *testing.T) {
	p := Path{Pieces: []Arc{{1, 0.1, 0.1}, {-3, 0, 0}}}
	d := drive(t, p, onAxle(4), 1e-4)
	turned := d.Moments[0]
	for _, m := range d.Moments {
		if !m.Reverse {
			turned = m
		}
	}
	want := 2 * math.Atan(math.Tan(turned.Set.Angle()/2)*math.Exp(3.0/4)) * perDegree
	if !near(d.Angle, want, 1e-9) || d.AngleAt != len(d.Moments)-1 {
		t.Errorf("%.6f°, want %.6f° at the end", d.Angle, want)
	}
}

// TestSweptGroundOfKnownWays: closed forms, a person can check them.
func TestSweptGroundOfKnownWays(t *testing.T) {
	bare := rig.Implement{Width: 4}
	behind := rig.Implement{Width: 4, Mount: rig.Mount{Hitch: 1}, Body: rig.Body{Ahead: 0.5, Behind: 0.5}}
	trailed := rig.Implement{Width: 4, Mount: rig.Mount{Trailed: true, Drawbar: 3}}
	wide := rig.Implement{Width: 1, Tractor: rig.Tractor{Ahead: 4, Behind: 1, Width: 2}}
	ring := func(a, b float64) float64 { return math.Pi * (b*b - a*a) }
	for _, c := range []struct {
		name string
		p    Path
		im   rig.Implement
		want float64
	}{
		{"bar alone, straight: 20 × 4", Path{Pieces: []Arc{{Length: 20}}}, bare, 80},
		{"body of 1 m, straight: 21 × 4", Path{Pieces: []Arc{{Length: 20}}}, behind, 84},
		{"trailed, straight: 20 × 4", Path{Pieces: []Arc{{Length: 20}}}, trailed, 80},
		{"there and back: 20 × 4", Path{Pieces: []Arc{{Length: 20}, {Length: -20}}}, bare, 80},
		{"bar on the axle, half a circle: π/2·(8² − 4²)", circle(6, 6*math.Pi), bare, ring(4, 8) / 2},
		{"bar on the axle, circle twice round: once", circle(6, 24*math.Pi), bare, ring(4, 8)},
		{"bar 1 m behind, circle: corners at 1.5 m behind, nearest 0.5 m", circle(6, 12*math.Pi), behind, ring(math.Hypot(4, 0.5), math.Hypot(8, 1.5))},
		{"tractor alone, circle: flank at the axle, corner at the front", circle(6, 12*math.Pi), wide, ring(5, math.Hypot(7, 4))},
		{"bar turning round a middle nearer than its end: all of it", circle(1.5, 3*math.Pi), bare, math.Pi * 3.5 * 3.5},
	} {
		d := drive(t, c.p, c.im, Fine)
		g, err := d.Swept(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		var rim, sum float64
		for _, poly := range g.Both {
			sum += poly.Area()
			for _, r := range poly {
				rim += r.Perimeter()
			}
		}
		if !near(g.Area, c.want, Fine*rim) || !near(g.Area, sum, 1e-3*rim) {
			t.Errorf("%s: %.3f m² (polygons %.3f), want %.3f ± %.3f m²", c.name, g.Area, sum, c.want, Fine*rim)
		}
		if c.name == "trailed, straight: 20 × 4" || c.name == "bar alone, straight: 20 × 4" {
			if !near(g.Area, c.want, 1e-6) {
				t.Errorf("%s: %.9f m², want it exact", c.name, g.Area)
			}
		}
		finer, err := drive(t, c.p, c.im, Fine/100).Swept(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if !near(finer.Area, c.want, Fine/100*rim) {
			t.Errorf("%s: %.4f m² in finer steps, want %.4f ± %.4f m²", c.name, finer.Area, c.want, Fine/100*rim)
		}
	}
}

// TestSweptGroundByRaster counts cells that an outline covers at a fine walk: a second opinion that
// shares only the places of the outlines. They may differ by the cells along the rim.
func TestSweptGroundByRaster(t *testing.T) {
	const seed, cell = 31, 0.05
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	for i := range 8 {
		p, im := anyTurn(rng)
		d := drive(t, p, im, Fine)
		g, err := d.Swept(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		short := Path{From: p.From} // a rigid set takes a straight in one step
		for _, a := range p.Pieces {
			if a.From != 0 || a.To != 0 {
				short.Pieces = append(short.Pieces, a)
				continue
			}
			for n := math.Ceil(math.Abs(a.Length) / cell); n > 0; n-- {
				short.Pieces = append(short.Pieces, a.first(math.Min(cell, math.Abs(a.Length)-(n-1)*cell)))
			}
		}
		dense := drive(t, short, im, 2e-4)
		covered := map[[2]int]bool{}
		for _, body := range dense.quads {
			for _, q := range body {
				box := plane.EmptyBox().Extend(q[:]...)
				for x := int(math.Floor(box.Min.X / cell)); x <= int(box.Max.X/cell)+1; x++ {
					for y := int(math.Floor(box.Min.Y / cell)); y <= int(box.Max.Y/cell)+1; y++ {
						at := plane.XY{X: float64(x) * cell, Y: float64(y) * cell}
						if winds(at, q[0], q[1], q[2], q[3]) {
							covered[[2]int{x, y}] = true
						}
					}
				}
			}
		}
		var rim float64
		for _, poly := range g.Both {
			for _, r := range poly {
				rim += r.Perimeter()
			}
		}
		raster := float64(len(covered)) * cell * cell
		if bound := (Fine + cell/2) * rim / 2; !near(g.Area, raster, bound) {
			t.Errorf("case %d, %s: %.2f m², raster %.2f m², bound %.2f m²", i, p.Kind, g.Area, raster, bound)
		}
	}
}

// anyTurn is a turn of any kind with one of two sets, somewhere.
func anyTurn(rng *rand.Rand) (Path, rig.Implement) {
	im := trailedSet()
	if rng.IntN(2) == 0 {
		im = mountedSet()
	}
	if rng.IntN(3) == 0 {
		im.Turning.Sharpness, im.Turning.Standing = 0.1, true
	}
	for {
		rows := Rows{From: anyPose(rng, 30), Distance: 20 * rng.Float64(), Left: rng.IntN(2) == 0, Stagger: 4 * rng.NormFloat64()}
		kinds := Kinds()
		k := kinds[rng.IntN(len(kinds))]
		if k.Reverses() && im.Mount.Trailed {
			continue
		}
		if p, err := k.Path(rows, SteeringOf(im)); err == nil {
			return p, im
		}
	}
}

// TestSweptGroundMovesWithTheTurn: moved, turned and mirrored turns sweep the same area, have the same angle and cut in alike.
func TestSweptGroundMovesWithTheTurn(t *testing.T) {
	const seed = 32
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	for range 40 {
		p, im := anyTurn(rng)
		d := drive(t, p, im, Fine)
		g, err := d.Swept(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		cut, _ := d.CutIn()
		moved := p
		moved.From = anyRigid(rng).pose(p.From)
		mirrored := Path{From: Pose{plane.XY{X: p.From.At.X, Y: -p.From.At.Y}, -p.From.Heading}, Kind: p.Kind}
		for _, a := range p.Pieces {
			mirrored.Pieces = append(mirrored.Pieces, Arc{a.Length, -a.From, -a.To})
		}
		for name, q := range map[string]Path{"moved": moved, "mirrored": mirrored} {
			e := drive(t, q, im, Fine)
			h, err := e.Swept(context.Background())
			if err != nil {
				t.Fatal(err)
			}
			cutToo, _ := e.CutIn()
			if !near(h.Area, g.Area, 1e-5) || !near(e.Angle, d.Angle, 1e-6) || !near(cutToo, cut, 1e-6) {
				t.Errorf("%s, %s: %.7f m², %.7f°, %.7f m; was %.7f m², %.7f°, %.7f m", p.Kind, name, h.Area, e.Angle, cutToo, g.Area, d.Angle, cut)
			}
		}
	}
}

func TestDriveRefuses(t *testing.T) {
	good := Path{Pieces: []Arc{{Length: 5}}}
	for name, err := range map[string]error{
		"no width":       second(Drive(good, rig.Implement{}, Fine)),
		"no exactness":   second(Drive(good, bareBar(), 0)),
		"not a number":   second(Drive(good, bareBar(), math.NaN())),
		"path of no end": second(Drive(Path{Pieces: []Arc{{Length: math.Inf(1)}}}, bareBar(), Fine)),
	} {
		if err == nil {
			t.Errorf("%s: taken", name)
		}
	}
}

func bareBar() rig.Implement { return rig.Implement{Width: 4} }

func TestDescribes(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*rig.Implement)
		entry  string
	}{
		"radius":        {func(im *rig.Implement) { im.Turning.Radius = 0 }, "turning, radius"},
		"tractor":       {func(im *rig.Implement) { im.Tractor = rig.Tractor{} }, "tractor, ahead"},
		"tractor width": {func(im *rig.Implement) { im.Tractor.Width = 0 }, "tractor, width"},
		"speed":         {func(im *rig.Implement) { im.Turning.Speed = 0 }, "turning, speed"},
		"drawbar":       {func(im *rig.Implement) { im.Mount.MaxAngle = 0 }, "mount, maxAngle or drawbarRadius"},
	} {
		im := trailedSet()
		c.change(&im)
		if lack, ok := Describes(im).(*Lacking); !ok || lack.Entry != c.entry {
			t.Errorf("%s: %v, want a lack of %q", name, Describes(im), c.entry)
		}
	}
	for _, im := range []rig.Implement{trailedSet(), mountedSet()} {
		if err := Describes(im); err != nil {
			t.Error(err)
		}
	}
}

func TestReach(t *testing.T) {
	d := drive(t, Path{From: Pose{Heading: math.Pi / 2}, Pieces: []Arc{{Length: 10}}}, mountedSet(), Fine)
	// Front of the tractor 10 + 3.8 m, rear of the implement 1.2 + 1 + 1.2 m behind the start, tractor wider than nothing: 3 m of tool.
	for name, c := range map[string]struct {
		towards geo.Heading
		want    float64
	}{"ahead": {math.Pi / 2, 13.8}, "behind": {-math.Pi / 2, 3.4}, "left": {math.Pi, 1.5}} {
		if got := d.Reach(plane.XY{}, c.towards); !near(got, c.want, 1e-9) {
			t.Errorf("%s: %g m, want %g m", name, got, c.want)
		}
	}
}

func BenchmarkSwept(b *testing.B) {
	for name, im := range map[string]rig.Implement{"mounted": mountedSet(), "trailed": trailedSet()} {
		b.Run(name, func(b *testing.B) {
			p, err := Bulb.Path(Rows{Distance: 5, Left: true}, SteeringOf(im))
			if err != nil {
				b.Fatal(err)
			}
			d := drive(b, p, im, Fine)
			for b.Loop() {
				if g, err := d.Swept(context.Background()); err != nil || g.Area < 100 || g.Area > 500 {
					b.Fatal(g.Area, err)
				}
			}
			b.ReportMetric(float64(len(d.Moments)), "moments")
		})
	}
}

// TestDriveKeepsItsBounds: between two moments every corner is taken straight; driven a hundred times finer it is
// nowhere farther off than properties (1) and (2) of Drive say.
func TestDriveKeepsItsBounds(t *testing.T) {
	const seed = 33
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	var worst float64
	for range 60 {
		p, im := anyTurn(rng)
		coarse, dense := drive(t, p, im, Fine), drive(t, p, im, Fine/100)
		bound := [2]float64{Fine, Fine}
		if im.Mount.Trailed {
			// The angle between drawbar and the hitch's way is that between tractor and implement, less atan(h/R).
			steepest := 0.0
			for _, m := range dense.Moments {
				steepest = math.Max(steepest, m.Set.Angle())
			}
			bound[ofImplement] += 4.0 / 3 * Fine / math.Cos(steepest)
		}
		k := 0
		for i, m := range dense.Moments {
			for k < len(coarse.Moments)-2 && coarse.Moments[k+1].S < m.S {
				k++
			}
			a, b := coarse.Moments[k], coarse.Moments[k+1]
			share := (m.S - a.S) / (b.S - a.S)
			for body := range coarse.quads {
				for c := range 4 {
					at := coarse.quads[body][k][c].Lerp(coarse.quads[body][k+1][c], share)
					off := at.Dist(dense.quads[body][i][c])
					worst = math.Max(worst, off/bound[body])
					if off > bound[body]*1.02 { // the finer one is off by a hundredth itself
						t.Fatalf("%s after %.2f m: corner %.2f mm off, bound %.2f mm", p.Kind, m.S, 1000*off, 1000*bound[body])
					}
				}
			}
		}
	}
	t.Logf("worst: %.0f %% of the bound", 100*worst)
	if worst < 0.2 {
		t.Errorf("worst %.2f of the bound: it says little", worst)
	}
}
