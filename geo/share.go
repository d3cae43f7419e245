package geo

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/tidwall/rtree"
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
	// metresPerDegree of latitude; good to 1 % anywhere, and only limits of some
	// metres hang on it.
	metresPerDegree = 111_200.0
)

// FieldMap finds the field of a place among several.
type FieldMap struct {
	fields []Field
	boxes  rtree.RTreeG[int]
	edges  rtree.RTreeG[boundaryEdge]
	x, y   float64 // m per degree of longitude and latitude
}

type boundaryEdge struct {
	a, b  orb.Point
	field int
}

// NewFieldMap takes the fields of one boundary file; they may touch or lap. They are
// looked at in degrees, so a field across the antimeridian is not found.
func NewFieldMap(fields []Field) *FieldMap {
	m := &FieldMap{fields: fields, x: metresPerDegree, y: metresPerDegree}
	if len(fields) > 0 {
		m.x *= math.Cos(fields[0].Boundary.Bound().Center()[1] * math.Pi / 180)
	}
	for i, f := range fields {
		b := f.Boundary.Bound()
		m.boxes.Insert(b.Min, b.Max, i)
		for _, poly := range f.Boundary {
			for _, ring := range poly {
				for k := range ring {
					e := boundaryEdge{ring[k], ring[(k+1)%len(ring)], i}
					lo, hi := boxOf(e.a, e.b)
					m.edges.Insert(lo, hi, e)
				}
			}
		}
	}
	return m
}

func boxOf(a, b orb.Point) (lo, hi [2]float64) {
	return [2]float64{min(a[0], b[0]), min(a[1], b[1])}, [2]float64{max(a[0], b[0]), max(a[1], b[1])}
}

// At is the index of the field that holds p, the first of them in the file, or
// Nowhere. An obstacle is no part of its field.
func (m *FieldMap) At(p orb.Point) int {
	found := Nowhere
	m.boxes.Search(p, p, func(_, _ [2]float64, i int) bool {
		if (found == Nowhere || i < found) && within(m.fields[i].Boundary, p) {
			found = i
		}
		return true
	})
	return found
}

// within says by the even-odd rule whether p lies in b.
func within(b orb.MultiPolygon, p orb.Point) bool {
	odd := false
	for _, poly := range b {
		for _, ring := range poly {
			for k, a := range ring {
				c := ring[(k+1)%len(ring)]
				if (a[1] > p[1]) != (c[1] > p[1]) && p[0] < a[0]+(p[1]-a[1])/(c[1]-a[1])*(c[0]-a[0]) {
					odd = !odd
				}
			}
		}
	}
	return odd
}

// near says whether p lies in field i or within d metres of its boundary.
func (m *FieldMap) near(p orb.Point, i int, d float64) bool {
	dx, dy := d/m.x, d/m.y
	found := false
	m.edges.Search([2]float64{p[0] - dx, p[1] - dy}, [2]float64{p[0] + dx, p[1] + dy}, func(_, _ [2]float64, e boundaryEdge) bool {
		found = e.field == i && m.distance(p, e) <= d
		return !found
	})
	return found || within(m.fields[i].Boundary, p)
}

// distance from p to an edge in metres.
func (m *FieldMap) distance(p orb.Point, e boundaryEdge) float64 {
	bx, by := (e.b[0]-e.a[0])*m.x, (e.b[1]-e.a[1])*m.y
	px, py := (p[0]-e.a[0])*m.x, (p[1]-e.a[1])*m.y
	t := 0.0
	if l := bx*bx + by*by; l > 0 {
		t = min(max((px*bx+py*by)/l, 0), 1)
	}
	return math.Hypot(px-t*bx, py-t*by)
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
	lo, hi := boxOf(a, b)
	any := false
	m.edges.Search(lo, hi, func(_, _ [2]float64, _ boundaryEdge) bool {
		any = true
		return false
	})
	return any
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
