package vector

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
	_ "modernc.org/sqlite" // the driver "sqlite"
)

// WriteGeoPackage writes layers into a new GeoPackage 1.2 (OGC 12-128r14) at
// path: a table of features per layer, named like it, with its columns (lists as
// text), bounds, a spatial index (extension gpkg_rtree_index), and its style as a Styled Layer
// Descriptor in the table layer_styles, as its default (registered as
// attributes). Degrees are those of the layer, on WGS84 (EPSG:4326), longitude
// first as the standard asks. at is written as the last change, which the standard demands: where at is
// zero, it is when the file is written, and the description of each table says so.
//
// SQLite needs a file of its own: path must not be there yet, the caller renames
// it when all is well, and after an error, that of ctx too, it is gone. The same layers and the same at, if not
// zero, give the same bytes.
func WriteGeoPackage(ctx context.Context, path string, layers []Layer, at time.Time) (err error) {
	if err := checkAll(layers); err != nil {
		return err
	}
	for _, l := range layers {
		if err := checkTable(l); err != nil {
			return err
		}
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("%s: %w", filepath.Base(path), err), os.Remove(path))
		}
	}()
	abs, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	slashed := filepath.ToSlash(abs)
	if !strings.HasPrefix(slashed, "/") {
		slashed = "/" + slashed
	}
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", Path: slashed}).String())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	conn, err := db.Conn(context.Background())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	return (&geopackage{conn: conn, at: at}).write(ctx, layers)
}

type geopackage struct {
	conn *sql.Conn
	at   time.Time
	buf  []byte
}

// checkTable holds the names of a layer to those a GeoPackage leaves free.
func checkTable(l Layer) error {
	if l.Name == stylesTable || strings.HasPrefix(l.Name, "gpkg_") || strings.HasPrefix(l.Name, "rtree_") || strings.HasPrefix(l.Name, "sqlite_") {
		return &LayerError{Layer: l.Name, What: "a GeoPackage keeps this name to itself (gpkg_, rtree_, sqlite_, " + stylesTable + ")"}
	}
	for _, c := range l.Columns {
		if c.Name == fidColumn || c.Name == geomColumn || c.Name == "rowid" {
			return &LayerError{Layer: l.Name, What: fmt.Sprintf("a property is called %q like a column of every table", c.Name)}
		}
	}
	return nil
}

func (g *geopackage) do(text string, args ...any) error {
	_, err := g.conn.ExecContext(context.Background(), text, args...)
	return err
}

func (g *geopackage) write(ctx context.Context, layers []Layer) error {
	// The file is new and thrown away after an error: no journal is needed.
	for _, text := range []string{"PRAGMA journal_mode = OFF", "PRAGMA synchronous = OFF",
		"PRAGMA application_id = 0x47504B47", "PRAGMA user_version = 10200", "BEGIN", GeoPackageTables} {
		if err := g.do(text); err != nil {
			return err
		}
	}
	if err := g.contents(stylesTable, "attributes", "Styles of the layers", "Styled Layer Descriptor 1.0.0 (OGC 02-070) by layer", Layer{}, nil); err != nil {
		return err
	}
	titles := map[string]bool{}
	for _, l := range layers {
		title := l.title()
		if titles[title] {
			title += " (" + l.Name + ")"
		}
		titles[title] = true
		if err := g.layer(ctx, l, title); err != nil {
			return fmt.Errorf("table %s: %w", l.Name, err)
		}
	}
	return g.do("COMMIT")
}

// undated is said of a table whose last change is no date of the operation.
const undated = "last_change is when this file was written: no date of its own is known"

// contents registers a table.
func (g *geopackage) contents(table, kind, title, about string, l Layer, srs any) error {
	box := [4]any{}
	if b, ok := l.bound(); ok {
		box = [4]any{b.Min[0], b.Min[1], b.Max[0], b.Max[1]}
	}
	var at any
	if g.at.IsZero() {
		about = strings.TrimPrefix(about+"; "+undated, "; ")
	} else {
		at = InstantText(g.at)
	}
	return g.do("INSERT INTO gpkg_contents VALUES (?, ?, ?, ?, coalesce(?, "+sqlNow+"), ?, ?, ?, ?, ?)",
		table, kind, wellFormed(title), wellFormed(about), at, box[0], box[1], box[2], box[3], srs)
}

