// Package turn holds the paths of turning at a row end: where a turn leads, how
// long it is, how much room and time it takes.
//
// In: where a pass ends and where the next begins (Rows, or two Poses), and what
// the steering allows (Steering). Out: a Path of pieces with linearly changing
// curvature, in metres on the field's plane, that ends in the goal within Exact,
// or an Unfit that says why this kind of turn does not serve.
//
//	 plain U      bulb         hook       fishtail
//	             ╭─────╮     ╭────╮
//	╭───────╮    ╰╮   ╭╯     ╰─╮  │    ●──┬───┬──●
//	│       │     │   │        │  │       │   │       ● direction changes
//	↑       ↓     ↑   ↓        ↑  ↓       ↑   ↓
//
// The path is that of the steered reference point, mostly the middle of the
// rear axle. What follows behind it, the ground it sweeps and the boundary are not
// known here.
package turn
