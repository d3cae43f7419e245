package plan

import (
	"cmp"
	"math"
	"slices"
	"testing"

	"balk/coverage/rig"
	"balk/coverage/slope"
	"balk/coverage/sweeps"
	"balk/geo"
	"balk/geo/plane"
)

// A plan of one bent row about (0, 0): what its sweeps leave is the laps below 0 on that radius times the way; laps are held
// against a frame that is stepped along in coverage/sweeps.
func TestUncutOfABentRow(t *testing.T) {
	const radius = 20.0
	im := rig.Implement{Width: 3.05, Mount: rig.Mount{Hitch: 2, BarBehind: 1},
		Sweeps: rig.Layout{Count: 12, Spacing: 0.25, Width: 0.30, Beams: []float64{0, 1.4}}}
	var line []plane.XY
	for k := range 90 {
		sin, cos := math.Sincos(float64(k) * math.Pi / 180)
		line = append(line, plane.XY{X: radius * cos, Y: radius * sin})
	}
	p := Plan{Implement: im, Passes: []Pass{{Number: 1, Line: line}}}
	left := func() float64 {
		sum, err := p.uncut(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return sum
	}
	got := left()
	want := 0.0
	for _, l := range sweeps.Of(im.Sweeps, false).Laps(sweeps.Motion{Curvature: 1 / radius, Crab: math.Asin(3 / radius)}) {
		want += max(0, -l.Lap) * (radius - l.At) * 89 * math.Pi / 180
	}
	if want < 1 || math.Abs(got-want) > 0.04*want { // at its ends a drawn line faces along a chord
		t.Errorf("%.3f m² uncut, want %.3f", got, want)
	}
	// The same sweeps on the second of two bars, 1 m farther ahead, 0.4 m to the right: laps of the frame so shifted, with the same motion.
	p.Implement.Bars = []rig.Bar{{Name: "spreader"}, {Name: "sweeps", Behind: -1, Right: 0.4, Sweeps: im.Sweeps}}
	p.Implement.Sweeps, want = rig.Layout{}, 0
	for _, l := range sweeps.Of(im.Sweeps, false).Moved(plane.XY{X: 1, Y: -0.4}).Laps(sweeps.Motion{Curvature: 1 / radius, Crab: math.Asin(3 / radius)}) {
		want += max(0, -l.Lap) * (radius - l.At) * 89 * math.Pi / 180
	}
	if second := left(); want < 1 || math.Abs(want-got) < 0.05*want || math.Abs(second-want) > 0.04*want {
		t.Errorf("of a second bar %.3f m² uncut, want %.3f, other than the first's %.3f", second, want, got)
	}
	// Two bars with the same sweeps at one place leave what one of them does: ground that either leaves counts once. Where the second stands half a spacing aside
	// they leave what each does, less what both do: laps of both frames on the same circles, put together by hand.
	p.Implement.Bars = []rig.Bar{{Name: "a", Sweeps: im.Sweeps}, {Name: "b", Sweeps: im.Sweeps}}
	if both := left(); math.Abs(both-got) > 1e-6*got {
		t.Errorf("two alike: %.6f m², want %.6f", both, got)
	}
	p.Implement.Bars[1].Right = 0.04
	m := sweeps.Motion{Curvature: 1 / radius, Crab: math.Asin(3 / radius)}
	open := func(f sweeps.Frame, at float64) bool {
		return slices.ContainsFunc(f.Laps(m), func(l sweeps.Lap) bool { return math.Abs(at-l.At) < -l.Lap/2 })
	}
	first, aside := sweeps.Of(im.Sweeps, false), sweeps.Of(im.Sweeps, false).Moved(plane.XY{Y: -0.04})
	want, twice := 0.0, 0.0
	for at := -2.0; at < 2; at += 1e-4 {
		a, b := open(first, at), open(aside, at)
		if a || b {
			want += 1e-4 * (radius - at) * 89 * math.Pi / 180
		}
		if a && b {
			twice += 1e-4 * (radius - at) * 89 * math.Pi / 180
		}
	}
	if both := left(); math.Abs(both-want) > 0.04*want || twice < 0.1*want {
		t.Errorf("one 4 cm aside: %.3f m², want %.3f, of which both leave %.3f", both, want, twice)
	}
	bars := toothedOf(p.Implement)
	straight := sweeps.Motion{Crab: 5 * math.Pi / 180}
	within := 0.0
	for at := -2.0; at < 2; at += 1e-4 {
		for _, b := range bars {
			if slices.ContainsFunc(b.frame.Laps(straight), func(l sweeps.Lap) bool { return math.Abs(at-l.At) < -l.Lap/2 }) {
				within += 1e-4
				break
			}
		}
	}
	if got := uncutBy(bars, straight); math.Abs(got-within) > 0.01 || within < 0.1 {
		t.Errorf("across the way %.4f m, want %.4f", got, within)
	}
	p.Implement.Bars = nil
	if got := left(); got != 0 {
		t.Errorf("without a layout %g", got)
	}
}

// A field of 60 × 54 m that falls by 12 % to the south: rows along its longer side lie across the slope, the set crabs by 0.25° per percent, 3° in all,
// and its neighbours part. What stays is their laps below 0 there, times the way; rows up and down leave none. With what stays at the price of what is missed the
// rows go up and down; on level ground they lie along the longer side.
func TestRowsAcrossAHill(t *testing.T) {
	im := rig.Implement{Width: 3.05, Mount: rig.Mount{Hitch: 1, BarBehind: 1}, Tractor: rig.Tractor{Ahead: 3, Behind: 1, Width: 2}, Turning: rig.Turning{Radius: 4, Speed: 6, ReverseSpeed: 4, Change: 3},
		Sweeps: rig.Layout{Count: 12, Spacing: 0.25, Width: 0.30, Beams: []float64{-0.7, 0.7}}}
	field := []plane.Polygon{{{{X: 0, Y: 0}, {X: 60, Y: 0}, {X: 60, Y: 54}, {X: 0, Y: 54}}}}
	hill := Hill{Rise: plane.XY{Y: 0.12}}
	f, crab := sweeps.Of(im.Sweeps, false), 3*math.Pi/180
	open := (f.Uncut(sweeps.Motion{Crab: crab}) + f.Uncut(sweeps.Motion{Crab: -crab})) / 2
	for _, c := range []struct {
		name    string
		heading geo.Heading
		hill    Hill
		crabs   float64 // degrees per percent
		want    float64 // m² per metre
	}{
		{"along the slope's foot", 0, hill, 0.25, open}, {"up and down", math.Pi / 2, hill, 0.25, 0}, {"level", 0, Hill{}, 0.25, 0}, {"a set that does not crab", 0, hill, 0, 0},
		{"aslant", math.Pi / 4, hill, 0.25, (f.Uncut(sweeps.Motion{Crab: crab / math.Sqrt2}) + f.Uncut(sweeps.Motion{Crab: -crab / math.Sqrt2})) / 2},
		{"by heights", 0, Hill{Surface: slope.Of(evenly(plane.XY{Y: 0.12}))}, 0.25, open},
	} {
		im.CrabPerPercent = c.crabs
		opt := Options{Heading: c.heading, NoRounds: true, Speed: 8, Hill: c.hill}
		p, err := Lay(t.Context(), field, im, opt)
		if err != nil {
			t.Fatal(err)
		}
		got, err := Simulate(t.Context(), p)
		if err != nil {
			t.Fatal(err)
		}
		if want := c.want * got.Working.Metres; math.Abs(got.Uncut-want) > 0.02*want+1e-9 || want == 0 && got.Uncut > 0 {
			t.Errorf("%s: %.1f m² uncut, want %.1f", c.name, got.Uncut, want)
		}
		if least := opt.MissedPrice() * (got.Missed + got.Uncut) / hectare; math.Abs(got.Open-least) > 1e-9 {
			t.Errorf("%s: %.3f h to work what is left, want %.3f", c.name, got.Open, least)
		}
		barred := im
		barred.Sweeps, barred.Bars = rig.Layout{}, []rig.Bar{{Name: "sweeps", Sweeps: im.Sweeps}, {Name: "spreader", Behind: 1}}
		for _, set := range []rig.Implement{im, barred} {
			if s := slantOf(field, set, c.hill); math.Abs(s.uncut(c.heading.Ahead())-c.want) > 1e-6 {
				t.Errorf("%s: estimated %.4f m² a metre, want %.4f", c.name, s.uncut(c.heading.Ahead()), c.want)
			}
		}
	}
	if !(open > 0.05) {
		t.Fatal(open)
	}
	im.CrabPerPercent = 0.25
	for _, c := range []struct {
		hill Hill
		want float64
	}{{Hill{}, 90}, {hill, 0}} {
		s, err := surveyOf(t.Context(), field, im, Options{Rounds: 1, Speed: 8, Hill: c.hill})
		if err == nil {
			s, err = s.at(t.Context(), 1)
		}
		if err != nil {
			t.Fatal(err)
		}
		curve, err := s.curve(t.Context(), Objective{})
		if err != nil {
			t.Fatal(err)
		}
		best := slices.MinFunc(curve, func(a, b Sample) int { return cmp.Compare(a.Value, b.Value) })
		if d := best.Direction; math.Abs(math.Remainder(d-c.want, 180)) > 25 {
			t.Errorf("rows at %.0f°, want %.0f° or so", d, c.want)
		}
		drawn, err := s.drawn(t.Context(), []choice{{heading: 0}, {heading: math.Pi / 2}}, Objective{}, math.Inf(1))
		if err != nil {
			t.Fatal(err)
		}
		if d := drawn[0].Candidate.Direction; d != c.want {
			t.Errorf("of two that are laid out, rows at %.0f°: want %.0f°", d, c.want)
		}
	}
	if err := (Options{Speed: 8, Hill: Hill{Rise: plane.XY{X: 3}}}).Validate(); err == nil {
		t.Error("a slope of 300 %")
	}
}

// evenly are heights on ground that rises so.
func evenly(rise plane.XY) (hs []slope.Height) {
	for k := range 17 {
		for y := -10.0; y <= 100; y += 4 {
			at := plane.XY{X: 7*float64(k) - 5, Y: y}
			hs = append(hs, slope.Height{At: at, Z: at.Dot(rise), Line: k, Weight: 1})
		}
	}
	return hs
}
