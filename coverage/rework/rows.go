package rework

import (
	"cmp"
	"math"
	"slices"

	"balk/geo/plane"
)

// span is a stretch along a guide on which a strip has ground.
type span struct {
	plane.Span
	strip int
}

// stretch is driven in one go along a guide, for the strips named.
type stretch struct {
	plane.Span
	strips []int // ascending
}

// rows are passes side by side along a guide, evenly spaced over the breadth of the pieces. Each row serves an equal slice of
// that breadth, and its swath overlaps the slice by slack on either side.
type rows struct {
	pieces []piece
	guide  guide
	area   float64   // m² of the pieces
	middle []float64 // of each slice, m to the left of the guide
	spans  [][]span  // on which pieces have ground in each slice, but for hairs, by where they begin
	slack  float64   // m
}

func (w *works) rowsOf(pieces []piece, g guide) rows {
	l := rows{pieces: pieces, guide: g}
	shapes := make([]plane.Polygon, len(pieces)) // X along the guide, Y to its left
	box := plane.EmptyBox()
	for k, p := range pieces {
		l.area += p.shape.Area()
		for _, r := range p.shape {
			ring := slices.Clone(r)
			if !g.straight() {
				ring = spaced(append(ring, ring[0]), w.width/4)
			}
			for i, q := range ring {
				ring[i].X, ring[i].Y = g.frame(q)
			}
			shapes[k], box = append(shapes[k], ring), box.Extend(ring...)
		}
	}
	least, most, width := box.Min.Y, box.Max.Y, w.width
	if !g.straight() {
		width *= 1 - bentLap
	}
	n := max(1, int(math.Ceil((most-least-touch)/width)))
	slice := (most - least) / float64(n)
	l.spans, l.slack = make([][]span, n), max(0, width-slice)/2
	var bands []plane.Span
	for k := range n {
		from, to := least+slice*float64(k), least+slice*float64(k+1)
		l.middle = append(l.middle, (from+to)/2)
		if k > 0 {
			from += min(hair, l.slack)
		}
		if k+1 < n {
			to -= min(hair, l.slack)
		}
		bands = append(bands, plane.Span{From: from, To: to})
	}
	var cut plane.Bands
	for i, shape := range shapes {
		for k, spans := range cut.Cut(shape, bands) {
			for _, s := range spans {
				l.spans[k] = append(l.spans[k], span{s, pieces[i].strip})
			}
		}
	}
	for _, spans := range l.spans {
		slices.SortFunc(spans, func(a, b span) int { return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To)) })
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
	for _, spans := range l.spans {
		runs, end, open := 0, math.Inf(-1), math.Inf(-1) // end of what was worked, and of the last span that counts
		for _, s := range spans {
			if long := s.To - max(s.From, end); long >= touch {
				if s.From-open >= w.width {
					runs++
				}
				open = max(open, s.To)
				cost += w.width * long
			}
			end = max(end, s.To)
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
	for k, spans := range l.spans {
		before, middle := len(c.runs), l.middle[k]+shift
		for _, s := range w.joined(spans, g, middle) {
			line := g.beside(s.From, s.To, middle)
			if !g.straight() {
				if !drivable(line, w.im.TurnRadius()) { // before it is spaced: far beside a guide's corner lines may run for kilometres
					return cover{}, false
				}
				line = spaced(line, w.width/4)
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
		if n := len(out) - 1; n >= 0 && (s.From <= out[n].To+touch ||
			s.From-out[n].To < w.width && w.ground.clearAlong(g.beside(out[n].To, s.From, t))) {
			out[n].To = max(out[n].To, s.To)
			if !slices.Contains(out[n].strips, s.strip) {
				out[n].strips = append(out[n].strips, s.strip)
				slices.Sort(out[n].strips)
			}
			continue
		}
		out = append(out, stretch{s.Span, []int{s.strip}})
	}
	return out
}
