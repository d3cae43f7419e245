package crs

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"balk/testdata/check"
)

// Texts as they stand beside shapefiles; the wording is that of the formats, the
// numbers are those of the EPSG registry.
const (
	gcsWGS84  = `GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`
	gcsETRS89 = `GEOGCS["ETRS89",DATUM["European_Terrestrial_Reference_System_1989",SPHEROID["GRS 1980",6378137,298.257222101,AUTHORITY["EPSG","7019"]],TOWGS84[0,0,0,0,0,0,0],AUTHORITY["EPSG","6258"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4258"]]`
	gcsNAD83  = `GEOGCS["GCS_North_American_1983",DATUM["D_North_American_1983",SPHEROID["GRS_1980",6378137.0,298.257222101]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`
	utm33     = `PROJCS["WGS_1984_UTM_Zone_33N",` + gcsWGS84 + `,PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",500000.0],PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",15.0],PARAMETER["Scale_Factor",0.9996],PARAMETER["Latitude_Of_Origin",0.0],UNIT["Meter",1.0]]`
	laea3035  = `PROJCS["ETRS89 / LAEA Europe",` + gcsETRS89 + `,PROJECTION["Lambert_Azimuthal_Equal_Area"],PARAMETER["latitude_of_center",52],PARAMETER["longitude_of_center",10],PARAMETER["false_easting",4321000],PARAMETER["false_northing",3210000],UNIT["metre",1,AUTHORITY["EPSG","9001"]],AXIS["Northing",NORTH],AXIS["Easting",EAST],AUTHORITY["EPSG","3035"]]`
	lambert93 = `PROJCS["RGF93 / Lambert-93",GEOGCS["RGF93",DATUM["Reseau_Geodesique_Francais_1993",SPHEROID["GRS 1980",6378137,298.257222101]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]],PROJECTION["Lambert_Conformal_Conic_2SP"],PARAMETER["latitude_of_origin",46.5],PARAMETER["central_meridian",3],PARAMETER["standard_parallel_1",49],PARAMETER["standard_parallel_2",44],PARAMETER["false_easting",700000],PARAMETER["false_northing",6600000],UNIT["metre",1]]`
	texasFeet = `PROJCS["NAD_1983_StatePlane_Texas_South_Central_FIPS_4204_Feet",` + gcsNAD83 + `,PROJECTION["Lambert_Conformal_Conic"],PARAMETER["False_Easting",1968500.0],PARAMETER["False_Northing",13123333.33333333],PARAMETER["Central_Meridian",-99.0],PARAMETER["Standard_Parallel_1",28.38333333333333],PARAMETER["Standard_Parallel_2",30.28333333333333],PARAMETER["Latitude_Of_Origin",27.83333333333333],UNIT["Foot_US",0.3048006096012192]]`
	osgb36    = `PROJCS["British_National_Grid",GEOGCS["GCS_OSGB_1936",DATUM["D_OSGB_1936",SPHEROID["Airy_1830",6377563.396,299.3249646]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",400000.0],PARAMETER["False_Northing",-100000.0],PARAMETER["Central_Meridian",-2.0],PARAMETER["Scale_Factor",0.9996012717],PARAMETER["Latitude_Of_Origin",49.0],UNIT["Meter",1.0]]`
	webMap    = `PROJCS["WGS_1984_Web_Mercator_Auxiliary_Sphere",` + gcsWGS84 + `,PROJECTION["Mercator_Auxiliary_Sphere"],PARAMETER["False_Easting",0.0],PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",0.0],PARAMETER["Standard_Parallel_1",0.0],PARAMETER["Auxiliary_Sphere_Type",0.0],UNIT["Meter",1.0]]`
)

