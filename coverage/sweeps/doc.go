// Package sweeps says whether the sweeps of a frame still cut everything when the
// frame crabs, runs in a curve, or has lost or worn some.
//
// In: a layout (rig.Layout), metres seen from the middle of the bar. Out: the lap of
// neighbours in the direction of travel, the largest crab angle and the least radius at
// which everything is still cut, what wear and loss do, and what would have to change.
// Angles are radians, lengths metres. Nothing here knows a field or a log. A frame is
// rigid and level: blunt edges, springs, stones and uneven ground are not seen.
package sweeps
