package job

import (
	"testing"

	"balk/geo"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
)

// Two fields side by side. A log that names its field, as task data do, belongs to that
// one wherever its fixes lie; one that names none, or a field not in the file, goes by place.
func TestALogGoesToTheFieldItNames(t *testing.T) {
	box := func(west float64) orb.MultiPolygon {
		return orb.MultiPolygon{{{{west, 48}, {west + 0.002, 48}, {west + 0.002, 48.002}, {west, 48.002}, {west, 48}}}}
	}
	fields := []geo.Field{{Number: 1, Name: "West", Boundary: box(11)}, {Number: 2, Name: "East", Boundary: box(11.003)}}
	log := func(lon float64, names string) geo.Track {
		flat := []float64{}
		for i := range 20 {
			flat = append(flat, lon, 48.0002+float64(i)*0.00005, float64(i))
		}
		return geo.Track{Source: "log", FieldRef: names, Line: geom.NewMultiLineStringFlat(geom.XYM, flat, []int{len(flat)})}
	}
	const inWest, inEast = 11.001, 11.004
	for _, c := range []struct {
		situation  string
		tracks     []geo.Track
		west, east int // fixes each gets
	}{
		{"no names: by place", []geo.Track{log(inWest, ""), log(inEast, "")}, 20, 20},
		{"each names its own", []geo.Track{log(inWest, "West"), log(inEast, "East")}, 20, 20},
		{"the name stands against the place", []geo.Track{log(inWest, "East"), log(inEast, "East")}, 0, 40},
		{"a name the file does not hold: by place", []geo.Track{log(inWest, "Far"), log(inEast, "Far")}, 20, 20},
		{"one named, one not", []geo.Track{log(inWest, "East"), log(inWest, "")}, 20, 20},
	} {
		for i, want := range []int{c.west, c.east} {
			var r Report
			_, kept, err := r.share(fields[i], fields, c.tracks)
			if (err != nil) != (want == 0) {
				t.Errorf("%s, %s: %v", c.situation, fields[i].Name, err)
			}
			got := 0
			for _, k := range kept {
				got += k.Fixes()
			}
			if err == nil && got != want {
				t.Errorf("%s: %d fixes for %s, want %d", c.situation, got, fields[i].Name, want)
			}
		}
	}
}
