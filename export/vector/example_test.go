package vector_test

import (
	"fmt"
	"os"
	"strings"

	"balk/export/vector"

	"github.com/paulmach/orb"
)

// A layer is described once and written in any format.
func ExampleWriteGeoJSON() {
	gates := vector.Layer{Name: "gates", Kind: vector.Points, Label: "name",
		Columns:  []vector.Property{{Name: "name", Holds: vector.Words}, {Name: "wide_m", Title: "width", Unit: "m", Holds: vector.Number, Decimals: 1}},
		Features: []vector.Feature{{Geometry: orb.Point{11.57, 48.14}, Row: []any{"lower gate (invented)", 4.5}}}}
	if err := vector.WriteGeoJSON(os.Stdout, gates); err != nil {
		fmt.Println(err)
	}
	var table strings.Builder
	if err := vector.WriteCSV(&table, gates, vector.CSV{DecimalComma: true}); err != nil {
		fmt.Println(err)
	}
	fmt.Print(strings.ReplaceAll(table.String(), "\r\n", "\n"))
	// Output:
	// {"type":"FeatureCollection","name":"gates","features":[
	// {"type":"Feature","geometry":{"type":"Point","coordinates":[11.57000000,48.14000000]},"properties":{"name":"lower gate (invented)","wide_m":4.5}}
	// ],"bbox":[11.57,48.14,11.57,48.14]}
	// name;wide_m
	// lower gate (invented);4,5
}
