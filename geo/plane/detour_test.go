package plane

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Shortest lines round a square, with lengths a person can check; and none where a wall has no end.
func TestDetour(t *testing.T) {
	var e Edges
	e.Add(Ring{{40, 40}, {40, 60}, {60, 60}, {60, 40}})
	clear := func(a, b XY) bool { return !e.Cross(Segment{a, b}) }
	corners := []XY{{39, 39}, {61, 39}, {61, 61}, {39, 61}}
	for _, c := range []struct {
		name string
		a, b XY
		over []XY
	}{
		{"nothing between", XY{10, 10}, XY{90, 10}, nil},
		{"past one corner", XY{39, 10}, XY{62, 58}, corners[1:2]},
		{"below it", XY{20, 42}, XY{80, 42}, corners[:2]},
		{"as far either way: over the earlier corners", XY{20, 50}, XY{80, 50}, corners[:2]},
	} {
		want := append(append([]XY{c.a}, c.over...), c.b)
		got := Detour(c.a, c.b, corners, clear)
		if len(got) != len(want) || math.Abs(Length(got)-Length(want)) > 1e-9 {
			t.Errorf("%s: %v, want %v", c.name, got, want)
		}
	}
	if got := Detour(XY{20, 50}, XY{50, 50}, corners, clear); got != nil {
		t.Errorf("into the square: %v", got)
	}
	if got := Detour(XY{20, 50}, XY{80, 50}, nil, clear); got != nil {
		t.Errorf("without corners: %v", got)
	}
}

// No line over corners that see each other is shorter: all ways by Floyd and Warshall (1962).
func TestDetourIsTheShortest(t *testing.T) {
	const seed = 4
	rng := rand.New(rand.NewPCG(seed, 0))
	bent, none := 0, 0
	for range 60 {
		var e Edges
		var corners []XY
		for range 12 {
			at, r := XY{rng.Float64() * 100, rng.Float64() * 100}, 4+10*rng.Float64()
			turned := rng.Float64()
			var ring Ring
			for k := range 4 {
				out := rotate(XY{r, 0}, turned+float64(k)*math.Pi/2)
				ring = append(ring, at.Add(out))
				corners = append(corners, at.Add(out.Scale(1.01)))
			}
			e.Add(ring)
		}
		clear := func(a, b XY) bool { return !e.Cross(Segment{a, b}) }
		places := append(corners, XY{rng.Float64() * 100, rng.Float64() * 100}, XY{rng.Float64() * 100, rng.Float64() * 100})
		n := len(places)
		far := make([][]float64, n)
		for i := range far {
			far[i] = make([]float64, n)
			for k := range far[i] {
				if far[i][k] = math.Inf(1); clear(places[i], places[k]) {
					far[i][k] = places[i].Dist(places[k])
				}
			}
		}
		for m := range n {
			for i := range n {
				for k := range n {
					far[i][k] = min(far[i][k], far[i][m]+far[m][k])
				}
			}
		}
		a, b := places[n-2], places[n-1]
		want := far[n-2][n-1]
		got := Detour(a, b, corners, clear)
		if got == nil {
			if none++; !math.IsInf(want, 1) {
				t.Errorf("seed %d: no way found, one is %.6f m", seed, want)
			}
			continue
		}
		if l := Length(got); math.Abs(l-want) > 20*asShort {
			t.Errorf("seed %d: %.6f m, the shortest is %.6f m", seed, l, want)
		}
		if len(got) > 2 {
			bent++
		}
		if got[0] != a || got[len(got)-1] != b {
			t.Errorf("seed %d: from %v to %v, want %v to %v", seed, got[0], got[len(got)-1], a, b)
		}
		for i := 1; i < len(got); i++ {
			if !clear(got[i-1], got[i]) {
				t.Errorf("seed %d: %v to %v crosses a wall", seed, got[i-1], got[i])
			}
		}
	}
	if bent < 20 || none == 60 {
		t.Errorf("%d of 60 ways bend, %d are shut: the cases say little", bent, none)
	}
}
