package spots

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"balk/coverage"
	"balk/geo"
	"balk/geo/plane"
)

// Every unit is drawn as often as its chance says, and the sample is always of the same size: counts over many draws with a fixed seed, against
// four standard deviations of a binomial count.
func TestPivotalKeepsChances(t *testing.T) {
	const seed, rounds, n, size = 11, 4000, 60, 12
	rng := rand.New(rand.NewPCG(seed, 0))
	chances, at := make([]float64, n), make([][4]float64, n)
	sum := 0.0
	for k := range n {
		chances[k], at[k] = 0.5+rng.Float64(), [4]float64{rng.Float64(), rng.Float64()}
		sum += chances[k]
	}
	for k := range chances {
		chances[k] *= size / sum
	}
	counts := make([]int, n)
	for range rounds {
		drawn := pivotal(chances, at, rng)
		if len(drawn) != size {
			t.Fatalf("seed %d: %d drawn, want %d", seed, len(drawn), size)
		}
		for _, k := range drawn {
			counts[k]++
		}
	}
	for k, c := range counts {
		want := rounds * chances[k]
		if d := math.Abs(float64(c) - want); d > 4*math.Sqrt(want*(1-chances[k])) {
			t.Errorf("seed %d: unit %d drawn %d times, want %.0f", seed, k, c, want)
		}
	}
}

// The Voronoi measure of spatial balance (Stevens & Olsen 2004, from memory) is the mean square by which the chances nearest to each
// drawn unit miss 1: many times less than of a simple random sample.
func TestPivotalIsSpread(t *testing.T) {
	const seed, rounds, side, size = 12, 100, 20, 16
	rng := rand.New(rand.NewPCG(seed, 0))
	var at [][4]float64
	for k := range side * side {
		at = append(at, [4]float64{float64(k % side), float64(k / side)})
	}
	chances := make([]float64, len(at))
	for k := range chances {
		chances[k] = float64(size) / float64(len(at))
	}
	balance := func(drawn []int) float64 {
		sums := make([]float64, len(drawn))
		for k := range at {
			best, near := math.Inf(1), []int(nil)
			for i, d := range drawn {
				x, y := at[k][0]-at[d][0], at[k][1]-at[d][1]
				if e := x*x + y*y; e < best {
					best, near = e, []int{i}
				} else if e == best {
					near = append(near, i)
				}
			}
			for _, i := range near {
				sums[i] += chances[k] / float64(len(near))
			}
		}
		b := 0.0
		for _, s := range sums {
			b += (s - 1) * (s - 1) / float64(len(drawn))
		}
		return b
	}
	var spread, simple float64
	for range rounds {
		spread += balance(pivotal(chances, at, rng)) / rounds
		simple += balance(rng.Perm(len(at))[:size]) / rounds
	}
	if spread > 0.15 || simple < 3*spread {
		t.Errorf("seed %d: balance %.3f, of simple random samples %.3f", seed, spread, simple)
	}
}

// Places of a field: as many as asked for, on the section they name, in the field, not in the log gap; the same again, others with another
// seed; strata and sections in their shares of the ground; deciding ones behind.
func TestPlaces(t *testing.T) {
	o := upAndDown()
	gap := plane.Polygon{{{X: 0, Y: 0}, {X: 60, Y: 0}, {X: 60, Y: 60}, {X: 0, Y: 60}}}
	o.Unknown = []plane.Polygon{gap}
	o.Strips = []coverage.Strip{{Number: 1, Area: 50, At: *o.place(60, 125), Surety: coverage.SuretyLikely}, {Number: 2, Area: 40, At: *o.place(20, 125), Surety: coverage.SuretyCertain}}
	a, err := Places(o, Draw{Places: 24, Deciding: 6})
	if err != nil {
		t.Fatal(err)
	}
	b, _ := Places(o, Draw{Places: 24, Deciding: 6})
	c, _ := Places(o, Draw{Places: 24, Deciding: 6, Seed: 9})
	if !reflect.DeepEqual(a, b) {
		t.Error("the same log gives other places")
	}
	if reflect.DeepEqual(a, c) {
		t.Error("another seed gives the same places")
	}
	if len(a) != 26 || a[24].Why != geo.SpotGap || a[25].Why != geo.SpotStrip || a[25].Strip != 1 {
		t.Fatalf("%d places, the last %+v", len(a), a[len(a)-1])
	}
	if !gap.Holds(a[24].At) {
		t.Errorf("the gap is to be decided at %v", a[24].At)
	}
	ties := tiesOf([]Operation{o})
	for _, p := range a[:24] {
		at := o.Local.Point(p.At)
		tie := ties.tie(0, geo.SpotCheck{At: &at, Accuracy: 0.01}, 0)
		if tie.Pass != p.Pass || tie.Section != p.Section || tie.Ground == GroundUnknown || tie.Ground == GroundOutside || tie.Headland != p.Headland {
			t.Errorf("%+v is tied to %+v", p, tie)
		}
		if math.Abs(p.FromLeft-2*float64(p.Section-1)) > 1e-9 || p.Length != 2 {
			t.Errorf("section %d: %g m from %g m", p.Section, p.Length, p.FromLeft)
		}
	}
	// over many seeds: headland and ways as their ground has it, one more or less; sections hardly more unlike
	ground := unitsOf(&o, rand.New(rand.NewPCG(1, 1)))
	shares, all := map[int]float64{}, 0.0
	for _, u := range ground {
		shares[u.stratum] += u.area
		all += u.area
	}
	if len(shares) != 4 {
		t.Errorf("%d strata, want 4: up and down, headland and interior", len(shares))
	}
	const rounds = 12
	var sections, simple float64
	rng := rand.New(rand.NewPCG(3, 3))
	for seed := range uint64(rounds) {
		places, err := Places(o, Draw{Places: 24, Seed: seed + 1})
		if err != nil {
			t.Fatal(err)
		}
		counts, of, by := map[int]float64{}, [4]float64{}, [4]float64{}
		for _, p := range places {
			s := way(p.Bearing, 0)
			if p.Headland {
				s += 3
			}
			counts[s]++
			of[p.Section]++
			by[1+rng.IntN(3)]++
		}
		for s, share := range shares {
			// The places that units are drawn at move with the seed, so that a stratum's share does a little.
			if want := 24 * share / all; math.Abs(counts[s]-want) > 1.5 {
				t.Errorf("seed %d: %g places in stratum %d, want %.1f", seed+1, counts[s], s, want)
			}
		}
		for s := 1; s < 4; s++ {
			sections += (of[s] - 8) * (of[s] - 8)
			simple += (by[s] - 8) * (by[s] - 8)
		}
	}
	if sections > simple/2 {
		t.Errorf("sections miss their share by %.1f, drawn simply by %.1f", sections/rounds, simple/rounds)
	}
	for _, d := range []Draw{{}, {Places: MostPlaces + 1}, {Places: 3, Deciding: -1}} {
		if _, err := Places(o, d); err == nil {
			t.Errorf("%+v is taken", d)
		}
	}
	if _, err := Places(Operation{Width: 6, Sections: []float64{6}, Local: o.Local}, Draw{Places: 3}); err == nil {
		t.Error("places are drawn where no pass is")
	}
}

func BenchmarkPlaces(b *testing.B) {
	o := upAndDown()
	for b.Loop() {
		if p, err := Places(o, Draw{Places: 30}); err != nil || len(p) != 30 {
			b.Fatal(err)
		}
	}
}
