package drive

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestTwoMachinesAreNeverJoined: two sets drive the same rows, one 5 to 6 m aside of and
// some metres behind the other, and their loggers begin new files at the same times.
// Whatever the order of the files, no trail has tracks of both.
func TestTwoMachinesAreNeverJoined(t *testing.T) {
	joins := 0
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 72))
		s := trial.Operation(rng).Timed(1)
		s.Lines, s.Times = s.Lines[:1], s.Times[:1]
		behind, aside := 8*rng.Float64()-4, 5+rng.Float64()
		cuts := s.Cuts(rng)
		both := [2][]geo.Track{
			trial.FilesOf(s.Track(), cuts, false),
			trial.FilesOf(s.Moved(func(p plane.XY) plane.XY { return p.Add(plane.XY{X: behind, Y: aside}) }).Track(), cuts, false),
		}
		var tracks []geo.Track
		var of []int
		for n := range both[0] {
			first := rng.IntN(2)
			tracks, of = append(tracks, both[first][n], both[1-first][n]), append(of, first, 1-first)
		}
		trails, _, err := trailsOf(t.Context(), s.Field().Local(), tracks, Work{Width: 5})
		if err != nil {
			t.Fatal(err)
		}
		for _, tr := range trails {
			for _, one := range tr.tracks {
				if of[one.track] != of[tr.tracks[0].track] {
					t.Errorf("seed %d, %.1f m behind, %.1f m aside: track %d joined to %d of the other set", seed, behind, aside, one.track, tr.tracks[0].track)
				}
			}
			joins += len(tr.tracks) - 1
		}
	}
	if joins < 20 {
		t.Errorf("too tame: %d files joined", joins)
	}
}

// TestStraightOn: the step from the end of a track to the beginning of the next, beside the way of each: within 45° of both, forwards. What
// lies nearer than a parked set wanders says nothing, nor does what lies beyond a break.
func TestStraightOn(t *testing.T) {
	east := func(x0, y0, dy float64, n int) (out []plane.XY) { // steps of 10 m, each dy to the left
		for k := range n {
			out = append(out, plane.XY{X: x0 + 10*float64(k), Y: y0 + dy*float64(k)})
		}
		return out
	}
	before := east(-30, 0, 0, 4) // up to the origin
	for _, c := range []struct {
		name   string
		before trail
		behind trail
		want   bool
	}{
		{"on along the line", trail{at: before}, trail{at: east(20, 0, 0, 3)}, true},
		{"44° aside, and back to the same way", trail{at: before}, trail{at: east(20, 19.3, 0, 3)}, true},
		{"46° aside", trail{at: before}, trail{at: east(20, 20.7, 0, 3)}, false},
		{"on, then 44° to the left", trail{at: before}, trail{at: east(20, 0, 9.6, 3)}, true},
		{"on, then 46° to the left", trail{at: before}, trail{at: east(20, 0, 10.4, 3)}, false},
		{"back to where it came from", trail{at: before}, trail{at: east(-60, 0, 0, 3)}, false},
		{"on, then driven back", trail{at: before}, trail{at: []plane.XY{{X: 40}, {X: 20}}}, false},
		{"nothing known of the way before", trail{at: before[3:]}, trail{at: east(20, 20.7, 20, 3)}, true},
		{"nothing known of either", trail{at: before[3:]}, trail{at: []plane.XY{{Y: -20}}}, true},
		{"a break before the last fix", trail{at: before, breaks: []int{3}}, trail{at: []plane.XY{{Y: 20}}}, true},
		{"a break before the last but one", trail{at: before, breaks: []int{1, 2}}, trail{at: []plane.XY{{Y: 20}}}, false},
		{"a break behind the first fix", trail{at: before}, trail{at: []plane.XY{{X: 20}, {X: 20, Y: 30}}, breaks: []int{1}}, true},
		{"a break behind the second", trail{at: before}, trail{at: []plane.XY{{X: 20}, {X: 20, Y: 30}, {X: 90}}, breaks: []int{2}}, false},
	} {
		for _, turned := range []float64{0, 100} {
			a, b := c.before, c.behind
			sin, cos := math.Sincos(turned * math.Pi / 180)
			turn := func(p plane.XY) plane.XY { return plane.XY{X: cos*p.X - sin*p.Y, Y: sin*p.X + cos*p.Y} }
			a.at, b.at = trial.Apply(a.at, turn), trial.Apply(b.at, turn)
			if got := a.straightOn(&b); got != c.want {
				t.Errorf("%s, all turned by %g°: %v", c.name, turned, got)
			}
		}
	}
}

