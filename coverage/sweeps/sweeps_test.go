package sweeps_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/rig"
	"balk/coverage/sweeps"
	"balk/geo/plane"
	"balk/testdata/check"
)

const degree = math.Pi / 180

// pair is two sweeps without wings' length, the right one at the first place.
func pair(width, xRight, yRight, xLeft, yLeft float64) sweeps.Frame {
	return sweeps.Of(rig.Layout{Width: width, Each: []rig.Sweep{{Right: -yRight, Behind: -xRight}, {Right: -yLeft, Behind: -xLeft}}}, false)
}

// The lap of two neighbours under a crab angle, and the angle at which it ends (testdata/check/coverage/sweep_yaw.csv: own derivation
// of another hand, (b − s)·cos t − Δx·sin t).
func TestLapUnderCrab(t *testing.T) {
	for _, r := range check.Rows(t, "coverage/sweep_yaw.csv") {
		b, s, dx, yaw := r.Number("b_m"), r.Number("s_m"), r.Number("dx_m"), r.Number("yaw_deg")*degree
		f := pair(b, 0, 0, dx, s) // turned to the left, the left one, ahead, moves away
		laps := f.Laps(sweeps.Motion{Crab: yaw})
		if len(laps) != 1 || math.Abs(laps[0].Lap*1000-r.Number("overlap_mm")) > 1e-6 {
			t.Errorf("%v: laps %+v", r, laps)
		}
		if got := f.Limits(0).CrabLeft; math.Abs(got.At/degree-r.Number("t0_deg")) > 1e-6 || got.Left != 1 || got.Right != 2 {
			t.Errorf("first gap at %.6f°, %d/%d, want %.6f°", got.At/degree, got.Left, got.Right, r.Number("t0_deg"))
		}
		if got := f.Limits(0).CrabRight; got.Opens() && got.At < 25*degree { // beyond, the two have changed places
			t.Errorf("turned to the right the two come together: %+v", got)
		}
	}
}

// 250 mm spacing, 300 mm sweeps, 2.5 m between the beams concerned: first gap at atan(0.05/2.5) (closed form).
func TestFirstGapOfAKnownFrame(t *testing.T) {
	f := sweeps.Of(rig.Layout{Count: 24, Spacing: 0.25, Width: 0.30, Beams: []float64{0, 1.25, 2.5}, Angle: 70}, false)
	l := f.Limits(0)
	// Left of a sweep on beam 1 stands one on beam 3, 2.5 m behind: turned to the right it swings away to the left.
	if want := math.Atan(0.05 / 2.5); math.Abs(l.CrabRight.At-want) > 1e-12 || math.Abs(l.CrabRight.At/degree-1.1458) > 5e-5 {
		t.Errorf("first gap to the right at %.6f°, want %.6f°", l.CrabRight.At/degree, want/degree)
	}
	if want := math.Atan(0.05 / 1.25); math.Abs(l.CrabLeft.At-want) > 1e-12 {
		t.Errorf("first gap to the left at %.6f°, want %.6f°", l.CrabLeft.At/degree, want/degree)
	}
}

// The lap of two neighbours in a curve (testdata/check/coverage/sweep_curve.csv: own derivation of another hand, to first order: widths taken radial).
func TestLapInACurve(t *testing.T) {
	for _, r := range check.Rows(t, "coverage/sweep_curve.csv") {
		radius, x1, x2 := r.Number("R_m"), r.Number("x1_m"), r.Number("x2_m")
		s, b, y := r.Number("pitch_m"), r.Number("cut_m"), r.Number("y_m")
		m := sweeps.Motion{Curvature: 1 / radius}
		// Points show the radii: a frame of no width.
		at := func(x, y float64) float64 {
			l := pair(1e-9, x, y, x, y+1).Laps(m)
			return l[0].At + l[0].Lap/2 // the left end of the right one
		}
		if got := (b - (at(x2, y+s) - at(x1, y))) * 1000; math.Abs(got-r.Number("overlap_mm")) > 1e-5 {
			t.Errorf("R %g, x %g and %g, y %g: lap of radii %.6f mm, want %s", radius, x1, x2, y, got, r.Text("overlap_mm"))
		}
		// With both ends of each sweep on radii of their own the lap differs by what the half widths bend, below b·x²/2R².
		laps := pair(b, x1, y, x2, y+s).Laps(m)
		far := max(math.Abs(x1), math.Abs(x2), b)
		if diff := math.Abs(laps[0].Lap*1000 - r.Number("overlap_mm")); len(laps) != 1 || diff > 1e-3+1000*b*far*far/(radius-math.Abs(y)-s)/(radius-math.Abs(y)-s) {
			t.Errorf("R %g, x %g and %g, y %g: exact %.3f mm, first order %s", radius, x1, x2, y, laps[0].Lap*1000, r.Text("overlap_mm"))
		}
	}
}

