package drive

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
)

// rowsDown are trails that drive rows of 6 m upwards, one each, with a fix every step metres: lowered where lowered says, and
// lifted far away. The fixes begin anywhere.
func rowsDown(rng *rand.Rand, step float64, lowered []float64) []*trail {
	var out []*trail
	for i, y := range lowered {
		t := &trail{source: "rows", timed: true, tracks: []trackStart{{0, 0, 0}}}
		for k, at := 0, y-10-step*rng.Float64(); at < y+30; k, at = k+1, at+step {
			t.at, t.seconds = append(t.at, plane.XY{X: 6 * float64(i), Y: at}), append(t.seconds, float64(k))
			state := geo.Lifted
			if at >= y {
				state = geo.Working
			}
			t.State = append(t.State, state)
		}
		out = append(out, t)
	}
	return out
}

// switched tells where the rows are taken to begin, by how much that is off, and by how much the middle of the step is.
func off(trails []*trail, lowered []float64) (at []float64, settled, middle float64) {
	for i, t := range trails {
		for key, s := range t.switches {
			p := s.place()
			at = append(at, p.Y)
			settled += math.Pow(p.Y-lowered[i], 2) / float64(len(lowered))
			middle += math.Pow((t.at[key[0]].Y+t.at[key[1]].Y)/2-lowered[i], 2) / float64(len(lowered))
		}
	}
	return at, math.Sqrt(settled), math.Sqrt(middle)
}

// TestWhereRowsBegin: rows of 6 m with fixes 2 m apart. The middle of a step is off by 2 m/√12 = 0.58 m.
func TestWhereRowsBegin(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 0))
	line := func(n int, sd, slope float64) []float64 {
		out := make([]float64, n)
		for i := range out {
			out[i] = 100 + slope*float64(i) + sd*rng.NormFloat64()
		}
		return out
	}
	for _, c := range []struct {
		name        string
		rows        int
		sd, slope   float64
		least, most float64 // of the middle's error so much is left
	}{
		{"lowered on a line, within 10 cm", 40, 0.1, 0, 0, 0.45},
		{"on a slanted edge, within 10 cm", 40, 0.1, 1.5, 0, 0.45},
		{"within 30 cm", 40, 0.3, 0, 0, 0.75},
		{"far apart, within 10 cm", 60, 0.1, 0, 0, 0.38},
		{"on a bend of 400 m, within 10 cm", 60, 0.1, 0, 0, 0.93},
		{"anywhere within metres: the middle", 40, 5, 0, 0.95, 1.05},
		{"four rows tell nothing: the middle", 4, 0.1, 0, 1, 1},
	} {
		var all, middles float64
		for range 20 {
			lowered := line(c.rows, c.sd, c.slope)
			if strings.Contains(c.name, "bend") {
				for i := range lowered {
					x := 6 * (float64(i) - float64(c.rows)/2)
					lowered[i] += math.Sqrt(400*400-x*x) - 400
				}
			}
			trails := rowsDown(rng, 2, lowered)
			width := 6.0
			if strings.Contains(c.name, "far apart") { // five or six beside each within the nearest reach
				width = 2
			}
			settleSwitches(trails, sceneOf(nil, Work{}), Work{Width: width})
			at, settled, middle := off(trails, lowered)
			if len(at) != len(lowered) {
				t.Fatalf("%s: %d switches of %d rows", c.name, len(at), len(lowered))
			}
			all, middles = all+settled*settled, middles+middle*middle
			for _, one := range trails {
				for key, s := range one.switches {
					a, b := one.at[key[0]].Y, one.at[key[1]].Y
					if p := s.place().Y; p < min(a, b) || p > max(a, b) || c.rows == 4 && math.Abs(p-(a+b)/2) > 1e-9 || !(s.sd > 0) {
						t.Errorf("%s: at %.3f ± %.3f of a step from %.3f to %.3f", c.name, p, s.sd, a, b)
					}
				}
			}
		}
		share := math.Sqrt(all / middles)
		t.Logf("%s: %.3f of the middle's error", c.name, share)
		if share > c.most+1e-9 || share < c.least-1e-9 {
			t.Errorf("%s: %.3f of the middle's error is left", c.name, share)
		}
	}
}

