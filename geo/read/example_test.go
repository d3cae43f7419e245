package read_test

import (
	"fmt"
	"strings"

	"balk/geo"
	"balk/geo/read"
)

// A field comes with its name and its rings, in degrees; what cannot be used is a finding with its record.
func ExampleGeoJSONFields() {
	const file = `{"type":"FeatureCollection","features":[
		{"type":"Feature","properties":{"name":"Short Acre (invented)"},"geometry":{"type":"Polygon","coordinates":[
			[[11.570,48.140],[11.572,48.140],[11.572,48.141],[11.570,48.141],[11.570,48.140]],
			[[11.571,48.1404],[11.571,48.1406],[11.5712,48.1406],[11.571,48.1404]]]}},
		{"type":"Feature","properties":{"name":"the gate"},"geometry":{"type":"Point","coordinates":[11.57,48.14]}}]}`
	fields, findings, err := read.GeoJSONFields(strings.NewReader(file), "acre.geojson", read.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, f := range fields {
		fmt.Printf("field %d: %s, %d obstacle\n", f.Number, f.Name, len(f.Boundary[0])-1)
	}
	for _, f := range findings {
		fmt.Println(f)
	}
	// Output:
	// field 1: Short Acre (invented), 1 obstacle
	// acre.geojson, record 2: a Point is no boundary: left out
}

// Columns of a table are found by their usual names. Times are seconds since 1970 UTC, widths metres, states what the log says.
func ExampleCSVTracks() {
	const file = "time,lon,lat,working,width_ft\n" +
		"2026-04-14T06:30:00Z,11.5701,48.1405,true,20\n" +
		"2026-04-14T06:30:01Z,11.5702,48.1405,true,20\n" +
		"2026-04-14T06:30:02Z,11.5703,48.1405,false,20\n"
	tracks, findings, err := read.CSVTracks(strings.NewReader(file), "log.csv", read.TrackOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	t := tracks[0]
	fmt.Printf("%d fixes, the first working %v, the last %v, %.3f m wide, %d findings\n", t.Fixes(), t.State[0] == geo.Working, t.State[2] == geo.Working, t.Width[0], len(findings))
	// Output:
	// 3 fixes, the first working true, the last false, 6.096 m wide, 0 findings
}
