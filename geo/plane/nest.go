package plane

import (
	"fmt"
	"math"
	"slices"
)

// nest gives every hole (a clockwise ring) to its outer ring. From the middle of
// a hole's steepest edge a ray goes level into the set; the first ring it meets
// bounds the same piece of the set. Rings must not cross.
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
	group := make([]int32, len(rings))
	for i := range group {
		group[i] = int32(i)
	}
	find := func(i int32) int32 {
		for group[i] != i {
			group[i] = group[group[i]]
			i = group[i]
		}
		return i
	}
	for i, r := range rings {
		if area[i] > 0 {
			continue
		}
		best, e := -1.0, 0
		for k, p := range r {
			if d := math.Abs(r[(k+1)%len(r)].Y - p.Y); d > best {
				best, e = d, k
			}
		}
		p, q := r[e], r[(e+1)%len(r)]
		hit := rows.shoot(p.Lerp(q, 0.5), q.Y < p.Y, int32(i), int32(e))
		if hit < 0 {
			return nil, fmt.Errorf("internal: the hole at %.3f, %.3f lies in no ring", p.X, p.Y)
		}
		if x, y := find(int32(i)), find(hit); x != y {
			group[x] = y
		}
	}
	outer := make([]int32, len(rings))
	for i := range outer {
		outer[i] = -1
	}
	var out []Polygon
	for i, r := range rings {
		if area[i] > 0 {
			g := find(int32(i))
			if outer[g] >= 0 {
				return nil, fmt.Errorf("internal: two outer rings round one piece at %.3f, %.3f", r[0].X, r[0].Y)
			}
			outer[g] = int32(len(out))
			out = append(out, Polygon{r})
		}
	}
	for i, r := range rings {
		if area[i] < 0 {
			k := outer[find(int32(i))]
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
	for _, row := range x.rows {
		slices.SortFunc(row, func(a, b ringRun) int {
			switch {
			case a.minx < b.minx:
				return -1
			case a.minx > b.minx:
				return 1
			}
			return 0
		})
	}
	return x
}

func (x *rowIndex) row(y float64) int {
	return min(max(int((y-x.miny)/x.high), 0), len(x.rows)-1)
}

// shoot finds the first ring to the east (or west) of p, leaving out one edge.
func (x *rowIndex) shoot(p XY, east bool, ring, edge int32) int32 {
	best, hit := math.Inf(1), int32(-1)
	row := x.rows[x.row(p.Y)]
	try := func(c *ringRun) {
		if c.miny > p.Y || c.maxy < p.Y {
			return
		}
		r := x.rings[c.ring]
		for k := c.first; k < c.first+c.n; k++ {
			if c.ring == ring && k == edge {
				continue
			}
			a, b := r[k], r[(int(k)+1)%len(r)]
			if (a.Y > p.Y) == (b.Y > p.Y) {
				continue
			}
			d := a.X + (p.Y-a.Y)*(b.X-a.X)/(b.Y-a.Y) - p.X
			if !east {
				d = -d
			}
			if d >= 0 && d < best {
				best, hit = d, c.ring
			}
		}
	}
	if east {
		for i := range row {
			if row[i].minx > p.X+best {
				break
			}
			if row[i].maxx >= p.X {
				try(&row[i])
			}
		}
		return hit
	}
	for i := len(row) - 1; i >= 0; i-- {
		if row[i].minx <= p.X && row[i].maxx >= p.X-best {
			try(&row[i])
		}
	}
	return hit
}
