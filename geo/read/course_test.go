package read

import (
	"fmt"
	"io"
	"strings"
	"testing"

	"balk/geo"
)

// TestCourseIsNoHeading: a direction of motion is marked as one, whatever the file;
// where there are headings beside it, these are taken.
func TestCourseIsNoHeading(t *testing.T) {
	csv := func(r io.Reader, file string) ([]geo.Track, []geo.Finding, error) {
		return CSVTracks(r, file, TrackOptions{})
	}
	rmc := signed("GPRMC,120000.0,A,4807.0380,N,01131.0000,E,2.0,90.0,010124,,,A")
	gga := signed("GPGGA,120000.0,4807.0380001,N,01131.0000002,E,4,12,0.7,545.4,M,46.9,M,,")
	kml := func(name string) string {
		return `<kml xmlns:gx="x"><Placemark><gx:Track><when>2024-05-01T12:00:00Z</when><gx:coord>1 2</gx:coord>
<ExtendedData><SchemaData><gx:SimpleArrayData name="` + name + `"><gx:value>90</gx:value></gx:SimpleArrayData></SchemaData></ExtendedData></gx:Track></Placemark></kml>`
	}
	point := func(p string) string {
		return `{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2]},"properties":{` + p + `}}`
	}
	for name, c := range map[string]struct {
		read   func(io.Reader, string) ([]geo.Track, []geo.Finding, error)
		text   string
		want   string
		course bool
	}{
		"NMEA, RMC":                   {NMEATracks, rmc, "[90]", true},
		"NMEA, VTG":                   {NMEATracks, gga + signed("GPVTG,91.0,T,,M,3.9,N,7.2,K,D"), "[91]", true},
		"NMEA, HDT":                   {NMEATracks, gga + signed("GPHDT,92.0,T"), "[92]", false},
		"NMEA, THS":                   {NMEATracks, gga + signed("GPTHS,93.0,A"), "[93]", false},
		"NMEA, THS not valid":         {NMEATracks, gga + signed("GPTHS,93.0,V"), "[]", false},
		"NMEA, RMC and HDT":           {NMEATracks, rmc + signed("GPHDT,92.0,T"), "[92]", false},
		"GPX 1.0":                     {gpxTracks, `<gpx version="1.0"><trk><trkseg><trkpt lat="2" lon="1"><course>90</course></trkpt></trkseg></trk></gpx>`, "[90]", true},
		"KML, values called course":   {kmlTracks, kml("course"), "[90]", true},
		"KML, values called heading":  {kmlTracks, kml("heading"), "[90]", false},
		"CSV, course":                 {csv, "lon,lat,Course (deg)\n1,2,90\n", "[90]", true},
		"CSV, direction of travel":    {csv, "lon,lat,direction of travel\n1,2,90\n", "[90]", true},
		"CSV, heading":                {csv, "lon,lat,Heading (deg)\n1,2,90\n", "[90]", false},
		"CSV, yaw":                    {csv, "lon,lat,yaw\n1,2,90\n", "[90]", false},
		"CSV, cog and heading":        {csv, "lon,lat,cog,heading\n1,2,90,95\n", "[95]", false},
		"GeoJSON points, cog":         {geoJSONTracks, point(`"cog":90`), "[90]", true},
		"GeoJSON points, both":        {geoJSONTracks, point(`"course":90,"heading":95`), "[95]", false},
		"GeoJSON line, list":          {geoJSONTracks, `{"type":"Feature","geometry":{"type":"LineString","coordinates":[[1,2],[1,3]]},"properties":{"course":[90,91]}}`, "[90 91]", true},
		"GeoJSON line, list headings": {geoJSONTracks, `{"type":"Feature","geometry":{"type":"LineString","coordinates":[[1,2],[1,3]]},"properties":{"headings":[90,91]}}`, "[90 91]", false},
		"GeoJSON, a fix that is left": {geoJSONTracks, `{"type":"Feature","geometry":{"type":"LineString","coordinates":[[1],[1,2],[1,3],[1,4]]},"properties":{"course":[89,90,91,92]}}`, "[90 91 92]", true},
	} {
		tracks, findings, err := c.read(strings.NewReader(c.text), "log")
		if err != nil || len(tracks) != 1 {
			t.Errorf("%s: %d tracks, %v, %v", name, len(tracks), findings, err)
			continue
		}
		if k := tracks[0]; fmt.Sprint(k.Heading) != c.want || k.Course != c.course {
			t.Errorf("%s: %v, course %v, want %s, %v", name, k.Heading, k.Course, c.want, c.course)
		}
	}
}
