package fieldday

import (
	"cmp"
	"math"
	"slices"

	"balk/geo/plane"
)

// Scan is ground, known on parallel lines that lie spacing apart: on each, from where to where. Areas are the lengths
// times spacing: the midpoint rule, exact along the lines. No pass and no boundary here runs along them, so that an edge
// crosses many; what the rule errs by is of the order of spacing² for each corner, with either sign: less than 0.1 m² for a field,
// see TestScan.
type Scan [][]span

type span struct{ from, to float64 }

const (
	spacing = 0.02 // m
	reached = 150  // m from the middle of Paper
	lines   = int(2 * reached / spacing)
)

// The lines run 31° askew of east, as no leg of a layout does.
var scanSin, scanCos = math.Sincos(31 * math.Pi / 180)

// askew is a place with the first coordinate along the lines, the second across, counted in lines.
func askew(p plane.XY) (along, across float64) {
	return p.X*scanCos + p.Y*scanSin, (p.Y*scanCos-p.X*scanSin+reached)/spacing - 0.5
}

// crossing is where a ring meets a line.
type crossing struct {
	at   float64
	sign int8
}

// scanner collects crossings of rings; its room is used again.
type scanner struct {
	from int // first line
	on   [][]crossing
}

func (s *scanner) begin(rings ...[]plane.XY) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, r := range rings {
		for _, p := range r {
			_, y := askew(p)
			low, high = min(low, y), max(high, y)
		}
	}
	s.from = int(math.Ceil(low))
	n := max(0, int(math.Floor(high))-s.from+1)
	s.on = slices.Grow(s.on[:0], n)[:n]
	for i := range s.on {
		s.on[i] = s.on[i][:0]
	}
	for _, r := range rings {
		s.add(r)
	}
	for _, c := range s.on {
		slices.SortFunc(c, func(a, b crossing) int { return cmp.Compare(a.at, b.at) })
	}
}

func (s *scanner) add(r []plane.XY) {
	x0, y0 := askew(r[len(r)-1])
	for _, p := range r {
		x1, y1 := askew(p)
		sign := int8(1)
		a, b, x, y := y0, y1, x0, y0
		if y0 > y1 {
			sign, a, b = -1, y1, y0
		}
		slope := (x1 - x0) / (y1 - y0)
		for k := int(math.Ceil(a)); float64(k) < b; k++ {
			s.on[k-s.from] = append(s.on[k-s.from], crossing{x + slope*(float64(k)-y), sign})
		}
		x0, y0 = x1, y1
	}
}

// each calls f with every stretch of a line inside the rings: where they wind round it, or odd times.
func (s *scanner) each(odd bool, f func(line int, in span)) {
	for i, cs := range s.on {
		winding := 0
		for k, c := range cs {
			before := winding
			if winding += int(c.sign); odd {
				winding = 1 - before
			}
			if k+1 < len(cs) && winding != 0 && cs[k+1].at > c.at {
				f(s.from+i, span{c.at, cs[k+1].at})
			}
		}
	}
}

// Area is in m².
func (g Scan) Area() float64 {
	sum := 0.0
	for _, on := range g {
		for _, s := range on {
			sum += s.to - s.from
		}
	}
	return sum * spacing
}

// within adds up what of a polygon lies in g, m², and what of it there is.
func (g Scan) within(s *scanner, rings ...[]plane.XY) (in, all float64) {
	s.begin(rings...)
	s.each(true, func(line int, a span) {
		all += a.to - a.from
		if line < 0 || line >= len(g) {
			return
		}
		for _, b := range g[line] {
			in += max(0, min(a.to, b.to)-max(a.from, b.from))
		}
	})
	return in * spacing, all * spacing
}

// put adds a polygon, where there are lines; merged has to follow.
func (g Scan) put(s *scanner, odd bool, rings ...[]plane.XY) {
	s.begin(rings...)
	s.each(odd, func(line int, in span) {
		if line >= 0 && line < len(g) {
			g[line] = append(g[line], in)
		}
	})
}

// merged joins what touches, line by line.
func (g Scan) merged() Scan {
	for k, on := range g {
		slices.SortFunc(on, func(a, b span) int { return cmp.Compare(a.from, b.from) })
		out := on[:0]
		for _, s := range on {
			if n := len(out); n > 0 && s.from <= out[n-1].to {
				out[n-1].to = max(out[n-1].to, s.to)
				continue
			}
			out = append(out, s)
		}
		g[k] = out
	}
	return g
}

