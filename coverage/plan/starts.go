package plan

import (
	"math"

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
	left  int
}

type place struct {
	at plane.XY
	onward
}

func startsOf(from [][orientations]plane.XY) *starts {
	box := plane.EmptyBox()
	for i := range from {
		box = box.Extend(from[i][:]...)
	}
	n := len(from) * orientations
	size := box.Max.Sub(box.Min)
	s := &starts{from: box.Min, left: n}
	s.cell = max(math.Sqrt(size.X*size.Y*perCell/float64(n)), max(size.X, size.Y)*perCell/float64(n), hair)
	s.nx, s.ny = int(size.X/s.cell)+1, int(size.Y/s.cell)+1
	s.first, s.alive = make([]int32, s.nx*s.ny+1), make([]int32, s.nx*s.ny)
	for i := range from {
		for _, p := range from[i] {
			s.alive[s.cellOf(p)]++
		}
	}
	for c, many := range s.alive {
		s.first[c+1] = s.first[c] + many
	}
	s.list, s.where = make([]place, n), make([]int32, n)
	clear(s.alive)
	for i := range from {
		for w, p := range from[i] {
			c := s.cellOf(p)
			k := s.first[c] + s.alive[c]
			s.list[k], s.where[i*orientations+w] = place{p, onward{i, orientation(w)}}, k
			s.alive[c]++
		}
	}
	return s
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
		c := s.cellOf(s.list[k].at)
		s.alive[c]--
		last := s.first[c] + s.alive[c]
		s.list[k], s.list[last] = s.list[last], s.list[k]
		s.where[s.list[k].block*orientations+int(s.list[k].way)] = k
		s.where[block*orientations+w] = last
	}
	s.left -= orientations
}

// near adds the places nearest to p: any that is farther than one of them is so by more than apart, m.
func (s *starts) near(p plane.XY, apart float64, out []onward) []onward {
	for reach := s.cell; ; reach *= 2 {
		x0, x1 := s.along(p.X-reach-s.from.X, s.nx), s.along(p.X+reach-s.from.X, s.nx)
		y0, y1 := s.along(p.Y-reach-s.from.Y, s.ny), s.along(p.Y+reach-s.from.Y, s.ny)
		all := x0 == 0 && y0 == 0 && x1 == s.nx-1 && y1 == s.ny-1
		far := math.Inf(1)
		each := func(do func(one *place, d float64)) {
			for y := y0; y <= y1; y++ {
				for c := y*s.nx + x0; c <= y*s.nx+x1; c++ {
					at := s.list[s.first[c] : s.first[c]+s.alive[c]]
					for k := range at {
						do(&at[k], at[k].at.Dist(p))
					}
				}
			}
		}
		each(func(_ *place, d float64) { far = min(far, d) })
		for more := !math.IsInf(far, 1); more; {
			most := far + apart
			more = false
			each(func(_ *place, d float64) {
				if d > far && d <= most {
					far, more = d, true
				}
			})
		}
		if far+apart > reach && !all {
			continue
		}
		each(func(one *place, d float64) {
			if d <= far {
				out = append(out, one.onward)
			}
		})
		return out
	}
}
