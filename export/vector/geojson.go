package vector

import (
	"bufio"
	"io"

	"github.com/paulmach/orb"
)

// stream writes one feature collection, feature by feature.
type stream struct {
	rounding
	w    *bufio.Writer
	buf  []byte    // of the feature under way
	mark int       // where the feature under way starts in buf
	n    int       // features written
	box  orb.Bound // of what was written
	any  bool      // there is a place in box
	// the places farthest west with an east longitude, and farthest east with a west one, of parts on either side
	west, east float64
}

func newStream(w io.Writer, name string) *stream {
	s := &stream{w: bufio.NewWriterSize(w, 1<<16), west: halfTurn, east: -halfTurn}
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
	if s.any {
		s.buf = append(s.buf, `,"bbox":[`...)
		west, east := s.box.Min[0], s.box.Max[0]
		if east-west > halfTurn && s.west > s.east { // across the antimeridian, from west to east (RFC 7946, 5.2)
			west, east = s.west, s.east
		}
		for i, v := range [4]float64{west, s.box.Min[1], east, s.box.Max[1]} {
			if i > 0 {
				s.buf = append(s.buf, ',')
			}
			s.buf = appendShortest(s.buf, v)
		}
		s.buf = append(s.buf, ']')
	}
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

// geojson writes a whole source. held: its positions may be rounded already.
func (s source) geojson(w io.Writer, held bool) error {
	out := newStream(w, s.Name)
	out.held = held
	var props properties
	var row []any
	for i := range s.n {
		if !out.geometry(s.Kind, s.shape(i)) {
			if err := out.failed(s.Name, i+1); err != nil {
				return err
			}
			continue
		}
		props.text = props.text[:0]
		row = s.row(i, row[:0])
		for k, v := range row {
			props.value(s.Columns[k], v)
		}
		if err := out.end(props); err != nil {
			return err
		}
	}
	props.text = props.text[:0]
	for _, f := range s.Facts {
		props.value(f.Property, f.Value)
	}
	out.leftOut += s.LeftOut
	return out.close(props)
}

// geometry begins a feature; false if nothing of its shape is left.
func (s *stream) geometry(kind Kind, g shape) bool {
	g = s.halved(g)
	_, many := g.parts()
	s.begin(geojsonKind(kind, many))
	if many {
		s.buf = append(s.buf, '[')
	}
	parts := 0
	s.eachPart(kind, g, func(rings [][]place, dec int) {
		if parts++; parts > 1 {
			s.buf = append(s.buf, ',')
		}
		switch kind {
		case Areas:
			s.polygonText(rings, dec)
		case Lines:
			s.lineText(rings[0], dec)
		case Points:
			s.buf = appendPlace(s.buf, rings[0][0], dec)
			s.reach(rings[0][:1], dec)
		}
	})
	if parts == 0 || s.fault != nil {
		s.undo()
		return false
	}
	if many {
		s.buf = append(s.buf, ']')
	}
	return true
}

func geojsonKind(kind Kind, many bool) string {
	name := map[Kind]string{Areas: "Polygon", Lines: "LineString", Points: "Point"}[kind]
	if many {
		return "Multi" + name
	}
	return name
}

func (s *stream) polygonText(rings [][]place, dec int) {
	s.buf = append(s.buf, '[')
	for i, r := range rings {
		if i > 0 {
			s.buf = append(s.buf, ',')
		}
		s.lineText(r, dec)
		s.buf = append(s.buf[:len(s.buf)-1], ',')
		s.buf = append(appendPlace(s.buf, r[0], dec), ']')
	}
	s.buf = append(s.buf, ']')
}

func (s *stream) lineText(pts []place, dec int) {
	s.reach(pts, dec)
	s.buf = append(s.buf, '[')
	for i, p := range pts {
		if i > 0 {
			s.buf = append(s.buf, ',')
		}
		s.buf = appendPlace(s.buf, p, dec)
	}
	s.buf = append(s.buf, ']')
}

// reach widens the box by places, which are of one feature that is written.
func (s *stream) reach(pts []place, dec int) {
	if len(pts) == 0 {
		return
	}
	least, most := pts[0], pts[0]
	for _, p := range pts[1:] {
		least.lon, least.lat, most.lon, most.lat = min(least.lon, p.lon), min(least.lat, p.lat), max(most.lon, p.lon), max(most.lat, p.lat)
	}
	b := orb.Bound{Min: least.point(dec), Max: most.point(dec)}
	if b.Max[0] > 0 {
		s.west = min(s.west, b.Min[0])
	}
	if b.Min[0] < 0 {
		s.east = max(s.east, b.Max[0])
	}
	if s.any {
		b = b.Union(s.box)
	}
	s.box, s.any = b, true
}

func appendPlace(b []byte, p place, dec int) []byte {
	b = append(b, '[')
	b = appendDegrees(b, p.lon, dec)
	b = append(b, ',')
	b = appendDegrees(b, p.lat, dec)
	return append(b, ']')
}

// pairs are the numbers from 00 to 99, two digits each.
var pairs = func() (p [200]byte) {
	for i := range 100 {
		p[2*i], p[2*i+1] = byte('0'+i/10), byte('0'+i%10)
	}
	return p
}()

// appendDegrees writes v·10^−dec with all its decimals, the last first and two at a time: several times as fast as
// strconv.AppendFloat, and layers have millions of them.
func appendDegrees(b []byte, v int64, dec int) []byte {
	if v < 0 {
		b, v = append(b, '-'), -v
	}
	var d [24]byte
	at := len(d)
	two := func() {
		next := v / 100
		k := 2 * (v - 100*next)
		at -= 2
		d[at], d[at+1], v = pairs[k], pairs[k+1], next
	}
	one := func() {
		at--
		d[at], v = byte('0'+v%10), v/10
	}
	for range dec / 2 {
		two()
	}
	if dec%2 > 0 {
		one()
	}
	at--
	d[at] = '.'
	for one(); v > 0; {
		one()
	}
	return append(b, d[at:]...)
}
