// Package vector writes the layers of a checked operation, and other layers of
// areas, lines and points, for other programs.
//
// In: coverage.Result, in metres on the field's local plane, or Layer, in degrees
// on WGS84. Out: files in degrees on WGS84, longitude first. Areas are m²,
// lengths m, bearings degrees from true north, times UTC. It judges nothing and
// draws nothing.
//
// A Layer is the same for all formats: LayersOf and Places make it,
// with one list of properties. Every writer checks it whole before its first
// byte: a position that is not a number, a ring or line that jumps across the antimeridian, a ring that
// is open or runs the wrong way is a *LayerError. Shapes on the local plane are cut there as they are taken to degrees (Halved
// does it for lines in degrees).
//
//	writer            format                         holds             positions
//	Write             GeoJSON (RFC 7946), streaming  the named layers  8 decimals, 10 or 12 where rings would touch or areas change
//	WriteGeoJSON      the same                       any layer         as above
//	Shapefile         .shp .shx .dbf .prj .cpg       any layer         as given (64-bit numbers)
//	ZipShapefiles     the same in a zip, names.txt   many layers       as given
//	WriteKML, KMZ     KML 2.2, a folder per layer    many layers       as given (shortest decimals)
//	WriteGPX          GPX 1.1                        points, lines     as given (shortest decimals)
//	WriteGeoPackage   GeoPackage 1.2                 many layers       as given
//	WriteCSV          RFC 4180 for spreadsheets      rows only         -
//	WriteWKB          RFC 4180, ISO WKB in hex       any layer         as given
//	WriteISOXML       ISO 11783-10, TASKDATA.XML     areas, lines      9 decimals
//
// Features keep the order of the layer, polygons the order of their rings. Outer
// rings run counter-clockwise and holes clockwise, in a shapefile the other way
// round. An empty layer is written as one that is empty, but for guidance groups.
//
// LayersOf rounds positions as GeoJSON has them, so that a strip has the same
// corners in every file, and numbers to the decimals of their property. Pieces
// thinner than that vanish and are counted (LeftOut, rings_lost_by_rounding).
//
// Text that a format cannot hold is replaced by U+FFFD: what is not UTF-8, NUL,
// and in XML the other control characters. Lists are text with blanks between. A shapefile cuts text to
// 254 bytes, see ShapefileFindings. Files are dated by the operation, or not at all: no writer reads a clock but
// WriteGeoPackage, whose standard wants a date, and which says so.
//
// Names in a shapefile have at most 10 characters. Those of our layers that
// differ (WriteLegend says it for any layer, ZipShapefiles packs it as names.txt):
//
//	mean_width_m  mean_w_m
//	max_width_m   max_w_m
//	bearing_deg   bearing
//
// Other longer names are cut to 10, and "_2", "_3" ... tells alike ones apart.
package vector
