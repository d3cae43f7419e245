package read

import (
	"archive/zip"
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"balk/geo"
)

const gpx11 = `<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="urn:x">
<wpt lat="1" lon="1"><name>gate</name></wpt>
<trk><name>Long &amp; wet</name>
<trkseg>
<trkpt lat="48.1" lon="11.5"><ele>500</ele><time>2024-05-31T17:30:15.25Z</time><fix>dgps</fix><hdop>0.9</hdop><extensions><x:speed>2.5</x:speed><x:course>90</x:course></extensions></trkpt>
<trkpt lat="48.2" lon="11.5"><time>2024-05-31T17:30:16.50Z</time></trkpt>
</trkseg>
<trkseg><trkpt lat="48.3" lon="11.5"><time>2024-05-31T19:30:17+02:00</time><fix>3d</fix></trkpt></trkseg>
</trk>
<trk><trkseg><trkpt lat="-10" lon="-20"/></trkseg></trk>
</gpx>`

func TestGPX(t *testing.T) {
	tracks, findings, err := gpxTracks(strings.NewReader(gpx11), "log.gpx")
	if err != nil || len(tracks) != 2 {
		t.Fatal(len(tracks), err)
	}
	k := tracks[0]
	if k.Name != "Long & wet" || !reflect.DeepEqual(k.Line.Ends(), []int{6, 9}) {
		t.Errorf("%q with parts %v, want 6 and 9: a segment is never bridged", k.Name, k.Line.Ends())
	}
	if want := []float64{11.5, 48.1, mayDay + .25, 11.5, 48.2, mayDay + 1.5, 11.5, 48.3, mayDay + 2}; !reflect.DeepEqual(k.Line.FlatCoords(), want) {
		t.Errorf("%f, want %f", k.Line.FlatCoords(), want)
	}
	if !reflect.DeepEqual(k.Quality, []geo.Quality{geo.QualityDifferential, geo.QualityUnknown, geo.QualitySingle}) || k.HDOP[0] != .9 || !math.IsNaN(k.HDOP[2]) || k.Speed[0] != 2.5 || k.Heading[0] != 90 {
		t.Errorf("%v %v %v %v", k.Quality, k.HDOP, k.Speed, k.Heading)
	}
	if f := tracks[1].Line.FlatCoords(); f[0] != -20 || f[1] != -10 || !math.IsNaN(f[2]) {
		t.Errorf("second track %v", f)
	}
	if s := fmt.Sprint(findings); s != "[log.gpx, record 3: a waypoint is no track: left out]" {
		t.Error(s)
	}
}

func TestGPXOddities(t *testing.T) {
	cut := strings.Index(gpx11, "48.3") + 2
	for _, c := range []struct {
		name, text string
		fixes      int
		finding    string
	}{
		{"GPX 1.0 has speed and course", `<gpx version="1.0"><trk><trkseg><trkpt lat="1" lon="2"><time>2024-05-31T17:30:15Z</time><course>180.5</course><speed>1.5</speed></trkpt></trkseg></trk></gpx>`, 1, ""},
		{"broken off", gpx11[:cut], 2, "record 9: unreadable from here on, the 2 fixes before are used: byte"},
		{"in Latin-1", "<?xml version=\"1.0\" encoding=\"ISO-8859-1\"?><gpx><trk><name>Gr\xfcn</name><trkseg><trkpt lat='1' lon='2'/></trkseg></trk></gpx>", 1, ""},
		{"a point without place", `<gpx><trk><trkseg><trkpt lat="1"/><trkpt lat="1" lon="2"/></trkseg></trk></gpx>`, 1, "a trkpt without lat and lon"},
		{"a route", `<gpx><rte><rtept lat="1" lon="2"/></rte><trk><trkseg><trkpt lat="1" lon="2"/></trkseg></trk></gpx>`, 1, "a route was not driven"},
		{"a time that is none", `<gpx><trk><trkseg><trkpt lat="1" lon="2"><time>noon</time></trkpt></trkseg></trk></gpx>`, 1, `time "noon" is not understood`},
	} {
		t.Run(c.name, func(t *testing.T) {
			tracks, findings, err := gpxTracks(strings.NewReader(c.text), "log.gpx")
			if err != nil {
				t.Fatal(err)
			}
			if tracks[0].Fixes() != c.fixes {
				t.Errorf("%d fixes, want %d", tracks[0].Fixes(), c.fixes)
			}
			if s := fmt.Sprint(findings); c.finding == "" && s != "[]" || !strings.Contains(s, c.finding) {
				t.Errorf("%s, want %q", s, c.finding)
			}
			if strings.HasPrefix(c.name, "GPX 1.0") && (tracks[0].Speed[0] != 1.5 || tracks[0].Heading[0] != 180.5) {
				t.Error(tracks[0].Speed, tracks[0].Heading)
			}
			if strings.HasPrefix(c.name, "in Latin") && tracks[0].Name != "Grün" {
				t.Errorf("name %q", tracks[0].Name)
			}
		})
	}
	for _, text := range []string{"<gpx></gpx>", "<gpx><trk>", `<gpx><rte><rtept lat="1" lon="2"/></rte></gpx>`} {
		if tracks, _, err := gpxTracks(strings.NewReader(text), "log.gpx"); err == nil || tracks != nil {
			t.Errorf("%s: %v, want an error", text, tracks)
		}
	}
}

