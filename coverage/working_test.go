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

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

// plans are the situations of the truth test. Origin of the plane is the lower
// left corner of the field.
func plans() []plan {
	box := rectangle(0, 0, 240, 110)
	ell := []plane.XY{{X: 0, Y: 0}, {X: 240, Y: 0}, {X: 240, Y: 60}, {X: 130, Y: 60}, {X: 130, Y: 120}, {X: 0, Y: 120}}
	hole := rectangle(100, 50, 116, 62)
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
func scored(t *testing.T, log []Stretch, truth []plane.XY, state []geo.WorkState) (s score) {
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
				w := Work{Width: 6, Overlap: 0.1, Rounds: p.rounds}
				rng := rand.New(rand.NewPCG(seed, uint64(n)))
				log, truth := shiftOf(p, w, rng).logged(c.rate, c.wander, c.white, 0, rng)
				state := log.state[0]
				known := log.check(t, w)
				log.state = nil
				told := log.check(t, w)
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
		w := Work{Width: 6, Overlap: 0.1, Rounds: p.rounds, Mount: rig.Mount{Hitch: 4}}
		rng := rand.New(rand.NewPCG(seed, 1))
		log, truth := shiftOf(p, w, rng).logged(1, 0.02, 0.01, w.Mount.Hitch, rng)
		state := log.state[0]
		log.state = nil
		sc := scored(t, log.check(t, w).Log, truth, state)
		w.Mount = rig.Mount{}
		without := scored(t, log.check(t, w).Log, truth, state)
		t.Logf("%s: right %.4f, work %.4f; as if the bar were below the antenna %.4f", p.name, sc.right(), sc.workRight/sc.work, without.right())
		if sc.right() < 0.985 || without.right() > sc.right()-0.005 {
			t.Errorf("%s: right %.4f, want 0.985; as if the bar were below the antenna %.4f, want less", p.name, sc.right(), without.right())
		}
	}
}

