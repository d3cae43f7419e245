package read

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"math"
	"path"
	"slices"
	"strings"

	"balk/geo"
	"balk/geo/crs"

	shp "github.com/jonas-p/go-shp"
	"github.com/paulmach/orb"
)

// ShapefileFields reads field boundaries from the shapefile name in fsys, with
// the .prj, .dbf and .cpg beside it in whatever case. file is the name for
// messages.
//
// Every polygon record is a field. Rings are outer rings or holes by how they
// lie in each other, not by their direction. The name comes from a column (see
// fieldNames). Without .prj coordinates within ±180, ±90 are taken as WGS84 with
// a finding; others are refused.
func ShapefileFields(fsys fs.FS, name, file string, o Options) ([]geo.Field, []geo.Finding, error) {
	s, err := openShapes(fsys, name, file)
	if err != nil {
		return nil, nil, err
	}
	defer s.close()
	b := boundaryRead{notes: tally{file: file}, options: o}
	var all []outline
	err = s.each(&b.notes, func(record int, shape shp.Shape) {
		poly, ok := shape.(*shp.Polygon)
		if !ok {
			b.notes.count(record, true, fmt.Sprintf("a %s is no boundary: left out", shapeTitle(shape)))
			return
		}
		if layer := layerOf(s); layer != "" {
			b.notes.leaveOwn(record, layer)
			return
		}
		o := newOutline(record, nameOf(s))
		for part := range partsOf(poly.Parts, poly.Points) {
			ring := make(orb.Ring, 0, len(part))
			for _, p := range part {
				s.extend(p.X, p.Y)
				ring = append(ring, orb.Point{p.X, p.Y})
			}
			o.Rings = append(o.Rings, ring)
		}
		all = append(all, o)
	})
	if err != nil {
		return nil, nil, err
	}
	if b.projection, err = s.projection(&b.notes, o.Taking); err != nil {
		return nil, nil, err
	}
	for _, o := range all {
		b.take(o)
	}
	s.emptyOwn(&b.notes)
	return b.result("a boundary is a shapefile of polygons")
}

// ShapefileTracks reads tracks from the shapefile name in fsys. All points of a
// file are one track in its order, and a changed value in a column "pass"
// begins a new part; a line record is a track with a part per part, a
// multipoint a track of one part. Columns: see columnNames; the units are those
// of GeoJSONTracks. Measures (M) are not read as time.
func ShapefileTracks(fsys fs.FS, name, file string, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	s, err := openShapes(fsys, name, file)
	if err != nil {
		return nil, nil, err
	}
	defer s.close()
	sc := o.scan(strings.NewReader(""), file, "")
	err = s.each(&sc.notes, func(record int, shape shp.Shape) {
		sc.record = record
		f := feature{from: len(sc.tracks), place: true}
		clear(sc.list[:])
		sc.columnTexts(&f, s)
		switch shape := shape.(type) {
		case *shp.Point:
			if math.IsNaN(shape.X) || math.IsNaN(shape.Y) {
				sc.notes.count(record, true, "a point without coordinates: left out")
				return
			}
			s.extend(shape.X, shape.Y)
			f.point, f.hasPoint = [3]float64{shape.X, shape.Y, math.NaN()}, true
		case *shp.MultiPoint:
			s.part(sc.begin(), shape.Points)
		case *shp.PolyLine:
			g := sc.begin()
			for part := range partsOf(shape.Parts, shape.Points) {
				s.part(g, part)
			}
		default:
			if layer := f.own.layer(); layer != "" {
				sc.notes.leaveOwn(record, layer)
				return
			}
			sc.notes.count(record, true, fmt.Sprintf("a %s is no track: left out", shapeTitle(shape)))
			return
		}
		sc.close(&f)
	})
	if err != nil {
		return nil, nil, err
	}
	p, err := s.projection(&sc.notes, o.Taking)
	if err != nil {
		return nil, nil, err
	}
	s.emptyOwn(&sc.notes)
	return sc.finish(p)
}

func (s *shapes) part(g *growing, points []shp.Point) {
	var none values
	for _, p := range points {
		s.extend(p.X, p.Y)
		g.add(p.X, p.Y, &none)
	}
	g.endPart()
}

// partsOf are the points of each part; parts says where they begin.
func partsOf(parts []int32, points []shp.Point) iter.Seq[[]shp.Point] {
	return func(yield func([]shp.Point) bool) {
		for i, from := range parts {
			to := len(points)
			if i+1 < len(parts) {
				to = int(parts[i+1])
			}
			if !yield(points[from:to]) {
				return
			}
		}
	}
}

