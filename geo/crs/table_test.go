package crs

import (
	"bytes"
	"compress/gzip"
	"errors"
	"math"
	"strings"
	"testing"
)

// The whole table can be read, and every system in it takes the place it counts from to the map and back.
func TestTable(t *testing.T) {
	tab, err := readTable(packed)
	if err != nil {
		t.Fatal(err)
	}
	built, refused := 0, 0
	for code, m := range tab.systems {
		p, err := FromEPSG(code)
		if m.method == nil {
			refused++
			if _, ok := errors.AsType[*DatumError](err); !ok {
				t.Errorf("EPSG:%d: %v, %v", code, p, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("EPSG:%d: %v", code, err)
			continue
		}
		built++
		lon, lat := m.datum.meridian, 0.0
		keys := strings.Fields(m.method.params)
		for i, v := range m.values {
			switch strings.TrimSuffix(keys[i], "?") {
			case "lon0":
				lon = wrap(lon + v)
			case "lat0":
				lat = v
			}
		}
		if lat == 0 || math.Abs(lat) > 89 {
			lat = 40
		}
		if at, polar := p.(*polar); polar {
			lat = 70 * at.pole
		}
		if m.method.code == southwardCode {
			lat = -40
		}
		x, y := p.Forward(lon, lat)
		again, lat2 := p.Inverse(x, y)
		if !(math.Abs(wrap(again-lon)) < 1e-8 && math.Abs(lat2-lat) < 1e-8) {
			t.Errorf("%s: %g, %g is %g, %g and back %g, %g", p.Name(), lon, lat, x, y, again, lat2)
		}
	}
	if built < 4000 || refused < 300 {
		t.Errorf("%d systems, %d refused", built, refused)
	}
	for _, d := range tab.geographic {
		for _, s := range d.shift {
			if s.accuracy > 5 || s.null() && s.accuracy > 5 {
				t.Errorf("%s: EPSG:%d is exact to %g m", d.name, s.code, s.accuracy)
			}
		}
	}
	for _, text := range []string{"x\n", "d\t1\t2\n", "1\t9807\t0\t1\n", "d\t1\t2\tn\tx\t300\t0\t\n", "d\t1\t2\tn\t6e6\t300\t0\t\n5\t9807\t0\t1\t0\n"} {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		if _, err := z.Write([]byte(text)); err != nil {
			t.Fatal(err)
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		if _, err := readTable(b.Bytes()); err == nil {
			t.Errorf("%q was read as a table", text)
		}
	}
}

// Worked examples of EPSG guidance note 7-2, values from memory: each was held against PROJ too.
func TestWorkedExamples(t *testing.T) {
	deg := func(d, m, s float64) float64 { return d + m/60 + s/3600 }
	bessel, clarke := Ellipsoid{6377397.155, 299.1528128}, Ellipsoid{6378206.4, 294.978698213898}
	for _, c := range []struct {
		name           string
		p              func() (Projection, error)
		lon, lat, x, y float64
	}{
		{"oblique stereographic: Amersfoort / RD New", func() (Projection, error) {
			return newStereographic(bessel, deg(5, 23, 15.500), deg(52, 9, 22.178), 0.9999079, 155000, 463000)
		}, 6, 53, 196105.283, 557057.739},
		{"polar stereographic variant A: WGS 84 / UPS North", func() (Projection, error) { return newPolar(WGS84, 0, 90, 0.994, 2e6, 2e6) }, 44, 73, 3320416.75, 632668.43},
		{"polar stereographic variant B: WGS 84 / Australian Antarctic", func() (Projection, error) { return newPolar(WGS84, 70, -71, 1, 6e6, 6e6) }, 120, -75, 7255380.79, 7053389.56},
		{"Krovak north orientated: S-JTSK / Krovak East North", func() (Projection, error) {
			return newKrovak(bessel, deg(24, 50, 0), 49.5, deg(30, 17, 17.30311), 78.5, 0.9999, 0, 0), nil
		}, deg(16, 50, 59.179), deg(50, 12, 32.442), -568991.00, -1050538.64},
		{"Hotine variant B: Timbalai 1948 / R.S.O. Borneo", func() (Projection, error) {
			return newHotine(Ellipsoid{6377298.556, 300.8017}, 115, 4, deg(53, 18, 56.9537), deg(53, 7, 48.3685), 0.99984, 590476.87, 442857.65, true)
		}, deg(115, 48, 19.8196), deg(5, 23, 14.1129), 679245.73, 596562.78},
		{"Mercator variant A: Makassar / NEIEZ", func() (Projection, error) { return newMercator(bessel, 110, 0.997, 3900000, 900000), nil }, 120, -3, 5009726.58, 569150.82},
		{"pseudo-Mercator: WGS 84", func() (Projection, error) { return newMercator(Ellipsoid{A: 6378137}, 0, 1, 0, 0), nil }, -deg(100, 20, 0), deg(24, 22, 54.433), -11169055.58, 2800000.00},
		{"Cassini-Soldner: Trinidad 1903, in Clarke's links of 0.201166195164 m", func() (Projection, error) {
			return scaled{newCassini(Ellipsoid{6378293.645, 294.26}, -deg(61, 20, 0), deg(10, 26, 30), 430000*0.201166195164, 325000*0.201166195164), 0.201166195164}, nil
		}, -62, 10, 66644.94, 82536.22},
		{"Albers, Snyder USGS PP 1395 p. 292", func() (Projection, error) { return newAlbers(clarke, -96, 23, 29.5, 45.5, 0, 0) }, -75, 35, 1885472.7, 1535925.0},
	} {
		p, err := c.p()
		if err != nil {
			t.Error(c.name, err)
			continue
		}
		x, y := p.Forward(c.lon, c.lat)
		if math.Abs(x-c.x) > 0.06 || math.Abs(y-c.y) > 0.06 {
			t.Errorf("%s: %.3f, %.3f, want %.3f, %.3f", c.name, x, y, c.x, c.y)
		}
		lon, lat := p.Inverse(x, y)
		near(t, c.name+" lon", lon, c.lon, 2e-9)
		near(t, c.name+" lat", lat, c.lat, 2e-9)
	}
}

// WKT2 says the same as WKT1 and as the code. The texts are as PROJ 9.1 writes them, shortened.
func TestWKT2(t *testing.T) {
	etrs := `BASEGEOGCRS["ETRS89",ENSEMBLE["European Terrestrial Reference System 1989 ensemble",MEMBER["European Terrestrial Reference Frame 1989"],MEMBER["European Terrestrial Reference Frame 1990"],ELLIPSOID["GRS 1980",6378137,298.257222101,LENGTHUNIT["metre",1]],ENSEMBLEACCURACY[0.1]],PRIMEM["Greenwich",0,ANGLEUNIT["degree",0.0174532925199433]],ID["EPSG",4258]]`
	utm := `PROJCRS["ETRS89 / UTM zone 32N",` + etrs + `,CONVERSION["UTM zone 32N",METHOD["Transverse Mercator",ID["EPSG",9807]],PARAMETER["Latitude of natural origin",0,ANGLEUNIT["degree",0.0174532925199433],ID["EPSG",8801]],PARAMETER["Longitude of natural origin",9,ANGLEUNIT["degree",0.0174532925199433],ID["EPSG",8802]],PARAMETER["Scale factor at natural origin",0.9996,SCALEUNIT["unity",1],ID["EPSG",8805]],PARAMETER["False easting",500000,LENGTHUNIT["metre",1],ID["EPSG",8806]],PARAMETER["False northing",0,LENGTHUNIT["metre",1],ID["EPSG",8807]]],CS[Cartesian,2],AXIS["(E)",east,ORDER[1],LENGTHUNIT["metre",1]],AXIS["(N)",north,ORDER[2],LENGTHUNIT["metre",1]],USAGE[SCOPE["Engineering survey, topographic mapping."],AREA["Europe"],BBOX[38.76,6,84.33,12]],ID["EPSG",25832]]`
	for _, c := range []struct {
		name, text string
		code       int
		lon, lat   float64
	}{
		{"UTM", utm, 25832, 11.5, 48.1},
		{"UTM with its meridian in grades", strings.Replace(utm, `"Longitude of natural origin",9,ANGLEUNIT["degree",0.0174532925199433]`, `"Longitude of natural origin",10,ANGLEUNIT["grad",0.015707963267949]`, 1), 25832, 11.5, 48.1},
		{"compound", `COMPOUNDCRS["x",` + utm + `,VERTCRS["EVRF2019",VDATUM["EVRF"],CS[vertical,1],AXIS["height",up,LENGTHUNIT["metre",1]]]]`, 25832, 11.5, 48.1},
		{"longitude and latitude", `GEOGCRS["ETRS89",ENSEMBLE["European Terrestrial Reference System 1989 ensemble",ELLIPSOID["GRS 1980",6378137,298.257222101]],PRIMEM["Greenwich",0],CS[ellipsoidal,2],AXIS["geodetic latitude (Lat)",north,ORDER[1],ANGLEUNIT["degree",0.0174532925199433]],AXIS["geodetic longitude (Lon)",east,ORDER[2],ANGLEUNIT["degree",0.0174532925199433]],ID["EPSG",4258]]`, 4258, 11.5, 48.1},
		{"a datum that is shifted", strings.NewReplacer(etrs, `BASEGEOGCRS["DHDN",DATUM["Deutsches Hauptdreiecksnetz",ELLIPSOID["Bessel 1841",6377397.155,299.1528128]]]`, "0.9996", "1", "500000", "3500000", "25832", "31467").Replace(utm), 31467, 9.5, 48.1},
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
		near(t, c.name+" lon", lon, c.lon, 1e-10)
		near(t, c.name+" lat", lat, c.lat, 1e-10)
		if Note(p) != Note(want) {
			t.Errorf("%s: %q, want %q", c.name, Note(p), Note(want))
		}
	}
}

// National grids by their .prj as ESRI writes it are those of their codes: the same places, the same transformation.
func TestNationalGridsByText(t *testing.T) {
	bessel := func(name string) string {
		return `GEOGCS["GCS_` + name + `",DATUM["D_` + name + `",SPHEROID["Bessel_1841",6377397.155,299.1528128]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`
	}
	for code, c := range map[int]struct {
		text     string
		lon, lat float64
	}{
		27700: {osgb36, -1.5, 52.3},
		3857:  {webMap, 11.5, 48.1},
		5514:  {`PROJCS["S-JTSK_Krovak_East_North",` + bessel("S_JTSK") + `,PROJECTION["Krovak"],PARAMETER["False_Easting",0.0],PARAMETER["False_Northing",0.0],PARAMETER["Pseudo_Standard_Parallel_1",78.5],PARAMETER["Scale_Factor",0.9999],PARAMETER["Azimuth",30.28813975277778],PARAMETER["Longitude_Of_Center",24.83333333333333],PARAMETER["Latitude_Of_Center",49.5],PARAMETER["X_Scale",-1.0],PARAMETER["Y_Scale",1.0],PARAMETER["XY_Plane_Rotation",90.0],UNIT["Meter",1.0]]`, 14.5, 49.9},
		2056:  {`PROJCS["CH1903+_LV95",` + bessel("CH1903+") + `,PROJECTION["Hotine_Oblique_Mercator_Azimuth_Center"],PARAMETER["False_Easting",2600000.0],PARAMETER["False_Northing",1200000.0],PARAMETER["Scale_Factor",1.0],PARAMETER["Azimuth",90.0],PARAMETER["Longitude_Of_Center",7.439583333333333],PARAMETER["Latitude_Of_Center",46.95240555555556],UNIT["Meter",1.0]]`, 8.5, 47.2},
		28992: {`PROJCS["RD_New",` + bessel("Amersfoort") + `,PROJECTION["Double_Stereographic"],PARAMETER["False_Easting",155000.0],PARAMETER["False_Northing",463000.0],PARAMETER["Central_Meridian",5.38763888888889],PARAMETER["Scale_Factor",0.9999079],PARAMETER["Latitude_Of_Origin",52.15616055555555],UNIT["Meter",1.0]]`, 5.9, 52.9},
	} {
		p, err := FromWKT(c.text)
		if err != nil {
			t.Errorf("EPSG:%d: %v", code, err)
			continue
		}
		want, err := FromEPSG(code)
		if err != nil {
			t.Fatal(err)
		}
		x, y := want.Forward(c.lon, c.lat)
		lon, lat := p.Inverse(x, y)
		near(t, "lon", lon, c.lon, 1e-9)
		near(t, "lat", lat, c.lat, 1e-9)
		if Note(p) != Note(want) {
			t.Errorf("EPSG:%d: %q, want %q", code, Note(p), Note(want))
		}
	}
}
