package read

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"balk/geo"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
)

// sqliteMagic is how a SQLite file begins.
const sqliteMagic = "SQLite format 3\x00"

// geopackageIDs are the application ids of a GeoPackage, at byte 68 of the file:
// GPKG, and GP10 and GP11 of the first versions.
var geopackageIDs = []string{"GPKG", "GP10", "GP11"}

// geopackageFields reads the field boundaries of a GeoPackage (OGC 12-128), in
// the order of its tables. Every feature with polygons is a field; the name comes
// from a column (see fieldNames), inner rings are obstacles, Z and M are left
// out. Tables of points or lines are passed over with a finding.
func geopackageFields(s *source, o Options) ([]geo.Field, []geo.Finding, error) {
	file := s.file
	g, err := openGeoPackage(s)
	if err != nil {
		return nil, nil, err
	}
	defer g.close()
	b := boundaryRead{notes: g.notes, options: o}
	chosen := g.choose(o.Taking, o.Files)
	var names, held []string
	for _, t := range g.tables {
		if strings.Contains(t.kind, "POINT") || strings.Contains(t.kind, "LINE") {
			b.notes.add(0, nil, false, fmt.Sprintf("table %q of %ss is no boundary: not read", t.name, strings.ToLower(t.kind)))
			continue
		}
		name := file + "/" + t.name
		notes := tally{file: name}
		if b.projection, err = t.projection(&notes, o.Taking); err != nil {
			b.notes.list, b.notes.times = append(b.notes.list, notes.list...), append(b.notes.times, notes.times...)
			b.lose(0, err)
			continue
		}
		outer, before := b.notes, len(b.fields)
		b.notes = notes
		err := g.rows(t, &b.notes, b.row)
		if err != nil {
			if b.first == nil {
				b.first = err
			}
			b.notes.add(0, nil, true, lossText(err))
		}
		if n := len(b.fields) - before; n > 0 {
			names, held = append(names, t.name), append(held, countOf(n, "field", "fields"))
		}
		inner := b.notes
		b.notes = outer
		b.notes.own = cmp.Or(b.notes.own, inner.own)
		b.notes.take(inner.findings())
	}
	if len(names) > 1 && !chosen {
		return nil, nil, o.severalLayers(file, "boundaries", names, held)
	}
	return b.result("a boundary is a table of polygons")
}

// geopackageTracks reads the tracks of a GeoPackage (OGC 12-128). All points of a
// table are one track in its order, and a changed value in a column "pass"
// begins a new part; a line is a track with a part per part. Columns: see
// columnNames; the units are those of GeoJSONTracks. Z and M are left out, tables
// of polygons are passed over with a finding.
func geopackageTracks(s *source, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	file := s.file
	g, err := openGeoPackage(s)
	if err != nil {
		return nil, nil, err
	}
	defer g.close()
	var tracks []geo.Track
	var findings []geo.Finding
	var first error
	chosen := g.choose(o.Taking, o.Files)
	var names, held []string
	for _, t := range g.tables {
		if strings.Contains(t.kind, "POLYGON") || strings.Contains(t.kind, "SURFACE") {
			g.notes.add(0, nil, false, fmt.Sprintf("table %q of %ss is no track: not read", t.name, strings.ToLower(t.kind)))
			continue
		}
		name := file + "/" + t.name
		sc := o.scan(strings.NewReader(""), name, t.title)
		p, err := t.projection(&sc.notes, o.Taking)
		if err == nil {
			g.of, g.states = &sc.numbering, &sc.states
			err = g.rows(t, &sc.notes, sc.row)
		}
		var got []geo.Track
		var found []geo.Finding
		if err == nil {
			got, found, err = sc.finish(p)
		} else if fixes := fixesOf(sc.tracks); fixes > 0 {
			sc.notes.brokeOff(0, fixes, err)
			got, found, err = sc.finish(p)
		}
		if err != nil {
			if first == nil {
				first = err
			}
			found = []geo.Finding{lossOf(name, err)}
		}
		if len(got) > 0 {
			names, held = append(names, t.name), append(held, trackWords(got))
		}
		tracks = append(tracks, got...)
		findings = append(findings, found...)
	}
	if len(names) > 1 && !chosen {
		return nil, nil, o.severalLayers(file, "tracks", names, held)
	}
	if len(tracks) > 0 {
		return tracks, append(g.notes.findings(), findings...), nil
	}
	if first != nil {
		return nil, nil, first
	}
	return nil, nil, g.notes.nothing("no track in it", "a track is a table of points or lines", true)
}

