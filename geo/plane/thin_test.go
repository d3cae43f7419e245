package plane

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// stays: what is left out of a line lies within tolerance of what stays, and what stays comes in its order.
func stays(t *testing.T, line, got []XY, tolerance float64) {
	t.Helper()
	k := 0
	for _, p := range line {
		if k+1 < len(got) && p == got[k+1] {
			k++
		}
		if d := (Segment{got[k], got[min(k+1, len(got)-1)]}).Dist(p); d > tolerance {
			t.Fatalf("%v lies %.4f m from what stays", p, d)
		}
	}
	if k != len(got)-1 {
		t.Fatalf("%d points stay that are none of the line, or in another order", len(got)-1-k)
	}
}

// What is left out lies within tolerance of what stays, what stays comes in its order, and both ends do.
func TestThinned(t *testing.T) {
	for _, c := range []struct {
		name      string
		line      []XY
		tolerance float64
		want      []XY
	}{
		{"two points", []XY{{0, 0}, {5, 0}}, 1, []XY{{0, 0}, {5, 0}}},
		{"a straight", []XY{{0, 0}, {1, 0}, {2, 0}, {5, 0}}, 1e-3, []XY{{0, 0}, {5, 0}}},
		{"a bump as high as the tolerance", []XY{{0, 0}, {2, 0.5}, {5, 0}}, 0.5, []XY{{0, 0}, {5, 0}}},
		{"a higher one", []XY{{0, 0}, {2, 0.51}, {5, 0}}, 0.5, []XY{{0, 0}, {2, 0.51}, {5, 0}}},
		{"out and back", []XY{{0, 0}, {5, 0}, {10, 0}, {5, 0.1}, {0, 0}}, 0.5, []XY{{0, 0}, {10, 0}, {0, 0}}},
		{"two points in one place", []XY{{1, 1}, {1, 1}}, 0.5, []XY{{1, 1}, {1, 1}}},
		{"standing", []XY{{1, 1}, {1, 1}, {1, 1}}, 0.5, []XY{{1, 1}}},
	} {
		before := slices.Clone(c.line)
		if got := Thinned(c.line, c.tolerance); !slices.Equal(got, c.want) || !slices.Equal(c.line, before) {
			t.Errorf("%s: %v, want %v; of %v became %v", c.name, got, c.want, before, c.line)
		}
	}
	const seed, tolerance = 7, 0.3
	rng := rand.New(rand.NewPCG(seed, 0))
	line := []XY{{}}
	for range 400 {
		line = append(line, line[len(line)-1].Add(XY{rng.Float64(), rng.NormFloat64() / 3}))
	}
	got := Thinned(line, tolerance)
	if len(got) < 3 || len(got) > len(line)/2 || got[0] != line[0] || got[len(got)-1] != line[len(line)-1] {
		t.Fatalf("seed %d: %d of %d points stay", seed, len(got), len(line))
	}
	stays(t, line, got, tolerance)
}

// A comb whose teeth go one by one is not looked at once for each of them, and all that goes lies within tolerance of what stays.
func TestThinnedComb(t *testing.T) {
	const teeth, tolerance = 5_000, 0.5
	var comb []XY
	for k := range teeth {
		y := 100 + 1e-6*float64(teeth-k)
		comb = append(comb, XY{float64(k), 0}, XY{float64(k) + 0.25, y}, XY{float64(k) + 0.5, y}, XY{float64(k) + 0.75, 0})
	}
	got, looked := thin(comb, tolerance)
	if looked > (mostDepth+20)*len(comb) {
		t.Errorf("%d points were looked at %d times", len(comb), looked)
	}
	if len(got) < 2*teeth || len(got) > len(comb) {
		t.Fatalf("%d of %d points stay", len(got), len(comb))
	}
	stays(t, comb, got, tolerance)
}

// A ring keeps its corners wherever it begins, and those of a long side go.
func TestRingThinned(t *testing.T) {
	ring := Ring{{0, 0}, {5, 0.01}, {10, 0}, {10, 4}, {5, 3.99}, {0, 4}}
	corners := Ring{{0, 0}, {10, 0}, {10, 4}, {0, 4}}
	for from := range ring {
		if from == 1 || from == 4 {
			continue // its first point stays, corner or not
		}
		got := slices.Concat(ring[from:], ring[:from]).Thinned(0.1)
		at := slices.Index(corners, ring[from])
		if want := slices.Concat(corners[at:], corners[:at]); !slices.Equal(got, want) {
			t.Errorf("from corner %d: %v, want %v", from, got, want)
		}
	}
	if got := (Ring{{1, 1}, {1, 1}}).Thinned(0.1); len(got) != 2 {
		t.Errorf("a place: %v", got)
	}
	if got := (Ring{}).Thinned(0.1); len(got) != 0 {
		t.Errorf("nothing: %v", got)
	}
}
