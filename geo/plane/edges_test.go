package plane

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"balk/testdata/check"
)

// someGround is a ragged field with a hole, of so many corners, and a second field that shares a side with it.
func someGround(rng *rand.Rand, corners int) []Polygon {
	ragged := func(at XY, least, most float64, hole bool) Ring {
		r := make(Ring, corners)
		for i := range r {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(corners))
			r[i] = at.Add(XY{cos, sin}.Scale(least + (most-least)*rng.Float64()))
		}
		return r.Turned(hole)
	}
	outer := ragged(XY{}, 80, 100, false)
	beside := Ring{outer[1], outer[0], XY{200, -5}, XY{200, 30}}
	return []Polygon{{outer, ragged(XY{10, 5}, 20, 30, true)}, {beside.Turned(false)}}
}

// What the tree says is what looking at every side says.
func TestEdgesAgainstEverySide(t *testing.T) {
	const seed = 11
	rng := rand.New(rand.NewPCG(seed, 0))
	for _, corners := range []int{4, 17, 300} {
		polys := someGround(rng, corners)
		var e Edges
		e.AddPolygons(polys)
		var rims Rims
		rims.AddPolygons(append(polys, Polygon{{}}))
		var sides []Segment
		for _, p := range polys {
			for _, r := range p {
				for _, s := range r.Sides() {
					sides = append(sides, s)
				}
			}
		}
		if e.Len() != len(sides) {
			t.Fatalf("%d corners: %d edges, want %d", corners, e.Len(), len(sides))
		}
		last := int32(0)
		for range 500 {
			p := XY{rng.Float64()*400 - 150, rng.Float64()*240 - 120}
			q := p.Add(XY{rng.NormFloat64() * 30, rng.NormFloat64() * 30})
			least, crossed := math.Inf(1), false
			var near []int32
			box := EmptyBox().Extend(p, q)
			for k, s := range sides {
				least, crossed = min(least, s.Dist(p)), crossed || s.Crosses(Segment{p, q})
				if s.Box().Meets(box) {
					near = append(near, int32(k))
				}
			}
			held := polys[0].Holds(p) || polys[1].Holds(p)
			if got := e.Holds(p); got != held {
				t.Errorf("seed %d: %v inside: %t, want %t", seed, p, got, held)
			}
			if got := e.Winding(p) > 0; got != held {
				t.Errorf("seed %d: %v wound round: %t, want %t", seed, p, got, held)
			}
			k, d2 := e.Nearest(p)
			if math.Abs(math.Sqrt(d2)-least) > 1e-9 || sides[k].Dist2(p) != d2 {
				t.Errorf("seed %d: %v is %.9f m from edge %d, want %.9f m", seed, p, math.Sqrt(d2), k, least)
			}
			want := least
			if !held {
				want = -least
			}
			from := last
			if p.X > 100 {
				from = 0 // from an edge far away too
			}
			got, nearest := e.Signed(p, from)
			if last = nearest; math.Abs(got-want) > 1e-9 || math.Abs(e.SignedFrom(p, nearest)-want) > 1e-9 {
				t.Errorf("seed %d: %v lies %.9f m inside, from its nearest edge %.9f m; want %.9f m", seed, p, got, e.SignedFrom(p, nearest), want)
			}
			if e.Cross(Segment{p, q}) != crossed {
				t.Errorf("seed %d: %v to %v crosses: %t, want %t", seed, p, q, !crossed, crossed)
			}
			found := slices.Sorted(e.In(box))
			if !slices.Equal(found, near) || e.Meet(box) != (len(near) > 0) {
				t.Errorf("seed %d: edges %v in %v, want %v", seed, found, box, near)
			}
			if rims.Meet(box) != (len(near) > 0) {
				t.Errorf("seed %d, %d corners: rims meet %v: %t, want %t", seed, corners, box, len(near) == 0, len(near) > 0)
			}
		}
	}
}