// balanceOff is the greatest difference of two balances, as a share of the field.
func balanceOff(a, b Balance) float64 {
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
	dir := filepath.Join(openData(t), "isobus")
	fields := openFields(t, filepath.Join(dir, "boundaries.geojson"))
	seen := 0
	for _, row := range table(t, filepath.Join(dir, "reference_coverage.csv")) {
		path := filepath.Join(dir, row["log"]+".csv")
		if _, err := os.Stat(path); err != nil {
			continue // the reference holds more logs than the folder
		}
		seen++
		f := fieldNamed(t, fields, strings.TrimSpace(row["field"]))
		track := logged(t, path)
		for _, rounds := range []int{0, 1} {
			w := Work{Width: 9, Rounds: rounds}
			known := checkedTrack(t, f, track, w)
			w.Working = EvidenceInferred
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

func checkedTrack(t *testing.T, f geo.Field, track geo.Track, w Work) Result {
	t.Helper()
	r, err := Check(t.Context(), f, []geo.Track{track}, w)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// compared compares two logs of the same track step by step.
func compared(known, told []Stretch) (s score) {
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
	field := [][]plane.XY{rectangle(0, 0, 100, 30)}
	pass := func(y, from, to float64) []plane.XY {
		return straight(plane.XY{X: from, Y: y}, plane.XY{X: to, Y: y}, 2)
	}
	half := func(x, y, from, to float64) []plane.XY {
		line := arc(plane.XY{X: x, Y: y}, 5, from, to, 10)
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
		want  []Activity
		why   string // of the second stretch
	}{
		{"a pass", [][]plane.XY{pass(5, 2, 98)}, 1, []Activity{ActivityWork}, ""},
		{"there and back", [][]plane.XY{pass(5, 2, 90), half(90, 10, -90, 90), pass(15, 90, 2)}, 1, []Activity{ActivityWork, ActivityTurn, ActivityWork}, "turned by 18"},
		{"a corner of a round", [][]plane.XY{pass(5, 2, 90), arc(plane.XY{X: 90, Y: 10}, 5, -80, 0, 6), straight(plane.XY{X: 95, Y: 12}, plane.XY{X: 95, Y: 28}, 2)}, 1, []Activity{ActivityWork}, ""},
		{"standing with the tool in the ground", [][]plane.XY{pass(5, 2, 50), spot, pass(5, 52, 98)}, 1, []Activity{ActivityWork, ActivityIdle, ActivityWork}, "stayed within 0.5 m for 1"},
		{"out on the road", [][]plane.XY{pass(5, 2, 160)}, 1, []Activity{ActivityWork, ActivityRoad}, "more than 30 m outside"},
		{"over the edge", [][]plane.XY{pass(5, 2, 120)}, 1, []Activity{ActivityWork, ActivityTurn}, "outside the boundary by more than half"},
		{"fast over the field", [][]plane.XY{pass(5, 2, 98), half(98, 10, -90, 90), straight(plane.XY{X: 98, Y: 15}, plane.XY{X: 2, Y: 15}, 7)}, 1, []Activity{ActivityWork, ActivityTurn}, "turned by 18"},
		{"a log gap", [][]plane.XY{pass(5, 2, 40), pass(5, 80, 98)}, 1, []Activity{ActivityWork, ActivityUnknown, ActivityWork}, "log gap"},
		{"reversing", [][]plane.XY{pass(5, 2, 90), pass(5, 88, 70), pass(5, 72, 98)}, 1, []Activity{ActivityWork, ActivityTurn, ActivityWork}, "changed direction 2 times"},
	} {
		s := sketch{rings: field, lines: [][]plane.XY{slices.Concat(c.lines...)}}
		var times []float64
		for k := range s.lines[0] {
			times = append(times, c.step*float64(k))
		}
		s.times = [][]float64{times}
		r := s.check(t, Work{Width: 10})
		var got []Activity
		steps := 0
		for _, one := range r.Log {
			got, steps = append(got, one.Activity), steps+len(one.Line)-1
			if !one.Inferred || one.Why == "" && one.Activity != ActivityUnknown {
				t.Errorf("%s: a stretch does not say how it is known: %+v", c.name, one)
			}
			if one.Activity == ActivityWork != one.Worked && one.Activity != ActivityIdle && one.Activity != ActivityUnknown {
				t.Errorf("%s: %s, but worked is %v", c.name, one.Activity, one.Worked)
			}
		}
		got = slices.Compact(got) // of work after work one may be doubtful
		if !slices.Equal(got, c.want) || len(r.Log) > 1 && !slices.ContainsFunc(r.Log[1:], func(s Stretch) bool { return strings.HasPrefix(s.Why, c.why) }) {
			t.Errorf("%s: %v %q, want %v %q", c.name, got, r.Log[min(1, len(r.Log)-1)].Why, c.want, c.why)
		}
		if steps != len(s.lines[0])-1 {
			t.Errorf("%s: the log has %d steps, want %d", c.name, steps, len(s.lines[0])-1)
		}
		w := Work{Width: 10, Working: EvidenceAll}
		if all := s.check(t, w); len(all.Passes) != 1 || all.Log[0].Inferred {
			t.Errorf("%s: asked to take all as work: %d passes", c.name, len(all.Passes))
		}
	}
}

// TestLoggedStatesAreSorted: what is logged as lifted is turning, standing or road.
func TestLoggedStatesAreSorted(t *testing.T) {
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 100, 30)}}
	line := straight(plane.XY{X: 2, Y: 5}, plane.XY{X: 200, Y: 5}, 2)
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
	s.lines, s.times, s.state = [][]plane.XY{line}, [][]float64{times}, [][]geo.WorkState{state}
	r := s.check(t, Work{Width: 10})
	var got []Activity
	for _, one := range r.Log {
		if got = append(got, one.Activity); one.Inferred {
			t.Errorf("%s is logged, not inferred", one.Activity)
		}
	}
	if want := []Activity{ActivityWork, ActivityTurn, ActivityRoad, ActivityIdle}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if l := r.Log[2].Length; math.Abs(l-94) > 4 {
		t.Errorf("%.0f m on the road, want 94 (from 5 m outside on)", l)
	}
	w := Work{Width: 10, Working: "guessed"}
	if err := w.Validate(); err == nil || !strings.Contains(err.Error(), `"guessed"`) {
		t.Errorf("working %q: %v", w.Working, err)
	}
}

// BenchmarkTell is the time per fix of telling work from driving.
func BenchmarkTell(b *testing.B) {
	for _, rate := range []float64{1, 10} {
		b.Run(fmt.Sprintf("Hz=%g", rate), func(b *testing.B) {
			p := plans()[6]
			w := Work{Width: 6, Overlap: 0.1, Rounds: p.rounds}
			rng := rand.New(rand.NewPCG(1, 1))
			log, _ := shiftOf(p, w, rng).logged(rate, 0.02, 0.01, 0, rng)
			f := log.field()
			local := f.Local()
			field := f.OnPlane(local)
			log.state = nil
			trails, _, err := trailsOf(b.Context(), local, []geo.Track{log.track()}, w)
			if err != nil {
				b.Fatal(err)
			}
			first := *trails[0]
			for b.Loop() {
				t := first
				tell([]*trail{&t}, sceneOf(field, w), w, asJudged)
				if n := len(byState(&t)); n < 10 || n > 40 {
					b.Fatalf("%d passes", n)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(first.at)), "ns/fix")
		})
	}
}

// TestInferredWorkOnTheSeedingLog: the seeder logged only while it sowed, with
// log gaps of a working width where it turned. So nearly all that is logged must
// be work, and turns in gaps must not be.
func TestInferredWorkOnTheSeedingLog(t *testing.T) {
	dir := openData(t)
	f := fieldNamed(t, openFields(t, filepath.Join(dir, "seeding_boundaries.geojson")), "millview_bbox")
	r := checkedTrack(t, f, logged(t, filepath.Join(dir, "seeding_ca_2019_1hz.csv")), Work{Width: 13.2})
	way := map[Activity]float64{}
	turnedInGaps := 0
	for _, s := range r.Log {
		way[s.Activity] += s.Length
		if s.Activity == ActivityUnknown && !s.Worked {
			turnedInGaps++
		}
	}
	t.Logf("m: %v; %d turns in log gaps", way, turnedInGaps)
	if share := way[ActivityWork] / (way[ActivityWork] + way[ActivityTurn] + way[ActivityRoad]); share < 0.99 {
		t.Errorf("%.4f of what is logged is work, want 0.99", share)
	}
	if turnedInGaps < 70 {
		t.Errorf("%d turns in log gaps, want at least 70", turnedInGaps)
	}
}

// TestZones holds the signed distance against one worked out the slow way, and
// the memory of the last place against a fresh look, on a field of two parts
// that share an edge, one with an obstacle.
func TestZones(t *testing.T) {
	const seed = 3
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	hole := plane.Ring(rectangle(30, 20, 45, 40))
	slices.Reverse(hole)
	field := []plane.Polygon{
		{{{X: 0, Y: 0}, {X: 100, Y: 0}, {X: 100, Y: 60}, {X: 60, Y: 60}, {X: 50, Y: 35}, {X: 40, Y: 80}, {X: 0, Y: 80}}, hole},
		{{{X: 100, Y: 0}, {X: 140, Y: -10}, {X: 130, Y: 70}, {X: 100, Y: 60}}},
	}
	w := Work{Width: 6, Headland: 8}
	s := sceneOf(field, w)
	p := plane.XY{X: 50, Y: 10}
	seen := map[zone]int{}
	for range 20000 {
		if p = p.Add(plane.XY{X: 6 * rng.NormFloat64(), Y: 6 * rng.NormFloat64()}); p.Len() > 250 {
			p = plane.XY{X: 140 * rng.Float64(), Y: 80 * rng.Float64()}
		}
		want, in := math.Inf(1), false
		for _, poly := range field {
			in = in || holds(poly, p)
			for _, r := range poly {
				for i, a := range r {
					d, _ := nearest(p, a, r[(i+1)%len(r)])
					want = min(want, math.Sqrt(d))
				}
			}
		}
		if !in {
			want = -want
		}
		if got := sceneOf(field, w).inside(p); math.Abs(got-want) > 1e-9 {
			t.Fatalf("%v is %g m inside, want %g", p, got, want)
		}
		zone := zoneAway
		for i := len(s.limits) - 1; i >= 0 && want >= s.limits[i]; i-- {
			zone--
		}
		if got := s.at(p); got != zone {
			t.Fatalf("%v (%g m inside) is in zone %d, want %d", p, want, got, zone)
		}
		seen[zone]++
	}
	for z := zoneCore; z <= zoneAway; z++ {
		if seen[z] < 100 {
			t.Errorf("zone %d: only %d places", z, seen[z])
		}
	}
}
