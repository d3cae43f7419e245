package coverage

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// plans are the situations of the truth test. Origin of the plane is the lower
// left corner of the field.
func plans() []plan {
	box := trial.Rectangle(0, 0, 240, 110)
	ell := []plane.XY{{X: 0, Y: 0}, {X: 240, Y: 0}, {X: 240, Y: 60}, {X: 130, Y: 60}, {X: 130, Y: 120}, {X: 0, Y: 120}}
	hole := trial.Rectangle(100, 50, 116, 62)
	return []plan{
		{"rectangle, plain U", [][]plane.XY{box}, "U", 2, false},
		{"rectangle, bulb, road", [][]plane.XY{box}, "bulb", 2, true},
		{"rectangle, fishtail", [][]plane.XY{box}, "fishtail", 2, false},
		{"no headland, plain U", [][]plane.XY{box}, "U", 0, false},
		{"no headland, bulb, road", [][]plane.XY{box}, "bulb", 0, true},
		{"no headland, fishtail", [][]plane.XY{box}, "fishtail", 0, false},
		{"L-shape, bulb, road", [][]plane.XY{ell}, "bulb", 2, true},
		{"L-shape, plain U", [][]plane.XY{ell}, "U", 2, false},
		{"obstacle, bulb", [][]plane.XY{box, hole}, "bulb", 2, false},
		{"obstacle, fishtail, road", [][]plane.XY{box, hole}, "fishtail", 2, true},
	}
}

// score is how much of the way was told rightly, in metres.
type score struct {
	work, lifted           float64 // truly
	workRight, liftedRight float64 // of it told so
}

func (s score) right() float64 {
	return (s.workRight + s.liftedRight) / (s.work + s.lifted)
}

// precision is how much of what is told as work is work.
func (s score) precision() float64 { return s.workRight / (s.workRight + s.lifted - s.liftedRight) }

func (s *score) add(o score) {
	s.work, s.lifted, s.workRight, s.liftedRight = s.work+o.work, s.lifted+o.lifted, s.workRight+o.workRight, s.liftedRight+o.liftedRight
}

// scored compares the log's steps with what is known of them: both fixes in work.
func scored(t *testing.T, log []drive.Stretch, truth []plane.XY, state []geo.WorkState) (s score) {
	t.Helper()
	k := 0
	for _, one := range log {
		for range len(one.Line) - 1 {
			k++
			d := truth[k].Dist(truth[k-1])
			if state[k] == geo.Working && state[k-1] == geo.Working {
				if s.work += d; one.Worked {
					s.workRight += d
				}
			} else if s.lifted += d; !one.Worked {
				s.liftedRight += d
			}
		}
	}
	if k != len(truth)-1 {
		t.Fatalf("%d steps in the log, want %d", k, len(truth)-1)
	}
	return s
}

// TestInferredWorkAgainstTheTruth hides the state of logs of which it is known.
func TestInferredWorkAgainstTheTruth(t *testing.T) {
	if trial.UnderRaceDetector() {
		t.Skip("counted without the race detector")
	}
	const seed = 20260414
	t.Logf("seed %d", seed)
	for _, c := range []struct {
		name                string
		rate, wander, white float64 // 1/s, m, m
		right, area         float64 // share of the way; share of the field
	}{
		{"1 Hz, 2 cm", 1, 0.02, 0.01, 0.985, 0.02},
		{"10 Hz, 2 cm", 10, 0.02, 0.01, 0.985, 0.02},
		{"1 Hz, 50 cm", 1, 0.5, 0.01, 0.98, 0.02},
		{"10 Hz, 50 cm", 10, 0.5, 0.01, 0.98, 0.02},
	} {
		t.Run(c.name, func(t *testing.T) {
			var all score
			worst := 0.0
			for n, p := range plans() {
				if c.rate > 1 && n%4 != 0 {
					continue // a few will do: they are long
				}
				w := drive.Work{Width: 6, Overlap: 0.1, Rounds: p.rounds}
				rng := rand.New(rand.NewPCG(seed, uint64(n)))
				log, truth := shiftOf(p, w, rng).logged(c.rate, c.wander, c.white, 0, rng)
				state := log.State[0]
				known := checked(t, log, w)
				log.State = nil
				told := checked(t, log, w)
				sc := scored(t, told.Log, truth, state)
				off := balanceOff(known.Balance, told.Balance)
				t.Logf("%-28s right %.4f: work %.4f of %.0f m, lifted %.4f of %.0f m; balance off by %.4f of the field", p.name, sc.right(), sc.workRight/sc.work, sc.work, sc.liftedRight/sc.lifted, sc.lifted, off)
				if sc.workRight/sc.work < 0.98 {
					t.Errorf("%s: %.4f of the work told as such, want 0.98", p.name, sc.workRight/sc.work)
				}
				worst = max(worst, off)
				all.add(sc)
			}
			t.Logf("right %.4f, balance off by %.4f at worst", all.right(), worst)
			if all.right() < c.right || worst > c.area {
				t.Errorf("right %.4f, want %.3f; balance off by %.4f of the field, want at most %.3f", all.right(), c.right, worst, c.area)
			}
		})
	}
}

