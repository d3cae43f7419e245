package geo

import (
	"math"

	"github.com/paulmach/orb"
)

// OnEarth says whether longitude and latitude in degrees are a place: NaN and infinite are not.
func OnEarth(lon, lat float64) bool {
	return lon >= -180 && lon <= 180 && lat >= -90 && lat <= 90
}

// Place is a place for a finding; nil where it is none on earth.
func Place(lon, lat float64) *orb.Point {
	if !OnEarth(lon, lat) {
		return nil
	}
	return &orb.Point{lon, lat}
}

// PlaceHint says what a place outside ±180, ±90 may really be.
func PlaceHint(x, y float64) string {
	switch {
	case math.Abs(x) <= 90 && math.Abs(y) <= 180:
		return "this looks like swapped lat/lon: longitude comes first"
	case math.Abs(x) > 1000 || math.Abs(y) > 1000:
		return "this looks like metres of a map projection: convert the file to WGS84 longitude and latitude, or name its system (.prj of a shapefile, crs member of a GeoJSON)"
	}
	return "longitude and latitude in degrees on WGS84 are wanted"
}