func TestFromWKT(t *testing.T) {
	one := func(old, new, text string) string {
		t.Helper()
		if strings.Count(text, old) != 1 {
			t.Fatalf("%q stands %d times in %s", old, strings.Count(text, old), text)
		}
		return strings.Replace(text, old, new, 1)
	}
	utm := func(e Ellipsoid) Projection {
		p := NewTransverseMercator(e, 15, 0, 0.9996, 500000, 0)
		return &p
	}
	southWKT := one(`"False_Northing",0.0`, `"False_Northing",10000000.0`, utm33)
	south := NewTransverseMercator(WGS84, 15, 0, 0.9996, 500000, 1e7)
	gauss := NewTransverseMercator(GRS80, 9, 0, 1, 3500000, 0)
	for _, c := range []struct {
		what, text string
		want       Projection
		lon, lat   float64
		note       string
	}{
		{"longitude and latitude", gcsWGS84, Geographic{}, 16.37, 48.2, ""},
		{"longitude and latitude on ETRS89, OGC flavour", gcsETRS89, Geographic{}, 16.37, 48.2, "ETRS89"},
		{"longitude, latitude and height, ESRI flavour", one(`0.0174532925199433]`, `0.0174532925199433],LINUNIT["Meter",1.0]`, gcsWGS84), Geographic{}, 16.37, 48.2, ""},
		{"UTM 33 north, ESRI flavour", utm33, utm(WGS84), 16.37, 48.2, ""},
		{"UTM 33 south", southWKT, &south, 16.37, -33.9, ""},
		{"byte order mark and a line end", "\ufeff" + utm33 + "\r\n", utm(WGS84), 16.37, 48.2, ""},
		{"round brackets, line breaks and small letters", strings.ReplaceAll(strings.NewReplacer("[", " (\n ", "]", ") ", ",", " , ").Replace(utm33), "PROJCS", "projcs"), utm(WGS84), 16.37, 48.2, ""},
		{"a height system behind", utm33 + `,VERTCS["EGM96_Geoid",VDATUM["EGM96_Geoid"],PARAMETER["Vertical_Shift",0.0],PARAMETER["Direction",1.0],UNIT["Meter",1.0]]`, utm(WGS84), 16.37, 48.2, ""},
		{"a compound system", `COMPD_CS["UTM and heights",` + utm33 + `,VERT_CS["EGM96",VERT_DATUM["EGM96",2005],UNIT["metre",1],AXIS["Up",UP]]]`, utm(WGS84), 16.37, 48.2, ""},
		{"Gauss-Krüger strip on ETRS89", `PROJCS["x",` + gcsETRS89 + `,PROJECTION["Gauss_Kruger"],PARAMETER["False_Easting",3500000.0],PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",9.0],PARAMETER["Scale_Factor",1.0],PARAMETER["Latitude_Of_Origin",0.0],UNIT["Meter",1.0]]`, &gauss, 10, 52, "ETRS89"},
		{"LAEA Europe with northing first", laea3035, equal(t, GRS80, 10, 52, 4321000, 3210000), 5, 50, "ETRS89"},
		{"conic with two parallels", lambert93, conic(t, GRS80, 3, 46.5, 49, 44, 1, 700000, 6600000), 2.35, 48.85, "RGF93"},
		{"conic in US feet", texasFeet, scaled{conic(t, GRS80, -99, dms(27, 50, 0), dms(28, 23, 0), dms(30, 17, 0), 1, 600000, 4000000), usFoot}, -96, 28.5, "NAD83"},
		{"conic with one parallel", `PROJCS["x",` + gcsWGS84 + `,PROJECTION["Lambert_Conformal_Conic_1SP"],PARAMETER["latitude_of_origin",18],PARAMETER["central_meridian",-77],PARAMETER["scale_factor",0.999],PARAMETER["false_easting",750000],PARAMETER["false_northing",650000],UNIT["metre",1]]`, conic(t, WGS84, -77, 18, 18, 18, 0.999, 750000, 650000), -76.9, 17.9, ""},
		{"UTM in international feet", one(`UNIT["Meter",1.0]`, `UNIT["Foot",0.3048]`, one("500000.0", "1640419.947506562", utm33)), scaled{utm(WGS84), 0.3048}, 16.37, 48.2, ""},
		{"UTM in US feet that the file calls foot", one(`UNIT["Meter",1.0]`, `UNIT["foot",0.3048006]`, one("500000.0", "1640416.666666667", utm33)), scaled{utm(WGS84), usFoot}, 16.37, 48.2, ""},
		{"longitude and latitude in gon", one(`UNIT["Degree",0.0174532925199433]`, `UNIT["gon",0.015707963267949]`, gcsWGS84), scaled{Geographic{}, 0.9}, 18, 45, ""},
		{"UTM with its parameters in gon", one("15.0", "16.66666666666667", one(`UNIT["Degree",0.0174532925199433]`, `UNIT["Grad",0.015707963267949]`, utm33)), utm(WGS84), 16.37, 48.2, ""},
		{"a datum with no name but a zero shift", one("European_Terrestrial_Reference_System_1989", "Some_Frame", gcsETRS89), Geographic{}, 16.37, 48.2, "ETRS89"},
	} {
		t.Run(c.what, func(t *testing.T) {
			p, err := FromWKT(c.text)
			if err != nil {
				t.Fatal(err)
			}
			x, y := p.Forward(c.lon, c.lat)
			wx, wy := c.want.Forward(c.lon, c.lat)
			near(t, "x", x, wx, 1e-6)
			near(t, "y", y, wy, 1e-6)
			lon, lat := p.Inverse(wx, wy)
			near(t, "lon", lon, c.lon, 1e-11)
			near(t, "lat", lat, c.lat, 1e-11)
			if note := Note(p); c.note == "" && note != "" || !strings.Contains(note, c.note) {
				t.Errorf("note %q, want %q in it", note, c.note)
			}
			if p.Name() == "" {
				t.Error("no name")
			}
		})
	}
}

