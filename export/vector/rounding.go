package vector

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// decimals of a degree that are written: 1e-8° is 1.1 mm on the ground, a tenth
// of the best receiver's noise. A polygon whose rings would touch or cross when
// rounded so, or whose area would change by more than areaKept, is written finer, down to
// 1e-12° (0.1 µm), the last digit that the local plane vouches for.
const decimals = 8

// areaKept is the share of its area that rounding may change a polygon by: who measures a strip in
// another program finds the four digits that are printed.
const areaKept = 1e-4

var finer = []int{decimals, 10, 12}

// place is a position counted in units of the last decimal, as it will stand in
// the file. Tests of rings are done on places, so that what is written is what
// was tested.
type place struct{ lon, lat int64 }

func placeOf(p orb.Point, decimals int) place {
	u := units(decimals)
	return place{int64(math.Round(p[0] * float64(u))), int64(math.Round(p[1] * float64(u)))}
}

// point is the position as a reader of the decimal text has it: both numbers of
// the quotient are exact, so it is the nearest float there is.
func (p place) point(decimals int) orb.Point {
	u := float64(units(decimals))
	return orb.Point{float64(p.lon) / u, float64(p.lat) / u}
}

// powers of ten, by exponent.
var powers = [...]int64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14}

func units(decimals int) int64 { return powers[decimals] }

// rounding takes shapes to places. It remembers how many rings and lines
// vanished, and the first position that no file can hold.
type rounding struct {
	steps   []int // decimals to be tried; nil = finer
	whole   bool  // lines and points keep all positions, with stateDecimals: they are read back
	held    bool  // the positions may have been rounded before: see exactly
	moved   bool  // a position of a ring under way was moved by rounding
	places  []place
	kept    [][]place // rings of the polygon under way, in the room of ground
	ground  []place
	edges   []edge // memory of simple
	order   []start
	active  []int32
	exact   float64   // doubled signed area of the ring under way before rounding, in squares of a degree
	first   orb.Point // of the ring or line under way
	last    orb.Point // the position before
	leftOut int
	fault   *LayerError
}

// add takes one position of the ring or line under way.
func (s *rounding) add(p orb.Point, dec int) {
	if !onEarth(p) {
		s.fail(p, noPlace)
		return
	}
	if len(s.places) == 0 {
		s.first, s.exact = p, 0
	} else {
		s.exact += (s.last[0]-s.first[0])*(p[1]-s.first[1]) - (s.last[1]-s.first[1])*(p[0]-s.first[0])
	}
	s.last = p
	q := placeOf(p, dec)
	if n := len(s.places); n > 0 {
		if d := q.lon - s.places[n-1].lon; d > halfTurn*units(dec) || d < -halfTurn*units(dec) {
			s.fail(p, acrossAntimeridian)
		}
	}
	s.moved = s.moved || s.held && q.point(dec) != p
	s.places = append(s.places, q)
}

// fail keeps the first fault.
func (s *rounding) fail(at orb.Point, what string) {
	if s.fault == nil {
		s.fault = &LayerError{At: &at, What: what}
	}
}

// exactly takes the rings of a polygon as they are if they were rounded before:
// with the fewest decimals that move no position. Rounding them anew, and with
// fewer decimals first, could make them touch or vanish.
func (s *rounding) exactly(rings int, ring func(i, decimals int)) (kept [][]place, dec int) {
	for _, dec := range finer {
		kept, s.ground, s.moved = s.kept[:0], s.ground[:0], false
		for i := 0; i < rings && !s.moved && s.fault == nil; i++ {
			s.places = s.places[:0]
			ring(i, dec)
			kept = append(kept, s.keep(s.places[:max(0, len(s.places)-1)]))
		}
		if !s.moved && s.fault == nil {
			s.kept = kept
			return kept, dec
		}
	}
	return nil, decimals
}

// keep is a ring in room that is used again for the next polygon.
func (s *rounding) keep(r []place) []place {
	n := len(s.ground)
	s.ground = append(s.ground, r...)
	return slices.Clip(s.ground[n:])
}

// polygon rounds one polygon: outer ring first. It keeps
// what RFC 7946 asks for after rounding: (1) the ring is closed (2) it has four
// positions or more (3) no position is repeated next to itself (4) outer rings
// run counter-clockwise, holes clockwise, (5) no ring crosses or touches
// itself or another if it does not before rounding to the finest step, and (6) its area
// is what it was but for areaKept, if one of the steps keeps it. A ring
// that vanishes is left out and counted; without its outer ring the whole
// polygon is, and no ring is kept. Rings are open and stay so until the next call.
func (s *rounding) polygon(rings int, ring func(i, decimals int)) (kept [][]place, dec int) {
	if s.held {
		if kept, dec := s.exactly(rings, ring); kept != nil || s.fault != nil {
			return kept, dec
		}
	}
	steps := s.steps
	if steps == nil {
		steps = finer
	}
	for try, dec := range steps {
		kept, lost := s.kept[:0], 0
		s.ground = s.ground[:0]
		var was, is float64 // doubled areas, in squares of a degree
		for i := range rings {
			s.places = s.places[:0]
			ring(i, dec)
			if s.fault != nil {
				return nil, dec
			}
			r := tidy(s.places)
			area := twiceArea(r)
			was += s.exact
			if len(r) < 3 || area == 0 || (i == 0 && area < 0) || (i > 0 && area > 0) {
				lost++
				if i == 0 {
					break
				}
				continue
			}
			is += area / float64(units(dec)) / float64(units(dec))
			kept = append(kept, s.keep(r))
		}
		s.kept = kept
		if try < len(steps)-1 && (math.Abs(is-was) > areaKept*math.Abs(was) || len(kept) > 0 && !s.simple(kept)) {
			continue
		}
		s.leftOut += lost
		return kept, dec
	}
	return nil, decimals
}

// line rounds a line; nil if fewer than two different positions remain.
func (s *rounding) line(points func()) []place {
	s.places = s.places[:0]
	points()
	if s.fault != nil {
		return nil
	}
	pts := s.places
	if !s.whole {
		pts = slices.Compact(pts)
	}
	if len(pts) < 2 {
		s.leftOut++
		return nil
	}
	return pts
}

// failed is the fault of a place, if there was one, with where it was.
func (s *rounding) failed(layer string, feature int) error {
	if s.fault == nil {
		return nil
	}
	s.fault.Layer, s.fault.Feature = layer, feature
	return s.fault
}

// tidy takes off repeated positions and spikes that rounding made (out and back
// along the same line). The ring is open in, open out.
func tidy(r []place) []place {
	r = slices.Compact(r)
	for len(r) > 1 && r[0] == r[len(r)-1] {
		r = r[:len(r)-1]
	}
	for i := 0; len(r) > 2 && i < len(r); i++ {
		n := len(r)
		if r[(i+n-1)%n] == r[(i+1)%n] { // the ring goes to r[i] and straight back
			j := (i + 1) % n
			r = slices.Delete(r, i, i+1)
			if j > i {
				j--
			}
			r = slices.Delete(r, j, j+1)
			i = max(-1, i-3)
		}
	}
	return r
}

// twiceArea is the doubled signed area of an open ring, in squares of the last
// decimal, reckoned from its first place so that little is rounded away.
func twiceArea(r []place) float64 {
	var s float64
	for i := 1; i+1 < len(r); i++ {
		ax, ay := float64(r[i].lon-r[0].lon), float64(r[i].lat-r[0].lat)
		bx, by := float64(r[i+1].lon-r[0].lon), float64(r[i+1].lat-r[0].lat)
		s += ax*by - ay*bx
	}
	return s
}
