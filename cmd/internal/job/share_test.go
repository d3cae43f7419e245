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

// On the way to another field the fixes within reach of the field left are on it: those of 20 m at least, or of two widths where the
// implement is wider than 10 m. The log goes north from its field, a fix each 5 m, and ends on the way.
func TestHowFarBeyondTheBoundaryASetTurns(t *testing.T) {
	const metre = 1 / 111195.0 // degrees of latitude
	field := geo.Field{Number: 1, Name: "South", Boundary: orb.MultiPolygon{{{{11, 48}, {11.002, 48}, {11.002, 48.002}, {11, 48.002}, {11, 48}}}}}
	other := geo.Field{Number: 2, Name: "Far", Boundary: orb.MultiPolygon{{{{11, 48.1}, {11.002, 48.1}, {11.002, 48.102}, {11, 48.102}, {11, 48.1}}}}}
	var flat []float64
	for i := range 30 { // 10 fixes on the field, 20 beyond, at 2.5, 7.5, 12.5 ... m
		flat = append(flat, 11.001, 48.002+(float64(i-10)*5+2.5)*metre, float64(i))
	}
	for width, want := range map[float64]int{3: 10 + 4, 9: 10 + 4, 20: 10 + 8} {
		var r Report
		r.Spec.Work.Width = width
		_, kept, err := r.share(field, []geo.Field{field, other}, []geo.Track{{Source: "log", Line: geom.NewMultiLineStringFlat(geom.XYM, flat, []int{len(flat)})}})
		got := 0
		for _, k := range kept {
			got += k.Fixes()
		}
		if err != nil || got != want {
			t.Errorf("%g m wide: %d fixes on the field (%v), want %d", width, got, err, want)
		}
	}
}
