package drive

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

func TestHeldStates(t *testing.T) {
	const w, l, u = geo.Working, geo.Lifted, geo.StateUnknown
	repeated := func(times int, of ...geo.WorkState) (out []geo.WorkState) {
		for range times {
			out = append(out, of...)
		}
		return out
	}
	for _, c := range []struct {
		name    string
		of      []geo.WorkState
		changes int
		want    []geo.WorkState // nil: as it is
	}{
		{"written where it changes", append([]geo.WorkState{u, u}, repeated(6, w, u, u, l, u)...), 12, append([]geo.WorkState{l, l}, repeated(6, w, w, w, l, l)...)},
		{"lifted first", append([]geo.WorkState{u}, repeated(5, l, u, w, u, u)...), 10, append([]geo.WorkState{w}, repeated(5, l, l, w, w, w)...)},
		{"too few changes", repeated(4, w, u, u, l, u), 0, nil},
		{"one is written twice", append(repeated(6, w, u, u, l, u), u, u, l), 0, nil},
		{"known at most fixes", repeated(6, w, l, w, l, u), 0, nil},
		{"at every fix", repeated(6, w, l), 0, nil},
		{"never", repeated(30, u), 0, nil},
		{"none is logged", nil, 0, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := slices.Clone(c.of)
			got, changes, ok := heldStates(c.of)
			if ok != (c.want != nil) || changes != c.changes || !slices.Equal(got, c.want) {
				t.Errorf("%v, %d changes, %v, want %v, %d", got, changes, ok, c.want, c.changes)
			}
			if !slices.Equal(before, c.of) {
				t.Errorf("the track's own states were changed: %v", c.of)
			}
		})
	}
}

// driven is a row of which is known where the tool came in and out, m, and how fast the set went, m/s.
type driven struct{ in, out, speed float64 }

// recordedRows is a drive along rows and back, looked at each tick and kept as the recorder does; speeds, and where the tool is in, are drawn.
func recordedRows(rng *rand.Rand, tick float64, keep func(at, last plane.XY, since float64, changed bool) bool) (s trial.Sketch, rows []driven) {
	const pitch, many = 6.0, 12
	var line []plane.XY
	var times []float64
	var states []geo.WorkState
	now := 1.7e9
	for row := range many {
		one := driven{-50 + 10*rng.Float64(), 40 + 10*rng.Float64(), 1 + 2*rng.Float64()}
		rows = append(rows, one)
		for x := -75 + 20*rng.Float64(); x <= 70; x += one.speed * tick {
			now += tick
			p, state := plane.XY{X: x, Y: float64(row) * pitch}, geo.Lifted
			if row%2 == 1 {
				p.X = -x
			}
			if p.X >= one.in && p.X <= one.out {
				state = geo.Working
			}
			n := len(line) - 1
			if last := row == many-1 && x+one.speed*tick > 70; n < 0 || last || keep(p, line[n], now-times[n], state != states[n]) {
				line, times, states = append(line, p), append(times, now), append(states, state)
			}
		}
		now += 15
	}
	return trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-80, -10, 80, many*pitch+10)}, Lines: [][]plane.XY{line}, Times: [][]float64{times}, State: [][]geo.WorkState{states}}, rows
}

