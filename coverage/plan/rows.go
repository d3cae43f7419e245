package plan

import (
	"math"
	"slices"

	"balk/geo"
	"balk/geo/plane"
)

const (
	// spare: so much of an interior's breadth needs no pass of its own, m: below the sliver
	// that an arrangement leaves out. Passes that are spread evenly may each be hair wider apart besides.
	spare = 1e-4
	// hair is what lines of one part of the plan may be off from another, m: half a
	// millimetre of chords for arcs each.
	hair = 1e-3
	// stub: shorter passes are left out, m: a set cannot lower and lift on less.
	stub = 0.1
)

// frame turns the plane so that driving is along U and rows follow each other along V.
type frame struct {
	origin, ahead plane.XY
}

func frameAt(origin plane.XY, h geo.Heading) frame {
	sin, cos := math.Sincos(float64(h))
	return frame{origin, plane.XY{X: cos, Y: sin}}
}

func (f frame) to(p plane.XY) plane.XY {
	d := p.Sub(f.origin)
	return plane.XY{X: d.Dot(f.ahead), Y: f.ahead.Cross(d)}
}

func (f frame) from(p plane.XY) plane.XY {
	return f.origin.Add(f.ahead.Scale(p.X)).Add(f.ahead.Left().Scale(p.Y))
}

// polygon is a polygon in the frame, in the room of another that is needed no more.
func (f frame) polygon(room, p plane.Polygon) plane.Polygon {
	for len(room) < len(p) {
		room = append(room, nil)
	}
	for r, ring := range p {
		turned := room[r][:0]
		for _, q := range ring {
			turned = append(turned, f.to(q))
		}
		room[r] = turned
	}
	return room[:len(p)]
}

// strip is one pass in the frame: from u0 to u1 at v, on row number row.
type strip struct {
	row       int
	v, u0, u1 float64
	bent      *bentLine // nil: straight
}

// pitchOf is how a breadth is shared evenly into rows: how many, and how far apart, m. A rim that is some millimetres aslant
// needs no row more; at full spacing the last row would leave them, so there it does.
func pitchOf(breadth, width float64, full bool) (n int, pitch float64) {
	most := width + hair
	if full {
		most = width
	}
	n = max(1, int(math.Ceil((breadth-spare)/most)))
	return n, breadth / float64(n)
}

// stripsOf cuts a polygon of the frame into passes of the given width.
//
// A pass reaches as far along U as the ground in its band does: every x at which
// the upright through the band meets ground is worked. So everything is covered, and since
// the nearest ground is never more than half a width off, the bar stays within one width of
// it. Such an x lies under an edge inside the band, or the whole upright is ground, and with it its
// lower end: the union of the edges' shadows and of the ground on the band's lower rim is all there is.
//
//	──────╲──────────── rim of the band
//	       ╲    ← the shadow of this edge makes the pass longer by width/tan φ
//	────────╲──────────
func (s *sweep) strips(p plane.Polygon, width float64, o Options) []strip {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, q := range p[0] {
		lo, hi = min(lo, q.Y), max(hi, q.Y)
	}
	n, pitch := pitchOf(hi-lo, width, o.FullSpacing)
	s.pitch = pitch
	if o.FullSpacing {
		s.pitch = min(width, pitch*float64(n)) // one row: its breadth
	}
	s.reset(n)
	rim := func(k int) float64 {
		if k >= n {
			return hi
		}
		return lo + float64(k)*s.pitch
	}
	middle := func(k int) float64 {
		if o.FullSpacing && n > 1 {
			return min(lo+(float64(k)+0.5)*s.pitch, hi-s.pitch/2)
		}
		return (rim(k) + rim(k+1)) / 2
	}
	for _, ring := range p {
		for _, side := range ring.Sides() {
			a, b := side.A, side.B
			if a.Y > b.Y {
				a, b = b, a
			}
			for k := min(n-1, max(0, int((a.Y-lo)/s.pitch)-1)); k < n && rim(k) <= b.Y; k++ {
				if o.LeaveWedges {
					s.crossed(k, a, b, middle(k))
				} else {
					s.shadow(k, a, b, rim(k), rim(k+1))
					s.crossed(k, a, b, rim(k))
				}
			}
		}
	}
	var out []strip
	for k := range n {
		slices.Sort(s.cross[k])
		for i := 0; i+1 < len(s.cross[k]); i += 2 {
			s.spans[k] = append(s.spans[k], [2]float64{s.cross[k][i], s.cross[k][i+1]})
		}
		out = appendStrips(out, s.spans[k], k, middle(k))
	}
	return out
}

