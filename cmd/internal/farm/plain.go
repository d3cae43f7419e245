package farm

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
)

// plainTable is a table as plain files: as GeoJSON if its rows have places, else as a table with commas. Long texts stand in files of
// their own, by the number of the row.
type plainTable struct {
	name   string
	placed bool
	texts  map[string]string // column: end of the files' names
}

// plainTables are all that is written, in the order in which it can be put in again.
var plainTables = []plainTable{
	{name: "field", placed: true},
	{name: "implement_set", texts: map[string]string{"description": ".toml"}},
	{name: "operation", texts: map[string]string{"options": "-options.json"}},
	{name: "result", texts: map[string]string{"report": ".json"}},
	{name: "log"},
	{name: "operation_log"},
	{name: "correction", placed: true},
	{name: "spot", placed: true},
	{name: "removed", texts: map[string]string{"rows": ".json"}},
}

func (p plainTable) file() string {
	if p.placed {
		return p.name + ".geojson"
	}
	return p.name + ".csv"
}

// textFile is the file of a row's long text.
func (p plainTable) textFile(fid any, end string) string {
	return fmt.Sprintf("%s/%v%s", p.name, fid, end)
}

// Plain is one of the plain files that a farm is written as.
type Plain struct {
	Name  string // with slashes
	Write func(io.Writer) error
}

// column is one of a table.
type column struct {
	name, kind string
	must       bool // never NULL
}

func (f *Farm) columns(ctx context.Context, table string) ([]column, error) {
	rows, err := f.whole(ctx, "SELECT name, type, \"notnull\" AS must FROM pragma_table_info(?) ORDER BY cid", table)
	var all []column
	for _, r := range rows {
		all = append(all, column{fmt.Sprint(r["name"]), fmt.Sprint(r["type"]), fmt.Sprint(r["must"]) != "0"})
	}
	return all, err
}

// Plain is the farm as plain files, which Import builds it from again. They are written from the farm while it is open.
func (f *Farm) Plain(ctx context.Context) (all []Plain, err error) {
	for _, p := range plainTables {
		columns, err := f.columns(ctx, p.name)
		if err != nil {
			return nil, err
		}
		all = append(all, Plain{p.file(), func(w io.Writer) error {
			if p.placed {
				return f.writePlaces(ctx, w, p, columns)
			}
			return f.writeTable(ctx, w, p, columns)
		}})
		numbers, err := f.whole(ctx, "SELECT fid FROM "+p.name+" ORDER BY fid")
		if err != nil {
			return nil, err
		}
		for name, end := range p.texts {
			for _, n := range numbers {
				all = append(all, Plain{p.textFile(n["fid"], end), func(w io.Writer) error {
					var text string
					if err := f.conn.QueryRowContext(ctx, "SELECT "+name+" FROM "+p.name+" WHERE fid = ?", n["fid"]).Scan(&text); err != nil {
						return f.told(err)
					}
					_, err := io.WriteString(w, text)
					return err
				}})
			}
		}
	}
	logs, err := f.whole(ctx, "SELECT sha256, extension FROM log ORDER BY sha256")
	for _, l := range logs {
		kept := Log{SHA256: fmt.Sprint(l["sha256"])}.path(fmt.Sprint(l["extension"]))
		all = append(all, Plain{kept, func(w io.Writer) error {
			file, err := os.Open(filepath.Join(f.dir, filepath.FromSlash(kept)))
			if err != nil {
				return err
			}
			defer file.Close()
			_, err = io.Copy(w, file)
			return err
		}})
	}
	slices.SortFunc(all, func(a, b Plain) int { return strings.Compare(a.Name, b.Name) })
	return all, err
}

// typed is a value by the kind of its column.
func typed(c column, text string) (any, error) {
	switch c.kind {
	case "INTEGER":
		return strconv.ParseInt(text, 10, 64)
	case "REAL":
		return strconv.ParseFloat(text, 64)
	}
	return text, nil
}

func (f *Farm) writeTable(ctx context.Context, w io.Writer, p plainTable, columns []column) error {
	columns = slices.DeleteFunc(slices.Clone(columns), func(c column) bool { return p.texts[c.name] != "" })
	table := csv.NewWriter(w)
	var head []string
	for _, c := range columns {
		head = append(head, c.name)
	}
	if err := table.Write(head); err != nil {
		return err
	}
	rows, err := f.exact(ctx, p.name, columns)
	if err != nil {
		return err
	}
	for _, row := range rows {
		var cells []string
		for _, v := range row {
			switch v := v.(type) {
			case nil:
				cells = append(cells, "")
			case float64:
				cells = append(cells, strconv.FormatFloat(v, 'g', -1, 64))
			default:
				cells = append(cells, fmt.Sprint(v))
			}
		}
		if err := table.Write(cells); err != nil {
			return err
		}
	}
	table.Flush()
	return table.Error()
}