// choose leaves the tables that are named, if any is.
func (g *geopackage) choose(t Taking, files *Files) (chosen bool) {
	var names []string
	for _, table := range g.tables {
		names = append(names, table.name)
	}
	wanted, chosen := t.named(files, names)
	if chosen {
		g.tables = slices.DeleteFunc(g.tables, func(t featureTable) bool { return !slices.Contains(wanted, t.name) })
	}
	return chosen
}

// trackWords says how much is in some tracks.
func trackWords(tracks []geo.Track) string {
	n, timed := 0, false
	for _, t := range tracks {
		n += t.Fixes()
		timed = timed || hasTimes(t)
	}
	if !timed {
		return countOf(n, "fix without time", "fixes without times")
	}
	return countOf(n, "fix", "fixes")
}

// hasTimes says whether a track has the time of a fix.
func hasTimes(t geo.Track) bool {
	flat := t.Line.FlatCoords()
	for i := 2; i < len(flat); i += 3 {
		if !math.IsNaN(flat[i]) {
			return true
		}
	}
	return false
}

func fixesOf(tracks []*growing) (n int) {
	for _, g := range tracks {
		n += g.fixes()
	}
	return n
}

// row takes a feature of a table of points or lines.
func (s *trackScan) row(record int, shape geom.T, row cells) {
	s.record = record
	f := feature{from: len(s.tracks), place: true}
	clear(s.list[:])
	s.columnTexts(&f, row)
	s.shape(&f, shape)
	s.close(&f)
}

// shape takes the points and lines of a geometry.
func (s *trackScan) shape(f *feature, shape geom.T) {
	switch shape := shape.(type) {
	case *geom.Point:
		flat := shape.FlatCoords()
		if len(flat) < 2 || math.IsNaN(flat[0]) || math.IsNaN(flat[1]) {
			s.notes.count(s.record, true, "a point without coordinates: left out")
			return
		}
		f.point, f.hasPoint = [3]float64{flat[0], flat[1], math.NaN()}, true
		return
	case *geom.GeometryCollection: // its points are fixes of their own
		for _, g := range shape.Geoms() {
			if s.shape(f, g); f.hasPoint {
				s.addPoint(f)
				f.hasPoint = false
			}
		}
		return
	}
	ends, ok := lineEnds(shape)
	if !ok {
		s.notes.count(s.record, true, fmt.Sprintf("a %s is no track: left out", geometryTitle(shape)))
		return
	}
	g := s.begin()
	g.lines(shape, ends, &values{})
	s.drop(g)
}

// lineEnds are the ends of the parts of a line, a multipoint being one; false: it is no line.
func lineEnds(shape geom.T) (ends []int, ok bool) {
	switch shape := shape.(type) {
	case *geom.MultiPoint, *geom.LineString:
		return []int{len(shape.FlatCoords())}, true
	case *geom.MultiLineString:
		return shape.Ends(), true
	}
	return nil, false
}

// lines adds the positions of a line as parts, with the same values at every fix.
func (g *growing) lines(shape geom.T, ends []int, v *values) {
	flat, stride, from := shape.FlatCoords(), shape.Stride(), 0
	for _, to := range ends {
		for ; from < to; from += stride {
			g.add(flat[from], flat[from+1], v)
		}
		g.endPart()
	}
}

func geometryTitle(g geom.T) string {
	return strings.ToLower(strings.TrimPrefix(fmt.Sprintf("%T", g), "*geom."))
}

// polygons collects the rings of all polygons of a geometry; false: there is
// something else in it.
func (o *outline) polygons(g geom.T) bool {
	take := func(ends []int, from int) {
		flat, stride := g.FlatCoords(), g.Stride()
		if len(ends) > 0 {
			o.Parts = append(o.Parts, len(o.Rings))
		}
		for _, to := range ends {
			var r orb.Ring
			for ; from < to; from += stride {
				r = append(r, orb.Point{flat[from], flat[from+1]})
			}
			o.Rings = append(o.Rings, r)
		}
	}
	switch g := g.(type) {
	case *geom.Polygon:
		take(g.Ends(), 0)
	case *geom.MultiPolygon:
		from := 0
		for _, ends := range g.Endss() {
			take(ends, from)
			if len(ends) > 0 {
				from = ends[len(ends)-1]
			}
		}
	case *geom.GeometryCollection:
		ok := true
		for _, c := range g.Geoms() {
			ok = o.polygons(c) && ok
		}
		return ok
	default:
		return false
	}
	return true
}
