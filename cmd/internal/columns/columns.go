// Package columns writes results of many fields as GeoParquet 1.1 (https://geoparquet.org/releases/v1.1.0/).
//
// In: rows, one after the other. Out: a file with a row per operation, the boundary of its field as well-known binary in degrees on WGS84
// (longitude first), its box beside it, areas in m², times UTC. Rows go out in groups: memory does not grow with their number.
//
// Not done here: nothing is judged or rounded.
package columns

import (
	"encoding/json"
	"io"
	"iter"

	"balk/cmd/internal/batch"

	"github.com/parquet-go/parquet-go/deprecated"
	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
)

// names are the columns whose values are texts, wholes and numbers, in the order in which cells gives these.
var (
	textNames   = []string{"key", "state", "field_name", "farm", "set", "driver", "machine", "days", "answer", "fault_file", "fault", "program"}
	wholeNames  = []string{"part", "field", "fault_record", "form"}
	numberNames = []string{"area", "worked", "double", "missed", "unknown", "outside", "metres", "seconds", "litres"} // null where there are no figures
	boxNames    = []string{"xmin", "ymin", "xmax", "ymax"}
)

// table is the columns of a file. What a row has not is null.
type table struct {
	texts, wholes, numbers, box []*column

	strips, begun, ended, logs, geometry *column
	all                                  []*column // in the order of the schema
	schema                               []format.SchemaElement
}

// newTable is one without rows.
func newTable() *table {
	t := new(table)
	t.group("balk", format.Required, 4+len(textNames)+len(wholeNames)+len(numberNames)+2)
	text := func(c *column) *column {
		c.kind, c.of.Value, c.as = format.ByteArray, new(format.StringType), thrift.New(deprecated.UTF8)
		return c
	}
	for _, name := range textNames {
		t.texts = append(t.texts, t.add(format.Required, text(&column{path: []string{name}})))
	}
	for _, name := range wholeNames {
		t.wholes = append(t.wholes, t.add(format.Required, &column{path: []string{name}, kind: format.Int32}))
	}
	for _, name := range numberNames {
		t.numbers = append(t.numbers, t.add(format.Optional, &column{path: []string{name}, kind: format.Double, empty: true}))
	}
	t.strips = t.add(format.Optional, &column{path: []string{"strips"}, kind: format.Int32, empty: true})
	instant := func(name string) *column {
		of := format.LogicalType{Value: &format.TimestampType{IsAdjustedToUTC: true, Unit: format.TimeUnit{Value: new(format.MicroSeconds)}}}
		return t.add(format.Optional, &column{path: []string{name}, kind: format.Int64, of: of, as: thrift.New(deprecated.TimestampMicros), empty: true})
	}
	t.begun, t.ended = instant("begun"), instant("ended")
	list := t.group("logs", format.Required, 1)
	list.LogicalType.Value, list.ConvertedType = new(format.ListType), thrift.New(deprecated.List)
	t.group("list", format.Repeated, 1)
	t.logs = t.add(format.Required, text(&column{path: []string{"logs", "list", "element"}, empty: true, list: true}))
	t.geometry = t.add(format.Optional, &column{path: []string{"geometry"}, kind: format.ByteArray, empty: true})
	t.group("bbox", format.Optional, len(boxNames))
	for _, name := range boxNames {
		t.box = append(t.box, t.add(format.Required, &column{path: []string{"bbox", name}, kind: format.Double, empty: true}))
	}
	return t
}

// group begins a group of so many elements in the schema.
func (t *table) group(name string, how format.FieldRepetitionType, elements int) *format.SchemaElement {
	e := format.SchemaElement{Name: name, NumChildren: thrift.New(int32(elements))}
	if len(t.schema) > 0 { // the first is the root
		e.RepetitionType = thrift.New(how)
	}
	t.schema = append(t.schema, e)
	return &t.schema[len(t.schema)-1]
}

