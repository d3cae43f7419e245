// Package rig is the set: tractor and implement, how they hang together and how
// they move.
//
// In: the description of a machine (Implement, Mount), in metres and degrees. Out:
// where its parts are when the antenna moves (Set), in metres on the plane. What
// the set works, and whether it can turn, is judged elsewhere (coverage, turn).
package rig
