package read

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"balk/geo/crs"

	geom "github.com/twpayne/go-geom"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// geopackage is an open GeoPackage.
type geopackage struct {
	file   string
	size   int64
	db     *sql.DB
	conn   *sql.Conn
	notes  tally
	tables []featureTable
	states *stateJudge // columns that it asks for are read; nil: none
	of     *numbering  // columns that are read whatever their names mean; nil: none
	out    int64       // bytes of geometries, and of texts too long for names, that its rows gave
}

// featureTable is a table of features, as gpkg_geometry_columns has it.
type featureTable struct {
	file, name, title, column, kind string
	srs                             int64
	organization                    string
	code                            int64
	definition                      string
}

func (g *geopackage) close() {
	if g.conn != nil {
		g.conn.Close()
	}
	g.db.Close()
}

// openGeoPackage opens a GeoPackage for reading only and lists its tables. The
// schema of a file is not trusted: no value may be longer than the file, and
// functions with side effects are off. One that is not on the disk, or that somebody has open, is read in memory; nothing is
// written beside it.
func openGeoPackage(s *source) (*geopackage, error) {
	if s.path != "" && pendingBeside(s.path) {
		data, err := withPending(s.path)
		if err != nil {
			return nil, err
		}
		s = &source{file: s.file, at: bytes.NewReader(data), size: int64(len(data))}
	}
	size, whole, err := s.checkGeoPackage()
	if err != nil {
		return nil, err
	}
	name := ":memory:"
	if s.path != "" {
		if name, err = sqliteName(s.path); err != nil {
			return nil, err
		}
	}
	db, err := sql.Open("sqlite", name)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", s.file, err)
	}
	g := &geopackage{file: s.file, size: size, db: db, notes: tally{file: s.file}}
	if size < whole {
		g.notes.add(0, nil, true, fmt.Sprintf("the file ends at byte %d, its header says %d: what is there is used", size, whole))
	}
	if g.conn, err = db.Conn(context.Background()); err == nil && s.path == "" {
		err = s.into(g.conn)
	}
	if err == nil {
		err = g.list(size < whole)
	}
	if err != nil {
		g.close()
		return nil, &FileError{File: s.file, What: "no GeoPackage that can be read", Err: err}
	}
	if len(g.tables) == 0 {
		g.close()
		return nil, g.notes.nothing("no feature table in it", "field boundaries and tracks are feature tables", true)
	}
	return g, nil
}

// sqliteName is how SQLite is told to open a file for reading only.
func sqliteName(path string) (string, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", fmt.Errorf("read: %w", err)
	}
	const query = "mode=ro&immutable=1" // nothing is waiting beside the file: no locks, and folders that cannot be written to do
	slashed := filepath.ToSlash(abs)
	if !strings.HasPrefix(slashed, "/") {
		slashed = "/" + slashed
	}
	return (&url.URL{Scheme: "file", Path: slashed, RawQuery: query}).String(), nil
}

// into gives the content to a connection as its database.
func (s *source) into(conn *sql.Conn) error {
	data, err := s.bytes()
	if err != nil {
		return err
	}
	// One that was written with a log beside it names that way of writing in bytes 18 and 19; in memory there is none.
	data[18], data[19] = 1, 1
	return conn.Raw(func(c any) error {
		return c.(interface{ Deserialize([]byte) error }).Deserialize(data)
	})
}

// checkGeoPackage looks at the head of the file: how many bytes it has, and how
// many its header says.
func (s *source) checkGeoPackage() (size, whole int64, err error) {
	at, size, file := s.at, s.size, s.file
	if at == nil {
		f, err := os.Open(s.path)
		if err != nil {
			return 0, 0, fmt.Errorf("read: %w", err)
		}
		defer f.Close()
		st, err := f.Stat()
		if err != nil {
			return 0, 0, fmt.Errorf("read: %w", err)
		}
		at, size = f, st.Size()
	}
	var head [100]byte
	if n, err := at.ReadAt(head[:], 0); n < len(head) {
		return 0, 0, &FileError{File: file, What: fmt.Sprintf("the header has %d of 100 bytes", n), Err: err}
	}
	if !bytes.HasPrefix(head[:], []byte(sqliteMagic)) {
		return 0, 0, &FileError{File: file, What: fmt.Sprintf("it begins with %q, no SQLite file does", head[:16])}
	}
	if id := string(head[68:72]); !slices.Contains(geopackageIDs, id) {
		return 0, 0, &FileError{File: file, Place: "byte 68", What: fmt.Sprintf("an SQLite file with the application id %#08x, a GeoPackage has 0x47504b47 (GPKG)", binary.BigEndian.Uint32(head[68:])), Hint: "save it as a GeoPackage"}
	}
	page := int64(binary.BigEndian.Uint16(head[16:]))
	if page == 1 {
		page = 1 << 16
	}
	if binary.BigEndian.Uint32(head[24:]) == binary.BigEndian.Uint32(head[92:]) { // else the count of pages is out of date
		whole = page * int64(binary.BigEndian.Uint32(head[28:]))
	}
	return size, whole, nil
}

