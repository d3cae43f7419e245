package geo

import geom "github.com/twpayne/go-geom"

// Cut keeps the fixes for which keep says so, with all their columns. Where fixes
// between two kept ones go, the track gets a break if apart is true; its own
// breaks stay. Parts that lose all fixes vanish. A track of which nothing goes is
// handed back as it is.
func (t Track) Cut(keep func(k int) bool, apart bool) Track {
	n := t.Fixes()
	var kept []int
	for k := range n {
		if keep(k) {
			kept = append(kept, k)
		}
	}
	if len(kept) == n {
		return t
	}
	stride := t.Line.Stride()
	flat := make([]float64, 0, len(kept)*stride)
	var ends []int
	old, part := t.Line.Ends(), 0
	for i, k := range kept {
		fresh := i > 0 && apart && kept[i-1] != k-1
		for part < len(old) && k*stride >= old[part] {
			part, fresh = part+1, true
		}
		if fresh && len(flat) > 0 {
			ends = append(ends, len(flat))
		}
		flat = append(flat, t.Line.FlatCoords()[k*stride:(k+1)*stride]...)
	}
	if len(flat) > 0 {
		ends = append(ends, len(flat))
	}
	out := t
	out.Line = geom.NewMultiLineStringFlat(t.Line.Layout(), flat, ends)
	out.State = picked(t.State, kept)
	out.Width = picked(t.Width, kept)
	out.Heading = picked(t.Heading, kept)
	out.Speed = picked(t.Speed, kept)
	out.Offset = picked(t.Offset, kept)
	out.Quality = picked(t.Quality, kept)
	out.HDOP = picked(t.HDOP, kept)
	out.Counted = nil // the machine counted over the whole track
	return out
}

// picked is the kept part of a column; a column that was not logged stays so.
func picked[T any](column []T, kept []int) []T {
	if column == nil {
		return nil
	}
	out := make([]T, len(kept))
	for i, k := range kept {
		out[i] = column[k]
	}
	return out
}
