package read

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf16"

	"balk/geo"

	geom "github.com/twpayne/go-geom"
)

func gzipOf(t testing.TB, data []byte) []byte {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	if _, err := w.Write(data); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func utf16Of(order binary.AppendByteOrder, text string) []byte {
	var b []byte
	for _, c := range utf16.Encode([]rune(text)) {
		b = order.AppendUint16(b, c)
	}
	return b
}

// fromInput reads tracks out of what comes through standard input.
func fromInput(data []byte) string {
	return inWords(Tracks(StandardInput, TrackOptions{Files: &Files{Input: bytes.NewReader(data)}}))
}

func inWords(tracks []geo.Track, _ []geo.Finding, err error) string {
	if err != nil {
		return err.Error()
	}
	s := ""
	for _, t := range tracks {
		t.Name = ""
		s += flatTrack(t) + ";"
	}
	return s
}

// Whatever a log is wrapped in, it is the same log.
func TestWrappings(t *testing.T) {
	table := "lon,lat,Ort,speed_ms\n11.5,48.1,Öd,2\n11.6,48.2,Aßling 𝄞,3\n"
	const want = "11.5,48.1s2 11.6,48.2s3;"
	feature := func(lon, lat, speed string) string {
		return `{"type":"Feature","geometry":{"type":"Point","coordinates":[` + lon + "," + lat + `]},"properties":{"speed":` + speed + `}}`
	}
	one, two := feature("11.5", "48.1", "2"), feature("11.6", "48.2", "3")
	points := shpFile(1, shpRecord(uint32(1), 11.5, 48.1), shpRecord(uint32(1), 11.6, 48.2))
	speeds := dbfTable(0x57, []string{"speed"}, []string{"2"}, []string{"3"})
	point := func(lon, lat float64) []byte {
		return blob(t, geom.NewPointFlat(geom.XY, []float64{lon, lat}), 4326, 0, binary.LittleEndian)
	}
	pkg, err := os.ReadFile(writeGeoPackage(t, "log.gpkg", featureTableText("log", "POINT", 4326, ", speed REAL"),
		"INSERT INTO log (geom, speed) VALUES (?, 2)", point(11.5, 48.1), "INSERT INTO log (geom, speed) VALUES (?, 3)", point(11.6, 48.2)))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		situation string
		data      []byte
	}{
		{"a table", []byte(table)},
		{"gzip", gzipOf(t, []byte(table))},
		{"gzip in gzip", gzipOf(t, gzipOf(t, []byte(table)))},
		{"a table in a zip", zipOf(t, "logs/a.csv", []byte(table))},
		{"GeoJSON in a zip, beside a picture and a text", zipOf(t, "a.geojson", []byte(collection(one, two)), "a.png", []byte("\x89PNG\r\n"), "read.me", []byte("hello"))},
		{"gzip in a zip", zipOf(t, "a.csv.gz", gzipOf(t, []byte(table)))},
		{"zip in a gzip", gzipOf(t, zipOf(t, "a.csv", []byte(table)))},
		{"zip in a zip", zipOf(t, "inner.zip", zipOf(t, "a.csv", []byte(table)))},
		{"UTF-16, least byte first", append([]byte{0xff, 0xfe}, utf16Of(binary.LittleEndian, table)...)},
		{"UTF-16, greatest byte first", append([]byte{0xfe, 0xff}, utf16Of(binary.BigEndian, table)...)},
		{"UTF-16 without a mark", utf16Of(binary.LittleEndian, table)},
		{"UTF-16 without a mark, greatest byte first", utf16Of(binary.BigEndian, table)},
		{"UTF-16 in a gzip", gzipOf(t, utf16Of(binary.LittleEndian, table))},
		{"lines that end in a carriage return", []byte(strings.ReplaceAll(table, "\n", "\r"))},
		{"newline-delimited GeoJSON", []byte(one + "\n" + two + "\n")},
		{"GeoJSON text sequence", []byte("\x1e" + one + "\n\x1e" + two + "\n")},
		{"UTF-16 GeoJSON", utf16Of(binary.LittleEndian, collection(one, two))},
		{"a shapefile in a zip, in the way of some systems", zipOf(t, `logs\a.shp`, points, `logs\a.dbf`, speeds, `logs\a.prj`, []byte(wgs84))},
		{"a GeoPackage", pkg},
		{"a GeoPackage in a zip", zipOf(t, "a.gpkg", pkg)},
		{"a GeoPackage in a gzip", gzipOf(t, pkg)},
		{"NUL bytes at the end", []byte(table + strings.Repeat("\x00", 5000))},
		{"NUL bytes after a number", []byte(strings.ReplaceAll(table, "48.2,", "48.2\x00,"))},
	} {
		if got := fromInput(c.data); got != want {
			t.Errorf("%s, through standard input: %s", c.situation, got)
		}
		path := filepath.Join(t.TempDir(), "log")
		if err := os.WriteFile(path, c.data, 0o600); err != nil {
			t.Fatal(err)
		}
		if got := inWords(Tracks(path, TrackOptions{})); got != want {
			t.Errorf("%s: %s", c.situation, got)
		}
	}
}

