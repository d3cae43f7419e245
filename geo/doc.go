// Package geo is the ground: fields, boundaries, tracks, and the local metric
// plane that takes them from longitude and latitude to metres.
//
// In: positions in degrees on WGS84. Out: plane.XY in metres. It reads no files
// (geo/read does) and judges no work (coverage does).
package geo
