package plan

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/geo/plane"
	"balk/testdata/check"
)

// TestBentRowsByPlace: rows beside a bent edge begin and end where every station looked at one by one, against all sides, has ground beside it, and levels are those by
// all sides of the edge.
func TestBentRowsByPlace(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 41))
	stations, apart := 0, 0
	for range 6 {
		var edge []plane.XY
		for x := 0.0; x <= 200; x += 10 {
			edge = append(edge, plane.XY{X: x, Y: 12*math.Sin(x/60) + rng.Float64()})
		}
		g, err := guideOf(edge, 6)
		if err != nil {
			t.Fatal(err)
		}
		ground := plane.Polygon{{{X: 3, Y: 5}, {X: 190, Y: 8 + 4*rng.Float64()}, {X: 200, Y: 90}, {X: 120, Y: 70 + 30*rng.Float64()}, {X: 10, Y: 95}}}
		for k := range 3 { // narrow obstacles, that only the ends of bars touch
			x, y := 30+50*float64(k)+5*rng.Float64(), 40+10*rng.Float64()
			ground = append(ground, plane.Ring{{X: x, Y: y}, {X: x + 0.4, Y: y + 20}, {X: x + 12*rng.Float64() + 1, Y: y}})
		}
		ground = inFrame(g.frame, nil, ground)
		const depth, width = 6.0, 6.0
		got, pitch := g.strips(ground, depth, width, Options{})
		lo, hi := g.levels(ground)
		box, sides := ground[0].Bounds(), columnsOf(ground)
		half := pitch/2 - hair
		x0, x1 := box.Min.X-half-station, box.Max.X+half+station
		rows, _ := distances(lo, hi, depth, width, false)
		for row, d := range rows {
			line := g.beside(d, x0, x1, new(besideRoom))
			for x := x0; x <= x1; x += station {
				at, ahead := line.at(x)
				side := ahead.Left().Scale(half)
				worked, in, near := sides.meets(at.Sub(side), at.Add(side)), false, false
				for _, st := range got {
					in = in || st.row == row && st.u0 <= x && x <= st.u1
					near = near || st.row == row && min(math.Abs(st.u0-x), math.Abs(st.u1-x)) < station
				}
				if stations++; in != worked && !near {
					apart++
				}
			}
		}
		for range 200 {
			p := plane.XY{X: -20 + 240*rng.Float64(), Y: -40 + 140*rng.Float64()}
			line := drawnOn(g.line, -100, 300)
			least, above := math.Inf(1), false
			for i := 1; i < len(line); i++ {
				s := plane.Segment{A: line[i-1], B: line[i]}
				if least = min(least, s.Dist(p)); s.A.X <= p.X && p.X <= s.B.X {
					above = s.B.Sub(s.A).Cross(p.Sub(s.A)) >= 0
				}
			}
			if !above {
				least = -least
			}
			if l := level(line, p); l != least {
				t.Errorf("seed %d: level %g of %v: want %g", seed, l, p, least)
			}
		}
		if bentRowsOf(g, ground, depth) == bentRowsOf(g, ground, depth+width) || bentRowsOf(g, ground, depth) == bentRowsOf(g, ground[:2], depth) {
			t.Error("other rows have the same key")
		}
	}
	if apart > 0 || stations == 0 {
		t.Errorf("seed %d: %d of %d stations are in a row and have no ground beside them, or the other way round", seed, apart, stations)
	}
}
