package plane

import (
	"fmt"
	"math"
)

// nest gives every hole (a clockwise ring) to its outer ring. From a hole's
// leftmost point a ray goes west into the set; the first ring it meets bounds
// the same piece of the set. That ring reaches further west, so the way from
// hole to hole ends at an outer ring. Rings must not cross; they may touch in
// points, so the ray is thought to run just above its start, or just below where
// the hole's own edges leave that point downwards only.
func nest(rings []Ring) ([]Polygon, error) {
	area := make([]float64, len(rings))
	holes := 0
	for i, r := range rings {
		area[i] = r.Area()
		if area[i] < 0 {
			holes++
		}
	}
	if holes == 0 {
		out := make([]Polygon, len(rings))
		for i, r := range rings {
			out[i] = Polygon{r}
		}
		return out, nil
	}
	rows := newRowIndex(rings)
	pieces := newGroups(len(rings))
	for i, r := range rings {
		if area[i] > 0 {
			continue
		}
		hit := rows.westOf(int32(i))
		if hit < 0 {
			return nil, fmt.Errorf("internal: the hole at %.3f, %.3f lies in no ring", r[0].X, r[0].Y)
		}
		pieces.join(int32(i), hit)
	}
	return gathered(rings, area, pieces)
}

// gathered puts the rings of each piece together, its outer ring first.
func gathered(rings []Ring, area []float64, pieces groups) ([]Polygon, error) {
	outer := make([]int32, len(rings))
	for i := range outer {
		outer[i] = -1
	}
	var out []Polygon
	for i, r := range rings {
		if area[i] > 0 {
			g := pieces.of(int32(i))
			if outer[g] >= 0 {
				return nil, fmt.Errorf("internal: two outer rings round one piece at %.3f, %.3f", r[0].X, r[0].Y)
			}
			outer[g] = int32(len(out))
			out = append(out, Polygon{r})
		}
	}
	for i, r := range rings {
		if area[i] < 0 {
			k := outer[pieces.of(int32(i))]
			if k < 0 {
				return nil, fmt.Errorf("internal: the hole at %.3f, %.3f has no outer ring", r[0].X, r[0].Y)
			}
			out[k] = append(out[k], r)
		}
	}
	return out, nil
}

// rowIndex lists runs of ring edges by the rows of y they reach into.
type rowIndex struct {
	rings      []Ring
	miny, high float64
	rows       [][]ringRun
}

type ringRun struct {
	minx, maxx, miny, maxy float64
	ring, first, n         int32
}

func newRowIndex(rings []Ring) *rowIndex {
	const run = 16
	var runs []ringRun
	lo, hi := math.Inf(1), math.Inf(-1)
	for i, r := range rings {
		for f := 0; f < len(r); f += run {
			n := min(run, len(r)-f)
			b := EmptyBox().Extend(r[f : f+n]...).Extend(r[(f+n)%len(r)])
			runs = append(runs, ringRun{b.Min.X, b.Max.X, b.Min.Y, b.Max.Y, int32(i), int32(f), int32(n)})
			lo, hi = min(lo, b.Min.Y), max(hi, b.Max.Y)
		}
	}
	n := int(math.Sqrt(float64(len(runs)))) + 1
	x := &rowIndex{rings: rings, miny: lo, high: max((hi-lo)/float64(n), 1e-9), rows: make([][]ringRun, n)}
	for _, r := range runs {
		for k := x.row(r.miny); k <= x.row(r.maxy); k++ {
			x.rows[k] = append(x.rows[k], r)
		}
	}
	return x
}

func (x *rowIndex) row(y float64) int {
	return min(max(int((y-x.miny)/x.high), 0), len(x.rows)-1)
}

// westOf is the ring first met west of the westernmost point of ring i, the lowest one of several; −1: there is none.
func (x *rowIndex) westOf(i int32) int32 {
	r := x.rings[i]
	e := 0
	for k, p := range r {
		if compareXY(p, r[e]) < 0 {
			e = k
		}
	}
	p := r[e]
	next, last := r[(e+1)%len(r)], r[(e+len(r)-1)%len(r)]
	side := 1.0
	if next.Y <= p.Y && last.Y <= p.Y {
		side = -1
	}
	// among edges that start in p the ray meets only those west of our own
	limit := math.Inf(1)
	for _, q := range [2]XY{next, last} {
		if dy := side * (q.Y - p.Y); dy > 0 {
			limit = min(limit, (q.X-p.X)/dy)
		}
	}
	return x.west(p, side, i, limit)
}

// west finds the first ring met by the ray that starts just above p (side 1) or
// just below it (side −1) and runs west, leaving out one ring. Of edges that
// pass through p it takes those that lean further west than limit (x per y,
// away from the ray's level).
func (x *rowIndex) west(p XY, side float64, not int32, limit float64) int32 {
	best, lean, hit := math.Inf(1), 0.0, int32(-1)
	row := x.rows[x.row(p.Y)]
	for i := range row {
		c := &row[i]
		if c.ring == not || c.minx > p.X || c.maxx < p.X-best || c.miny > p.Y || c.maxy < p.Y {
			continue
		}
		r := x.rings[c.ring]
		for k := c.first; k < c.first+c.n; k++ {
			a, b := r[k], r[(int(k)+1)%len(r)]
			if (side*(a.Y-p.Y) > 0) == (side*(b.Y-p.Y) > 0) {
				continue
			}
			s := (b.X - a.X) / (b.Y - a.Y)
			d := p.X - a.X - (p.Y-a.Y)*s
			s *= side
			if b.Y == p.Y {
				d = p.X - b.X
			}
			if d < 0 || d > best || d == 0 && s >= limit || d == best && s <= lean {
				continue
			}
			best, lean, hit = d, s, c.ring
		}
	}
	return hit
}
