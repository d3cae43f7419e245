package coverage

import (
	"cmp"
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// TestCapacity holds Capacity to published rows. Acres, feet and miles are exact by
// definition (international foot, 43,560 square feet).
func TestCapacity(t *testing.T) {
	const mph, acre, hectare = 5280 * foot / 3600, 43560 * foot * foot, 10000.0
	for _, c := range []struct {
		name                       string
		speed, width, share        float64
		want, tol, unit, perSecond float64
	}{
		// Iowa State PM 696 (rev. 2001), table of acres per hour, rounded to 0.1
		{"sprayer 40 ft", 6 * mph, 40 * foot, 0.70, 20.4, 0.05, acre, 3600},
		{"sprayer 50 ft", 6 * mph, 50 * foot, 0.70, 25.5, 0.05, acre, 3600},
		{"chisel 11.25 ft", 5.5 * mph, 11.25 * foot, 0.85, 6.4, 0.05, acre, 3600},
		{"chisel 13.75 ft", 5.5 * mph, 13.75 * foot, 0.85, 7.8, 0.05, acre, 3600},
		{"chisel 16.25 ft", 5.5 * mph, 16.25 * foot, 0.83, 9.0, 0.05, acre, 3600},
		{"10 ft", 5 * mph, 10 * foot, 0.85, 5.2, 0.05, acre, 3600},
		{"12.5 ft", 5 * mph, 12.5 * foot, 0.85, 6.4, 0.05, acre, 3600},
		{"14 ft", 5 * mph, 14 * foot, 0.85, 7.2, 0.05, acre, 3600},
		{"17.5 ft", 5 * mph, 17.5 * foot, 0.83, 8.8, 0.05, acre, 3600},
		// metric pair, s·w·Ef/10 (ASABE EP496; arithmetic)
		{"5 km/h, 2.5 m, 85 %", 5 / geo.Kmh, 2.5, 0.85, 1.06, 0.005, hectare, 3600},
		{"6 km/h, 3 m, 80 %", 6 / geo.Kmh, 3, 0.80, 1.44, 0.005, hectare, 3600},
		// the formula itself, to rounding
		{"8 km/h, 6 m, 85 %", 8 / geo.Kmh, 6, 0.85, 8 * 6 * 0.85 / 10, 1e-12, hectare, 3600},
		// the American form mph·ft·Ef/8.25 is the same but for its rounded 8.25
		{"5 mph, 33 ft, 100 %", 5 * mph, 33 * foot, 1, 5 * 33 / 8.25, 1e-9, acre, 3600},
	} {
		trial.Near(t, c.name, Capacity(c.speed, c.width, c.share)*c.perSecond/c.unit, c.want, c.tol)
	}
}

// driven is a stretch at a steady speed, a fix every so many seconds.
func driven(track int, a drive.Activity, from plane.XY, start, speed, seconds, every float64) drive.Stretch {
	s := drive.Stretch{Track: track, Activity: a}
	for k := 0.0; k <= seconds/every; k++ {
		s.Line = append(s.Line, plane.XY{X: from.X + speed*every*k, Y: from.Y})
		s.Seconds = append(s.Seconds, start+every*k)
	}
	return measured(s)
}

func measured(s drive.Stretch) drive.Stretch {
	s.Length = 0
	for k := 1; k < len(s.Line); k++ {
		s.Length += s.Line[k].Dist(s.Line[k-1])
	}
	return s
}

// end is where and when a stretch ended.
func end(s drive.Stretch) (plane.XY, float64) {
	return s.Line[len(s.Line)-1], s.Seconds[len(s.Seconds)-1]
}

// after is a stretch that begins where another ends.
func after(s drive.Stretch, a drive.Activity, speed, seconds float64) drive.Stretch {
	p, t := end(s)
	return driven(s.Track, a, p, t, speed, seconds, 1)
}

// TestEffortOfADay: an hour and a half a person can add up.
//
//	road 10 min at 5 m/s · work 30 min at 2 m/s · turn 5 min at 1 m/s · stand 5 min ·
//	work 10 min at 3 m/s · unknown 10 min at 1 m/s · road 10 min at 5 m/s
func TestEffortOfADay(t *testing.T) {
	log := []drive.Stretch{driven(0, drive.ActivityRoad, plane.XY{}, 1e9, 5, 600, 1)}
	for _, c := range []struct {
		a              drive.Activity
		speed, seconds float64
	}{{drive.ActivityWork, 2, 1800}, {drive.ActivityTurn, 1, 300}, {drive.ActivityIdle, 0, 300}, {drive.ActivityWork, 3, 600}, {drive.ActivityUnknown, 1, 600}, {drive.ActivityRoad, 5, 600}} {
		log = append(log, after(log[len(log)-1], c.a, c.speed, c.seconds))
	}
	// 36,000 m² in the hour on the field: 10 m²/s; 6 m wide at 2.25 m/s: 13.5 m²/s
	e := effortOf(log, ground.Balance{Field: 40000, Missed: 4000, Once: 30000, Twice: 5000, More: 1000}, drive.Work{Width: 6, Overlap: 0.2})
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"working m", e.Working.Metres, 5400}, {"working s", e.Working.Seconds, 2400}, {"working share", e.Working.Share, 2. / 3},
		{"turning m", e.Turning.Metres, 300}, {"turning s", e.Turning.Seconds, 300}, {"turning share", e.Turning.Share, 1. / 12},
		{"standing m", e.Standing.Metres, 0}, {"standing s", e.Standing.Seconds, 300}, {"standing share", e.Standing.Share, 1. / 12},
		{"unknown m", e.Unknown.Metres, 600}, {"unknown s", e.Unknown.Seconds, 600}, {"unknown share", e.Unknown.Share, 1. / 6},
		{"road m", e.Road.Metres, 6000}, {"road s", e.Road.Seconds, 1200}, {"road share", e.Road.Share, 0},
		{"on the field", e.OnField, 3600}, {"break", e.Break, 0},
		{"mean", e.Speed.Mean, 2.25}, {"q05", e.Speed.Q05, 2}, {"q25", e.Speed.Q25, 2}, {"median", e.Speed.Median, 2}, {"q75", e.Speed.Q75, 2}, {"q95", e.Speed.Q95, 3},
		{"effective", e.EffectiveCapacity, 10}, {"theoretical", e.TheoreticalCapacity, 13.5}, {"efficiency", e.FieldEfficiency, 10 / 13.5},
		{"classes", float64(len(e.Classes)), 2},
		{"slow class from", e.Classes[0].From * geo.Kmh, 7}, {"slow class m", e.Classes[0].Metres, 3600}, {"slow class s", e.Classes[0].Seconds, 1800},
		{"fast class from", e.Classes[1].From * geo.Kmh, 10}, {"fast class m", e.Classes[1].Metres, 1800}, {"fast class s", e.Classes[1].Seconds, 600},
	} {
		trial.Near(t, c.what, c.got, c.want, 1e-6)
	}
	if !e.Timed || e.ClockFault != 0 || e.Working.Unclocked != 0 {
		t.Errorf("timed %v, %d clock faults, %g m unclocked: want true, 0, 0", e.Timed, e.ClockFault, e.Working.Unclocked)
	}
}

