// Package plan answers before the work: which working width, which direction and
// how deep a headland serve on this field?
//
// In: the field as polygons in metres on a plane, the implement (rig.Implement) and
// Options. Out: a Plan (headland rounds, passes, the order they are driven in and
// every turn between them), a Candidate with what it costs, and Guidance lines.
// All lengths are metres, areas m², times seconds unless a name says otherwise;
// directions are geo.Heading, radians counter-clockwise from east on that plane.
//
//	╭───────────────╮
//	│ ╭───────────╮ │  headland rounds: insets of boundary and obstacles by (k − ½)·credited
//	│ │ ───────── │ │
//	│ │ ───────── │ │  passes in the interior, the field inset by rounds × credited
//	│ ╰───────────╯ │
//	╰───────────────╯
//
// Rounds are laid so that the set can follow them: corners rounded, or driven to their end where that takes less, circles round
// obstacles and reflex corners that are sharper than it steers, bends in narrow arms eased one by one; at those left it is driven in
// stretches, as far as the set stands in the field, or at the price of what does not fit to the corner. What stays in corners is missed, and has its price in the ranking. So has what rows leave that end early for their turn to fit.
//
// An obstacle no wider than the bar needs no rounds about it where that takes less: rows and rounds are bent past it, or the bar is lifted
// before it and lowered behind it, or the row ends there (past.go). No part of the bar goes over an obstacle, lifted or not.
//
// A plan is judged as a log is: Simulate lays its passes over the field with ground.Lay.
//
// Not done here: slopes, soil, traffic that must not cross worked ground. Guidance is
// taken to hold the middle of the bar on its line (the tractor's own way is looked at in turns and runs
// only), and what a drawbar still swings when the bar is lowered again is not simulated.
package plan
