package coverage

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo"
	"balk/geo/plane"

	geom "github.com/twpayne/go-geom"
)

// filesOf cuts a track before the given fixes, which must rise, into tracks of
// their own; shared: the fix before is in both.
func filesOf(t geo.Track, before []int, shared bool) []geo.Track {
	var out []geo.Track
	from := 0
	for n, to := range append(before, t.Fixes()) {
		one := t.Cut(func(k int) bool { return k >= from && k < to }, false)
		one.Source = fmt.Sprintf("log%d.gpx", n)
		out = append(out, one)
		from = to
		if shared {
			from--
		}
	}
	return out
}

// timed gives the parts of a sketch times, dt apart, the parts a minute.
func (s sketch) timed(dt float64) sketch {
	s.times = nil
	now := 1.7e9
	for _, l := range s.lines {
		times := make([]float64, len(l))
		for i := range times {
			times[i] = now
			now += dt
		}
		s.times, now = append(s.times, times), now+60
	}
	return s
}

// cuts are some fixes of a sketch before which its track may be cut: none that
// begins a part, and one file may hold a single fix.
func (s sketch) cuts(rng *rand.Rand) []int {
	var out []int
	at := 0
	for _, l := range s.lines {
		for k := 1; k < len(l); k++ {
			if rng.IntN(len(l)/4) == 0 {
				out = append(out, at+k)
			}
		}
		at += len(l)
	}
	return out
}

// TestCuttingATrackIntoFilesChangesNothing: between two fixes and at a fix, with a
// logged state, with one told from driving, and with none.
func TestCuttingATrackIntoFilesChangesNothing(t *testing.T) {
	const limit = 1e-9
	for seed := range uint64(6) {
		rng := rand.New(rand.NewPCG(seed, 71))
		s := operation(rng).timed(1)
		for _, evidence := range []Evidence{EvidenceLogged, EvidenceInferred, EvidenceAll} {
			if evidence == EvidenceLogged {
				for _, l := range s.lines {
					state := make([]geo.WorkState, len(l))
					for i := range state {
						state[i] = geo.Working
						if i%40 > 33 {
							state[i] = geo.Lifted
						}
					}
					s.state = append(s.state, state)
				}
			}
			w := Work{Width: 5, Overlap: 0.1, Headland: 8, Working: evidence}
			whole := s.check(t, w)
			want, cuts := shares(whole), s.cuts(rng)
			if len(cuts) < 5 || want["missed"] == 0 {
				t.Fatalf("seed %d: too tame: %d cuts, %v", seed, len(cuts), want)
			}
			for _, shared := range []bool{false, true} {
				r := checkTracks(t, s, w, filesOf(s.track(), cuts, shared)...)
				if len(r.Passes) != len(whole.Passes) {
					t.Errorf("seed %d, %s, fix in both %v: %d passes, the whole track has %d", seed, evidence, shared, len(r.Passes), len(whole.Passes))
				}
				for k, v := range shares(r) {
					if !(math.Abs(v-want[k]) <= limit) {
						t.Errorf("seed %d, %s, fix in both %v, %s: %.12g of the field, was %.12g", seed, evidence, shared, k, v, want[k])
					}
				}
			}
		}
	}
}

