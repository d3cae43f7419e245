package plane

import (
	"cmp"
	"slices"
)

// Span is a stretch between two places along a line, m.
type Span struct{ From, To float64 }

// Bands finds the ground of a polygon in bands that lie one above the other. The zero value is ready; it keeps its room from cut to
// cut.
type Bands struct {
	spans [][]Span
	cuts  [][]float64 // where the middle line of a band meets the polygon
}

// Cut is, for each band between two heights Y, every stretch of X over which the polygon (even-odd) has ground in the band: in
// order, none meeting the next. A band without breadth has the ground on its line. Bands are given upwards. What comes back holds
// until the next cut.
//
// At a place X the polygon has ground in a band for one of two reasons. Either a side of the polygon lies in the band there, or all
// of the band is ground, and with it its middle line. So the shadows of the sides in the band, and the ground on its middle line,
// are all there is.
//
//	──────╲──────────── upper end of the band
//	       ╲    ← the shadow of this side
//	────────╲──────────
func (b *Bands) Cut(p Polygon, bands []Span) [][]Span {
	n := len(bands)
	for len(b.spans) < n {
		b.spans, b.cuts = append(b.spans, nil), append(b.cuts, nil)
	}
	for k := range n {
		b.spans[k], b.cuts[k] = b.spans[k][:0], b.cuts[k][:0]
	}
	k := 0 // bands before it end below the side looked at; sides that follow each other begin near each other
	for _, ring := range p {
		for i, low := range ring { // in place of Sides: this is asked for thousands of directions
			high := ring[0]
			if i+1 < len(ring) {
				high = ring[i+1]
			}
			if low.Y > high.Y {
				low, high = high, low
			}
			for k < n && bands[k].To < low.Y {
				k++
			}
			for k > 0 && bands[k-1].To >= low.Y {
				k--
			}
			for k := k; k < n && bands[k].From <= high.Y; k++ {
				band := bands[k]
				if band.From < band.To {
					b.shadow(k, low, high, band)
				}
				if middle := (band.From + band.To) / 2; low.Y <= middle && middle < high.Y {
					b.cuts[k] = append(b.cuts[k], low.X+(high.X-low.X)*(middle-low.Y)/(high.Y-low.Y))
				}
			}
		}
	}
	for k := range n {
		slices.Sort(b.cuts[k])
		for i := 0; i+1 < len(b.cuts[k]); i += 2 {
			b.spans[k] = append(b.spans[k], Span{b.cuts[k][i], b.cuts[k][i+1]})
		}
		b.spans[k] = joined(b.spans[k])
	}
	return b.spans[:n]
}

// shadow adds what of a side lies in a band. It grows the last span where it meets that, as it does along a ring: few are left to
// sort.
func (b *Bands) shadow(k int, low, high XY, band Span) {
	from, to := low.X, high.X
	if slope := high.Y - low.Y; slope > 0 {
		from = low.X + (high.X-low.X)*max(0, band.From-low.Y)/slope
		to = high.X - (high.X-low.X)*max(0, high.Y-band.To)/slope
	}
	from, to = min(from, to), max(from, to)
	if n := len(b.spans[k]); n > 0 {
		if last := &b.spans[k][n-1]; last.From <= to && from <= last.To {
			last.From, last.To = min(last.From, from), max(last.To, to)
			return
		}
	}
	b.spans[k] = append(b.spans[k], Span{from, to})
}

// joined sorts spans and joins those that meet.
func joined(spans []Span) []Span {
	slices.SortFunc(spans, func(a, b Span) int { return cmp.Compare(a.From, b.From) })
	out := spans[:0]
	for _, s := range spans {
		if n := len(out); n > 0 && s.From <= out[n-1].To {
			out[n-1].To = max(out[n-1].To, s.To)
		} else {
			out = append(out, s)
		}
	}
	return out
}
