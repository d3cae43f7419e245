package rework

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/geo/plane"
)

// TestWayJoinsGateAndPasses: with the bar under the rear axle the pieces of the way join end to end, from
// the gate back to it, and their lines are as long as they say.
func TestWayJoinsGateAndPasses(t *testing.T) {
	s := blocked(rectangle(-40, 0, 40, 5), rectangle(-80, -30, -50, -25), rectangle(20, 20, 60, 24))
	r := s.check(t, drive.Work{Width: 1})
	outside := plane.XY{X: 10, Y: -70}
	for _, c := range []struct {
		name string
		gate *plane.XY
		want plane.XY
	}{
		{"at the boundary nearest to the largest strip", nil, plane.XY{X: 0, Y: 50 - intoField}},
		{"given in the field", &plane.XY{X: 90, Y: 40}, plane.XY{X: 90, Y: 40}},
		{"given beyond the boundary", &outside, plane.XY{X: 10, Y: -50 + intoField}},
	} {
		p := planOf(t, r, five, Options{Gate: c.gate})
		audit(t, r, five, p)
		if p.Gate.Dist(c.want) > 0.01 {
			t.Errorf("%s: gate at %v, want %v", c.name, p.Gate, c.want)
		}
		at := p.Gate
		for i, piece := range p.Route {
			if d := piece.Line[0].Dist(at); d > 3*intoField {
				t.Errorf("%s: piece %d begins %.2f m off", c.name, i+1, d)
			}
			if l := plane.Length(piece.Line); math.Abs(l-piece.Length) > 0.01*l+0.1 {
				t.Errorf("%s: piece %d: %.2f m, its line has %.2f m", c.name, i+1, piece.Length, l)
			}
			at = piece.Line[len(piece.Line)-1]
		}
		if at.Dist(p.Gate) > 1e-6 || p.Unfit > 0 {
			t.Errorf("%s: ends %.2f m from the gate, %d pieces do not fit", c.name, at.Dist(p.Gate), p.Unfit)
		}
	}
}

func TestTimeOfTheWay(t *testing.T) {
	r := blocked(rectangle(-40, 0, 40, 5)).check(t, drive.Work{Width: 1})
	p := planOf(t, r, five, Options{Speeds: Speeds{Work: 2, Way: 4}})
	if want := 80/2 + (p.Length-80)/4; math.Abs(p.Time-float64(want)) > 0.01 {
		t.Errorf("%.2f s, want 80 m at 2 m/s and %.1f m at 4 m/s, %.2f s", p.Time, p.Length-80, float64(want))
	}
}

// TestReversingIsSlower: in reverse the set goes as its file says, and at half its speed on the way where that says nothing; each
// change of direction takes its time.
func TestReversingIsSlower(t *testing.T) {
	r := blocked(rectangle(-100, 0, 100, 5)).check(t, drive.Work{Width: 1})
	said := five
	said.Turning.ReverseSpeed = 5.4
	for _, c := range []struct {
		name    string
		im      rig.Implement
		reverse float64 // m/s
	}{{"not said", five, 2}, {"said", said, 1.5}} {
		p := planOf(t, r, c.im, Options{Speeds: Speeds{Work: 2, Way: 4}})
		back := p.Route[len(p.Route)-1]
		if back.Reversed == 0 {
			t.Fatalf("%s: the way back is not reversed", c.name)
		}
		if want := (back.Length-back.Reversed)/4 + back.Reversed/c.reverse; math.Abs(back.Time-want) > 0.01 {
			t.Errorf("%s: %.2f s for %.1f m, of them %.1f m in reverse; want %.2f s", c.name, back.Time, back.Length, back.Reversed, want)
		}
	}
}

// TestGapsBetweenStrips: ground between two strips on one line is driven over in work where the gap is narrower than the
// implement, to save a pass, and not where it is wider.
func TestGapsBetweenStrips(t *testing.T) {
	for _, c := range []struct {
		gap    float64 // widths
		passes int
	}{{0.5, 1}, {0.9, 1}, {1.1, 2}, {1.6, 2}, {2.9, 2}} {
		r := blocked(rectangle(-40, 0, 0, 5), rectangle(5*c.gap, 0, 40, 5)).check(t, drive.Work{Width: 1})
		p := planOf(t, r, five, Options{})
		audit(t, r, five, p)
		want := 0.0
		if c.passes == 1 {
			want = 5 * 5 * c.gap
		}
		if len(p.Passes) != c.passes || math.Abs(p.ExtraDouble-want) > 0.1 {
			t.Errorf("a gap of %g widths: %d passes, %.2f m² for nothing; want %d, %.2f", c.gap, len(p.Passes), p.ExtraDouble, c.passes, want)
		}
	}
}