// TestEffortOfOddClocks: what is done with each oddity of the clock, one at a time. Work
// is 600 s at 2 m/s before and after it.
func TestEffortOfOddClocks(t *testing.T) {
	work := func(edit func(s *drive.Stretch)) []drive.Stretch {
		s := driven(0, drive.ActivityWork, plane.XY{}, 1e9, 2, 1200, 1)
		edit(&s)
		return []drive.Stretch{measured(s)}
	}
	later := func(by, way float64) func(*drive.Stretch) { // silence after the fix at 600 s
		return func(s *drive.Stretch) {
			for k := 601; k < len(s.Line); k++ {
				s.Seconds[k] += by
				s.Line[k].X += way
			}
		}
	}
	for name, c := range map[string]struct {
		log                                      []drive.Stretch
		working, standing, unknown, rest, metres float64 // s, s, s, s, working m
		unclocked, speed                         float64
		faults                                   int
		untimed                                  bool
		gapTime                                  float64
	}{
		"steady":                               {log: work(func(*drive.Stretch) {}), working: 1200, metres: 2400, speed: 2},
		"stopped for a minute":                 {log: work(later(59, -2)), working: 1199, standing: 60, metres: 2398, speed: 2},
		"silent for a minute, 100 m on":        {log: work(later(59, 98)), working: 1199, unknown: 60, metres: 2498, unclocked: 100, speed: 2},
		"two steps on in a minute: stood":      {log: work(later(59, 2)), working: 1199, standing: 60, metres: 2402, unclocked: 4, speed: 2},
		"five seconds silent are no silence":   {log: work(later(4, 8)), working: 1204, metres: 2408, speed: 2},
		"gap time 1 s, but fixes every second": {log: work(func(*drive.Stretch) {}), gapTime: 0.5, working: 1200, metres: 2400, speed: 2},
		"overnight":                            {log: work(later(8*3600-1, -2)), working: 1199, rest: 8 * 3600, metres: 2398, speed: 2},
		"overnight, 5 km on":                   {log: work(later(8*3600-1, 4998)), working: 1199, rest: 8 * 3600, metres: 7398, unclocked: 5000, speed: 2},
		"clock back by an hour":                {log: work(later(-3600, 0)), working: 1199, metres: 2400, unclocked: 2, faults: 1, speed: 2},
		"clock on by two years":                {log: work(later(2*366*86400, 0)), working: 1199, metres: 2400, unclocked: 2, faults: 1, speed: 2},
		"ten fixes a second, clock in seconds": {log: work(func(s *drive.Stretch) {
			for k := range s.Line {
				s.Line[k].X /= 10
				s.Seconds[k] = 1e9 + math.Floor(float64(k)/10)
			}
		}), working: 120, metres: 240, speed: 2},
		"every other fix without time": {log: work(func(s *drive.Stretch) {
			for k := 1; k < len(s.Line); k += 2 {
				s.Seconds[k] = math.NaN()
			}
		}), working: 1200, metres: 2400, speed: 2},
		"first half without time": {log: work(func(s *drive.Stretch) {
			for k := range 600 {
				s.Seconds[k] = math.NaN()
			}
		}), working: 600, metres: 2400, unclocked: 1200, speed: 2},
		"no time at all": {log: work(func(s *drive.Stretch) {
			for k := range s.Seconds {
				s.Seconds[k] = math.NaN()
			}
		}), metres: 2400, unclocked: 2400, untimed: true},
		"no column of times": {log: work(func(s *drive.Stretch) { s.Seconds = nil }), metres: 2400, unclocked: 2400, untimed: true},
		"parts 30 s and 50 m apart": {log: []drive.Stretch{driven(0, drive.ActivityWork, plane.XY{}, 1e9, 2, 600, 1), driven(0, drive.ActivityWork, plane.XY{X: 1250}, 1e9+630, 2, 600, 1)},
			working: 1200, unknown: 30, metres: 2400, speed: 2},
		"parts 3 s apart, one step on": {log: []drive.Stretch{driven(0, drive.ActivityWork, plane.XY{}, 1e9, 2, 600, 1), driven(0, drive.ActivityWork, plane.XY{X: 1202}, 1e9+603, 2, 600, 1)},
			working: 1200, unknown: 3, metres: 2400, speed: 2},
		"parts 30 s apart in one place": {log: []drive.Stretch{driven(0, drive.ActivityWork, plane.XY{}, 1e9, 2, 600, 1), driven(0, drive.ActivityWork, plane.XY{X: 1200}, 1e9+630, 2, 600, 1)},
			working: 1200, standing: 30, metres: 2400, speed: 2},
		"two tracks a day apart": {log: []drive.Stretch{driven(0, drive.ActivityWork, plane.XY{}, 1e9, 2, 600, 1), driven(1, drive.ActivityWork, plane.XY{X: 1200}, 1e9+86400, 2, 600, 1)},
			working: 1200, metres: 2400, speed: 2},
		"stood 40 min twice in one place: a break": {log: []drive.Stretch{driven(0, drive.ActivityWork, plane.XY{}, 1e9, 2, 1200, 1), driven(0, drive.ActivityIdle, plane.XY{X: 2400}, 1e9+1200, 0, 2400, 1), driven(0, drive.ActivityIdle, plane.XY{X: 2400}, 1e9+3600, 0, 2400, 1)},
			working: 1200, rest: 4800, metres: 2400, speed: 2},
		"stood 40 min in two places: no break": {log: []drive.Stretch{driven(0, drive.ActivityIdle, plane.XY{}, 1e9, 0, 2400, 1), driven(0, drive.ActivityWork, plane.XY{}, 1e9+2400, 2, 1200, 1), driven(0, drive.ActivityIdle, plane.XY{X: 2400}, 1e9+3600, 0, 2400, 1)},
			working: 1200, standing: 4800, metres: 2400, speed: 2},
	} {
		t.Run(name, func(t *testing.T) {
			e := effortOf(c.log, ground.Balance{Once: 12000}, drive.Work{Width: 6, GapTime: c.gapTime})
			trial.Near(t, "working s", e.Working.Seconds, c.working, 1e-6)
			trial.Near(t, "standing s", e.Standing.Seconds, c.standing, 1e-6)
			trial.Near(t, "unknown s", e.Unknown.Seconds, c.unknown, 1e-6)
			trial.Near(t, "break s", e.Break, c.rest, 1e-6)
			trial.Near(t, "working m", e.Working.Metres, c.metres, 1e-6)
			trial.Near(t, "unclocked m", e.Working.Unclocked, c.unclocked, 1e-6)
			trial.Near(t, "mean speed", e.Speed.Mean, c.speed, 1e-9)
			if e.ClockFault != c.faults || e.Timed == c.untimed {
				t.Errorf("%d clock faults, timed %v: want %d, %v", e.ClockFault, e.Timed, c.faults, !c.untimed)
			}
			want := 0.0
			if c.working > 0 {
				want = 12000 * (1 - c.unclocked/c.metres) / (c.working + c.standing + c.unknown)
			}
			trial.Near(t, "effective capacity", e.EffectiveCapacity, want, 1e-9)
		})
	}
}

