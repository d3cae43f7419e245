package turn

import (
	"math"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// leavesStep: a path is looked at so far apart at most, m. That bounds the time of Leaves, and decides nothing else.
const leavesStep = 2.0

// Leaves says that a set surely does not keep the margin on p, or leaves the room: what Drive to fine and Holds would say, for a part of the
// time. False: it is not known.
//
// It looks at the corners of what moves with the tractor, its outline and that of a rigid implement, at some places along p. By (1) of Drive no
// corner is ever farther than fine from the ground that Holds is asked about. So where a corner comes nearer to an edge than the margin less fine,
// that ground comes nearer than the margin.
//
//  1. Where it is true, Holds is false.
func (r *Room) Leaves(p Path, im rig.Implement, margin, fine float64) bool {
	if r.edges.Len() == 0 || p.Validate() != nil || im.Validate() != nil { // Drive says what is wrong
		return false
	}
	q := departure{room: r, driver: newDriver(im, fine), least: margin - fine - summing}
	at := p.From
	for i, a := range p.Pieces {
		if at = at.Moved(a.travel()); i < len(p.Pieces)-1 && q.beyond(at) {
			return true
		}
	}
	at = p.From
	for _, a := range p.Pieces {
		whole := math.Abs(a.Length)
		n := int(whole/leavesStep) + 1
		for k := 1; k < n; k++ {
			if q.beyond(at.Moved(a.first(whole * float64(k) / float64(n)).travel())) {
				return true
			}
		}
		at = at.Moved(a.travel())
	}
	return q.beyond(p.From) || q.beyond(at)
}

// departure is one question of Leaves.
type departure struct {
	room *Room
	driver
	least float64 // m
	near  int32   // the edge found last
}

// beyond says whether a corner comes nearer to an edge than it may, or stands outside.
func (q *departure) beyond(at Pose) bool {
	reach := q.reach[ofTractor]
	if !q.mount.Trailed {
		reach = max(reach, q.reach[ofImplement])
	}
	if !q.nearer(at.At, q.least+reach) { // no corner comes so far
		return false
	}
	ahead := at.Heading.Ahead()
	for i, outline := range q.quads(rig.Set{Antenna: at.At, Ahead: ahead, Drawn: ahead}) {
		if q.tip[i].half == 0 || i == ofImplement && q.mount.Trailed {
			continue
		}
		for _, c := range outline {
			if q.nearer(c, q.least) {
				return true
			}
		}
	}
	return false
}

// nearer says whether a place lies less than so far inside the room, m.
func (q *departure) nearer(p plane.XY, far float64) bool {
	least, most := q.room.inside(p, q.near)
	if least >= far || most < far {
		return most < far
	}
	var inside float64
	inside, q.near = q.room.edges.Signed(p, q.near)
	return inside < far
}
