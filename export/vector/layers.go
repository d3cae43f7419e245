package vector

import (
	"fmt"
	"io"

	"balk/coverage"
	"balk/geo"
	"balk/geo/plane"
)

// Layers are the names of the layers Write knows, in the order a map stacks
// them.
var Layers = []string{"field", "headland", "states", "passes", "double", "unknown", "outside", "missed"}

// Write writes one layer of r as GeoJSON (RFC 7946: WGS84, longitude first,
// right-hand rule, no crs member).
func Write(w io.Writer, layer string, r coverage.Result) error {
	s := newStream(w, layer)
	var extra properties
	var err error
	switch layer {
	case "field":
		err = s.field(r)
	case "headland":
		err = s.plain(r.Local, r.Layers.Headland, func(p *properties) {
			p.number("depth_m", r.Headland.Depth, 2)
		})
	case "passes":
		err = s.passes(r)
	case "states":
		var left int
		if left, err = s.states(r); left > 0 {
			extra.integer("stretches_on_one_spot_left_out", left)
		}
	case "double":
		err = s.plain(r.Local, r.Layers.Double, func(p *properties) {
			p.words("worked", "twice or more")
		})
	case "unknown":
		err = s.plain(r.Local, r.Layers.Unknown, func(p *properties) {
			p.words("why", "log gap")
		})
	case "outside":
		err = s.plain(r.Local, r.Layers.Outside, nil)
	case "missed":
		err = s.missed(r)
		extra.number("total_area_m2", r.Balance.Missed, 2)
		extra.integer("slivers_not_listed", r.Slivers)
		extra.number("slivers_area_m2", r.SliverArea, 2)
	default:
		return fmt.Errorf("no layer %q (known: %v)", layer, Layers)
	}
	if err != nil {
		return err
	}
	return s.close(extra)
}

// WriteFields writes boundaries as GeoJSON, one feature per field: a Polygon, or
// a MultiPolygon for a field in several parts.
func WriteFields(w io.Writer, fields []geo.Field) error {
	s := newStream(w, "fields")
	for _, f := range fields {
		if err := s.boundary(f, properties{}); err != nil {
			return err
		}
	}
	return s.close(properties{})
}

func (s *stream) field(r coverage.Result) error {
	var area properties
	area.number("area_m2", r.Balance.Field, 2)
	return s.boundary(r.Field, area)
}

func (s *stream) boundary(f geo.Field, more properties) error {
	many := len(f.Boundary) != 1
	if many {
		s.begin("MultiPolygon")
		s.buf = append(s.buf, '[')
	} else {
		s.begin("Polygon")
	}
	parts := 0
	for _, poly := range f.Boundary {
		if parts > 0 {
			s.buf = append(s.buf, ',')
		}
		if s.polygon(len(poly), func(i, dec int) []place {
			s.places = s.places[:0]
			for _, p := range poly[i] {
				s.places = append(s.places, placeOf(p, dec))
			}
			return s.places
		}) {
			parts++
		} else if parts > 0 {
			s.buf = s.buf[:len(s.buf)-1] // the comma
		}
	}
	if parts == 0 {
		s.undo()
		return nil
	}
	if many {
		s.buf = append(s.buf, ']')
	}
	var p properties
	p.words("name", f.Name)
	p.integer("number", f.Number)
	if len(more.text) > 0 {
		p.text = append(append(p.text, ','), more.text...)
	}
	return s.end(p)
}

// plain writes one feature per polygon with its area and what more adds.
func (s *stream) plain(l geo.Local, polys []plane.Polygon, more func(*properties)) error {
	number := 0
	for _, poly := range polys {
		s.begin("Polygon")
		if !s.metres(l, poly) {
			s.undo()
			continue
		}
		number++
		var p properties
		p.integer("number", number)
		p.number("area_m2", poly.Area(), 2)
		if more != nil {
			more(&p)
		}
		if err := s.end(p); err != nil {
			return err
		}
	}
	return nil
}

func (s *stream) missed(r coverage.Result) error {
	for _, strip := range r.Strips {
		s.begin("Polygon")
		if !s.metres(r.Local, strip.Shape) {
			s.undo()
			continue
		}
		var p properties
		p.integer("strip", strip.Number)
		p.number("area_m2", strip.Area, 2)
		p.number("length_m", strip.Length, 2)
		p.number("mean_width_m", strip.MeanWidth, 3)
		p.number("max_width_m", strip.MaxWidth, 3)
		p.number("bearing_deg", float64(strip.Bearing), 1)
		p.words("cause", string(strip.Cause))
		p.integers("passes", strip.Passes)
		p.truth("headland", strip.Headland)
		p.number("lon", strip.At[0], decimals)
		p.number("lat", strip.At[1], decimals)
		if err := s.end(p); err != nil {
			return err
		}
	}
	return nil
}

func (s *stream) passes(r coverage.Result) error {
	for _, pass := range r.Passes {
		s.begin("LineString")
		s.places = s.places[:0]
		for _, q := range pass.Line {
			s.places = append(s.places, placeOf(r.Local.Point(q), decimals))
		}
		if !s.line(s.places) {
			s.undo()
			continue
		}
		var p properties
		p.integer("pass", pass.Number)
		p.integer("track", pass.Track+1)
		p.instant("from", pass.From)
		p.instant("to", pass.To)
		p.number("length_m", pass.Length, 2)
		p.number("area_m2", pass.Area, 2)
		p.integer("gaps", pass.Gaps)
		if err := s.end(p); err != nil {
			return err
		}
	}
	return nil
}

func (s *stream) metres(l geo.Local, poly plane.Polygon) bool {
	return s.polygon(len(poly), func(i, dec int) []place {
		s.places = s.places[:0]
		for _, q := range poly[i] {
			s.places = append(s.places, placeOf(l.Point(q), dec))
		}
		return s.places
	})
}