// TestJoinedColumns: two trails, end to end or with one fix in both, have every value of every column in order; breaks and tracks begin
// where they did, and what one of them has not logged of HDOP is not known.
func TestJoinedColumns(t *testing.T) {
	part := func(from, n int, hdop bool) *trail {
		p := &trail{tracks: []trackStart{{0, from, from}}, breaks: []int{1}, last: pace{speed: float64(from)}, rounding: float64(from) / 100, timed: from > 0}
		for k := from; k < from+n; k++ {
			v := float64(k)
			p.at, p.seconds, p.State = append(p.at, plane.XY{X: v}), append(p.seconds, v), append(p.State, geo.Working)
			p.Width, p.Offset, p.Speed = append(p.Width, v+0.1), append(p.Offset, v+0.2), append(p.Speed, v+0.3)
			p.facing, p.Quality = append(p.facing, plane.XY{Y: v}), append(p.Quality, geo.Quality(k))
			if hdop {
				p.HDOP = append(p.HDOP, v+0.4)
			}
		}
		return p
	}
	for _, c := range []struct {
		name   string
		shared bool
		second int // its first fix
		breaks []int
	}{{"end to end", false, 3, []int{1, 4}}, {"one fix in both", true, 2, []int{1, 3}}} {
		a, b := part(0, 3, false), part(c.second, 4, true)
		a.join(b, c.shared)
		n := c.second + 4
		if len(a.at) != n || len(a.State) != n || !slices.Equal(a.breaks, c.breaks) || len(a.tracks) != 2 || a.tracks[1] != (trackStart{c.breaks[1] - 1, c.second, c.second}) ||
			a.last != b.last || a.rounding != b.rounding || !a.timed {
			t.Errorf("%s: %+v", c.name, a)
			continue
		}
		for k := range n {
			v := float64(k)
			if a.at[k].X != v || a.seconds[k] != v || a.Width[k] != v+0.1 || a.Offset[k] != v+0.2 || a.Speed[k] != v+0.3 || a.facing[k].Y != v || a.Quality[k] != geo.Quality(k) {
				t.Errorf("%s: fix %d is another", c.name, k)
			}
			if known := k >= 3; known && a.HDOP[k] != v+0.4 || !known && !math.IsNaN(a.HDOP[k]) {
				t.Errorf("%s: HDOP of fix %d is %g", c.name, k, a.HDOP[k])
			}
		}
	}
	lifted := part(2, 4, true)
	a := part(0, 3, false)
	a.State[2], lifted.State[0] = geo.Lifted, geo.Working
	if a.join(lifted, true); a.State[2] != geo.Working {
		t.Error("a fix in both, lifted at the end of the first: want the state it has in the second")
	}
}

// TestLiftsAt: the fix two tracks share is lifted in one of them, and so is its neighbour there.
func TestLiftsAt(t *testing.T) {
	const w, l = geo.Working, geo.Lifted
	for _, c := range []struct {
		name   string
		before []geo.WorkState
		behind []geo.WorkState
		want   bool
	}{
		{"lifted at the end of the first", []geo.WorkState{w, l, l}, []geo.WorkState{w, w}, true},
		{"the fix before works", []geo.WorkState{l, w, l}, []geo.WorkState{w, w}, false},
		{"a first of one fix", []geo.WorkState{l}, []geo.WorkState{w, w}, false},
		{"lifted at the beginning of the second", []geo.WorkState{w, w}, []geo.WorkState{l, l, w}, true},
		{"the fix after works", []geo.WorkState{w, w}, []geo.WorkState{l, w, l}, false},
		{"a second of one fix", []geo.WorkState{w, w}, []geo.WorkState{l}, false},
		{"works in both", []geo.WorkState{l, w}, []geo.WorkState{w, l}, false},
	} {
		if got := (&trail{Columns: geo.Columns{State: c.before}}).liftsAt(&trail{Columns: geo.Columns{State: c.behind}}); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
