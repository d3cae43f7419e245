package turn

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

// anySet is an invented set of likely sizes.
func anySet(rng *rand.Rand) rig.Implement {
	cm := func(from, to float64) float64 { return math.Round(100*(from+(to-from)*rng.Float64())) / 100 }
	im := rig.Implement{Width: cm(3, 9), Overlap: 0.1,
		Mount:   rig.Mount{AntennaAhead: cm(0, 2), Hitch: cm(1, 3.5), BarBehind: cm(0.3, 2.5)},
		Tractor: rig.Tractor{Ahead: cm(3, 4.5), Behind: cm(0.5, 1), Width: cm(2.2, 3)},
		Body:    rig.Body{Ahead: cm(0.5, 2), Behind: cm(0.5, 1.2)},
		Turning: rig.Turning{Radius: cm(4, 8.5), Speed: 6, ReverseSpeed: 4, Change: 3, Margin: cm(0, 0.5)}}
	im.Body.Width = im.Width
	if rng.IntN(3) == 0 {
		im.Mount.Trailed, im.Mount.Drawbar, im.Mount.MaxAngle = true, cm(2, 5), 60
		im.Mount.MayReverse = rng.IntN(2) == 0
	}
	if rng.IntN(3) == 0 {
		im.Mount.BarRight = cm(-0.8, 0.8)
	}
	return im
}

// TestTableAgreesWithAField: at the row ends of a rectangle, far from its corners, the field has the turn that the table
// has: as feasible, as quick, as deep; and the field's rows become feasible at the table's least depth. The field lies askew,
// so that rounding differs.
func TestTableAgreesWithAField(t *testing.T) {
	const seed, sets = 71, 25
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	feasible, infeasible := 0, 0
	for n := range sets {
		im := anySet(rng)
		spacing := nano(im.Width - im.Overlap)
		heading := geo.Heading(2 * math.Pi * rng.Float64())
		f := plane.Frame{Ahead: heading.Ahead()}
		at := func(depth float64) (Pattern, []RowEnd) {
			pats, err := Table(bg, im, spacing, depth, 0)
			if err != nil {
				t.Fatal(err)
			}
			wide := max(70, 2*depth) + 5*spacing // the middle row turns far from both sides
			var ring plane.Ring
			for _, p := range []plane.XY{{X: 0, Y: 0}, {X: wide, Y: 0}, {X: wide, Y: 200}, {X: 0, Y: 200}} {
				ring = append(ring, f.From(plane.XY{X: p.Y, Y: -p.X}))
			}
			e := judged(t, []plane.Polygon{{ring}}, im, depth, heading)
			middle := e.Rows / 2
			var ends []RowEnd
			for _, end := range e.Ends {
				if end.Row == middle {
					ends = append(ends, end)
				}
			}
			if len(ends) != 2 {
				t.Fatalf("set %d: %d ends of row %d", n, len(ends), middle)
			}
			return pats[0], ends
		}
		all := func(ends []RowEnd) bool { return ends[0].Turn.Feasible && ends[1].Turn.Feasible }
		pat, _ := at(60)
		const noise = 5e-3 // m: how finely the set is driven, and the grid of the core
		depths := []float64{60, 4 + 20*rng.Float64()}
		if pat.LeastDepth > 0 {
			depths = append(depths, pat.LeastDepth-noise, pat.LeastDepth+noise)
		}
		for i, depth := range depths {
			pat, ends := at(depth)
			if want := pat.Best != ""; want != all(ends) {
				t.Errorf("set %d, %g m: the table has %q from %.3f m on, the field %q and %q\n%+v", n, depth, pat.Best, pat.LeastDepth, ends[0].Turn.Kind, ends[1].Turn.Kind, im)
			}
			if want := i != 2; i >= 2 && want != all(ends) {
				t.Errorf("set %d: least depth %.3f m, at %.3f m feasible: %v", n, pat.LeastDepth, depth, !want)
			}
			for _, end := range ends {
				if !end.Turn.Feasible {
					infeasible++
					continue
				}
				feasible++
				if end.Turn.Depth > depth+noise || !near(end.Turn.Spare, depth-end.Turn.Depth, noise) && end.Turn.Spare > depth-end.Turn.Depth {
					t.Errorf("set %d, %g m: %s of %.3f m with %.3f m to spare", n, depth, end.Turn.Kind, end.Turn.Depth, end.Turn.Spare)
				}
				if im.Mount.BarRight == 0 {
					b := pat.Turns[max(0, slices.Index(Kinds(), pat.Best))]
					if b.Kind != end.Turn.Kind || !near(b.Time, end.Turn.Time, 0.01) || !near(b.Depth, end.Turn.Depth, noise) || b.Changes != end.Turn.Changes {
						t.Errorf("set %d, %g m: table %+v, field %+v\n%+v", n, depth, b, end.Turn, im)
					}
				}
			}
		}
	}
	if feasible < sets || infeasible < sets/3 {
		t.Errorf("%d ends feasible, %d not: the case has changed", feasible, infeasible)
	}
}

