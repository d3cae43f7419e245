package crs

import (
	"fmt"
	"strconv"
)

// FromEPSG is the system with a code of the EPSG registry, for the crs member
// that GeoJSON had before RFC 7946: 4326 (WGS84), 4258 (ETRS89), 4269 (NAD83),
// 326zz and 327zz (UTM on WGS84, north and south), 258zz (UTM on ETRS89, zones
// 28 to 38) and 3035 (LAEA Europe). x is east and y is north, as GeoJSON has it
// also where the registry names north first. Others are an *UnknownError with
// the number; for the datums see FromWKT.
func FromEPSG(code int) (Projection, error) {
	named := func(p Projection, name, like string) (Projection, error) {
		return system{p, fmt.Sprintf("%s (EPSG:%d)", name, code), like}, nil
	}
	utm := func(e Ellipsoid, zone int, fn float64) Projection {
		tm := NewTransverseMercator(e, float64(6*zone-183), 0, 0.9996, 500000, fn)
		return &tm
	}
	zone := code % 100
	switch {
	case code == 4326:
		return named(Geographic{}, "WGS 84", "")
	case code == 4258:
		return named(Geographic{}, "ETRS89", "ETRS89")
	case code == 4269:
		return named(Geographic{}, "NAD83", "NAD83")
	case code == 3035:
		p, err := NewLambertEqualArea(GRS80, 10, 52, 4321000, 3210000)
		if err != nil {
			return nil, err
		}
		return named(&p, "ETRS89 / LAEA Europe", "ETRS89")
	case code/100 == 326 && zone >= 1 && zone <= 60:
		return named(utm(WGS84, zone, 0), fmt.Sprintf("WGS 84 / UTM zone %dN", zone), "")
	case code/100 == 327 && zone >= 1 && zone <= 60:
		return named(utm(WGS84, zone, 1e7), fmt.Sprintf("WGS 84 / UTM zone %dS", zone), "")
	case code/100 == 258 && zone >= 28 && zone <= 38:
		return named(utm(GRS80, zone, 0), fmt.Sprintf("ETRS89 / UTM zone %dN", zone), "ETRS89")
	}
	return nil, &UnknownError{Name: strconv.Itoa(code), What: "EPSG code"}
}