// TestRoundsBesideRows: two rounds of the headland run beside the rows and begin 12 m farther out. The rows next to them are told by the
// rows alone, and of all about 92 in 100 err by no more than 1.96 of their doubt.
func TestRoundsBesideRows(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 0))
	const rows, rounds = 20, 2
	var next, middles float64 // squares: of the four rows next to the rounds, and of the middles of their steps
	held := 0.0
	for range 60 {
		lowered := make([]float64, rows+rounds)
		for i := range lowered {
			if lowered[i] = 100 + 0.3*rng.NormFloat64(); i >= rows {
				lowered[i] -= 12
			}
		}
		trails := rowsDown(rng, 2, lowered)
		settleSwitches(trails, sceneOf(nil, Work{}), Work{Width: 6})
		for i, one := range trails[:rows] {
			for key, s := range one.switches {
				e := s.place().Y - lowered[i]
				if math.Abs(e) <= In95*s.sd {
					held += 1.0 / rows / 60
				}
				if m := (one.at[key[0]].Y+one.at[key[1]].Y)/2 - lowered[i]; i >= rows-4 {
					next, middles = next+e*e, middles+m*m
				}
			}
		}
	}
	t.Logf("%.3f of the middle's error, %.3f within their doubt", math.Sqrt(next/middles), held)
	if share := math.Sqrt(next / middles); share > 0.85 {
		t.Errorf("%.3f of the middle's error is left beside the rounds", share)
	}
	if held < 0.85 {
		t.Errorf("%.3f within their doubt", held)
	}
}

// TestRoundsThatEndNearRows: two rounds of the headland beside the rows begin 2.5 m farther out, as they do at a slanted side, and rows are begun within a
// metre. In the mean the rounds are taken to begin where they do, and to within what the middle of a step errs by, 0.58 m.
func TestRoundsThatEndNearRows(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 0))
	const rows, rounds, days = 16, 2, 150
	const east = 6*(rows+rounds-1) + 3
	w := Work{Width: 6, Headland: 11.9}
	scene := sceneOf([]plane.Polygon{{plane.Ring{{X: -60, Y: 87}, {X: east, Y: 87}, {X: east, Y: 160}, {X: -60, Y: 160}}}}, w)
	var sum, squares, z float64
	for range days {
		lowered := make([]float64, rows+rounds)
		for i := range lowered {
			if lowered[i] = 100 + rng.NormFloat64(); i >= rows {
				lowered[i] = 97.5 + 0.3*rng.NormFloat64()
			}
		}
		trails := rowsDown(rng, 2, lowered)
		for _, s := range settleSwitches(trails, scene, w) {
			if i := int(math.Round(s.working.X / 6)); i >= rows {
				e := s.place().Y - lowered[i]
				sum, squares, z = sum+e, squares+e*e, z+e*e/(s.sd*s.sd)
			}
		}
	}
	const n = rounds * days
	t.Logf("off by %.3f m in the mean, by %.3f altogether, %.2f of their doubt", sum/n, math.Sqrt(squares/n), math.Sqrt(z/n))
	if math.Abs(sum/n) > 0.15 || squares > 0.65*0.65*n || z < 0.8*n || z > 1.2*n {
		t.Errorf("rounds are off by %.3f m in the mean, by %.3f altogether, %.2f of their doubt", sum/n, math.Sqrt(squares/n), math.Sqrt(z/n))
	}
}

// TestDoubtOfRowEnds: thirteen rows on a side, four beside each within the nearest reach, which end about a line within 30 cm, with fixes 2 m apart: what they err by is what
// they are said to, on average, neither more nor less. A spread that grew by the line's two rows in each round makes the doubt a fifth larger.
func TestDoubtOfRowEnds(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 11))
	square, n := 0.0, 0.0
	for range 150 {
		lowered := make([]float64, 13)
		for i := range lowered {
			lowered[i] = 100 + 0.3*rng.NormFloat64()
		}
		trails := rowsDown(rng, 2, lowered)
		settleSwitches(trails, sceneOf(nil, Work{}), Work{Width: 3})
		for i, one := range trails {
			for _, s := range one.switches {
				e := (s.place().Y - lowered[i]) / s.sd
				square, n = square+e*e, n+1
			}
		}
	}
	ratio := math.Sqrt(square / n)
	t.Logf("errors are %.2f of their doubt", ratio)
	if ratio < 0.9 || ratio > 1.12 {
		t.Errorf("errors are %.2f of their doubt, want 1", ratio)
	}
}