// anyLog is a log with every oddity: clocks that stand, jump and are missing.
func anyLog(rng *rand.Rand) []drive.Stretch {
	var log []drive.Stretch
	kinds := []drive.Activity{drive.ActivityUnknown, drive.ActivityWork, drive.ActivityTurn, drive.ActivityIdle, drive.ActivityRoad}
	p, sec := plane.XY{}, 1e9
	for track := range 3 {
		for range 1 + rng.IntN(30) {
			s := drive.Stretch{Track: track, Activity: kinds[rng.IntN(len(kinds))]}
			if rng.IntN(6) == 0 {
				p, sec = p.Add(plane.XY{X: 40}), sec+100*rng.Float64()
			}
			for n := 1 + rng.IntN(40); len(s.Line) < n; {
				logged := sec
				switch rng.IntN(40) {
				case 0:
					logged = math.NaN()
				case 1:
					sec += 1e4 * rng.Float64()
				case 2:
					sec -= 50 * rng.Float64()
				case 3:
					logged = math.Inf(1)
				}
				s.Line, s.Seconds = append(s.Line, p), append(s.Seconds, logged)
				if len(s.Line) < n {
					p, sec = p.Add(plane.XY{X: 3 * rng.Float64(), Y: rng.NormFloat64()}), sec+math.Floor(3*rng.Float64())/2
				}
			}
			log = append(log, measured(s))
		}
	}
	return log
}