// TestInferredWorkOfABarBehindTheAntenna: where the antenna is when the bar
// leaves the core is not where the tool is lifted.
func TestInferredWorkOfABarBehindTheAntenna(t *testing.T) {
	const seed = 12
	t.Logf("seed %d", seed)
	for _, p := range plans()[:2] {
		w := drive.Work{Width: 6, Overlap: 0.1, Rounds: p.rounds, Mount: rig.Mount{Hitch: 4}}
		rng := rand.New(rand.NewPCG(seed, 1))
		log, truth := shiftOf(p, w, rng).logged(1, 0.02, 0.01, w.Mount.Hitch, rng)
		state := log.State[0]
		log.State = nil
		sc := scored(t, checked(t, log, w).Log, truth, state)
		w.Mount = rig.Mount{}
		without := scored(t, checked(t, log, w).Log, truth, state)
		t.Logf("%s: right %.4f, work %.4f; as if the bar were below the antenna %.4f", p.name, sc.right(), sc.workRight/sc.work, without.right())
		if sc.right() < 0.985 || without.right() > sc.right()-0.005 {
			t.Errorf("%s: right %.4f, want 0.985; as if the bar were below the antenna %.4f, want less", p.name, sc.right(), without.right())
		}
	}
}

// balanceOff is the greatest difference of two balances, as a share of the field.
func balanceOff(a, b ground.Balance) float64 {
	worst := 0.0
	for _, d := range []float64{a.Missed - b.Missed, a.Unknown - b.Unknown, a.Once - b.Once, a.Twice - b.Twice, a.More - b.More} {
		worst = max(worst, math.Abs(d)/a.Field)
	}
	return worst
}

// TestInferredWorkOnMachineLogs hides the work state of three machine logs, whose
// drivers lift and lower as they think fit, reverse in every corner, and drive
// with the tool lifted at working speed for many metres after a pass: only the
// ground it goes over tells that. The bounds are what is reached; without looking at the ground
// 0.83, 0.89 and 0.79 of the way were told rightly, and 84, 91 and 89 % of what was told as work was.
func TestInferredWorkOnMachineLogs(t *testing.T) {
	dir := filepath.Join(trial.OpenData(t), "isobus")
	fields := trial.OpenFields(t, filepath.Join(dir, "boundaries.geojson"))
	seen := 0
	for _, row := range trial.Table(t, filepath.Join(dir, "reference_coverage.csv")) {
		path := filepath.Join(dir, row["log"]+".csv")
		if _, err := os.Stat(path); err != nil {
			continue // the reference holds more logs than the folder
		}
		seen++
		f := trial.FieldNamed(t, fields, strings.TrimSpace(row["field"]))
		track := trial.Logged(t, path)
		for _, rounds := range []int{0, 1} {
			w := drive.Work{Width: 9, Rounds: rounds}
			known := checkedTrack(t, f, track, w)
			w.Working = drive.EvidenceInferred
			told := checkedTrack(t, f, track, w)
			sc := compared(known.Log, told.Log)
			if least := map[string]float64{"TLG00004": 0.905, "TLG00009": 0.93, "TLG00021": 0.81}[row["log"]]; sc.right() < least {
				t.Errorf("%s: right %.3f, want %.3f", row["log"], sc.right(), least)
			}
			if least := map[string]float64{"TLG00004": 0.92, "TLG00009": 0.95, "TLG00021": 0.92}[row["log"]]; sc.precision() < least {
				t.Errorf("%s: %.3f of what is told as work is, want %.2f", row["log"], sc.precision(), least)
			}
			t.Logf("%s, %d rounds: right %.3f, precision %.3f: work %.3f of %.0f m, lifted %.3f of %.0f m; balance off by %.3f of the field", row["log"], rounds, sc.right(), sc.precision(), sc.workRight/sc.work, sc.work, sc.liftedRight/sc.lifted, sc.lifted, balanceOff(known.Balance, told.Balance))
		}
	}
	if seen != 3 {
		t.Errorf("%d logs, want 3", seen)
	}
}

