package answer

import (
	"math"

	"balk/coverage"
	"balk/export/words"
)

// Beside are sentences that stand with the details: what else a log cannot tell. A constant shift against the boundary, with what is missed by
// either reading, missed in m² being that as logged; what else would stand first and has no room there; and parts of the bar whose state the log does not have.
func Beside(l words.Language, o coverage.Open, can coverage.Telling, missed float64) []string {
	var out []string
	if s := o.Shift; s != (coverage.Shift{}) {
		out = append(out, l.Say("Passes along the boundary lie as if all of the log were %.2f m (give or take %.2f) off towards %.0f°: so it is shifted, or they were driven so, which a log cannot tell. Missed are %s as logged, %s without the shift. A place on the boundary measured with this receiver decides.", math.Hypot(s.East, s.North), s.Doubt, towards(s.East, s.North), Area(l, missed), Area(l, s.Missed)))
	}
	_, rest := split(o, can)
	out = append(out, Holds(l, rest)...)
	if o.Sections > 0 {
		out = append(out, l.Say("The set has %d sections, and the log does not say which were down: one lifted alone leaves no mark in it.", o.Sections))
	}
	if o.Whole {
		out = append(out, l.Word("The log does not say how much of the bar was down, and the set's file names no sections: a part of it that was lifted or folded alone leaves no mark."))
	}
	return out
}

// split parts what the first screen, of 24 lines, says below the range of missed ground from what it has no room for.
func split(o coverage.Open, can coverage.Telling) (said, rest coverage.Open) {
	if can.Strips == coverage.GraspNone {
		return coverage.Open{}, coverage.Open{}
	}
	said = o
	if o.Shift.Beyond || o.Ends.Rows > 0 {
		said.Aside, rest.Aside = coverage.Aside{}, o.Aside
	}
	if o.Shift.Beyond || o.Ends.Rows > 0 || can.Strips == coverage.GraspRange {
		said.Frame, rest.Frame = coverage.Frame{}, o.Frame
	}
	return said, rest
}
