// Package vector writes the layers of a checked operation for other programs:
// GeoJSON (RFC 7946) and a plain shapefile.
//
// In: coverage.Result, in metres on the field's local plane. Out: files in
// degrees on WGS84. Areas are m², lengths m, bearings degrees from true north,
// times UTC. It judges nothing and draws nothing.
package vector
