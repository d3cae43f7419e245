package turn

import (
	"math"
	"sync"
	"sync/atomic"

	"balk/geo/plane"
)

const (
	leastCell   = 1.0     // m, sides of the cells of a clearance
	mostCells   = 1 << 17 // so many of them at most: a megabyte
	cellRounded = 1e-6    // m, far above what the distances of places within a field are rounded to
)

// clearance bounds how far places lie inside a room, from how far the middles of cells do, each found out when it is first asked for. Many may ask at once: the first
// answer is like any other.
//
// The signed distance from rings that do not cross changes by no more than the place does. So a place d away from the middle of its cell lies within d of what that middle has.
type clearance struct {
	once   sync.Once
	from   plane.XY
	cell   float64 // m
	nx, ny int
	middle []atomic.Uint64 // bits of m; 0: not asked for
}

// lay makes the cells around some edges.
func (c *clearance) lay(edges *plane.Edges) {
	box := plane.EmptyBox()
	for _, e := range edges.All() {
		box = box.Extend(e.A)
	}
	size := box.Max.Sub(box.Min)
	c.from = box.Min
	c.cell = max(leastCell, math.Sqrt(size.X*size.Y/mostCells), max(size.X, size.Y)/mostCells)
	c.nx, c.ny = int(size.X/c.cell)+1, int(size.Y/c.cell)+1
	c.middle = make([]atomic.Uint64, c.nx*c.ny)
}

// inside is how far a place lies inside the room at the least and at the most, m, negative outside. Looking begins at the edge near.
func (r *Room) inside(p plane.XY, near int32) (least, most float64) {
	c := &r.clearance
	c.once.Do(func() { c.lay(&r.edges) })
	x, y := math.Floor((p.X-c.from.X)/c.cell), math.Floor((p.Y-c.from.Y)/c.cell)
	if !(x >= 0 && y >= 0 && x < float64(c.nx) && y < float64(c.ny)) { // beyond the boundary, by how far is not known
		return math.Inf(-1), math.Inf(1)
	}
	middle := c.from.Add(plane.XY{X: (x + 0.5) * c.cell, Y: (y + 0.5) * c.cell})
	known := &c.middle[int(y)*c.nx+int(x)]
	bits := known.Load()
	if bits == 0 {
		far, _ := r.edges.Signed(middle, near)
		bits = math.Float64bits(far)
		known.Store(bits)
	}
	far, off := math.Float64frombits(bits), p.Dist(middle)+cellRounded
	return far - off, far + off
}
