// Package rival is a simple planner of another hand than coverage/plan, so that a plan of balk can be held against one that was
// found without it. Only tests import it, and the count that .ci/plans makes.
//
// In: a field in metres on a plane, a set and what things cost (Prices). Out: a Plan: how many rounds, which direction, which
// row pattern, the hours and the ground missed; a bound of the hours of straight rows; and a Row that holds them beside
// what coverage/plan comes to at the same prices.
//
// It lays rounds inside the boundary, straight rows at every second degree and along long edges, and orders the rows of a block by
// fixed patterns: the next row, every second or third and back again, lands. Turns are the shortest ways forward
// (Dubins 1957) or, where the set may reverse, a quarter, back, a quarter. A turn that leaves the field is
// driven earlier, with both row ends lifted so much earlier, and what that leaves counts as missed. A corner of a round
// is rounded on the least radius, or driven to its end and gone back for as far as the set has room for that, whichever costs less.
//
// Its rounds and rows are its own: of geo/plane it uses points, rings and their areas, of coverage/plan nothing but what is
// compared. Its closed forms are derived where they stand.
//
// Not done here: bent rows, rounds eased bend by bend, runs round obstacles other than along the rim, and any
// improvement of an order.
package rival
