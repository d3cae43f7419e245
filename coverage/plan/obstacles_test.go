package plan

import (
	"context"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

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
	for range 4 {
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

// TestRoundsDrawnOnce: other corners driven to their end give the same rounds whether or not rounds were drawn before, and change none of those.
func TestRoundsDrawnOnce(t *testing.T) {
	seed := check.Seed(t)
	field := obstacled(rand.New(rand.NewPCG(seed, 8)))
	fresh := func(ctx context.Context, how cornering) *survey {
		s, err := surveyOf(ctx, field, mounted(3), Options{Speed: 8, Rounds: 3})
		if err != nil {
			t.Fatal(err)
		}
		if s.sharp = how; s.roundsAndCorridors(ctx) != nil {
			t.Fatal("no rounds")
		}
		return s
	}
	first := fresh(t.Context(), byCorner)
	before := lines(first)
	cut := 0
	for how := range cornerings {
		got, err := first.cornered(t.Context(), how, false, false)
		if err != nil {
			t.Fatal(err)
		}
		want := fresh(t.Context(), how)
		if !reflect.DeepEqual(lines(got), lines(want)) || !slices.Equal(got.corners(), want.corners()) {
			t.Errorf("seed %d: with cornering %d rounds drawn anew are others", seed, how)
		}
		for i, own := range first.parts[0].loops {
			if i >= len(got.parts[0].loops) {
				break
			}
			if a, b := own.corners, got.parts[0].loops[i].corners; a != nil && b != nil {
				if cut++; a.circuits == b.circuits {
					t.Error("two surveys share how a round is driven in stretches")
				}
			}
		}
	}
	if !reflect.DeepEqual(lines(first), before) {
		t.Error("the rounds drawn first have changed")
	}
	if cut == 0 {
		t.Error("no corner is driven to its end: no test")
	}
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
