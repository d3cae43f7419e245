package plane

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
)

// slowDet is twice the signed area in lattice steps squared, with numbers of any length.
func slowDet(a, b, c XY) *big.Int {
	less := func(x, y float64) *big.Int {
		steps := func(v float64) *big.Int { return big.NewInt(int64(v * lattice)) }
		return new(big.Int).Sub(steps(x), steps(y))
	}
	p := new(big.Int).Mul(less(b.X, a.X), less(c.Y, a.Y))
	return p.Sub(p, new(big.Int).Mul(less(b.Y, a.Y), less(c.X, a.X)))
}

// A point some lattice steps beside a line of some hundred metres: the float test may say that it does not know, but what it
// calls sure has the right sign, with an error below a quarter (the bound at filter: 2^-53 against 2^-51), and the exact test is
// right always. Along all four diagonals and both axes: each product takes each sign.
func TestDetIsSureOnlyWhereItIsRight(t *testing.T) {
	const seed = 7
	rng := rand.New(rand.NewPCG(seed, 0))
	at := func(x, y int64) XY { return XY{float64(x) / lattice, float64(y) / lattice} }
	for _, way := range [][2]int64{{1, 1}, {-1, 1}, {-1, -1}, {1, -1}, {1, 0}, {0, 1}, {-1, 0}, {0, -1}} {
		unsure, wrong := 0, 0
		for range 2000 {
			long := rng.Int64N(1 << 33)
			dx, dy := way[0]*long+rng.Int64N(2000)-1000, way[1]*long+rng.Int64N(2000)-1000
			times, off := 1+rng.Int64N(4), rng.Int64N(3)-1
			ax, ay := rng.Int64N(1<<34), rng.Int64N(1<<34)
			a, b := at(ax, ay), at(ax+dx, ay+dy)
			c := at(ax+times*dx+off*way[0], ay+times*dy+off*way[1])
			exact := slowDet(a, b, c)
			want, _ := new(big.Float).SetInt(exact).Float64()
			want /= lattice * lattice
			d, sure := det(a, b, c)
			if sure && (sign(d) != exact.Sign() || math.Abs(d-want) > 0.2501*math.Abs(d)) {
				t.Fatalf("seed %d, %v, %v, %v: sure of %g, want %g", seed, a, b, c, d, want)
			}
			if !sure {
				unsure++
			}
			if sign(d) != exact.Sign() {
				wrong++
			}
			if got := detExact(a, b, c); math.Abs(got-want) > 1e-15*math.Abs(want) {
				t.Fatalf("seed %d, %v, %v, %v: exactly %g, want %g", seed, a, b, c, got, want)
			}
			s, v, o := side(a, b, c, 0, 1, 2)
			if e := exact.Sign(); e != 0 && (s != e || sign(v) != e || o != exactly) || e == 0 && (s != sign(v) || o == exactly) {
				t.Fatalf("seed %d, %v, %v, %v: side %d by %g and ε^%v, want the sign of %v", seed, a, b, c, s, v, o, exact)
			}
		}
		if unsure == 0 || way[0]*way[1] != 0 && wrong == 0 {
			t.Errorf("way %v: the float test was unsure %d times and wrong %d times: the cases are too easy", way, unsure, wrong)
		}
	}
}

// Twice the area is base times height: with each sign of each product, and where a half of the 128 bits is empty.
func TestDetOfTrianglesByHand(t *testing.T) {
	const step = 1.0 / lattice
	for _, c := range []struct {
		name    string
		a, b, c XY
		want    float64
	}{
		{"base 4 m east, height 3 m", XY{0, 0}, XY{4, 0}, XY{1, 3}, 12},
		{"base 4 m west, height 3 m", XY{4, 0}, XY{0, 0}, XY{1, -3}, 12},
		{"base 4 m south, height 3 m", XY{0, 0}, XY{0, -4}, XY{3, -1}, 12},
		{"base 4 m north, height 3 m", XY{2, 1}, XY{2, 5}, XY{-1, 2}, 12},
		{"aslant, 3-4-5 twice as long each way", XY{1, 1}, XY{4, 5}, XY{-7, 7}, 50},
		{"2^32 steps each way: the low half is empty", XY{0, 0}, XY{64, 0}, XY{0, 64}, 4096},
		{"one step each way: the high half is empty", XY{9, 9}, XY{9 + step, 9}, XY{9, 9 + step}, step * step},
		{"one step north and west: one product below nothing, the other nothing", XY{9, 9}, XY{9, 9 + step}, XY{9 - step, 9}, step * step},
		{"one step and a kilometre", XY{0, 0}, XY{step, 0}, XY{0, 1024}, 1024 * step},
		{"from limit to limit", XY{-Limit, -Limit}, XY{Limit, -Limit}, XY{-Limit, Limit}, 4 * Limit * Limit},
	} {
		for _, turn := range []struct {
			a, b, c XY
			want    float64
		}{{c.a, c.b, c.c, c.want}, {c.b, c.c, c.a, c.want}, {c.b, c.a, c.c, -c.want}, {c.a, c.c, c.b, -c.want}, {c.c, c.b, c.a, -c.want}} {
			if d, sure := det(turn.a, turn.b, turn.c); d != turn.want || !sure {
				t.Errorf("%s, %v, %v, %v: %g (%t), want %g", c.name, turn.a, turn.b, turn.c, d, sure, turn.want)
			}
			if d := detExact(turn.a, turn.b, turn.c); d != turn.want {
				t.Errorf("%s, %v, %v, %v: exactly %g, want %g", c.name, turn.a, turn.b, turn.c, d, turn.want)
			}
		}
	}
}