// InstantText is a time as GeoPackage has it: UTC with three decimals.
func InstantText(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") }

func (g *geopackage) layer(ctx context.Context, l Layer, title string) error {
	if err := g.do(featureTable(l)); err != nil {
		return err
	}
	if err := g.contents(l.Name, "features", title, l.aboutIt(), l, 4326); err != nil {
		return err
	}
	var last any
	if !g.at.IsZero() {
		last = InstantText(g.at)
	}
	style, err := sld(l)
	if err != nil {
		return err
	}
	for _, step := range []struct {
		text string
		args []any
	}{
		{"INSERT INTO gpkg_geometry_columns VALUES (?, ?, ?, 4326, 0, 0)", []any{l.Name, geomColumn, geometryType(l)}},
		{"INSERT INTO gpkg_extensions VALUES (?, ?, 'gpkg_rtree_index', 'http://www.geopackage.org/spec120/#extension_rtree', 'write-only')", []any{l.Name, geomColumn}},
		{"INSERT INTO " + stylesTable + " (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, styleQML, styleSLD, useAsDefault, description, owner, ui, update_time)" +
			" VALUES ('', '', ?, ?, 'default', '', ?, 1, ?, '', '', coalesce(?, " + sqlNow + "))", []any{l.Name, geomColumn, style, wellFormed(title), last}},
		{`CREATE VIRTUAL TABLE "rtree_` + l.Name + "_" + geomColumn + `" USING rtree(id, minx, maxx, miny, maxy)`, nil},
	} {
		if err := g.do(step.text, step.args...); err != nil {
			return err
		}
	}
	if err := g.rows(ctx, l); err != nil {
		return err
	}
	return g.do(rtreeTriggers(l.Name))
}

func (g *geopackage) rows(ctx context.Context, l Layer) (err error) {
	all := context.Background() // with another each row would have a goroutine of its own, which waits for its end
	insert, err := g.conn.PrepareContext(all, `INSERT INTO "`+l.Name+`" VALUES (?, ?`+strings.Repeat(", ?", len(l.Columns))+")")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, insert.Close()) }()
	index, err := g.conn.PrepareContext(all, `INSERT INTO "rtree_`+l.Name+"_"+geomColumn+`" VALUES (?, ?, ?, ?, ?)`)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, index.Close()) }()
	many := isMany(l)
	row := make([]any, 0, 2+len(l.Columns))
	for i, f := range l.Features {
		if err := ctx.Err(); err != nil {
			return err
		}
		shape := f.Geometry
		if many {
			shape = manyOf(shape)
		}
		box := shape.Bound()
		if g.buf, err = AppendBlob(g.buf[:0], shape); err != nil {
			return fmt.Errorf("feature %d: %w", i+1, err)
		}
		row = append(row[:0], i+1, g.buf)
		for k, v := range f.Row {
			row = append(row, cellOf(l.Columns[k], v))
		}
		if _, err := insert.ExecContext(all, row...); err != nil {
			return fmt.Errorf("feature %d: %w", i+1, err)
		}
		if _, err := index.ExecContext(all, i+1, box.Min[0], box.Max[0], box.Min[1], box.Max[1]); err != nil {
			return fmt.Errorf("feature %d: %w", i+1, err)
		}
	}
	return nil
}

// cellOf is a value as SQLite stores it.
func cellOf(c Property, v any) any {
	switch v := v.(type) {
	case time.Time:
		return InstantText(v)
	case string, []int:
		return c.text(v)
	}
	return v
}

// AppendBlob appends a geometry as the standard's binary form: "GP", version 0, flags, the
// system, the box of all but points, ISO well-known binary, all little-endian.
func AppendBlob(b []byte, shape orb.Geometry) ([]byte, error) {
	const littleEndian, boxXY = 1, 1 << 1
	from := len(b)
	b = append(b, 'G', 'P', 0, littleEndian)
	b = little.AppendUint32(b, 4326)
	if _, point := shape.(orb.Point); !point {
		b[from+3] |= boxXY
		box := shape.Bound()
		for _, v := range [4]float64{box.Min[0], box.Max[0], box.Min[1], box.Max[1]} {
			b = little.AppendUint64(b, math.Float64bits(v))
		}
	}
	w, err := wkb.Marshal(shape, little)
	if err != nil {
		return nil, err
	}
	return append(b, w...), nil
}

// isMany says whether a layer has a shape of several parts: then its table is
// of such shapes, and all are written so.
func isMany(l Layer) bool {
	for _, f := range l.Features {
		switch f.Geometry.(type) {
		case orb.MultiPolygon, orb.MultiLineString:
			return true
		}
	}
	return false
}

func manyOf(g orb.Geometry) orb.Geometry {
	switch g := g.(type) {
	case orb.Polygon:
		return orb.MultiPolygon{g}
	case orb.LineString:
		return orb.MultiLineString{g}
	}
	return g
}

func geometryType(l Layer) string {
	name := map[Kind]string{Areas: "POLYGON", Lines: "LINESTRING", Points: "POINT"}[l.Kind]
	if isMany(l) {
		name = "MULTI" + name
	}
	return name
}
