package rival

import (
	"math"
	"slices"

	"balk/geo/plane"
)

const (
	step    = 10 * math.Pi / 180 // an arc is drawn in pieces that turn by so much
	touches = 1e-5               // m: a piece so much nearer than it should be is on the inset still
	joins   = 2e-5               // m: ends of pieces so near to each other are one place
	crumb   = 1e-6               // m: shorter pieces are rounding
)

// edge is a side of a boundary with the ground on its left.
type edge struct{ a, b plane.XY }

func edgesOf(rings []plane.Ring) (out []edge) {
	for _, r := range rings {
		for i, p := range r {
			if q := r[(i+1)%len(r)]; p != q {
				out = append(out, edge{p, q})
			}
		}
	}
	return out
}

// off is how far p is from an edge, m.
func (e edge) off(p plane.XY) float64 {
	d := e.b.Sub(e.a)
	t := p.Sub(e.a).Dot(d) / d.Dot(d)
	return p.Dist(e.a.Lerp(e.b, min(1, max(0, t))))
}

// near says whether some edge is nearer to p than d.
func near(edges []edge, p plane.XY, d float64) bool {
	for _, e := range edges {
		if math.Min(e.a.X, e.b.X)-d > p.X || math.Max(e.a.X, e.b.X)+d < p.X || math.Min(e.a.Y, e.b.Y)-d > p.Y || math.Max(e.a.Y, e.b.Y)+d < p.Y {
			continue
		}
		if e.off(p) < d {
			return true
		}
	}
	return false
}

// holds says whether a point lies inside some rings: on a line from there to the right it meets an odd number of edges.
func holds(edges []edge, p plane.XY) (odd bool) {
	for _, e := range edges {
		if (e.a.Y > p.Y) != (e.b.Y > p.Y) && p.X < e.a.X+(p.Y-e.a.Y)/(e.b.Y-e.a.Y)*(e.b.X-e.a.X) {
			odd = !odd
		}
	}
	return odd
}

// ringsOf are the rings of a field without the corners that lie on a straight line, to a centimetre.
func ringsOf(field []plane.Polygon) (out []plane.Ring) {
	for _, p := range field {
		for _, r := range p {
			if thin, _ := thinned(r, 0.01); len(thin) >= 3 {
				out = append(out, thin)
			}
		}
	}
	return out
}

// thinned is a ring without corners that lie within some metres of the line that is left, and how long the sides are that pass corners by.
func thinned(r plane.Ring, within float64) (thin plane.Ring, changed float64) {
	thin = plane.Ring{r[0]}
	last := 0
	for i := 1; i <= len(r); i++ {
		if i < len(r) {
			over := edge{r[last], r[(i+1)%len(r)]}
			if !slices.ContainsFunc(r[last+1:i+1], func(q plane.XY) bool { return over.off(q) > within }) {
				continue
			}
			thin = append(thin, r[i])
		}
		if i > last+1 {
			changed += r[last].Dist(r[i%len(r)])
		}
		last = i
	}
	return thin, changed
}

// inset is the line that runs d inside some rings, on their left. Tangents stand for arcs and lie a little outside them, so where two arcs
// cross a piece may be kept or go that should not, and then pieces are left over that close no ring: it is drawn again with finer
// arcs, up to four times.
func inset(rings []plane.Ring, d float64) (out []plane.Ring) {
	const stubs = 0.5 // m
	for k := range 5 {
		var open float64
		if out, open = insetOnce(rings, d, step/float64(k+1)); open < stubs {
			break
		}
	}
	return out
}

// insetOnce is inset, with how many metres of pieces close no ring.
//
// Every side moves to its left by d. Round a corner where the ground is on the outside the moved sides are joined by tangents of
// the circle round it. All pieces are cut where they cross. Of a piece that
// belongs to the inset no point is nearer to any side than d; the others go.
//
//	   │  ╭───
//	───┼──╯      the corner at the crossing stays, what runs on beyond it is nearer to the other side and goes
//	   │
func insetOnce(rings []plane.Ring, d, step float64) (out []plane.Ring, open float64) {
	var raw []edge
	for _, r := range rings {
		n := len(r)
		for i := range r {
			a, b, c := r[i], r[(i+1)%n], r[(i+2)%n]
			u, v := b.Sub(a).Unit(), c.Sub(b).Unit()
			raw = append(raw, edge{a.Add(u.Left().Scale(d)), b.Add(u.Left().Scale(d))})
			turn := math.Atan2(u.Cross(v), u.Dot(v))
			if turn >= 0 {
				continue
			}
			pieces := max(1, int(math.Ceil(-turn/step)))
			half := turn / float64(pieces) / 2
			at := b.Add(u.Left().Scale(d))
			for k := range pieces { // tangents touch the circle where they meet the ones before and after half way
				next := b.Add(turned(u.Left(), half*float64(2*k+1)).Scale(d / math.Cos(half)))
				raw = append(raw, edge{at, next})
				at = next
			}
			raw = append(raw, edge{at, b.Add(v.Left().Scale(d))})
		}
	}
	all := edgesOf(rings)
	var kept []edge
	cuts := make([][]float64, len(raw))
	for i, p := range raw {
		for k := i + 1; k < len(raw); k++ {
			if s, t, ok := p.crosses(raw[k]); ok {
				cuts[i], cuts[k] = append(cuts[i], s), append(cuts[k], t)
			}
		}
	}
	for i, p := range raw {
		at := append(cuts[i], 0, 1)
		sort(at)
		for k := 1; k < len(at); k++ {
			piece := edge{p.a.Lerp(p.b, at[k-1]), p.a.Lerp(p.b, at[k])}
			if piece.a.Dist(piece.b) > crumb && !near(all, piece.a.Lerp(piece.b, 0.5), d-touches) {
				kept = append(kept, piece)
			}
		}
	}
	out = chained(kept)
	for _, p := range kept {
		open += p.a.Dist(p.b)
	}
	for _, r := range out {
		open -= r.Perimeter()
	}
	return out, open
}