// exact are the rows of a table by number, values as they are stored.
func (f *Farm) exact(ctx context.Context, table string, columns []column) (all [][]any, err error) {
	var names []string
	for _, c := range columns {
		if c.kind == "DATETIME" { // else the driver makes a time of it
			names = append(names, `CAST("`+c.name+`" AS TEXT)`)
		} else {
			names = append(names, `"`+c.name+`"`)
		}
	}
	rows, err := f.conn.QueryContext(ctx, "SELECT "+strings.Join(names, ", ")+" FROM "+table+" ORDER BY fid")
	if err != nil {
		return nil, f.told(err)
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		row, to := make([]any, len(columns)), make([]any, len(columns))
		for i := range row {
			to[i] = &row[i]
		}
		if err := rows.Scan(to...); err != nil {
			return nil, err
		}
		all = append(all, row)
	}
	return all, rows.Err()
}

func (f *Farm) writePlaces(ctx context.Context, w io.Writer, p plainTable, columns []column) error {
	rows, err := f.exact(ctx, p.name, columns)
	if err != nil {
		return err
	}
	if _, err := io.WriteString(w, `{"type":"FeatureCollection","features":[`); err != nil {
		return err
	}
	for i, row := range rows {
		one := map[string]any{}
		feature := struct {
			Type       string         `json:"type"`
			Properties map[string]any `json:"properties"`
			Geometry   *geometry      `json:"geometry"`
		}{"Feature", one, nil}
		for k, c := range columns {
			if c.name != "geom" {
				one[c.name] = row[k]
				continue
			}
			b, _ := row[k].([]byte)
			place, err := placeOf(b)
			if err != nil {
				return fmt.Errorf("%s: %s %v: %w", f.path, p.name, row[0], err)
			}
			if place != nil {
				feature.Geometry = &geometry{place}
			}
		}
		text, err := json.Marshal(feature)
		if err != nil {
			return err
		}
		if _, err := fmt.Fprintf(w, "%s\n%s", map[bool]string{true: ",", false: ""}[i > 0], text); err != nil {
			return err
		}
	}
	_, err = io.WriteString(w, "\n]}\n")
	return err
}

// geometry is a place as GeoJSON has it (RFC 7946, 3.1). The package of orb for that brings a database's form of JSON with it, a megabyte.
type geometry struct{ place orb.Geometry }

func (g geometry) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Type        string       `json:"type"`
		Coordinates orb.Geometry `json:"coordinates"`
	}{g.place.GeoJSONType(), g.place})
}

func (g *geometry) UnmarshalJSON(text []byte) error {
	var of struct {
		Type        string
		Coordinates json.RawMessage
	}
	if err := json.Unmarshal(text, &of); err != nil {
		return err
	}
	var err error
	switch of.Type {
	case "Point":
		g.place, err = placed[orb.Point](of.Coordinates)
	case "LineString":
		g.place, err = placed[orb.LineString](of.Coordinates)
	case "Polygon":
		g.place, err = placed[orb.Polygon](of.Coordinates)
	case "MultiPolygon":
		g.place, err = placed[orb.MultiPolygon](of.Coordinates)
	default:
		err = fmt.Errorf("a place of type %q: must be Point, LineString, Polygon or MultiPolygon", of.Type)
	}
	return err
}

func placed[G orb.Geometry](coordinates []byte) (orb.Geometry, error) {
	var g G
	err := json.Unmarshal(coordinates, &g)
	return g, err
}

