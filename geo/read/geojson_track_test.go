package read

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"balk/geo"
	"balk/testdata/check"
)

// flatTrack is a track in a form that a table can hold.
func flatTrack(t geo.Track) string {
	var b strings.Builder
	if t.Name != "" {
		fmt.Fprintf(&b, "%s: ", t.Name)
	}
	from := 0
	c := t.Line.FlatCoords()
	for p, end := range t.Line.Ends() {
		if p > 0 {
			b.WriteString(" | ")
		}
		for i := from / 3; i < end/3; i++ {
			if i > from/3 {
				b.WriteByte(' ')
			}
			fmt.Fprintf(&b, "%g,%g", c[3*i], c[3*i+1])
			if !math.IsNaN(c[3*i+2]) {
				fmt.Fprintf(&b, "@%.10g", c[3*i+2])
			}
			if t.State != nil {
				b.WriteString([]string{"?", "-", "+"}[t.State[i]])
			}
			if t.Width != nil {
				fmt.Fprintf(&b, "w%g", t.Width[i])
			}
			if t.Heading != nil {
				fmt.Fprintf(&b, "h%g", float64(t.Heading[i]))
			}
			if t.Speed != nil {
				fmt.Fprintf(&b, "s%.3g", t.Speed[i])
			}
		}
		from = end
	}
	return b.String()
}

