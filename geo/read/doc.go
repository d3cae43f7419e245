// Package read takes field boundaries and GPS tracks out of files: GeoJSON,
// shapefiles, GeoPackages, FlatGeobuf, KML, ISO 11783-10 task data, and tables (CSV, XLSX) with geometries;
// tracks also out of tables with longitude and latitude, NMEA 0183, GPX and computed positions, and out of all files
// of a folder. All of these may come in a zip or gzip, in UTF-16, or through standard input.
// The format is told by content, never by the extension.
//
// In: files in any map projection that geo/crs can undo. Out: geo.Field and
// geo.Track in degrees on WGS84, metres, metres per second and seconds since
// 1970-01-01 UTC, together with findings: what in the file was odd, and what of
// it could not be used.
//
// A file with something usable in it gives that and findings; a file with
// nothing usable is an error. Nothing is judged here (coverage does that), no
// track is cleaned and no gap is filled.
package read
