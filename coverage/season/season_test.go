package season

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// operated is an operation whose passes are these lines.
func operated(t testing.TB, f geo.Field, name string, w drive.Work, lines [][]plane.XY, does ...Component) Operation {
	t.Helper()
	local := f.Local()
	log, err := drive.Read(t.Context(), f.OnPlane(local), local, []geo.Track{(trial.Sketch{Lines: lines}).Track()}, w, drive.AsJudged)
	if err != nil {
		t.Fatal(err)
	}
	return Operation{Name: name, Does: does, Runs: log.Runs, Work: w}
}

func of(t testing.TB, f geo.Field, operations ...Operation) Result {
	t.Helper()
	r, err := Of(t.Context(), f, operations, 0)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// columns are passes along y at the given places, every second one driven back.
func columns(y0, y1 float64, xs ...float64) [][]plane.XY {
	var lines [][]plane.XY
	for _, line := range trial.Rows(y0, y1, xs...) {
		lines = append(lines, trial.Apply(line, func(p plane.XY) plane.XY { return plane.XY{X: p.Y, Y: p.X} }))
	}
	return lines
}

func every(from, step float64, n int) (out []float64) {
	for k := range n {
		out = append(out, from+step*float64(k))
	}
	return out
}

const day = 24 * time.Hour

var monday = time.Date(2026, 4, 6, 0, 0, 0, 0, time.UTC)

// crossed is 100 × 60 m: A along it, ten passes of 5 m with 1 m between them, B across, seventeen passes of 4 m with 2 m between them.
//
//	both = 50·68, only A = 50·32, only B = 10·68, neither = 10·32 m², in 160 rectangles of 1 × 2 m
func crossed(t testing.TB) (geo.Field, Operation, Operation) {
	f := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 60)}}.Field()
	a := operated(t, f, "A", drive.Work{Width: 5, PassError: 0.04}, trial.Rows(0, 100, every(2.5, 6, 10)...), Cuts)
	b := operated(t, f, "B", drive.Work{Width: 4, PassError: 0.04}, columns(0, 60, every(2, 6, 17)...), Cuts, Seeds)
	a.When, b.When = monday, monday.Add(10*day)
	return f, a, b
}

func TestTwoCrossingOperations(t *testing.T) {
	f, a, b := crossed(t)
	r := of(t, f, a, b)
	const tol = trial.Square100
	trial.Near(t, "field", r.Field, 6000, tol)
	p := r.Pairs[0]
	trial.Near(t, "both", p.Both, 3400, tol)
	trial.Near(t, "only A", p.OnlyA, 1600, tol)
	trial.Near(t, "only B", p.OnlyB, 680, tol)
	trial.Near(t, "neither", p.Neither, 320, tol)
	trial.Near(t, "angle", p.Angle, 90, 1e-3)
	trial.Near(t, "direction of A", float64(r.Operations[0].Direction), 90, 0.1)
	trial.Near(t, "A along it", r.Operations[0].Along, 1, 1e-9)
	trial.Near(t, "missed by all", r.All.Missed, 320, tol)
	trial.Near(t, "once", r.All.Times[0], 1600+680, tol)
	trial.Near(t, "twice", r.All.Times[1], 3400, tol)
	trial.Near(t, "A missed", r.Operations[0].Missed, 1000, tol)
	if len(r.Each) != 2 || r.Each[0].Component != Cuts || r.Each[1].Component != Seeds {
		t.Fatalf("components %+v", r.Each)
	}
	trial.Near(t, "not seeded", r.Each[1].Missed, 320+1600, tol)
	if n := len(r.All.Strips); n != 160 {
		t.Fatalf("%d strips, want 160", n)
	}
	for _, s := range r.All.Strips {
		trial.Near(t, "area", s.Area, 2, 2e-3)
		trial.Near(t, "length", s.Length, 2, 2e-3)
		trial.Near(t, "width", s.MaxWidth, 1, 2e-3)
	}
	for _, c := range []struct {
		after               float64 // days after A
		days, worked, never float64
		last                int
	}{
		{15, (4080*5 + 1600*15) / 5680.0, 5680, 320, 1},
		{10, 1600 * 10 / 5680.0, 5680, 320, 1},
		{9, 9, 5000, 1000, 0},
		{-1, 0, 0, 6000, -1},
	} {
		s := r.Since(Cuts, monday.Add(time.Duration(c.after*float64(day))))
		trial.Near(t, "days", s.Days, c.days, 1e-6)
		trial.Near(t, "worked", s.Worked, c.worked, tol)
		trial.Near(t, "never", s.Never, c.never, tol)
		if (len(s.Last) == 0) != (c.last < 0) || c.last >= 0 && s.Last[0].Operation != c.last {
			t.Errorf("%g days after: last %+v", c.after, s.Last)
		}
	}
}