func checkedTrack(t *testing.T, f geo.Field, track geo.Track, w drive.Work) Result {
	t.Helper()
	r, err := Check(t.Context(), f, []geo.Track{track}, w)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// compared compares two logs of the same track step by step.
func compared(known, told []drive.Stretch) (s score) {
	var steps []bool
	for _, one := range told {
		for range len(one.Line) - 1 {
			steps = append(steps, one.Worked)
		}
	}
	k := 0
	for _, one := range known {
		for i := 1; i < len(one.Line); i++ {
			d := one.Line[i].Dist(one.Line[i-1])
			if one.Worked {
				if s.work += d; steps[k] {
					s.workRight += d
				}
			} else if s.lifted += d; !steps[k] {
				s.liftedRight += d
			}
			k++
		}
	}
	return s
}

// TestWhatTheSetDid has what is seen from outside: no pass for what is
// lifted, all steps in the log, the rule in words.
func TestWhatTheSetDid(t *testing.T) {
	field := [][]plane.XY{trial.Rectangle(0, 0, 100, 30)}
	pass := func(y, from, to float64) []plane.XY {
		return trial.Straight(plane.XY{X: from, Y: y}, plane.XY{X: to, Y: y}, 2)
	}
	half := func(x, y, from, to float64) []plane.XY {
		line := trial.Arc(plane.XY{X: x, Y: y}, 5, from, to, 10)
		return line[1 : len(line)-1]
	}
	spot := make([]plane.XY, 12)
	for k := range spot {
		spot[k] = plane.XY{X: 50, Y: 5}
	}
	for _, c := range []struct {
		name  string
		lines [][]plane.XY
		step  float64 // s between fixes
		want  []drive.Activity
		why   string // of the second stretch
	}{
		{"a pass", [][]plane.XY{pass(5, 2, 98)}, 1, []drive.Activity{drive.ActivityWork}, ""},
		{"there and back", [][]plane.XY{pass(5, 2, 90), half(90, 10, -90, 90), pass(15, 90, 2)}, 1, []drive.Activity{drive.ActivityWork, drive.ActivityTurn, drive.ActivityWork}, "turned by 18"},
		{"a corner of a round", [][]plane.XY{pass(5, 2, 90), trial.Arc(plane.XY{X: 90, Y: 10}, 5, -80, 0, 6), trial.Straight(plane.XY{X: 95, Y: 12}, plane.XY{X: 95, Y: 28}, 2)}, 1, []drive.Activity{drive.ActivityWork}, ""},
		{"standing with the tool in the ground", [][]plane.XY{pass(5, 2, 50), spot, pass(5, 52, 98)}, 1, []drive.Activity{drive.ActivityWork, drive.ActivityIdle, drive.ActivityWork}, "stayed within 0.5 m for 1"},
		{"out on the road", [][]plane.XY{pass(5, 2, 160)}, 1, []drive.Activity{drive.ActivityWork, drive.ActivityRoad}, "more than 30 m outside"},
		{"over the edge", [][]plane.XY{pass(5, 2, 120)}, 1, []drive.Activity{drive.ActivityWork, drive.ActivityTurn}, "outside the boundary by more than half"},
		{"fast over the field", [][]plane.XY{pass(5, 2, 98), half(98, 10, -90, 90), trial.Straight(plane.XY{X: 98, Y: 15}, plane.XY{X: 2, Y: 15}, 7)}, 1, []drive.Activity{drive.ActivityWork, drive.ActivityTurn}, "turned by 18"},
		{"a log gap", [][]plane.XY{pass(5, 2, 40), pass(5, 80, 98)}, 1, []drive.Activity{drive.ActivityWork, drive.ActivityUnknown, drive.ActivityWork}, "log gap"},
		{"reversing", [][]plane.XY{pass(5, 2, 90), pass(5, 88, 70), pass(5, 72, 98)}, 1, []drive.Activity{drive.ActivityWork, drive.ActivityTurn, drive.ActivityWork}, "changed direction 2 times"},
	} {
		s := trial.Sketch{Rings: field, Lines: [][]plane.XY{slices.Concat(c.lines...)}}
		var times []float64
		for k := range s.Lines[0] {
			times = append(times, c.step*float64(k))
		}
		s.Times = [][]float64{times}
		r := checked(t, s, drive.Work{Width: 10})
		var got []drive.Activity
		steps := 0
		for _, one := range r.Log {
			got, steps = append(got, one.Activity), steps+len(one.Line)-1
			if !one.Inferred || one.Why == "" && one.Activity != drive.ActivityUnknown {
				t.Errorf("%s: a stretch does not say how it is known: %+v", c.name, one)
			}
			if one.Activity == drive.ActivityWork != one.Worked && one.Activity != drive.ActivityIdle && one.Activity != drive.ActivityUnknown {
				t.Errorf("%s: %s, but worked is %v", c.name, one.Activity, one.Worked)
			}
		}
		got = slices.Compact(got) // of work after work one may be doubtful
		if !slices.Equal(got, c.want) || len(r.Log) > 1 && !slices.ContainsFunc(r.Log[1:], func(s drive.Stretch) bool { return strings.HasPrefix(s.Why, c.why) }) {
			t.Errorf("%s: %v %q, want %v %q", c.name, got, r.Log[min(1, len(r.Log)-1)].Why, c.want, c.why)
		}
		if steps != len(s.Lines[0])-1 {
			t.Errorf("%s: the log has %d steps, want %d", c.name, steps, len(s.Lines[0])-1)
		}
		w := drive.Work{Width: 10, Working: drive.EvidenceAll}
		if all := checked(t, s, w); len(all.Passes) != 1 || all.Log[0].Inferred {
			t.Errorf("%s: asked to take all as work: %d passes", c.name, len(all.Passes))
		}
	}
}

// TestLoggedStatesAreSorted: what is logged as lifted is turning, standing or road.
func TestLoggedStatesAreSorted(t *testing.T) {
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 30)}}
	line := trial.Straight(plane.XY{X: 2, Y: 5}, plane.XY{X: 200, Y: 5}, 2)
	for range 10 { // stands on the road
		line = append(line, plane.XY{X: 200, Y: 5})
	}
	var times []float64
	var state []geo.WorkState
	for k, p := range line {
		times = append(times, float64(k))
		st := geo.Lifted
		if p.X < 80 {
			st = geo.Working
		}
		state = append(state, st)
	}
	s.Lines, s.Times, s.State = [][]plane.XY{line}, [][]float64{times}, [][]geo.WorkState{state}
	r := checked(t, s, drive.Work{Width: 10})
	var got []drive.Activity
	for _, one := range r.Log {
		if got = append(got, one.Activity); one.Inferred {
			t.Errorf("%s is logged, not inferred", one.Activity)
		}
	}
	if want := []drive.Activity{drive.ActivityWork, drive.ActivityTurn, drive.ActivityRoad, drive.ActivityIdle}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if l := r.Log[2].Length; math.Abs(l-94) > 4 {
		t.Errorf("%.0f m on the road, want 94 (from 5 m outside on)", l)
	}
	w := drive.Work{Width: 10, Working: "guessed"}
	if err := w.Validate(); err == nil || !strings.Contains(err.Error(), `"guessed"`) {
		t.Errorf("working %q: %v", w.Working, err)
	}
}