func TestGeoJSONTracks(t *testing.T) {
	pt := func(x int, properties string) string {
		return feature1(properties, fmt.Sprintf(`{"type":"Point","coordinates":[%d,48]}`, x))
	}
	line := `{"type":"LineString","coordinates":[[1,48],[2,48,500],[3,48]]}`
	for _, c := range []struct {
		situation string
		text      string
		want      []string
		findings  []string
		err       string
	}{
		{"a bare line", line, []string{"1,48 2,48 3,48"}, nil, ""},
		{"a line with times", feature1(`{"coordTimes":["1970-01-01T00:00:01Z","1970-01-01T00:00:02.5Z","1970-01-01T01:00:03+01:00"],"name":"A"}`, line), []string{"A: 1,48@1 2,48@2.5 3,48@3"}, nil, ""},
		{"times behind the geometry, milliseconds", `{"type":"Feature","geometry":` + line + `,"properties":{"times":[1700000000000,1700000001000,null]}}`, []string{"1,48@1700000000 2,48@1700000001 3,48"}, nil, ""},
		{"too few times", feature1(`{"times":[1,2]}`, line), []string{"1,48 2,48 3,48"}, []string{"2 values of time for 3 fixes"}, ""},
		{"state and width of a whole line", feature1(`{"work":true,"Width":6}`, line), []string{"1,48+w6 2,48+w6 3,48+w6"}, nil, ""},
		{"states as a list", feature1(`{"states":[1,0,null],"speeds":[3,null,2]}`, line), []string{"1,48+s3 2,48-sNaN 3,48?s2"}, nil, ""},
		{"parts", feature1(`{"coordTimes":[["1970-01-01T00:00:01Z"],["1970-01-01T00:00:02Z","1970-01-01T00:00:03Z"]]}`, `{"type":"MultiLineString","coordinates":[[[1,48]],[[2,48],[3,48]]]}`), []string{"1,48@1 | 2,48@2 3,48@3"}, nil, ""},
		{"type behind the coordinates", `{"coordinates":[[1,48],[2,48]],"type":"LineString"}`, []string{"1,48 2,48"}, nil, ""},
		{"two lines", collection(feature1(`{"state":"working"}`, line), feature1(`{"state":"up"}`, line)), []string{"1,48+ 2,48+ 3,48+", "1,48- 2,48- 3,48-"}, nil, ""},
		{"points", collection(pt(1, `{"time":"1970-01-01T00:00:01Z","state":1,"width":6,"heading":90,"speed_kmh":9}`), pt(2, `{"time":2,"state":"lifted"}`), pt(3, `{}`)), []string{"1,48@1+w6h90s2.5 2,48@2-wNaNhNaNsNaN 3,48?wNaNhNaNsNaN"}, nil, ""},
		{"a column that begins late", collection(pt(1, `{}`), pt(2, `{"state":1,"speed":2}`)), []string{"1,48?sNaN 2,48+s2"}, nil, ""},
		{"passes", collection(pt(1, `{"pass":1}`), pt(2, `{"pass":1}`), pt(3, `{"pass":2}`), pt(4, `{"pass":"b"}`)), []string{"1,48 2,48 | 3,48 | 4,48"}, nil, ""},
		{"properties before the geometry, unknown ones skipped", collection(`{"type":"Feature","properties":{"x":{"time":[1,{"a":"}"}]},"time":5,"é\u00e9\"":"\ud83d\ude00"},"geometry":{"type":"Point","coordinates":[1,48]}}`), []string{"1,48@5"}, nil, ""},
		{"date and time of day", collection(pt(1, `{"date":"2024-05-01","time":"10:20:30"}`), pt(2, `{"time":"10:20:31","date":"2024-05-01"}`)), []string{"1,48@1714558830 2,48@1714558831"}, []string{"without zone"}, ""},
		{"no zone", collection(pt(1, `{"time":"2024-05-01 10:20:30"}`)), []string{"1,48@1714558830"}, []string{"without zone"}, ""},
		{"values out of range", collection(pt(1, `{"width":600,"heading":500,"speed":1000,"state":"maybe","time":"noon"}`)), []string{"1,48"}, []string{"width 600", "heading 500", "speed 1000", `time "noon"`, `work states "maybe" (1)`}, ""},
		{"a fix off the Earth", `{"type":"LineString","coordinates":[[1,48],[2,95],[3,48]]}`, []string{"1,48 3,48"}, []string{"1 of 3 fixes left out"}, ""},
		{"a fix without latitude", `{"type":"LineString","coordinates":[[1,48],[2],[3,48]]}`, []string{"1,48 3,48"}, []string{"a position of 1 numbers", "1 of 3 fixes left out"}, ""},
		{"a fix with text for a longitude", collection(feature1(`{"times":[1,2,3,4]}`, `{"type":"LineString","coordinates":[[1,48],["a",3],[3,48],[4,48]]}`), feature1(`{}`, line)), []string{"1,48@1 3,48@3 4,48@4", "1,48 2,48 3,48"}, []string{"a position that is no list of numbers", "1 of 4 fixes left out: outside ±180, ±90, the first (fix 2) without a position"}, ""},
		{"fixes that are null, an object, a list of lists", `{"type":"LineString","coordinates":[[1,48],null,[2,48],{"a":["]"]},[3,48],[[1,2],3],[4,48]]}`, []string{"1,48 2,48 3,48 4,48"}, []string{"a position that is no list of numbers: longitude and latitude are wanted (3 times, here first)", "3 of 7 fixes left out"}, ""},
		{"the first fix is text", `{"type":"LineString","coordinates":[["a",3],[2,48],[3,48]]}`, []string{"2,48 3,48"}, []string{"no list of numbers", "1 of 3 fixes left out"}, ""},
		{"the first fix is null", `{"type":"LineString","coordinates":[null,[2,48],[3,48]]}`, []string{"2,48 3,48"}, []string{"no list of numbers", "1 of 3 fixes left out"}, ""},
		{"a height that is no number", `{"type":"LineString","coordinates":[[1,48,null],[2,48,"x"]]}`, []string{"1,48 2,48"}, nil, ""},
		{"points with text, null and no list", collection(pt(1, `{}`), feature1(`{}`, `{"type":"Point","coordinates":["a",3]}`), feature1(`{}`, `{"type":"Point","coordinates":null}`), feature1(`{}`, `7`), pt(2, `{}`)), []string{"1,48 2,48"}, []string{"no list of numbers", "coordinates that are no list", "a geometry that is no object"}, ""},
		{"a part that is no list", `{"type":"MultiLineString","coordinates":[[[1,48],[2,48]],null,[[3,48],[true,48],[4,48]]]}`, []string{"1,48 2,48 | 3,48 4,48"}, []string{"a line that is no list of positions", "no list of numbers", "1 of 5 fixes left out"}, ""},
		{"a line of which no fix is one", collection(feature1(`{}`, `{"type":"LineString","coordinates":[["a",3]]}`), feature1(`{}`, line)), []string{"1,48 2,48 3,48"}, []string{"no list of numbers", "1 of 1 fixes are outside ±180, ±90, the first without a position"}, ""},
		{"text without its end for a longitude", `{"type":"LineString","coordinates":[[1,48],["a,3],[3,48]]}`, []string{"1,48"}, []string{"unreadable from here on"}, ""},
		{"a fix without position in a projection", `{"type":"LineString","coordinates":[[500000,0],["a",1],[500000,0]],"crs":{"type":"name","properties":{"name":"EPSG:32632"}}}`, []string{"9,0 9,0"}, []string{"no list of numbers", "1 of 3 fixes left out"}, ""},
		{"a polygon and a line", collection(feature1(`{}`, square), feature1(`{}`, line)), []string{"1,48 2,48 3,48"}, []string{"a Polygon is no track"}, ""},
		{"a multipolygon, type last", collection(`{"type":"Feature","geometry":{"coordinates":[[`+squareRing+`],[`+squareRing+`]],"type":"MultiPolygon"},"properties":{}}`, feature1(`{}`, line)), []string{"1,48 2,48 3,48"}, []string{"a MultiPolygon is no track"}, ""},
		{"no geometry", collection(feature1(`{}`, `null`), pt(1, `{}`), `{"type":"Feature"}`), []string{"1,48"}, []string{"without geometry"}, ""},
		{"a collection of lines", feature1(`{"width":3}`, `{"type":"GeometryCollection","geometries":[`+line+`,{"type":"Point","coordinates":[7,48]}]}`), []string{"1,48w3 2,48w3 3,48w3", "7,48w3"}, nil, ""},
		{"cut off", collection(pt(1, `{"time":1}`), pt(2, `{"time":2}`))[:180], []string{"1,48@1"}, []string{"unreadable from here on, the 1 fixes before are used: byte 180"}, ""},
		{"a line cut off", `{"type":"LineString","coordinates":[[1,48],[2,48],[3`, []string{"1,48 2,48"}, []string{"unreadable from here on"}, ""},
		{"crs behind", `{"type":"LineString","coordinates":[[500000,0],[500000,10000]],"crs":{"type":"name","properties":{"name":"EPSG:32632"}}}`, []string{"9,0 9,0.0904~"}, nil, ""},
		{"crs in a feature", collection(`{"crs":{"type":"name","properties":{"name":"EPSG:32632"}},` + pt(1, `{}`)[1:]), nil, nil, "crs inside a feature"},
		{"metres", `{"type":"LineString","coordinates":[[500000,5000000],[500000,5010000]]}`, nil, nil, "metres of a map projection"},
		{"swapped", `{"type":"LineString","coordinates":[[48,111],[48,112]]}`, nil, nil, "swapped lat/lon"},
		{"only polygons", square, nil, nil, "a Polygon is no track"},
		{"nothing", collection(), nil, nil, "no track in it"},
		{"no json", `{"type":LineString}`, nil, nil, "byte 8"},
		{"a number too large", `{"type":"LineString","coordinates":[[1e999,48]]}`, nil, nil, "outside ±1.8e308"},
		{"nested without end", `{"a":` + strings.Repeat(`[`, 100000), nil, nil, "deeper than 64"},
		{"collections without end", strings.Repeat(`{"type":"GeometryCollection","geometries":[`, 100000), nil, nil, "deeper than 64"},
	} {
		t.Run(c.situation, func(t *testing.T) {
			tracks, findings, err := geoJSONTracks(strings.NewReader(c.text), "t.geojson")
			slow, slowFindings, slowErr := geoJSONTracks(iotest.OneByteReader(strings.NewReader(c.text)), "t.geojson")
			if fmt.Sprint(err) != fmt.Sprint(slowErr) || fmt.Sprint(findings) != fmt.Sprint(slowFindings) || len(slow) != len(tracks) {
				t.Errorf("read byte by byte: %v, %v; want %v, %v", slowFindings, slowErr, findings, err)
			}
			if c.err != "" {
				if err == nil || !strings.Contains(err.Error(), c.err) || tracks != nil || findings != nil {
					t.Fatalf("%v, %v, %v; want an error with %q", tracks, findings, err, c.err)
				}
				return
			}
			if err != nil || len(tracks) != len(c.want) {
				t.Fatalf("%d tracks, %v, %v; want %d", len(tracks), findings, err, len(c.want))
			}
			for i, tr := range tracks {
				got := flatTrack(tr)
				want, more := strings.CutSuffix(c.want[i], "~") // further digits do not matter
				if got != want && !(more && strings.HasPrefix(got, want)) {
					t.Errorf("track %d: %s\nwant %s", i+1, got, c.want[i])
				}
				if tr.Source != "t.geojson" {
					t.Errorf("source %q", tr.Source)
				}
			}
			if len(findings) != len(c.findings) {
				t.Fatalf("%v, want %q", findings, c.findings)
			}
			for i, f := range findings {
				if !strings.Contains(f.What, c.findings[i]) {
					t.Errorf("finding %q, want %q", f, c.findings[i])
				}
			}
		})
	}
}

