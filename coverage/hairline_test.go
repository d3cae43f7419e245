package coverage

import (
	"cmp"
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

// haired is a comb of drawn blocks that hairlines join: both sides of these have a corner every few decimetres and waver by millimetres, some bend, some
// run out, and on some there hangs a bead.
func haired(rng *rand.Rand) plane.Polygon {
	var low, high []plane.XY
	x, y, lean, size := 0.0, 0.0, 0.0, 3.0
	if rng.IntN(5) == 0 { // none of them may be a core
		size = 0.05
	}
	block := func() {
		w, h := size*(0.1+rng.Float64()), size*(0.1+rng.Float64())
		low = append(low, plane.XY{X: x, Y: y}, plane.XY{X: x, Y: y - h}, plane.XY{X: x + w, Y: y - h}, plane.XY{X: x + w, Y: y})
		high = append(high, plane.XY{X: x, Y: y + 0.01}, plane.XY{X: x, Y: y + h}, plane.XY{X: x + w, Y: y + h}, plane.XY{X: x + w, Y: y + 0.01})
		x += w
	}
	block()
	for range 1 + rng.IntN(4) {
		step, wavers, bend := 0.05+0.3*rng.Float64(), 0.03*math.Pow(rng.Float64(), 2), 0.02*rng.NormFloat64()*float64(rng.IntN(2))
		n, runsOut := 5+rng.IntN(200), rng.IntN(4) == 0
		if runsOut { // about as far as it stays with its block
			step, wavers = 0.04, 0.005+0.004*rng.Float64()
			n = int(tailLong / step * (0.85 + 0.15*rng.Float64()))
		}
		for k := range n {
			x, y, lean = x+step, y+lean*step, lean+bend*step
			low, high = append(low, plane.XY{X: x, Y: y + wavers*rng.Float64()}), append(high, plane.XY{X: x, Y: y + wavers*(1+rng.Float64())})
			if rng.IntN(60) == 0 && k < n-1 { // a bead
				r := 0.02 + size*rng.Float64()/10
				high = append(high, plane.XY{X: x + step/3, Y: y + r}, plane.XY{X: x + step/2, Y: y + r})
			}
		}
		x, lean = x+step, 0
		if !runsOut {
			block()
		} else {
			low = append(low, plane.XY{X: x, Y: y + wavers}) // it runs out
			break
		}
	}
	slices.Reverse(high)
	return plane.Polygon{append(low, high...)}
}

// everyRung is rungs with those within hairlines, every edge looked at beside each other.
func (c cutter) everyRung(p plane.Polygon) []rung {
	var rim plane.Edges
	for k, r := range p {
		rim.Add(r.Turned(k > 0))
	}
	var near []int32
	for f := range int32(rim.Len()) {
		near = append(near, f)
	}
	var found []rung
	add := func(a, b rungEnd) {
		found = append(found, rung{[2]rungEnd{a, b}, plane.Segment{A: rim.At(a.edge).At(a.share), B: rim.At(b.edge).At(b.share)}})
	}
	for k := range near {
		e := rim.At(int32(k))
		if at, ok := c.acrossCorner(&rim, int32(k), near); ok {
			add(rungEnd{int32(k), 0}, at)
		}
		for f := k + 1; f < len(near); f++ {
			o := rim.At(int32(f))
			if e.B.Sub(e.A).Unit().Dot(o.B.Sub(o.A).Unit()) > facing || !e.Box().Grown(c.neck).Meets(o.Box()) {
				continue
			}
			if s, t, ok := c.between(e.Segment, o.Segment); ok {
				add(rungEnd{int32(k), s}, rungEnd{int32(f), t})
			} else if t, s, ok := c.between(o.Segment, e.Segment); ok {
				add(rungEnd{int32(k), s}, rungEnd{int32(f), t})
			}
		}
	}
	slices.SortFunc(found, func(a, b rung) int {
		return cmp.Or(cmp.Compare(a.A.Dist(a.B), b.A.Dist(b.B)), cmp.Compare(a.A.X, b.A.X), cmp.Compare(a.A.Y, b.A.Y), cmp.Compare(a.B.X, b.B.X), cmp.Compare(a.B.Y, b.B.Y))
	})
	return apartFrom(slices.DeleteFunc(found, func(g rung) bool { return c.blocked(&rim, g) }))
}

// TestHairlines cuts drawn combs of blocks and hairlines where they would be cut with a rung at each of their corners.
func TestHairlines(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 3))
	c := cutter{neck, tailLong, plane.XY{X: 1}}
	fewer, cut, whole, narrow := 0, 0, 0, 0
	for n := range 400 {
		p := haired(rng)
		if mended, err := plane.Mend(p); err != nil {
			t.Fatal(err)
		} else if len(mended) != 1 || math.Abs(mended[0].Area()-p.Area()) > 1e-4*p.Perimeter() {
			continue // its hairlines lap each other
		}
		turn := rng.IntN(len(p[0]))
		p[0] = append(p[0][turn:len(p[0]):len(p[0])], p[0][:turn]...)
		var turned plane.Edges
		turned.Add(p[0].Turned(false))
		rim := turned.All()
		all, some := c.everyRung(p), c.rungs(&turned)
		if fewer += len(all) - len(some); len(some) > len(all) {
			t.Fatalf("comb %d: %d rungs of %d", n, len(some), len(all))
		}
		var want []rung
		if len(all) > 0 {
			want = c.cuts(ladderOf(rim, all))
		}
		_, got := c.cut(p, 1)
		said := func(s []plane.Segment) string {
			slices.SortFunc(s, func(a, b plane.Segment) int { return cmp.Or(cmp.Compare(a.A.X, b.A.X), cmp.Compare(a.B.X, b.B.X)) })
			return fmt.Sprintf("%.6f", s)
		}
		var wanted []plane.Segment
		if len(want) > 0 {
			for _, g := range ladderOf(rim, want).rungs {
				wanted = append(wanted, g.Segment)
			}
		}
		if said(got) != said(wanted) {
			t.Errorf("comb %d: cut at\n%s\nwant\n%s", n, said(got), said(wanted))
		}
		if len(got) == 0 {
			whole++
		}
		if _, core := broad(p, coreNecks*c.neck-2*widestPrecision); !core { // the circle of a piece may be found larger by that
			if narrow++; len(got) > 0 {
				t.Errorf("comb %d, in which no core has room, is cut at %s", n, said(got))
			}
		}
		cut += len(got)
	}
	if fewer < 2000 || cut < 500 || whole == 0 || narrow < 10 {
		t.Errorf("%d rungs fewer, %d cuts, %d combs that stay whole, %d too narrow for a core", fewer, cut, whole, narrow)
	}
}