const kmlText1 = `<?xml version="1.0"?>
<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2"><Document><name>farm</name>
<Placemark><name>Home</name><Polygon><innerBoundaryIs><LinearRing><coordinates>11.4,48.4 11.6,48.4 11.6,48.6 11.4,48.6 11.4,48.4</coordinates></LinearRing></innerBoundaryIs>
 <outerBoundaryIs><LinearRing><coordinates>
 11,48,500 12,48,500
 12,49,500 11,49,500 11,48,500 </coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>
<Folder><Placemark><name>Two parts</name><MultiGeometry>
 <Polygon><outerBoundaryIs><LinearRing><coordinates>1,1 2,1 2,2 1,1</coordinates></LinearRing></outerBoundaryIs></Polygon>
 <Polygon><outerBoundaryIs><LinearRing><coordinates>3,1 4,1 4,2 3,1</coordinates></LinearRing></outerBoundaryIs></Polygon>
</MultiGeometry></Placemark></Folder>
<Placemark><name>Line</name><MultiGeometry><LineString><coordinates>11.5,48.1 11.5,48.2</coordinates></LineString><LineString><coordinates>11.6,48.1,5 11.6,48.2,5</coordinates></LineString></MultiGeometry></Placemark>
<Placemark><name>Log</name><gx:MultiTrack><gx:Track><when>2024-05-31T17:30:15Z</when><when>2024-05-31T17:30:16.5Z</when><gx:coord>11.5 48.1 500</gx:coord><gx:coord>11.5 48.2 500</gx:coord><gx:angles>90 0 0</gx:angles><gx:angles>91 0 0</gx:angles>
 <ExtendedData><SchemaData><gx:SimpleArrayData name="speed_kmh"><gx:value>7.2</gx:value><gx:value>3.6</gx:value></gx:SimpleArrayData><gx:SimpleArrayData name="state"><gx:value>on</gx:value><gx:value>off</gx:value></gx:SimpleArrayData></SchemaData></ExtendedData></gx:Track>
 <gx:Track><when>2024-05-31T17:31:00Z</when><gx:coord>11.5 48.3 0</gx:coord></gx:Track></gx:MultiTrack></Placemark>
<Placemark><TimeStamp><when>2024-05-31T17:30:15Z</when></TimeStamp><Point><coordinates>5,6,7</coordinates></Point></Placemark>
<Placemark><TimeStamp><when>2024-05-31T17:30:16Z</when></TimeStamp><Point><coordinates>5,6.1</coordinates></Point></Placemark>
</Document></kml>`

