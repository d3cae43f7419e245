// Package plane is the door to robust plane geometry.
//
// In: points, rings and outlines in metres on a flat plane, x to the east and
// y to the north. Out: areas in square metres and clean polygons in metres.
// Nothing here knows longitude, latitude, tracks or fields.
//
// Coordinates live on a lattice of 2^-26 m (15 nm): see Snap. Differences of
// lattice points are exact in float64 as long as a field stays below 2^26 m,
// so every decision of the arrangement (which side, do they cross) is exact.
package plane