// Work of n passes over one another, each shorter than the one before, is done k times on 10 m each.
func TestDoneKTimes(t *testing.T) {
	const n = 9
	f := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 10*(n+1), 6)}}.Field()
	var all []Operation
	for k := range n {
		all = append(all, operated(t, f, "", drive.Work{Width: 6}, trial.Rows(0, 10*float64(n-k), 3), Combs))
	}
	r := of(t, f, all...)
	trial.Near(t, "missed by all", r.All.Missed, 60, trial.Square100)
	for _, area := range r.All.Times {
		trial.Near(t, "k times", area, 60, trial.Square100)
	}
	if len(r.Pairs) != n*(n-1)/2 {
		t.Errorf("%d pairs", len(r.Pairs))
	}
	for _, p := range r.Pairs {
		trial.Near(t, "both", p.Both, 60*float64(n-p.B), trial.Square100)
		trial.Near(t, "only A", p.OnlyA, 60*float64(p.B-p.A), trial.Square100)
		trial.Near(t, "only B", p.OnlyB, 0, trial.Square100)
	}
	balanced(t, r)
}

// balanced holds all sums against the field.
func balanced(t testing.TB, r Result) {
	t.Helper()
	off := func(what string, sum float64) {
		t.Helper()
		if !(math.Abs(sum-r.Field) <= 1e-9*r.Field) {
			t.Errorf("%s: %.12g m² of %.12g m²", what, sum, r.Field)
		}
	}
	for _, o := range r.Operations {
		off(o.Name, o.Worked+o.Missed+o.Unknown)
	}
	for _, p := range r.Pairs {
		off("pair", p.Both+p.OnlyA+p.OnlyB+p.Neither+p.Unknown)
	}
	for _, g := range append(r.Each, r.All) {
		sum := g.Missed + g.Unknown
		for _, a := range g.Times {
			sum += a
		}
		off("together "+string(g.Component), sum)
	}
}

// A strip of 1 × 2 m between operations of a pass-to-pass error of 4 cm is certain in what is left when all bars are wider by
// that: 0.96 × 1.96 m. Of one of 5 cm 1 cm is left, a sliver; half the error leaves 3 cm. One of 3 cm is only possible.
func TestSuretyOfCrossingOperations(t *testing.T) {
	f, a, b := crossed(t)
	r := of(t, f, a, b)
	inner := 0
	for _, s := range r.All.Strips {
		at := r.Local.XY(s.At)
		if math.Abs(at.X) > 40 || math.Abs(at.Y) > 25 {
			continue // a row end or a pass along the boundary beside it
		}
		inner++
		if s.Surety != coverage.SuretyCertain || len(s.Beside) != 2 {
			t.Errorf("strip %d: %q beside %v", s.Number, s.Surety, s.Beside)
		}
		trial.Near(t, "certain", s.Certain, 0.96*1.96, 5e-3)
		trial.Near(t, "likely", s.Likely, 0.98*1.98, 5e-3)
	}
	if inner < 80 {
		t.Errorf("%d strips inside", inner)
	}
	for _, c := range []struct {
		gap    float64
		strips int
		surety coverage.Surety
	}{{1, 1, coverage.SuretyCertain}, {0.05, 1, coverage.SuretyLikely}, {0.03, 0, ""}} {
		f := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-50, -30, 50, 30)}}.Field()
		w := drive.Work{Width: 30, PassError: 0.04}
		// one half each; the seam is a strip of 40 m, since both end before the boundary
		lower := operated(t, f, "lower", w, trial.Rows(-20, 20, -15-c.gap/2), Cuts)
		upper := operated(t, f, "upper", w, trial.Rows(-20, 20, 15+c.gap/2), Cuts)
		rest := operated(t, f, "rest", drive.Work{Width: 30, PassError: 0.04}, columns(-30, 30, -35, 35), Cuts)
		r := of(t, f, lower, upper, rest)
		balanced(t, r)
		var between []Strip
		for _, s := range r.All.Strips {
			if s.Length > 30 && s.MaxWidth < 2 && math.Abs(r.Local.XY(s.At).Y) < 1 {
				between = append(between, s)
			}
		}
		if len(between) != c.strips || c.strips > 0 && between[0].Surety != c.surety {
			t.Errorf("gap of %g m: %+v", c.gap, between)
		}
		if c.strips == 0 && r.All.Possible == 0 {
			t.Errorf("gap of %g m: no strip is only possible", c.gap)
		}
	}
}

