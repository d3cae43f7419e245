package demo

import (
	"math"
	"strings"
	"testing"

	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

func closeTo(t *testing.T, what string, got, want, off float64) {
	t.Helper()
	if !(math.Abs(got-want) <= off) {
		t.Errorf("%s: %.9g, want %.9g", what, got, want)
	}
}

// An oval of 32 sides has 32 triangles of ½·a·b·sin(360°/32), and keeps its half axes.
func TestPond(t *testing.T) {
	ring := pond(plane.XY{X: 22, Y: 14}, 13, 11)
	closeTo(t, "area", ring.Area(), 16*13*11*math.Sin(2*math.Pi/32), 1e-9)
	for i, want := range map[int]plane.XY{0: {X: 35, Y: 14}, 8: {X: 22, Y: 25}, 16: {X: 9, Y: 14}, 24: {X: 22, Y: 3}} {
		closeTo(t, "corner", ring[i].Dist(want), 0, 1e-9)
	}
}

// A corner of 90° rounded to r loses the square r² less the quarter of a polygon of 32 sides, which is 8 triangles of
// ½·r²·sin(90°/8); one that the ring turns right at gains as much. Worked out by hand.
func TestBowed(t *testing.T) {
	const r = 3.0
	cut := r*r - 4*r*r*math.Sin(math.Pi/16)
	box := plane.Ring{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 10}, {X: 0, Y: 10}}
	angle := plane.Ring{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 5}, {X: 5, Y: 5}, {X: 5, Y: 10}, {X: 0, Y: 10}}
	for name, c := range map[string]struct {
		ring   plane.Ring
		corner int
		centre plane.XY
		area   float64
	}{
		"the first corner":        {box, 0, plane.XY{X: r, Y: r}, 100 - cut},
		"the last corner":         {box, 3, plane.XY{X: r, Y: 10 - r}, 100 - cut},
		"a corner in the middle":  {box, 2, plane.XY{X: 10 - r, Y: 10 - r}, 100 - cut},
		"the corner of the elbow": {angle, 3, plane.XY{X: 5 + r, Y: 5 + r}, 75 + cut},
	} {
		got := bowed(c.ring, c.corner, r)
		if len(got) != len(c.ring)+8 {
			t.Fatalf("%s: %d corners, want 8 more than %d", name, len(got), len(c.ring))
		}
		closeTo(t, name+", area", got.Area(), c.area, 1e-9)
		for _, p := range got[c.corner : c.corner+9] {
			closeTo(t, name+", radius", p.Dist(c.centre), r, 1e-9)
		}
	}
}

// Each field is a polygon with its outer ring counter-clockwise, holes clockwise and rings closed, at its place to 8 decimals.
func TestBoundary(t *testing.T) {
	for i, g := range grounds() {
		poly := g.boundary()
		if want := []int{2, 1, 1}[i]; len(poly) != want {
			t.Errorf("%s: %d rings, want %d", g.slug, len(poly), want)
		}
		l := geo.LocalAt(g.centre)
		for k, ring := range poly {
			n := len(ring) - 1
			flat := g.polygon()[k]
			if ring[0] != ring[n] || n != len(flat) {
				t.Errorf("%s: ring %d of %d places from %v to %v", g.slug, k, n, ring[0], ring[n])
			}
			if (flat.Area() > 0) != (k == 0) {
				t.Errorf("%s: ring %d turns the wrong way, %.0f m²", g.slug, k, flat.Area())
			}
			for j, p := range ring[:n] {
				closeTo(t, g.slug, l.XY(p).Dist(flat[j]), 0, 1e-3)
			}
		}
	}
	if got, want := rounded(orb.Point{11.123456785001, -48.000000005001}), (orb.Point{11.12345679, -48.00000001}); got != want {
		t.Errorf("rounded to %v, want %v", got, want)
	}
}

// Where a pass bends aside by size·sin² from a neighbour it laps over by lap. The mean of sin² is ½; that of what exceeds ½ is
// 1/π·∫(sin² − ½) from 45° to 135° = 1/(2π).
func TestGap(t *testing.T) {
	for name, c := range map[string]struct{ size, lap, want float64 }{
		"without a lap":          {0.5, 0, 0.25},
		"a lap as wide as that":  {0.5, 0.5, 0},
		"a lap half as wide":     {1, 0.5, 1 / (2 * math.Pi)},
		"twice of that":          {2, 1, 1 / math.Pi},
		"not aside, and no lap":  {0, 0, 0},
		"a lap wider than aside": {0.3, 0.4, 0},
	} {
		closeTo(t, name, gap(c.size, c.lap), c.want, 1e-6)
	}
}