// list reads which feature tables there are, with their systems.
func (g *geopackage) list(cut bool) error {
	ctx := context.Background()
	conn := g.conn
	if _, err := sqlite.Limit(conn, sqlite3.SQLITE_LIMIT_LENGTH, int(min(max(g.size, 1<<16), 1<<30))); err != nil {
		return err
	}
	first := []string{"PRAGMA trusted_schema=OFF", "PRAGMA query_only=ON", "PRAGMA cell_size_check=ON"}
	if cut { // the one way to have SQLite read a file that lacks pages; it stays open for reading only
		first = append([]string{"PRAGMA writable_schema=ON"}, first...)
	}
	for _, p := range first {
		if _, err := conn.ExecContext(ctx, p); err != nil {
			return err
		}
	}
	if err := g.plain("gpkg_geometry_columns", "gpkg_spatial_ref_sys"); err != nil {
		return err
	}
	rows, err := conn.QueryContext(ctx, `SELECT g.table_name, g.column_name, g.geometry_type_name, g.srs_id, coalesce(s.organization, ''), coalesce(s.organization_coordsys_id, 0), coalesce(s.definition, '')
		FROM gpkg_geometry_columns g LEFT JOIN gpkg_spatial_ref_sys s ON s.srs_id = g.srs_id ORDER BY g.rowid`)
	if err != nil {
		return err
	}
	defer rows.Close()
	var all []featureTable
	for rows.Next() {
		t := featureTable{file: g.file}
		if err := rows.Scan(&t.name, &t.column, &t.kind, &t.srs, &t.organization, &t.code, &t.definition); err != nil {
			return err
		}
		t.kind, t.title = strings.ToUpper(t.kind), t.name
		all = append(all, t)
	}
	if err := rows.Err(); err != nil {
		return err
	}
	listed := map[string]bool{}
	for _, t := range all {
		column := strings.ToLower(t.name + "\x00" + t.column) // as SQLite tells them apart
		if listed[column] {
			g.notes.countAs(0, false, "listed again", fmt.Sprintf("the table %q is listed more than once: read once", t.name))
			continue
		}
		listed[column] = true
		if err := g.plain(t.name); err != nil {
			g.notes.add(0, nil, true, err.Error()+": left out")
			continue
		}
		g.tables = append(g.tables, t)
	}
	return nil
}

// plain says whether tables are there and are plain ones: a view or a virtual
// table can run for ever or hold more than the file.
func (g *geopackage) plain(names ...string) error {
	for _, name := range names {
		var kind, text string
		err := g.conn.QueryRowContext(context.Background(), "SELECT type, coalesce(sql, '') FROM sqlite_schema WHERE name = ? COLLATE NOCASE AND type IN ('table', 'view')", name).Scan(&kind, &text)
		switch {
		case errors.Is(err, sql.ErrNoRows):
			return fmt.Errorf("the table %q is not there", name)
		case err != nil:
			return err
		case kind != "table" || strings.HasPrefix(strings.ToUpper(strings.Join(strings.Fields(text[:min(len(text), 100)]), " ")), "CREATE VIRTUAL"):
			return fmt.Errorf("%q is a view or virtual table, only plain tables are read", name)
		}
	}
	return nil
}

// projection is the system of a table; nil: degrees on WGS84, longitude first as
// in every GeoPackage.
func (t *featureTable) projection(notes *tally, how Taking) (crs.Projection, error) {
	fail := func(what string, err error) (crs.Projection, error) {
		return nil, &FileError{File: t.file, Place: fmt.Sprintf("table %q", t.name), What: what, Err: err, Hint: "convert the file to longitude and latitude on WGS84 (EPSG:4326)"}
	}
	switch t.srs {
	case 4326:
		return nil, nil
	case 0, -1:
		if how.CRS != 0 {
			return how.unnamed(notes)
		}
		if t.srs < 0 {
			return fail("its system is undefined cartesian (srs_id -1)", nil)
		}
		notes.add(0, nil, false, "its system is undefined geographic (srs_id 0): taken as longitude and latitude on WGS84")
		return nil, nil
	}
	if strings.EqualFold(t.organization, "EPSG") {
		if t.code == 4326 {
			return nil, nil
		}
		p, err := crs.FromEPSG(int(t.code))
		if err == nil {
			note(notes, p)
			return p, nil
		}
		if _, shifted := errors.AsType[*crs.DatumError](err); shifted {
			return fail(fmt.Sprintf("its system %s:%d (srs_id %d) is not read", t.organization, t.code, t.srs), err)
		}
	}
	p, err := crs.FromWKT(t.definition)
	if err != nil {
		return fail(fmt.Sprintf("its system %s:%d (srs_id %d) is not read", t.organization, t.code, t.srs), err)
	}
	note(notes, p)
	return p, nil
}