// Two operations with a round each along the boundary, B off by 40 cm: a strip between them that is narrower than that is not certain, however good
// the receivers are; one within A alone that B does not come near is.
func TestShiftedOperation(t *testing.T) {
	f := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-100, -60, 100, 60)}}.Field()
	round := func(width float64, off plane.XY) (lines [][]plane.XY) {
		for _, s := range plane.Ring(trial.Rectangle(-100+width/2, -60+width/2, 100-width/2, 60-width/2)).Sides() {
			lines = append(lines, trial.Apply(trial.Straight(s.A, s.B, 2), func(p plane.XY) plane.XY { return p.Add(off) }))
		}
		return lines
	}
	w := drive.Work{Width: 4, PassError: 0.02}
	for _, off := range []plane.XY{{}, {X: 0.4, Y: 0.1}} {
		// A works the west, with a gap of 20 cm along x = -50; B the east; between them 20 cm are left along x = 0.
		a := operated(t, f, "A", w, append(round(4, plane.XY{}), columns(-56, 56, every(-94, 4, 11)...)...), Cuts)
		a2 := operated(t, f, "A", w, columns(-56, 56, every(-49.8, 4, 13)...), Cuts)
		a.Runs = append(a.Runs, a2.Runs...)
		b := operated(t, f, "B", w, append(round(4, off), columns(-56, 56, every(2.4, 4, 24)...)...), Cuts)
		r := of(t, f, a, b)
		shift := r.Pairs[0].Shift
		if seen := off != (plane.XY{}); shift.Seen != seen || seen && math.Hypot(shift.East-off.X, shift.North-off.Y) > shift.Doubt {
			t.Errorf("off by %v: %+v", off, shift)
		}
		found := 0
		for _, s := range r.All.Strips {
			x := r.Local.XY(s.At).X
			want := coverage.SuretyCertain
			switch {
			case s.Length < 50:
				continue
			case math.Abs(x+52) < 1:
			case math.Abs(x) < 1 && off != (plane.XY{}):
				want = coverage.SuretyLikely
			}
			found++
			if s.Surety != want {
				t.Errorf("off by %v: strip %d of %.2f m at x %.1f: %q, want %q; open %.2f m, beside %v", off, s.Number, s.MaxWidth, x, s.Surety, want, s.Open, s.Beside)
			}
		}
		if found < 2 {
			t.Errorf("off by %v: %d strips: %+v", off, found, r.All.Strips)
		}
	}
}

