package rework

import (
	"cmp"
	"math"
	"slices"

	"balk/geo/plane"
)

// span is a stretch along a guide on which a strip has ground.
type span struct {
	from, to float64
	strip    int
}

// stretch is driven in one go along a guide, for the strips named.
type stretch struct {
	from, to float64
	strips   []int // ascending
}

// band is the ground between two lines beside a guide, with the spans on which pieces have ground in it.
type band struct {
	from, to float64 // m to the left of the guide
	spans    []span
	open     bool // the last span ends at the corner before the one looked at, which lies in the band
}

// spansOf adds to each band the spans on which a piece has ground in it. Rings are in the coordinates of the guide. The bands lie
// side by side and are equally broad, but for hairs.
//
// At a place along the guide a piece has ground in a band for one of two reasons. Either the rim of the piece enters the band
// there, or the band lies wholly inside the piece, and then its middle line does. So the spans are those of the rim in the band,
// one for each time it enters and leaves, and those of the middle line inside the piece.
func spansOf(bands []band, rings [][]plane.XY, strip int) {
	n := len(bands)
	low, broad := bands[0].from, (bands[n-1].to-bands[0].from)/float64(n)
	at := func(t float64) int { // a hair off at the most
		if n == 1 {
			return 0
		}
		return int(min(float64(n-1), max(0, (t-low)/broad)))
	}
	cuts := make([][]float64, n)
	for _, ring := range rings {
		p := ring[len(ring)-1]
		for k := range bands {
			bands[k].open = false
		}
		first, last := 0, n-1 // bands that may be open
		for _, q := range ring {
			from, to := max(0, at(min(p.Y, q.Y))-1), min(n-1, at(max(p.Y, q.Y))+1)
			for k := first; k <= last; k++ {
				if k < from || k > to {
					bands[k].open = false
				}
			}
			for k := from; k <= to; k++ {
				b := &bands[k]
				b.add(p, q, strip)
				if mid := (b.from + b.to) / 2; (p.Y > mid) != (q.Y > mid) {
					cuts[k] = append(cuts[k], p.X+(q.X-p.X)*(mid-p.Y)/(q.Y-p.Y))
				}
			}
			p, first, last = q, from, to
		}
	}
	for k, c := range cuts {
		slices.Sort(c)
		for i := 0; i+1 < len(c); i += 2 {
			bands[k].spans = append(bands[k].spans, span{c[i], c[i+1], strip})
		}
	}
}

// add adds what the edge from p to q has in the band.
func (b *band) add(p, q plane.XY, strip int) {
	if max(p.Y, q.Y) < b.from || min(p.Y, q.Y) > b.to {
		b.open = false
		return
	}
	x, y := p.X, q.X
	if p.Y != q.Y {
		at := func(t float64) float64 { return p.X + (q.X-p.X)*min(1, max(0, (t-p.Y)/(q.Y-p.Y))) }
		x, y = at(b.from), at(b.to)
	}
	x, y = min(x, y), max(x, y)
	if last := len(b.spans) - 1; b.open {
		b.spans[last].from, b.spans[last].to = min(b.spans[last].from, x), max(b.spans[last].to, y)
	} else {
		b.spans = append(b.spans, span{x, y, strip})
	}
	b.open = q.Y >= b.from && q.Y <= b.to
}

// framed is pieces in the coordinates of a guide: X along it, Y to its left.
type framed struct {
	rings       [][][]plane.XY // of each piece
	least, most float64        // of Y
	area        float64        // m² of the pieces
}

func (w *works) framed(pieces []piece, g guide) framed {
	f := framed{rings: make([][][]plane.XY, len(pieces)), least: math.Inf(1), most: math.Inf(-1)}
	for k, p := range pieces {
		f.area += p.shape.Area()
		for _, r := range p.shape {
			ring := slices.Clone([]plane.XY(r))
			if !g.straight() {
				ring = spaced(append(ring, ring[0]), w.width/4)
			}
			for i, q := range ring {
				s, t := g.frame(q)
				ring[i] = plane.XY{X: s, Y: t}
				f.least, f.most = min(f.least, t), max(f.most, t)
			}
			f.rings[k] = append(f.rings[k], ring)
		}
	}
	return f
}

