// Package ground lays passes over a field: what they worked once, twice or more often, what they left, what lies outside
// and in the headland. It is the one entrance to the engine of geo/plane for work that was done or is planned.
//
// In: the field and drive.Run, in metres on one plane. Out: Laid, areas in m² that add up, and the layers of the map. It
// knows no tracks and no degrees, and gives no reasons.
//
// A log in which the bar moves to and fro within the receiver's noise (steps of 1 cm, noise of decimetres) costs more than others: most of its
// quads are bow-ties, two triangles as long as half the bar each, and merged works out their union. None can be left out beforehand without changing it: of
// 3,889 such quads in four logs of 10,000 fixes none lay wholly in another one, since its ends stick out to the side by the noise. Merging 2, 3, 4, 6
// or 8 at a time instead of 16 was tried, and is no faster on the whole.
package ground
