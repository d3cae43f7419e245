// Package crs takes the coordinates of a map to longitude and latitude on WGS84, and back: map projections, the shifts of
// datums, a table of the coordinate systems of the EPSG dataset, and a reader of the WKT in a .prj file.
//
// In and out: degrees, and metres or whatever the map is in. It knows nothing of
// fields. A system it cannot do, or not exactly enough, is refused by name. The table
// is written by internal/gen out of the EPSG dataset in Debian's proj-data, never by hand.
package crs
