package plan

import (
	"math"
	"testing"

	"balk/geo/plane"
)

// TestRowsEndEarly: on a rectangle with three rounds of 5 m a trailed set that needs 16 m for its U (the bar 6.2 m behind the axle, a radius of 7 m, half its width,
// 0.3 m of margin) is short by 1 m. Rows end so much early, in steps of half a metre; what they leave is missed, and costs less than turns that do
// not fit. Where missing is dear, they do not.
func TestRowsEndEarly(t *testing.T) {
	field := []plane.Polygon{{rectangle(0, 0, 300, 200)}}
	for _, c := range []struct {
		hours float64
		early bool
	}{{8, true}, {1000, false}} {
		p, got := laid(t, field, trailed(5), Options{Speed: 8, Rounds: 3, MissedHours: c.hours})
		left, most := 0.0, 0.0
		for _, one := range p.Passes {
			if one.Round == 0 {
				left, most = left+5*(270-one.Length), max(most, 270-one.Length)
			}
		}
		unfit := 0
		for i, m := range p.Moves[:len(p.Passes)] {
			if m.Fault != nil && p.Passes[i].Round == 0 {
				unfit++
			}
		}
		if got.InteriorLeft > left+0.1 || got.InteriorLeft < 0.9*left {
			t.Errorf("%g h/ha: interior missed %g m², rows end early by %g m²", c.hours, got.InteriorLeft, left)
		}
		if c.early && (unfit > 0 || left < 5*30 || left > 10*33+0.1 || most < 1-hair || most > 3+hair) {
			t.Errorf("%g h/ha: %d turns do not fit, %g m² left, a row by %g m: want none, 1 m of one row or of both at each of 33 turns", c.hours, unfit, left, most)
		}
		if !c.early && (unfit == 0 || left > 1e-6) {
			t.Errorf("%g h/ha: %d turns do not fit, %g m² left: want some, and nothing left", c.hours, unfit, left)
		}
		if c.early && (got.Missed-got.InteriorLeft > 200 || p.open < got.InteriorLeft*c.hours*0.36) {
			t.Errorf("%g h/ha: %g s for what is left in a comparison, %g m² of it in the interior", c.hours, p.open, got.InteriorLeft)
		}
		checkSums(t, p, got)
		checkWays(t, p)
	}
}

// TestEndAslant is what a row of 5 m leaves that ends aslant by 4 m when it ends early: by 2 m a triangle of 2 m by 2.5 m, by 6 m what a row of 5 m leaves over 4 m on the
// mean; square it is 5 m² a metre.
func TestEndAslant(t *testing.T) {
	b := block{rows: []int{0, 1, 2}}
	for k := range 3 {
		b.strips = append(b.strips, strip{row: k, v: 5 * float64(k), u0: 0, u1: 100 + 4*float64(k)})
	}
	for _, c := range []struct {
		cut  float64
		end  bool
		want float64
	}{{2, true, 2.5}, {6, true, 20}, {2, false, 10}, {0, true, 0}, {0, false, 0}} {
		for i := range 3 {
			end := c.end == (i%2 == 0) // every other row is driven the other way
			if got := b.left(5, i, 0, end)(c.cut); math.Abs(got-c.want) > 1e-9 {
				t.Errorf("row %d, %g m early: %g m², want %g m²", i, c.cut, got, c.want)
			}
		}
	}
}

// TestBaysNotWorthIt: rows of 3 m in two bays, to which a set finds no way from a headland of 5 m, are left at 8 h/ha, but where the work begins in one, and worked at 800.
func TestBaysNotWorthIt(t *testing.T) {
	bays := []plane.Polygon{{{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200, Y: 100}, {X: 153, Y: 100}, {X: 153, Y: 115}, {X: 140, Y: 115}, {X: 140, Y: 100},
		{X: 53, Y: 100}, {X: 53, Y: 115}, {X: 40, Y: 115}, {X: 40, Y: 100}, {X: 0, Y: 100}}}}
	blocks := map[float64]int{}
	for _, hours := range []float64{8, 800} {
		p, got := laid(t, bays, trailed(5), Options{Speed: 8, Rounds: 1, MissedHours: hours})
		blocks[hours] = got.Blocks
		checkSums(t, p, got)
		for _, one := range p.Passes {
			if one.Block > 1 && one.Length < 5 && hours == 8 {
				t.Errorf("pass %d of %.1f m is driven", one.Number, one.Length)
			}
		}
	}
	if blocks[8] >= blocks[800] {
		t.Errorf("blocks by hours per hectare missed: %v", blocks)
	}
}

// TestLastRowEndsEarly: a set whose nose is 7 m ahead of the bar has no room for it at the end of the last row before a round of 6 m, and so no way to that round. The row ends as much
// early as the nose needs, less what the margin gives way along a boundary; what that leaves is missed. Where missing is dear the row goes to its end, and the way does not fit.
func TestLastRowEndsEarly(t *testing.T) {
	for _, c := range []struct {
		hours float64
		early bool
	}{{8, true}, {1000, false}} {
		im := mounted(6)
		im.Tractor.Ahead = 7 - im.Mount.HitchBehindAxle() - im.Mount.BarBehind
		p, got := laid(t, box(200, 100), im, Options{Speed: 8, Rounds: 1, MissedHours: c.hours})
		k := 0
		for k < len(p.Passes) && p.Passes[k].Round == 0 {
			k++
		}
		cut, into := 188-p.Passes[k-1].Length, p.Moves[k]
		if c.early && (into.Fault != nil || cut < 0.5 || cut > 4) {
			t.Errorf("%g h/ha: last row %g m early, way to the round %v: want one that fits, and a metre or some early", c.hours, cut, into.Fault)
		}
		if !c.early && (into.Fault == nil || cut > 1e-6) {
			t.Errorf("%g h/ha: last row %g m early, way to the round %v: want one that does not fit, and no row early", c.hours, cut, into.Fault)
		}
		checkSums(t, p, got)
		checkWays(t, p)
	}
}
