// Package pattern says what many missed strips have in common: rows that begin late on one side of the field, a line that is shifted from one
// pass on, passes that turn or slide aside more and more, a bar that hangs aside, lines laid too far apart.
//
// In: what is known of joins, row ends and strips, in metres and degrees from true north. Out: one Pattern each, with its ground,
// its strips, its evidence. Nothing here knows fields or logs, or what people read of a pattern.
package pattern