func TestKMLFields(t *testing.T) {
	fields, findings, err := KMLFields(strings.NewReader(kmlText1), "farm.kml", Options{})
	if err != nil || len(fields) != 2 {
		t.Fatal(len(fields), err)
	}
	if f := fields[0]; f.Name != "Home" || f.Number != 1 || len(f.Boundary) != 1 || len(f.Boundary[0]) != 2 || f.Boundary[0][0].Bound().Max[0] != 12 || f.Boundary[0][1].Bound().Max[0] != 11.6 {
		t.Errorf("%+v: want an outer ring to 12° and an obstacle to 11.6°", f)
	}
	if f := fields[1]; f.Name != "Two parts" || f.Number != 2 || len(f.Boundary) != 2 {
		t.Errorf("%+v", f)
	}
	if s := fmt.Sprint(findings); !strings.Contains(s, "record 11: a line or track is no boundary: left out (2 times") || !strings.Contains(s, "a point is no boundary") {
		t.Error(s)
	}
	cut := strings.Index(kmlText1, "3,1 4,1")
	fields, findings, err = KMLFields(strings.NewReader(kmlText1[:cut]), "farm.kml", Options{})
	if s := fmt.Sprint(findings); err != nil || len(fields) != 1 || !strings.Contains(s, "record 9: unreadable from here on") {
		t.Errorf("broken off: %d fields, %s, %v", len(fields), s, err)
	}
}

// A general converter of points to KML writes no TimeStamp but the columns it had, as data with or without a schema.
func TestKMLPointsWithData(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"under a schema, in another form of date", `<Placemark><ExtendedData><SchemaData><SimpleData name="time">2024/05/31 17:30:15+00</SimpleData><SimpleData name="speed_kmh">7.2</SimpleData></SchemaData></ExtendedData><Point><coordinates>5,6,7</coordinates></Point></Placemark>` +
			`<Placemark><ExtendedData><SchemaData><SimpleData name="time">2024/05/31 17:30:16+00</SimpleData><SimpleData name="speed_kmh">3.6</SimpleData></SchemaData></ExtendedData><Point><coordinates>5,6.1</coordinates></Point></Placemark>`, "5,6@1717176615s2 5,6.1@1717176616s1;"},
		{"as plain data", `<Placemark><ExtendedData><Data name="timestamp"><value>2024-05-31T17:30:15Z</value></Data></ExtendedData><Point><coordinates>5,6</coordinates></Point></Placemark>`, "5,6@1717176615;"},
		{"a TimeStamp goes first", `<Placemark><TimeStamp><when>2024-05-31T17:30:15Z</when></TimeStamp><ExtendedData><Data name="time"><value>2024-05-31T09:00:00Z</value></Data><Data name="speed_ms"><value>2</value></Data></ExtendedData><Point><coordinates>5,6</coordinates></Point></Placemark>`, "5,6@1717176615s2;"},
		{"the day and the time of day apart", `<Placemark><ExtendedData><Data name="date"><value>2024-05-31</value></Data><Data name="time"><value>17:30:15Z</value></Data></ExtendedData><Point><coordinates>5,6</coordinates></Point></Placemark>`, "5,6@1717176615;"},
	} {
		if got := fromInput([]byte("<kml><Document>" + c.text + "</Document></kml>")); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	_, _, err := kmlTracks(strings.NewReader("<kml><Placemark><name>gate</name><Point><coordinates>5,6</coordinates></Point></Placemark></kml>"), "farm.kml")
	if err == nil || !strings.Contains(err.Error(), "no track in it") {
		t.Errorf("a point without time: %v", err)
	}
}

func TestKMLTracks(t *testing.T) {
	tracks, findings, err := kmlTracks(strings.NewReader(kmlText1), "farm.kml")
	if err != nil || len(tracks) != 3 {
		t.Fatal(len(tracks), err)
	}
	if k := tracks[0]; k.Name != "Line" || !reflect.DeepEqual(k.Line.Ends(), []int{6, 12}) || k.Line.FlatCoords()[6] != 11.6 || !math.IsNaN(k.Line.FlatCoords()[2]) {
		t.Errorf("%+v", k)
	}
	k := tracks[1]
	if want := []float64{11.5, 48.1, mayDay, 11.5, 48.2, mayDay + 1.5, 11.5, 48.3, mayDay + 45}; k.Name != "Log" || !reflect.DeepEqual(k.Line.FlatCoords(), want) || !reflect.DeepEqual(k.Line.Ends(), []int{6, 9}) {
		t.Errorf("%q %f %v, want %f", k.Name, k.Line.FlatCoords(), k.Line.Ends(), want)
	}
	if k.Heading[1] != 91 || !math.IsNaN(float64(k.Heading[2])) || !close9(k.Speed[0], 2) || !close9(k.Speed[1], 1) || !reflect.DeepEqual(k.State, []geo.WorkState{geo.Working, geo.Lifted, geo.StateUnknown}) {
		t.Errorf("%v %v %v", k.Heading, k.Speed, k.State)
	}
	if f := tracks[2].Line.FlatCoords(); !reflect.DeepEqual(f, []float64{5, 6, mayDay, 5, 6.1, mayDay + 1}) {
		t.Errorf("points %f", f)
	}
	if s := fmt.Sprint(findings); !strings.Contains(s, "record 3: a Polygon is no track: left out (2 times, here first)") {
		t.Error(s)
	}
}

