package plane

import (
	"math"
	"math/big"
	"math/bits"
)

// This file decides on which side of a line a point lies. Orientation does so for all rooms. The arrangement has a way
// of its own, side, for points of the lattice: cheap float test, proven bound, exact integers, and a symbolic tie break, in that order.

// orientationBound is the relative error of the determinant in float64: (3 + 16ε)ε
// with ε = 2^-53 (J. R. Shewchuk, "Adaptive precision floating-point arithmetic
// and fast robust geometric predicates", 1997, section 4).
const orientationBound = (3 + 16*0x1p-53) * 0x1p-53

// Orientation says on which side of a → b the point c lies: 1 left, −1 right, 0 on the line. Points are two coordinates of any
// unit, degrees too. It is exact: float64 where its error bound proves the sign, else rational numbers.
func Orientation(a, b, c [2]float64) int {
	l, r := (a[0]-c[0])*(b[1]-c[1]), (a[1]-c[1])*(b[0]-c[0])
	det := l - r
	if bound := orientationBound * (math.Abs(l) + math.Abs(r)); det > bound {
		return 1
	} else if -det > bound {
		return -1
	} else if bound == 0 && (a == c || b == c || a[0] == c[0] && b[0] == c[0] || a[1] == c[1] && b[1] == c[1]) {
		return 0
	}
	var q [6]big.Rat
	for i, v := range [6]float64{a[0], a[1], b[0], b[1], c[0], c[1]} {
		q[i].SetFloat64(v)
	}
	q[0].Sub(&q[0], &q[4])
	q[3].Sub(&q[3], &q[5])
	q[1].Sub(&q[1], &q[5])
	q[2].Sub(&q[2], &q[4])
	q[0].Mul(&q[0], &q[3])
	q[1].Mul(&q[1], &q[2])
	return q[0].Cmp(&q[1])
}

// filter is the proven bound of the float test. Differences of lattice points
// are exact, so only the two products and their difference round, each by half
// a unit in the last place: |error| ≤ 2^-53·(|p|+|q|+|p−q|) < 2^-51·(|p|+|q|).
const filter = 1.0 / (1 << 51)

// det is twice the signed area of the triangle a, b, c in m², positive when it
// turns counter-clockwise. sure: its sign is proven.
func det(a, b, c XY) (d float64, sure bool) {
	p := (b.X - a.X) * (c.Y - a.Y)
	q := (b.Y - a.Y) * (c.X - a.X)
	d = p - q
	if p < 0 {
		p = -p
	}
	if q < 0 {
		q = -q
	}
	e := filter * (p + q)
	return d, d > e || d < -e
}

// detExact is det without rounding of the sign: the products are formed in 128
// bits. The value is correct to a few units in the last place.
func detExact(a, b, c XY) float64 {
	ph, pl := mul(b.X-a.X, c.Y-a.Y)
	qh, ql := mul(b.Y-a.Y, c.X-a.X)
	lo, borrow := bits.Sub64(pl, ql, 0)
	hi, _ := bits.Sub64(uint64(ph), uint64(qh), borrow)
	neg := int64(hi) < 0
	if neg {
		var carry uint64
		lo, carry = bits.Add64(^lo, 1, 0)
		hi = ^hi + carry
	}
	v := (float64(hi)*(1<<64) + float64(lo)) / (1 << 52)
	if neg {
		return -v
	}
	return v
}

// mul multiplies two lattice lengths to a signed 128-bit number of lattice
// steps squared.
func mul(x, y float64) (hi int64, lo uint64) {
	i, j := int64(x*lattice), int64(y*lattice)
	neg := (i < 0) != (j < 0)
	if i < 0 {
		i = -i
	}
	if j < 0 {
		j = -j
	}
	h, l := bits.Mul64(uint64(i), uint64(j))
	if neg {
		var carry uint64
		l, carry = bits.Add64(^l, 1, 0)
		h = ^h + carry
	}
	return int64(h), l
}

// order is the power of ε in front of a term: 2^hi, or 2^hi+2^lo. The smaller
// one is the larger term.
type order struct{ hi, lo int32 }

func (o order) less(p order) bool { return o.hi < p.hi || o.hi == p.hi && o.lo < p.lo }

// exactly marks a determinant that needs no tie break: it outweighs every ε.
var exactly = order{-1, -1}

// tie decides the side of c from the line a, b when the three lie exactly on
// one line: "simulation of simplicity" (Edelsbrunner & Mücke, ACM Trans. Graph.
// 9 (1990) 66). Point i is thought to be moved by (ε^2^(2i+1), ε^2^2i); the
// first term of the expanded determinant that is not zero decides. For ids
// i < j < k these are, in order:
//
//	(x_k−x_j)·ε^2^2i, (y_j−y_k)·ε^2^(2i+1), (x_i−x_k)·ε^2^2j, 1·ε^(2^2j+2^(2i+1))
//
// term is the deciding coefficient, with sign, and o its power of ε.
func tie(a, b, c XY, ia, ib, ic int32) (term float64, o order) {
	sign := 1.0
	if ia > ib {
		a, b, ia, ib, sign = b, a, ib, ia, -sign
	}
	if ib > ic {
		b, c, ib, sign = c, b, ic, -sign
	}
	if ia > ib {
		a, b, ia, ib, sign = b, a, ib, ia, -sign
	}
	switch {
	case c.X != b.X:
		return sign * (c.X - b.X), order{2 * ia, -1}
	case b.Y != c.Y:
		return sign * (b.Y - c.Y), order{2*ia + 1, -1}
	case a.X != c.X:
		return sign * (a.X - c.X), order{2 * ib, -1}
	}
	return sign, order{2 * ib, 2*ia + 1}
}

// side is +1 when c lies left of the line a→b, −1 when it lies right; never 0.
// The ids name the points for the tie break and must differ. d is det(a, b, c)
// as far as it could be computed, or the deciding term where that is zero.
func side(a, b, c XY, ia, ib, ic int32) (s int, d float64, o order) {
	o = exactly
	d, sure := det(a, b, c)
	if !sure {
		if d = detExact(a, b, c); d == 0 {
			d, o = tie(a, b, c, ia, ib, ic)
		}
	}
	if d > 0 {
		return 1, d, o
	}
	return -1, d, o
}

// above says whether point b lies above point a, ties broken as in tie: the
// smaller id is moved up more.
func above(a, b XY, ia, ib int32) bool {
	if a.Y != b.Y {
		return b.Y > a.Y
	}
	return ib < ia
}