// TestExtraIsSharedOut: what a pass for two strips works for nothing is shared by the ground of each that it covers: of 2 m
// between 30 and 48 m, 5 m wide, 10 m² in all, 150/390 and 240/390.
func TestExtraIsSharedOut(t *testing.T) {
	r := blocked(rectangle(-40, 0, -10, 5), rectangle(-8, 0, 40, 5)).check(t, drive.Work{Width: 1})
	p := planOf(t, r, five, Options{})
	audit(t, r, five, p)
	if len(p.Passes) != 1 || len(p.Chosen) != 2 || math.Abs(p.ExtraDouble-10) > 0.05 {
		t.Fatalf("%d passes of %d strips, %.2f m² for nothing: the case is none", len(p.Passes), len(p.Chosen), p.ExtraDouble)
	}
	for _, v := range p.Chosen {
		if want := 10 * v.Area / 390; math.Abs(v.ExtraDouble-want) > 0.05 {
			t.Errorf("strip %d of %.0f m²: %.3f m² for nothing, want %.3f", v.Strip, v.Area, v.ExtraDouble, want)
		}
	}
}

// drawn is a trailed set whose bar is 1 + 4 + 1.5 m behind the rear axle.
var drawn = rig.Implement{Width: 5,
	Mount:   rig.Mount{Trailed: true, AntennaAhead: 0.5, Hitch: 1.5, Drawbar: 4, BarBehind: 1.5, MaxAngle: 80, DrawbarRadius: 7},
	Tractor: rig.Tractor{Ahead: 4, Behind: 0.5, Width: 2.5}, Body: rig.Body{Ahead: 1, Behind: 1, Width: 5},
	Turning: rig.Turning{Radius: 6, Speed: 7.2}}