// TestAddedAtChanges: of rows whose ends are drawn over 10 m each, so that no other row tells them, a recorder that adds a fix at each change tells where they end to its tick, whether it takes one each
// 5 m or each 4 s, at speeds that differ by row; one that adds none tells it to a step. Backwards it is the same, and the delays of the set stand on it.
func TestAddedAtChanges(t *testing.T) {
	seed := check.Seed(t)
	const rounded = 0.01
	for _, c := range []struct {
		name    string
		tick    float64
		keep    func(at, last plane.XY, since float64, changed bool) bool
		seconds float64 // the ends lie off by at most so much driving
		metres  float64 // or that
	}{
		{"each 5 m and at changes", 0.2, func(at, last plane.XY, _ float64, changed bool) bool { return changed || at.Dist(last) >= 5 }, 0.2, 0},
		{"each 4 s and at changes", 0.2, func(_, _ plane.XY, since float64, changed bool) bool { return changed || since > 3.99 }, 0.2, 0},
		{"each 6 s and at changes, by a clock of half a second", 0.5, func(_, _ plane.XY, since float64, changed bool) bool { return changed || since > 5.99 }, 0.5, 0},
		{"each 5 m", 0.2, func(at, last plane.XY, _ float64, _ bool) bool { return at.Dist(last) >= 5 }, 0.2, 5},
		{"each second", 1, func(plane.XY, plane.XY, float64, bool) bool { return true }, 1, 0},
	} {
		for _, delay := range []float64{0, 1.5} {
			s, rows := recordedRows(rand.New(rand.NewPCG(seed, 2)), c.tick, c.keep)
			field := s.Field()
			log, err := Read(t.Context(), field.OnPlane(field.Local()), field.Local(), []geo.Track{s.Track()}, Work{Width: 6, LowerDelay: delay, LiftDelay: delay}, AsJudged)
			if err != nil {
				t.Fatal(err)
			}
			if len(log.Runs) != len(rows) {
				t.Fatalf("%s: %d passes of %d rows", c.name, len(log.Runs), len(rows))
			}
			for k, row := range rows {
				line := log.Runs[k].Pass.Line
				first, last, ahead := line[0].X, line[len(line)-1].X, delay*row.speed
				if k%2 == 1 {
					first, last, ahead = last, first, -ahead
				}
				if off := c.seconds*row.speed + c.metres + rounded; math.Abs(first-ahead-row.in) > off || math.Abs(last-ahead-row.out) > off {
					t.Errorf("%s, %g s late, row %d: %.2f to %.2f m, worked %.2f to %.2f at %.2f m/s", c.name, delay, k, first-ahead, last-ahead, row.in, row.out, row.speed)
				}
			}
		}
	}
}

// TestMarks: steps to changes that come after whole steps, that vary alike to both sides, or of which many are far longer, show no fix that is added there, nor do few. A tick is no shorter than what a
// recorder tells.
func TestMarks(t *testing.T) {
	drive := func(changes int, by func(k int) float64, tick float64) *trail {
		out := &trail{timed: true, tracks: []trackStart{{}}}
		add := func(seconds float64, state geo.WorkState) {
			n, now := len(out.at), 1.7e9
			if n > 0 {
				now = out.seconds[n-1] + math.Round(seconds/tick)*tick
			}
			out.at, out.seconds, out.State = append(out.at, plane.XY{X: now - 1.7e9}), append(out.seconds, now), append(out.State, state)
		}
		add(0, geo.Lifted)
		for k := range changes {
			state := []geo.WorkState{geo.Working, geo.Lifted}[k%2]
			add(by(k), state)
			for range 10 {
				add(10, state)
			}
		}
		return out
	}
	for _, c := range []struct {
		name    string
		changes int
		by      func(k int) float64 // s, of 10
		tick    float64
		want    float64 // s
	}{
		{"anywhere", 12, func(k int) float64 { return 0.2 + 0.8*float64(k) }, 0.2, 0.2},
		{"two in three by a sixth only", 12, func(k int) float64 { return []float64{8.4, 8.4, 3}[k%3] }, 0.2, 0.2},
		{"all by a sixth only", 12, func(int) float64 { return 8.4 }, 0.2, 0},
		{"one in four", 12, func(k int) float64 { return []float64{3, 10, 10, 10}[k%4] }, 0.2, 0},
		{"many far longer", 12, func(k int) float64 { return []float64{3, 3, 40}[k%3] }, 0.2, 0},
		{"few", 9, func(int) float64 { return 3 }, 0.2, 0},
		{"a fast clock", 12, func(k int) float64 { return 0.41 + 0.8*float64(k) }, 0.01, 0.1},
		{"whole seconds", 12, func(k int) float64 { return 1 + 0.6*float64(k) }, 1, 1},
	} {
		one := drive(c.changes, c.by, c.tick)
		trial.Near(t, c.name, one.marks(), c.want, 1e-9)
		one.timed = false
		if got := one.marks(); got != 0 {
			t.Errorf("%s, without times: %g s", c.name, got)
		}
	}
}
