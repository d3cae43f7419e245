package rework

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
)

// scattered are the ways between passes thrown about on a square of the given side, by the shortest
// forward turns, the gate in a corner, and the lengths of the passes. There is no boundary.
func scattered(t testing.TB, rng *rand.Rand, n int, side float64) (d distances, own []float64) {
	t.Helper()
	type ends struct{ entry, exit turn.Pose }
	var all []ends
	for range n {
		at := plane.XY{X: side * rng.Float64(), Y: side * rng.Float64()}
		h := 2 * math.Pi * rng.Float64()
		sin, cos := math.Sincos(h)
		to := at.Add(plane.XY{X: cos, Y: sin}.Scale(5 + side/3*rng.Float64()))
		own = append(own, at.Dist(to))
		all = append(all, ends{turn.Pose{At: at, Heading: geo.Heading(h)}, turn.Pose{At: to, Heading: geo.Heading(h)}},
			ends{turn.Pose{At: to, Heading: geo.Heading(h + math.Pi)}, turn.Pose{At: at, Heading: geo.Heading(h + math.Pi)}})
	}
	d = newDistances(n)
	for a := range all {
		l := all[a].entry.At.Len()
		d.put(d.n, a, errand{cost: l})
		d.put(a, d.n, errand{cost: all[a].exit.At.Len()})
		for b := range all {
			if a/2 == b/2 {
				continue
			}
			p, err := turn.Dubins(all[a].exit, all[b].entry, 6)
			if err != nil {
				t.Fatal(err)
			}
			d.put(a, b, errand{cost: p.Length()})
		}
	}
	return d, own
}

// everyOrder is the shortest tour of all orders and directions, by trying them.
func (d distances) everyOrder(at int, left []int, sum, best float64) float64 {
	if sum >= best {
		return best
	}
	if len(left) == 0 {
		return min(best, sum+d.between(at, d.n))
	}
	for i, k := range left {
		rest := append(append([]int{}, left[:i]...), left[i+1:]...)
		for _, next := range [2]int{2 * k, 2*k + 1} {
			best = d.everyOrder(next, rest, sum+d.between(at, next), best)
		}
	}
	return best
}

// TestOrderIsTheShortest: (2) of order, beside all orders and directions tried.
func TestOrderIsTheShortest(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 7))
	for k := range 70 {
		n := 1 + k%7
		d, _ := scattered(t, rng, n, 20+300*rng.Float64())
		got, err := d.order(t.Context(), upTo(n))
		if err != nil {
			t.Fatal(err)
		}
		if want := d.everyOrder(d.n, upTo(n), 0, math.Inf(1)); len(got) != n || math.Abs(d.cost(got)-want) > 1e-6 {
			t.Errorf("case %d, %d passes: %.6f m, the shortest is %.6f", k, n, d.cost(got), want)
		}
	}
}

// TestSearchIsNearTheShortest: what is used for more passes than can be put in order exactly is tried where the
// shortest is known.
func TestSearchIsNearTheShortest(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 3))
	worst, exact, tried := 0.0, 0, 0
	for k := range 150 {
		n := 1 + k%exactUpTo
		d, _ := scattered(t, rng, n, 20+300*rng.Float64())
		got, err := d.searched(t.Context(), upTo(n))
		if err != nil {
			t.Fatal(err)
		}
		want := d.cost(d.shortest(upTo(n)))
		over := d.cost(got)/want - 1
		if tried++; over < 1e-9 {
			exact++
		}
		if worst = max(worst, over); over > 0.05 || over < -1e-9 {
			t.Errorf("case %d, %d passes: %.2f m, the shortest is %.2f", k, n, d.cost(got), want)
		}
	}
	t.Logf("%d of %d shortest, worst %.2f %% longer", exact, tried, 100*worst)
}

// TestOrderBeatsTheNearestNext: (1) of order, and every pass is driven once.
func TestOrderBeatsTheNearestNext(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 4))
	for _, n := range []int{1, 2, 3, 10, 16, 17, 40, 100} {
		d, _ := scattered(t, rng, n, 400)
		got, err := d.order(t.Context(), upTo(n))
		if err != nil {
			t.Fatal(err)
		}
		near := d.cost(d.nearest(upTo(n), -1))
		if d.cost(got) > near+touch {
			t.Errorf("%d passes: %.2f m, by the nearest next %.2f", n, d.cost(got), near)
		}
		seen := map[int]bool{}
		for _, k := range got {
			seen[k/2] = true
		}
		if len(got) != n || len(seen) != n {
			t.Errorf("%d passes: %d on the way, %d different", n, len(got), len(seen))
		}
	}
}

// TestMorePassesNeverShortenTheWay: by the shortest forward turns the triangle rule holds, the way over a pass
// included; so leaving a pass out of the shortest tour gives no longer tour of the others.
func TestMorePassesNeverShortenTheWay(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 5))
	for k := range 20 {
		d, own := scattered(t, rng, 9, 300)
		before, worked := 0.0, 0.0
		for n := 1; n <= 9; n++ {
			got, err := d.order(t.Context(), upTo(n))
			if err != nil {
				t.Fatal(err)
			}
			worked += own[n-1]
			all := d.cost(got) + worked
			if all < before-1e-6 {
				t.Errorf("case %d: %d passes in %.3f m, one less in %.3f", k, n, all, before)
			}
			before = all
		}
	}
}