// Import makes a farm in dir, where none may be yet, of the plain files in from: all of it or none.
func Import(ctx context.Context, dir, from string) (err error) {
	if info, err := os.Stat(filepath.Join(dir, File)); err == nil && info.Size() > 0 {
		return fmt.Errorf("%s: there is a farm already: import into another folder", dir)
	}
	source := os.DirFS(from)
	if _, err := fs.Stat(source, plainTables[0].file()); err != nil {
		return fmt.Errorf("%s: no farm as plain files: %s is not in it", from, plainTables[0].file())
	}
	f, err := OpenToChange(ctx, dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	return f.change(ctx, func(t *tx) error {
		for _, p := range plainTables {
			var some int
			if err := t.conn.QueryRowContext(ctx, "SELECT count(*) FROM "+p.name).Scan(&some); err != nil {
				return err
			}
			if some > 0 {
				return fmt.Errorf("%s: there is a farm already: import into another folder", dir)
			}
			if err := t.read(source, p); err != nil {
				return fmt.Errorf("%s: %w", filepath.Join(from, p.file()), err)
			}
		}
		return t.keepAll(source, from)
	})
}

// keepAll keeps the logs that the table names.
func (t *tx) keepAll(source fs.FS, from string) error {
	logs, err := t.whole(t.ctx, "SELECT sha256, name, extension FROM log ORDER BY fid")
	if err != nil {
		return err
	}
	for _, l := range logs {
		name := Log{SHA256: fmt.Sprint(l["sha256"])}.path(fmt.Sprint(l["extension"]))
		file, err := source.Open(name)
		if err != nil {
			return err
		}
		kept, err := t.Keep("x"+fmt.Sprint(l["extension"]), file)
		if err = errors.Join(err, file.Close()); err != nil {
			return err
		}
		if kept.SHA256 != l["sha256"] {
			return fmt.Errorf("%s: its content is another than its name says (SHA-256 %s)", filepath.Join(from, filepath.FromSlash(name)), kept.SHA256)
		}
	}
	return nil
}

// read puts in the rows of a table.
func (t *tx) read(source fs.FS, p plainTable) error {
	columns, err := t.columns(t.ctx, p.name)
	if err != nil {
		return err
	}
	text, err := fs.ReadFile(source, p.file())
	if err != nil {
		return err
	}
	rows, err := rowsOf(p, columns, text)
	if err != nil {
		return err
	}
	var names []string
	for _, c := range columns {
		names = append(names, `"`+c.name+`"`)
	}
	insert := "INSERT INTO " + p.name + " (" + strings.Join(names, ", ") + ") VALUES (?" + strings.Repeat(", ?", len(names)-1) + ")"
	for i, row := range rows {
		for k, c := range columns {
			if end := p.texts[c.name]; end != "" {
				long, err := fs.ReadFile(source, p.textFile(row[0], end))
				if err != nil {
					return err
				}
				row[k] = string(long)
			}
		}
		if err := t.do(insert, row...); err != nil {
			return fmt.Errorf("row %d: %w", i+1, t.told(err))
		}
	}
	return nil
}

// rowsOf takes the rows out of a plain file, a value for each column; long texts are left open.
func rowsOf(p plainTable, columns []column, text []byte) ([][]any, error) {
	if p.placed {
		return rowsOfPlaces(columns, text)
	}
	all, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, errors.New("the file is empty")
	}
	of := map[string]int{}
	for k, name := range all[0] {
		of[name] = k
	}
	var rows [][]any
	for i, cells := range all[1:] {
		row := make([]any, len(columns))
		for k, c := range columns {
			if p.texts[c.name] != "" {
				continue
			}
			at, ok := of[c.name]
			if !ok {
				return nil, fmt.Errorf("no column %q", c.name)
			}
			if cells[at] == "" && !c.must {
				continue
			}
			if row[k], err = typed(c, cells[at]); err != nil {
				return nil, fmt.Errorf("row %d, column %s: %q is no number", i+1, c.name, cells[at])
			}
		}
		rows = append(rows, row)
	}
	return rows, nil
}

func rowsOfPlaces(columns []column, text []byte) ([][]any, error) {
	var whole struct {
		Features []struct {
			Properties map[string]json.RawMessage
			Geometry   *geometry
		}
	}
	if err := json.Unmarshal(text, &whole); err != nil {
		return nil, err
	}
	var rows [][]any
	for i, f := range whole.Features {
		row := make([]any, len(columns))
		for k, c := range columns {
			var err error
			if c.name == "geom" {
				var place orb.Geometry
				if f.Geometry != nil {
					place = f.Geometry.place
				}
				row[k], err = blob(place)
			} else if raw := f.Properties[c.name]; len(raw) > 0 && string(raw) != "null" {
				var words string
				if json.Unmarshal(raw, &words) != nil {
					words = string(raw)
				}
				row[k], err = typed(c, words)
			}
			if err != nil {
				return nil, fmt.Errorf("feature %d, %s: %w", i+1, c.name, err)
			}
		}
		rows = append(rows, row)
	}
	return rows, nil
}