// Numbers come out as strconv reads them, to the last bit.
func TestNumbersAreExact(t *testing.T) {
	seed := check.Seed(t)
	rnd := rand.New(rand.NewPCG(seed, 2))
	var texts []string
	for range 20000 {
		switch v := math.Float64frombits(rnd.Uint64()); {
		case rnd.IntN(2) == 0:
			texts = append(texts, strconv.FormatFloat((rnd.Float64()-0.5)*360, 'f', rnd.IntN(20), 64))
		case !math.IsNaN(v) && !math.IsInf(v, 0):
			texts = append(texts, strconv.FormatFloat(v, "eg"[rnd.IntN(2)], -1, 64))
		}
	}
	texts = append(texts, "0", "-0", "0.1", "9007199254740993", "9007199254740992", "18446744073709551616", "0.00000000000000000000001", "1e22", "1e23", "1E+2", strings.Repeat("1", 300)+".5")
	for _, s := range texts {
		want, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		p := newPull(strings.NewReader(s))
		if got := p.number(); got != want || math.Signbit(got) != math.Signbit(want) || p.err != nil || !p.atEnd() {
			t.Fatalf("seed %d: %s is %v, want %v (%v)", seed, s, got, want, p.err)
		}
	}
	for _, s := range []string{"", "-", "01", "1.", ".5", "1e", "1e+", "+1", "NaN", "0x1", strings.Repeat("1", 600), "1e999"} {
		p := newPull(strings.NewReader(s))
		if got := p.number(); got != 0 || p.err == nil && p.atEnd() {
			t.Errorf("%.20q is read as %v", s, got)
		}
	}
}

