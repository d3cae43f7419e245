package read

import (
	"fmt"
	"io"
	"math"
	"strconv"

	"balk/geo"
	"balk/geo/crs"

	geom "github.com/twpayne/go-geom"
)

// CSVFields reads field boundaries from a table of text with a column of polygons as WKT or WKB, a boundary per line. The
// name comes from a column (see fieldNames). file is the name for messages.
func CSVFields(r io.Reader, file string, o Options) ([]geo.Field, []geo.Finding, error) {
	t := table{lines: newLines(r), notes: tally{file: file}, states: newStateJudge(TrackOptions{})}
	first, delimiter, err := t.start()
	if err != nil {
		return nil, nil, err
	}
	if t.header, err = readHeader(first, delimiter, &tally{file: file}, TrackOptions{Taking: o.Taking}); err != nil || t.header.shape < 0 {
		return nil, nil, &FileError{File: file, What: "no field boundary in it: it is a table of text without a column of geometries (WKT or WKB)", Hint: "a boundary is read from GeoJSON, a shapefile, a GeoPackage, KML or task data", other: true}
	}
	if layer := t.header.own(); layer != "" {
		return nil, nil, &OwnError{file, layer}
	}
	b := boundaryRead{options: o}
	var all []outline
	t.header.use, t.needed = nil, len(t.header.titles)
	t.onShape = func(number int, shape geom.T) {
		var row cells
		for i, f := range t.fields {
			row = append(row, cell{t.header.titles[i], string(trim(f))})
		}
		out := newOutline(number, nameOf(row))
		switch layer := layerOf(row); {
		case layer != "":
			t.notes.leaveOwn(number, layer)
		case !out.polygons(shape):
			t.notes.count(number, true, fmt.Sprintf("a %s is no boundary: left out", geometryTitle(shape)))
		default:
			all = append(all, out)
		}
	}
	t.all(first)
	if err := t.lines.broken(); err != nil && t.err == nil {
		t.err = fmt.Errorf("read %s: line %d: %w", file, t.lines.number, err)
	}
	if t.err != nil {
		return nil, nil, t.err
	}
	if b.projection, err = t.projection(o.Taking); err != nil {
		return nil, nil, err
	}
	b.notes = t.notes
	for _, out := range all {
		b.take(out)
	}
	return b.result("a boundary is a line with a POLYGON")
}

// shape reads the geometry of a record; nil: there is none that can be used.
func (t *table) shape(number int) geom.T {
	if t.header.shape >= len(t.fields) {
		t.notes.count(number, true, "a line that ends before its geometry: left out")
		return nil
	}
	text := trim(t.fields[t.header.shape])
	if isAbsent(text) {
		t.notes.count(number, true, "a line without geometry")
		return nil
	}
	shape, srid, err := shapeText(text)
	switch {
	case err != nil:
		t.notes.countAs(number, true, "geometry", "a geometry that cannot be read: "+err.Error())
		return nil
	case shape == nil || shape.Empty():
		t.notes.count(number, true, "an empty geometry")
		return nil
	case srid != 0 && t.srid != 0 && srid != t.srid:
		t.notes.count(number, true, fmt.Sprintf("a geometry in the system %d, those before are in %d: left out", srid, t.srid))
		return nil
	case srid != 0:
		t.srid = srid
	}
	if t.onShape != nil {
		t.onShape(number, shape)
		return nil
	}
	return shape
}

// add takes a geometry as a fix, or as a track with the values of its line at every fix.
func (t *table) add(number int, shape geom.T, v values) {
	switch shape := shape.(type) {
	case *geom.Point:
		if c := shape.FlatCoords(); len(c) < 2 || math.IsNaN(c[0]) || math.IsNaN(c[1]) {
			t.notes.count(number, true, "an empty geometry")
		} else {
			t.fixes++
			t.one.add(c[0], c[1], &v)
		}
		return
	case *geom.GeometryCollection:
		for _, one := range shape.Geoms() {
			t.add(number, one, v)
		}
		return
	}
	ends, ok := lineEnds(shape)
	if !ok {
		t.notes.count(number, true, fmt.Sprintf("a %s is no track: left out", geometryTitle(shape)))
		return
	}
	v.has &^= 1 << timeColumn // one time for a whole line says nothing
	g := &growing{record: number}
	g.lines(shape, ends, &v)
	t.fixes += g.fixes()
	t.tracks = append(t.tracks, g)
}

// projection is the system that the geometries of a table name; nil: longitude and latitude on WGS84.
func (t *table) projection(how Taking) (crs.Projection, error) {
	if t.srid == 0 && (t.header.shape >= 0 || t.header.metres) {
		return how.unnamed(&t.notes)
	}
	if t.srid == 0 || t.srid == 4326 {
		return nil, nil
	}
	p, err := crs.FromEPSG(t.srid)
	if err != nil {
		return nil, &FileError{File: t.notes.file, What: "the system of its geometries, SRID " + strconv.Itoa(t.srid) + ", is not read", Err: err}
	}
	note(&t.notes, p)
	return p, nil
}
