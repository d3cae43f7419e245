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

// plain is a name in small letters without signs and spaces.
func plain(name string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '+': // CH1903 and CH1903+ are two
			return r
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		case r > 127:
			return r
		}
		return -1
	}, name)
}

// plainDatum is plain for the name of a datum, which some files begin with D_.
func plainDatum(name string) string {
	if len(name) > 2 && strings.EqualFold(name[:2], "D_") {
		name = name[2:]
	}
	return plain(name)
}

// earth is what a GEOGCS says.
type earth struct {
	*datum
	angle    float64 // degrees per unit of angle
	meridian float64 // degrees east of Greenwich
}

// datumOf reads DATUM[...]: the datum of the table that it means, by its code, by that of its system, or by its name; or one
// of which the text itself says that there is nothing to shift.
func datumOf(n, geogcs *node) (*datum, error) {
	if err := n.only("SPHEROID TOWGS84 AUTHORITY ANCHOR ENSEMBLEACCURACY", "MEMBER"); err != nil {
		return nil, err
	}
	s := n.kid("SPHEROID")
	if s == nil || len(s.nums) < 2 {
		return nil, fmt.Errorf("projection text: datum %q has no SPHEROID with half axis and inverse flattening", n.name())
	}
	e := Ellipsoid{A: s.nums[0], InvF: s.nums[1]}
	towgs := n.kid("TOWGS84")
	null := towgs != nil
	if towgs != nil {
		if len(towgs.nums) != 3 && len(towgs.nums) != 7 {
			return nil, fmt.Errorf("projection text: datum %q: TOWGS84 has %d numbers: want 3 or 7", n.name(), len(towgs.nums))
		}
		for _, v := range towgs.nums {
			null = null && v == 0
		}
	}
	t := systems()
	d := t.names[plainDatum(n.name())]
	if code, ok := n.epsg(); ok && t.datums[code] != nil {
		d = t.datums[code]
	} else if code, ok := geogcs.epsg(); ok && d == nil {
		d = t.geographic[code]
	}
	switch {
	case d != nil && !d.e.like(e):
		return nil, &DatumError{n.name(), fmt.Sprintf("stands on the ellipsoid %q (%.10g m, 1/%.10g), elsewhere on one of %.10g m, 1/%.10g", s.name(), e.A, e.InvF, d.e.A, d.e.InvF)}
	case d != nil && towgs != nil && !null && len(d.shift) > 0 && d.shift[0].null():
		return nil, &DatumError{n.name(), fmt.Sprintf("needs a shift, TOWGS84%v, which the datum of that name has not", towgs.nums)}
	case d != nil:
		return d, nil
	case !e.like(WGS84):
		return nil, &DatumError{n.name(), fmt.Sprintf("stands on the ellipsoid %q (%.10g m, 1/%.10g) and needs a shift", s.name(), e.A, e.InvF)}
	case towgs != nil && !null:
		return nil, &DatumError{n.name(), fmt.Sprintf("needs a shift, TOWGS84%v, of which nothing says how exact it is", towgs.nums)}
	case null: // the file itself says that there is nothing to shift
		return &datum{name: n.name(), e: e, shift: []shift{{accuracy: 2}}}, nil
	}
	return nil, &UnknownError{Name: n.name(), What: "datum"}
}

// like says whether two ellipsoids are the same for a map: GRS80 and WGS84 differ by 1.5e-6 in the inverse flattening, and
// files round it.
func (e Ellipsoid) like(o Ellipsoid) bool {
	return math.Abs(e.A-o.A) < 0.01 && math.Abs(e.InvF-o.InvF) < 1e-5
}