// In a ring of so many corners that edges are looked for by their distance, Signed says what every side says, from a near edge and from a far one; so
// it does where two sides are tied, at a corner of the ring and half-way between two of its sides.
func TestSignedOfVeryManyCorners(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 7))
	const n, long = 4 * 20_000, 1000.0
	var ring Ring
	for side := range 4 {
		for i := range n / 4 {
			along, out := long*float64(4*i)/n, 0.01*(2*rng.Float64()-1)
			if i < 20 || i > n/4-20 {
				out = 0
			}
			ring = append(ring, [4]XY{{along, out}, {long + out, along}, {long - along, long + out}, {out, long - along}}[side])
		}
	}
	var e Edges
	e.Add(ring)
	if e.tree.tree.Len() <= boxesAround {
		t.Fatalf("%d boxes: must be above %d", e.tree.tree.Len(), boxesAround)
	}
	last := int32(0)
	for k := range 400 {
		p := XY{1040*rng.Float64() - 20, 1040*rng.Float64() - 20}
		switch k % 4 {
		case 1: // tied at a corner of the ring, where it bends away
			i := 1 + rng.IntN(n-2)
			in, out := ring[i].Sub(ring[i-1]).Unit(), ring[i+1].Sub(ring[i]).Unit()
			p = ring[i].Add(out.Sub(in).Unit().Scale(-0.001))
		case 2: // tied between sides without noise
			p = XY{0.01 * float64(k%80), 0.01 * float64(k%80)}
		case 3: // along a row
			p = XY{3, long * float64(k) / 400}
		}
		want := math.Inf(1)
		for _, s := range e.All() {
			want = min(want, s.Dist(p))
		}
		if !(Polygon{ring}).Holds(p) {
			want = -want
		}
		from := last
		if k%8 > 3 {
			from = int32(rng.IntN(n))
		}
		var got float64
		if got, last = e.Signed(p, from); math.Abs(got-want) > 1e-9 || math.Abs(e.SignedFrom(p, last)-want) > 1e-9 {
			t.Errorf("seed %d: %v lies %.9f m inside, from its nearest edge %.9f m; want %.9f m", seed, p, got, e.SignedFrom(p, last), want)
		}
	}
}

// Two parts share a side of very many corners, half of it straight and along an axis: the part that holds a place counts, of its edges that are
// tied the last, from whichever edge looking begins. Every edge is asked here, by the height of a triangle over it.
func TestSignedOfPartsThatShareASide(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 8))
	for _, n := range []int{2_000, 40_000} {
		signedOfParts(t, seed, rng, n)
	}
}

