package plan

import (
	"math"
	"slices"

	"balk/geo/plane"
)

// perCell: so many places share a cell of starts.
const perCell = 2

// starts are the places where blocks begin, each way, by the cells of a grid that they lie in. Places are taken out, none comes in.
type starts struct {
	from  plane.XY
	cell  float64 // m
	nx    int     // cells side by side
	ny    int
	first []int32 // of each cell, in list; those of the next cell end it
	alive []int32 // in each cell, which come first
	list  []place
	where []int32 // of each block and way, in list
	cells []int32 // of each block and way
	seen  []seen  // room of near
}

// seen is a place looked at, and how far away it is.
type seen struct {
	*place
	away float64 // m
}

type place struct {
	at plane.XY
	onward
}

// put takes all these blocks in, and no others. It takes over the room of those before.
func (s *starts) put(from [][orientations]plane.XY) {
	box := plane.EmptyBox()
	for i := range from {
		box = box.Extend(from[i][:]...)
	}
	n := len(from) * orientations
	size := box.Max.Sub(box.Min)
	s.from = box.Min
	s.cell = max(math.Sqrt(size.X*size.Y*perCell/float64(n)), max(size.X, size.Y)*perCell/float64(n), hair)
	s.nx, s.ny = int(size.X/s.cell)+1, int(size.Y/s.cell)+1
	s.first, s.alive = emptied(s.first, s.nx*s.ny+1), emptied(s.alive, s.nx*s.ny)
	s.cells = s.cells[:0]
	for i := range from {
		for _, p := range from[i] {
			c := int32(s.cellOf(p))
			s.cells = append(s.cells, c)
			s.alive[c]++
		}
	}
	for c, many := range s.alive {
		s.first[c+1] = s.first[c] + many
	}
	s.list, s.where = slices.Grow(s.list[:0], n)[:n], slices.Grow(s.where[:0], n)[:n]
	clear(s.alive)
	for i := range from {
		for w, p := range from[i] {
			c := s.cells[i*orientations+w]
			k := s.first[c] + s.alive[c]
			s.list[k], s.where[i*orientations+w] = place{p, onward{i, orientation(w)}}, k
			s.alive[c]++
		}
	}
}

// emptied is a list of n zeros in the room of another.
func emptied(room []int32, n int) []int32 {
	room = slices.Grow(room[:0], n)[:n]
	clear(room)
	return room
}

func (s *starts) cellOf(p plane.XY) int {
	return s.along(p.Y-s.from.Y, s.ny)*s.nx + s.along(p.X-s.from.X, s.nx)
}

// along is the number of the cell so far along a side of the grid, or the one at its end.
func (s *starts) along(far float64, cells int) int {
	return int(min(max(far/s.cell, 0), float64(cells-1)))
}

// done takes a block out.
func (s *starts) done(block int) {
	for w := range orientations {
		k := s.where[block*orientations+w]
		c := s.cells[block*orientations+w]
		s.alive[c]--
		last := s.first[c] + s.alive[c]
		s.list[k], s.list[last] = s.list[last], s.list[k]
		s.where[s.list[k].block*orientations+int(s.list[k].way)] = k
		s.where[block*orientations+w] = last
	}
}

// near adds the places nearest to p: any that is farther than one of them is so by more than apart, m.
func (s *starts) near(p plane.XY, apart float64, out []onward) []onward {
	for reach := s.cell / 2; ; reach *= 2 {
		x0, x1 := s.along(p.X-reach-s.from.X, s.nx), s.along(p.X+reach-s.from.X, s.nx)
		y0, y1 := s.along(p.Y-reach-s.from.Y, s.ny), s.along(p.Y+reach-s.from.Y, s.ny)
		all := x0 == 0 && y0 == 0 && x1 == s.nx-1 && y1 == s.ny-1
		far := math.Inf(1)
		s.seen = s.seen[:0]
		for y := y0; y <= y1; y++ {
			for c := y*s.nx + x0; c <= y*s.nx+x1; c++ {
				at := s.list[s.first[c] : s.first[c]+s.alive[c]]
				for k := range at {
					d := at[k].at.Dist(p)
					far = min(far, d)
					s.seen = append(s.seen, seen{&at[k], d})
				}
			}
		}
		for more := !math.IsInf(far, 1); more; {
			most := far + apart
			more = false
			for _, one := range s.seen {
				if one.away > far && one.away <= most {
					far, more = one.away, true
				}
			}
		}
		if far+apart > reach && !all {
			continue
		}
		for _, one := range s.seen {
			if one.away <= far {
				out = append(out, one.onward)
			}
		}
		return out
	}
}
