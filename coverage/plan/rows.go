package plan

import (
	"math"
	"slices"

	"balk/geo/plane"
)

const (
	// spare: so much of an interior's breadth needs no pass of its own, m. An arrangement leaves out slivers twice as broad.
	spare = 1e-4
	// hair: lines of two parts of a plan may be so much apart that should meet, m. Chords stand for the arcs of each to half a
	// millimetre. Passes that are spread evenly may be hair wider apart than the width.
	hair = 1e-3
	// stub: shorter passes are left out, m. A set cannot lower and lift on less.
	stub = 0.1
)

// inFrame is p as seen in a frame: driving is along X, rows follow each other along Y. It takes over the memory of room, a polygon
// that is needed no more.
func inFrame(f plane.Frame, room, p plane.Polygon) plane.Polygon {
	for len(room) < len(p) {
		room = append(room, nil)
	}
	for r, ring := range p {
		turned := room[r][:0]
		for _, q := range ring {
			turned = append(turned, f.To(q))
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
	past      *rowPast  // nil: no obstacle is in its way
}

// pitchOf is how a breadth is shared evenly into rows: how many, and how far apart, m. A rim that is some millimetres aslant needs no
// row more, because each row may be hair wider. At full spacing rows may not, but hair beyond the last one may be left.
func pitchOf(breadth, width float64, full bool) (n int, pitch float64) {
	most, over := width+hair, spare
	if full {
		most, over = width, hair
	}
	n = max(1, int(math.Ceil((breadth-over)/most)))
	return n, breadth / float64(n)
}

// breadthOf is the breadth for which so many rows suffice, m; see pitchOf.
func breadthOf(n int, width float64, full bool) float64 {
	if full {
		return float64(n)*width + hair
	}
	return float64(n) * (width + hair)
}

// sweep is the room that strips and estimates need, kept between calls, and the distance of rows.
type sweep struct {
	bands  plane.Bands
	rows   []plane.Span // of each row, what it covers across
	turned plane.Polygon
	pitch  float64
	blocks []block // of an estimate
	gaps   gaps    // between them
}

// rowsOver is where the first of the rows over a breadth begins, how many there are, and how far apart, m.
func (s *sweep) rowsOver(box plane.Box, width float64, o Options) (lo float64, n int, pitch float64) {
	lo = box.Min.Y - o.slide
	n, pitch = pitchOf(box.Max.Y-lo, width, o.FullSpacing)
	if o.FullSpacing {
		pitch = min(width, pitch*float64(n)) // one row: its breadth
	}
	return lo, n, pitch
}

// strips cuts a polygon of the frame into passes of the given width.
//
// A pass reaches as far along U as there is ground in its band. So everything is covered; and since
// the nearest ground is never more than half a width off, the bar stays within one width of
// it. With LeaveWedges only the ground on the middle of the band counts.
func (s *sweep) strips(p plane.Polygon, width float64, o Options) []strip {
	box := p[0].Bounds()
	hi := box.Max.Y
	lo, n, pitch := s.rowsOver(box, width, o)
	s.pitch = pitch
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
	s.rows = s.rows[:0]
	for k := range n {
		if o.LeaveWedges {
			s.rows = append(s.rows, plane.Span{From: middle(k), To: middle(k)})
		} else {
			s.rows = append(s.rows, plane.Span{From: rim(k), To: rim(k + 1)})
		}
	}
	var out []strip
	for k, spans := range s.bands.Cut(p, s.rows) {
		for _, one := range spans {
			if one.To-one.From >= stub {
				out = append(out, strip{row: k, v: middle(k), u0: one.From, u1: one.To})
			}
		}
	}
	return out
}

// cells joins strips of neighbouring rows to blocks: the boustrophedon cells of
// Choset 2000 (Autonomous Robots 9, 247-253; from memory), found on the rows themselves. A block goes on as long as its last strip
// meets one strip of the next row, and that strip meets no other. It ends where an obstacle or a reflex corner splits or joins
// strips. Cells are not merged afterwards: since all of one interior share its rows, that would save no pass.
func cells(strips []strip) [][]strip {
	var blocks [][]strip
	type open struct{ block, above int }
	var last, now []open
	var below, which []int
	lastFrom, from := 0, 0
	for from < len(strips) {
		to := from
		for to < len(strips) && strips[to].row == strips[from].row {
			to++
		}
		below = slices.Grow(below[:0], to-from)[:to-from] // how many strips of the row before each meets
		which = slices.Grow(which[:0], to-from)[:to-from]
		clear(below)
		next := from > 0 && strips[from].row == strips[from-1].row+1
		if next {
			first := from // strips before it end before the one of the row before begins
			for i := range last {
				one := strips[lastFrom+i]
				last[i].above = 0
				for first < to && strips[first].u1 <= one.u0 {
					first++
				}
				for k := first; k < to && strips[k].u0 < one.u1; k++ {
					last[i].above++
					below[k-from]++
					which[k-from] = i
				}
			}
		}
		now = now[:0]
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
		last, now, lastFrom, from = now, last, from, to
	}
	return blocks
}
