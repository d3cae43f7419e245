package crs

import (
	"fmt"
	"strings"
	"testing"
)

// Files name a polar stereographic map in four ways; each is that of its code, and what lies on no such map is refused.
func TestPolarMapsByText(t *testing.T) {
	const wgs = `GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]`
	text := func(method, latitude string, lat, lon, k, false_ float64, way string) string {
		scale := fmt.Sprintf(`PARAMETER["scale_factor",%g],`, k)
		if k == 0 {
			scale = ""
		}
		return fmt.Sprintf(`PROJCS["x",%s,PROJECTION[%q],PARAMETER[%q,%g],PARAMETER["central_meridian",%g],%sPARAMETER["false_easting",%g],PARAMETER["false_northing",%g],UNIT["metre",1],AXIS["Easting",%s],AXIS["Northing",%s]]`,
			wgs, method, latitude, lat, lon, scale, false_, false_, way, way)
	}
	wkt2 := `PROJCRS["x",BASEGEOGCRS["WGS 84",DATUM["World Geodetic System 1984",ELLIPSOID["WGS 84",6378137,298.257223563,LENGTHUNIT["metre",1]]]],CONVERSION["x",METHOD["Polar Stereographic (variant B)",ID["EPSG",9829]],PARAMETER["Latitude of standard parallel",-71,ANGLEUNIT["degree",0.0174532925199433]],PARAMETER["Longitude of origin",0,ANGLEUNIT["degree",0.0174532925199433]],PARAMETER["False easting",0,LENGTHUNIT["metre",1]],PARAMETER["False northing",0,LENGTHUNIT["metre",1]]],CS[Cartesian,2],AXIS["(E)",north,MERIDIAN[90,ANGLEUNIT["degree",0.0174532925199433]]],AXIS["(N)",north,MERIDIAN[0,ANGLEUNIT["degree",0.0174532925199433]]],LENGTHUNIT["metre",1]]`
	for _, c := range []struct {
		name, text string
		code       int
		lon, lat   float64
	}{
		{"the parallel as latitude of origin", text("Polar_Stereographic", "latitude_of_origin", -71, 0, 1, 0, "NORTH"), 3031, 100, -75},
		{"the parallel by its name", text("Stereographic_South_Pole", "Standard_Parallel_1", -71, 0, 0, 0, "NORTH"), 3031, 100, -75},
		{"the other pole", text("Stereographic_North_Pole", "Standard_Parallel_1", 71, 0, 0, 0, "SOUTH"), 3995, -150, 62},
		{"a scale at the pole", text("Polar_Stereographic", "latitude_of_origin", 90, 0, 0.994, 2e6, "SOUTH"), 32661, 25, 70},
		{"WKT2", wkt2, 3031, -10, -64},
	} {
		p, err := FromWKT(c.text)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		want, err := FromEPSG(c.code)
		if err != nil {
			t.Fatal(err)
		}
		x, y := want.Forward(c.lon, c.lat)
		lon, lat := p.Inverse(x, y)
		near(t, c.name+" lon", lon, c.lon, 1e-9)
		near(t, c.name+" lat", lat, c.lat, 1e-9)
	}
	for wrong, want := range map[string]string{
		text("Polar_Stereographic", "latitude_of_origin", 60, 0, 0.994, 0, "SOUTH"):    "must be 90 or -90",
		text("Stereographic_North_Pole", "Standard_Parallel_1", 0, 0, 0, 0, "SOUTH"):   "off the equator",
		text("Polar_Stereographic", "latitude_of_origin", 95, 0, 1, 0, "SOUTH"):        "must lie between -90 and 90",
		text("Oblique_Stereographic", "latitude_of_origin", 52, 5, 0.9999, 0, "SOUTH"): "axis",
		text("Stereographic_North_Pole", "Standard_Parallel_1", 120, 0, 0, 0, "SOUTH"): "must lie between -90 and 90",
	} {
		if _, err := FromWKT(wrong); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.120s…: %v, want %q", wrong, err, want)
		}
	}
}