// Boundaries come wrapped as well, and of one wrapped with a log the log is no loss.
func TestWrappedFields(t *testing.T) {
	log := []byte("lon,lat\n11.5,48.1\n11.6,48.2\n")
	for situation, data := range map[string][]byte{
		"gzip": gzipOf(t, []byte(square)), "in a zip": zipOf(t, "f.geojson", []byte(square)), "beside a log": zipOf(t, "f.geojson", []byte(square), "t.csv", log),
		"newline-delimited": []byte(feature1(`{}`, square) + "\n" + feature1(`{}`, square)), "bare, newline-delimited": []byte(square + "\n" + square),
		"UTF-16": utf16Of(binary.BigEndian, square),
	} {
		fields, findings, err := Fields(StandardInput, Options{Files: &Files{Input: bytes.NewReader(data)}})
		want := 1
		if strings.HasSuffix(situation, "newline-delimited") {
			want = 2
		}
		if err != nil || len(fields) != want {
			t.Errorf("%s: %v, %v", situation, fields, err)
		}
		for _, f := range findings {
			if f.Lost {
				t.Errorf("%s: lost: %s", situation, f)
			}
		}
	}
}

func TestWrappingsRefused(t *testing.T) {
	secret := zipOf(t, "a.csv", []byte("lon,lat\n1,2\n"))
	for _, mark := range []string{"PK\x03\x04", "PK\x01\x02"} { // the flag that says encrypted
		i := bytes.Index(secret, []byte(mark))
		secret[i+map[string]int{"PK\x03\x04": 6, "PK\x01\x02": 8}[mark]] |= 1
	}
	nested := []byte("lon,lat\n1,2\n")
	for range 9 {
		nested = gzipOf(t, nested)
	}
	for _, c := range []struct {
		situation string
		data      []byte
		want      string
	}{
		{"an encrypted zip", secret, "a.csv: it is encrypted"},
		{"wrapped without end", nested, "wrapped more than 4 times"},
		{"a gzip of zeros", gzipOf(t, append([]byte("lon,lat\n"), make([]byte, 64<<20)...)), "the limit is 200 to 1"},
		{"a shapefile alone", shpFile(1, shpRecord(uint32(1), 11.5, 48.1)), "a shapefile is several files"},
		{"an empty gzip", gzipOf(t, nil), "empty"},
		{"a gzip cut off in its head", []byte{0x1f, 0x8b, 8}, "no gzip"},
		{"half a letter", []byte{0xff, 0xfe, 'l'}, "not a format read here"},
	} {
		if got := fromInput(c.data); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.situation, got, c.want)
		}
	}
	if _, _, err := Tracks(StandardInput, TrackOptions{}); err == nil || !strings.Contains(err.Error(), "standard input") {
		t.Errorf("no input: %v", err)
	}
	files := &Files{Input: strings.NewReader("lon,lat\n1,2\n")}
	if _, _, err := Tracks(StandardInput, TrackOptions{Files: files}); err != nil {
		t.Error(err)
	}
	var call *CallError
	if _, _, err := Tracks(StandardInput, TrackOptions{Files: files}); !errors.As(err, &call) {
		t.Errorf("read twice: %v", err)
	}
}

// A text of UTF-16 gives the same, however it comes in pieces, and what is no character is one that says so.
func TestUTF16InPieces(t *testing.T) {
	text := "a𝄞Ö\n" + strings.Repeat("€", 5000)
	for _, size := range []int{1, 2, 3, 5, 4096} {
		got, err := io.ReadAll(&fromUTF16{r: &inPieces{utf16Of(binary.BigEndian, "\ufeff"+text), size}, order: binary.BigEndian})
		if err != nil || string(got) != text {
			t.Errorf("in pieces of %d: %d bytes, %v", size, len(got), err)
		}
	}
	half := append(utf16Of(binary.BigEndian, "x"), 0xd8, 0x34, 0, 'y', 0xd8, 0x34, 'z')
	if got, err := io.ReadAll(&fromUTF16{r: bytes.NewReader(half), order: binary.BigEndian}); err != nil || string(got) != "x\ufffdy\ufffd" {
		t.Errorf("%q, %v", got, err)
	}
}

type inPieces struct {
	data []byte
	size int
}