// What is wrong stands on one line each, with its unit.
func TestList(t *testing.T) {
	at, to := orb.Point{11.5, 48.25}, orb.Point{11.625, 48.125}
	got := list([]Fault{{Kind: Drifted, Pass: 7, Size: -0.35, From: at, To: to}, {Kind: LeftOut, Pass: 12, Size: 181.5, From: at, To: to}, {Kind: LogGap, Pass: 3, Size: 22, From: at, To: to}})
	want := []string{
		"  pass   7  bends aside         -0.35 m  from 11.500000, 48.250000 to 11.625000, 48.125000",
		"  after 12  left out           181.50 m  from 11.500000, 48.250000 to 11.625000, 48.125000",
		"  pass   3  hole in the log     22.00 s  from 11.500000, 48.250000 to 11.625000, 48.125000",
	}
	if got != strings.Join(want, "\n")+"\n" {
		t.Errorf("got\n%s\nwant\n%s", got, strings.Join(want, "\n"))
	}
}

// The faults of the farm are those of its fields, and each lies where the tool or the log shows it, as long and as large as its size says.
func TestFaultsLieWhereTheyShow(t *testing.T) {
	_, all, err := build(t.Context(), 1)
	if err != nil {
		t.Fatal(err)
	}
	k := 0
	for i, g := range operations() {
		op, err := g.work(t.Context(), 1+uint64(i)) // each field has a seed of its own
		if err != nil {
			t.Fatal(err)
		}
		l, width, want := geo.LocalAt(g.centre), op.im.Width-op.im.Overlap, map[Kind]int{}
		for _, f := range g.faults {
			want[f.kind]++
		}
		for ; k < len(all) && all[k].Log == g.slug; k++ {
			f := all[k]
			want[f.Kind]--
			name := g.slug + ", " + string(f.Kind)
			from, to := l.XY(f.From), l.XY(f.To)
			long := from.Dist(to)
			worked := workedOn(op.way, f.Pass-1)
			area := long * width
			switch f.Kind {
			case Drifted:
				area = math.Abs(f.Size) / 2 * long // passes of these fields lap by some centimetres
				if f.Area > area {
					t.Errorf("%s: %.1f m², more than without a lap, %.1f m²", name, f.Area, area)
				}
				closeTo(t, name+", whole pass", long, worked[0].Dist(worked[len(worked)-1]), 0.5)
			case LiftedEarly:
				closeTo(t, name+", length", long, f.Size, 1e-3)
				closeTo(t, name+", where the tool comes up", worked[len(worked)-1].Dist(from), 0, 0.2)
			case LoweredLate:
				closeTo(t, name+", length", long, f.Size, 1e-3)
				closeTo(t, name+", where the tool goes down", worked[0].Dist(to), 0, 0.2)
			case Twice:
				closeTo(t, name+", length", long, f.Size, 1e-3)
				before := workedOn(op.way, f.Pass-2) // the same way back
				closeTo(t, name+", back again", worked[0].Dist(before[len(before)-1]), 0, 0.5)
			case LeftOut:
				closeTo(t, name+", length", long, f.Size, 1e-3)
			case LogGap:
				closeTo(t, name+", where the log falls silent", at(op.way, op.windows[LogGap].from).bar.Dist(from), 0, 1e-3)
				closeTo(t, name+", s", f.Size, op.windows[LogGap].to-op.windows[LogGap].from, 1e-9)
				closeTo(t, name+", length", long, f.Size*g.pace, 0.04*f.Size*g.pace) // the pace varies by so much
			case WorseFix:
				area = long * f.Size / 2
				closeTo(t, name+", length", long, worse*g.pace, 0.04*worse*g.pace)
			}
			off := 1e-3 * area
			if f.Kind == Drifted || f.Kind == WorseFix {
				off = 0.4 * area
			}
			closeTo(t, name+", area", f.Area, area, off)
		}
		for kind, n := range want {
			if n != 0 {
				t.Errorf("%s: %d of %q too few", g.slug, n, kind)
			}
		}
	}
	if k != len(all) {
		t.Errorf("%d faults of no field", len(all)-k)
	}
}