// A quotation mark in a text is written twice (ISO 19162, from memory).
func TestFromWKTKeepsQuotationMarks(t *testing.T) {
	for text, want := range map[string]string{
		`a ""good"" name`: `a "good" name`,
		`""first`:         `"first`,
		`last""`:          `last"`,
		`  room round  `:  `room round`,
	} {
		p, err := FromWKT(strings.Replace(utm33, "WGS_1984_UTM_Zone_33N", text, 1))
		if err != nil || p.Name() != want {
			t.Errorf("%q: %v, %v; want the name %q", text, p, err, want)
		}
	}
}

func TestFromWKTRefuses(t *testing.T) {
	swap := strings.NewReplacer
	var unknown *UnknownError
	var shifted *DatumError
	for _, c := range []struct {
		what, text string
		as         any    // a pointer for errors.As, or nil
		say        string // stands in the message
	}{
		{"nothing", "", nil, "is empty"},
		{"a byte order mark only", "\ufeff \n", nil, "is empty"},
		{"a good name on Bessel's ellipsoid", swap("Airy_1830\",6377563.396,299.3249646", "Bessel 1841\",6377397.155,299.1528128").Replace(osgb36), &shifted, "elsewhere on one of 6377563.396 m"},
		{"a datum that is not known, on Bessel's ellipsoid", swap("6378137.0,298.257223563", "6377397.155,299.1528128", "D_WGS_1984", "D_Moon_2000").Replace(gcsWGS84), &shifted, "needs a shift"},
		{"ED50", swap("6378137.0,298.257223563", "6378388,297", "D_WGS_1984", "D_European_1950").Replace(gcsWGS84), &shifted, "convert the file to WGS84 longitude and latitude first"},
		{"a good name on a foreign ellipsoid", swap("6378137.0,298.257223563", "6378206.4,294.9786982").Replace(gcsWGS84), &shifted, "1/294.9786982"},
		{"a half axis one metre off", swap("6378137.0", "6378138").Replace(gcsWGS84), &shifted, "6378138 m"},
		{"a shift that is not zero", swap("TOWGS84[0,0,0,", "TOWGS84[598.1,73.7,418.2,").Replace(gcsETRS89), &shifted, "598.1 73.7 418.2"},
		{"a shift below zero", swap("TOWGS84[0,0,0,", "TOWGS84[-87,0,0,").Replace(gcsETRS89), &shifted, "-87 0 0"},
		{"a shift by turning alone", swap("TOWGS84[0,0,0,0,0,0,0]", "TOWGS84[0,0,0,0,0,-0.554,0]").Replace(gcsETRS89), &shifted, "-0.554"},
		{"a shift of five numbers", swap("TOWGS84[0,0,0,0,0,0,0]", "TOWGS84[0,0,0,0,0]").Replace(gcsETRS89), nil, "5 numbers"},
		{"a datum that is not known", swap("D_WGS_1984", "D_Moon_2000").Replace(gcsWGS84), &unknown, `unknown datum "D_Moon_2000"`},
		{"a web map on another sphere", swap(`"Auxiliary_Sphere_Type",0.0`, `"Auxiliary_Sphere_Type",1.0`).Replace(webMap), &unknown, "sphere 1"},
		{"south-orientated transverse Mercator", swap(`"Transverse_Mercator"`, `"Transverse_Mercator_South_Orientated"`).Replace(utm33), &unknown, "South_Orientated"},
		{"Paris", swap(`PRIMEM["Greenwich",0.0]`, `PRIMEM["Paris",2.33722917]`).Replace(utm33), &unknown, `unknown prime meridian "Paris"`},
		{"fathoms", swap(`UNIT["Meter",1.0]`, `UNIT["Fathom",1.8288]`).Replace(utm33), &unknown, `unknown unit of length "Fathom"`},
		{"a metre that is a foot", swap(`UNIT["Meter",1.0]`, `UNIT["Meter",0.3048]`).Replace(utm33), nil, "the size 0.3048, which is none of that name"},
		{"Clarke's foot", swap(`UNIT["Meter",1.0]`, `UNIT["Foot_Clarke",0.3047972654]`).Replace(utm33), nil, "0.3047972654"},
		{"no unit", swap(`,UNIT["Meter",1.0]`, ``).Replace(utm33), nil, "no UNIT of length"},
		{"no central meridian", swap(`PARAMETER["Central_Meridian",15.0],`, ``).Replace(utm33), nil, `no PARAMETER["central_meridian"]`},
		{"no scale", swap(`PARAMETER["Scale_Factor",0.9996],`, ``).Replace(utm33), nil, `no PARAMETER["scale_factor"]`},
		{"a parameter twice", swap("Scale_Factor", "False_Easting").Replace(utm33), nil, "must stand once"},
		{"two parameters that mean the same", swap("latitude_of_center", "central_meridian").Replace(laea3035), nil, "means the same"},
		{"a parameter of another projection", swap("UNIT[\"Meter\"", `PARAMETER["Azimuth",45.0],UNIT["Meter"`).Replace(utm33), &unknown, `unknown parameter of Transverse_Mercator "azimuth"`},
		{"an origin beyond the pole", swap(`"Latitude_Of_Origin",0.0`, `"Latitude_Of_Origin",95.0`).Replace(utm33), nil, "latitude of origin 95: must lie between -90 and 90"},
		{"a scale of nothing", swap("0.9996", "0").Replace(utm33), nil, "scale_factor 0: must lie between 0.5 and 2"},
		{"a false easting beyond the earth", swap("500000.0", "1e300").Replace(utm33), nil, "1e+300: must lie between"},
		{"a number out of range", swap("500000.0", "1e999").Replace(utm33), nil, "want a number"},
		{"parallels that make no cone", swap(`"standard_parallel_2",44`, `"standard_parallel_2",-49`).Replace(lambert93), nil, "make no cone"},
		{"two parallels wanted, one there", swap(`PARAMETER["standard_parallel_2",44],`, ``).Replace(lambert93), nil, "standard_parallel_2"},
		{"counted to the west", swap(`AXIS["Easting",EAST]`, `AXIS["Westing",WEST]`).Replace(laea3035), &unknown, "Westing WEST"},
		{"an extension that says otherwise", swap(`UNIT["Meter",1.0]`, `UNIT["Meter",1.0],EXTENSION["PROJ4","+proj=merc"]`).Replace(utm33), &unknown, "EXTENSION"},
		{"two datums", swap(`PRIMEM`, `DATUM["D_OSGB_1936"],PRIMEM`).Replace(gcsWGS84), nil, "DATUM twice"},
		{"geocentric", swap("GEOGCS", "GEOCCS").Replace(gcsWGS84), &unknown, `unknown coordinate system "GEOCCS"`},
		{"two systems", gcsWGS84 + "," + gcsWGS84, &unknown, "second coordinate system"},
		{"cut short", utm33[:120], nil, "want"},
		{"an open quotation mark", `GEOGCS["x`, nil, "closing quotation mark"},
		{"brackets that do not match", swap("]", ")").Replace(gcsWGS84), nil, "want a comma or ]"},
		{"something behind", gcsWGS84 + " x", nil, "want a comma or the end"},
		{"no WKT at all", "EPSG:4326", nil, "want a bracket after EPSG"},
		{"brackets without end", strings.Repeat("A[", 100000), nil, "nest 33 deep: must be at most 32"},
		{"a text without end", strings.Repeat(" ", wktLongest) + gcsWGS84, nil, "bytes: must be at most"},
	} {
		t.Run(c.what, func(t *testing.T) {
			p, err := FromWKT(c.text)
			if err == nil || p != nil {
				t.Fatalf("got %v, %v: want an error", p, err)
			}
			if c.as != nil && !errors.As(err, c.as) {
				t.Errorf("%v is a %T", err, err)
			}
			if !strings.Contains(err.Error(), c.say) {
				t.Errorf("message %q: want %q in it", err, c.say)
			}
		})
	}
}

