// Package crs takes map coordinates to longitude and latitude and back:
// transverse Mercator, Lambert conformal conic, Lambert azimuthal equal area,
// and a reader of the WKT1 text in a .prj file.
//
// In and out: degrees on the ellipsoid, metres on the map. It knows nothing of
// fields. A system it cannot do exactly is refused by name.
package crs