// less is the ground of g that is not in o; both are merged.
func (g Scan) less(o Scan) Scan {
	out := make(Scan, len(g))
	for k, on := range g {
		for _, s := range on {
			at := s.from
			for _, b := range o[k] {
				if b.to <= at {
					continue
				}
				if b.from >= s.to {
					break
				}
				if b.from > at {
					out[k] = append(out[k], span{at, b.from})
				}
				at = b.to
			}
			if at < s.to {
				out[k] = append(out[k], span{at, s.to})
			}
		}
	}
	return out
}

// shrunk leaves of g the middles of the squares of a side, along the lines, that fit into it.
func (g Scan) shrunk(side float64) Scan {
	n := max(1, int(math.Round(side/spacing)))
	out := make(Scan, len(g))
	for k := n / 2; k+n-n/2 <= len(g); k++ {
		here := slices.Clone(g[k-n/2])
		for _, on := range g[k-n/2+1 : k-n/2+n] {
			if len(here) == 0 {
				break
			}
			here = common(here, on)
		}
		for _, s := range here {
			if s.to-s.from >= side {
				out[k] = append(out[k], span{s.from + side/2, s.to - side/2})
			}
		}
	}
	return out
}

func common(a, b []span) (out []span) {
	for _, s := range a {
		for _, t := range b {
			if from, to := max(s.from, t.from), min(s.to, t.to); from < to {
				out = append(out, span{from, to})
			}
		}
	}
	return out
}

// askewSide is the side of the square, along the lines, that just goes into a strip so wide which runs along or square to the legs of
// straight rows. Into one that runs askew to these it goes from up to a third less.
func askewSide(wide float64) float64 { return wide / (scanSin + scanCos) }

// wide are the middles of ground at least so wide, m.
func (g Scan) wide(wide float64) []piece {
	side := askewSide(wide)
	return g.shrunk(side).pieces(side)
}

const (
	// A strip is told apart from what it hangs on to by less than listable, where one of both is twice as wide somewhere (see coverage: a
	// neck). What is narrower than that between two such counts where it is a strip to list, and longer than tailLong.
	sliverWide = 0.02           // m
	tailLong   = 2.0            // m
	next       = spacing * 1.67 // how far a narrow strip moves aside from line to line: 1/tan 31°
)

// strips is how many strips of g are listable wide somewhere, and narrow ones between these.
func (g Scan) strips() int {
	side := askewSide(listable)
	middles, cores, slivers := g.shrunk(side), g.shrunk(askewSide(2*listable)), g.shrunk(askewSide(sliverWide))
	n := 0
	blocks := make(Scan, lines) // those that are cut off
	of := map[int][]piece{}
	for _, part := range middles.pieces(next) {
		if part.on(cores) > 0 {
			of[part.of[0].line] = append(of[part.of[0].line], part)
			part.grown(side, blocks)
		}
	}
	blocks.merged()
	for _, p := range g.pieces(next) {
		if p.on(middles) == 0 {
			continue
		}
		if p.on(blocks) == 0 {
			n++
			continue
		}
		for _, s := range p.of {
			parts := of[s.line]
			for i := 0; i < len(parts); i++ {
				if first := parts[i].of[0]; first.from >= s.from && first.to <= s.to {
					n++
				}
			}
		}
		rest := make(Scan, lines)
		for _, s := range p.of {
			rest[s.line] = append(rest[s.line], s.span)
		}
		for _, r := range rest.less(blocks).pieces(next) {
			if r.long() >= tailLong && r.on(slivers) > 0 {
				n++
			}
		}
	}
	return n
}

// grown puts the squares of a side, along the lines, whose middles the piece is.
func (p piece) grown(side float64, into Scan) {
	n := max(1, int(math.Round(side/spacing)))
	for _, s := range p.of {
		for k := s.line - n/2; k < s.line-n/2+n; k++ {
			into[k] = append(into[k], span{s.from - side/2, s.to + side/2})
		}
	}
}

// piece is ground of a Scan that hangs together.
type piece struct {
	of          []stretch
	area        float64 // m²
	left, right float64 // m, along the lines
}

// stretch is a span on its line.
type stretch struct {
	line int
	span
}

// long is how far the piece reaches, m: the diagonal of the box around it, which for a straight and narrow strip is its length.
func (p piece) long() float64 {
	return math.Hypot(p.right-p.left, float64(p.of[len(p.of)-1].line-p.of[0].line)*spacing)
}