// drawn is a frame as there might be one.
func drawn(r *rand.Rand) rig.Layout {
	l := rig.Layout{Width: 0.15 + 0.3*r.Float64(), Count: 2 + r.IntN(30), Mirrored: r.IntN(2) == 0}
	l.Spacing = l.Width * (0.6 + 0.38*r.Float64())
	for k := range 1 + r.IntN(4) {
		l.Beams = append(l.Beams, float64(k)*(0.4+0.6*r.Float64()))
		l.Order = append(l.Order, k+1)
	}
	r.Shuffle(len(l.Order), func(i, j int) { l.Order[i], l.Order[j] = l.Order[j], l.Order[i] })
	if r.IntN(2) == 0 {
		l.Angle = 55 + 50*r.Float64()
	}
	return l
}

func seeded(t *testing.T) *rand.Rand {
	return rand.New(rand.NewPCG(check.Seed(t), 19))
}

// A second opinion: the frame is stepped along its way, and where tips and noses go over a line across it is looked up.
func TestLapsAgainstSteps(t *testing.T) {
	r := seeded(t)
	for range 10 {
		l := drawn(r)
		f := sweeps.Of(l, false)
		right, left := f.Span()
		m := sweeps.Motion{Crab: (r.Float64() - 0.5) * 8 * degree, Axle: 3 * (r.Float64() - 0.5)}
		if r.IntN(4) > 0 {
			m.Curvature = 1 / (max(-right, left) + 4 + 40*r.Float64())
			if r.IntN(2) == 0 {
				m.Curvature *= -1
			}
		}
		laps, stepped := f.Laps(m), stepped(f, m)
		uncut := 0.0
		for _, s := range stepped {
			uncut += max(0, -s)
		}
		if got := f.Uncut(m); math.Abs(got-uncut) > 1e-4 {
			t.Errorf("%+v, %+v: %.6f m uncut, stepped %.6f", l, m, got, uncut)
		}
		thin, ok := f.Thinnest(m)
		if want := slices.Min(stepped); !ok || math.Abs(thin.Lap-want) > 1e-4 {
			t.Errorf("%+v, %+v: thinnest lap %.6f m of %d, stepped %.6f", l, m, thin.Lap, len(laps), want)
		}
	}
}

