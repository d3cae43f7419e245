package read

import (
	"encoding/binary"
	"math"
	"slices"
	"strings"
	"testing"

	"balk/geo"
)

// Heights come the same out of every format that has them; what is none is not logged.
func TestHeights(t *testing.T) {
	none := math.NaN()
	csv := func(text string) func() ([]geo.Track, error) {
		return func() ([]geo.Track, error) {
			tracks, findings, err := CSVTracks(strings.NewReader(text), "log.csv", TrackOptions{})
			for _, f := range findings {
				if f.Lost {
					t.Errorf("%v", f)
				}
			}
			return tracks, err
		}
	}
	withUp := strings.Replace(demoHeader, `C="412000"`, `C=""`, 1)
	up := func(record []byte, mm int32) []byte {
		return slices.Insert(record, 14, binary.LittleEndian.AppendUint32(nil, uint32(mm))...)
	}
	for name, c := range map[string]struct {
		read func() ([]geo.Track, error)
		want []float64
	}{
		"CSV, ele":            {csv("lon,lat,ele\n1,2,545.4\n1,2.1,\n1,2.2,-3\n"), []float64{545.4, none, -3}},
		"CSV, altitude in ft": {csv("lon,lat,altitude_ft\n1,2,1000\n1,2.1,100\n"), []float64{304.8, 30.48}},
		"CSV, in German":      {csv("Längengrad;Breitengrad;Höhe (m)\n1;2;545,4\n1;2,1;545,5\n"), []float64{545.4, 545.5}},
		"GPX": {func() ([]geo.Track, error) {
			tracks, _, err := gpxTracks(strings.NewReader(gpx11), "log.gpx")
			return tracks[:1], err
		}, []float64{500, none, none}},
		"GeoJSON": {func() ([]geo.Track, error) {
			tracks, _, err := geoJSONTracks(strings.NewReader(`{"type":"FeatureCollection","features":[
				{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2]},"properties":{"altitude":12.5}},
				{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2.1]},"properties":{"altitude":12.25}}]}`), "log.geojson")
			return tracks, err
		}, []float64{12.5, 12.25}},
		"GeoJSON, third numbers of points": {func() ([]geo.Track, error) {
			tracks, _, err := geoJSONTracks(strings.NewReader(`{"type":"FeatureCollection","features":[
				{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2,512.37]},"properties":{}},
				{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2.1]},"properties":{}},
				{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2.2,1e30]},"properties":{}},
				{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2.3,null,7]},"properties":{}},
				{"type":"Feature","properties":{"ele":4},"geometry":{"type":"Point","coordinates":[1,2.4,512]}}]}`), "log.geojson")
			return tracks, err
		}, []float64{512.37, none, none, none, 4}},
		"GeoJSON, third numbers of a line": {func() ([]geo.Track, error) {
			tracks, _, err := geoJSONTracks(strings.NewReader(`{"type":"Feature","geometry":{"type":"LineString","coordinates":[[1,2,512.37],[1,2.1],[1,2.2,-5],[1,2.3,99999]]},"properties":{}}`), "log.geojson")
			return tracks, err
		}, []float64{512.37, none, -5, none}},
		"GeoJSON, a list beside a line": {func() ([]geo.Track, error) {
			tracks, _, err := geoJSONTracks(strings.NewReader(`{"type":"Feature","geometry":{"type":"LineString","coordinates":[[1,2],[1,2.1],[1,2.2]]},"properties":{"heights":[512.37,null,-5]}}`), "log.geojson")
			return tracks, err
		}, []float64{512.37, none, -5}},
		"GeoJSON, one height for a line": {func() ([]geo.Track, error) {
			tracks, _, err := geoJSONTracks(strings.NewReader(`{"type":"Feature","geometry":{"type":"LineString","coordinates":[[1,2],[1,2.1]]},"properties":{"height":3}}`), "log.geojson")
			return tracks, err
		}, nil},
		"NMEA": {func() ([]geo.Track, error) {
			track, _ := nmeaOf(t, "$GPZDA,235958,31,12,2023,,\n$GPGGA,235959,4807.00000,N,01131.00000,E,1,8,1,545.4,M,46.9,M,,\n$GPGGA,235960,4807.00001,N,01131.00000,E,1,8,1,,M,,M,,\n")
			return []geo.Track{track}, nil
		}, []float64{545.4, none}},
		"task data": {func() ([]geo.Track, error) {
			log := slices.Concat(up(demoRecord(1000, 500000000, 100000000, 4, 3601000), 412000), up(demoRecord(2000, 500000100, 100000000, 4, 3602000), math.MaxInt32))
			set := demoSet(log)
			set["set/tlg00001.XML"].Data = []byte(withUp)
			track, _, err := demoTracks(t, set)
			return []geo.Track{track}, err
		}, []float64{412, none}},
	} {
		tracks, err := c.read()
		if err != nil || len(tracks) != 1 {
			t.Errorf("%s: %d tracks, %v", name, len(tracks), err)
			continue
		}
		sameAll(t, name, tracks[0].Height, c.want)
	}
}