// add adds a column to the schema.
func (t *table) add(how format.FieldRepetitionType, c *column) *column {
	t.schema = append(t.schema, format.SchemaElement{Name: c.path[len(c.path)-1], Type: thrift.New(c.kind), RepetitionType: thrift.New(how), LogicalType: c.of, ConvertedType: c.as})
	t.all = append(t.all, c)
	return c
}

// row adds a row. Rows without figures have none, not zeros.
func (t *table) row(r batch.Row) error {
	var fault batch.Fault
	if r.Fault != nil {
		fault = *r.Fault
	}
	for i, s := range []string{r.Key, string(r.State), r.FieldName, r.Farm, r.Set, r.Driver, r.Machine, r.Days, r.Answer, fault.File, fault.What, r.Program} {
		t.texts[i].text([]byte(s), true)
	}
	for i, v := range []int{r.Part, r.Field, fault.Record, r.Form} {
		t.wholes[i].whole(v, true)
	}
	judged := r.State == batch.Judged
	for i, v := range []float64{r.Area, r.Worked, r.Double, r.Missed, r.Unknown, r.Outside, r.Metres, r.Seconds, r.Litres} {
		t.numbers[i].number(v, judged)
	}
	t.strips.whole(r.Strips, judged)
	t.begun.long(r.Begin.UnixMicro(), !r.Begin.IsZero())
	t.ended.long(r.End.UnixMicro(), !r.End.IsZero())
	t.logs.texts(r.Logs)
	has := len(r.Boundary) > 0
	var shape []byte
	var b orb.Bound
	if has {
		var err error
		if shape, err = wkb.Marshal(r.Boundary); err != nil {
			return err
		}
		b = r.Boundary.Bound()
	}
	t.geometry.text(shape, has)
	for i, v := range []float64{b.Min[0], b.Min[1], b.Max[0], b.Max[1]} {
		t.box[i].number(v, has)
	}
	return nil
}

// bytes is how much the rows of the group at hand take.
func (t *table) bytes() (n int) {
	for _, c := range t.all {
		n += len(c.values)
	}
	return n
}

// A group of the file has at most so many rows, and bytes.
const (
	inGroup = 20_000
	heavy   = 64 << 20
)

// Write writes rows.
func Write(out io.Writer, rows iter.Seq2[batch.Row, error]) error {
	f := &file{out: out}
	if err := f.write([]byte(magic)); err != nil {
		return err
	}
	t := newTable()
	var all orb.Bound
	some := false
	waiting := 0
	for r, err := range rows {
		if err == nil {
			err = t.row(r)
		}
		if err != nil {
			return err
		}
		if len(r.Boundary) > 0 {
			b := r.Boundary.Bound()
			if some {
				b = all.Union(b)
			}
			all, some = b, true
		}
		if waiting++; waiting == inGroup || waiting%100 == 0 && t.bytes() > heavy {
			if err := f.group(t.all, waiting); err != nil {
				return err
			}
			waiting = 0
		}
	}
	if waiting > 0 {
		if err := f.group(t.all, waiting); err != nil {
			return err
		}
	}
	geo, err := metadata(all, some)
	if err != nil {
		return err
	}
	return f.end(t.all, t.schema, geo)
}

// metadata is what the standard wants under the key "geo". That no crs is named means longitude and latitude on WGS84 (OGC:CRS84).
func metadata(all orb.Bound, some bool) (string, error) {
	side := func(name string) []string { return []string{"bbox", name} }
	column := map[string]any{"encoding": "WKB", "geometry_types": []string{"MultiPolygon"},
		"covering": map[string]any{"bbox": map[string]any{"xmin": side("xmin"), "ymin": side("ymin"), "xmax": side("xmax"), "ymax": side("ymax")}}}
	if some {
		column["bbox"] = []float64{all.Min[0], all.Min[1], all.Max[0], all.Max[1]}
	}
	text, err := json.Marshal(map[string]any{"version": "1.1.0", "primary_column": "geometry", "columns": map[string]any{"geometry": column}})
	return string(text), err
}
