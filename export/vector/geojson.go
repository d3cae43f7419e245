package vector

import (
	"bufio"
	"io"
	"math"
	"slices"
	"strconv"

	"github.com/paulmach/orb"
)

// decimals of a degree that are written: 1e-8° is 1.1 mm on the ground, a tenth
// of the best receiver's noise. A polygon whose rings would touch or cross when
// rounded so is written finer, down to 1e-12° (0.1 µm), the last digit that the
// local plane vouches for.
const decimals = 8

var finer = []int{decimals, 10, 12}

// place is a position counted in units of the last decimal, as it will stand in
// the file. Tests of rings are done on places, so that what is written is what
// was tested.
type place struct{ lon, lat int64 }

func placeOf(p orb.Point, decimals int) place {
	u := units(decimals)
	return place{int64(math.Round(p[0] * float64(u))), int64(math.Round(p[1] * float64(u)))}
}

func units(decimals int) int64 {
	u := int64(1)
	for range decimals {
		u *= 10
	}
	return u
}

// stream writes one feature collection, feature by feature.
type stream struct {
	w       *bufio.Writer
	buf     []byte // of the feature under way
	places  []place
	kept    [][]place // rings of the polygon under way
	edges   []edge    // memory of simple
	order   []start
	active  []int32
	mark    int // where the feature under way starts in buf
	n       int // features written
	leftOut int // rings that vanish when rounded to 1e-8°
}

func newStream(w io.Writer, name string) *stream {
	s := &stream{w: bufio.NewWriterSize(w, 1<<16)}
	s.buf = append(s.buf, `{"type":"FeatureCollection","name":`...)
	s.buf = appendString(s.buf, name)
	s.buf = append(s.buf, `,"features":[`...)
	return s
}

// begin opens a feature and its geometry. What begin and the geometry put into
// the buffer is taken back by undo.
func (s *stream) begin(kind string) {
	s.mark = len(s.buf)
	if s.n > 0 {
		s.buf = append(s.buf, ',')
	}
	s.n++
	s.buf = append(s.buf, "\n{\"type\":\"Feature\",\"geometry\":{\"type\":\""...)
	s.buf = append(s.buf, kind...)
	s.buf = append(s.buf, `","coordinates":`...)
}

func (s *stream) undo() {
	s.buf = s.buf[:s.mark]
	s.n--
}

// end closes the geometry and writes the properties.
func (s *stream) end(props properties) error {
	s.buf = append(s.buf, `},"properties":{`...)
	s.buf = append(s.buf, props.text...)
	s.buf = append(s.buf, "}}"...)
	return s.flush()
}

func (s *stream) flush() error {
	_, err := s.w.Write(s.buf)
	s.buf = s.buf[:0]
	return err
}

// close ends the collection. extra are foreign members (RFC 7946, 6.1).
func (s *stream) close(extra properties) error {
	s.buf = append(s.buf, "\n]"...)
	if s.leftOut > 0 {
		extra.integer("rings_lost_by_rounding", s.leftOut)
	}
	if len(extra.text) > 0 {
		s.buf = append(s.buf, ',')
		s.buf = append(s.buf, extra.text...)
	}
	s.buf = append(s.buf, "}\n"...)
	if err := s.flush(); err != nil {
		return err
	}
	return s.w.Flush()
}

// polygon appends the coordinates of one polygon: outer ring first. It keeps
// what RFC 7946 asks for after rounding: (1) the ring is closed (2) it has four
// positions or more (3) no position is repeated next to itself (4) outer rings
// run counter-clockwise, holes clockwise, and (5) no ring crosses or touches
// itself or another if it does not before rounding to the finest step. A ring
// that vanishes is left out and counted; without its outer ring the whole
// polygon is, and polygon is false.
func (s *stream) polygon(rings int, ring func(i, decimals int) []place) bool {
	for try, dec := range finer {
		kept, lost := s.kept[:0], 0
		for i := range rings {
			r := tidy(ring(i, dec))
			area := twiceArea(r)
			if len(r) < 3 || area == 0 || (i == 0 && area < 0) || (i > 0 && area > 0) {
				lost++
				if i == 0 {
					break
				}
				continue
			}
			kept = append(kept, slices.Clone(r))
		}
		s.kept = kept
		if len(kept) > 0 && try < len(finer)-1 && !s.simple(kept) {
			continue
		}
		s.leftOut += lost
		if len(kept) > 0 {
			s.rings(kept, dec)
		}
		return len(kept) > 0
	}
	return false
}

func (s *stream) rings(rings [][]place, dec int) {
	s.buf = append(s.buf, '[')
	for i, r := range rings {
		if i > 0 {
			s.buf = append(s.buf, ',')
		}
		s.buf = append(s.buf, '[')
		for _, p := range r {
			s.buf = appendPlace(s.buf, p, dec)
			s.buf = append(s.buf, ',')
		}
		s.buf = appendPlace(s.buf, r[0], dec)
		s.buf = append(s.buf, ']')
	}
	s.buf = append(s.buf, ']')
}

// line appends the coordinates of a line; false if fewer than two different
// positions remain after rounding.
func (s *stream) line(pts []place) bool {
	pts = slices.Compact(pts)
	if len(pts) < 2 {
		s.leftOut++
		return false
	}
	s.buf = append(s.buf, '[')
	for i, p := range pts {
		if i > 0 {
			s.buf = append(s.buf, ',')
		}
		s.buf = appendPlace(s.buf, p, decimals)
	}
	s.buf = append(s.buf, ']')
	return true
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

func appendPlace(b []byte, p place, dec int) []byte {
	b = append(b, '[')
	b = appendDegrees(b, p.lon, dec)
	b = append(b, ',')
	b = appendDegrees(b, p.lat, dec)
	return append(b, ']')
}

// appendDegrees writes v·10^−dec with all its decimals; three times as fast as
// strconv.AppendFloat, and layers have millions of them.
func appendDegrees(b []byte, v int64, dec int) []byte {
	if v < 0 {
		b, v = append(b, '-'), -v
	}
	u := units(dec)
	b = strconv.AppendInt(b, v/u, 10)
	b = append(b, '.')
	var d [20]byte
	f := v % u
	for i := dec - 1; i >= 0; i-- {
		d[i], f = byte('0'+f%10), f/10
	}
	return append(b, d[:dec]...)
}