func turned(u plane.XY, by float64) plane.XY {
	sin, cos := math.Sincos(by)
	return plane.XY{X: u.X*cos - u.Y*sin, Y: u.X*sin + u.Y*cos}
}

// crosses is where two edges cross, as shares of each.
func (e edge) crosses(o edge) (s, t float64, ok bool) {
	if max(e.a.X, e.b.X) < min(o.a.X, o.b.X) || max(o.a.X, o.b.X) < min(e.a.X, e.b.X) || max(e.a.Y, e.b.Y) < min(o.a.Y, o.b.Y) || max(o.a.Y, o.b.Y) < min(e.a.Y, e.b.Y) {
		return 0, 0, false
	}
	u, v, w := e.b.Sub(e.a), o.b.Sub(o.a), o.a.Sub(e.a)
	area := u.Cross(v)
	if area == 0 {
		return 0, 0, false
	}
	s, t = w.Cross(v)/area, w.Cross(u)/area
	a, b := crumb/u.Len(), crumb/v.Len() // an end that touches is a crossing
	return min(1, max(0, s)), min(1, max(0, t)), s >= -a && s <= 1+a && t >= -b && t <= 1+b
}

// chained joins pieces end to end. What does not close is left out.
func chained(pieces []edge) (rings []plane.Ring) {
	type cell struct{ x, y int }
	var nodes []plane.XY
	byPlace := map[cell][]int{}
	node := func(p plane.XY) int {
		c := cell{int(math.Floor(p.X / joins)), int(math.Floor(p.Y / joins))}
		for x := c.x - 1; x <= c.x+1; x++ {
			for y := c.y - 1; y <= c.y+1; y++ {
				for _, i := range byPlace[cell{x, y}] {
					if nodes[i].Dist(p) < joins {
						return i
					}
				}
			}
		}
		nodes, byPlace[c] = append(nodes, p), append(byPlace[c], len(nodes))
		return len(nodes) - 1
	}
	leads := map[int][]int{}
	for _, p := range pieces {
		if a, b := node(p.a), node(p.b); a != b {
			leads[a] = append(leads[a], b)
		}
	}
	for first := range nodes {
		for chain := []int{first}; len(chain) > 0; {
			at := chain[len(chain)-1]
			if len(leads[at]) == 0 { // a stub
				chain = chain[:len(chain)-1]
				continue
			}
			to := leads[at][0]
			leads[at] = leads[at][1:]
			if k := slices.Index(chain, to); k >= 0 {
				var ring plane.Ring
				for _, i := range chain[k:] {
					ring = append(ring, nodes[i])
				}
				if len(ring) >= 3 {
					rings = append(rings, ring)
				}
				chain = chain[:k]
			}
			chain = append(chain, to)
		}
	}
	return rings
}

func areaOf(rings []plane.Ring) (sum float64) {
	for _, r := range rings {
		sum += r.Area()
	}
	return sum
}

// grown is the area of what lies within d of the ground inside some rings, m².
func grown(rings []plane.Ring, d float64) float64 {
	back := make([]plane.Ring, len(rings))
	for i, r := range rings {
		back[i] = make(plane.Ring, len(r))
		for k, p := range r {
			back[i][len(r)-1-k] = p
		}
	}
	return -areaOf(inset(back, d))
}

// room is ground on which the middle of a set gets from everywhere to everywhere.
type room struct {
	part  int // of the field
	edges []edge
}

// roomsOf are those of a set of half a width. Where two pieces of a part hang together by a neck narrower than the set, its middle stands nowhere in
// the neck, for on either side it would be nearer to the boundary than half the width: the neck is no part of the inset by so much, and the pieces are two rings of it.
//
//	┌────────┐ ┌────────┐
//	│ ╭────╮ └─┘ ╭────╮ │
//	│ ╰────╯ ┌─┐ ╰────╯ │
//	└────────┘ └────────┘
func roomsOf(field []plane.Polygon, half float64) (out []room) {
	for i, p := range field {
		for _, r := range inset(ringsOf([]plane.Polygon{p}), half) {
			if r.Area() > 0 {
				out = append(out, room{i, edgesOf([]plane.Ring{r})})
			}
		}
	}
	return out
}

// separate says whether two places of a part of a field are in two rooms. A place in none is nearer to the boundary than any way; nothing is said of it.
func separate(rooms []room, p, q plane.XY) bool {
	at := func(p plane.XY) int {
		return slices.IndexFunc(rooms, func(r room) bool { return holds(r.edges, p) })
	}
	a, b := at(p), at(q)
	return a >= 0 && b >= 0 && a != b && rooms[a].part == rooms[b].part
}
