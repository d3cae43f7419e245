// Package ground lays passes over a field: what they worked once, twice or more often, what they left, what lies outside
// and in the headland. It is the one entrance to the engine of geo/plane for work that was done or is planned.
//
// In: the field and drive.Run, in metres on one plane. Out: Laid, areas in m² that add up, and the layers of the map. It
// knows no tracks and no degrees, and gives no reasons.
package ground
