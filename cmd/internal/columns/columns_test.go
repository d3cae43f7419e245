package columns

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"runtime"
	"testing"
	"time"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/farm"

	"github.com/parquet-go/parquet-go"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
)

// invented rows, of which every third has no figures and every fifth no boundary.
func invented(n int) []batch.Row {
	var all []batch.Row
	for i := range n {
		x := 11 + float64(i)/1000
		r := batch.Row{Key: fmt.Sprintf("%064x", i), Part: 1, State: batch.Judged, Field: i + 1, FieldName: fmt.Sprintf("Feld %d ä", i), Set: "harrow", Logs: []string{"a.csv", fmt.Sprint(i)}, Program: "balk test", Form: 1,
			Begin: time.Date(2026, 4, 14, 6, 0, i, 123456000, time.UTC), End: time.Date(2026, 4, 14, 7, 0, i, 0, time.UTC),
			Sum: farm.Sum{Area: 1000 + float64(i), Worked: 0.1 * float64(i), Missed: 3}, Outside: 0, Strips: i,
			Boundary: orb.MultiPolygon{{{{x, 48}, {x + 0.001, 48}, {x + 0.001, 48.001}, {x, 48}}}}}
		if i%3 == 2 {
			r.State, r.Sum, r.Fault, r.Begin, r.End = batch.Failed, farm.Sum{}, &batch.Fault{File: "a.csv", Record: i, What: "no number"}, time.Time{}, time.Time{}
		}
		if i%5 == 4 {
			r.Boundary = nil
		}
		all = append(all, r)
	}
	return all
}

func each(rows []batch.Row, last error) iter.Seq2[batch.Row, error] {
	return func(yield func(batch.Row, error) bool) {
		for _, r := range rows {
			if !yield(r, nil) {
				return
			}
		}
		if last != nil {
			yield(batch.Row{}, last)
		}
	}
}

// A file is read back by the names of its columns, as any reader of the format finds them, and its metadata by the standard's own.
func TestReadBack(t *testing.T) {
	want := invented(1203)
	var file bytes.Buffer
	if err := Write(&file, each(want, nil)); err != nil {
		t.Fatal(err)
	}
	f, err := parquet.OpenFile(bytes.NewReader(file.Bytes()), int64(file.Len()))
	if err != nil {
		t.Fatal(err)
	}
	text, is := f.Lookup("geo")
	var geo struct {
		Version string `json:"version"`
		Primary string `json:"primary_column"`
		Columns map[string]struct {
			Encoding string    `json:"encoding"`
			Types    []string  `json:"geometry_types"`
			Box      []float64 `json:"bbox"`
			CRS      any       `json:"crs"`
			Covering struct {
				Box map[string][]string `json:"bbox"`
			} `json:"covering"`
		} `json:"columns"`
	}
	if err := json.Unmarshal([]byte(text), &geo); err != nil || !is {
		t.Fatal(is, err)
	}
	c := geo.Columns["geometry"]
	// https://geoparquet.org/releases/v1.1.0/: file and column metadata
	if geo.Version != "1.1.0" || geo.Primary != "geometry" || c.Encoding != "WKB" || len(c.Types) != 1 || c.Types[0] != "MultiPolygon" || c.CRS != nil || len(c.Box) != 4 {
		t.Errorf("%s", text)
	}
	if c.Box[0] != 11 || c.Box[1] != 48 || c.Box[3] != 48.001 {
		t.Errorf("box %v", c.Box)
	}
	for name, path := range c.Covering.Box {
		if _, is := f.Schema().Lookup(path...); !is || path[1] != name {
			t.Errorf("covering %s: no column %q", name, path)
		}
	}
	// Read back with a type of the test's own, so that names and kinds are seen from outside.
	type seen struct {
		Key      string     `parquet:"key"`
		Field    int32      `parquet:"field"`
		Name     string     `parquet:"field_name"`
		State    string     `parquet:"state"`
		Begun    *time.Time `parquet:"begun,optional,timestamp(microsecond)"`
		Logs     []string   `parquet:"logs,list"`
		Area     *float64   `parquet:"area,optional"`
		Outside  *float64   `parquet:"outside,optional"`
		Record   int32      `parquet:"fault_record"`
		Geometry []byte     `parquet:"geometry,optional"`
	}
	got := make([]seen, len(want)+1)
	n, _ := parquet.NewGenericReader[seen](f).Read(got)
	if n != len(want) {
		t.Fatalf("%d rows, and %d were written", n, len(want))
	}
	sum, wanted := 0.0, 0.0
	for i, g := range got[:n] {
		w := want[i]
		wanted += w.Area
		if g.Area != nil {
			sum += *g.Area
		}
		if g.Key != w.Key || int(g.Field) != w.Field || g.Name != w.FieldName || g.State != string(w.State) || len(g.Logs) != 2 || g.Logs[1] != w.Logs[1] {
			t.Fatalf("row %d: %+v, wanted %+v", i, g, w)
		}
		if judged := w.State == batch.Judged; (g.Area != nil) != judged || (g.Outside != nil) != judged || (g.Begun != nil) != judged || judged && !g.Begun.Equal(w.Begin) || !judged && int(g.Record) != w.Fault.Record {
			t.Fatalf("row %d: %+v, wanted %+v", i, g, w)
		}
		if (g.Geometry != nil) != (w.Boundary != nil) {
			t.Fatalf("row %d: %x", i, g.Geometry)
		}
		if w.Boundary != nil {
			back, err := wkb.Unmarshal(g.Geometry)
			if err != nil || !orb.Equal(back, w.Boundary) {
				t.Fatalf("row %d: %v, %v", i, back, err)
			}
		}
	}
	if sum != wanted {
		t.Errorf("areas add up to %v, wanted %v", sum, wanted)
	}
}

func TestNoRowsAndAFault(t *testing.T) {
	var file bytes.Buffer
	if err := Write(&file, each(nil, nil)); err != nil {
		t.Fatal(err)
	}
	if f, err := parquet.OpenFile(bytes.NewReader(file.Bytes()), int64(file.Len())); err != nil || f.NumRows() != 0 {
		t.Errorf("an empty file: %v", err)
	}
	gone := errors.New("the connection is gone")
	if err := Write(&file, each(invented(3), gone)); !errors.Is(err, gone) {
		t.Errorf("rows that end with a fault: %v", err)
	}
}

// Memory is that of a group, not of all rows.
func TestMemoryDoesNotGrow(t *testing.T) {
	one := invented(500)
	most := func(n int) (peak uint64) {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		before := m.HeapAlloc
		var out counted
		if err := Write(&out, func(yield func(batch.Row, error) bool) {
			for i := range n {
				if i%10_000 == 0 {
					runtime.GC()
					runtime.ReadMemStats(&m)
					peak = max(peak, m.HeapAlloc-min(before, m.HeapAlloc))
				}
				if !yield(one[i%len(one)], nil) {
					return
				}
			}
		}); err != nil {
			t.Fatal(err)
		}
		return peak
	}
	little, much := most(2*inGroup), most(5*inGroup)
	if much > 2*little {
		t.Errorf("%d bytes for two groups, %d for five", little, much)
	}
}

type counted int

func (c *counted) Write(p []byte) (int, error) { *c += counted(len(p)); return len(p), nil }
