package plane

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/testdata/check"
)

// obstacled is a field of 100 by 100 m in which so many small triangles stand in the way, none of them in another.
func obstacled(rng *rand.Rand, obstacles int) Polygon {
	field := rectangle(0, 0, 100, 100)
	var taken Tree[struct{}]
	for len(field) <= obstacles {
		at := XY{2 + 96*rng.Float64(), 2 + 96*rng.Float64()}
		around := (Box{at, at}).Grown(1)
		free := true
		for range taken.In(around) {
			free = false
		}
		if !free {
			continue
		}
		taken.Insert(around, struct{}{})
		var hole Ring
		for _, turned := range []float64{4, 2, 0} {
			angle := turned + rng.Float64()
			hole = append(hole, at.Add(XY{math.Cos(angle), math.Sin(angle)}.Scale(0.2+0.7*rng.Float64())))
		}
		field = append(field, hole)
	}
	return field
}

// What is hidden of the arcs round obstacles makes no difference: the inset is the one that all the arcs leave, and
// every place is kept or not by its distance from the rings. And it is hidden: few points are left.
func TestHiddenArcsAreCutShort(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 31))
	kept := 0
	for round := range 6 {
		field := []Polygon{obstacled(rng, 150+rng.IntN(250))}
		if round%2 == 1 { // what is mended: many polygons that touch at corners, with holes in them
			var scribble Ring
			for range 120 {
				scribble = append(scribble, XY{100 * rng.Float64(), 100 * rng.Float64()})
			}
			var err error
			if field, err = Wound(scribble); err != nil {
				t.Fatal(err)
			}
		}
		depth := 1.5 + 4*rng.Float64()
		whole := edgeByEdge(t, field, depth)
		got, err := Inset(t.Context(), field, depth)
		if err != nil {
			t.Fatal(err)
		}
		kept += len(got)
		onlyWhole, onlyGot, _, err := Shared(t.Context(), whole, got)
		if err != nil {
			t.Fatal(err)
		}
		if tolerance := layerTolerance(whole, got); onlyWhole+onlyGot > tolerance {
			t.Errorf("seed %d, round %d, %.3f m: %g m² too little, %g too much; at most %g", seed, round, depth, onlyWhole, onlyGot, tolerance)
		}
		var edges Edges
		edges.AddPolygons(field)
		for range 2000 {
			p := XY{100 * rng.Float64(), 100 * rng.Float64()}
			_, far2 := edges.Nearest(p)
			far := math.Sqrt(far2)
			if math.Abs(far-depth) < 2*chordError {
				continue
			}
			if want := insideAny(field, p) && far > depth; insideAny(got, p) != want {
				t.Fatalf("seed %d, round %d: %v is %.4f m from the rings, of which %.4f m are kept: is in the inset %v, want %v", seed, round, p, far, depth, !want, want)
			}
		}
	}
	if kept == 0 {
		t.Error("nothing was kept in any round: no test")
	}

	many := obstacled(rng, 600)
	outlines, err := insetOutlines([]Polygon{many}, 6)
	if err != nil {
		t.Fatal(err)
	}
	cut, all := 0, 0
	for _, o := range outlines[len(many):] {
		cut += len(o.Line)
	}
	for _, o := range appendPolygon(nil, many, laneField) {
		all += len(pulledIn(o.Line, 6))
	}
	if 10*cut > all {
		t.Errorf("%d points of %d are left, want a tenth at most", cut, all)
	}
}

// One arc, half a circle round (0, 0) from (0, 10) clockwise to (0, −10), and corners beside it.
func TestCutShort(t *testing.T) {
	const points = 181
	arc := func() []XY {
		return appendArc(nil, XY{}, XY{1, 0}, -math.Pi, 10, points)
	}
	for _, c := range []struct {
		name  string
		sites []XY
		want  int // points left
	}{
		{"none", nil, points},
		{"too far", []XY{{20, 0}}, points},
		{"behind", []XY{{-3, 0}}, points},
		{"ahead: hides 120° with its ends", []XY{{10, 0}}, 2 + 60},
		{"at the beginning: hides 60° of it", []XY{{0, 10}}, 2 + 120},
		{"two that hide 120° together, each 90°", []XY{{10 * math.Cos(math.Pi/6), 5}, {10 * math.Cos(math.Pi/6), -5}}, 4},
		{"ten of one place", []XY{{10, 0}, {10, 0}, {10, 0}, {10, 0}, {10, 0}, {10, 0}, {10, 0}, {10, 0}, {10, 0}, {10, 0}}, 2 + 60},
	} {
		t.Run(c.name, func(t *testing.T) {
			h := &hiding{depth: 10, sites: newPlaces(append(c.sites, XY{}))}
			full := arc()
			got := h.cutShort(arc(), XY{})
			if math.Abs(float64(len(got)-c.want)) > 2 {
				t.Errorf("%d points, want %d", len(got), c.want)
			}
			if got[0] != full[0] || got[len(got)-1] != full[len(full)-1] {
				t.Errorf("runs from %v to %v, want %v to %v", got[0], got[len(got)-1], full[0], full[len(full)-1])
			}
		})
	}
}

// TestNearSites: the neighbours of a corner are the nearest of all, in order, however far the last ones were.
func TestNearSites(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 10))
	few, many := 0, 0
	for range 60 {
		h := &hiding{depth: 1 + 20*rng.Float64()}
		var all []XY
		for range 1 + rng.IntN(400) {
			p := XY{math.Round(100 * rng.Float64()), math.Round(100 * rng.Float64())} // many are as far as each other
			all = append(all, p)
		}
		h.sites = newPlaces(all)
		for range 20 {
			s := all[rng.IntN(len(all))]
			var want []neighbour
			for _, v := range all {
				if far2 := square(v.X-s.X) + square(v.Y-s.Y); far2 < 4*h.depth*h.depth {
					want = append(want, neighbour{v, far2})
				}
			}
			slices.SortFunc(want, func(a, b neighbour) int { return cmp.Or(cmp.Compare(a.far2, b.far2), compareXY(a.at, b.at)) })
			if len(want) > mostNeighbours {
				want = want[:mostNeighbours]
				many++
			} else {
				few++
			}
			if got := h.near(s); !slices.Equal(got, want) {
				t.Fatalf("seed %d: %v, want %v", seed, got, want)
			}
		}
	}
	if few == 0 || many == 0 {
		t.Error("no test")
	}
}
