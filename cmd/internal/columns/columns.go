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
	"time"

	"balk/cmd/internal/batch"

	"github.com/parquet-go/parquet-go"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
)

// record is a row of the file. What a row has not is null.
type record struct {
	Key         string     `parquet:"key"`
	Part        int32      `parquet:"part"`
	State       string     `parquet:"state,dict"`
	Field       int32      `parquet:"field"`
	FieldName   string     `parquet:"field_name"`
	Farm        string     `parquet:"farm,dict"`
	Set         string     `parquet:"set,dict"`
	Driver      string     `parquet:"driver,dict"`
	Machine     string     `parquet:"machine,dict"`
	Days        string     `parquet:"days,dict"`
	Begun       *time.Time `parquet:"begun,optional,timestamp(microsecond)"`
	Ended       *time.Time `parquet:"ended,optional,timestamp(microsecond)"`
	Logs        []string   `parquet:"logs,list"`
	Area        *float64   `parquet:"area,optional"`
	Worked      *float64   `parquet:"worked,optional"`
	Double      *float64   `parquet:"double,optional"`
	Missed      *float64   `parquet:"missed,optional"`
	Unknown     *float64   `parquet:"unknown,optional"`
	Outside     *float64   `parquet:"outside,optional"`
	Metres      *float64   `parquet:"metres,optional"`
	Seconds     *float64   `parquet:"seconds,optional"`
	Litres      *float64   `parquet:"litres,optional"`
	Strips      *int32     `parquet:"strips,optional"`
	Answer      string     `parquet:"answer"`
	FaultFile   string     `parquet:"fault_file"`
	FaultRecord int32      `parquet:"fault_record"`
	Fault       string     `parquet:"fault"`
	Program     string     `parquet:"program,dict"`
	Form        int32      `parquet:"form"`
	Geometry    []byte     `parquet:"geometry,optional"`
	Box         *box       `parquet:"bbox,optional"`
}

// box is that of a geometry, by which readers pass over what lies elsewhere (GeoParquet 1.1, bounding box columns).
type box struct {
	West  float64 `parquet:"xmin"`
	South float64 `parquet:"ymin"`
	East  float64 `parquet:"xmax"`
	North float64 `parquet:"ymax"`
}

// atOnce is how many rows are handed over at a time, and inGroup how many a group of the file has.
const (
	atOnce  = 500
	inGroup = 20_000
)

// Write writes rows.
func Write(out io.Writer, rows iter.Seq2[batch.Row, error]) error {
	w := parquet.NewGenericWriter[record](out, parquet.Compression(&parquet.Zstd), parquet.MaxRowsPerRowGroup(inGroup), parquet.CreatedBy("balk", "", ""))
	var all orb.Bound
	some := false
	var waiting []record
	flush := func() error {
		_, err := w.Write(waiting)
		waiting = waiting[:0]
		return err
	}
	for r, err := range rows {
		if err != nil {
			return err
		}
		one, err := recordOf(r)
		if err != nil {
			return err
		}
		if one.Box != nil {
			b := r.Boundary.Bound()
			if some {
				b = all.Union(b)
			}
			all, some = b, true
		}
		if waiting = append(waiting, one); len(waiting) == atOnce {
			if err := flush(); err != nil {
				return err
			}
		}
	}
	if err := flush(); err != nil {
		return err
	}
	geo, err := metadata(all, some)
	if err != nil {
		return err
	}
	w.SetKeyValueMetadata("geo", geo)
	return w.Close()
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

// recordOf is a row as the file has it. Rows without figures have none, not zeros.
func recordOf(r batch.Row) (record, error) {
	out := record{Key: r.Key, Part: int32(r.Part), State: string(r.State), Field: int32(r.Field), FieldName: r.FieldName, Farm: r.Farm, Set: r.Set, Driver: r.Driver, Machine: r.Machine, Days: r.Days,
		Logs: r.Logs, Answer: r.Answer, Program: r.Program, Form: int32(r.Form)}
	if !r.Begin.IsZero() {
		out.Begun = &r.Begin
	}
	if !r.End.IsZero() {
		out.Ended = &r.End
	}
	if r.State == batch.Judged {
		strips := int32(r.Strips)
		out.Strips = &strips
		out.Area, out.Worked, out.Double, out.Missed, out.Unknown, out.Outside = &r.Area, &r.Worked, &r.Double, &r.Missed, &r.Unknown, &r.Outside
		out.Metres, out.Seconds, out.Litres = &r.Metres, &r.Seconds, &r.Litres
	}
	if r.Fault != nil {
		out.FaultFile, out.FaultRecord, out.Fault = r.Fault.File, int32(r.Fault.Record), r.Fault.What
	}
	if len(r.Boundary) == 0 {
		return out, nil
	}
	b := r.Boundary.Bound()
	out.Box = &box{b.Min[0], b.Min[1], b.Max[0], b.Max[1]}
	var err error
	out.Geometry, err = wkb.Marshal(r.Boundary)
	return out, err
}