// stepped are the laps of f by driving it: the point m.Axle ahead of the bar's middle runs on an arc, the frame turned by the crab angle
// against it, and every tip and nose is watched when it goes over the y axis. Arcs between steps are chords: 4 mm steps lie within 1e-6 m.
func stepped(f sweeps.Frame, m sweeps.Motion) []float64 {
	const step = 0.004
	type hit struct{ right, left float64 }
	hits := make([]hit, len(f))
	for i := range hits {
		hits[i] = hit{math.Inf(1), math.Inf(-1)}
	}
	long := 4*f.Deep() + 8
	n := int(long / step)
	at, heading := plane.XY{}, 0.0 // halfway; back from there first
	for range n / 2 {
		heading -= m.Curvature * step / 2
		at = at.Sub(plane.XY{X: math.Cos(heading), Y: math.Sin(heading)}.Scale(step))
		heading -= m.Curvature * step / 2
	}
	place := func(p plane.XY) plane.XY {
		sin, cos := math.Sincos(heading + m.Crab)
		p.X -= m.Axle
		return at.Add(plane.XY{X: p.X*cos - p.Y*sin, Y: p.X*sin + p.Y*cos})
	}
	points := func(b sweeps.Blade) []plane.XY {
		ps := []plane.XY{b.Nose}
		for _, tip := range []plane.XY{b.Left, b.Right} {
			for k := 1; k <= 3; k++ {
				ps = append(ps, b.Nose.Lerp(tip, float64(k)/3))
			}
		}
		return ps
	}
	var before [][]plane.XY
	for range n {
		now := make([][]plane.XY, len(f))
		for i, b := range f {
			for k, p := range points(b) {
				q := place(p)
				now[i] = append(now[i], q)
				if before == nil {
					continue
				}
				if o := before[i][k]; o.X < 0 && q.X >= 0 && math.Abs(o.Y) < math.Abs(1/m.Curvature) {
					y := o.Y + (q.Y-o.Y)*(-o.X)/(q.X-o.X)
					hits[i].right, hits[i].left = min(hits[i].right, y), max(hits[i].left, y)
				}
			}
		}
		before = now
		heading += m.Curvature * step / 2
		at = at.Add(plane.XY{X: math.Cos(heading), Y: math.Sin(heading)}.Scale(step))
		heading += m.Curvature * step / 2
	}
	slices.SortFunc(hits, func(a, b hit) int {
		if a.right < b.right {
			return -1
		}
		return 1
	})
	var laps []float64
	reach := hits[0].left
	for _, h := range hits[1:] {
		if h.left > reach {
			laps = append(laps, reach-h.right)
			reach = h.left
		}
	}
	return laps
}

// Limits against a scan: nothing opens before, something at once behind.
func TestLimitsAgainstAScan(t *testing.T) {
	r := seeded(t)
	opened := 0
	for range 200 {
		l := drawn(r)
		f := sweeps.Of(l, false)
		axle := 4 * (r.Float64() - 0.5)
		limits := f.Limits(axle)
		for name, c := range map[string]struct {
			limit sweeps.Limit
			at    func(p float64) sweeps.Motion
		}{
			"crab left":   {limits.CrabLeft, func(p float64) sweeps.Motion { return sweeps.Motion{Crab: p} }},
			"crab right":  {limits.CrabRight, func(p float64) sweeps.Motion { return sweeps.Motion{Crab: -p} }},
			"curve left":  {limits.CurveLeft, func(p float64) sweeps.Motion { return sweeps.Motion{Curvature: p, Axle: axle} }},
			"curve right": {limits.CurveRight, func(p float64) sweeps.Motion { return sweeps.Motion{Curvature: -p, Axle: axle} }},
		} {
			for k := range 300 {
				if p := c.limit.At * float64(k) / 300; f.Uncut(c.at(p)) > 1e-12 {
					t.Fatalf("%s of %+v: %g m uncut at %g, limit %+v", name, l, f.Uncut(c.at(p)), p, c.limit)
				}
			}
			if !c.limit.Opens() {
				continue
			}
			opened++
			open := 0
			named := false
			for _, lap := range f.Laps(c.at(c.limit.At * (1 + 1e-7))) {
				if lap.Lap < 0 {
					open++
					named = named || lap.Left == c.limit.Left && lap.Right == c.limit.Right
				}
			}
			if !named || open != c.limit.Alike+1 {
				t.Errorf("%s of %+v: limit %+v, behind it %d open: %v", name, l, c.limit, open, f.Laps(c.at(c.limit.At*(1+1e-7))))
			}
		}
	}
	if opened < 300 {
		t.Errorf("%d limits with a gap: too few to show anything", opened)
	}
}

func mirrored(f sweeps.Frame) sweeps.Frame {
	g := slices.Clone(f)
	flip := func(p plane.XY) plane.XY { return plane.XY{X: p.X, Y: -p.Y} }
	for i, b := range f {
		g[len(f)-1-i] = sweeps.Blade{Number: len(f) - i, Nose: flip(b.Nose), Left: flip(b.Right), Right: flip(b.Left)}
	}
	return g
}