// TestTrailedSetLinesUp: the axle comes onto the line of the pass two drawbars before the bar is lowered, and
// leaves it when the bar is at the end.
func TestTrailedSetLinesUp(t *testing.T) {
	r := blocked(rectangle(-40, 0, 40, 5)).check(t, drive.Work{Width: 1})
	gate := plane.XY{X: -90, Y: -40}
	p := planOf(t, r, drawn, Options{Gate: &gate})
	audit(t, r, drawn, p)
	if p.Unfit != 0 || !p.Outlined || len(p.Passes) != 1 || p.Passes[0].LineUp != 8 {
		t.Fatalf("%d pieces do not fit, outlined %v, passes %+v", p.Unfit, p.Outlined, p.Passes)
	}
	line := p.Passes[0].Line
	u := line[1].Sub(line[0]).Unit()
	there, back := p.Route[0].Line, p.Route[2].Line
	if d := there[len(there)-1].Dist(line[0].Add(u.Scale(6.5))); d > 1e-3 {
		t.Errorf("the bar is lowered %.3f m off", d)
	}
	if a, b := there[len(there)-2], there[len(there)-1]; math.Abs(a.Dist(b)-8) > 1e-3 || b.Sub(a).Dot(u) < 8-1e-3 {
		t.Errorf("the way ends with %.3f m from %v to %v, want 8 m straight on", a.Dist(b), a, b)
	}
	if d := back[0].Dist(line[1].Add(u.Scale(6.5))); d > 1e-3 {
		t.Errorf("the axle leaves the line %.3f m off", d)
	}
	if want := 80.0; math.Abs(p.Route[1].Length-want) > 1e-3 {
		t.Errorf("the pass is %.2f m, want %.2f", p.Route[1].Length, want)
	}
	// A pass that begins at the boundary leaves 6.5 m for it, of 8: three quarters are taken.
	w, err := worksOf(r, drawn, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if d := w.driveOf([]plane.XY{{X: -100}, {X: -20}}); d.lineUp != 6 || !d.entry.in || d.entry.At.Dist(plane.XY{X: -99.5}) > 1e-6 {
		t.Errorf("line-up of %g m from %v; want 6 m from -99.5, 0", d.lineUp, d.entry.At)
	}
}

// TestOutlineIsJudgedAllTheWay: a pass that ends at the boundary, the tractor ahead of the bar beyond it, does not fit, and
// neither does the way that begins there, be it back to the gate; who works the same ground along the boundary, and comes out of it
// inside, fits all the way. Within its own length of the gate the set may stand on the road.
func TestOutlineIsJudgedAllTheWay(t *testing.T) {
	gate := plane.XY{X: -90, Y: -50}
	for _, c := range []struct {
		name     string
		missed   []plane.XY
		im       rig.Implement
		passFits bool
		backFits bool
	}{
		{"across, up to the boundary on both sides", rectangle(-2, -50, 2, 50), lifted, false, false},
		{"in the middle", rectangle(-30, 0, 30, 5), lifted, true, true},
		{"in the middle, trailed", rectangle(-30, 0, 30, 5), pulled, true, true},
		{"across, up to the boundary, trailed", rectangle(-2, -50, 2, 50), pulled, false, false},
	} {
		r := blocked(c.missed).check(t, drive.Work{Width: 1})
		p := planOf(t, r, c.im, Options{Gate: &gate, LeastArea: 20})
		audit(t, r, c.im, p)
		last := len(p.Route) - 1
		if c.passFits && p.Route[0].Unfit != "" {
			t.Errorf("%s: the way from the gate, %q", c.name, p.Route[0].Unfit)
		}
		if (p.Route[1].Unfit == "") != c.passFits || (p.Route[last].Unfit == "") != c.backFits {
			t.Errorf("%s: the pass %q, the way back %q; fit: want %v, %v", c.name, p.Route[1].Unfit, p.Route[last].Unfit, c.passFits, c.backFits)
		}
		n := 0
		for _, piece := range p.Route {
			if piece.Unfit != "" {
				n++
			}
		}
		if n != p.Unfit {
			t.Errorf("%s: %d pieces are named, %d counted", c.name, n, p.Unfit)
		}
	}
}

// TestStandingBeyondTheBoundary: an end of a pass at which the whole tractor stands outside is none to begin a way at, not even back to
// a gate right beside it, however short what is driven then.
func TestStandingBeyondTheBoundary(t *testing.T) {
	r := rowsWith(heights(-50, 19)...).check(t, drive.Work{Width: 5})
	w, err := worksOf(r, lifted, Options{})
	if err != nil {
		t.Fatal(err)
	}
	outside, inside := w.driveOf([]plane.XY{{X: 0, Y: 0}, {X: 0, Y: 50}}), w.driveOf([]plane.XY{{X: 0, Y: 0}, {X: 0, Y: 35}})
	if outside.exit.back == 0 || inside.exit.back != 0 {
		t.Fatalf("driven back %.2f m and %.2f m: the case is none", outside.exit.back, inside.exit.back)
	}
	if w.stands(outside.exit) || !w.stands(inside.exit) {
		t.Errorf("stands outside %v, inside %v", w.stands(outside.exit), w.stands(inside.exit))
	}
	for _, d := range []oneWay{outside, inside} {
		at := d.exit.At
		got, err := w.gateLink(w.ground.gateAt(at), d.exit, true)
		if err != nil || (got.unfit == "") != (d.exit.back == 0) {
			t.Errorf("from %v back to the gate there: %q, %v", at, got.unfit, err)
		}
	}
}

// TestLineUpIsJudged: the straight before a pass, which leaves the field where it leads over a corner of it, is named for the whole set
// and for the rear axle alone.
func TestLineUpIsJudged(t *testing.T) {
	field := []plane.Polygon{{{{X: -100, Y: -50}, {X: 0, Y: -50}, {X: 0, Y: -10}, {X: 3, Y: -10}, {X: 3, Y: -50}, {X: 100, Y: -50}, {X: 100, Y: 50}, {X: -100, Y: 50}}}} // notched
	for _, im := range []rig.Implement{drawn, {Width: 5, Mount: drawn.Mount, Turning: drawn.Turning}} {
		g, err := terrainOf(field, im)
		if err != nil {
			t.Fatal(err)
		}
		w := &works{im: im, ground: g, width: 5, o: Options{Speeds: Speeds{Work: 2, Way: 2}}}
		for _, c := range []struct {
			y    float64
			fits bool
		}{{20, true}, {-30, false}} {
			got, err := w.wayOf(turn.Path{From: turn.Pose{At: plane.XY{X: -30, Y: c.y}}, Pieces: []turn.Arc{{Length: 20}}})
			if err != nil {
				t.Fatal(err)
			}
			up, err := w.linedUp(got, 25)
			if err != nil || (up.unfit == "") != c.fits || math.Abs(up.length-45) > 1e-9 || math.Abs(up.time-22.5) > 1e-9 {
				t.Errorf("outline known %v, at %g m: %q, %.1f m, %.1f s, %v; fits: want %v", g.room != nil, c.y, up.unfit, up.length, up.time, err, c.fits)
			}
		}
	}
}

// TestBentPassIsJudged: the tractor ahead of the bar on a bent line that leads towards the boundary.
func TestBentPassIsJudged(t *testing.T) {
	r := rowsWith(heights(-50, 19)...).check(t, drive.Work{Width: 5})
	w, err := worksOf(r, lifted, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		line []plane.XY
		fits bool
	}{
		{"turning away from the boundary", arc(plane.XY{X: 0, Y: 0}, 40, 60, 100, 30), true},
		{"ending at the boundary, heading for it", arc(plane.XY{X: 60, Y: 49}, 39, 270, 358, 60), false},
		{"straight, along the boundary", []plane.XY{{X: -80, Y: 47.5}, {X: 80, Y: 47.5}}, true},
		{"straight, up to the boundary", []plane.XY{{X: 0, Y: 0}, {X: 0, Y: 50}}, false},
	} {
		why, err := w.passShort(c.line)
		if err != nil || (why == "") != c.fits {
			t.Errorf("%s: %q, %v; fits: want %v", c.name, why, err, c.fits)
		}
	}
}

// TestUpToMetres: what is kept of paths is as long as asked for, and lies where the whole does.
func TestUpToMetres(t *testing.T) {
	paths := []turn.Path{{Pieces: []turn.Arc{{Length: 5}, {Length: 4, From: 0.2, To: 0.2}}}}
	paths = append(paths, turn.Path{From: paths[0].End(), Pieces: []turn.Arc{{Length: -3}, {Length: 6, From: -0.1, To: -0.1}}})
	at := func(s float64) turn.Pose {
		if s <= 9 {
			return paths[0].At(s)
		}
		return paths[1].At(s - 9)
	}
	for _, to := range []float64{-4, 0, 2, 5, 7, 9, 10, 12, 13.5, 18, 30} {
		s := 0.0
		for _, p := range upToMetres(paths, to) {
			for _, f := range []float64{0, 0.5, 1} {
				if d := p.At(f * p.Length()).At.Dist(at(s + f*p.Length()).At); d > 1e-9 {
					t.Errorf("up to %g m: %.3g m off at %.1f m", to, d, s)
				}
			}
			s += p.Length()
		}
		if want := min(18, max(0, to)); math.Abs(s-want) > 1e-9 {
			t.Errorf("up to %g m: %.3f m, want %.3f", to, s, want)
		}
	}
}

// TestNoLineUpStraightAhead: of two strips on one line, 15 m apart, the second is reached straight.
func TestNoLineUpStraightAhead(t *testing.T) {
	r := blocked(rectangle(-40, 0, -10, 5), rectangle(5, 0, 40, 5)).check(t, drive.Work{Width: 1})
	gate := plane.XY{X: -90, Y: -40}
	p := planOf(t, r, drawn, Options{Gate: &gate})
	audit(t, r, drawn, p)
	if len(p.Passes) != 2 || p.Passes[0].LineUp != 8 || p.Passes[1].LineUp != 0 || math.Abs(p.Route[2].Length-15) > 0.01 || p.Unfit != 0 {
		t.Errorf("%d passes, line-ups %+v, way between %.2f m, %d unfit; want 8 m, none, 15 m, 0", len(p.Passes), p.Passes, p.Route[2].Length, p.Unfit)
	}
}

// TestBesideTheBoundary: a pass whose swath ends on the boundary is nearer to it than the margin, and the outline of the
// set a little beyond it; a way that leaves it straight is not named for that, one that goes into the boundary is.
func TestBesideTheBoundary(t *testing.T) {
	im := drawn
	im.Turning.Margin, im.Body.Width = 0.5, 5.2
	r := rowsWith(heights(-50, 19)...).check(t, drive.Work{Width: 5})
	w, err := worksOf(r, im, Options{})
	if err != nil {
		t.Fatal(err)
	}
	from := turn.Pose{At: plane.XY{X: -20, Y: 47.5}}
	for _, c := range []struct {
		name string
		by   turn.Arc
		fits bool
	}{
		{"straight on", turn.Arc{Length: 30}, true},
		{"towards the boundary", turn.Arc{Length: 5, From: 1 / 7.0, To: 1 / 7.0}, false},
	} {
		why, err := w.short([]turn.Path{{From: from, Pieces: []turn.Arc{c.by}}})
		if err != nil || (why == "") != c.fits {
			t.Errorf("%s: %q, %v; fits: want %v", c.name, why, err, c.fits)
		}
	}
}

// TestWaysThatDoNotFitAreNamed: a pass from boundary to boundary ends facing it. Who may reverse gets away.
func TestWaysThatDoNotFitAreNamed(t *testing.T) {
	r := blocked(rectangle(-100, 0, 100, 5)).check(t, drive.Work{Width: 1})
	p := planOf(t, r, five, Options{})
	audit(t, r, five, p)
	if p.Unfit != 0 || p.Route[2].Reversed == 0 {
		t.Errorf("may reverse: %d pieces do not fit, %.1f m reversed on the way back", p.Unfit, p.Route[2].Reversed)
	}
	p = planOf(t, r, five, Options{ForwardOnly: true})
	audit(t, r, five, p)
	if p.Unfit == 0 || p.Route[2].Unfit == "" || p.Route[2].Reversed != 0 {
		t.Errorf("forward only: %d pieces do not fit, the way back: %q", p.Unfit, p.Route[2].Unfit)
	}
	p = planOf(t, r, drawn, Options{})
	audit(t, r, drawn, p)
	if p.Route[2].Unfit == "" || p.Route[2].Reversed != 0 {
		t.Errorf("trailed, may not reverse: the way back: %q, %.1f m reversed", p.Route[2].Unfit, p.Route[2].Reversed)
	}
}

// TestOutlineDecides: the axle alone could turn beside the boundary, the set with its outline could not.
func TestOutlineDecides(t *testing.T) {
	wide := drawn
	wide.Turning.Margin = 2
	r := blocked(rectangle(-40, 41, 40, 45), rectangle(-40, -20, 40, -16)).check(t, drive.Work{Width: 1})
	narrow := wide
	narrow.Tractor = rig.Tractor{} // outline not known
	a, b := planOf(t, r, narrow, Options{}), planOf(t, r, wide, Options{})
	audit(t, r, narrow, a)
	audit(t, r, wide, b)
	if a.Outlined || !b.Outlined {
		t.Errorf("outlined %v without an outline, %v with one", a.Outlined, b.Outlined)
	}
	if a.Unfit > b.Unfit || b.Length < a.Length-1e-6 {
		t.Errorf("with the outline %d unfit in %.1f m, without %d in %.1f m", b.Unfit, b.Length, a.Unfit, a.Length)
	}
}

// TestManyPasses: more passes than have a table of all ways.
func TestManyPasses(t *testing.T) {
	var missed [][]plane.XY
	for x := -95.0; x < 95; x += 12 {
		for y := -46.0; y < 46; y += 6.5 {
			missed = append(missed, rectangle(x, y, x+3, y+2))
		}
	}
	r := blocked(missed...).check(t, drive.Work{Width: 1})
	p := planOf(t, r, rig.Implement{Width: 2, Turning: rig.Turning{Radius: 5}}, Options{})
	audit(t, r, five, p)
	if len(p.Passes) <= allPairs {
		t.Errorf("%d passes: too few for this test, want more than %d", len(p.Passes), allPairs)
	}
	// a way between every neighbouring two that is no more than a turn and the distance
	if most := float64(len(p.Passes)) * (12 + 2*math.Pi*5 + 3); p.Length > most {
		t.Errorf("%.0f m, want %.0f at most", p.Length, most)
	}
}

// TestGroups: strips that share a pass stay together, over any chain of passes.
func TestGroups(t *testing.T) {
	got := groupsOf([][]int{{0}, {1}, {2, 0}, {3}, {1, 3}})
	if len(got) != 2 || !slices.Equal(got[0].strips, []int{0, 2}) || !slices.Equal(got[0].passes, []int{0, 2}) ||
		!slices.Equal(got[1].strips, []int{1, 3}) || !slices.Equal(got[1].passes, []int{1, 3, 4}) {
		t.Errorf("groups %v", got)
	}
}

// TestWorthEndsWhereNothingLoses: of passes thrown about, each for a strip of its own, none that is left would save more, taken out of the
// tour, than its ground is worth; all others are named with what they would cost, which is more than they are worth.
func TestWorthEndsWhereNothingLoses(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 18)) // always the same cases, as few tell a last look from none
	kept, dropped := 0, 0
	for k := range 60 {
		n := 4 + rng.IntN(20)
		d, own := scattered(t, rng, n, 300)
		w := &works{width: 5, im: five, o: Options{Value: 1, PerMetre: 1, Speeds: Speeds{Work: 2, Way: 2}}}
		drives, strips := make([]oneWay, 2*n), make([][]int, n)
		for a := range 2*n + 1 {
			for b := range 2*n + 1 {
				if e := d.at(a, b); a != b {
					e.length = e.cost
					d.put(a, b, e)
				}
			}
		}
		for i := range n {
			line := []plane.XY{{}, {X: own[i]}}
			drives[2*i].line, drives[2*i+1].line, strips[i] = line, line, []int{i}
			w.r.Strips = append(w.r.Strips, coverage.Strip{Number: i + 1, Area: own[i] + 120*rng.Float64()})
		}
		first, err := d.order(t.Context(), upTo(n))
		if err != nil {
			t.Fatal(err)
		}
		var p Plan
		got, err := w.worth(t.Context(), d, first, drives, strips, &p)
		if err != nil {
			t.Fatal(err)
		}
		kept, dropped = kept+len(got), dropped+len(p.Skipped)
		if len(got)+len(p.Skipped) != n {
			t.Errorf("case %d: %d passes left and %d dropped of %d", k, len(got), len(p.Skipped), n)
		}
		for _, one := range got {
			rest := slices.DeleteFunc(slices.Clone(got), func(o int) bool { return o == one })
			spent := own[one/2] + d.cost(got) - d.cost(rest) // at 1 a metre
			if area := w.r.Strips[one/2].Area; spent > area+1e-6 {
				t.Errorf("case %d: strip %d costs %.2f and is worth %.2f", k, one/2+1, spent, area)
			}
		}
		for _, s := range p.Skipped {
			if s.Why != WhyWay || s.Worth != s.Area || s.Cost <= s.Worth {
				t.Errorf("case %d: dropped %+v", k, s)
			}
		}
	}
	if kept < 100 || dropped < 100 {
		t.Errorf("%d passes left, %d dropped: want many of both", kept, dropped)
	}
}

