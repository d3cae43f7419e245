package rival

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"balk/geo/plane"
)

// row is a straight pass in the frame of its direction: from u0 to u1 at v.
type row struct{ u0, u1, v float64 }

func (r row) long() float64 { return r.u1 - r.u0 }

// frame turns metres so that u runs in a direction.
type frame struct{ ahead plane.XY }

func (f frame) to(p plane.XY) plane.XY { return plane.XY{X: p.Dot(f.ahead), Y: p.Dot(f.ahead.Left())} }
func (f frame) from(u, v float64) plane.XY {
	return f.ahead.Scale(u).Add(f.ahead.Left().Scale(v))
}

// rowsOf covers the ground inside some rings, already turned, with rows: evenly spread, no wider apart than w, each from where its bar reaches
// ground to where it leaves it with its last corner.
//
// What a strip holds, seen across, is all that its boundary holds of it and all between the crossings at its two sides: a piece of ground in the strip
// either reaches a side, or lies within its own boundary.
func rowsOf(rings []plane.Ring, w float64) (rows [][]row, pitch float64) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, r := range rings {
		for _, p := range r {
			low, high = min(low, p.Y), max(high, p.Y)
		}
	}
	if !(high > low) {
		return nil, w
	}
	n := max(1, int(math.Ceil((high-low)/w-1e-9)))
	pitch = (high - low) / float64(n)
	spans := make([][][2]float64, n)
	crossings := make([][]float64, n+1) // at the sides of strips
	for _, r := range rings {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			if a.Y > b.Y {
				a, b = b, a
			}
			from, to := (a.Y-low)/pitch, (b.Y-low)/pitch
			u := func(at float64) float64 {
				if to == from {
					return a.X
				}
				return a.X + (b.X-a.X)*(at-from)/(to-from)
			}
			for k := max(0, int(from)); k < n && float64(k) <= to; k++ {
				x, y := u(max(from, float64(k))), u(min(to, float64(k+1)))
				if to == from {
					x, y = a.X, b.X
				}
				spans[k] = append(spans[k], [2]float64{min(x, y), max(x, y)})
			}
			for k := int(math.Ceil(from)); k <= n && float64(k) < to; k++ {
				crossings[k] = append(crossings[k], u(float64(k)))
			}
		}
	}
	for k := range spans {
		for _, at := range [2][]float64{crossings[k], crossings[k+1]} {
			sort(at)
			for i := 1; i < len(at); i += 2 {
				spans[k] = append(spans[k], [2]float64{at[i-1], at[i]})
			}
		}
		slices.SortFunc(spans[k], func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
		var out []row
		for _, s := range spans[k] {
			if n := len(out) - 1; n >= 0 && s[0] <= out[n].u1 {
				out[n].u1 = max(out[n].u1, s[1])
			} else {
				out = append(out, row{s[0], s[1], low + (float64(k)+0.5)*pitch})
			}
		}
		rows = append(rows, out)
	}
	return rows, pitch
}

// blocksOf groups rows that lie beside each other, as long as each has one neighbour.
func blocksOf(rows [][]row) (blocks [][]row) {
	open := map[int]int{} // rows of the strip before, and the blocks that they end
	for k := range rows {
		now := map[int]int{}
		for i, r := range rows[k] {
			over := func(a, b row) bool { return a.u0 < b.u1 && b.u0 < a.u1 }
			beside, other := -1, 0
			if k > 0 {
				for j, b := range rows[k-1] {
					if over(r, b) {
						beside, other = j, other+1
					}
				}
				for j, b := range rows[k] {
					if beside >= 0 && j != i && over(b, rows[k-1][beside]) {
						other++
					}
				}
			}
			if other == 1 {
				b := open[beside]
				blocks[b] = append(blocks[b], r)
				now[i] = b
				continue
			}
			now[i] = len(blocks)
			blocks = append(blocks, []row{r})
		}
		open = now
	}
	return blocks
}

// patterns are the orders of n rows that are tried: the next row; every second and every third, and back; lands of 2s rows that are driven by turns
// over s and s − 1.
func patterns(n, furthest int) map[string][]int {
	out := map[string][]int{"next row": upTo(n)}
	if n < 3 {
		return out
	}
	var second, third []int
	for i := 0; i < n; i += 2 {
		second = append(second, i)
	}
	for i := (n-2)/2*2 + 1; i > 0; i -= 2 {
		second = append(second, i)
	}
	for i := 0; i < n; i += 3 {
		third = append(third, i)
	}
	for i := (n-2)/3*3 + 1; i > 0; i -= 3 {
		third = append(third, i)
	}
	for i := 2; i < n; i += 3 {
		third = append(third, i)
	}
	out["every second and back"], out["every third and back"] = second, third
	for s := 2; s <= furthest && s < n; s++ {
		var lands []int
		for from := 0; from < n; from += 2 * s {
			m := min(2*s, n-from)
			half := (m + 1) / 2
			for i := range half {
				if lands = append(lands, from+i); half+i < m {
					lands = append(lands, from+half+i)
				}
			}
		}
		out[fmt.Sprintf("lands of %d", 2*s)] = lands
	}
	return out
}

func upTo(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}