func (p *inPieces) Read(b []byte) (int, error) {
	if len(p.data) == 0 {
		return 0, io.EOF
	}
	n := copy(b, p.data[:min(p.size, len(p.data))])
	p.data = p.data[n:]
	return n, nil
}

// Dates and times as people write them are read in every format as in a table: 05/31/2024 5:30:15 PM is mayDay.
func TestTimesAsPeopleWriteThem(t *testing.T) {
	for text, want := range map[string]float64{
		"5/31/2024 5:30:15 PM": mayDay, "31.05.2024 17:30:15": mayDay, "5/31/2024 12:30:15 AM": mayDay - 17*3600, "5/31/2024 12:30:15 PM": mayDay - 5*3600,
		"2024-05-31T17:30:15Z": mayDay, "1717176615": mayDay, "45443.7293402778": mayDay, "2024-05-31 17:30:15": mayDay,
	} {
		table := dbfTable(0x57, []string{"time"}, []string{text})
		shape := zipOf(t, "a.shp", shpFile(1, shpRecord(uint32(1), 11.5, 48.1)), "a.dbf", table, "a.prj", []byte(wgs84))
		json := feature1(`{"time":"`+text+`"}`, `{"type":"Point","coordinates":[11.5,48.1]}`)
		for format, data := range map[string][]byte{"shapefile": shape, "GeoJSON": []byte(json), "table": []byte("lon,lat,time\n11.5,48.1," + text + "\n")} {
			tracks, findings, err := Tracks(StandardInput, TrackOptions{Files: &Files{Input: bytes.NewReader(data)}})
			if err != nil || tracks[0].Line.FlatCoords()[2] != want {
				t.Errorf("%q in a %s: %v, %v, %v", text, format, tracks, findings, err)
			}
		}
	}
	// In 5/6/2024 the day comes first until a date says otherwise.
	two := feature1(`{"time":"5/6/2024 5:30 PM"}`, `{"type":"Point","coordinates":[11.5,48.1]}`) + feature1(`{"time":"5/31/2024 5:30:15 PM"}`, `{"type":"Point","coordinates":[11.5,48.2]}`)
	tracks, _, err := geoJSONTracks(strings.NewReader(two), "two")
	if err != nil || tracks[0].Line.FlatCoords()[2] != mayDay-25*86400-15 {
		t.Errorf("%v, %v", tracks, err)
	}
	// Where no date says so, slashes with AM or PM have the month first; either way it is said.
	for text, want := range map[string]struct {
		seconds float64
		said    string
	}{
		"5/6/2024 5:30:15 PM": {mayDay - 25*86400, "whether day or month comes first in \"5/6/2024 5:30:15 PM\": all are read with the month first"},
		"6/5/2024 17:30:15":   {mayDay - 25*86400, "all are read with the day first"}, "6.5.2024 5:30:15 PM": {mayDay - 25*86400, "all are read with the day first"},
	} {
		for format, data := range map[string]string{"GeoJSON": feature1(`{"time":"`+text+`"}`, `{"type":"Point","coordinates":[11.5,48.1]}`), "table": "lon,lat,time\n11.5,48.1," + text + "\n",
			"KML": "<kml><Placemark><TimeStamp><when>" + text + "</when></TimeStamp><Point><coordinates>11.5,48.1</coordinates></Point></Placemark></kml>"} {
			tracks, findings, err := Tracks(StandardInput, TrackOptions{Files: &Files{Input: strings.NewReader(data)}})
			said := fmt.Sprint(findings)
			if err != nil || tracks[0].Line.FlatCoords()[2] != want.seconds || !strings.Contains(said, want.said) {
				t.Errorf("%s in a %s: %v, %s, %v", text, format, tracks, said, err)
			}
		}
	}
	bad := strings.Repeat(feature1(`{"time":"noon"}`, `{"type":"Point","coordinates":[11.5,48.1]}`), 3) + feature1(`{"time":"soon"}`, `{"type":"Point","coordinates":[11.5,48.1]}`)
	if _, findings, err := geoJSONTracks(strings.NewReader(bad), "bad"); err != nil || len(findings) != 1 || !strings.Contains(findings[0].What, "4 times") {
		t.Errorf("%v, %v", findings, err)
	}
}

// FuzzInput reads whatever comes, by what it turns out to be.
func FuzzInput(f *testing.F) {
	for format, data := range smallFiles(f) {
		if format != "GeoPackage" { // its reader has a target of its own
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		tracks, findings, err := Tracks(StandardInput, TrackOptions{Files: &Files{Input: bytes.NewReader(data)}})
		if what := sound(tracks, findings, err); what != "" {
			t.Fatal(what)
		}
		fields, findings, err := Fields(StandardInput, Options{Files: &Files{Input: bytes.NewReader(data)}})
		holdFields(t, fields, findings, err)
	})
}
