package crs

import (
	"math"
	"testing"
)

// South Africa counts to the west and to the south; files of the same system that count to the east and to the north, below 0, are read
// as well. The WKT is that of GDAL for EPSG:2048.
func TestSouthward(t *testing.T) {
	const wkt = `PROJCS["Hartebeesthoek94 / Lo19",GEOGCS["Hartebeesthoek94",DATUM["Hartebeesthoek94",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6148"]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433],AUTHORITY["EPSG","4148"]],PROJECTION["Transverse_Mercator_South_Orientated"],PARAMETER["latitude_of_origin",0],PARAMETER["central_meridian",19],PARAMETER["scale_factor",1],PARAMETER["false_easting",0],PARAMETER["false_northing",0],UNIT["metre",1],AXIS["Westing",WEST],AXIS["Southing",SOUTH],AUTHORITY["EPSG","2048"]]`
	read, err := FromWKT(wkt)
	if err != nil {
		t.Fatal(err)
	}
	coded, err := FromEPSG(2048)
	if err != nil {
		t.Fatal(err)
	}
	tm := NewTransverseMercator(WGS84, 19, 0, 1, 0, 0)
	for _, at := range [][2]float64{{18.42, -33.92}, {19.5, -34.1}, {19, -28}} {
		x, y := tm.Forward(at[0], at[1])
		for _, p := range []Projection{read, coded} {
			if west, south := p.Forward(at[0], at[1]); math.Abs(west+x) > 1e-6 || math.Abs(south+y) > 1e-6 {
				t.Errorf("%v: %.3f, %.3f, want %.3f, %.3f", at, west, south, -x, -y)
			}
			for _, way := range []float64{1, -1} {
				if lon, lat := p.Inverse(way*x, way*y); math.Abs(lon-at[0]) > 1e-9 || math.Abs(lat-at[1]) > 1e-9 {
					t.Errorf("%v: from %.3f, %.3f came %.9f, %.9f", at, way*x, way*y, lon, lat)
				}
			}
		}
	}
}

// The polyconic projection of Brazil is true along its meridian and along every parallel, and comes back from all over the country.
func TestPolyconic(t *testing.T) {
	p := newPolyconic(GRS80, -54, 0, 5e6, 1e7)
	tm := NewTransverseMercator(GRS80, -54, 0, 1, 5e6, 1e7)
	for lat := -34.0; lat <= 6; lat += 0.5 {
		x, y := p.Forward(-54, lat)
		if u, v := tm.Forward(-54, lat); math.Abs(x-u) > 1e-6 || math.Abs(y-v) > 1e-6 {
			t.Errorf("on the meridian at %g°: %.6f, %.6f, want %.6f, %.6f", lat, x, y, u, v)
		}
		for lon := -74.0; lon <= -28; lon += 2 {
			x, y := p.Forward(lon, lat)
			east, north := p.Forward(lon+1e-5, lat)
			along, _ := GRS80.metres(1e-5, 0, lat)
			if d := math.Hypot(east-x, north-y); math.Abs(d/along-1) > 1e-6 {
				t.Errorf("at %g, %g a parallel is %.9f as long", lon, lat, d/along)
			}
			if again, lat2 := p.Inverse(x, y); math.Abs(again-lon) > 1e-10 || math.Abs(lat2-lat) > 1e-10 {
				t.Errorf("%g, %g comes back as %.12f, %.12f", lon, lat, again, lat2)
			}
		}
	}
}