// TestOfEqualWaysTheOneThatFits: on a radius of 4.96 m rows 5.5 m apart have two ways of π·r with reversing: three
// arcs, forward first or in reverse first. The one in reverse first needs 5.6 m of headland only and drives more in reverse;
// the other is quicker. Sets and figures are invented, lengths are Reeds & Shepp's.
func TestOfEqualWaysTheOneThatFits(t *testing.T) {
	im := rig.Implement{Width: 5.6, Overlap: 0.1, Mount: rig.Mount{AntennaAhead: 0.79, Hitch: 1.53, BarBehind: 0.45},
		Tractor: rig.Tractor{Ahead: 3.8, Behind: 0.96, Width: 2.8}, Body: rig.Body{Ahead: 1.65, Behind: 0.57, Width: 5.6},
		Turning: rig.Turning{Radius: 4.96, Speed: 6, ReverseSpeed: 4, Change: 3}}
	at := func(depth float64) (Turn, Pattern) {
		pats, err := Table(bg, im, 5.5, depth, 0)
		if err != nil {
			t.Fatal(err)
		}
		return pats[0].Turns[len(Kinds())-1], pats[0]
	}
	low, lowPat := at(6)
	high, highPat := at(30)
	if !near(low.Length, math.Pi*4.96, sameLength) || !near(high.Length, math.Pi*4.96, sameLength) {
		t.Fatalf("%.4f and %.4f m: want π·r = %.4f m both", low.Length, high.Length, math.Pi*4.96)
	}
	if !low.Feasible || !high.Feasible || !(high.Time < low.Time-1) || !(low.Depth < high.Depth-1) {
		t.Errorf("in 6 m %.1f s and %.2f m deep, in 30 m %.1f s and %.2f m: want the deeper one quicker", low.Time, low.Depth, high.Time, high.Depth)
	}
	if lowPat.LeastDepth != highPat.LeastDepth || !near(lowPat.LeastDepth, low.Depth, 1e-9) {
		t.Errorf("least depth %.3f and %.3f m: must not depend on the headland, and be %.3f m", lowPat.LeastDepth, highPat.LeastDepth, low.Depth)
	}
	for _, o := range highPat.Turns {
		if o.Feasible && o.Time < high.Time && highPat.Best == Reversing {
			t.Errorf("quickest %s of %.1f s: %s takes %.1f s", highPat.Best, high.Time, o.Kind, o.Time)
		}
	}
}

// TestSettlesInTheEnd: with the bar 0.57 m left of the middle, rows 17.70 m apart are for the tractor 2.7 m more than two
// least radii, and the shortest way forward ends in a run-in that grows slowly. It settles within the lap of 0.10 m.
func TestSettlesInTheEnd(t *testing.T) {
	im := rig.Implement{Width: 6, Overlap: 0.1, Mount: rig.Mount{Trailed: true, AntennaAhead: 1.88, Hitch: 3.15, BarBehind: 2.27, BarRight: -0.57, Drawbar: 4.13, MaxAngle: 60},
		Tractor: rig.Tractor{Ahead: 3.23, Behind: 0.73, Width: 2.25}, Body: rig.Body{Ahead: 1.32, Behind: 0.99, Width: 2.4},
		Turning: rig.Turning{Radius: 8.08, Speed: 6, ReverseSpeed: 4, Change: 3, Margin: 0.5}}
	j, err := newJudge(im)
	if err != nil {
		t.Fatal(err)
	}
	free := func(*Driven, float64) Fit { return Fit{} }
	for _, left := range []bool{true, false} {
		w, err := j.one(bg, Forward, Line{Distance: 17.7, Left: left}, free)
		if err != nil || !w.Feasible {
			t.Fatalf("left %v: %s (%v)", left, w.Why, err)
		}
		psi := w.Driven.Moments[len(w.Driven.Moments)-1].Set.Angle()
		off := (4.13+2.27)*math.Sin(psi) + 3*(1-math.Cos(psi))
		if off > 0.1*(1+2*nearly) || off < 0.05 {
			t.Errorf("left %v: bar's end %.4f m off after a run-in of %.2f m: want no more than the lap of 0.1 m, and no run-in without need", left, off, w.RunIn)
		}
	}
}