func TestPropertiesOfLimits(t *testing.T) {
	r := seeded(t)
	for range 200 {
		l := drawn(r)
		f := sweeps.Of(l, false)
		axle := 4 * (r.Float64() - 0.5)
		a, b := f.Limits(axle), mirrored(f).Limits(axle)
		swap := sweeps.Limits{CrabLeft: b.CrabRight, CrabRight: b.CrabLeft, CurveLeft: b.CurveRight, CurveRight: b.CurveLeft}
		for i, two := range [][2]sweeps.Limit{{a.CrabLeft, swap.CrabLeft}, {a.CrabRight, swap.CrabRight}, {a.CurveLeft, swap.CurveLeft}, {a.CurveRight, swap.CurveRight}} {
			if math.Abs(two[0].At-two[1].At) > 1e-9*two[0].At {
				t.Errorf("%+v, limit %d: %g, mirrored %g", l, i, two[0].At, two[1].At)
			}
		}
		wider := f.Wider(0.05 * r.Float64()).Limits(axle)
		for i, two := range [][2]sweeps.Limit{{a.CrabLeft, wider.CrabLeft}, {a.CrabRight, wider.CrabRight}} {
			if two[1].At < two[0].At-1e-12 {
				t.Errorf("%+v, limit %d: wider sweeps lower it from %g to %g", l, i, two[0].At, two[1].At)
			}
		}
		shuffled := l
		shuffled.Each = l.All()
		shuffled.Count, shuffled.Spacing, shuffled.Beams, shuffled.Order, shuffled.Mirrored = 0, 0, nil, nil, false
		r.Shuffle(len(shuffled.Each), func(i, j int) { shuffled.Each[i], shuffled.Each[j] = shuffled.Each[j], shuffled.Each[i] })
		if got := sweeps.Of(shuffled, false).Limits(axle); got != a {
			t.Errorf("%+v in another order: %+v, want %+v", l, got, a)
		}
	}
}

func TestChangesReachWhatIsWanted(t *testing.T) {
	f := sweeps.Of(rig.Layout{Count: 13, Spacing: 0.25, Width: 0.30, Beams: []float64{0, 0.9}}, false)
	wanted := 5 * degree
	changes := f.Changes(wanted)
	if len(changes) != 3 {
		t.Fatalf("%+v", changes)
	}
	for _, c := range changes {
		switch c.What {
		case sweeps.ByWidth: // s + Δx·tan t
			if want := 0.25 + 0.9*math.Tan(wanted) - 0.30; math.Abs(c.Wider-want) > 1e-9 || c.Sweeps != 13 {
				t.Errorf("%+v, want %g m wider", c, want)
			}
		case sweeps.ByStagger: // (b − s)/tan t
			if want := 0.05 / math.Tan(wanted) / 0.9; math.Abs(c.Factor-want) > 1e-9 || c.Sweeps != 13 {
				t.Errorf("%+v, want %g", c, want)
			}
		case sweeps.BySpacing: // b − Δx·tan t
			if want := (0.30 - 0.9*math.Tan(wanted)) / 0.25; math.Abs(c.Factor-want) > 1e-9 || c.Sweeps != 15 {
				t.Errorf("%+v, want %g", c, want)
			}
		}
	}
	// A frame that leaves 5 cm between all its sweeps straight ahead reaches no angle until they are wider by these and by 0.9 m·tan t.
	open := sweeps.Of(rig.Layout{Count: 12, Spacing: 0.25, Width: 0.20, Beams: []float64{0, 0.9}}, false)
	if c := open.Changes(degree); len(c) == 0 || c[0].What != sweeps.ByWidth && c[1].What != sweeps.ByWidth {
		t.Errorf("open straight ahead: %+v", c)
	} else {
		for _, one := range c {
			if want := 0.05 + 0.9*math.Tan(degree); one.What == sweeps.ByWidth && math.Abs(one.Wider-want) > 1e-9 {
				t.Errorf("open straight ahead: %+v, want %g m wider", one, want)
			}
			if one.What == sweeps.ByStagger {
				t.Errorf("open straight ahead: beams closer together close no gap: %+v", one)
			}
		}
	}
	if got := f.Changes(2 * degree); got != nil {
		t.Errorf("a frame that reaches it: %+v", got)
	}
}

