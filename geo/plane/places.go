package plane

import (
	"math"
	"slices"
)

// places finds places by box. They are put in order along a curve that hardly ever jumps (Morton 1966, from memory), and have boxes, of so many places that
// follow each other, of so many of these boxes, and so on: built by one sort, where a tree that grows place by place takes several times as long.
type places struct {
	at    []XY
	order []uint64 // where on the curve, and in the lower half which place
	boxes [][]Box  // level by level
}

// perBox is how many have a box in common.
const perBox = 16

// newPlaces keeps a list of places, which is not to be changed.
func newPlaces(at []XY) *places {
	p := &places{at: at, order: make([]uint64, len(at))}
	all := EmptyBox().Extend(at...)
	size := all.Max.Sub(all.Min)
	cells := math.MaxUint16 / max(size.X, size.Y, repairStep)
	for i, q := range at {
		d := q.Sub(all.Min).Scale(cells)
		p.order[i] = (spread(uint16(d.X))|spread(uint16(d.Y))<<1)<<32 | uint64(i)
	}
	slices.Sort(p.order)
	var level []Box
	for i := 0; i < len(at); i += perBox {
		b := EmptyBox()
		for _, o := range p.order[i:min(i+perBox, len(at))] {
			b = b.Extend(at[uint32(o)])
		}
		level = append(level, b)
	}
	for p.boxes = append(p.boxes, level); len(level) > perBox; p.boxes = append(p.boxes, level) {
		var above []Box
		for i := 0; i < len(level); i += perBox {
			b := EmptyBox()
			for _, c := range level[i:min(i+perBox, len(level))] {
				b = b.Extend(c.Min, c.Max)
			}
			above = append(above, b)
		}
		level = above
	}
	return p
}

// spread puts a nought before each bit.
func spread(v uint16) uint64 {
	x := uint64(v)
	x = (x | x<<8) & 0x00ff00ff
	x = (x | x<<4) & 0x0f0f0f0f
	x = (x | x<<2) & 0x33333333
	return (x | x<<1) & 0x55555555
}

// in calls visit with the number of every place in a box, its edge included.
func (p *places) in(b Box, visit func(n int32)) {
	top := len(p.boxes) - 1
	p.below(b, top, 0, len(p.boxes[top]), visit)
}

// below goes through the boxes from … to−1 of a level.
func (p *places) below(b Box, level, from, to int, visit func(n int32)) {
	for k, c := range p.boxes[level][from:to] {
		if !c.Meets(b) {
			continue
		}
		first := (from + k) * perBox
		if level > 0 {
			p.below(b, level-1, first, min(first+perBox, len(p.boxes[level-1])), visit)
			continue
		}
		for _, o := range p.order[first:min(first+perBox, len(p.order))] {
			if q := p.at[uint32(o)]; q.X >= b.Min.X && q.X <= b.Max.X && q.Y >= b.Min.Y && q.Y <= b.Max.Y {
				visit(int32(uint32(o)))
			}
		}
	}
}

// spots numbers places in the order in which they come: a table open to the next free slot (Knuth 1973, 6.4, from memory).
type spots struct {
	at    []XY
	slots []int32 // 1 + a number; 0: free; as many as a power of two, half of them free at least
}

// newSpots has room for so many.
func newSpots(room int) *spots {
	size := perBox
	for size < 2*room {
		size *= 2
	}
	return &spots{at: make([]XY, 0, room), slots: make([]int32, size)}
}

// slot is where a place is, or would be.
func (s *spots) slot(p XY) int {
	// 0 and −0 are one place. The factors are odd and have no pattern of bits: that of Steele, Lea & Flood 2014 (from memory), and π.
	h := math.Float64bits(p.X+0)*0x9e3779b97f4a7c15 ^ math.Float64bits(p.Y+0)*0x3243f6a8885a308d
	h ^= h >> 32
	h *= 0x9e3779b97f4a7c15
	for k := int(h>>32) & (len(s.slots) - 1); ; k = (k + 1) & (len(s.slots) - 1) {
		if n := s.slots[k]; n == 0 || s.at[n-1] == p {
			return k
		}
	}
}

// find is the number of a place; −1: it has none.
func (s *spots) find(p XY) int32 { return s.slots[s.slot(p)] - 1 }

// number is the number of a place, the next one where it had none.
func (s *spots) number(p XY) int32 {
	k := s.slot(p)
	if s.slots[k] == 0 {
		if 2*(len(s.at)+1) > len(s.slots) {
			s.slots = make([]int32, 2*len(s.slots))
			for n, q := range s.at {
				s.slots[s.slot(q)] = int32(n) + 1
			}
			k = s.slot(p)
		}
		s.at = append(s.at, p)
		s.slots[k] = int32(len(s.at))
	}
	return s.slots[k] - 1
}