func TestKMLBrokenOff(t *testing.T) {
	for _, c := range []struct {
		name, from, at string
		fixes          int
	}{
		{"in a line", `<kml><Placemark><LineString><coordinates>1,2,0 3,4,0 5,6,0 7,8,0</coordinates>`, "7,8", 3},
		{"in a number of a line", `<kml><Placemark><LineString><coordinates>1,2,0 3,4,0 5,6,0 7,8.25,0</coordinates>`, "25,0", 3},
		{"in a track", `<kml><Placemark><Track><when>2024-01-01T00:00:00Z</when><when>2024-01-01T00:00:01Z</when><coord>1 2 3</coord><coord>1 2.5 3</coord>`, "2.5", 1},
		{"after a line", `<kml><Placemark><LineString><coordinates>1,2 3,4</coordinates></LineString></Placemark>x`, "x", 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			tracks, findings, err := kmlTracks(strings.NewReader(c.from[:strings.Index(c.from, c.at)]), "x.kml")
			if err != nil || len(tracks) != 1 || tracks[0].Fixes() != c.fixes {
				t.Fatalf("%v, %v, want %d fixes", tracks, err, c.fixes)
			}
			if s := fmt.Sprint(findings); len(findings) != 1 || !findings[0].Lost || !strings.Contains(s, fmt.Sprintf("unreadable from here on, the %d fixes before are used: byte ", c.fixes)) {
				t.Error(s)
			}
			if c.name == "in a track" && math.IsNaN(tracks[0].Line.FlatCoords()[2]) {
				t.Error("the time of the fix before is lost")
			}
		})
	}
	if _, findings, err := kmlTracks(strings.NewReader(`<kml><Placemark><LineString><coordinates>1,2 x,4 5,6</coordinates></LineString></Placemark></kml>`), "x.kml"); err != nil || !strings.Contains(fmt.Sprint(findings), `position "x,4" is not understood`) {
		t.Error(findings, err)
	}
}

