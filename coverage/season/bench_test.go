package season

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// driven is a square of so many metres, worked n times in passes of 5 m at a pitch of 4.9 m with 2 cm of wander, of so many fixes each and each
// time in another direction; the last pass of each is left out now and then, and all of them end 3 m short of the boundary here and there.
func driven(t testing.TB, side float64, n, fixes int) (geo.Field, []Operation) {
	rng := rand.New(rand.NewPCG(uint64(n), uint64(fixes)))
	h := side / 2
	f := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-h, -h, h, h)}}.Field()
	const pitch = 4.9
	var all []Operation
	for k := range n {
		sin, cos := math.Sincos(math.Pi * float64(k) / float64(n))
		ahead, left := plane.XY{X: cos, Y: sin}, plane.XY{X: -sin, Y: cos}
		var lines [][]plane.XY
		step := side * side / pitch / float64(fixes)
		for y := -1.5 * h; y < 1.5*h; y += pitch {
			a, b := chord(left.Scale(y), ahead, h)
			if a.Dist(b) < 2*step || rng.IntN(40) == 0 {
				continue
			}
			short := 3 * rng.Float64()
			line := trial.Straight(a.Lerp(b, short/a.Dist(b)), b, step)
			lines = append(lines, trial.Apply(line, func(p plane.XY) plane.XY {
				return plane.XY{X: p.X + 0.02*rng.NormFloat64(), Y: p.Y + 0.02*rng.NormFloat64()}
			}))
		}
		o := operated(t, f, fmt.Sprint(k+1), drive.Work{Width: 5, Overlap: 0.1, PassError: 0.04}, lines, Components[k%2])
		o.When = monday.Add(time.Duration(7*k) * day)
		all = append(all, o)
	}
	return f, all
}

// chord is where a line through p is inside the square of half side h.
func chord(p, ahead plane.XY, h float64) (a, b plane.XY) {
	from, to := math.Inf(-1), math.Inf(1)
	for _, c := range [2][2]float64{{p.X, ahead.X}, {p.Y, ahead.Y}} {
		if math.Abs(c[1]) < 1e-12 {
			if math.Abs(c[0]) > h {
				return p, p
			}
			continue
		}
		s, e := (-h-c[0])/c[1], (h-c[0])/c[1]
		from, to = max(from, min(s, e)), min(to, max(s, e))
	}
	if from >= to {
		return p, p
	}
	return p.Add(ahead.Scale(from)), p.Add(ahead.Scale(to))
}

// BenchmarkSeason is all that is told of n operations of 15,000 fixes each on 20 ha; MB is what it allocates.
func BenchmarkSeason(b *testing.B) {
	for _, n := range []int{2, 5, 10} {
		b.Run(fmt.Sprintf("operations=%d", n), func(b *testing.B) {
			f, all := driven(b, 447.2, n, 15_000)
			b.ReportAllocs()
			var r Result
			for b.Loop() {
				r = of(b, f, all...)
			}
			balanced(b, r)
			if worked := r.Operations[0].Worked; worked < 0.8*r.Field || len(r.Pairs) != n*(n-1)/2 {
				b.Fatalf("%+v", r.Operations[0])
			}
			b.ReportMetric(float64(len(r.All.Strips)), "strips")
		})
	}
}