// TestWhichTracksAreJoined: two tracks along y = 5, 2 m and 1 s from fix to fix; the
// first ends at x = 100 and 50 s, the second starts as drawn.
func TestWhichTracksAreJoined(t *testing.T) {
	field := sketch{rings: [][]plane.XY{rectangle(-10, 0, 250, 60)}}
	line := func(from plane.XY, start float64) geo.Track {
		s := sketch{lines: [][]plane.XY{straight(from, from.Add(plane.XY{X: 100}), 2)}}.timed(1)
		for i := range s.times[0] {
			s.times[0][i] += start - 1.7e9
		}
		return s.track()
	}
	first := line(plane.XY{Y: 5}, 0)
	untimed := func(x float64) geo.Track {
		return sketch{lines: [][]plane.XY{straight(plane.XY{X: x, Y: 5}, plane.XY{X: x + 100, Y: 5}, 2)}}.track()
	}
	wide := line(plane.XY{X: 102, Y: 5}, 51)
	for range wide.Fixes() {
		wide.Width = append(wide.Width, 10)
	}
	nothing := geo.Track{Source: "empty", Line: geom.NewMultiLineString(geom.XYM)}
	for name, c := range map[string]struct {
		tracks []geo.Track
		passes int
	}{
		"a step and a second on":                        {[]geo.Track{first, line(plane.XY{X: 102, Y: 5}, 51)}, 1},
		"a file without fixes between":                  {[]geo.Track{first, nothing, line(plane.XY{X: 102, Y: 5}, 51)}, 1},
		"the set stood for eight seconds":               {[]geo.Track{first, line(plane.XY{X: 102, Y: 5}, 58)}, 1},
		"20 m in ten seconds":                           {[]geo.Track{first, line(plane.XY{X: 120, Y: 5}, 60)}, 1},
		"aside after a turn that no file holds":         {[]geo.Track{first, line(plane.XY{X: 100, Y: 15}, 58)}, 2},
		"back after a turn that no file holds":          {[]geo.Track{first, line(plane.XY{X: 92, Y: 15}, 58)}, 2},
		"20 m in eleven seconds are a log gap":          {[]geo.Track{first, line(plane.XY{X: 120, Y: 5}, 61)}, 2},
		"26 m in five seconds are a log gap":            {[]geo.Track{first, line(plane.XY{X: 126, Y: 5}, 55)}, 2},
		"20 m in a second are another machine":          {[]geo.Track{first, line(plane.XY{X: 100, Y: 25}, 51)}, 2},
		"5 m in a second are another machine ahead":     {[]geo.Track{first, line(plane.XY{X: 105, Y: 5}, 51)}, 2},
		"two machines side by side":                     {[]geo.Track{first, line(plane.XY{Y: 15}, 0)}, 2},
		"another machine starts there in the last step": {[]geo.Track{first, line(plane.XY{X: 102, Y: 5}, 49)}, 2},
		"another machine starts there at the same time": {[]geo.Track{first, line(plane.XY{X: 102, Y: 5}, 50)}, 2},
		"the later file first":                          {[]geo.Track{line(plane.XY{X: 102, Y: 5}, 51), first}, 2},
		"widths logged in one of them":                  {[]geo.Track{first, wide}, 2},
		"without times, a step on":                      {[]geo.Track{untimed(0), untimed(102)}, 2},
		"without times, at the same fix":                {[]geo.Track{untimed(0), untimed(100)}, 1},
		"times in one of them":                          {[]geo.Track{first, untimed(102)}, 2},
	} {
		r := checkTracks(t, field, Work{Width: 10, Working: EvidenceAll}, c.tracks...)
		if len(r.Passes) != c.passes {
			t.Errorf("%s: got %d passes, want %d", name, len(r.Passes), c.passes)
		}
	}
}

// TestTwoMachinesAreNeverJoined: two sets drive the same rows, one 5 to 6 m aside of and
// some metres behind the other, and their loggers begin new files at the same times.
// Whatever the order of the files, no trail has tracks of both.
func TestTwoMachinesAreNeverJoined(t *testing.T) {
	joins := 0
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 72))
		s := operation(rng).timed(1)
		s.lines, s.times = s.lines[:1], s.times[:1]
		behind, aside := 8*rng.Float64()-4, 5+rng.Float64()
		cuts := s.cuts(rng)
		both := [2][]geo.Track{
			filesOf(s.track(), cuts, false),
			filesOf(s.moved(func(p plane.XY) plane.XY { return p.Add(plane.XY{X: behind, Y: aside}) }).track(), cuts, false),
		}
		var tracks []geo.Track
		var of []int
		for n := range both[0] {
			first := rng.IntN(2)
			tracks, of = append(tracks, both[first][n], both[1-first][n]), append(of, first, 1-first)
		}
		trails, _, err := trailsOf(t.Context(), s.field().Local(), tracks, Work{Width: 5})
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