// Ways that are not worked out, of many passes, are the straight and half a circle of the turn radius, in m and at the speed between passes in s;
// where the axle has no room to stand at an end, they cost what no way has.
func TestWaysFarApartAreEstimated(t *testing.T) {
	r := stubs(320).check(t, drive.Work{Width: 5})
	w, err := worksOf(r, five, Options{Speeds: Speeds{Work: 2, Way: 3}})
	if err != nil {
		t.Fatal(err)
	}
	jobs, err := w.jobsOf(t.Context(), w.choose(&Plan{}))
	if err != nil {
		t.Fatal(err)
	}
	drives, _ := w.drivesOf(jobs)
	if len(drives)/2 <= allPairs {
		t.Fatalf("%d passes: too few for this test", len(drives)/2)
	}
	for k := 0; k < len(drives); k += 30 { // beyond the field
		drives[k].exit.in, drives[k+5].entry.in = false, false
	}
	gate := plane.XY{X: -300, Y: 100}
	d, err := w.distances(t.Context(), drives, gate)
	if err != nil {
		t.Fatal(err)
	}
	seen, unfit := 0, 0
	stands := func(p pose) bool { return w.reached(p) && w.stands(p) }
	for a := 0; a <= len(drives); a += 3 {
		for b := 0; b <= len(drives); b += 5 {
			if d.kept(a, b) != nil {
				continue
			}
			from, to, good := gate, gate, true
			if a < len(drives) {
				from, good = drives[a].exit.At, stands(drives[a].exit)
			}
			if b < len(drives) {
				to, good = drives[b].entry.At, good && stands(drives[b].entry)
			}
			far := math.Hypot(to.X-from.X, to.Y-from.Y) + 6*math.Pi
			want := errand{far, far, far / 3}
			if !good {
				want.cost += unfitCost
				unfit++
			}
			seen++
			if got := d.at(a, b); math.Abs(got.cost-want.cost) > touch || math.Abs(got.length-want.length) > touch || math.Abs(got.time-want.time) > touch {
				t.Fatalf("from %d to %d: %v, want %v", a, b, got, want)
			}
		}
	}
	if seen < 1000 || unfit == 0 || unfit == seen {
		t.Errorf("%d ways, %d of them without room: the test does not reach both", seen, unfit)
	}
}
