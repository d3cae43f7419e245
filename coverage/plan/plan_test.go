package plan

import (
	"math"
	"strings"
	"testing"

	"balk/coverage"
	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// mounted is a set on the three-point hitch that turns on 6 m and may reverse.
func mounted(width float64) rig.Implement {
	return rig.Implement{Name: "mounted", Width: width, Mount: rig.Mount{Hitch: 1.2, BarBehind: 1},
		Tractor: rig.Tractor{Ahead: 3.8, Behind: 1, Width: 2.5}, Body: rig.Body{Ahead: 0.8, Behind: 0.8, Width: min(width, 6)},
		Turning: rig.Turning{Radius: 6, Speed: 6, ReverseSpeed: 4, Change: 3, Margin: 0.3}}
}

// trailed is a set with a drawbar that must not reverse.
func trailed(width float64) rig.Implement {
	im := mounted(width)
	im.Name = "trailed"
	im.Mount = rig.Mount{Trailed: true, Hitch: 1.2, Drawbar: 4, BarBehind: 1, DrawbarRadius: 7}
	return im
}

func rectangle(x0, y0, x1, y1 float64) plane.Ring {
	return plane.Ring{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

func hole(x0, y0, x1, y1 float64) plane.Ring {
	return plane.Ring{{X: x0, Y: y0}, {X: x0, Y: y1}, {X: x1, Y: y1}, {X: x1, Y: y0}}
}

func box(a, b float64) []plane.Polygon { return []plane.Polygon{{rectangle(0, 0, a, b)}} }

func laid(t testing.TB, field []plane.Polygon, im rig.Implement, o Options) (Plan, Candidate) {
	t.Helper()
	p, err := Lay(t.Context(), field, im, o)
	if err != nil {
		t.Fatal(err)
	}
	c, err := Simulate(t.Context(), p)
	if err != nil {
		t.Fatal(err)
	}
	return p, c
}

// turnsInside are the moves between two passes of the interior, and how many of
// them are turns.
func turnsInside(p Plan) (moves, turns int) {
	for i := 1; i < len(p.Passes); i++ {
		if p.Passes[i].Block > 0 && p.Passes[i-1].Block > 0 {
			moves++
			if p.Moves[i].Turned() {
				turns++
			}
		}
	}
	return moves, turns
}

// TestRectangles has closed forms: headland share 1 − (1 − 2h/a)(1 − 2h/b) (own
// derivation), passes ⌈(b − 2h)/w⌉ of a − 2h, one turn fewer than passes, rounds.
func TestRectangles(t *testing.T) {
	for _, c := range []struct {
		what     string
		a, b     float64
		width    float64
		rounds   int
		heading  geo.Heading
		share    float64
		passes   int
		long     float64
		straight float64 // direction, degrees
	}{
		{"400 × 250, 3 rounds of 6 m, along", 400, 250, 6, 3, 0, 0.2210, 36, 364, 90},
		{"400 × 250, 3 rounds of 6 m, across", 400, 250, 6, 3, math.Pi / 2, 0.2210, 61, 214, 0},
		{"400 × 250, 3 rounds of 6 m, backwards", 400, 250, 6, 3, math.Pi, 0.2210, 36, 364, 90},
		{"400 × 250, 2 rounds of 6 m", 400, 250, 6, 2, 0, 0.1502, 38, 376, 90},
		{"200 × 100, 3 rounds of 6 m", 200, 100, 6, 3, 0, 0.4752, 11, 164, 90},
		{"1000 × 500, 3 rounds of 6 m", 1000, 500, 6, 3, 0, 0.1054, 78, 964, 90},
	} {
		t.Run(c.what, func(t *testing.T) {
			p, got := laid(t, box(c.a, c.b), mounted(c.width), Options{Rounds: c.rounds, Speed: 8, Heading: c.heading})
			if math.Abs(got.HeadlandShare-c.share) > 5e-5 {
				t.Errorf("headland share %.4f: want %.4f", got.HeadlandShare, c.share)
			}
			if got.Passes != c.passes || got.Loops != c.rounds || got.Blocks != 1 || got.Direction != c.straight {
				t.Errorf("%d passes, %d rounds, %d blocks at %g°: want %d, %d, 1 at %g°", got.Passes, got.Loops, got.Blocks, got.Direction, c.passes, c.rounds, c.straight)
			}
			if moves, turns := turnsInside(p); moves != c.passes-1 || turns != moves {
				t.Errorf("%d moves in the interior, %d of them turns: want %d turns", moves, turns, c.passes-1)
			}
			for _, one := range p.Passes {
				if one.Block > 0 && math.Abs(one.Length-c.long) > 1e-6 {
					t.Errorf("pass %d of %g m: want %g m", one.Number, one.Length, c.long)
				}
			}
			if got.InteriorLeft > 1e-6*got.Field || got.Outside > 1e-6*got.Field || len(got.Infeasible) > 0 {
				t.Errorf("interior missed %g m², outside %g m², %d turns do not fit: want none", got.InteriorLeft, got.Outside, len(got.Infeasible))
			}
			// The inner rounds are driven to the end of each corner, which leaves nothing. In the outermost the set has no room to swing
			// out of a pass along the boundary, so its corners are on a radius of 6 m. Outside the bar's outer end they leave
			// (1 − π/4)·9² = 17.4 m² each. Lines thinned to fractions of a millimetre leave a square metre on a kilometre.
			corner := (1 - math.Pi/4) * 81
			if most := 4*corner + 1e-3*2*(c.a+c.b); got.Missed < 4*corner-0.1 || got.Missed > most || got.Stretches != 4*(c.rounds-1) {
				t.Errorf("missed %g m², %d stretches: want from %g to %g m², %d", got.Missed, got.Stretches, 4*corner, most, 4*(c.rounds-1))
			}
			// Where missed ground costs next to nothing all corners are on that radius, and between rounds, a width apart in depth but
			// of one radius, sickles stay: (1 − π/4)·(9² − 3²) = 15.5 m² each.
			_, round := laid(t, box(c.a, c.b), mounted(c.width), Options{Rounds: c.rounds, Speed: 8, Heading: c.heading, MissedHours: 0.01})
			least := 4*corner + float64(4*(c.rounds-1))*(1-math.Pi/4)*72
			if most := least + 1e-3*2*(c.a+c.b)*float64(c.rounds); round.Missed < least-0.1 || round.Missed > most || round.Stretches > 0 || round.Hours >= got.Hours {
				t.Errorf("corners rounded: missed %g m² in %g h, %d stretches: want from %g to %g m² in less than %g h, none", round.Missed, round.Hours, round.Stretches, least, most, got.Hours)
			}
			checkSums(t, p, got)
			for _, one := range p.Passes {
				checkBends(t, one, 6)
			}
			missed, _, err := p.bands(t.Context(), func() float64 { return 0 })
			if err != nil || math.Abs(missed-got.Missed) > 1 {
				t.Errorf("bands miss %g m², the engine %g m² (%v)", missed, got.Missed, err)
			}
		})
	}
}

// TestSmallerThanTheSet: no pass fits; all is missed, and that is no error.
func TestSmallerThanTheSet(t *testing.T) {
	gate := plane.XY{}
	p, c := laid(t, box(5, 4), mounted(6), Options{Speed: 8, Gate: &gate})
	if len(p.Passes) != 0 || math.Abs(c.Missed-20) > 1e-6 || c.Hours != 0 {
		t.Errorf("%d passes, missed %g m² in %g h: want none, 20 m², 0 h", len(p.Passes), c.Missed, c.Hours)
	}
	if _, err := Best(t.Context(), box(5, 4), mounted(6), Options{Speed: 8}, Objective{}); err != nil {
		t.Error(err)
	}
	if got := Guidance(p); len(got) != 0 {
		t.Errorf("%d guidance lines: want none", len(got))
	}
}

// checkBends holds headland rounds against the least radius r: from half a radius before a place to half a radius after it the
// way turns by no more than an arc does (chords of length a on a circle stand at 2·asin(a/2r)), but for a corner by which the
// set is no more than 0.1 m off its line, r(1/cos(θ/2) − 1) (own arithmetic, without the plan's own look at bends).
func checkBends(t *testing.T, one Pass, r float64) {
	t.Helper()
	if one.Round == 0 {
		return
	}
	const off = 0.1
	long := plane.Length(one.Line)
	most := 2*math.Asin(0.25) + 2*math.Acos(r/(r+off)) + 0.02
	at := func(s float64) plane.XY {
		if one.Stretch == 0 {
			s = math.Mod(s+long, long)
		}
		p, _ := along(one.Line, s, false)
		return p
	}
	from, to := 0.0, long
	if one.Stretch > 0 {
		from, to = r/2, long-r/2
	}
	for s := from; s <= to; s += 0.5 {
		a, b := at(s).Sub(at(s-r/2)), at(s+r/2).Sub(at(s))
		if turns := math.Abs(math.Atan2(a.Cross(b), a.Dot(b))); turns > most {
			t.Errorf("round %d, stretch %d: turns by %.0f° within %g m at %v: want %.0f° at most", one.Round, one.Stretch, turns*180/math.Pi, r, at(s), most*180/math.Pi)
			return
		}
	}
}

// checkSums holds the engine's figures against the plan's own.
func checkSums(t *testing.T, p Plan, c Candidate) {
	t.Helper()
	if len(p.Moves) != len(p.Passes)+1 {
		t.Errorf("%d moves for %d passes: want one more", len(p.Moves), len(p.Passes))
	}
	worked := c.Field - c.Missed
	if c.Hours > 0 && math.Abs(c.Capacity*c.Hours*secondsH-worked) > 1e-3*worked {
		t.Errorf("%g m²/s over %g h: want the %g m² worked", c.Capacity, c.Hours, worked)
	}
	if want := coverage.Capacity(p.Options.Speed.MetresPerSecond(), c.Width, c.Share); math.Abs(c.Capacity-want) > 1e-3*want {
		t.Errorf("capacity %g m²/s: want s·w·Ef = %g", c.Capacity, want)
	}
	if most := (c.Hours + c.UnfitHours) * (1 + 1e-9); c.Least > most || c.LeastOfAny > c.Hours*(1+1e-6) {
		t.Errorf("plan of %g h, and %g h for what does not fit: bounds %g h and %g h", c.Hours, c.UnfitHours, c.Least, c.LeastOfAny)
	}
	if c.Within < c.Bound*(1-1e-9) {
		t.Errorf("turns inside blocks take %g h, below their bound of %g h", c.Within, c.Bound)
	}
	n := 0
	for _, k := range c.Kinds {
		n += k
	}
	if n != c.Turns {
		t.Errorf("%d turns by kind, %d in all", n, c.Turns)
	}
	last := p.Passes[len(p.Passes)-1].Number
	if last != len(p.Passes) || len(Guidance(p)) != last {
		t.Errorf("last pass is number %d of %d, %d guidance lines", last, len(p.Passes), len(Guidance(p)))
	}
}

// TestFieldCapacity holds plans against rows of Iowa State PM 696 (rev. 2001; ASABE EP496's formula): acres per hour of a width and
// a speed at a field efficiency, rounded to 0.1. Each row is held by a field on which the plan comes to that efficiency by
// itself: rows of such a length are searched, since the longer they are the less is turned.
func TestFieldCapacity(t *testing.T) {
	const foot, mile, acre = 0.3048, 1609.344, 4046.8564224
	for _, c := range []struct{ feet, mph, efficiency, acres float64 }{
		{40, 6, 0.70, 20.4}, {50, 6, 0.70, 25.5}, {16.25, 5.5, 0.83, 9.0}, {10, 5, 0.85, 5.2}, {17.5, 5, 0.83, 8.8},
	} {
		short, long := 60.0, 3000.0
		var got Candidate
		for range 16 {
			a := (short + long) / 2
			if _, got = laid(t, box(a, 24*c.feet*foot), mounted(c.feet*foot), Options{Speed: geo.KmPerHour(c.mph * mile / 1000), Rounds: 2}); got.Share < c.efficiency {
				short = a
			} else {
				long = a
			}
		}
		acres := got.Capacity * secondsH / acre
		if math.Abs(got.Share-c.efficiency) > 0.002 || math.Abs(acres-c.acres) > 0.05+0.002/c.efficiency*c.acres {
			t.Errorf("%g ft at %g mph: %.3f acres/h at %.3f, want %g at %g", c.feet, c.mph, acres, got.Share, c.acres, c.efficiency)
		}
		if worked := (got.Field - got.Missed) / acre; math.Abs(worked/got.Hours-acres) > 1e-3*acres {
			t.Errorf("%g ft at %g mph: %.2f acres in %.3f h, %.3f acres/h", c.feet, c.mph, worked, got.Hours, acres)
		}
	}
}

// TestEfficiencyOfCommonFields: field cultivators, harrows and sweep ploughs come to a field efficiency from 0.70 to 0.90, typically
// 0.85 (ASABE D497.7, table 3, from memory). That counts stops, fetching and setting, which no plan knows: so plans of fields of
// 4 to 20 ha lie above 0.80, and not above 0.95.
func TestEfficiencyOfCommonFields(t *testing.T) {
	for _, c := range []struct{ a, b, width, speed float64 }{
		{400, 250, 3, 8}, {400, 250, 6, 8}, {400, 250, 9, 8}, {250, 160, 3, 8}, {250, 160, 6, 8}, {500, 400, 6, 11}, {500, 400, 9, 8}, {500, 400, 12, 11},
	} {
		got, err := Best(t.Context(), box(c.a, c.b), mounted(c.width), Options{Speed: geo.KmPerHour(c.speed)}, Objective{})
		if err != nil {
			t.Fatal(err)
		}
		if e := got.Candidate.Share; e < 0.80 || e > 0.95 {
			t.Errorf("%g × %g m, %g m at %g km/h: field efficiency %.2f, want 0.80 to 0.95", c.a, c.b, c.width, c.speed, e)
		}
	}
}

// TestHoursWorkedByHand: 400 × 168 m, 12 m, two rounds: ten passes of 352 m, 12 m apart, which is two least radii, so that every turn is
// a plain U of π·6 m and the way of 2.2 m from the bar to the axle, to and fro. A round of depth d is 2(400 + 168) − 8d − (8 − 2π)·6 m
// long (own arithmetic). Working at 8 km/h, turning at 6 km/h. Missed ground costs next to nothing, so that corners are rounded.
func TestHoursWorkedByHand(t *testing.T) {
	im := mounted(12)
	im.Turning.ReverseSpeed = 0
	p, c := laid(t, box(400, 168), im, Options{Speed: 8, Rounds: 2, MissedHours: 0.01})
	if c.Passes != 10 || c.Loops != 2 {
		t.Fatalf("%d passes, %d rounds", c.Passes, c.Loops)
	}
	way := 10 * 352.0
	for _, d := range []float64{6, 18} {
		way += 2*(400+168) - 8*d - (8-2*math.Pi)*6
	}
	if working := way / (8 / 3.6); math.Abs(c.Working.Hours*secondsH-working) > 1e-3*working {
		t.Errorf("working %.1f s, by hand %.1f s", c.Working.Hours*secondsH, working)
	}
	if within := 9 * (6*math.Pi + 2*2.2) / (6 / 3.6); math.Abs(p.Within-within) > 0.01 {
		t.Errorf("turns between rows %.2f s, by hand %.2f s", p.Within, within)
	}
	// The engine counts the ground in 4 corners of two rounds as missed; capacity is what is worked by all hours.
	if ha := (c.Field - c.Missed) / c.Hours; math.Abs(c.Capacity*secondsH-ha) > 1e-3*ha {
		t.Errorf("%.1f m²/h, worked by hours %.1f", c.Capacity*secondsH, ha)
	}
	if all := c.Working.Hours + p.Within/secondsH; c.Hours < all || c.Hours > 1.03*all { // and two runs to the rounds
		t.Errorf("%.4f h, passes, rounds and turns are %.4f h", c.Hours, all)
	}
}

// TestObliqueRowEnds: a parallelogram of the interior whose sides meet the rows at φ.
// Covering it works a triangle of w²/(2·tan φ) too much at each row end; leaving wedges works as
// much too much as it leaves.
func TestObliqueRowEnds(t *testing.T) {
	const w, rows, long = 6.0, 10, 200.0
	for _, degrees := range []float64{90, 60, 45, 30, 15} {
		tan := math.Tan(degrees * math.Pi / 180)
		lean := rows * w / tan
		p := plane.Polygon{{{X: 0, Y: 0}, {X: long, Y: 0}, {X: long + lean, Y: rows * w}, {X: lean, Y: rows * w}}}
		for _, leave := range []bool{false, true} {
			var s sweep
			sum := 0.0
			strips := s.strips(p, w, Options{LeaveWedges: leave})
			for _, st := range strips {
				sum += st.u1 - st.u0
			}
			want := 2 * rows * w * w / (2 * tan)
			if leave {
				want = 0
			}
			if got := sum*w - p.Area(); len(strips) != rows || math.Abs(got-want) > 1e-6*p.Area() {
				t.Errorf("%g°, wedges left %v: %d passes work %g m² too much: want %d and %g m²", degrees, leave, len(strips), got, rows, want)
			}
		}
	}
}

// TestSpread: a breadth of 100 m for 6 m takes 17 passes; evenly they lie 5.88 m
// apart, at full spacing the last laps.
func TestSpread(t *testing.T) {
	p := plane.Polygon{rectangle(0, 0, 300, 100)}
	for _, full := range []bool{false, true} {
		var s sweep
		strips := s.strips(p, 6, Options{FullSpacing: full})
		if len(strips) != 17 {
			t.Fatalf("%d passes: want 17", len(strips))
		}
		first, second, last := strips[0].v, strips[1].v, strips[16].v
		if full && (first != 3 || second != 9 || last != 97) {
			t.Errorf("full spacing: passes at %g, %g … %g: want 3, 9 … 97", first, second, last)
		}
		if !full && (math.Abs(first-100.0/34) > 1e-9 || math.Abs(second-first-100.0/17) > 1e-9 || math.Abs(last-100+100.0/34) > 1e-9) {
			t.Errorf("even: passes at %g, %g … %g", first, second, last)
		}
	}
}

// TestNoRowForAMillimetre: a breadth that is a millimetre more than whole rows takes no row more, at full spacing as spread evenly: that is less than a tenth of a
// receiver's noise. Two millimetres do at full spacing.
func TestNoRowForAMillimetre(t *testing.T) {
	for _, c := range []struct {
		breadth    float64
		even, full int
	}{{60, 10, 10}, {60.0009, 10, 10}, {60.002, 10, 11}, {60.02, 11, 11}, {6.0009, 1, 1}, {6.002, 2, 2}} {
		for full, want := range map[bool]int{false: c.even, true: c.full} {
			var s sweep
			strips := s.strips(plane.Polygon{rectangle(0, 0, 300, c.breadth)}, 6, Options{FullSpacing: full})
			if len(strips) != want {
				t.Errorf("%g m, full spacing %v: %d passes: want %d", c.breadth, full, len(strips), want)
			}
			if breadth := breadthOf(want, 6, full); c.breadth > breadth+spare || want > 1 && c.breadth <= breadthOf(want-1, 6, full)-beside {
				t.Errorf("%g m, full spacing %v: %d rows are said to suffice for %g m", c.breadth, full, want, breadth)
			}
		}
	}
}

// TestRoundsByTurning: without a number the headland is as deep as a plain U needs: on
// 6 m radius 2.2 m of lead (hitch and bar), the radius, and what the set sticks out.
func TestRoundsByTurning(t *testing.T) {
	for _, im := range []rig.Implement{mounted(3), mounted(6), mounted(12), trailed(6)} {
		p, c := laid(t, box(400, 250), im, Options{Speed: 8})
		tr, err := turnerOf(im, box(400, 250))
		if err != nil {
			t.Fatal(err)
		}
		depth, err := tr.depth(im.Width)
		if err != nil {
			t.Fatal(err)
		}
		if depth < tr.lead+im.TurnRadius()+im.Tractor.Width/2 || depth > tr.lead+im.TurnRadius()+im.Width/2+im.Tractor.Ahead+1 {
			t.Errorf("%s of %g m: a plain U needs %g m", im.Name, im.Width, depth)
		}
		if p.Depth < depth || p.Depth >= depth+im.Width {
			t.Errorf("%s of %g m: headland of %g m: want the least number of rounds for %g m", im.Name, im.Width, p.Depth, depth)
		}
		if len(c.Infeasible) > 1 { // a return to the row beside may need more
			t.Errorf("%s of %g m: %d turns do not fit, first %s", im.Name, im.Width, len(c.Infeasible), c.Infeasible[0].Why)
		}
	}
}

// TestSkipsRows: a radius larger than half a width makes the order skip rows, which
// takes less than going to the next row with a bulb.
func TestSkipsRows(t *testing.T) {
	im := mounted(3)
	im.Turning.ReverseSpeed = 0
	p, c := laid(t, box(300, 200), im, Options{Speed: 8})
	tr, err := turnerOf(im, p.Field)
	if err != nil {
		t.Fatal(err)
	}
	bulb, err := turn.Bulb.Path(turn.Rows{Distance: 3, Left: true, Stagger: -2 * tr.lead}, tr.steer)
	if err != nil {
		t.Fatal(err)
	}
	next := float64(c.Passes-1) * bulb.Length() / tr.speed.Turning / secondsH
	if c.Within > 0.75*next {
		t.Errorf("turns take %g h, %v; bulbs to the next row %g h: want a quarter less", c.Within, c.Kinds, next)
	}
}

// TestGate: the way from and to the gate counts.
func TestGate(t *testing.T) {
	gate := plane.XY{X: 0, Y: 3}
	p, c := laid(t, box(400, 250), mounted(6), Options{Rounds: 3, Speed: 8, Gate: &gate})
	_, without := laid(t, box(400, 250), mounted(6), Options{Rounds: 3, Speed: 8})
	if p.Moves[0].Kind != Run || p.Moves[0].Line[0] != gate || c.Idle.Metres <= without.Idle.Metres {
		t.Errorf("first move %v, idle %g m against %g m without a gate", p.Moves[0].Kind, c.Idle.Metres, without.Idle.Metres)
	}
	if end := p.Moves[len(p.Moves)-1].Line; end[len(end)-1].Dist(gate) > 1e-9 {
		t.Errorf("last move ends at %v: want the gate", end[len(end)-1])
	}
	checkSums(t, p, c)
}

func TestFaultsOfTheCall(t *testing.T) {
	lacking := mounted(6)
	lacking.Turning.Radius = 0
	for _, c := range []struct {
		what, want string
		field      []plane.Polygon
		im         rig.Implement
		o          Options
	}{
		{"no speed", "working speed 0 km/h", box(100, 100), mounted(6), Options{}},
		{"no field", "field of 0 m²", nil, mounted(6), Options{Speed: 8}},
		{"no radius", "turning, radius", box(100, 100), lacking, Options{Speed: 8}},
		{"heading that is none", "heading NaN", box(100, 100), mounted(6), Options{Speed: 8, Heading: geo.Heading(math.NaN())}},
		{"rounds below 0", "headland rounds -1", box(100, 100), mounted(6), Options{Speed: 8, Rounds: -1}},
		{"workers below 0", "workers -1", box(100, 100), mounted(6), Options{Speed: 8, Workers: -1}},
		{"wheels wider than the tractor", "wheels", box(100, 100), mounted(6), Options{Speed: 8, Wheels: 2}},
		{"fuel below 0", "fuel", box(100, 100), mounted(6), Options{Speed: 8, Fuel: Fuel{Hour: -1}}},
		{"gate off the plane", "gate at +Inf, 0", box(100, 100), mounted(6), Options{Speed: 8, Gate: &plane.XY{X: math.Inf(1)}}},
		{"field too far across for bent passes", "must be 40000 m at most", box(50000, 100), mounted(6), Options{Speed: 8, AlongLongest: true}},
	} {
		if _, err := Lay(t.Context(), c.field, c.im, c.o); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v: want %q in it", c.what, err, c.want)
		}
	}
	if _, err := Compare(t.Context(), box(100, 100), nil, Options{Speed: 8}, Objective{}); err == nil || !strings.Contains(err.Error(), "0 implements") {
		t.Errorf("no implement: error %v", err)
	}
}

// TestDraught: sweep plough, 6 m, 8 cm deep at 8 km/h on medium soil: 22,114 N and
// 49.1 kW (own arithmetic on D497's formula).
func TestDraught(t *testing.T) {
	f := Fuel{Draught: Draught{Soil: 0.85, A: 390, B: 19, Depth: 8}}
	power, working, turning := f.burns(8, 6)
	if n := f.Draught.Force(8, 6); math.Abs(n-22114) > 1 || math.Abs(power-49.1) > 0.05 {
		t.Errorf("%g N, %g kW: want 22114 N, 49.1 kW", n, power)
	}
	// A tool whose draught grows with the square of the speed: mouldboard plough, A 652, C 5.1 (D497, from memory), 1.2 m wide,
	// 20 cm deep at 7 km/h on fine soil: (652 + 5.1 × 49) × 24 = 21,645.6 N.
	if n := (Draught{Soil: 1, A: 652, C: 5.1, Depth: 20}).Force(7, 1.2); math.Abs(n-21645.6) > 0.05 {
		t.Errorf("%g N: want 21645.6 N", n)
	}
	// So many tools instead of so many metres: 24 of 46 + 2.8 S (field cultivator, D497), 10 cm at 8 km/h, medium soil.
	if n := (Draught{Soil: 0.85, A: 46, B: 2.8, Tools: 24, Depth: 10}).Force(8, 6); math.Abs(n-0.85*(46+2.8*8)*24*10) > 1e-9 {
		t.Errorf("%g N: want that of 24 tools", n)
	}
	if want := power / 0.73 * 0.223; math.Abs(working-want) > 1e-9 || math.Abs(turning-want/2) > 1e-9 {
		t.Errorf("%g l/h working, %g turning: want %g and half of it", working, turning, want)
	}
	if _, own, _ := (Fuel{Hour: 18, Draught: f.Draught}).burns(8, 6); own != 18 {
		t.Errorf("%g l/h: want the user's own 18", own)
	}
	_, c := laid(t, box(400, 250), mounted(6), Options{Speed: 8, Fuel: Fuel{Hour: 18, Turning: 9}, Rates: Rates{Hour: 60, Litre: 1.5}})
	if want := 18*c.Working.Hours + 9*(c.Turning.Hours+c.Idle.Hours); math.Abs(c.Litres-want) > 1e-9 || math.Abs(c.CostHectare-(60*c.Hours+1.5*want)/10) > 1e-6 {
		t.Errorf("%g l and %g per hectare: want %g l, %g", c.Litres, c.CostHectare, want, (60*c.Hours+1.5*want)/10)
	}
}