// pieces takes g apart. Spans of neighbouring lines that lie no farther apart than near hang together.
func (g Scan) pieces(near float64) []piece {
	var parent []int
	find := func(a int) int {
		for parent[a] != a {
			parent[a] = parent[parent[a]]
			a = parent[a]
		}
		return a
	}
	before := 0 // number of the first span on the line before
	for k, on := range g {
		first := len(parent)
		for i, s := range on {
			parent = append(parent, first+i)
			if k == 0 {
				continue
			}
			for j, t := range g[k-1] {
				if min(s.to, t.to)+near > max(s.from, t.from) {
					parent[find(before+j)] = find(first + i)
				}
			}
		}
		before = first
	}
	var out []piece
	at := map[int]int{}
	n := 0
	for k, on := range g {
		for _, s := range on {
			root := find(n)
			n++
			i, known := at[root]
			if !known {
				i = len(out)
				at[root] = i
				out = append(out, piece{left: math.Inf(1), right: math.Inf(-1)})
			}
			p := &out[i]
			p.of = append(p.of, stretch{k, s})
			p.area += (s.to - s.from) * spacing
			p.left, p.right = min(p.left, s.from), max(p.right, s.to)
		}
	}
	return out
}

// on is how much of the piece lies in g, m².
func (p piece) on(g Scan) float64 {
	sum := 0.0
	for _, s := range p.of {
		for _, b := range g[s.line] {
			sum += max(0, min(s.to, b.to)-max(s.from, b.from))
		}
	}
	return sum * spacing
}

// fieldOf is the ground inside a boundary, without obstacles.
func fieldOf(s *scanner, l Layout) Scan {
	g := make(Scan, lines)
	g.put(s, true, l.Rings...)
	return g.merged()
}

const unbent = math.Pi / 3 // an outline turns by less: none then winds back over itself

// missed is the ground of a field that the true bar left, with so much of it on either side of its middle.
func (d *driven) missed(s *scanner, field Scan, half float64) Scan {
	g := make(Scan, lines)
	for from := 0; from < len(d.leg); {
		to := from
		for to+1 < len(d.leg) && d.leg[to+1] == d.leg[from] {
			to++
		}
		if d.leg[from] != none {
			d.sweep(g, s, from, to, half)
		}
		from = to + 1
	}
	return field.less(g.merged())
}

// bars are those of unbroken work, tick by tick. It begins and ends half a tick before and behind the ticks that saw it: in the
// mean that is when the bar went in and out.
func (d *driven) bars(from, to int) (bars []bar) {
	add := func(k, next int) {
		bars = append(bars, bar{d.bar[k].Lerp(d.bar[next], 0.5), d.facing[k].Lerp(d.facing[next], 0.5), d.sectionUp(k)})
	}
	add(from, max(0, from-1))
	for k := from; k <= to; k++ {
		add(k, k)
	}
	add(to, min(len(d.bar)-1, to+1))
	return bars
}

// bar is its middle and the way it faces at one moment.
type bar struct {
	at, facing plane.XY
	lifted     bool // the section at the right end
}

// ends are those of a bar so long on either side, its right end less by what of it is lifted.
func (b bar) ends(half, lifted float64) (left, right plane.XY) {
	across := b.facing.Left()
	return b.at.Add(across.Scale(half)), b.at.Sub(across.Scale(half - lifted))
}

// sweep puts the ground under the bar from tick to tick.
func (d *driven) sweep(g Scan, s *scanner, from, to int, half float64) {
	var left, right []plane.XY
	var first bar
	add := func(b bar, lifted bool) {
		up := 0.0
		if lifted {
			up = d.how.SectionWidth
		}
		l, r := b.ends(half, up)
		left, right = append(left, l), append(right, r)
	}
	put := func() {
		slices.Reverse(left)
		g.put(s, false, append(right, left...))
		left, right = nil, nil
	}
	for k, b := range d.bars(from, to) {
		if k == 0 || b.lifted != first.lifted || b.facing.Dot(first.facing) < math.Cos(unbent) {
			if k > 0 { // the bar here ends one outline, as wide as that was, and begins the next
				add(b, first.lifted)
				put()
			}
			first = b
		}
		add(b, b.lifted)
	}
	put()
}

// sectionUp says whether the right end of the bar is lifted.
func (d *driven) sectionUp(tick int) bool {
	if d.how.Section == AllRows {
		return true
	}
	x := d.from[tick] - d.how.SectionFrom
	return d.how.Section > 0 && d.leg[tick] != none && d.layout.Legs[d.leg[tick]].Row == d.how.Section && x >= 0 && x <= d.how.SectionOver
}
