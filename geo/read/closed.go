package read

import (
	"fmt"
	"math"

	"balk/geo"

	"github.com/paulmach/orb"
)

// closedFields takes every track of a file for a boundary: a line that ends where it begins, or one that was walked or
// driven round a field.
func closedFields(path string, o Options) ([]geo.Field, []geo.Finding, error) {
	tracks, findings, err := Tracks(path, TrackOptions{Taking: o.Taking, Files: o.Files})
	if err != nil {
		return nil, nil, err
	}
	b := boundaryRead{options: o}
	b.notes.take(findings)
	for i, t := range tracks {
		b.notes.file = t.Source
		out := newOutline(t.Record(i), t.Name)
		ring, apart := closedWay(lineOf(t.Line.FlatCoords()))
		if len(ring) < 4 {
			b.lose(out.Record, &FileError{File: t.Source, Record: out.Record, What: fmt.Sprintf("a way of %s goes round no ground", countOf(t.Fixes(), "fix", "fixes"))})
			continue
		}
		if apart > 0 {
			b.notes.add(out.Record, geo.Place(ring[0][0], ring[0][1]), false, fmt.Sprintf("the boundary is closed over the %.1f m from the end of the way to its beginning", apart))
		}
		out.Rings, out.Parts = []orb.Ring{ring}, []int{0}
		b.take(out)
	}
	return b.result("a boundary that is closed (--close) is a line or a walked track")
}

// closedWay is a way round a field as a ring, and how far apart its ends are, m. Whoever walks round a field goes on
// past the place where the walk began; from there on the way is left out: it ends in its last third where it is nearest to
// its beginning.
func closedWay(way orb.LineString) (ring orb.Ring, apart float64) {
	for _, p := range way {
		if n := len(ring); n == 0 || ring[n-1] != p {
			ring = append(ring, p)
		}
	}
	if len(ring) < 3 {
		return nil, 0
	}
	first, end, nearest := ring[0], len(ring)-1, math.Inf(1)
	for i := len(ring) - 1; i >= len(ring)*2/3; i-- {
		if d := metresBetween(first, ring[i]); d < nearest {
			end, nearest = i, d
		}
	}
	ring = ring[:end+1]
	if ring[end] == first {
		return ring, 0
	}
	return append(ring, first), nearest
}

// metresBetween is the distance of two places that are near each other, to some parts in a thousand: on a ball, and flat.
func metresBetween(a, b orb.Point) float64 {
	const metres = 111_195. // a degree of a great circle, of a radius of 6371 km
	return metres * math.Hypot((b[0]-a[0])*math.Cos(a[1]*math.Pi/180), b[1]-a[1])
}