// The order of the operations changes nothing, and one more never makes what all missed more.
func TestOrderAndOneMore(t *testing.T) {
	f, all := driven(t, 120, 5, 800)
	r := of(t, f, all...)
	balanced(t, r)
	last := r.All.Missed
	for n := 4; n > 0; n-- {
		if fewer := of(t, f, all[:n]...); fewer.All.Missed < last-1e-9*r.Field {
			t.Errorf("%d operations missed %.9f m², one more %.9f m²", n, fewer.All.Missed, last)
		} else {
			last = fewer.All.Missed
		}
	}
	slices.Reverse(all)
	back := of(t, f, all...)
	trial.Near(t, "missed", back.All.Missed, r.All.Missed, 1e-9*r.Field)
	for k, area := range back.All.Times {
		trial.Near(t, "k times", area, r.All.Times[k], 1e-9*r.Field)
	}
	if len(back.All.Strips) != len(r.All.Strips) {
		t.Fatalf("%d strips, %d the other way round", len(r.All.Strips), len(back.All.Strips))
	}
	for k, s := range back.All.Strips {
		if o := r.All.Strips[k]; math.Abs(s.Area-o.Area) > 1e-6 || s.Surety != o.Surety {
			t.Errorf("strip %d: %g m² %s, the other way round %g m² %s", k+1, o.Area, o.Surety, s.Area, s.Surety)
		}
	}
}

// What may have been worked in a log gap is not missed by all, and not known of either of two.
func TestGapsOfOperations(t *testing.T) {
	f := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 6)}}.Field()
	gapped := [][]plane.XY{append(trial.Straight(plane.XY{X: 0, Y: 3}, plane.XY{X: 20, Y: 3}, 2), trial.Straight(plane.XY{X: 60, Y: 3}, plane.XY{X: 80, Y: 3}, 2)...)}
	a := operated(t, f, "A", drive.Work{Width: 6}, gapped, Cuts)
	b := operated(t, f, "B", drive.Work{Width: 6}, trial.Rows(0, 50, 3), Cuts)
	r := of(t, f, a, b)
	balanced(t, r)
	trial.Near(t, "missed by all", r.All.Missed, 20*6, trial.Square100)
	trial.Near(t, "open", r.All.Unknown, 10*6, trial.Square100)
	trial.Near(t, "once", r.All.Times[0], (30+20)*6, trial.Square100)
	trial.Near(t, "twice", r.All.Times[1], 20*6, trial.Square100)
	p := r.Pairs[0]
	trial.Near(t, "both", p.Both, 20*6, trial.Square100)
	trial.Near(t, "only A", p.OnlyA, 20*6, trial.Square100)
	trial.Near(t, "only B", p.OnlyB, 0, trial.Square100)
	trial.Near(t, "neither", p.Neither, 20*6, trial.Square100)
	trial.Near(t, "not known", p.Unknown, 40*6, trial.Square100)
}

func TestOfRefuses(t *testing.T) {
	f, a, _ := crossed(t)
	for name, all := range map[string][]Operation{
		"no operation":            nil,
		"what it does is missing": {a, {Name: "B", Work: a.Work}},
		`"ploughs"`:               {{Name: "B", Does: []Component{"ploughs"}, Work: a.Work}},
		"working width":           {{Name: "B", Does: []Component{Cuts}}},
	} {
		if _, err := Of(t.Context(), f, all, 1); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
	stopped, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Of(stopped, f, []Operation{a}, 1); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

// Rounds, bends and turns do not turn the direction; directions about north are one.
func TestDirection(t *testing.T) {
	f := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-100, -100, 100, 100)}}.Field()
	local := f.Local()
	for _, want := range []float64{0, 0.4, 27, 90, 135, 179.7} {
		sin, cos := math.Sincos(want * math.Pi / 180)
		lines := [][]plane.XY{trial.Arc(plane.XY{}, 80, 0, 360, 90)}
		for k := range 12 {
			side := plane.XY{X: cos, Y: -sin}.Scale(5*float64(k) - 30)
			a, b := side.Add(plane.XY{X: sin, Y: cos}.Scale(-60)), side.Add(plane.XY{X: sin, Y: cos}.Scale(60))
			if k%2 == 1 {
				a, b = b, a
			}
			lines = append(lines, trial.Straight(a, b, 3))
		}
		o := operated(t, f, "", drive.Work{Width: 5}, lines, Cuts)
		got, along := directionOf(o.Runs, local)
		if math.Abs(halfTurn(float64(got)-want)) > 0.2 || got < 0 || got >= 180 || along < 0.7 || along > 0.9 {
			t.Errorf("%g°: %g°, %.2f of the travel along it", want, got, along)
		}
	}
}
