// Package turn holds the paths of turning at a row end: where a turn leads, how
// long it is, how much room and time it takes, and whether a set can drive it here.
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
// rear axle. The set is then put on it (Drive): where tractor and implement are, the ground they sweep
// (Driven.Swept), how that lies in a field (Room.Fit), and from it whether a turn can be driven: Judge for one, Table
// for a machine, FieldEnds and LeastHeadland for a field. Machines come as rig.Implement. What is worked
// or missed along the rows is not known here.
package turn
