package plane

import "math"

// XY is a point of the plane in metres.
type XY struct{ X, Y float64 }

func (a XY) Add(b XY) XY             { return XY{a.X + b.X, a.Y + b.Y} }
func (a XY) Sub(b XY) XY             { return XY{a.X - b.X, a.Y - b.Y} }
func (a XY) Scale(k float64) XY      { return XY{a.X * k, a.Y * k} }
func (a XY) Dot(b XY) float64        { return a.X*b.X + a.Y*b.Y }
func (a XY) Cross(b XY) float64      { return a.X*b.Y - a.Y*b.X }
func (a XY) Len() float64            { return math.Sqrt(a.X*a.X + a.Y*a.Y) } // no Hypot: nothing here is beyond 1e150 m
func (a XY) Unit() XY                { return a.Scale(1 / a.Len()) }         // of length 1; a must have a length
func (a XY) Dist(b XY) float64       { return a.Sub(b).Len() }
func (a XY) AngleTo(b XY) float64    { return math.Atan2(a.Cross(b), a.Dot(b)) } // by how much a is turned to point as b does, rad, −π to π
func (a XY) Left() XY                { return XY{-a.Y, a.X} }                    // turned by +90°
func (a XY) Lerp(b XY, t float64) XY { return XY{a.X + t*(b.X-a.X), a.Y + t*(b.Y-a.Y)} }

// lattice is the number of lattice steps in a metre: 2^26, a step of 15 nm. A
// hundred-thousandth of the best receiver's noise, and small enough that
// rounding ten thousand vertices of a one-hectare field moves its areas by
// less than 1e-9 of the field.
const lattice = 1 << 26

// Limit is the largest coordinate the plane takes, in metres. Beyond it
// differences of lattice points would no longer be exact.
const Limit = 1 << 25

// Snap moves a point within Limit to the nearest point of the lattice: it adds and takes off 1.5·2^26, whose last place is one
// lattice step.
func Snap(p XY) XY {
	const c = 3 << 25
	return XY{(p.X + c) - c, (p.Y + c) - c}
}

// Ring is a closed line; the last point joins the first and is not repeated.
type Ring []XY

// Area is the signed area in m²: positive when the ring runs counter-clockwise.
func (r Ring) Area() float64 {
	if len(r) < 3 {
		return 0
	}
	o := r[0]
	var s float64
	p := r[1].Sub(o)
	for _, v := range r[2:] {
		q := v.Sub(o)
		s += p.Cross(q)
		p = q
	}
	return s / 2
}

// Perimeter is the length of the ring in metres.
func (r Ring) Perimeter() float64 {
	var s float64
	for _, side := range r.Sides() {
		s += side.A.Dist(side.B)
	}
	return s
}

// Polygon is an outer ring (counter-clockwise) followed by its holes
// (clockwise).
type Polygon []Ring

// Area is the area in m², holes taken off.
func (p Polygon) Area() float64 {
	var s float64
	for _, r := range p {
		s += r.Area()
	}
	return s
}

// Perimeter is the length of all rings in metres.
func (p Polygon) Perimeter() float64 {
	var s float64
	for _, r := range p {
		s += r.Perimeter()
	}
	return s
}

// Corners is the number of corners of all rings.
func (p Polygon) Corners() int {
	n := 0
	for _, r := range p {
		n += len(r)
	}
	return n
}

// Holds says whether q lies inside the rings by the even-odd rule.
func (p Polygon) Holds(q XY) bool {
	in := false
	for _, ring := range p {
		for _, s := range ring.Sides() {
			if s.passes(q) {
				in = !in
			}
		}
	}
	return in
}

// Nearest is the place of some polygons that is nearest to p: p itself where one holds it, else on a ring.
func Nearest(polys []Polygon, p XY) XY {
	best, near := p, math.Inf(1)
	for _, poly := range polys {
		if poly.Holds(p) {
			return p
		}
		for _, ring := range poly {
			for _, s := range ring.Sides() {
				q := s.Nearest(p)
				if d := q.Dist(p); d < near {
					best, near = q, d
				}
			}
		}
	}
	return best
}

// Frame turns the plane: X runs along Ahead, a unit vector, from Origin, and Y to its left.
type Frame struct{ Origin, Ahead XY }

// To is p as seen in the frame.
func (f Frame) To(p XY) XY {
	d := p.Sub(f.Origin)
	return XY{d.Dot(f.Ahead), f.Ahead.Cross(d)}
}

// From is the place on the plane that is seen in the frame as p.
func (f Frame) From(p XY) XY {
	return f.Origin.Add(f.Ahead.Scale(p.X)).Add(f.Ahead.Left().Scale(p.Y))
}

// Box is an axis-parallel rectangle.
type Box struct{ Min, Max XY }

// EmptyBox contains nothing and grows with Extend.
func EmptyBox() Box {
	inf := math.Inf(1)
	return Box{XY{inf, inf}, XY{-inf, -inf}}
}

// with is the smallest box around a box that is not empty and a point: Extend, with half the comparisons.
func (b Box) with(p XY) Box {
	if p.X < b.Min.X {
		b.Min.X = p.X
	} else if p.X > b.Max.X {
		b.Max.X = p.X
	}
	if p.Y < b.Min.Y {
		b.Min.Y = p.Y
	} else if p.Y > b.Max.Y {
		b.Max.Y = p.Y
	}
	return b
}

// Extend is the smallest box around b and the points.
func (b Box) Extend(pts ...XY) Box {
	for _, p := range pts { // no min and max, which look for NaN and the sign of zero
		if p.X < b.Min.X {
			b.Min.X = p.X
		}
		if p.X > b.Max.X {
			b.Max.X = p.X
		}
		if p.Y < b.Min.Y {
			b.Min.Y = p.Y
		}
		if p.Y > b.Max.Y {
			b.Max.Y = p.Y
		}
	}
	return b
}

// Bounds is the box around the ring.
func (r Ring) Bounds() Box { return EmptyBox().Extend(r...) }

// Grown is b with so many metres more on all sides.
func (b Box) Grown(by float64) Box {
	return Box{XY{b.Min.X - by, b.Min.Y - by}, XY{b.Max.X + by, b.Max.Y + by}}
}

// Meets says whether two boxes have a place in common, on their rims too.
func (b Box) Meets(o Box) bool {
	return b.Min.X <= o.Max.X && b.Max.X >= o.Min.X && b.Min.Y <= o.Max.Y && b.Max.Y >= o.Min.Y
}

// Dist is how far p lies from b, m; 0: in it.
func (b Box) Dist(p XY) float64 {
	return XY{max(0, b.Min.X-p.X, p.X-b.Max.X), max(0, b.Min.Y-p.Y, p.Y-b.Max.Y)}.Len()
}