func shapeTitle(s shp.Shape) string {
	switch s.(type) {
	case *shp.Point:
		return "point"
	case *shp.MultiPoint:
		return "multipoint"
	case *shp.PolyLine:
		return "line"
	case *shp.Polygon:
		return "polygon"
	}
	return fmt.Sprintf("%T", s)
}

// shapes is an open shapefile.
type shapes struct {
	file    string
	guard   *shapeGuard
	table   *attributes // nil: none
	row     bool        // the record at hand has a row
	short   bool        // one had none
	odd     []string    // findings about the files beside it
	prj     string
	noTable string // why there is no table
	closers []io.Closer
	lo, hi  [2]float64 // box of all coordinates
}

func (s *shapes) close() {
	for _, c := range s.closers {
		c.Close()
	}
}

func (s *shapes) extend(x, y float64) {
	s.lo[0], s.hi[0] = min(s.lo[0], x), max(s.hi[0], x)
	s.lo[1], s.hi[1] = min(s.lo[1], y), max(s.hi[1], y)
}

// maxSide is the limit of a .prj or .cpg file in bytes.
const maxSide = 1 << 20

// openShapes opens a .shp and what lies beside it.
func openShapes(fsys fs.FS, name, file string) (s *shapes, err error) {
	s = &shapes{file: file}
	defer func() {
		if err != nil {
			s.close()
			s = nil
		}
	}()
	inf := math.Inf(1)
	s.lo, s.hi = [2]float64{inf, inf}, [2]float64{-inf, -inf}
	f, err := fsys.Open(name)
	if err != nil {
		return s, fmt.Errorf("read %s: %w", file, err)
	}
	s.closers = append(s.closers, f)
	if s.guard, err = newShapeGuard(bufio.NewReaderSize(f, 1<<16)); err != nil {
		return s, &FileError{File: file, What: "no shapefile", Err: err}
	}
	beside, err := siblings(fsys, name)
	if err != nil {
		return s, fmt.Errorf("read %s: %w", file, err)
	}
	side := func(ext string) (string, error) {
		n, ok := beside[ext]
		if !ok {
			return "", nil
		}
		f, err := fsys.Open(n)
		if err != nil {
			return "", fmt.Errorf("read %s: %w", file, err)
		}
		defer f.Close()
		b, err := io.ReadAll(io.LimitReader(f, maxSide+1))
		if err == nil && len(b) > maxSide {
			err = &FileError{File: n, What: fmt.Sprintf("more than %d bytes", maxSide)}
		}
		if err != nil {
			return "", fmt.Errorf("read %s: %w", file, err)
		}
		return strings.TrimPrefix(string(b), string(bom)), nil
	}
	if s.prj, err = side(".prj"); err != nil {
		return s, err
	}
	cpg, err := side(".cpg")
	if err != nil {
		return s, err
	}
	n, ok := beside[".dbf"]
	if !ok {
		s.noTable = "no .dbf beside it: names and columns are missing"
		return s, nil
	}
	d, err := fsys.Open(n)
	if err != nil {
		return s, fmt.Errorf("read %s: %w", file, err)
	}
	s.closers = append(s.closers, d)
	table, odd, err := readAttributes(d, cpg)
	if err != nil {
		s.noTable = "the .dbf beside it cannot be read, names and columns are missing: " + err.Error()
		return s, nil
	}
	if s.table = table; odd != "" {
		s.odd = append(s.odd, odd)
	}
	return s, nil
}

// siblings are the files with the same name and another extension, by the
// extension in lower case.
func siblings(fsys fs.FS, name string) (map[string]string, error) {
	dir, base := path.Dir(name), path.Base(name)
	stem := strings.TrimSuffix(base, path.Ext(base))
	list, err := fs.ReadDir(fsys, dir)
	if err != nil {
		return nil, err
	}
	out := map[string]string{}
	for _, e := range list {
		n := e.Name()
		ext := path.Ext(n)
		if e.IsDir() || !strings.EqualFold(strings.TrimSuffix(n, ext), stem) {
			continue
		}
		key := strings.ToLower(ext)
		if _, there := out[key]; !there || strings.TrimSuffix(n, ext) == stem { // the same case wins
			out[key] = path.Join(dir, n)
		}
	}
	return out, nil
}