func note(notes *tally, p crs.Projection) {
	if what := crs.Note(p); what != "" {
		notes.add(0, nil, false, what)
	}
}

// longName is the length from which on a text counts as content of the file: shorter ones may be the value that a column has where a row names none.
const longName = 1000 // bytes

// rows calls do for every feature of a table, in the order of the table, with
// its columns as text in their order.
func (g *geopackage) rows(t featureTable, notes *tally, do func(record int, shape geom.T, row cells)) error {
	columns, at, err := g.columns(t)
	if err != nil {
		return &FileError{File: notes.file, Err: err}
	}
	var list []string
	for _, c := range columns {
		q := quoted(c)
		if k := columnOf([]byte(c)); k == timeColumn || k == dateColumn {
			q = "CAST(" + q + " AS TEXT)" // as it stands: the driver reads dates its own way
		}
		list = append(list, q)
	}
	rows, err := g.conn.QueryContext(context.Background(), "SELECT "+strings.Join(list, ", ")+" FROM "+quoted(t.name))
	if err != nil {
		return &FileError{File: notes.file, Err: err}
	}
	defer rows.Close()
	got, into := make([]any, len(columns)), make([]any, len(columns))
	for i := range got {
		into[i] = &got[i]
	}
	var row cells
	record := 0
	for rows.Next() {
		record++
		if err := rows.Scan(into...); err != nil {
			return &FileError{File: notes.file, Record: record, Err: err}
		}
		row = row[:0]
		for i, c := range columns {
			if i == at {
				continue
			}
			text := cellText(got[i])
			if row = append(row, cell{c, text}); len(text) > longName {
				g.out += int64(len(text))
			}
		}
		blob, ok := got[at].([]byte)
		if !ok || len(blob) == 0 {
			notes.count(record, true, "a feature without geometry")
			continue
		}
		// Pages and tables can point at one page many times: a small file can hold rows without end.
		if g.out += int64(len(blob)); g.out > g.size {
			return &FileError{File: notes.file, Record: record, What: fmt.Sprintf("geometries and long texts up to here have %d bytes, the file has %d: its pages are used twice", g.out, g.size)}
		}
		shape, srs, err := decodeGeoPackageBlob(blob)
		switch {
		case err != nil:
			notes.count(record, true, "a geometry that cannot be read: "+err.Error())
			continue
		case shape == nil:
			notes.count(record, true, "an empty geometry")
			continue
		case srs != t.srs:
			notes.count(record, true, fmt.Sprintf("a geometry in the system %d, its table is in %d: left out", srs, t.srs))
			continue
		}
		do(record, shape, row)
	}
	if err := rows.Err(); err != nil {
		return &FileError{File: notes.file, Record: record + 1, Err: err}
	}
	return nil
}

// columns are the columns of a table that are read, and which is the geometry.
// Generated ones are left: they can compute without end.
func (g *geopackage) columns(t featureTable) (names []string, at int, err error) {
	rows, err := g.conn.QueryContext(context.Background(), "SELECT name, type FROM pragma_table_xinfo(?) WHERE hidden = 0", t.name)
	if err != nil {
		return nil, 0, err
	}
	defer rows.Close()
	at = -1
	for rows.Next() {
		var name, kind string
		if err := rows.Scan(&name, &kind); err != nil {
			return nil, 0, err
		}
		low := strings.ToLower(name)
		switch {
		case strings.EqualFold(name, t.column):
			at = len(names)
		case columnOf([]byte(name)) == noColumn && !slices.Contains(fieldNames, low) && !numberNames[low] && (g.of == nil || !strings.EqualFold(name, g.of.wanted) && !g.of.parts([]byte(name), noColumn)) && oldNames[name] == 0 && (g.states == nil || strings.EqualFold(kind, "BLOB")):
			continue
		}
		names = append(names, name)
	}
	if at < 0 && rows.Err() == nil {
		return nil, 0, fmt.Errorf("it has no column %q", t.column)
	}
	return names, at, rows.Err()
}

func quoted(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }

// cellText is a value of a table as text; "" for none.
func cellText(v any) string {
	switch v := v.(type) {
	case string:
		return strings.ToValidUTF8(v, "\uFFFD")
	case []byte:
		return strings.ToValidUTF8(string(v), "\uFFFD")
	case int64:
		return strconv.FormatInt(v, 10)
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	case bool:
		return strconv.FormatBool(v)
	case time.Time:
		return v.Format(time.RFC3339Nano)
	}
	return ""
}
