package geo

import (
	"math"
	"slices"
)

// copyOf says whether log b has the places of log a and nothing else: all, with the same times or none; or,
// if it has no times, some of them in their order.
func (m *memory) copyOf(a, b *driveLog) bool {
	if b.timed && !a.timed {
		return false
	}
	x, y := m.sequence(a), m.sequence(b)
	if b.timed {
		if len(x) != len(y) {
			return false
		}
		for k := range x {
			if !x[k].near(y[k]) || !(math.Abs(x[k].seconds-y[k].seconds) <= copyTime || math.IsNaN(x[k].seconds) && math.IsNaN(y[k].seconds)) {
				return false
			}
		}
		return true
	}
	if a.at == nil {
		a.at = make(map[square][]int32, len(x))
		for k, r := range x {
			a.at[r.square()] = append(a.at[r.square()], int32(k))
		}
	}
	return len(y) > 1 && a.inOrderWithin(y)
}

func (r record) near(o record) bool {
	return math.Abs(r.lon-o.lon) <= copyPlace && math.Abs(r.lat-o.lat) <= copyPlace
}

// square is a place rounded down, in cells of two copyPlace.
type square struct{ x, y int64 }

func (r record) square() square {
	const cell = 2 * copyPlace
	return square{int64(math.Floor(r.lon / cell)), int64(math.Floor(r.lat / cell))}
}

// sequence are the fixes of a log in its order, without those that repeat a place.
func (m *memory) sequence(l *driveLog) []record {
	if l.way != nil {
		return l.way
	}
	var out []record
	for _, i := range l.of {
		f := m.tracks[i].fixes()
		for k := range f.len() {
			r := f.record(k)
			if n := len(out); n > 0 && out[n-1].near(r) {
				continue
			}
			out = append(out, r)
		}
	}
	l.way = out
	return out
}

// inOrderWithin says whether the places of y are those of the log, in its order.
func (l *driveLog) inOrderWithin(y []record) bool {
	missed, last := 0, int32(-1)
	for _, r := range y {
		next := int32(math.MaxInt32)
		c := r.square()
		for dx := int64(-1); dx <= 1; dx++ {
			for dy := int64(-1); dy <= 1; dy++ {
				list := l.at[square{c.x + dx, c.y + dy}]
				k, _ := slices.BinarySearch(list, last+1)
				for ; k < len(list) && list[k] < next; k++ {
					if l.way[list[k]].near(r) {
						next = list[k]
						break
					}
				}
			}
		}
		if next < math.MaxInt32 {
			last = next
		} else if missed++; float64(missed) > (1-copyShare)*float64(len(y)) {
			return false
		}
	}
	return true
}