// each calls do for every record that has a shape, and notes the others.
func (s *shapes) each(t *tally, do func(record int, shape shp.Shape)) error {
	if s.noTable != "" {
		t.add(0, nil, strings.Contains(s.noTable, "cannot be read"), s.noTable)
	}
	for _, odd := range s.odd {
		t.add(0, nil, false, odd)
	}
	r := shp.SequentialReaderFromExt(io.NopCloser(bufio.NewReaderSize(s.guard, 1<<16)), io.NopCloser(&emptyTable{}))
	record := 0
	for r.Next() {
		record++
		if err := s.nextRow(t, record); err != nil {
			return err
		}
		_, shape := r.Shape()
		_, null := shape.(*shp.Null)
		what, bad := s.guard.faults[record]
		switch {
		case s.row && s.table.deleted:
			t.count(record, false, "the .dbf marks the record as deleted: left out")
		case bad:
			t.count(record, true, what+": left out")
		case null:
			t.count(record, true, "a null shape: left out")
		default:
			do(record, shape)
		}
	}
	if s.guard.err != nil && !errors.Is(s.guard.err, io.EOF) {
		return fmt.Errorf("read %s: record %d: %w", s.file, record+1, s.guard.err)
	}
	if err := r.Err(); err != nil {
		return fmt.Errorf("read %s: record %d: %w", s.file, record+1, err)
	}
	if record != s.guard.records {
		return &FileError{File: s.file, What: fmt.Sprintf("%d of %d records came through the reader", record, s.guard.records)}
	}
	if s.guard.end != "" {
		t.add(0, nil, true, "unreadable from here on, what comes before is used: "+s.guard.end)
	}
	if s.guard.odd != "" {
		t.add(0, nil, false, s.guard.odd)
	}
	return s.endTable(t, record)
}

// nextRow goes to the row of a record.
func (s *shapes) nextRow(t *tally, record int) (err error) {
	if s.row = false; s.table == nil {
		return nil
	}
	if s.row, err = s.table.next(); err != nil {
		return fmt.Errorf("read %s: .dbf: %w", s.file, err)
	}
	if !s.row && !s.short {
		s.short = true
		t.count(record, true, "the .dbf has no row for this record and those after it: their names and columns are missing")
	}
	return nil
}

// endTable notes what is odd about the table beside so many records.
func (s *shapes) endTable(t *tally, records int) error {
	if s.table == nil {
		return nil
	}
	if !s.short {
		more, err := s.table.next()
		if err != nil {
			return fmt.Errorf("read %s: .dbf: %w", s.file, err)
		}
		if more {
			t.add(0, nil, true, fmt.Sprintf("the .dbf has more rows than the .shp has records (%d): shapes are missing", records))
		}
	}
	if s.table.guessed {
		t.add(0, nil, false, "nothing says how the text of the .dbf is encoded: read as UTF-8 where it is that, else as Windows-1252")
	}
	return nil
}

// projection is the system of the file by its .prj; nil: degrees on WGS84.
func (s *shapes) projection(t *tally, how Taking) (crs.Projection, error) {
	if strings.TrimSpace(s.prj) != "" {
		p, err := crs.FromWKT(s.prj)
		if err != nil {
			return nil, &FileError{File: s.file, Place: ".prj", What: "this map projection is not read", Err: err, Hint: "convert the file to longitude and latitude on WGS84"}
		}
		note(t, p)
		return p, nil
	}
	if s.hi[0] < s.lo[0] { // nothing in it
		return nil, nil
	}
	if how.CRS != 0 {
		return how.unnamed(t)
	}
	if !geo.OnEarth(s.lo[0], s.lo[1]) || !geo.OnEarth(s.hi[0], s.hi[1]) {
		return nil, &FileError{File: s.file, What: fmt.Sprintf("no .prj beside it, and coordinates from %.10g, %.10g to %.10g, %.10g are no longitude and latitude (±180, ±90)", s.lo[0], s.lo[1], s.hi[0], s.hi[1]), Hint: "put the .prj of the file beside it, name its system with --crs, or convert it to longitude and latitude on WGS84"}
	}
	t.add(0, nil, false, "no .prj beside it: coordinates within ±180, ±90 are taken as longitude and latitude on WGS84")
	return nil, nil
}

// The row at hand, in which there are no columns where there is none.

func (s *shapes) columns() int {
	if s.table == nil || !s.row {
		return 0
	}
	return len(s.table.fields)
}

func (s *shapes) title(i int) string { return s.table.fields[i].name }

func (s *shapes) text(i int) string {
	v := s.table.value(i)
	if s.table.fields[i].kind == 'L' && v == "?" {
		return ""
	}
	return v
}

// emptyOwn notes that a shapefile without records is a layer of balk's results, in which there was nothing.
func (s *shapes) emptyOwn(t *tally) {
	if s.guard.records == 0 && s.table != nil && slices.ContainsFunc(s.table.fields, func(f dbfField) bool { return f.name == ownMark }) {
		t.leaveOwn(0, strings.TrimSuffix(path.Base(s.file), path.Ext(s.file)))
	}
}