// The format is told by content, whatever the name says; a folder is taken whole.
func TestFormatsByContent(t *testing.T) {
	dir := t.TempDir()
	var kmz bytes.Buffer
	z := zip.NewWriter(&kmz)
	w, err := z.Create("doc.kml")
	if err == nil {
		_, err = w.Write([]byte(kmlText1))
	}
	if err == nil {
		err = z.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	files := []struct {
		name, text string
		tracks     int
	}{
		{"a.dat", gpx11, 2},
		{"b.dat", kmlText1, 3},
		{"c.dat", "boot\r\n" + signed("GPGGA,120000,4807.00001,N,01131.0,E,1,8,1,,,,,,"), 1},
		{"d.dat", "lon;lat\n1;2\n", 1},
		{"e.dat", kmz.String(), 3},
		{"f.dat", "time;Longitude;Latitude;v\n1;2;3;4\n", 1},
		{"sub/g.dat", "lat\tlon\n1\t2\n", 1},
	}
	total := 0
	for _, f := range files {
		path := filepath.Join(dir, f.name)
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(f.text), 0o666); err != nil {
			t.Fatal(err)
		}
		tracks, _, err := tracksOf(path)
		if err != nil || len(tracks) != f.tracks {
			t.Errorf("%s: %d tracks, %v, want %d", f.name, len(tracks), err, f.tracks)
		}
		total += f.tracks
	}
	_, odd, err := Tracks(filepath.Join(dir, "a.dat"), TrackOptions{Columns: map[string]string{"lon": "x"}})
	if err != nil || !strings.Contains(fmt.Sprint(odd), "columns named by hand are for tables: not used here") {
		t.Errorf("columns for a GPX: %v, %v", odd, err)
	}
	hand, _, err := Tracks(filepath.Join(dir, "f.dat"), TrackOptions{Columns: map[string]string{"speed_kmh": "v"}})
	if err != nil || !close9(hand[0].Speed[0], 4/3.6) {
		t.Errorf("columns by hand: %v", err)
	}
	fields, _, err := Fields(filepath.Join(dir, "e.dat"), Options{})
	if err != nil || len(fields) != 2 || fields[0].Source != filepath.Join(dir, "e.dat", "doc.kml") {
		t.Errorf("KMZ: %v, %v", fields, err)
	}
	if _, _, err := Fields(filepath.Join(dir, "d.dat"), Options{}); err == nil || !strings.Contains(err.Error(), "no field boundary in it: it is a table of text") {
		t.Error(err)
	}
	for name, text := range map[string]string{"readme.txt": "nothing, to be read here", ".hidden": "x", "empty": ""} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	tracks, findings, err := tracksOf(dir)
	if err != nil || len(tracks) != total {
		t.Fatalf("folder: %d tracks, %v, want %d", len(tracks), err, total)
	}
	if last := tracks[len(tracks)-1]; last.Source != filepath.Join(dir, "sub", "g.dat") {
		t.Errorf("the last track is from %s", last.Source)
	}
	var lost []string
	for _, f := range findings {
		if f.Record == 0 && strings.HasPrefix(f.What, "left out: ") {
			lost = append(lost, filepath.Base(f.File))
		}
	}
	if !reflect.DeepEqual(lost, []string{"empty", "readme.txt"}) {
		t.Errorf("unreadable are %v", lost)
	}
	if _, _, err := tracksOf(t.TempDir()); err == nil || !strings.Contains(err.Error(), "has no files in it") {
		t.Error(err)
	}
}

// A link to another file is no loss where the file has what is wanted, and the way out where it has not.
func TestKMLThatLinks(t *testing.T) {
	link := `<NetworkLink><Link><href>http://example.org/more.kml</href></Link></NetworkLink>`
	area := `<Placemark><name>North</name><Polygon><outerBoundaryIs><LinearRing><coordinates>11,48 11.001,48 11.001,48.001 11,48</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>`
	fields, findings, err := KMLFields(strings.NewReader("<kml><Document>"+link+area+"</Document></kml>"), "a.kml", Options{})
	if err != nil || len(fields) != 1 || len(findings) != 1 || findings[0].Lost {
		t.Errorf("%v, %v, %v", fields, findings, err)
	}
	if _, _, err := KMLFields(strings.NewReader("<kml><Document>"+link+"</Document></kml>"), "a.kml", Options{}); err == nil || !strings.Contains(err.Error(), "it links to another file") {
		t.Error(err)
	}
	if _, _, err := kmlTracks(strings.NewReader("<kml><Document>"+link+"</Document></kml>"), "a.kml"); err == nil || !strings.Contains(err.Error(), "it links to another file") {
		t.Error(err)
	}
}

// Extensions of a point may have the work state as an element, of whatever namespace, or as an attribute.
func TestGPXWorkState(t *testing.T) {
	for situation, one := range map[string]string{
		"an element": `<extensions><w:state>%s</w:state></extensions>`, "one within another": `<extensions><w:point><w:working>%s</w:working></w:point></extensions>`,
		"an attribute": `<extensions><w:point speed="2" working="%s"/></extensions>`, "another name": `<extensions><implement_down>%s</implement_down></extensions>`,
	} {
		text := `<gpx xmlns:w="w"><trk><trkseg>`
		for _, state := range []string{"on", "off", "on"} {
			text += `<trkpt lat="48" lon="11">` + fmt.Sprintf(one, state) + `</trkpt>`
		}
		tracks, findings, err := gpxTracks(strings.NewReader(text+`</trkseg></trk></gpx>`), "a.gpx")
		if err != nil || len(findings) > 0 || fmt.Sprint(tracks[0].State) != fmt.Sprint([]geo.WorkState{geo.Working, geo.Lifted, geo.Working}) {
			t.Errorf("%s: %v, %v, %v", situation, tracks, findings, err)
		}
	}
}