// BenchmarkTell is the time per fix of reading a log whose work is told from driving.
func BenchmarkTell(b *testing.B) {
	for _, rate := range []float64{1, 10} {
		b.Run(fmt.Sprintf("Hz=%g", rate), func(b *testing.B) {
			p := plans()[6]
			w := drive.Work{Width: 6, Overlap: 0.1, Rounds: p.rounds}
			rng := rand.New(rand.NewPCG(1, 1))
			log, _ := shiftOf(p, w, rng).logged(rate, 0.02, 0.01, 0, rng)
			log.State = nil
			f, track := log.Field(), log.Track()
			local := f.Local()
			field := f.OnPlane(local)
			for b.Loop() {
				got, err := drive.Read(b.Context(), field, local, []geo.Track{track}, w, drive.AsJudged)
				if n := len(got.Runs); err != nil || n < 10 || n > 40 {
					b.Fatalf("%d passes: %v", n, err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(track.Fixes()), "ns/fix")
		})
	}
}

// TestInferredWorkOnTheSeedingLog: the seeder logged only while it sowed, with
// log gaps of a working width where it turned. So nearly all that is logged must
// be work, and rows must end at the gaps.
func TestInferredWorkOnTheSeedingLog(t *testing.T) {
	dir := trial.OpenData(t)
	f := trial.FieldNamed(t, trial.OpenFields(t, filepath.Join(dir, "seeding_boundaries.geojson")), "millview_bbox")
	r := checkedTrack(t, f, trial.Logged(t, filepath.Join(dir, "seeding_ca_2019_1hz.csv")), drive.Work{Width: 13.2})
	way := map[drive.Activity]float64{}
	for _, s := range r.Log {
		way[s.Activity] += s.Length
	}
	t.Logf("m: %v; %d passes", way, len(r.Passes))
	if share := way[drive.ActivityWork] / (way[drive.ActivityWork] + way[drive.ActivityTurn] + way[drive.ActivityRoad]); share < 0.99 {
		t.Errorf("%.4f of what is logged is work, want 0.99", share)
	}
	if n := len(r.Passes); n < 70 || !strings.Contains(trial.Say(r.Findings), "the turns are not logged") {
		t.Errorf("%d passes, want at least 70; %s", n, trial.Say(r.Findings))
	}
}
