package season

import (
	"math"
	"testing"
	"time"

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
	for k, area := range r.All.Times {
		trial.Near(t, "k times", area, 60, trial.Square100)
		_ = k
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