func TestDrivable(t *testing.T) {
	for _, c := range []struct {
		name string
		line []plane.XY
		r    float64
		want bool
	}{
		{"straight", []plane.XY{{}, {X: 50}}, 6, true},
		{"right angle", []plane.XY{{}, {X: 50}, {X: 50, Y: 50}}, 6, false},
		{"circle of 6 m", arc(plane.XY{}, 6, 0, 180, 40), 6, true},
		{"circle of 4 m", arc(plane.XY{}, 4, 0, 180, 40), 6, false},
		{"zigzag", []plane.XY{{}, {X: 10}, {X: 11, Y: 1}, {X: 12}, {X: 20}}, 6, false},
		{"back again", []plane.XY{{}, {X: 50}, {X: 1}}, 6, false},
	} {
		if got := drivable(c.line, c.r); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// TestWaysStayInside: between poses in a field with an obstacle the ways found stay inside, lead from
// pose to pose, and are no shorter than the shortest turn.
func TestWaysStayInside(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 6))
	field := plane.Polygon{rectangle(0, 0, 150, 100), rectangle(60, 20, 90, 100)} // a wall from the top, nearly
	field[1] = plane.Ring{{X: 60, Y: 20}, {X: 60, Y: 95}, {X: 90, Y: 95}, {X: 90, Y: 20}}
	g, err := terrainOf([]plane.Polygon{field}, five)
	if err != nil {
		t.Fatal(err)
	}
	for _, forward := range []bool{true, false} {
		w := &works{im: five, ground: g, o: Options{ForwardOnly: forward, Speeds: Speeds{Work: 2, Way: 2}}}
		unfit, round := 0, 0
		for k := range 400 {
			var ends [2]pose
			for i := range ends {
				for !ends[i].in || ends[i].back > 0 {
					at := plane.XY{X: 150 * rng.Float64(), Y: 100 * rng.Float64()}
					h := 2 * math.Pi * rng.Float64()
					ends[i] = w.poseOf(at, plane.XY{X: math.Cos(h), Y: math.Sin(h)}, 0, 1)
				}
			}
			got, err := w.wayTo(ends[0], ends[1])
			if err != nil {
				t.Fatal(err)
			}
			if got.unfit != "" {
				unfit++
				continue
			}
			if len(got.paths) > 1 {
				round++
			}
			at := ends[0].Pose
			for _, p := range got.paths {
				if p.From.At.Dist(at.At) > 1e-6 {
					t.Errorf("case %d: a part of the way begins %.3g m off", k, p.From.At.Dist(at.At))
				}
				line, err := p.Line(wayBow)
				if err != nil {
					t.Fatal(err)
				}
				if !g.clearAlong(line) {
					t.Errorf("case %d: leaves the field", k)
				}
				if forward && p.Reverse() > 0 {
					t.Errorf("case %d: reverses %.1f m", k, p.Reverse())
				}
				at = p.End()
			}
			short, err := turn.Words(ends[0].Pose, ends[1].Pose, 6, true)
			if err != nil {
				t.Fatal(err)
			}
			if at.At.Dist(ends[1].At) > 1e-6 || got.length < short[0].Length()-1e-6 {
				t.Errorf("case %d: ends %.3g m off; %.2f m long, the shortest turn %.2f", k, at.At.Dist(ends[1].At), got.length, short[0].Length())
			}
		}
		t.Logf("forward only %v: of 400 ways %d lead round corners, %d do not fit", forward, round, unfit)
		if round == 0 || !forward && unfit > 40 {
			t.Errorf("forward only %v: %d ways round corners, %d do not fit", forward, round, unfit)
		}
	}
}

// TestAround: shortest lines around an obstacle, with a length a person can check.
func TestAround(t *testing.T) {
	field := plane.Polygon{rectangle(0, 0, 100, 100), {{X: 40, Y: 40}, {X: 40, Y: 60}, {X: 60, Y: 60}, {X: 60, Y: 40}}}
	g, err := terrainOf([]plane.Polygon{field}, rig.Implement{Width: 5})
	if err != nil {
		t.Fatal(err)
	}
	if len(g.corners) != 4 {
		t.Fatalf("%d corners, want 4: %v", len(g.corners), g.corners)
	}
	for _, c := range []struct {
		name string
		a, b plane.XY
		want float64
	}{
		{"nothing between", plane.XY{X: 10, Y: 10}, plane.XY{X: 90, Y: 10}, 80},
		{"past one corner, 1 m off it", plane.XY{X: 39, Y: 10}, plane.XY{X: 62, Y: 58}, plane.Length([]plane.XY{{X: 39, Y: 10}, {X: 61, Y: 39}, {X: 62, Y: 58}})},
		{"from side to side", plane.XY{X: 20, Y: 42}, plane.XY{X: 80, Y: 42}, plane.Length([]plane.XY{{X: 20, Y: 42}, {X: 39, Y: 39}, {X: 61, Y: 39}, {X: 80, Y: 42}})},
	} {
		if got := plane.Length(g.around(c.a, c.b)); math.Abs(got-c.want) > 1e-6 {
			t.Errorf("%s: %.3f m, want %.3f", c.name, got, c.want)
		}
	}
}
