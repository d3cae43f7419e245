package crs

import (
	"fmt"
	"math"
	"strings"
)

// UnknownError names a part of a coordinate system that this package does not
// know and therefore refuses.
type UnknownError struct {
	Name string // as the file writes it
	What string // "projection", "unit", "datum", "EPSG code" ...
}

func (e *UnknownError) Error() string {
	return fmt.Sprintf("unknown %s %q: convert the file to WGS84 longitude and latitude first", e.What, e.Name)
}

// DatumError names a datum that lies some metres to some hundred metres from
// WGS84. The shift is not in the file, or is but not exact, so it is refused.
type DatumError struct {
	Name string // as the file writes it
	Why  string
}

func (e *DatumError) Error() string {
	return fmt.Sprintf("datum %q %s: convert the file to WGS84 longitude and latitude first", e.Name, e.Why)
}

// likeWGS84 is what is taken as WGS84 without a shift. The EPSG registry has a
// null transformation to WGS84 for each (from memory). They are fixed to their
// plates while WGS84 follows the whole earth, so that they part by up to 7 cm a
// year: a metre or two by now, the same for every point of a field. Areas and
// widths do not feel it, but a boundary in one and a track in another do; Note
// says so. Names in small letters without signs.
var likeWGS84 = map[string]string{
	"wgs84": "", "wgs1984": "", "worldgeodeticsystem1984": "", "worldgeodeticsystem1984ensemble": "",
	"etrs89": "ETRS89", "etrs1989": "ETRS89", "europeanterrestrialreferencesystem1989": "ETRS89",
	"europeanterrestrialreferencesystem1989ensemble": "ETRS89",
	"rgf93":                        "RGF93",
	"rgf1993":                      "RGF93",
	"reseaugeodesiquefrancais1993": "RGF93",
	"sweref99":                     "SWEREF99",
	"nad83":                        "NAD83", "nad1983": "NAD83", "northamerican1983": "NAD83", "northamericandatum1983": "NAD83",
	"nad832011": "NAD83(2011)", "nad19832011": "NAD83(2011)", "nad83nationalspatialreferencesystem2011": "NAD83(2011)",
	"northamerican1983harn": "NAD83(HARN)", "nad83highaccuracyreferencenetwork": "NAD83(HARN)",
	"northamerican1983csrs": "NAD83(CSRS)", "nad83canadianspatialreferencesystem": "NAD83(CSRS)",
	"gda94": "GDA94", "gda1994": "GDA94", "geocentricdatumofaustralia1994": "GDA94",
	"gda2020": "GDA2020", "geocentricdatumofaustralia2020": "GDA2020",
	"nzgd2000": "NZGD2000", "newzealandgeodeticdatum2000": "NZGD2000",
	"sirgas2000": "SIRGAS 2000", "sistemadereferenciageocentricoparalasamericas2000": "SIRGAS 2000",
	"sistemadereferenciageocentricoparaamericadelsur2000": "SIRGAS 2000",
}

// plain is a name in small letters without signs and spaces.
func plain(name string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			return r
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		case r > 127:
			return r
		}
		return -1
	}, name)
}

// datum reads DATUM[...]: its ellipsoid, and the name of the system that is
// taken as WGS84 ("" for WGS84 itself).
func datum(n *node) (e Ellipsoid, like string, err error) {
	if err := n.only("SPHEROID TOWGS84 AUTHORITY", ""); err != nil {
		return Ellipsoid{}, "", err
	}
	s := n.kid("SPHEROID")
	if s == nil || len(s.nums) < 2 {
		return Ellipsoid{}, "", fmt.Errorf("projection text: datum %q has no SPHEROID with half axis and inverse flattening", n.name())
	}
	e = Ellipsoid{A: s.nums[0], InvF: s.nums[1]}
	// GRS80 and WGS84 differ by 1.5e-6 in the inverse flattening; files round it.
	if math.Abs(e.A-WGS84.A) > 0.01 || math.Abs(e.InvF-WGS84.InvF) > 1e-5 {
		return Ellipsoid{}, "", &DatumError{n.name(), fmt.Sprintf("stands on the ellipsoid %q (%.10g m, 1/%.10g) and needs a shift", s.name(), e.A, e.InvF)}
	}
	shift := n.kid("TOWGS84")
	if shift != nil {
		if len(shift.nums) != 3 && len(shift.nums) != 7 {
			return Ellipsoid{}, "", fmt.Errorf("projection text: datum %q: TOWGS84 has %d numbers: want 3 or 7", n.name(), len(shift.nums))
		}
		for _, v := range shift.nums {
			if v != 0 {
				return Ellipsoid{}, "", &DatumError{n.name(), fmt.Sprintf("needs a shift, TOWGS84%v", shift.nums)}
			}
		}
	}
	key := plain(n.name())
	if strings.HasPrefix(strings.ToLower(n.name()), "d_") {
		key = key[1:]
	}
	like, known := likeWGS84[key]
	switch {
	case known:
		return e, like, nil
	case shift != nil: // the file itself says that there is nothing to shift
		return e, n.name(), nil
	}
	return Ellipsoid{}, "", &UnknownError{Name: n.name(), What: "datum"}
}