func sign(v float64) int {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}

// The tie break is what its definition says (Edelsbrunner & Mücke 1990): with ε = 1/1024 put in for good, point i moved by
// (ε^2^(2i+1), ε^2^2i), and the areas and heights of points on one line worked out with fractions of any length.
func TestTieIsTheLimitOfMovedPoints(t *testing.T) {
	power := func(n uint) *big.Rat {
		return new(big.Rat).SetFrac(big.NewInt(1), new(big.Int).Lsh(big.NewInt(1), 10*n))
	}
	type moved struct{ x, y *big.Rat }
	move := func(p XY, id uint) moved {
		x, y := new(big.Rat).SetFloat64(p.X), new(big.Rat).SetFloat64(p.Y)
		return moved{x.Add(x, power(1<<(2*id+1))), y.Add(y, power(1<<(2*id)))}
	}
	less := func(a, b *big.Rat) *big.Rat { return new(big.Rat).Sub(a, b) }
	area := func(a, b, c moved) *big.Rat {
		p := new(big.Rat).Mul(less(b.x, a.x), less(c.y, a.y))
		return p.Sub(p, new(big.Rat).Mul(less(b.y, a.y), less(c.x, a.x)))
	}
	exponent := func(o order) (n uint) {
		for _, k := range []int32{o.hi, o.lo} {
			if k >= 0 {
				n += 1 << k
			}
		}
		return n
	}
	met := map[order]bool{}
	var ids [][3]int32 // three of four, in every order
	for i := range int32(4) {
		for j := range int32(4) {
			for k := range int32(4) {
				if i != j && j != k && k != i {
					ids = append(ids, [3]int32{i, j, k})
				}
			}
		}
	}
	for _, c := range []struct {
		name string
		at   [3]XY
	}{
		{"three points in one place", [3]XY{{3, 4}, {3, 4}, {3, 4}}},
		{"two in one place, the third east", [3]XY{{3, 4}, {3, 4}, {5, 4}}},
		{"two in one place, the third north", [3]XY{{3, 4}, {3, 9}, {3, 4}}},
		{"two in one place, the third aslant", [3]XY{{1, 1}, {3, 4}, {3, 4}}},
		{"on a line to the east", [3]XY{{0, 2}, {1, 2}, {3, 2}}},
		{"on a line to the north, the middle last", [3]XY{{2, 0}, {2, 3}, {2, 1}}},
		{"on a line aslant, falling", [3]XY{{0, 3}, {2, 2}, {4, 1}}},
		{"on a line aslant, rising", [3]XY{{-1, -1}, {2, 2}, {1, 1}}},
		{"on no line", [3]XY{{0, 0}, {4, 0}, {1, 3}}},
	} {
		for _, id := range ids {
			a, b, p := c.at[0], c.at[1], c.at[2]
			ma, mb, mp := move(a, uint(id[0])), move(b, uint(id[1])), move(p, uint(id[2]))
			s, d, o := side(a, b, p, id[0], id[1], id[2])
			want := area(ma, mb, mp)
			if s != want.Sign() || sign(d) != s {
				t.Errorf("%s, numbered %v: side %d by %g, want %d", c.name, id, s, d, want.Sign())
			}
			// What is left out is by a whole power of ε smaller.
			if q, _ := new(big.Rat).Quo(want, power(exponent(o))).Float64(); math.Abs(q-d) > 0.05*math.Abs(d) {
				t.Errorf("%s, numbered %v: %g·ε^%d, want %g of that power", c.name, id, d, exponent(o), q)
			}
			met[o] = true
			if got, want := above(a, b, id[0], id[1]), mb.y.Cmp(ma.y) > 0; got != want {
				t.Errorf("%s, numbered %v: the second above the first: %t, want %t", c.name, id, got, want)
			}
		}
	}
	if len(met) < 8 {
		t.Errorf("only %d powers met: the cases are too few", len(met))
	}
	for o := range met {
		for p := range met {
			if o.less(p) != (exponent(o) < exponent(p)) {
				t.Errorf("%v (ε^%d) before %v (ε^%d): %t", o, exponent(o), p, exponent(p), o.less(p))
			}
		}
	}
}