// TestALateRowStaysLate: a row that begins 3 m behind the others' line does so after this too, and takes none with it.
func TestALateRowStaysLate(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	lowered := make([]float64, 21)
	for i := range lowered {
		lowered[i] = 100
	}
	lowered[10] = 103
	trails := rowsDown(rng, 1.5, lowered)
	settleSwitches(trails, sceneOf(nil, Work{}), Work{Width: 6})
	for i, one := range trails {
		for _, s := range one.switches {
			if p := s.place().Y; math.Abs(p-lowered[i]) > map[bool]float64{true: 1.5, false: 0.75}[i == 10] {
				t.Errorf("row %d begins at %.2f, was lowered at %.2f", i, p, lowered[i])
			}
		}
	}
}

// TestRowEndsInAnyOrder: which row was driven first, and from which end a track is read, play no part.
func TestRowEndsInAnyOrder(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	lowered := make([]float64, 20)
	for i := range lowered {
		lowered[i] = 100 + 0.2*rng.NormFloat64()
	}
	trails := rowsDown(rng, 2, lowered)
	settleSwitches(trails, sceneOf(nil, Work{}), Work{Width: 6})
	var other []*trail
	for i := len(trails) - 1; i >= 0; i-- {
		o, n := &trail{source: "rows", timed: true, tracks: trails[i].tracks}, len(trails[i].at)
		for k := n - 1; k >= 0; k-- {
			o.at, o.seconds, o.State = append(o.at, trails[i].at[k]), append(o.seconds, float64(n-k)), append(o.State, trails[i].State[k])
		}
		other = append(other, o)
	}
	settleSwitches(other, sceneOf(nil, Work{}), Work{Width: 6})
	want, _, _ := off(trails, lowered)
	got, _, _ := off(other, lowered)
	for i, p := range want {
		if q := got[len(got)-1-i]; math.Abs(p-q) > 1e-9 {
			t.Errorf("row %d: %.12f, and %.12f the other way", i, p, q)
		}
	}
}

// TestCutNormal: mean and deviation against a sum over the density.
func TestCutNormal(t *testing.T) {
	for _, c := range [][4]float64{{0, 1, -1, 2}, {5, 1, 0, 2}, {-30, 2, 0, 2}, {1, 100, 0, 2}, {40, 1, 0, 2}, {1, 1e-3, 0, 2}} {
		mean, sd, from, to := c[0], c[1], c[2], c[3]
		var w, x, xx float64
		const n = 200000
		peak := math.Max(from, math.Min(to, mean))
		for i := range n {
			v := from + (to-from)*(float64(i)+0.5)/n
			f := math.Exp(-((v-mean)*(v-mean) - (peak-mean)*(peak-mean)) / (2 * sd * sd))
			w, x, xx = w+f, x+f*v, xx+f*v*v
		}
		wm, ws := x/w, math.Sqrt(math.Max(0, xx/w-x*x/w/w))
		m, s := cutNormal(mean, sd, from, to)
		if math.Abs(m-wm) > 0.1*sd+1e-3 && math.Abs(m-wm) > 0.05 || math.Abs(s-ws) > 0.25*ws+1e-3 {
			t.Errorf("mean %g, sd %g, from %g to %g: %.5f ± %.5f, want %.5f ± %.5f", mean, sd, from, to, m, s, wm, ws)
		}
	}
}

// BenchmarkRowEnds by the number of rows, with a fix each 2 m and 400 m to a row: 200 fixes each.
func BenchmarkRowEnds(b *testing.B) {
	for _, rows := range []int{50, 200, 800} {
		rng := rand.New(rand.NewPCG(1, uint64(rows)))
		lowered := make([]float64, rows)
		for i := range lowered {
			lowered[i] = 100 + 0.3*rng.NormFloat64()
		}
		trails := rowsDown(rng, 2, lowered)
		b.Run(fmt.Sprintf("rows=%d", rows), func(b *testing.B) {
			for b.Loop() {
				if got := len(settleSwitches(trails, sceneOf(nil, Work{}), Work{Width: 6})); got != rows {
					b.Fatalf("%d switches of %d rows", got, rows)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(200*rows), "ns/fix")
		})
	}
}