func TestFaultsOfOneSweep(t *testing.T) {
	f := sweeps.Of(rig.Layout{Count: 12, Spacing: 0.25, Width: 0.30, Beams: []float64{0, 0.7, 1.4}}, false)
	for i, l := range f.Lost() {
		uncut, narrow := 0.20, 0.0 // twice the spacing less one sweep
		if i == 0 || i == 11 {
			uncut, narrow = 0, 0.25 // at the end, one spacing
		}
		if math.Abs(l.Uncut-uncut) > 1e-12 || math.Abs(l.Narrow-narrow) > 1e-12 {
			t.Errorf("sweep %d lost: %+v, want %g m uncut and %g m narrower", l.Number, l, uncut, narrow)
		}
	}
	if b := f.WorstBent(0.08); math.Abs(b.Uncut-0.03) > 1e-12 { // the lap is 5 cm
		t.Errorf("leg bent by 8 cm: %+v", b)
	}
	// By less than the lap nothing opens straight ahead; at a crab angle the pair two beams apart does first: (0.05 − 0.02)/1.4.
	if b := f.WorstBent(0.02); b.Uncut != 0 || math.Abs(b.Crab-math.Atan(0.03/1.4)) > 1e-9 {
		t.Errorf("leg bent by 2 cm: %+v", b)
	}
	// Two sweeps cut the same ground on the left, so that either may be bent; bent to the left the one on the right has no neighbour to part from.
	double := sweeps.Of(rig.Layout{Width: 0.30, Each: []rig.Sweep{{Right: -0.25}, {Right: -0.25, Behind: 0.7}, {Right: 0, Behind: 1.4}}}, false)
	if b := double.WorstBent(0.08); b.Number != 3 || b.Left != -0.08 || math.Abs(b.Uncut-0.03) > 1e-12 {
		t.Errorf("two sweeps in one place: %+v", b)
	}
	if one := f[:1].Lost(); len(one) != 1 || math.Abs(one[0].Narrow-0.30) > 1e-12 {
		t.Errorf("the only sweep lost: %+v", one)
	}
	p := f.Passage()
	if p.Beams != 3 || math.Abs(p.Beam-0.45) > 1e-12 || math.Abs(p.Between-0.7) > 1e-12 {
		t.Errorf("passage %+v", p)
	}
	// Beams 0.5 m ahead to 0.9 behind, wings of a right angle: the last tips lie half a width, 15 cm, behind their noses.
	ahead := sweeps.Of(rig.Layout{Count: 12, Spacing: 0.25, Width: 0.30, Angle: 90, Beams: []float64{-0.5, 0.2, 0.9}}, false)
	if before, past := ahead.Ends(); math.Abs(before-0.5) > 1e-12 || math.Abs(past-1.05) > 1e-12 || math.Abs(ahead.Deep()-1.55) > 1e-12 {
		t.Errorf("ends %g before and %g past, %g deep", before, past, ahead.Deep())
	}
	if d := f.Deep(); d != 1.4 {
		t.Errorf("deep %g", d)
	}
}

func TestDraw(t *testing.T) {
	even := rig.Layout{Count: 9, Spacing: 0.25, Width: 0.3, Beams: []float64{0, 1}}
	if d := sweeps.Draw(even); math.Abs(d) > 1e-12 {
		t.Errorf("an even layout draws %g m", d)
	}
	even.LeftOut = []int{1}
	if d := sweeps.Draw(even); math.Abs(d-0.125) > 1e-12 { // (36·0 + 1.0)/8: moments of eight spacings
		t.Errorf("without the left one: %g m to the right", d)
	}
	deep := rig.Layout{Width: 0.3, Each: []rig.Sweep{{Right: -1, Depth: 0.04}, {Right: 1, Depth: 0.12}}}
	if d := sweeps.Draw(deep); math.Abs(d-0.5) > 1e-12 { // (12 − 4)/16
		t.Errorf("three times as deep on the right: %g m to the right", d)
	}
	deep.Each[1].Depth = 0 // not known: none is taken by its depth
	if d := sweeps.Draw(deep); math.Abs(d) > 1e-12 {
		t.Errorf("of one depth is known: %g m to the right", d)
	}
}