func signedOfParts(t *testing.T, seed uint64, rng *rand.Rand, n int) {
	t.Helper()
	const long, wide = 1000.0, 50.0
	var shared Ring
	for i := range n + 1 {
		x := 0.0
		if i > n/2 && i < n {
			x = 0.02 * (2*rng.Float64() - 1)
		}
		shared = append(shared, XY{x, long * float64(i) / float64(n)})
	}
	west := append(slices.Clone(shared), XY{-wide, long}, XY{-wide, 0})
	east := append(slices.Clone(shared), XY{wide, long}, XY{wide, 0})
	polys := []Polygon{{west}, {east}}
	var e Edges
	e.AddPolygons(polys)
	if many := n > 10_000; many != (e.tree.tree.Len() > boxesAround) {
		t.Fatalf("%d corners in %d boxes: above %d must be %t", n, e.tree.tree.Len(), boxesAround, many)
	}
	far := func(s Segment, p XY) float64 {
		along := s.B.Sub(s.A)
		if p.Sub(s.A).Dot(along) <= 0 {
			return math.Hypot(p.X-s.A.X, p.Y-s.A.Y)
		}
		if p.Sub(s.B).Dot(along) >= 0 {
			return math.Hypot(p.X-s.B.X, p.Y-s.B.Y)
		}
		return math.Abs(p.Sub(s.A).Cross(along)) / math.Hypot(along.X, along.Y)
	}
	atCorners := 0
	for k := range 400 {
		i := 1 + rng.IntN(n-1)
		p := shared[i]
		switch k % 4 {
		case 0: // beside a corner of both, where one of them bends away
			in, out := p.Sub(shared[i-1]).Unit(), shared[i+1].Sub(p).Unit()
			p = p.Add(out.Sub(in).Scale(-0.001))
			p.X += 1e-4
		case 1: // beside a side
			p = p.Lerp(shared[i+1], 0.3).Add(XY{0.01 * (2*rng.Float64() - 1), 0})
		case 2: // in the midst of a part, tied where the side is straight
			p = p.Add(XY{-wide / 2, 0})
		case 3:
			p = XY{3*wide*rng.Float64() - 1.5*wide, 1.2*long*rng.Float64() - 0.1*long}
		}
		held := -1
		for part, poly := range polys {
			if poly.Holds(p) {
				held = part
			}
		}
		least := math.Inf(1)
		for _, s := range e.All() {
			least = min(least, far(s.Segment, p))
		}
		if least < 0.001 { // nearer to the line rounding decides which part holds p
			continue
		}
		var want []int32 // those that are tied, of the part that holds p
		for k, s := range e.All() {
			if d := far(s.Segment, p); d <= least+1e-12 && (held < 0 || s.Ring == held) {
				want = append(want, int32(k))
			}
		}
		if len(want) > 1 {
			atCorners++
		}
		inside := least
		if held < 0 {
			inside = -least
		}
		for _, from := range []int32{0, want[0], int32(e.Len()) - 1, int32(rng.IntN(e.Len()))} {
			got, nearest := e.Signed(p, from)
			if math.Abs(got-inside) > 1e-9 || nearest != want[len(want)-1] {
				t.Fatalf("seed %d: %v from edge %d: %.9f m inside, nearest is edge %d; want %.9f m, edge %d", seed, p, from, got, nearest, inside, want[len(want)-1])
			}
		}
	}
	if atCorners < 50 {
		t.Errorf("seed %d: %d places are nearest to a corner: must be 50 or more", seed, atCorners)
	}
}

// A corner that stands out and one that stands in, with places whose nearest point is the corner: the sides' normals
// alone would tell wrongly there.
func TestSignedAtCorners(t *testing.T) {
	var e Edges
	e.AddPolygons([]Polygon{{{{0, 0}, {30, 0}, {30, 30}, {20, 5}, {0, 30}}}})
	for _, c := range []struct {
		name string
		p    XY
		want float64
	}{
		{"beyond the sharp corner at the top", XY{30, 34}, -4},
		{"beyond it and aside", XY{33, 34}, -5},
		{"beyond the square corner", XY{-3, -4}, -5},
		{"below the corner that stands in", XY{20, 2}, 2},
		{"just below it", XY{20, 4.5}, 0.5},
		{"on a side", XY{15, 0}, 0},
	} {
		for k := range e.Len() {
			if got, _ := e.Signed(c.p, int32(k)); math.Abs(got-c.want) > 1e-9 {
				t.Errorf("%s, from edge %d: %.6f m inside, want %g m", c.name, k, got, c.want)
			}
		}
	}
	var none Edges
	if d, k := none.Signed(XY{}, 0); k != -1 || !math.IsInf(d, -1) || none.Holds(XY{}) {
		t.Errorf("no edges: %g m, edge %d", d, k)
	}
	if k, _ := none.Nearest(XY{}); k != -1 {
		t.Errorf("no edges: nearest is %d", k)
	}
}

// Left, right and on the line where rounding hides it: the classic case of Kettner, Mehlhorn, Pion, Schirra & Yap, "Classroom
// examples of robustness problems in geometric computations" (2008), section 3: points about (0.5, 0.5) against the line from
// (12, 12) to (24, 24) in steps of 2^-53.
func TestOrientationOfKettner(t *testing.T) {
	const u = 0x1p-53
	for i := range 64 {
		for j := range 64 {
			p := [2]float64{0.5 + float64(i)*u, 0.5 + float64(j)*u}
			want := 0
			if p[1] > p[0] {
				want = 1
			} else if p[1] < p[0] {
				want = -1
			}
			a, b := [2]float64{12, 12}, [2]float64{24, 24}
			if got := [3]int{Orientation(a, b, p), Orientation(b, p, a), Orientation(b, a, p)}; got != [3]int{want, want, -want} {
				t.Fatalf("%v: %v, want %d, turned round %d", p, got, want, -want)
			}
		}
	}
}

