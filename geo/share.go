package geo

import (
	"math"

	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// Nowhere is the index of no field: on the way between fields.
const Nowhere = -1

const (
	// shoulder: who works along a boundary strays over it by so much at any length.
	// Half a wide implement (common practice, no source).
	shoulder = 3.0 // m
	// loops: a set that turns beyond the boundary drives no longer there than so many
	// times its reach; longer stretches on another field are work on that one.
	loops = 4.0
	// MetresPerDegree of latitude is good to 1 % anywhere, and only limits of some
	// metres hang on it.
	MetresPerDegree = 111_200.0
)

// FieldMap finds the field of a place among several.
type FieldMap struct {
	x, y   float64         // m per degree of longitude and latitude
	boxes  plane.Tree[int] // numbers of the fields
	fields []*plane.Edges  // their boundaries, on a plane of x and y
}

// NewFieldMap takes the fields of one boundary file; they may touch or lap. They are
// looked at in degrees, so a field across the antimeridian is not found.
func NewFieldMap(fields []Field) *FieldMap {
	m := &FieldMap{x: MetresPerDegree, y: MetresPerDegree}
	if len(fields) > 0 {
		m.x *= math.Cos(fields[0].Boundary.Bound().Center()[1] * math.Pi / 180)
	}
	for i, f := range fields {
		b := f.Boundary.Bound()
		m.boxes.Insert(plane.Box{Min: m.at(b.Min), Max: m.at(b.Max)}, i)
		edges := new(plane.Edges)
		for _, poly := range f.Boundary {
			for _, ring := range poly {
				flat := make(plane.Ring, len(ring))
				for k, p := range ring {
					flat[k] = m.at(p)
				}
				edges.Add(flat)
			}
		}
		m.fields = append(m.fields, edges)
	}
	return m
}

// at is a place on the plane of the map.
func (m *FieldMap) at(p orb.Point) plane.XY { return plane.XY{X: p[0] * m.x, Y: p[1] * m.y} }

// At is the index of the field that holds p, the first of them in the file, or
// Nowhere. An obstacle is no part of its field.
func (m *FieldMap) At(p orb.Point) int {
	found, at := Nowhere, m.at(p)
	for i := range m.boxes.In(plane.Box{Min: at, Max: at}) {
		if (found == Nowhere || i < found) && m.fields[i].Holds(at) {
			found = i
		}
	}
	return found
}

// near says whether p lies in field i or within d metres of its boundary.
func (m *FieldMap) near(p orb.Point, i int, d float64) bool {
	at := m.at(p)
	for k := range m.fields[i].In(plane.Box{Min: at, Max: at}.Grown(d)) {
		if m.fields[i].At(k).Dist(at) <= d {
			return true
		}
	}
	return m.fields[i].Holds(at)
}

// Share says for every fix of a track on which field the set was, by place: an
// index of the fields, or Nowhere on the way between them. reach is how far
// beyond the boundary the set may turn, m.
//
//	(1) A fix inside a field is on it, except
//	(2) where the set left its field and came back to it without going farther than
//	    reach from it, and either drove no more than loops × reach there or kept to
//	    the shoulder: then it stayed on its field.
//	(3) On the way between fields the first and the last fixes within reach of the
//	    field left or entered belong to that one.
func (m *FieldMap) Share(t Track, reach float64) []int {
	n := t.Fixes()
	if n == 0 {
		return nil
	}
	flat, stride := t.Line.FlatCoords(), t.Line.Stride()
	place := func(k int) orb.Point { return orb.Point{flat[k*stride], flat[k*stride+1]} }
	on := make([]int, n)
	for k := range on {
		if k > 0 && !m.crosses(place(k-1), place(k)) {
			on[k] = on[k-1]
			continue
		}
		on[k] = m.At(place(k))
	}
	runs := runsOf(on)
	for {
		before := len(runs)
		for r := 1; r+1 < len(runs); r++ {
			home := on[runs[r-1]]
			if home != Nowhere && home == on[runs[r+1]] && m.strays(place, runs[r], runs[r+1], home, reach) {
				fill(on[runs[r]:runs[r+1]], home)
				r++ // the run behind is home's as well
			}
		}
		if runs = runsOf(on); len(runs) == before {
			break
		}
	}
	for r, from := range runs {
		if on[from] != Nowhere {
			continue
		}
		to := n
		if r+1 < len(runs) {
			to = runs[r+1]
		}
		before, behind := Nowhere, Nowhere
		if from > 0 {
			before = on[from-1]
		}
		if to < n {
			behind = on[to]
		}
		for k := from; before != Nowhere && k < to && m.near(place(k), before, reach); k++ {
			on[k] = before
		}
		for k := to - 1; behind != Nowhere && k >= from && on[k] == Nowhere && m.near(place(k), behind, reach); k-- {
			on[k] = behind
		}
	}
	return on
}

// crosses says whether some boundary may lie between two places; a place that is
// no number may lie anywhere.
func (m *FieldMap) crosses(a, b orb.Point) bool {
	if math.IsNaN(a[0] + a[1] + b[0] + b[1]) {
		return true
	}
	box := plane.EmptyBox().Extend(m.at(a), m.at(b))
	for i := range m.boxes.In(box) {
		if m.fields[i].Meet(box) {
			return true
		}
	}
	return false
}

// strays says whether the fixes from..to-1 are only a short way off their field.
func (m *FieldMap) strays(place func(int) orb.Point, from, to, home int, reach float64) bool {
	way, shallow := 0.0, true
	for k := from; k < to; k++ {
		p := place(k)
		if !m.near(p, home, reach) {
			return false
		}
		shallow = shallow && m.near(p, home, shoulder)
		if k > from {
			q := place(k - 1)
			way += math.Hypot((p[0]-q[0])*m.x, (p[1]-q[1])*m.y)
		}
		if !shallow && way > loops*reach {
			return false
		}
	}
	return true
}

// runsOf are the indices at which the value changes, and 0.
func runsOf(on []int) []int {
	runs := []int{0}
	for k := 1; k < len(on); k++ {
		if on[k] != on[k-1] {
			runs = append(runs, k)
		}
	}
	return runs
}

func fill(s []int, v int) {
	for i := range s {
		s[i] = v
	}
}
