// Package demo invents a farm and the logs of one operation on it, for trying
// balk out and for its tests. Everything in it is made up and says so.
//
// In: a folder and a seed. Out: boundaries and tracks as GeoJSON, as shapefile
// and as zipped shapefile. The same seed gives the same bytes.
package demo