func TestTimesOfText(t *testing.T) {
	for text, want := range map[string]string{
		"2024-05-01T10:20:30Z": "2024-05-01T10:20:30Z", "2024-02-29t23:59:59.25z": "2024-02-29T23:59:59.25Z", "1969-12-31T23:59:59Z": "1969-12-31T23:59:59Z",
		"2024-05-01T10:20:30+02:00": "2024-05-01T08:20:30Z", "2024-05-01T10:20-0330": "2024-05-01T13:50:00Z", "2024-05-01 10:20:30,5": "2024-05-01T10:20:30.5Z",
		"20240501T10:20:30+02": "2024-05-01T08:20:30Z", "2024-05-01": "2024-05-01T00:00:00Z", "1900-03-01T00:00:00Z": "1900-03-01T00:00:00Z", "1714558830": "2024-05-01T10:20:30Z", "1714558830500": "2024-05-01T10:20:30.5Z",
		"2023-02-29": "", "2024-13-01": "", "2024-05-01T25:00:00Z": "", "2024-05-01T10": "", "2024-05-01T10:20:30X": "", "yesterday": "", "2024-05-01T10:20:30+99:00": "", "NaN": "", "1e300": "",
	} {
		s, _, ok := secondsOf([]byte(text))
		if want == "" {
			if ok {
				t.Errorf("%q is read as %v", text, s)
			}
			continue
		}
		w, err := time.Parse(time.RFC3339Nano, want)
		if err != nil {
			t.Fatal(err)
		}
		if !ok || math.Abs(s-float64(w.UnixNano())/1e9) > 1e-6 {
			t.Errorf("%q is %v, %v; want %v", text, s, ok, w.Unix())
		}
	}
	for d := -40000; d < 40000; d++ { // 1860 to 2079
		at := time.Unix(int64(d)*86400, 0).UTC()
		if got := civilDays(at.Year(), int(at.Month()), at.Day()); got != int64(d) {
			t.Fatalf("%v is day %d, want %d", at, got, d)
		}
	}
}

// A million fixes stay below 100 bytes per fix, stream included, and are read
// without slurping.
func TestMemoryPerFix(t *testing.T) {
	const n = 200_000
	text := pointText(n)
	r := testing.Benchmark(func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, _, err := geoJSONTracks(bytes.NewReader(text), "m"); err != nil {
				b.Fatal(err)
			}
		}
	})
	tracks, _, err := geoJSONTracks(bytes.NewReader(text), "m")
	if err != nil {
		t.Fatal(err)
	}
	tr := tracks[0]
	kept := 8*cap(tr.Line.FlatCoords()) + cap(tr.State) + 8*(cap(tr.Width)+cap(tr.Heading)+cap(tr.Speed))
	if per := float64(kept) / n; per > 100 {
		t.Errorf("%.0f bytes kept per fix, want at most 100", per)
	}
	if per := float64(r.AllocedBytesPerOp()) / n; per > 400 { // growing slices copy what they hold a few times over
		t.Errorf("%.0f bytes allocated per fix in all, want at most 400", per)
	}
	if got := r.AllocsPerOp(); got > 5000 { // some dozens for each piece that a worker reads
		t.Errorf("%d allocations for %d fixes: one per fix crept in", got, n)
	}
}

// TestPlaceOfALostFix: the finding has the record and the place of the fix before.
func TestPlaceOfALostFix(t *testing.T) {
	_, findings, err := geoJSONTracks(strings.NewReader(`{"type":"FeatureCollection","features":[
		{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[1,48],[2,48]]}},
		{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[1,48],[2,48],["a",3],[4,48]]}}]}`), "t.geojson")
	if err != nil || len(findings) != 2 {
		t.Fatal(findings, err)
	}
	if f := findings[1]; f.File != "t.geojson" || f.Record != 2 || f.At == nil || f.At[0] != 2 || f.At[1] != 48 || !f.Lost {
		t.Errorf("%+v, want record 2 near 2, 48", f)
	}
}