func TestFromEPSG(t *testing.T) {
	for code, c := range map[int]struct {
		lon, lat, x, y float64
		note           string
	}{
		4326:  {16.37, 48.2, 16.37, 48.2, ""},
		4258:  {16.37, 48.2, 16.37, 48.2, "ETRS89"},
		4269:  {-96, 28.5, -96, 28.5, "NAD83"},
		32633: {16.37, 48.2, 601799.145791, 5339437.153786, ""},      // utm_points.csv
		32755: {148.1, -33.9, 601703.876491, 6248387.174356, ""},     // utm_points.csv
		25832: {12, 56, 687071.43910944, 6210141.32674801, "ETRS89"}, // PROJ builtins.gie utm 32
		3035:  {5, 50, 3962799.450955, 2999718.853160, "ETRS89"},     // EPSG GN 7-2, method 9820
	} {
		t.Run(fmt.Sprint(code), func(t *testing.T) {
			p, err := FromEPSG(code)
			if err != nil {
				t.Fatal(err)
			}
			x, y := p.Forward(c.lon, c.lat)
			near(t, "x", x, c.x, 1e-5)
			near(t, "y", y, c.y, 1e-5)
			lon, lat := p.Inverse(c.x, c.y)
			near(t, "lon", lon, c.lon, 1e-10)
			near(t, "lat", lat, c.lat, 1e-10)
			if note := Note(p); c.note == "" && note != "" || !strings.Contains(note, c.note) {
				t.Errorf("note %q, want %q in it", note, c.note)
			}
			if !strings.Contains(p.Name(), fmt.Sprint(code)) {
				t.Errorf("name %q does not have the code", p.Name())
			}
		})
	}
	// The first and the last zone: 177° west and east, the false origin on the equator.
	for _, c := range []struct {
		code   int
		lon, y float64
	}{
		{32601, -177, 0}, {32660, 177, 0}, {32701, -177, 1e7}, {32760, 177, 1e7}, {25828, -15, 0}, {25837, 39, 0},
	} {
		p, err := FromEPSG(c.code)
		if err != nil {
			t.Error(err)
			continue
		}
		if lon, lat := p.Inverse(500000, c.y); math.Abs(lon-c.lon) > 1e-12 || math.Abs(lat) > 1e-12 {
			t.Errorf("%s: false origin at %g, %g", p.Name(), lon, lat)
		}
	}
	for _, code := range []int{0, -32633, 32600, 32662, 32700, 32762, 25827, 25839, 2147483647} {
		_, err := FromEPSG(code)
		if u, ok := errors.AsType[*UnknownError](err); !ok || u.Name != fmt.Sprint(code) {
			t.Errorf("EPSG %d: %v", code, err)
		}
	}
}