func BenchmarkEdges(b *testing.B) {
	rng := rand.New(rand.NewPCG(5, 0))
	for _, corners := range []int{50, 2000} {
		var e Edges
		e.AddPolygons(someGround(rng, corners))
		places := make([]XY, 1000)
		for i := range places {
			places[i] = XY{rng.Float64()*240 - 120, rng.Float64()*240 - 120}
		}
		b.Run("corners="+strconv.Itoa(corners)+"/cross", func(b *testing.B) {
			n := 0
			for i := 0; b.Loop(); i++ {
				p := places[i%1000]
				if e.Cross(Segment{p, p.Add(XY{3, 2})}) {
					n++
				}
			}
			if n == b.N {
				b.Error("everything crosses")
			}
		})
		b.Run("corners="+strconv.Itoa(corners)+"/holds", func(b *testing.B) {
			n := 0
			for i := 0; b.Loop(); i++ {
				if e.Holds(places[i%1000]) {
					n++
				}
			}
			if b.N > 1000 && (n == 0 || n == b.N) {
				b.Error("all or none inside")
			}
		})
		b.Run("corners="+strconv.Itoa(corners)+"/nearest", func(b *testing.B) {
			for i := 0; b.Loop(); i++ {
				if k, _ := e.Nearest(places[i%1000]); k < 0 {
					b.Fatal("no edge")
				}
			}
		})
		b.Run("corners="+strconv.Itoa(corners)+"/signed", func(b *testing.B) {
			last := int32(0)
			for i := 0; b.Loop(); i++ {
				p := places[i/100%1000].Add(XY{float64(i%100) / 10, 0})
				if _, last = e.Signed(p, last); last < 0 {
					b.Fatal("no edge")
				}
			}
		})
	}
}

// TestNear: an edge lies no farther than so much from a place where the nearest one does not, to the last millimetre on either side of it.
func TestNear(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 6))
	var e Edges
	for range 5 {
		var ring Ring
		at := XY{X: 200 * rng.Float64(), Y: 200 * rng.Float64()}
		for k := range 40 {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / 40)
			ring = append(ring, at.Add(XY{X: cos, Y: sin}.Scale(5+20*rng.Float64())))
		}
		e.Add(ring)
	}
	for range 1000 {
		p := XY{X: 300*rng.Float64() - 50, Y: 300*rng.Float64() - 50}
		_, away2 := e.Nearest(p)
		if away := math.Sqrt(away2); away > 1e-3 && e.Near(p, away-1e-3) || !e.Near(p, away+1e-3) {
			t.Fatalf("seed %d: %v is %g m from the nearest edge; near to a millimetre less: %v, more: %v", seed, p, away, e.Near(p, away-1e-3), e.Near(p, away+1e-3))
		}
	}
	if (&Edges{}).Near(XY{}, 1e6) {
		t.Error("no edge is near")
	}
}

// TestWithin: as far as the nearest edge, where that is near enough.
func TestWithin(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 9))
	found, none := 0, 0
	for range 200 {
		var edges Edges
		for range 1 + rng.IntN(40) {
			at := XY{100 * rng.Float64(), 100 * rng.Float64()}
			edges.Add(Ring{at, at.Add(XY{5 * rng.Float64(), 0}), at.Add(XY{0, 5 * rng.Float64()})})
		}
		p := XY{100 * rng.Float64(), 100 * rng.Float64()}
		_, far2 := edges.Nearest(p)
		want := math.Sqrt(far2)
		for _, most := range []float64{math.Inf(1), 20 * rng.Float64(), want * 1.01, want * 0.99} {
			got := edges.Within(p, most)
			if want <= most && got != want || want > most && !math.IsInf(got, 1) {
				t.Fatalf("seed %d: %g m within %g m, want %g", seed, got, most, want)
			}
			if math.IsInf(got, 1) {
				none++
			} else {
				found++
			}
		}
	}
	if found == 0 || none == 0 {
		t.Error("no test")
	}
}