// TestPartsAreNotJoined: a part is the track's own break, whatever lies on its two
// sides; a track that goes on leaves it one.
func TestPartsAreNotJoined(t *testing.T) {
	line := straight(plane.XY{Y: 5}, plane.XY{X: 100, Y: 5}, 2)
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 100, 10)}, lines: [][]plane.XY{line[:21], line[21:]}}.timed(1)
	for i := range s.times[1] {
		s.times[1][i] -= 60 // as if no part ended
	}
	for name, tracks := range map[string][]geo.Track{"whole": {s.track()}, "cut": filesOf(s.track(), []int{10, 30, 45}, false)} {
		r := checkTracks(t, s, Work{Width: 10, Working: EvidenceAll}, tracks...)
		if len(r.Passes) != 2 {
			t.Errorf("%s: got %d passes, want 2", name, len(r.Passes))
		}
		near(t, name+": missed between the parts", r.Balance.Missed, 20, square100)
	}
}

// TestFilesOfTwoSetsTakenInTurns: two sets log at once, each starts a new file every ten seconds, and the
// files come in the order in which they begin. No pass is broken: two passes, the same ground.
func TestFilesOfTwoSetsTakenInTurns(t *testing.T) {
	field := sketch{rings: [][]plane.XY{rectangle(-10, 0, 250, 60)}}
	set := func(y, start float64) geo.Track {
		s := sketch{lines: [][]plane.XY{straight(plane.XY{Y: y}, plane.XY{X: 200, Y: y}, 2)}}.timed(1)
		for i := range s.times[0] {
			s.times[0][i] += start
		}
		return s.track()
	}
	a, b := set(5, 0), set(30, 0.25)
	cuts := []int{10, 20, 30, 40, 50, 60, 70, 80, 90}
	whole := checkTracks(t, field, Work{Width: 5}, a, b)
	var files []geo.Track
	parts := [2][]geo.Track{filesOf(a, cuts, false), filesOf(b, cuts, false)}
	for i := range parts[0] {
		files = append(files, parts[0][i], parts[1][i])
	}
	r := checkTracks(t, field, Work{Width: 5}, files...)
	if len(r.Passes) != 2 || len(whole.Passes) != 2 {
		t.Errorf("%d passes of files in turns, %d of whole tracks: 2 are wanted", len(r.Passes), len(whole.Passes))
	}
	for k, v := range shares(r) {
		if w := shares(whole)[k]; !(math.Abs(v-w) <= 1e-9) {
			t.Errorf("%s: %.12g of the field, of whole tracks %.12g", k, v, w)
		}
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
			a.at, b.at = apply(a.at, turn), apply(b.at, turn)
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
			p.at, p.seconds, p.state = append(p.at, plane.XY{X: v}), append(p.seconds, v), append(p.state, geo.Working)
			p.width, p.offset, p.speed = append(p.width, v+0.1), append(p.offset, v+0.2), append(p.speed, v+0.3)
			p.facing, p.quality = append(p.facing, plane.XY{Y: v}), append(p.quality, geo.Quality(k))
			if hdop {
				p.hdop = append(p.hdop, v+0.4)
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
		if len(a.at) != n || len(a.state) != n || !slices.Equal(a.breaks, c.breaks) || len(a.tracks) != 2 || a.tracks[1] != (trackStart{c.breaks[1] - 1, c.second, c.second}) ||
			a.last != b.last || a.rounding != b.rounding || !a.timed {
			t.Errorf("%s: %+v", c.name, a)
			continue
		}
		for k := range n {
			v := float64(k)
			if a.at[k].X != v || a.seconds[k] != v || a.width[k] != v+0.1 || a.offset[k] != v+0.2 || a.speed[k] != v+0.3 || a.facing[k].Y != v || a.quality[k] != geo.Quality(k) {
				t.Errorf("%s: fix %d is another", c.name, k)
			}
			if known := k >= 3; known && a.hdop[k] != v+0.4 || !known && !math.IsNaN(a.hdop[k]) {
				t.Errorf("%s: HDOP of fix %d is %g", c.name, k, a.hdop[k])
			}
		}
	}
	lifted := part(2, 4, true)
	a := part(0, 3, false)
	a.state[2], lifted.state[0] = geo.Lifted, geo.Working
	if a.join(lifted, true); a.state[2] != geo.Working {
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
		if got := (&trail{state: c.before}).liftsAt(&trail{state: c.behind}); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
