package plan

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
)

// TestLeastBetweenByHand: rows side by side, farther apart than two least radii, are joined by quarters of circles and a straight each; with a closed round
// beside them one of these turns may be saved, since the set may go round before it goes on.
func TestLeastBetweenByHand(t *testing.T) {
	turner, err := turnerOf(mounted(6), box(400, 400))
	if err != nil {
		t.Fatal(err)
	}
	turner.unfit = 120
	const n, apart = 5, 13.0 // m
	var p Plan
	for i := range n {
		x := 100 + apart*float64(i)
		p.Passes = append(p.Passes, Pass{Block: 1, Line: []plane.XY{{X: x, Y: 100}, {X: x, Y: 300}}})
	}
	one := (6*math.Pi + math.Hypot(apart-12, 2*2.2)) / (6 / 3.6) // s: radius 6 m at 6 km/h; the axle is 2.2 m ahead of the bar
	if got, err := p.leastBetween(turner); err != nil || math.Abs(got-(n-1)*one) > 1e-9 {
		t.Errorf("%d turns of %g s: bound %g s", n-1, one, got)
	}
	p.Passes = append(p.Passes, Pass{Round: 1, Line: []plane.XY{{X: 50, Y: 50}, {X: 350, Y: 50}, {X: 350, Y: 350}, {X: 50, Y: 350}, {X: 50, Y: 50}}})
	if got, err := p.leastBetween(turner); err != nil || math.Abs(got-(n-2)*one) > 1e-9 {
		t.Errorf("%d turns of %g s, one saved by a round: bound %g s", n-1, one, got)
	}
}

// TestLeastBetweenAgainstAllOrders: few rows anywhere, driven in every order and from either end, move by the quickest of the
// words of Reeds and Shepp. The best of them takes no less than the bound, and the bound is no idle one.
func TestLeastBetweenAgainstAllOrders(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	turner, err := turnerOf(mounted(6), box(1000, 1000))
	if err != nil {
		t.Fatal(err)
	}
	turner.unfit = 1e6
	shares := 0.0
	const cases = 30
	for range cases {
		var p Plan
		n := 2 + rng.IntN(3)
		h := geo.Heading(rng.Float64() * 2 * math.Pi)
		for range n {
			at := plane.XY{X: rng.Float64() * 60, Y: rng.Float64() * 60}
			if rng.IntN(3) == 0 {
				h += geo.Heading(rng.Float64())
			}
			p.Passes = append(p.Passes, Pass{Block: 1, Line: []plane.XY{at, at.Add(h.Ahead().Scale(30 + 40*rng.Float64()))}})
		}
		tip := func(i, end int) (plane.XY, geo.Heading) {
			l := p.Passes[i].Line
			h := geo.Along(l[1].Sub(l[0]))
			if end == 0 {
				return l[0], h + math.Pi
			}
			return l[1], h
		}
		least := math.Inf(1)
		var from func(used, at, end int, seconds float64)
		from = func(used, at, end int, seconds float64) {
			if used == 1<<n-1 {
				least = min(least, seconds)
				return
			}
			for i := range n {
				if used&(1<<i) != 0 {
					continue
				}
				for enter := range 2 {
					was, out := tip(at, end)
					to, in := tip(i, enter)
					words, err := turn.Words(turner.axle(was, out), turner.axle(to, in+math.Pi), turner.steer.Radius, true)
					if err != nil {
						t.Fatal(err)
					}
					quickest := math.Inf(1)
					for _, w := range words {
						seconds, err := w.Time(turner.speed)
						if err != nil {
							t.Fatal(err)
						}
						quickest = min(quickest, seconds)
					}
					from(used|1<<i, i, 1-enter, seconds+quickest)
				}
			}
		}
		for i := range n {
			for end := range 2 {
				from(1<<i, i, end, 0)
			}
		}
		got, err := p.leastBetween(turner)
		if err != nil {
			t.Fatal(err)
		}
		if got > least*(1+1e-9) {
			t.Errorf("%d rows: bound %g s, the best order takes %g s: %+v", n, got, least, p.Passes)
		}
		shares += got / least
	}
	if shares/cases < 0.7 {
		t.Errorf("the bound is %.2f of the best order: want 0.7 at least", shares/cases)
	}
	t.Logf("the bound is %.2f of the best order", shares/cases)
}