// TestEffortAddsUp: the properties of effortOf by number, and that the result can
// be written as JSON.
func TestEffortAddsUp(t *testing.T) {
	seed := check.Seed(t)
	for k := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, k))
		log := anyLog(rng)
		w, b := drive.Work{Width: 6}, ground.Balance{Once: 1000}
		e := effortOf(log, b, w)
		var length, clock float64
		for i := 0; i < len(log); {
			track, last := log[i].Track, math.NaN()
			for ; i < len(log) && log[i].Track == track; i++ {
				length += log[i].Length
				for _, s := range log[i].Seconds {
					if math.IsNaN(s) || math.IsInf(s, 0) {
						continue
					}
					if s > last && s-last < 366*86400 { // (2) as the clock went on
						clock += s - last
					}
					last = s
				}
			}
		}
		all := []Spent{e.Working, e.Turning, e.Standing, e.Road, e.Unknown}
		metres, seconds, shares := 0.0, e.Break, 0.0
		for _, s := range all {
			metres, seconds, shares = metres+s.Metres, seconds+s.Seconds, shares+s.Share
		}
		trial.Near(t, "metres", metres, length, 1e-6)
		trial.Near(t, "seconds", seconds, clock, 1e-3)
		if e.OnField > 0 {
			trial.Near(t, "shares", shares, 1, 1e-9)
		}
		if _, err := json.Marshal(e); err != nil {
			t.Error(err)
		}
		if i := rng.IntN(len(log)); len(log[i].Line) > 2 { // (3)
			s, at := log[i], 1+rng.IntN(len(log[i].Line)-2)
			if s.Seconds[at] > s.Seconds[at-1] && !math.IsInf(s.Seconds[at], 0) {
				one, two := s, s
				one.Line, one.Seconds = s.Line[:at+1], s.Seconds[:at+1]
				two.Line, two.Seconds = s.Line[at:], s.Seconds[at:]
				f := effortOf(slices.Concat(log[:i], []drive.Stretch{measured(one), measured(two)}, log[i+1:]), b, w)
				trial.Near(t, "working s, cut", f.Working.Seconds, e.Working.Seconds, 1e-6)
				trial.Near(t, "standing s, cut", f.Standing.Seconds, e.Standing.Seconds, 1e-6)
				trial.Near(t, "break s, cut", f.Break, e.Break, 1e-6)
				trial.Near(t, "mean speed, cut", f.Speed.Mean, e.Speed.Mean, 1e-9)
			}
		}
		if t.Failed() {
			t.Fatalf("seed %d, log %d", seed, k)
		}
	}
}

