package cli

import (
	"context"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"runtime/metrics"
	"strings"
	"testing"
	"time"

	"balk/export/vector"

	"github.com/paulmach/orb"
)

// fuzzed is a call one file of which is whatever comes. Its other files are good.
type fuzzed struct {
	name  string
	given string            // the file that comes
	files map[string]string // the others
	args  string            // files and OUT, a folder, by their names; apart by spaces
	seeds []string
}

// Field and log are invented.
const fuzzField = `{"type":"Polygon","coordinates":[[[11.57,48.14],[11.572,48.14],[11.572,48.141],[11.57,48.141],[11.57,48.14]]]}`

func fuzzLog() string {
	log := "lon,lat,time,working\n"
	for i := range 40 {
		log += fmt.Sprintf("%.6f,%.6f,2026-04-14T06:%02d:%02dZ,%d\n", 11.5702+1e-5*float64(i%20*8), 48.1402+5e-5*float64(i/20), i/20, 2*(i%20), 1)
	}
	return log
}

// fuzzShapes are a shapefile of the log's places and times, by the extension of its parts.
func fuzzShapes(t testing.TB) map[string]string {
	l := vector.Layer{Name: "log", Kind: vector.Points, Columns: []vector.Property{{Name: "time", Holds: vector.Words}, {Name: "state", Holds: vector.Words}}}
	for i := range 20 {
		l.Features = append(l.Features, vector.Feature{Geometry: orb.Point{11.5702 + 8e-5*float64(i), 48.1402}, Row: []any{fmt.Sprintf("2026-04-14T06:00:%02dZ", 2*i), "working"}})
	}
	parts, err := vector.Shapefile("log", l, time.Date(2026, 4, 14, 0, 0, 0, 0, time.UTC))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, p := range parts {
		var b strings.Builder
		if err := p.Write(&b); err != nil {
			t.Fatal(err)
		}
		out[p.Name] = b.String()
	}
	return out
}

// The logs of a terminal: 4 bytes milliseconds of the day, 2 days since 1980, 4 latitude, 4 longitude, quality, how many values.
const (
	fuzzTasks  = `<ISO11783_TaskData VersionMajor="4" VersionMinor="0"><DVC A="DVC1"><DET A="DET1" B="1" C="1" E="0" F="0"><DOR A="50"/></DET><DPT A="50" B="0046" C="6000"/></DVC><TSK A="TSK1" B="Cut" G="4"><TLG A="TLG00001"/></TSK></ISO11783_TaskData>`
	fuzzHeader = `<TIM A="" D="4"><PTN A="" B="" D=""/><DLV A="008D" B="" C="DET1"/></TIM>`
)

func fuzzRecords() string {
	var b []byte
	for i := range uint32(20) {
		b = binary.LittleEndian.AppendUint32(b, 2000*i)
		b = binary.LittleEndian.AppendUint16(b, 16900)
		b = binary.LittleEndian.AppendUint32(b, 481402000)
		b = binary.LittleEndian.AppendUint32(b, 115702000+800*i)
		if b = append(b, 4, 0); i == 0 {
			b[len(b)-1] = 1
			b = binary.LittleEndian.AppendUint32(append(b, 0), 1)
		}
	}
	return string(b)
}

