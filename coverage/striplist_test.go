package coverage

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// bare is missed ground by another rule: the field is cut at every edge of every row into a grid of rectangles, each worked or not, and those
// that share a side are filled as one piece.
type bare struct {
	area   float64
	inside func(plane.XY) bool
}

func bareOf(field plane.Box, rows []plane.Box) (pieces []bare) {
	lines := func(lo, hi float64, of func(plane.Box) [2]float64) []float64 {
		cut := []float64{lo, hi}
		for _, r := range rows {
			for _, v := range of(r) {
				cut = append(cut, min(max(v, lo), hi))
			}
		}
		slices.Sort(cut)
		return slices.Compact(cut)
	}
	xs := lines(field.Min.X, field.Max.X, func(b plane.Box) [2]float64 { return [2]float64{b.Min.X, b.Max.X} })
	ys := lines(field.Min.Y, field.Max.Y, func(b plane.Box) [2]float64 { return [2]float64{b.Min.Y, b.Max.Y} })
	const worked, free = -1, -2
	mark := make([][]int, len(xs)-1)
	for i := range mark {
		mark[i] = make([]int, len(ys)-1)
		for j := range mark[i] {
			x, y := (xs[i]+xs[i+1])/2, (ys[j]+ys[j+1])/2
			mark[i][j] = free
			for _, r := range rows {
				if r.Min.X < x && x < r.Max.X && r.Min.Y < y && y < r.Max.Y {
					mark[i][j] = worked
				}
			}
		}
	}
	for i := range mark {
		for j := range mark[i] {
			if mark[i][j] != free {
				continue
			}
			n, area := len(pieces), 0.0
			todo := [][2]int{{i, j}}
			mark[i][j] = n
			for len(todo) > 0 {
				at := todo[len(todo)-1]
				todo = todo[:len(todo)-1]
				area += (xs[at[0]+1] - xs[at[0]]) * (ys[at[1]+1] - ys[at[1]])
				for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
					p, q := at[0]+d[0], at[1]+d[1]
					if p >= 0 && q >= 0 && p < len(mark) && q < len(mark[p]) && mark[p][q] == free {
						mark[p][q] = n
						todo = append(todo, [2]int{p, q})
					}
				}
			}
			pieces = append(pieces, bare{area, func(p plane.XY) bool {
				i, j := slices.IndexFunc(xs, func(x float64) bool { return x > p.X }), slices.IndexFunc(ys, func(y float64) bool { return y > p.Y })
				return i > 0 && j > 0 && mark[i-1][j-1] == n
			}})
		}
	}
	return pieces
}

// TestListOfStrips: rows drawn with gaps between them, ends that are short, and lifts on the way leave as many strips as a grid has pieces, each
// of its area, and with its place in it. Whatever is left is 10 cm wide or more, so that no neck is cut; nor do rows end side by side within that, which would
// leave one.
func TestListOfStrips(t *testing.T) {
	seed := check.Seed(t)
	strips := 0
	for n := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, n))
		const half, long = 3.0, 200.0
		var rows []plane.Box
		var lines [][]plane.XY
		var ends []float64
		y := 0.0
		for k := range 8 {
			if rng.Float64() < 0.45 {
				y += 0.1 + 0.5*rng.Float64()
			} else if k > 0 {
				y -= 0.05
			}
			short := func() float64 {
				if rng.Float64() < 0.5 {
					return 0
				}
				return 0.3 + 4*rng.Float64()
			}
			from, to := short(), long-short()
			parts := [][2]float64{{from, to}}
			if rng.Float64() < 0.3 {
				lift := 40 + 100*rng.Float64()
				parts = [][2]float64{{from, lift}, {lift + 0.5 + 8*rng.Float64(), to}}
			}
			for _, p := range parts {
				ends = append(ends, p[0], p[1])
			}
			middle := y + half
			y += 2 * half
			for _, p := range parts {
				rows = append(rows, plane.Box{Min: plane.XY{X: p[0], Y: middle - half}, Max: plane.XY{X: p[1], Y: middle + half}})
				lines = append(lines, trial.Straight(plane.XY{X: p[0], Y: middle}, plane.XY{X: p[1], Y: middle}, 2))
			}
		}
		slices.Sort(ends)
		if near := 0; slices.ContainsFunc(ends, func(x float64) bool { near++; return near > 1 && x > ends[near-2] && x < ends[near-2]+0.1 }) {
			continue
		}
		want := bareOf(plane.Box{Max: plane.XY{X: long, Y: y}}, rows)
		r := checked(t, trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, long, y)}, Lines: lines}, drive.Work{Width: 2 * half})
		slices.SortFunc(want, func(a, b bare) int { return cmp.Compare(b.area, a.area) })
		strips += len(want)
		if len(r.Strips) != len(want) || r.Slivers > 0 && r.SliverArea > 0.01 {
			t.Errorf("day %d: %d strips and %d slivers of %g m², want %d and none", n, len(r.Strips), r.Slivers, r.SliverArea, len(want))
			continue
		}
		for _, s := range r.Strips {
			at := r.Local.XY(s.At).Add(plane.XY{X: long / 2, Y: y / 2}) // the plane of a field lies around its middle
			i := slices.IndexFunc(want, func(b bare) bool { return b.inside(at) })
			if i < 0 {
				t.Errorf("day %d: strip %d lies at %.2f, where nothing is left", n, s.Number, at)
				continue
			}
			// Places are drawn to an eighth of a millimetre, and a degree's figures are the paper's.
			if off := math.Abs(s.Area - want[i].area); off > 2e-3+1e-4*s.Shape.Perimeter() {
				t.Errorf("day %d: strip %d has %.4f m², its piece %.4f", n, s.Number, s.Area, want[i].area)
			}
			want[i].inside = func(plane.XY) bool { return false } // of one strip only
		}
	}
	if strips < 200 {
		t.Errorf("only %d strips", strips)
	}
}
