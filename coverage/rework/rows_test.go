package rework

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/check"
)

// star is a ring round the middle of so many corners, at distances between the least and the most.
func star(rng *rand.Rand, corners int, least, most float64) []plane.XY {
	var ring []plane.XY
	for k := range corners {
		sin, cos := math.Sincos(2 * math.Pi * (float64(k) + 0.8*rng.Float64()) / float64(corners))
		ring = append(ring, plane.XY{X: cos, Y: sin}.Scale(least+(most-least)*rng.Float64()))
	}
	return ring
}

// TestGuidesGivenUpCannotWin: no cover costs less than atLeast says, however it is moved, and the cheapest guide is the one
// found by driving all of them.
func TestGuidesGivenUpCannotWin(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 9))
	tried, near := 0, 0
	for range 8 {
		r := tattered(rng, 12).check(t, drive.Work{Width: 5})
		w, err := worksOf(r, five, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for k := range r.Strips {
			pieces := []piece{{k, r.Strips[k].Shape}}
			var all []cover
			for _, g := range w.guides(pieces) {
				l := w.rowsOf(pieces, g)
				c, ok := w.coverAlong(l, 0, math.Inf(1))
				if ok && c.beyond > 0 && c.slack > touch {
					c = w.inward(l, c)
				}
				if ok {
					all = append(all, c)
				}
				for range 4 {
					moved, ok := w.coverAlong(l, l.slack*(2*rng.Float64()-1), math.Inf(1))
					if !ok {
						continue
					}
					if tried++; moved.cost < w.atLeast(l)+1 {
						near++
					}
					if moved.cost < w.atLeast(l)-1e-6 {
						t.Errorf("strip %d: a cover costs %.6f m², said to cost %.6f at the least", r.Strips[k].Number, moved.cost, w.atLeast(l))
					}
				}
			}
			for len(all) > 0 {
				i := cheapest(all, w.perPass())
				if whole, err := w.serves(t.Context(), all[i]); err != nil {
					t.Fatal(err)
				} else if whole {
					all = all[i : i+1]
					break
				}
				all = slices.Delete(all, i, i+1)
			}
			got, err := w.best(t.Context(), pieces, math.Inf(1))
			if err != nil {
				t.Fatal(err)
			}
			if len(got.runs) != len(all[0].runs) || math.Abs(got.cost-all[0].cost) > 1e-6 {
				t.Errorf("strip %d: %d runs at %.3f m², of all guides %d at %.3f", r.Strips[k].Number, len(got.runs), got.cost, len(all[0].runs), all[0].cost)
			}
		}
	}
	if t.Logf("%d covers, %d within 1 m² of the least", tried, near); near == 0 {
		t.Error("no cover comes near what it is said to cost at the least")
	}
}

// TestBeyond: how much of a line lies outside, beside its places a centimetre apart.
func TestBeyond(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 10))
	for k := range 40 {
		g, err := terrainOf([]plane.Polygon{{star(rng, 20, 5, 40), star(rng, 8, 1, 2.5)}}, five)
		if err != nil {
			t.Fatal(err)
		}
		line := []plane.XY{{X: 30 * (rng.Float64() - 0.5), Y: 30 * (rng.Float64() - 0.5)}}
		for range 6 {
			line = append(line, line[len(line)-1].Add(plane.XY{X: 30 * (rng.Float64() - 0.5), Y: 30 * (rng.Float64() - 0.5)}))
		}
		fine := spaced(line, 0.01)
		want := 0.0
		for i := 1; i < len(fine); i++ {
			if !g.edges.Holds(fine[i-1].Lerp(fine[i], 0.5)) {
				want += fine[i-1].Dist(fine[i])
			}
		}
		for _, step := range []float64{1, 100} {
			walked := spaced(line, step)
			near := make([][]int32, len(walked)-1)
			back := slices.Clone(walked)
			slices.Reverse(back)
			g.rimNear(near, append(slices.Clone(walked), back...), 0, len(walked)-1)
			if got := g.beyond(walked, near); math.Abs(got-want) > 0.01*float64(g.edges.Len()) {
				t.Errorf("case %d, steps of %g m: %.3f m outside, want %.3f", k, step, got, want)
			}
		}
	}
}

// TestSpansAreJoined: spans on one lane less than a width apart are driven in one go, as far as nothing stands between, spans farther
// apart are not.
func TestSpansAreJoined(t *testing.T) {
	field := []plane.Polygon{{rectangle(-100, -50, 100, 50), rectangle(40, -5, 42, 5)}}
	slices.Reverse(field[0][1])
	g, err := terrainOf(field, five)
	if err != nil {
		t.Fatal(err)
	}
	w := &works{im: five, ground: g, width: 5}
	guide := straightGuide(plane.XY{}, plane.XY{X: 1}, false)
	for _, c := range []struct {
		name     string
		from, to float64 // m, of the gap
		want     int
	}{
		{"none", 10, 10, 1}, {"of half a width", 10, 12.5, 1}, {"just below a width", 10, 14.99, 1}, {"of a width", 10, 15, 2}, {"of two widths", 10, 20, 2},
		{"just below three widths", 10, 24.9, 2}, {"of half a width, with an obstacle in it", 39.8, 42.2, 2},
	} {
		got := w.joined([]span{{plane.Span{From: 0, To: c.from}, 1}, {plane.Span{From: c.to, To: 60}, 2}}, guide, 0)
		if len(got) != c.want || got[0].From != 0 || got[len(got)-1].To != 60 {
			t.Errorf("a gap %s: %v, want %d", c.name, got, c.want)
		}
		if c.want == 1 && !slices.Equal(got[0].strips, []int{1, 2}) {
			t.Errorf("a gap %s: for strips %v", c.name, got[0].strips)
		}
	}
}