// sweep is the room that strips needs, kept between calls, and the distance of rows.
type sweep struct {
	spans  [][][2]float64
	cross  [][]float64
	turned plane.Polygon
	pitch  float64
}

func (s *sweep) reset(n int) {
	for len(s.spans) < n {
		s.spans, s.cross = append(s.spans, nil), append(s.cross, nil)
	}
	for k := range n {
		s.spans[k], s.cross[k] = s.spans[k][:0], s.cross[k][:0]
	}
}

// crossed notes where the edge from a up to b crosses a height in row k.
func (s *sweep) crossed(k int, a, b plane.XY, at float64) {
	if a.Y <= at && at < b.Y {
		s.cross[k] = append(s.cross[k], a.X+(b.X-a.X)*(at-a.Y)/(b.Y-a.Y))
	}
}

// shadow adds what of the edge from a up to b lies in a band. It grows the last span where it meets that, as
// it does along a ring: few are left to sort.
func (s *sweep) shadow(k int, a, b plane.XY, lo, hi float64) {
	if b.Y < lo || a.Y > hi {
		return
	}
	u0, u1 := a.X, b.X
	if slope := b.Y - a.Y; slope > 0 {
		u0 = a.X + (b.X-a.X)*max(0, lo-a.Y)/slope
		u1 = b.X - (b.X-a.X)*max(0, b.Y-hi)/slope
	}
	u0, u1 = min(u0, u1), max(u0, u1)
	if n := len(s.spans[k]); n > 0 {
		if last := &s.spans[k][n-1]; last[0] <= u1 && u0 <= last[1] {
			last[0], last[1] = min(last[0], u0), max(last[1], u1)
			return
		}
	}
	s.spans[k] = append(s.spans[k], [2]float64{u0, u1})
}

// appendStrips joins the spans of one row that meet.
func appendStrips(out []strip, spans [][2]float64, row int, v float64) []strip {
	slices.SortFunc(spans, func(a, b [2]float64) int {
		switch {
		case a[0] < b[0]:
			return -1
		case a[0] > b[0]:
			return 1
		}
		return 0
	})
	for i := 0; i < len(spans); {
		u0, u1 := spans[i][0], spans[i][1]
		for i++; i < len(spans) && spans[i][0] <= u1; i++ {
			u1 = max(u1, spans[i][1])
		}
		if u1-u0 >= stub {
			out = append(out, strip{row: row, v: v, u0: u0, u1: u1})
		}
	}
	return out
}

// cells joins strips of neighbouring rows to blocks: the boustrophedon cells of
// Choset 2000 (Autonomous Robots 9, 247-253; from memory), found on the rows themselves. A
// block goes on as long as its strip has one neighbour that has no other; where an obstacle or a reflex
// corner splits or joins strips, it ends. Since all blocks of one interior share its rows, cells cost no
// pass more than the rows do, which is what merging cells is for.
func cells(strips []strip) [][]strip {
	var blocks [][]strip
	type open struct{ block, above int }
	var last, now []open
	lastFrom, from := 0, 0
	for from < len(strips) {
		to := from
		for to < len(strips) && strips[to].row == strips[from].row {
			to++
		}
		below := make([]int, to-from) // how many strips of the row before each meets
		which := make([]int, to-from)
		next := from > 0 && strips[from].row == strips[from-1].row+1
		if next {
			for i := range last {
				last[i].above = 0
				for k := from; k < to; k++ {
					if meets(strips[lastFrom+i], strips[k]) {
						last[i].above++
						below[k-from]++
						which[k-from] = i
					}
				}
			}
		}
		now = nil
		for k := from; k < to; k++ {
			if next && below[k-from] == 1 && last[which[k-from]].above == 1 {
				b := last[which[k-from]].block
				blocks[b] = append(blocks[b], strips[k])
				now = append(now, open{block: b})
				continue
			}
			blocks = append(blocks, []strip{strips[k]})
			now = append(now, open{block: len(blocks) - 1})
		}
		last, lastFrom, from = now, from, to
	}
	return blocks
}

func meets(a, b strip) bool { return min(a.u1, b.u1) > max(a.u0, b.u0) }
