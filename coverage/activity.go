package coverage

import (
	"time"

	"balk/geo/plane"
)

// Activity is what the set did over a stretch of the log.
type Activity string

const (
	ActivityUnknown Activity = ""         // the log does not tell, or has a gap
	ActivityWork    Activity = "working"  // implement in the ground
	ActivityTurn    Activity = "turning"  // moving with the implement lifted, on the field or at its rim
	ActivityIdle    Activity = "standing" // not moving
	ActivityRoad    Activity = "road"     // moving away from the field
)

// Stretch is a run of steps of a log over which the set did one thing. Its ends
// are shared with its neighbours: the last fix of one is the first of the next.
type Stretch struct {
	Track    int // index of the track
	Activity Activity
	Inferred bool       // found by rules, not logged
	Why      string     // the rule, in words; "" when logged
	Line     []plane.XY // where the antenna went
	Seconds  []float64  // since 1970 UTC, one per point of Line, NaN where not logged
	From, To time.Time  // zero where not logged
	Length   float64    // m along Line
}
