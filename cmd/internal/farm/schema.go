package farm

import (
	"context"
	"fmt"

	"balk/export/vector"
)

// steps bring the form of a farm forward, each from the version of its place to the next; the first makes it.
var steps = []string{vector.GeoPackageTables + `
CREATE TABLE farm (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, form INTEGER NOT NULL);
CREATE TABLE field (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom MULTIPOLYGON NOT NULL, name TEXT NOT NULL UNIQUE,
  official TEXT UNIQUE, frame TEXT NOT NULL DEFAULT '');
CREATE TABLE implement_set (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, name TEXT NOT NULL, description TEXT NOT NULL, UNIQUE (name, description));
CREATE TABLE operation (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, field INTEGER NOT NULL REFERENCES field, implement_set INTEGER NOT NULL REFERENCES implement_set,
  begun DATETIME, ended DATETIME, does TEXT NOT NULL, depth_set REAL, depth_target REAL, crop_before TEXT, crop_after TEXT, soil TEXT, driver TEXT, client TEXT,
  options TEXT NOT NULL, program TEXT NOT NULL, form INTEGER NOT NULL,
  area REAL NOT NULL, worked REAL NOT NULL, twice REAL NOT NULL, missed REAL NOT NULL, unknown REAL NOT NULL, metres REAL NOT NULL, seconds REAL NOT NULL, litres REAL NOT NULL);
CREATE INDEX operation_of_field ON operation (field, begun);
CREATE TABLE result (fid INTEGER PRIMARY KEY NOT NULL REFERENCES operation ON DELETE CASCADE, report TEXT NOT NULL);
CREATE TABLE log (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, sha256 TEXT NOT NULL UNIQUE, name TEXT NOT NULL, extension TEXT NOT NULL, bytes INTEGER NOT NULL);
CREATE TABLE operation_log (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, operation INTEGER NOT NULL REFERENCES operation ON DELETE CASCADE,
  log INTEGER NOT NULL REFERENCES log, place INTEGER NOT NULL, UNIQUE (operation, place));
CREATE INDEX operation_of_log ON operation_log (log);
CREATE TABLE correction (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom GEOMETRY, field INTEGER NOT NULL REFERENCES field, operation INTEGER REFERENCES operation ON DELETE CASCADE,
  kind TEXT NOT NULL CHECK (kind IN ('worked', 'lifted', 'aside', 'gate', 'obstacle', 'boundary')), begun DATETIME, ended DATETIME, who TEXT NOT NULL, made DATETIME NOT NULL, why TEXT NOT NULL);
CREATE INDEX correction_of_field ON correction (field);
CREATE TABLE spot (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom POINT, field INTEGER NOT NULL REFERENCES field, operation INTEGER REFERENCES operation ON DELETE SET NULL,
  at DATETIME, record TEXT NOT NULL);
CREATE INDEX spot_of_field ON spot (field);
CREATE TABLE removed (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, kind TEXT NOT NULL, number INTEGER NOT NULL, at DATETIME NOT NULL, rows TEXT NOT NULL);
CREATE TABLE season (fid INTEGER PRIMARY KEY NOT NULL REFERENCES field ON DELETE CASCADE, source TEXT NOT NULL, result TEXT NOT NULL);
INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES
  ('field', 'features', 'Fields', 4326), ('correction', 'features', 'Corrections', 4326), ('spot', 'features', 'Spot checks', 4326);
INSERT INTO gpkg_contents (table_name, data_type, identifier) VALUES
  ('farm', 'attributes', 'Form of this farm'), ('implement_set', 'attributes', 'Sets'), ('operation', 'attributes', 'Operations'), ('result', 'attributes', 'Results'), ('log', 'attributes', 'Logs'),
  ('operation_log', 'attributes', 'Logs of operations'), ('removed', 'attributes', 'Removed'), ('season', 'attributes', 'Across operations'), ('layer_styles', 'attributes', 'Styles');
INSERT INTO gpkg_geometry_columns VALUES ('field', 'geom', 'MULTIPOLYGON', 4326, 0, 0), ('correction', 'geom', 'GEOMETRY', 4326, 0, 0), ('spot', 'geom', 'POINT', 4326, 0, 0);
INSERT INTO farm (form) VALUES (0);
PRAGMA application_id = 0x47504B47;
PRAGMA user_version = 10200;`}

// version is that of the form in the file; 0: the file is empty.
func (f *Farm) version(ctx context.Context, in querier) (int, error) {
	var tables int
	if err := in.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_master").Scan(&tables); err != nil {
		return 0, err
	}
	if tables == 0 {
		return 0, nil
	}
	var n int
	err := in.QueryRowContext(ctx, "SELECT form FROM farm").Scan(&n)
	switch {
	case err != nil || n < 1:
		return 0, fmt.Errorf("%s: no farm that balk season keeps", f.path)
	case n > len(steps):
		return 0, fmt.Errorf("%s: its form has version %d, and this balk knows none above %d: use a newer one", f.path, n, len(steps))
	}
	return n, nil
}

// forward brings the form up to date, after a copy of an older one was made.
func (f *Farm) forward(ctx context.Context) error {
	have, err := f.version(ctx, f.conn)
	if err != nil || have == len(steps) {
		return err
	}
	if have > 0 {
		copied := fmt.Sprintf("%s.form-%d", f.path, have)
		if err := f.copyTo(ctx, copied); err != nil {
			return fmt.Errorf("a copy of the farm before its form is brought forward: %w", err)
		}
	}
	return f.change(ctx, func(t *tx) error {
		have, err := f.version(ctx, f.conn) // another may have done it
		if err != nil {
			return err
		}
		for ; have < len(steps); have++ {
			if err := t.do(steps[have]); err != nil {
				return fmt.Errorf("form %d of %s: %w", have+1, f.path, err)
			}
			if err := t.do("UPDATE farm SET form = ?", have+1); err != nil {
				return err
			}
		}
		return nil
	})
}
