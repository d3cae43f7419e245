package crs

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// method is a way of projecting: what files call it, and what it needs.
type method struct {
	code   string   // EPSG
	names  []string // plain
	params string   // keys of parameterNames, in the order in which internal/gen writes them; "?" behind: it may lack, then see defaults
	build  func(e Ellipsoid, v []float64) (Projection, error)
}

// parameterNames are what files call a parameter, in small letters with _ for all else; the first is that of WKT1.
var parameterNames = map[string][]string{
	"lat0": {"latitude_of_origin", "latitude_of_center", "latitude_of_natural_origin", "latitude_of_false_origin", "latitude_of_projection_centre"},
	"lon0": {"central_meridian", "longitude_of_center", "longitude_of_natural_origin", "longitude_of_false_origin", "longitude_of_projection_centre", "longitude_of_origin"},
	"k":    {"scale_factor", "scale_factor_at_natural_origin", "scale_factor_on_initial_line", "scale_factor_at_projection_centre", "scale_factor_on_pseudo_standard_parallel"},
	"fe":   {"false_easting", "easting_at_false_origin", "easting_at_projection_centre"},
	"fn":   {"false_northing", "northing_at_false_origin", "northing_at_projection_centre"},
	"sp1":  {"standard_parallel_1", "latitude_of_1st_standard_parallel", "latitude_of_standard_parallel"},
	"sp2":  {"standard_parallel_2", "latitude_of_2nd_standard_parallel"},
	"az":   {"azimuth", "azimuth_of_initial_line", "azimuth_at_projection_centre", "co_latitude_of_cone_axis"},
	"skew": {"rectified_grid_angle", "angle_from_rectified_to_skew_grid"},
	"psp":  {"pseudo_standard_parallel_1", "latitude_of_pseudo_standard_parallel"},
	// of the makers of one format, with the values that say nothing
	"sphere": {"auxiliary_sphere_type"}, "xscale": {"x_scale"}, "yscale": {"y_scale"}, "turn": {"xy_plane_rotation"},
}

// missing is what a parameter is that may lack: by its key, or the value of another.
var missing = map[string]float64{"k": 1, "sphere": 0, "xscale": 1, "yscale": 1, "turn": 0, "lat0": 0, "lon0": 0, "az": 90}

const southwardCode = "9808"

const north = "lat0 lon0 k fe fn"

