package coverage

import (
	"math"

	"balk/geo/plane"
)

const (
	// rimPlaces are looked at along the rim of a strip: of one 100 m long a place every metre.
	rimPlaces = 200
	// middleHair is how far the middle line may lie off the halfway places it goes through, m: a hand's breadth is nothing to a driver.
	middleHair = 0.05
	// block: ground less than this times as long as wide has no two sides that lie nearer to each other than its ends.
	block = 3
)

// Middle is a line along the middle of a strip, from one end to the other; where the strip goes round something, all the way round, ending
// where it begins. nil: the strip has no ground.
//
// (1) Of a rectangle it is the long axis, from end to end, to a step along the rim. (2) It moves and turns with the strip. (3) Of a strip of even width w on a circle it
// is the circle halfway. (4) No place of it lies farther outside the strip than half its greatest width.
func (s Strip) Middle() []plane.XY {
	if s.Shape.Area() <= 0 {
		return nil
	}
	outer := rimOf(s.Shape[0])
	for _, hole := range s.Shape[1:] {
		if 2*hole.Perimeter() > s.Shape[0].Perimeter() {
			return plane.Thinned(outer.halfwayTo(rimOf(hole)), middleHair)
		}
	}
	if long := lengthOf(s.Shape.Area(), s.Shape.Perimeter()); long*long < block*s.Shape.Area() {
		return outer.through(longAxis(s.Shape))
	}
	return plane.Thinned(outer.halfway(outer.ends()), middleHair)
}

// rim is a ring as places at even steps.
type rim []plane.XY

func rimOf(r plane.Ring) rim {
	step := r.Perimeter() / rimPlaces
	out := make(rim, 0, rimPlaces)
	next := 0.0 // along the edge
	for i, p := range r {
		q := r[(i+1)%len(r)]
		long := p.Dist(q)
		for ; next < long && len(out) < rimPlaces; next += step {
			out = append(out, p.Lerp(q, next/long))
		}
		next -= long
	}
	return out
}

func (r rim) at(k float64) plane.XY {
	n := len(r)
	whole := math.Floor(k)
	i := ((int(whole) % n) + n) % n
	return r[i].Lerp(r[(i+1)%n], k-whole)
}

// pair are two places as far along either side of the rim from a, as a share of the way to b.
func (r rim) pair(a, b int, share float64) (left, right plane.XY) {
	way := b - a
	return r.at(float64(a) + share*float64(way)), r.at(float64(a) - share*float64(len(r)-way))
}

// apart is how far the sides of the rim between two ends lie apart: the sum of squares at even shares of the way.
func (r rim) apart(a, b int) (sum float64) {
	const shares = rimPlaces / 4
	for k := 1; k < shares; k++ {
		left, right := r.pair(a, b, float64(k)/shares)
		sum += left.Sub(right).Dot(left.Sub(right))
	}
	return sum
}

// ends are the two places between which the sides lie nearest to each other: first of those that halve the rim, then moved while that
// brings the sides nearer, for one side may be longer than the other.
func (r rim) ends() (a, b int) {
	n := len(r)
	least := math.Inf(1)
	for k := range n / 2 {
		if sum := r.apart(k, k+n/2); sum < least {
			a, b, least = k, k+n/2, sum
		}
	}
	for better := true; better; {
		better = false
		for _, by := range [][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			c, d := a+by[0], b+by[1]
			if way := d - c; way < n/4 || way > n-n/4 {
				continue
			}
			if sum := r.apart(c, d); sum < least {
				a, b, least, better = c, d, sum, true
			}
		}
	}
	return a, b
}

// halfway is the line halfway between both sides of the rim from one end to the other.
func (r rim) halfway(a, b int) (line []plane.XY) {
	const steps = rimPlaces / 2
	for k := range steps + 1 {
		left, right := r.pair(a, b, float64(k)/steps)
		line = append(line, left.Lerp(right, 0.5))
	}
	return line
}

// through is a straight line along an axis through the middle of the rim, as long as it reaches that way.
func (r rim) through(axis plane.XY) []plane.XY {
	from, to, left, right := math.Inf(1), math.Inf(-1), math.Inf(-1), math.Inf(1)
	for _, p := range r {
		v := p.Sub(r[0])
		from, to = min(from, axis.Dot(v)), max(to, axis.Dot(v))
		left, right = max(left, axis.Cross(v)), min(right, axis.Cross(v))
	}
	middle := r[0].Add(axis.Left().Scale((left + right) / 2))
	return []plane.XY{middle.Add(axis.Scale(from)), middle.Add(axis.Scale(to))}
}

// halfwayTo is the line halfway between the rim and another within it, all the way round.
func (r rim) halfwayTo(within rim) (line []plane.XY) {
	for k := range len(r) + 1 {
		p, nearest := r[k%len(r)], within[0]
		for _, q := range within {
			if p.Dist(q) < p.Dist(nearest) {
				nearest = q
			}
		}
		line = append(line, p.Lerp(nearest, 0.5))
	}
	return line
}
