package vector

import (
	"bytes"
	"fmt"
	"strings"
)

// sqlNow is the clock as the standard has it stand in for a last change.
const sqlNow = "strftime('%Y-%m-%dT%H:%M:%fZ','now')"

// GeoPackageTables are the tables of every GeoPackage of version 1.2
// (OGC 12-128r14, annex C), with the systems that must be there.
const GeoPackageTables = `
CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL PRIMARY KEY, organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE, description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (` + sqlNow + `),
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL,
  z TINYINT NOT NULL, m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name), CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));
CREATE TABLE gpkg_extensions (
  table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT NOT NULL, scope TEXT NOT NULL,
  CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));
INSERT INTO gpkg_spatial_ref_sys VALUES
  ('Undefined cartesian', -1, 'NONE', -1, 'undefined', 'undefined cartesian coordinate reference system'),
  ('Undefined geographic', 0, 'NONE', 0, 'undefined', 'undefined geographic coordinate reference system'),
  ('WGS 84', 4326, 'EPSG', 4326, '` + wgs84WithCodes + `', 'longitude and latitude in degrees on WGS84');
CREATE TABLE ` + stylesTable + ` (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT(256), f_table_schema TEXT(256), f_table_name TEXT(256), f_geometry_column TEXT(256),
  styleName TEXT(30), styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30), update_time DATETIME DEFAULT (` + sqlNow + `));`

// wgs84WithCodes is EPSG:4326 as WKT1 (OGC 01-009).
const wgs84WithCodes = `GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],` +
	`PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4326"]]`

// stylesTable holds the styles, as GDAL and programs that read it have them: a row per layer, its default, as a Styled Layer
// Descriptor. The columns are from memory; the test reads them with GDAL.
const stylesTable = "layer_styles"

// Column names that a table of features has beside the properties.
const (
	fidColumn  = "fid"
	geomColumn = "geom"
)

// featureTable is the text that makes the table of a layer.
func featureTable(l Layer) string {
	var b strings.Builder
	fmt.Fprintf(&b, `CREATE TABLE "%s" (%s INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, %s %s`, l.Name, fidColumn, geomColumn, geometryType(l))
	for _, c := range l.Columns {
		kind := map[Holds]string{Words: "TEXT", Whole: "INTEGER", Number: "REAL", Truth: "BOOLEAN", Instant: "DATETIME", Wholes: "TEXT"}[c.Holds]
		fmt.Fprintf(&b, `, "%s" %s`, c.Name, kind)
	}
	b.WriteString(")")
	return b.String()
}

// rtreeTriggers keep the spatial index right when the table is changed by a
// program that has the functions ST_MinX and so on (extension
// gpkg_rtree_index, OGC 12-128r14, annex F.3: names and texts are fixed there).
// They are made after the rows are in, because this writer has no such functions.
func rtreeTriggers(table string) string {
	put := `INSERT OR REPLACE INTO "rtree_T_geom" VALUES (NEW.fid, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom));`
	text := `
CREATE TRIGGER "rtree_T_geom_insert" AFTER INSERT ON "T" WHEN (NEW.geom NOT NULL AND NOT ST_IsEmpty(NEW.geom)) BEGIN ` + put + ` END;
CREATE TRIGGER "rtree_T_geom_update1" AFTER UPDATE OF geom ON "T" WHEN OLD.fid = NEW.fid AND (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom)) BEGIN ` + put + ` END;
CREATE TRIGGER "rtree_T_geom_update2" AFTER UPDATE OF geom ON "T" WHEN OLD.fid = NEW.fid AND (NEW.geom ISNULL OR ST_IsEmpty(NEW.geom)) BEGIN DELETE FROM "rtree_T_geom" WHERE id = OLD.fid; END;
CREATE TRIGGER "rtree_T_geom_update3" AFTER UPDATE ON "T" WHEN OLD.fid != NEW.fid AND (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom)) BEGIN DELETE FROM "rtree_T_geom" WHERE id = OLD.fid; ` + put + ` END;
CREATE TRIGGER "rtree_T_geom_update4" AFTER UPDATE ON "T" WHEN OLD.fid != NEW.fid AND (NEW.geom ISNULL OR ST_IsEmpty(NEW.geom)) BEGIN DELETE FROM "rtree_T_geom" WHERE id IN (OLD.fid, NEW.fid); END;
CREATE TRIGGER "rtree_T_geom_delete" AFTER DELETE ON "T" WHEN OLD.geom NOT NULL BEGIN DELETE FROM "rtree_T_geom" WHERE id = OLD.fid; END;`
	return strings.NewReplacer(`"T"`, `"`+table+`"`, "rtree_T_", "rtree_"+table+"_").Replace(text)
}

// sld is the style of a layer as a Styled Layer Descriptor 1.0.0 (OGC 02-070).
func sld(l Layer) (string, error) {
	var b bytes.Buffer
	m := newMarkup(&b)
	m.raw(`<StyledLayerDescriptor version="1.0.0" xmlns="http://www.opengis.net/sld" xmlns:ogc="http://www.opengis.net/ogc"><NamedLayer>`)
	m.element("Name", l.Name)
	m.raw("<UserStyle>")
	m.element("Title", l.title())
	m.raw("<FeatureTypeStyle><Rule>")
	stroke := func() {
		m.raw(`<Stroke><CssParameter name="stroke">`)
		m.text(lineColour(l.Style))
		m.raw(fmt.Sprintf(`</CssParameter><CssParameter name="stroke-width">%g</CssParameter>`, max(1, l.Style.Width)))
		if l.Style.Dashed {
			m.raw(`<CssParameter name="stroke-dasharray">7 4</CssParameter>`)
		}
		m.raw("</Stroke>")
	}
	fill := func(colour string, cover float64) {
		m.raw(`<Fill><CssParameter name="fill">`)
		m.text(colour)
		m.raw(fmt.Sprintf(`</CssParameter><CssParameter name="fill-opacity">%g</CssParameter></Fill>`, cover))
	}
	switch l.Kind {
	case Areas:
		m.raw("<PolygonSymbolizer>")
		if l.Style.Fill != "" {
			fill(l.Style.Fill, l.Style.Cover)
		}
		stroke()
		m.raw("</PolygonSymbolizer>")
	case Lines:
		m.raw("<LineSymbolizer>")
		stroke()
		m.raw("</LineSymbolizer>")
	case Points:
		m.raw("<PointSymbolizer><Graphic><Mark><WellKnownName>circle</WellKnownName>")
		fill(lineColour(l.Style), 1)
		m.raw("</Mark><Size>10</Size></Graphic></PointSymbolizer>")
	}
	m.raw("</Rule></FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>\n")
	if err := m.close(); err != nil {
		return "", err
	}
	return b.String(), nil
}

func lineColour(s Style) string {
	if s.Line == "" {
		return "#000000"
	}
	return s.Line
}