var methods = []method{
	{"9807", []string{"transversemercator", "gausskruger"}, north, func(e Ellipsoid, v []float64) (Projection, error) {
		tm := NewTransverseMercator(e, v[1], v[0], v[2], v[3], v[4])
		return &tm, nil
	}},
	{"9801", []string{"lambertconformalconic1sp", "lambertconicconformal1sp", "lambertconformalconic"}, north, func(e Ellipsoid, v []float64) (Projection, error) {
		return pointer(NewLambertConformal(e, v[1], v[0], v[0], v[0], v[2], v[3], v[4]))
	}},
	{"9802", []string{"lambertconformalconic2sp", "lambertconicconformal2sp"}, "lat0 lon0 sp1 sp2 fe fn k?", func(e Ellipsoid, v []float64) (Projection, error) {
		return pointer(NewLambertConformal(e, v[1], v[0], v[2], v[3], v[6], v[4], v[5]))
	}},
	{"9822", []string{"albers", "albersconicequalarea", "albersequalarea"}, "lat0 lon0 sp1 sp2 fe fn", func(e Ellipsoid, v []float64) (Projection, error) {
		return newAlbers(e, v[1], v[0], v[2], v[3], v[4], v[5])
	}},
	{"9820", []string{"lambertazimuthalequalarea"}, "lat0 lon0 fe fn", func(e Ellipsoid, v []float64) (Projection, error) {
		return pointer(NewLambertEqualArea(e, v[1], v[0], v[2], v[3]))
	}},
	{"9809", []string{"obliquestereographic", "doublestereographic"}, north, func(e Ellipsoid, v []float64) (Projection, error) {
		return newStereographic(e, v[1], v[0], v[2], v[3], v[4])
	}},
	{"9810", []string{"polarstereographic", "polarstereographicvarianta"}, north, func(e Ellipsoid, v []float64) (Projection, error) {
		if math.Abs(v[0]) < 90 && v[2] == 1 { // as some files name the latitude where the scale is true
			return newPolar(e, v[1], v[0], 1, v[3], v[4])
		}
		if math.Abs(v[0]) != 90 {
			return nil, fmt.Errorf("projection text: latitude_of_origin %g of a polar stereographic projection with scale_factor %g: must be 90 or -90", v[0], v[2])
		}
		return newPolar(e, v[1], v[0], v[2], v[3], v[4])
	}},
	{"9829", []string{"polarstereographicvariantb", "stereographicnorthpole", "stereographicsouthpole"}, "sp1 lon0 fe fn", func(e Ellipsoid, v []float64) (Projection, error) {
		return newPolar(e, v[1], v[0], 1, v[2], v[3])
	}},
	{"9812", []string{"hotineobliquemercator", "hotineobliquemercatorazimuthnaturalorigin", "hotineobliquemercatorvarianta", "rectifiedskeworthomorphicnaturalorigin"}, "lat0 lon0 az skew? k fe fn", func(e Ellipsoid, v []float64) (Projection, error) {
		return newHotine(e, v[1], v[0], v[2], v[3], v[4], v[5], v[6], false)
	}},
	{"9815", []string{"hotineobliquemercatorazimuthcenter", "hotineobliquemercatorvariantb", "obliquemercator", "rectifiedskeworthomorphiccenter", "swissobliquecylindrical", "swissobliquemercator"}, "lat0 lon0 az? skew? k? fe fn", func(e Ellipsoid, v []float64) (Projection, error) {
		return newHotine(e, v[1], v[0], v[2], v[3], v[4], v[5], v[6], true)
	}},
	{"1041", []string{"krovak", "krovaknorthorientated"}, "lat0 lon0 az psp k fe fn xscale? yscale? turn?", func(e Ellipsoid, v []float64) (Projection, error) {
		// Plainly it counts to south and west; turned so it counts to east and north.
		if v[7] == 1 && v[8] == 1 && v[9] == 0 || v[7] == -1 && v[8] == 1 && v[9] == 90 {
			return newKrovak(e, v[1], v[0], v[2], v[3], v[4], v[5], v[6]), nil
		}
		return nil, &UnknownError{Name: fmt.Sprintf("Krovak, X_Scale %g, Y_Scale %g, XY_Plane_Rotation %g", v[7], v[8], v[9]), What: "direction of axes"}
	}},
	{"9806", []string{"cassini", "cassinisoldner"}, "lat0 lon0 fe fn k?", func(e Ellipsoid, v []float64) (Projection, error) {
		if v[4] != 1 {
			return nil, fmt.Errorf("projection text: scale_factor %g of a Cassini projection: must be 1", v[4])
		}
		return newCassini(e, v[1], v[0], v[2], v[3]), nil
	}},
	{"9818", []string{"polyconic", "americanpolyconic"}, "lat0 lon0 fe fn k?", func(e Ellipsoid, v []float64) (Projection, error) {
		if v[4] != 1 {
			return nil, fmt.Errorf("projection text: scale_factor %g of a polyconic projection: must be 1", v[4])
		}
		return newPolyconic(e, v[1], v[0], v[2], v[3]), nil
	}},
	{southwardCode, []string{"transversemercatorsouthorientated", "transversemercatorsouthoriented"}, north, func(e Ellipsoid, v []float64) (Projection, error) {
		if v[0] != 0 || v[3] != 0 || v[4] != 0 { // else nothing tells which way a file counts
			return nil, &UnknownError{Name: fmt.Sprintf("Transverse_Mercator_South_Orientated from latitude %g with false origin %g, %g", v[0], v[3], v[4]), What: "projection"}
		}
		return &southward{NewTransverseMercator(e, v[1], 0, v[2], 0, 0)}, nil
	}},
	{"9804", []string{"mercator1sp", "mercatorvarianta"}, "lat0? lon0 k fe fn", func(e Ellipsoid, v []float64) (Projection, error) {
		if v[0] != 0 {
			return nil, fmt.Errorf("projection text: latitude_of_origin %g of a Mercator projection: must be 0", v[0])
		}
		return newMercator(e, v[1], v[2], v[3], v[4]), nil
	}},
	{"9805", []string{"mercator2sp", "mercatorvariantb", "mercator"}, "sp1 lon0 fe fn", func(e Ellipsoid, v []float64) (Projection, error) {
		f := e.flattening()
		sin, cos := math.Sincos(v[0] * toRad)
		if !(math.Abs(v[0]) < 90) {
			return nil, fmt.Errorf("projection text: standard_parallel_1 %g: must lie between -90 and 90", v[0])
		}
		return newMercator(e, v[1], cos/math.Sqrt(1-f*(2-f)*sin*sin), v[2], v[3]), nil
	}},
	{"1024", []string{"popularvisualisationpseudomercator", "mercatorauxiliarysphere"}, "lat0? lon0 fe fn sp1? sphere?", func(e Ellipsoid, v []float64) (Projection, error) {
		if v[0] != 0 || v[4] != 0 || v[5] != 0 {
			return nil, &UnknownError{Name: fmt.Sprintf("Mercator_Auxiliary_Sphere, standard parallel %g, sphere %g", v[4], v[5]), What: "projection"}
		}
		return newMercator(Ellipsoid{A: e.A}, v[1], 1, v[2], v[3]), nil
	}},
}

// listed is how many parameters stand in the table: all but those of some files behind them.
func (m *method) listed() int {
	keys := strings.Fields(m.params)
	n := len(keys)
	for n > 0 && strings.HasSuffix(keys[n-1], "?") {
		n--
	}
	return n
}

// make is the projection with the values of the table.
func (m *method) make(e Ellipsoid, values []float64) (Projection, error) {
	v := slices.Clone(values)
	for _, key := range strings.Fields(m.params)[len(v):] {
		v = append(v, missing[strings.TrimSuffix(key, "?")])
	}
	return m.build(e, v)
}

// holds refuses parameters with which a projection does not take its own centre to the map and back.
func (m *method) holds(p Projection, v []float64) error {
	lat, lon := v[0], v[1]
	switch m.code {
	case southwardCode: // it counts from the equator, where south begins
		lat = -30
	case "9810": // a pole has no longitude
		lat = math.Copysign(80, lat)
	case "9807", "9801", "9802", "9820": // which tell what is wrong themselves
		return nil
	case "1041":
		lon -= 8 // its centre lies aside of the meridian that it counts from
	case "9805":
		lat = 0
	}
	x, y := p.Forward(lon, lat)
	again, lat2 := p.Inverse(x, y)
	if !(math.Abs(wrap(again-lon)) < 1e-6 && math.Abs(lat2-lat) < 1e-6) {
		return fmt.Errorf("projection text: with these parameters of %s its centre is nowhere on the map", p.Name())
	}
	return nil
}

// methodNamed is the method that a file names.
func methodNamed(name string) *method {
	for i := range methods {
		if slices.Contains(methods[i].names, plain(name)) {
			return &methods[i]
		}
	}
	return nil
}