// TestQuantilesAgainstSorting is the second opinion on the quantiles.
func TestQuantilesAgainstSorting(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	for range 300 {
		v := make([]weighted, 1+rng.IntN(60))
		all := 0.0
		for k := range v {
			v[k] = weighted{float64(rng.IntN(20)), float64(1 + rng.IntN(4))}
			all += v[k].weight
		}
		shares, got := []float64{0, 0.05, 0.25, 0.5, 0.75, 0.95, 1}, []float64(nil)
		for _, share := range shares {
			got = append(got, share*all)
		}
		quantiles(v, got)
		for i, share := range shares {
			sorted := slices.Clone(v)
			slices.SortFunc(sorted, func(a, b weighted) int { return cmp.Compare(a.value, b.value) })
			want, sum := 0.0, 0.0
			for _, s := range sorted {
				want = s.value
				if sum += s.weight; sum >= share*all {
					break
				}
			}
			if got[i] != want {
				t.Fatalf("%g of the weight: %g, by sorting %g, of %v", share, got[i], want, sorted)
			}
		}
	}
}

// BenchmarkEffort is per fix.
func BenchmarkEffort(b *testing.B) {
	const n = 1_000_000
	rng := rand.New(rand.NewPCG(1, 1))
	s := drive.Stretch{Activity: drive.ActivityWork, Line: make([]plane.XY, n), Seconds: make([]float64, n)}
	for k := range n {
		s.Line[k], s.Seconds[k] = plane.XY{X: 2.5*float64(k) + 0.05*rng.NormFloat64()}, float64(k)
	}
	b.ReportAllocs()
	for b.Loop() {
		e := effortOf([]drive.Stretch{s}, ground.Balance{Once: 1e7}, drive.Work{Width: 6})
		if math.Abs(e.Speed.Median-2.5) > 0.01 || e.Working.Seconds != n-1 {
			b.Fatalf("%+v", e.Speed)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/fix")
}