// hairRows are rows that lie exactly at the credited width of a bar of 6 m with a lap of 10 cm, all over a field, at 10 Hz, in places rounded to 1e-8°,
// 1 mm: each join is a hairline from end to end. The joins stop a bar's width short of the ends, where ground is missed.
func hairRows(fixes int) (geo.Field, geo.Track) {
	const apart, step = 5.9, 0.167
	rows := math.Round(168 * math.Sqrt(float64(fixes)/1e6))
	long := float64(fixes) / rows * step
	h := rows * apart / 2
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-h, -long/2-6, h, long/2+6)}}
	for k := range int(rows) {
		x, dir := -h+(float64(k)+0.5)*apart, float64(1-2*(k%2))
		s.Lines = append(s.Lines, trial.Straight(plane.XY{X: x, Y: -dir * long / 2}, plane.XY{X: x, Y: dir * long / 2}, step))
	}
	t := s.Timed(0.1).Track()
	flat := t.Line.FlatCoords()
	for k, v := range flat {
		if k%3 < 2 {
			flat[k] = math.Round(v*1e8) / 1e8
		}
	}
	return s.Field(), t
}

// BenchmarkHairlines is Check of rows whose joins are hairlines of thousands of corners.
func BenchmarkHairlines(b *testing.B) {
	for _, n := range []int{10_000, 100_000, 1_000_000} {
		b.Run(fmt.Sprintf("fixes=%d", n), func(b *testing.B) {
			field, track := hairRows(n)
			used := check.CPUTime(b)
			for b.Loop() {
				r, err := Check(b.Context(), field, []geo.Track{track}, drive.Work{Width: 6, Overlap: 0.1})
				if err != nil {
					b.Fatal(err)
				}
				if share := r.Balance.Missed / r.Balance.Field; r.Used < n*99/100 || share > 0.15 || r.Balance.Missed == 0 || len(r.Strips) < 2 {
					b.Fatalf("%d fixes, %.3f missed, %d strips, %d slivers of %.2f m²", r.Used, share, len(r.Strips), r.Slivers, r.SliverArea)
				}
			}
			b.ReportMetric(float64((check.CPUTime(b)-used).Nanoseconds())/float64(b.N)/float64(n), "cpu-ns/fix")
		})
	}
}
