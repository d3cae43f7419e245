// Package demo invents a farm and the logs of one operation on it, for trying
// balk out and for its tests. Everything in it is made up and says so.
//
// In: a folder and a seed. Out: boundaries and tracks as GeoJSON, as shapefile
// and as zipped shapefile, and the sets as implement files. The same seed gives the same bytes.
//
// The work is planned by coverage/plan, with faults put in (route), driven by a driver who looks ahead
// (drive), on sets that move as coverage/rig says, and logged once a second (log). Farm.Faults is what is
// wrong on purpose: place, kind and size, for tests that look for exactly that.
package demo