// rows are passes side by side along a guide, evenly spaced over the breadth of the pieces. Each row serves an equal slice of
// that breadth, and its swath overlaps the slice by slack on either side.
type rows struct {
	pieces []piece
	guide  guide
	area   float64   // m² of the pieces
	middle []float64 // of each slice, m to the left of the guide
	bands  []band    // the slices, but for hairs; spans by where they begin
	slack  float64   // m
}

func (w *works) rowsOf(pieces []piece, g guide) rows {
	f := w.framed(pieces, g)
	width := w.width
	if !g.straight() {
		width *= 1 - bentLap
	}
	n := max(1, int(math.Ceil((f.most-f.least-touch)/width)))
	slice := (f.most - f.least) / float64(n)
	l := rows{pieces: pieces, guide: g, area: f.area, slack: max(0, width-slice) / 2}
	for k := range n {
		from, to := f.least+slice*float64(k), f.least+slice*float64(k+1)
		l.middle = append(l.middle, (from+to)/2)
		if k > 0 {
			from += min(hair, l.slack)
		}
		if k+1 < n {
			to -= min(hair, l.slack)
		}
		l.bands = append(l.bands, band{from: from, to: to})
	}
	for i, rings := range f.rings {
		spansOf(l.bands, rings, pieces[i].strip)
	}
	for _, b := range l.bands {
		slices.SortFunc(b.spans, func(a, b span) int {
			return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to))
		})
	}
	return l
}

// atLeast is the least that a cover along these rows can cost, however it is moved to the side. Every span is worked, and spans a
// width or more apart are worked in passes of their own.
//
// Along a bent guide a pass may be shorter than its span. There only this is known: no cover costs less than one without passes.
func (w *works) atLeast(l rows) float64 {
	if !l.guide.straight() {
		return -l.area
	}
	var cost float64
	for _, b := range l.bands {
		runs, end, open := 0, math.Inf(-1), math.Inf(-1) // end of what was worked, and of the last span that counts
		for _, s := range b.spans {
			if long := s.to - max(s.from, end); long >= touch {
				if s.from-open >= w.width {
					runs++
				}
				open = max(open, s.to)
				cost += w.width * long
			}
			end = max(end, s.to)
		}
		if runs > 0 {
			cost += w.perRow() + w.perPass()*float64(runs)
		}
	}
	return cost - l.area
}

// coverAlong lays passes along rows that are moved to the left by shift. ok is false where the set could not follow a line, and
// as soon as the cover costs most or more.
func (w *works) coverAlong(l rows, shift, most float64) (c cover, ok bool) {
	g := l.guide
	c = cover{pieces: l.pieces, guide: g, slack: l.slack}
	for k, b := range l.bands {
		before, middle := len(c.runs), l.middle[k]+shift
		for _, s := range w.joined(b.spans, g, middle) {
			line := g.beside(s.from, s.to, middle)
			if !g.straight() {
				if line = spaced(line, w.width/4); !drivable(line, w.im.TurnRadius()) {
					return cover{}, false
				}
			}
			if plane.Length(line) >= touch {
				w.add(&c, run{s.strips, line})
			}
		}
		if len(c.runs) > before {
			c.cost += w.perRow()
		}
		if c.cost+c.swath-l.area+c.beyond+w.perPass()*float64(len(c.runs)) >= most {
			return cover{}, false
		}
	}
	c.cost += c.swath - l.area + c.beyond + w.perPass()*float64(len(c.runs))
	return c, len(c.runs) > 0
}

// joined makes one stretch of spans that touch. It also joins spans so near that driving on between them saves a pass, unless a
// boundary or an obstacle stands between.
func (w *works) joined(spans []span, g guide, t float64) []stretch {
	var out []stretch
	for _, s := range spans {
		if n := len(out) - 1; n >= 0 && (s.from <= out[n].to+touch ||
			s.from-out[n].to < w.width && w.ground.clearAlong(g.beside(out[n].to, s.from, t))) {
			out[n].to = max(out[n].to, s.to)
			if !slices.Contains(out[n].strips, s.strip) {
				out[n].strips = append(out[n].strips, s.strip)
				slices.Sort(out[n].strips)
			}
			continue
		}
		out = append(out, stretch{s.from, s.to, []int{s.strip}})
	}
	return out
}