// fuzzedCalls are the verbs, and the formats that are made of several files.
func fuzzedCalls(t testing.TB) []fuzzed {
	kml := `<kml><Placemark><name>N</name><Polygon><outerBoundaryIs><LinearRing><coordinates>11.57,48.14 11.572,48.14 11.572,48.141 11.57,48.14</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></kml>`
	gpx := `<gpx><trk><trkseg><trkpt lat="48.1402" lon="11.5702"><time>2026-04-14T06:00:00Z</time></trkpt><trkpt lat="48.1402" lon="11.5718"><time>2026-04-14T06:01:00Z</time></trkpt></trkseg></trk></gpx>`
	hole := `{"type":"MultiPolygon","coordinates":[[[[11.57,48.14],[11.572,48.14],[11.572,48.141],[11.57,48.14]],[[11.5705,48.1402],[11.571,48.1402],[11.571,48.1404],[11.5705,48.1402]]]]}`
	walked := `{"type":"LineString","coordinates":[[11.57,48.14],[11.572,48.14],[11.572,48.141],[11.57,48.141],[11.57,48.14]]}`
	log, shapes := fuzzLog(), fuzzShapes(t)
	logs := []string{log, gpx, fuzzField, "wkt;speed_ms\nLINESTRING(11.5702 48.1402,11.5718 48.1402);2\n", "$GPGLL,4808.412,N,01134.212,E,225444,A\n$GPGLL,4808.412,N,01134.312,E,225504,A\n"}
	fields := []string{fuzzField, kml, hole}
	implement := "width = 6\noverlap = 0.1\nsections = [3, 3]\n[mount]\nantennaAhead = 0.5\nhitch = 1.7\nbarBehind = 1.1\n[tractor]\nahead = 4\nbehind = 1\nwidth = 2.5\n[body]\nahead = 1\nbehind = 1.2\nwidth = 6.1\n[turning]\nradius = 5\nspeed = 6\nmargin = 0.5\n"
	set := map[string]string{"field": fuzzField, "TASKDATA.XML": fuzzTasks, "TLG00001.XML": fuzzHeader, "TLG00001.BIN": fuzzRecords()}
	shaped := map[string]string{"field": fuzzField}
	for name, text := range shapes {
		shaped[name] = text
	}
	return []fuzzed{
		{"a log", "log", map[string]string{"field": fuzzField}, "check field log --width 6 --pass-error 0.05", logs},
		{"a field", "field", map[string]string{"log": log}, "check field log --width 6 --mend --json", fields},
		{"a field to turn on", "field", map[string]string{"set.toml": implement}, "turn field --implement set.toml --mend", fields},
		{"a log that is the plan as well", "log", map[string]string{"field": fuzzField}, "check field log --width 6 --plan log --together", logs},
		{"a log, and files of the result", "log", map[string]string{"field": fuzzField}, "check field log --width 6 --out OUT", logs},
		{"a field, and files of the result", "field", map[string]string{"log": log}, "check field log --width 6 --close --out OUT", []string{walked, kml}},
		{"a log to hand over", "log", map[string]string{"field": fuzzField}, "handover field log --width 6 --out OUT", logs},
		{"a field to hand over", "field", map[string]string{"log": log}, "handover field log --width 6 --mend --language de --out OUT", fields},
		{"a field to plan for", "field", nil, "compare field --widths 20 --rounds 1 --bearing 90 --speed 8 --mend", fields},
		{"records of a terminal", "TLG00001.BIN", set, "check field TASKDATA.XML --width 6", []string{fuzzRecords()}},
		{"the head of such records", "TLG00001.XML", set, "check field TASKDATA.XML --width 6", []string{fuzzHeader}},
		{"task data", "TASKDATA.XML", set, "check field TASKDATA.XML --width 6", []string{fuzzTasks}},
		{"shapes", "log.shp", shaped, "check field log.shp --width 6", []string{shapes["log.shp"]}},
		{"the table of shapes", "log.dbf", shaped, "check field log.shp --width 6", []string{shapes["log.dbf"]}},
		{"the projection of shapes", "log.prj", shaped, "check field log.shp --width 6", []string{shapes["log.prj"]}},
		{"an implement", "set.toml", map[string]string{"field": fuzzField, "log": log}, "check field log --implement set.toml", []string{implement, `{"width":6}`}},
		{"a result", "report.json", nil, "handover . --out OUT", []string{`{"spec":{"boundary":"field","tracks":["log"],"work":{"width":6}}}`, `{"spec":{"boundary":"f","implements":[{"width":6}]},"candidates":[{"implement":1}]}`}},
	}
}

// FuzzCommand gives whatever comes to the command, as one of the files of a call: it ends with one of its exit codes, says
// something wherever it is not 0, and holds no more at a time than what came allows for.
func FuzzCommand(f *testing.F) {
	calls := fuzzedCalls(f)
	for i, c := range calls {
		for _, seed := range c.seeds {
			f.Add([]byte(seed), byte(i))
		}
	}
	f.Fuzz(func(t *testing.T, data []byte, call byte) {
		c := calls[int(call)%len(calls)]
		dir := t.TempDir()
		write := func(name, text string) {
			if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		for name, text := range c.files {
			write(name, text)
		}
		write(c.given, string(data))
		args := strings.Fields(c.args)
		for i, a := range args {
			if _, ok := c.files[a]; ok || a == c.given || a == "OUT" || a == "." {
				args[i] = filepath.Join(dir, a)
			}
		}
		most := watched(t)
		var out, said strings.Builder
		code := Run(context.Background(), args, strings.NewReader(""), &out, &said)
		if code < 0 || code > 3 {
			t.Fatalf("%s: %q: exit %d", c.name, args, code)
		}
		if code != 0 && said.Len() == 0 {
			t.Fatalf("%s: %q: exit %d without a word", c.name, args, code)
		}
		if held, bound := most(), uint64(2*(64<<20+300*len(data))); held > bound { // twice: what is no longer held waits for the collector
			t.Fatalf("%s: %q: %d MB for %d bytes", c.name, args, held>>20, len(data))
		}
	})
}

// watched gives the most bytes that were on the heap since, above what is there now.
func watched(t *testing.T) (most func() uint64) {
	runtime.GC()
	sample := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
	metrics.Read(sample)
	before := sample[0].Value.Uint64()
	done, gone := make(chan struct{}), make(chan uint64)
	go func() {
		peak := before
		for tick := time.NewTicker(2 * time.Millisecond); ; {
			select {
			case <-tick.C:
				metrics.Read(sample)
				peak = max(peak, sample[0].Value.Uint64())
			case <-done:
				tick.Stop()
				gone <- peak - before
				return
			}
		}
	}()
	return func() uint64 { close(done); return <-gone }
}

// What FuzzCommand begins with is good: each call as it stands does its work.
func TestFuzzedCalls(t *testing.T) {
	for _, c := range fuzzedCalls(t) {
		if c.given == "report.json" { // its spec names files that are not there
			continue
		}
		dir := t.TempDir()
		all := map[string]string{c.given: c.seeds[0]}
		for name, text := range c.files {
			if name != c.given {
				all[name] = text
			}
		}
		for name, text := range all {
			if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		args := strings.Fields(c.args)
		for i, a := range args {
			if _, ok := all[a]; ok || a == "OUT" {
				args[i] = filepath.Join(dir, a)
			}
		}
		code, _, stderr := run(t.Context(), args...)
		if want := c.name == "a log that is the plan as well"; code != 0 && !(want && code < 2) {
			t.Errorf("%s: %q: exit %d: %s", c.name, args, code, stderr)
		}
	}
}