// Every .prj of the shared shapefiles is read, and is longitude and latitude.
func TestSharedPrjFiles(t *testing.T) {
	files, err := filepath.Glob(check.Shared(t, "check", "shapefile", "*", "*.prj"))
	if err != nil || len(files) < 10 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		p, err := FromWKT(string(text))
		if err != nil {
			t.Errorf("%s: %v", filepath.Base(name), err)
			continue
		}
		if lon, lat := p.Inverse(11.5, 48.1); lon != 11.5 || lat != 48.1 {
			t.Errorf("%s: moved to %v, %v", filepath.Base(name), lon, lat)
		}
	}
}

// FuzzFromWKT: no panic; an error comes without a projection; what is accepted
// has a name, and its false origin comes from finite degrees and goes back there.
func FuzzFromWKT(f *testing.F) {
	for _, text := range []string{
		"", "\ufeff", gcsWGS84, gcsETRS89, gcsNAD83, utm33, laea3035, lambert93, texasFeet, osgb36, webMap,
		"\ufeff" + strings.NewReplacer("[", "(", "]", ")").Replace(laea3035) + "\n",
		`COMPD_CS["a ""b""",` + utm33 + `,VERT_CS["c",UNIT["metre",1]]]`,
		utm33 + `,VERTCS["d"]`, strings.Repeat("A[", 40), `GEOGCS[1e308,-.5,+,WEST,"`,
		`PROJCS["x",` + gcsWGS84 + `,PROJECTION["Lambert_Conformal_Conic_1SP"],PARAMETER["latitude_of_origin",-90],PARAMETER["central_meridian",360],PARAMETER["scale_factor",2],PARAMETER["false_easting",1e9],PARAMETER["false_northing",-1e9],UNIT["metre",1]]`,
	} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		p, err := FromWKT(text)
		if err != nil {
			if p != nil || err.Error() == "" {
				t.Fatalf("%v with %v", p, err)
			}
			return
		}
		if p.Name() == "" {
			t.Fatal("no name")
		}
		x, y := falseOrigin(t, p)
		lon, lat := p.Inverse(x, y)
		if !(math.Abs(lon) <= 540 && math.Abs(lat) <= 90.0000001) {
			t.Fatalf("false origin %v, %v of %s is at %v, %v", x, y, p.Name(), lon, lat)
		}
		bx, by := p.Forward(lon, lat)
		// 1 mm, or what rounding leaves of false origins of a million kilometres.
		if tol := 1e-3 + 1e-12*(math.Abs(x)+math.Abs(y)); math.Abs(bx-x) > tol || math.Abs(by-y) > tol {
			t.Fatalf("false origin %v, %v of %s comes back as %v, %v", x, y, p.Name(), bx, by)
		}
	})
}

func falseOrigin(t *testing.T, p Projection) (x, y float64) {
	switch p := p.(type) {
	case *shifted:
		return falseOrigin(t, p.Projection)
	case turned:
		return falseOrigin(t, p.Projection)
	case mercator:
		return p.fe, p.fn
	case *cassini:
		return p.fe, p.fn
	case *albers:
		return p.fe, p.fn
	case *stereographic:
		return p.fe, p.fn
	case *hotine:
		return p.fe, p.fn
	case *krovak:
		return p.Forward(p.lon0-8, 49)
	case system:
		return falseOrigin(t, p.Projection)
	case scaled:
		x, y = falseOrigin(t, p.Projection)
		return x / p.unit, y / p.unit
	case Geographic:
		return 0, 0
	case *TransverseMercator:
		return p.fe, p.fn
	case *LambertConformal:
		return p.fe, p.fn
	case *LambertEqualArea:
		return p.fe, p.fn
	}
	t.Fatalf("%T", p)
	return
}
