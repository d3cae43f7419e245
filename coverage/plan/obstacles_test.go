package plan

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"balk/coverage/rig"
	"balk/geo/plane"
	"balk/testdata/check"
)

// obstacled is a field of 120 by 100 m with small square obstacles, drawn.
func obstacled(rng *rand.Rand) []plane.Polygon {
	p := plane.Polygon{rectangle(0, 0, 120, 100)}
	for x := 12.0; x < 115; x += 17 {
		for y := 12.0; y < 95; y += 17 {
			if at := (plane.XY{X: x + 5*rng.Float64(), Y: y + 5*rng.Float64()}); rng.IntN(3) > 0 {
				p = append(p, hole(at.X, at.Y, at.X+0.5+rng.Float64(), at.Y+0.5+rng.Float64()))
			}
		}
	}
	return []plane.Polygon{p}
}

// TestRoundsByPlace: the rounds inside each, the islands, and where they are driven are those found by looking at all.
func TestRoundsByPlace(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 7))
	inside, stopped := 0, map[bool]int{}
	for fields := 0; fields < 4 || fields < 16 && (inside == 0 || stopped[false] == 0); fields++ { // of one seed in twenty four had no round inside another
		s, err := surveyOf(t.Context(), obstacled(rng), mounted(2+rng.Float64()), Options{Speed: 8, Rounds: 1 + rng.IntN(3)})
		if err != nil {
			t.Fatal(err)
		}
		if err := s.roundsAndCorridors(t.Context()); err != nil {
			t.Fatal(err)
		}
		p := &s.parts[0]
		for i, outer := range p.loops {
			var edges plane.Edges
			edges.Add(outer.ring)
			var want []int
			for k, inner := range p.loops {
				if apart := besideRound * s.width * float64(inner.round-outer.round); apart > 0 &&
					slices.ContainsFunc(inner.ring, func(q plane.XY) bool { return edges.Near(q, apart) }) {
					want = append(want, k)
				}
			}
			if inside += len(want); !slices.Equal(p.inside[i], want) {
				t.Fatalf("round %d has %v inside, want %v", i, p.inside[i], want)
			}
		}
		var blocks []block
		for _, in := range p.interior {
			blocks = s.interiorBlocks(blocks, nil, in, 0.3, true)
		}
		tour := tourFrom(new(gaps), blocks, nil, true)
		for g, at := range p.stops(blocks, tour) {
			want := slowStop(p, blocks, tour, p.islands[g])
			if stopped[want == len(blocks)]++; at != want {
				t.Errorf("seed %d: island %d is driven after %d blocks, want %d of %d", seed, g, at, want, len(blocks))
			}
		}
	}
	if inside == 0 || stopped[false] == 0 {
		t.Errorf("%d rounds inside others, %d stops: no test", inside, stopped[false])
	}
}

// slowStop is the stop at an island, by looking at every block and every other round.
func slowStop(p *part, blocks []block, t tour, one island) int {
	ring := p.loops[one.loops[0]].ring
	back := math.Inf(1)
	for _, l := range p.loops {
		for _, q := range ring {
			if l.ring.Area() > 0 {
				_, _, away := nearestOn(l.ring, q)
				back = min(back, away)
			}
		}
	}
	best, least := 0, math.Inf(1)
	var last plane.XY
	for k := range t.blocks {
		from, to := blocks[t.blocks[k]].ends(t.ways[k])
		_, _, way := nearestOn(ring, from)
		if k > 0 {
			_, _, before := nearestOn(ring, last)
			way += before - last.Dist(from)
		}
		if way < least-sameWay {
			best, least = k, way
		}
		last = to
	}
	if _, _, away := nearestOn(ring, last); away+back < least-sameWay {
		return len(t.blocks)
	}
	return best
}

// TestRoundsDrawnOnce: other corners driven to their end, outright or not, give the same rounds, driven in the same stretches, whether or not rounds were drawn before, and change
// none of those.
func TestRoundsDrawnOnce(t *testing.T) {
	seed := check.Seed(t)
	strip := []plane.Polygon{{{{X: 0, Y: 0}, {X: 300, Y: 0}, {X: 310, Y: 17}, {X: 10, Y: 17}}}} // see TestOutrightWhereItPays
	cut, corners, differ := 0, 0, 0
	for _, c := range []struct {
		field  []plane.Polygon
		im     rig.Implement
		rounds int
	}{{obstacled(rand.New(rand.NewPCG(seed, 8))), mounted(3), 3}, {strip, trailed(5), 1}} {
		fresh := func(how cornering, fitting bool) *survey {
			s, err := surveyOf(t.Context(), c.field, c.im, Options{Speed: 8, Rounds: c.rounds})
			if err != nil {
				t.Fatal(err)
			}
			if s.sharp, s.fitting = how, fitting; s.roundsAndCorridors(t.Context()) != nil {
				t.Fatal("no rounds")
			}
			return s
		}
		first := fresh(byCorner, false)
		before := lines(first)
		for how := range cornerings {
			var taken [2][]float64
			for k, fitting := range [2]bool{false, true} {
				got, err := first.cornered(t.Context(), how, fitting, false)
				if err != nil {
					t.Fatal(err)
				}
				want := fresh(how, fitting)
				if !reflect.DeepEqual(lines(got), lines(want)) || !slices.Equal(got.corners(), want.corners()) {
					t.Errorf("seed %d: with cornering %d rounds drawn anew are others", seed, how)
				}
				if taken[k] = stretched(t, got); !slices.Equal(taken[k], stretched(t, want)) {
					t.Errorf("seed %d: with cornering %d, none outright %v, rounds drawn anew take other stretches", seed, how, fitting)
				}
				cut, corners = cut+len(taken[k]), corners+len(got.corners())
			}
			if !slices.Equal(taken[0], taken[1]) {
				differ++
			}
		}
		if !reflect.DeepEqual(lines(first), before) {
			t.Error("the rounds drawn first have changed")
		}
	}
	if cut == 0 || corners == 0 || differ == 0 {
		t.Errorf("seed %d: %d stretches, %d rounds with corners driven to their end, %d others where none is driven outright: no test", seed, cut, corners, differ)
	}
}

// stretched is what the rounds of a survey that are driven in stretches take by these, s.
func stretched(t *testing.T, s *survey) (out []float64) {
	d := drawing{survey: s}
	add := func(l loop) {
		if len(l.cuts) == 0 {
			return
		}
		c, err := d.circuit(l)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, c.cost, c.length())
	}
	for _, l := range s.parts[0].loops {
		if add(l); l.corners != nil {
			add(*l.corners)
		}
	}
	return out
}

// lines are those of the rounds of a survey.
func lines(s *survey) (out []plane.Ring) {
	for _, l := range s.parts[0].loops {
		if out = append(out, slices.Clone(l.ring)); l.corners != nil {
			out = append(out, slices.Clone(l.corners.ring))
		}
	}
	return out
}