// Of what one blade cuts, the end nearest to the centre is as far from it as the nearest point of its wings, which may lie inside one, and the other
// end as far as its farthest corner.
func TestCutsInACurveAreNearestAndFarthest(t *testing.T) {
	r := seeded(t)
	inside := 0
	for range 20000 {
		radius := (2 + 4*r.Float64()) * float64(1-2*r.IntN(2))
		m := sweeps.Motion{Crab: 0.2 * (r.Float64() - 0.5), Curvature: 1 / radius, Axle: 8 * (r.Float64() - 0.5)}
		b := sweeps.Blade{Number: 1, Nose: plane.XY{X: r.Float64(), Y: r.Float64()}}
		b.Left, b.Right = b.Nose.Add(plane.XY{X: -0.5 * r.Float64(), Y: 0.5}), b.Nose.Add(plane.XY{X: -0.5 * r.Float64(), Y: -0.5})
		sin, cos := math.Sincos(m.Crab)
		centre := plane.XY{X: m.Axle + radius*sin, Y: radius * cos}
		corner := math.Inf(1)
		far := 0.0
		for _, p := range []plane.XY{b.Nose, b.Left, b.Right} {
			corner, far = min(corner, p.Dist(centre)), max(far, p.Dist(centre))
		}
		near := min(plane.Segment{A: b.Nose, B: b.Left}.Dist(centre), plane.Segment{A: b.Nose, B: b.Right}.Dist(centre))
		if corner-near > 1e-3 {
			inside++
		}
		right, left := radius-far, radius-near
		if radius < 0 {
			right, left = radius+near, radius+far
		}
		if c := (sweeps.Frame{b}).Cuts(m)[0]; math.Abs(c.Right-right) > 1e-9 || math.Abs(c.Left-left) > 1e-9 {
			t.Fatalf("%+v, %+v: cut %+v, want from %g to %g", m, b, c, right, left)
		}
	}
	if inside < 50 {
		t.Errorf("the nearest point lay inside a wing %d times: hardly tried", inside)
	}
}

// Cuts with one right end come by their left ends, whatever the order of the blades; two such are neighbours of none.
func TestCutsWithOneRightEnd(t *testing.T) {
	narrow := sweeps.Blade{Number: 1, Left: plane.XY{Y: 0.25}, Right: plane.XY{Y: -0.25}}
	broad := sweeps.Blade{Number: 2, Left: plane.XY{Y: 0.75}, Right: plane.XY{Y: -0.25}}
	for _, f := range []sweeps.Frame{{narrow, broad}, {broad, narrow}} {
		cuts := f.Cuts(sweeps.Motion{})
		if cuts[0].Number != 1 || cuts[1].Number != 2 {
			t.Errorf("%+v", cuts)
		}
	}
	if _, ok := (sweeps.Frame{narrow}).Thinnest(sweeps.Motion{}); ok {
		t.Error("one sweep laps")
	}
}

// A place lies where it ran across, so far behind the axle as Far says.
func TestFarAndBehind(t *testing.T) {
	for _, curvature := range []float64{0, 0.1, -0.1, 0.01} {
		m := sweeps.Motion{Crab: 0.05, Curvature: curvature, Axle: 1.5}
		for _, p := range []plane.XY{{X: 1, Y: 2}, {X: -3, Y: -2.5}, {X: 0.4}} {
			// Points show where they run: a frame of no width.
			across := (sweeps.Frame{{Number: 1, Nose: p, Left: p, Right: p}}).Cuts(m)[0].Left
			if got := m.Behind(across, m.Far(p)); got.Dist(m.Seen(p)) > 1e-12 {
				t.Errorf("curvature %g, %v: at %v, want %v", curvature, p, got, m.Seen(p))
			}
		}
	}
}

func BenchmarkLimits(b *testing.B) {
	for _, n := range []int{12, 60, 240} {
		b.Run(fmt.Sprintf("sweeps=%d", n), func(b *testing.B) {
			f := sweeps.Of(rig.Layout{Count: n, Spacing: 0.25, Width: 0.30, Beams: []float64{0, 0.7, 1.4}, Angle: 70}, false)
			for b.Loop() {
				if l := f.Limits(1); !l.CrabLeft.Opens() || len(f.Laps(sweeps.Motion{})) != n-1 {
					b.Fatal(l)
				}
			}
		})
	}
}
