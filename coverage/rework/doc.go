// Package rework plans what to work again: it takes a checked operation to the
// missed strips worth a visit, the passes that work them, the way that joins these,
// and what is left then.
//
// In: coverage.Result, the implement that does it (rig.Implement), Options. Out: Plan, all
// in metres on the plane of that result.
//
//	choice  →  swaths  →  way  →  simulation
//	strips     rows      order   what is left,
//	and why    along a    and     what is worked
//	not        guide      turns   twice for it
//
// Lines of passes are those of the middle of the worked width, ways between them those
// of the tractor's rear axle. On a bent pass the bar of a trailed implement is taken to follow its line, and
// steering to take no way (arcs, no clothoids).
//
// Not done here: files for the contractor, depth of work, soil and slope, and ground of unknown state, which is
// no missed ground.
package rework
