package geo_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"balk/geo"
	"balk/testdata/check"

	geom "github.com/twpayne/go-geom"
)

func TestCleanSituations(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	year1980 := float64(time.Date(1980, 1, 6, 0, 0, 0, 0, time.UTC).Unix())
	nowhere := func(_ int, s *spot) { *s = spot{x: -10 / metre * math.Cos(54*math.Pi/180), y: -54 / metre, t: s.t} }
	fast := with(straight(100), 0, 100, func(k int, s *spot) { s.x *= 7 }) // 50 km/h
	throw := func(off float64) func(int, *spot) { return func(_ int, s *spot) { s.y += off } }
	parked := stand(straight(50), 300, 0.02, rng)
	crawling := with(straight(600), 0, 600, func(_ int, s *spot) { s.x *= 0.15; s.x += 0.02 * rng.NormFloat64() })
	thin := untimed([]spot{{x: 0, y: 0}, {x: 400, y: 0}, {x: 402, y: 3}, {x: 400, y: 6}, {x: 0, y: 6}, {x: -2, y: 9}, {x: 0, y: 12}, {x: 400, y: 12}, {x: 402, y: 15},
		{x: 400, y: 18}, {x: 0, y: 18}, {x: -2, y: 21}, {x: 0, y: 24}, {x: 400, y: 24}, {x: 402, y: 27}, {x: 400, y: 30}, {x: 0, y: 30}, {x: -2, y: 33}, {x: 0, y: 36}, {x: 400, y: 36}, {x: 402, y: 39}})
	block := slices.Concat(straight(200)[:101], straight(200)[80:])
	// Forth 15 m, back 12 m, forth again, at 1.5 m/s, three times.
	fishtail := straight(50)
	for k := range 90 {
		x := 1.5 * float64(k%30)
		if k%30 > 18 {
			x = 3 + 1.5*float64(k%30-18)
		} else if k%30 > 10 {
			x = 15 - 1.5*float64(k%30-10)
		}
		fishtail = append(fishtail, spot{98 + 21*float64(k/30) + x, 0.4 * float64(k), aDay + 50 + float64(k), geo.Lifted, geo.QualitySingle})
	}

	for _, c := range []struct {
		name  string
		parts [][]spot
		want  string
	}{
		{"a straight pass", [][]spot{straight(100)}, ""},
		{"transport at 50 km/h", [][]spot{fast}, ""},
		{"work, then transport at 50 km/h", [][]spot{slices.Concat(straight(300), with(straight(100), 0, 100, func(k int, s *spot) { s.x, s.t = 600+14*float64(k), s.t+300 }))}, ""},
		{"fishtails at the headland", [][]spot{fishtail}, ""},
		{"passes thinned to their ends, without times", [][]spot{thin}, ""},

		{"three fixes at 0, 0", [][]spot{with(straight(100), 10, 13, nowhere)}, "without position 10+3"},
		{"all of a part at 0, 0", [][]spot{with(straight(3), 0, 3, nowhere), straight(50)}, "without position 0+3"},
		{"no number for a place", [][]spot{with(straight(100), 10, 11, func(_ int, s *spot) { s.x = math.NaN() })}, "without position 10+1"},
		{"a latitude of 144°", [][]spot{with(straight(100), 10, 11, throw(90/metre))}, "without position 10+1"},
		{"quality none for five fixes", [][]spot{with(straight(100), 10, 15, func(_ int, s *spot) { s.quality = geo.QualityNone })}, "without position 10+5"},
		{"quality none for all fixes", [][]spot{with(straight(100), 0, 100, func(_ int, s *spot) { s.quality = geo.QualityNone })}, ""},
		{"quality none for most fixes: the column is not filled", [][]spot{with(straight(100), 10, 100, func(_ int, s *spot) { s.quality = geo.QualityNone })}, ""},

		{"first 20 fixes dated 1980", [][]spot{with(straight(200), 0, 20, func(k int, s *spot) { s.t = year1980 + float64(k) })}, "with a wrong clock 0+20"},
		{"last 20 fixes dated 1980", [][]spot{with(straight(200), 180, 200, func(k int, s *spot) { s.t = year1980 + float64(k) })}, "with a wrong clock 180+20"},
		{"the week counter rolled over in the middle", [][]spot{with(straight(200), 120, 200, func(k int, s *spot) { s.t -= 1024 * 7 * 86400 })}, "with a wrong clock 120+80"},
		{"one fix a year ahead", [][]spot{with(straight(200), 90, 91, func(k int, s *spot) { s.t += 365 * 86400 })}, "with a wrong clock 90+1"},
		{"ten fixes an hour ahead", [][]spot{with(straight(200), 90, 100, func(k int, s *spot) { s.t += 3600 })}, "with a wrong clock 90+10"},
		{"ten fixes a day behind", [][]spot{with(straight(200), 90, 100, func(k int, s *spot) { s.t -= 86400 })}, "with a wrong clock 90+10"},
		{"four fixes with four dates", [][]spot{with(straight(200), 90, 94, func(k int, s *spot) { s.t += 1e6 * []float64{7, -3, 9, -8}[k-90] })}, "with a wrong clock 90+4"},
		{"clock set back by an hour", [][]spot{with(straight(200), 100, 200, func(k int, s *spot) { s.t -= 3600 })}, "with a wrong clock 100+0"},
		{"clock set back by an hour in a log of five hours", [][]spot{with(straight(18000), 9000, 18000, func(k int, s *spot) { s.t -= 3600 })}, "with a wrong clock 9000+0"},
		{"two days in one part", [][]spot{with(straight(200), 100, 200, func(k int, s *spot) { s.t += 86400 })}, ""},
		{"a fix every two minutes", [][]spot{with(straight(200), 0, 200, func(k int, s *spot) { s.t = aDay + 120*float64(k) })}, ""},
		{"two lunch breaks", [][]spot{with(with(straight(200), 50, 200, func(k int, s *spot) { s.t += 3600 }), 100, 200, func(k int, s *spot) { s.t += 3600 })}, ""},
		{"files joined in the wrong order", [][]spot{straight(200)[100:], straight(101)}, ""},
		{"twenty records sent again", [][]spot{block}, "with a repeated position 101+21"},
		{"files that overlap by eleven fixes", [][]spot{straight(200)[:100], straight(200)[89:]}, "with a repeated position 100+10"},
		{"the same file twice", [][]spot{straight(50), straight(50)}, "with a repeated position 50+50"},
		{"a part that goes on from the last fix of the one before", [][]spot{straight(200)[:100], straight(200)[99:]}, ""},

		{"receiver stuck for five seconds", [][]spot{with(straight(100), 51, 55, func(k int, s *spot) { s.x = 100 })}, "with a repeated position 51+4"},
		{"lifted while stuck", [][]spot{with(straight(100), 51, 55, func(k int, s *spot) {
			if s.x = 100; k >= 53 {
				s.state = geo.Lifted
			}
		})}, "with a repeated position 51+2; with a repeated position 54+1"},
		{"a part ends stuck and the next goes on", [][]spot{with(straight(100), 97, 100, func(_ int, s *spot) { s.x = 192 }), with(straight(200)[99:], 0, 1, func(_ int, s *spot) { s.x = 192 })}, "with a repeated position 97+2"},

		{"one fix thrown 500 m", [][]spot{with(straight(100), 50, 51, throw(500))}, "thrown far off 50+1"},
		{"one fix thrown 500 m, without times", [][]spot{untimed(with(straight(100), 50, 51, throw(500)))}, "thrown far off 50+1"},
		{"one fix thrown 1000 km, without times", [][]spot{untimed(with(straight(100), 50, 51, throw(1e6)))}, "thrown far off 50+1"},
		{"30 s beside the way by 300 m", [][]spot{with(straight(200), 50, 80, throw(300))}, "thrown far off 50+30"},
		{"four fixes in four places", [][]spot{with(straight(200), 50, 54, func(k int, s *spot) { s.x += 1000 * float64(k-52); s.y += 2000 * float64(k%3) })}, "thrown far off 50+4"},
		{"first three fixes wrong", [][]spot{with(straight(100), 0, 3, throw(-800))}, "thrown far off 0+3"},
		{"first two fixes wrong, each elsewhere", [][]spot{with(straight(100), 0, 2, func(k int, s *spot) { s.y -= 500 * float64(k+1) })}, "thrown far off 0+2"},
		{"last fix wrong", [][]spot{with(straight(100), 99, 100, throw(-800))}, "thrown far off 99+1"},
		{"first fixes elsewhere, without times: may be a journey", [][]spot{untimed(with(straight(100), 0, 3, throw(-800)))}, ""},
		{"a jump that stays after a log gap", [][]spot{with(straight(200), 100, 200, func(k int, s *spot) { s.x += 800; s.t += 120 })}, ""},
		{"a jump that stays without a gap in time", [][]spot{with(straight(200), 90, 200, throw(300))}, ""},
		{"out by 8 m: noise", [][]spot{with(straight(100), 50, 51, throw(8))}, ""},
		{"two minutes elsewhere: may be a journey", [][]spot{with(straight(600), 200, 320, throw(5000))}, ""},

		{"parked for five minutes, fixed", [][]spot{onwards(parked, 50, 1)}, "standing still 50+298"},
		{"parked at the end", [][]spot{parked}, "standing still 50+299"},
		{"parked, without times: the receiver paces", [][]spot{untimed(onwards(parked, 50, 1))}, "standing still 50+298"},
		{"crawling, without times", [][]spot{untimed(crawling)}, ""},
		{"lifted and lowered while parked", [][]spot{onwards(with(parked, 150, 250, func(_ int, s *spot) { s.state = geo.Lifted }), 50, 1)},
			"standing still 50+99; standing still 151+98; standing still 251+97"},
		{"crawling at 0.3 m/s", [][]spot{crawling}, ""},
		{"crawling at 0.3 m/s, single receiver", [][]spot{with(crawling, 0, 600, func(_ int, s *spot) { s.quality = geo.QualitySingle })}, ""},
		{"a stop of eight seconds", [][]spot{onwards(stand(straight(50), 8, 0.02, rng), 50, 1)}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, aside := checkContract(t, draw(c.parts...))
			if got := said(aside); got != c.want {
				t.Errorf("set aside: %q, want %q", got, c.want)
			}
		})
	}
}

// A receiver without corrections wanders by a metre: what is left of half an hour turns
// the bar a few times, not 1800.
func TestCleanWanderingStand(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 0))
	line := straight(100)
	last := line[99]
	dx, dy := 0.0, 0.0
	for k := range 1800 {
		dx, dy = 0.98*dx+0.1*rng.NormFloat64(), 0.98*dy+0.1*rng.NormFloat64() // 0.5 m about the place
		line = append(line, spot{last.x + dx, last.y + dy, last.t + float64(k+1), geo.Working, 0})
	}
	line = with(onwards(line, 100, 1), 0, 2000, func(_ int, s *spot) { s.quality = geo.QualitySingle })
	got, _ := checkContract(t, draw(line))
	if left := got.Fixes() - 200; left > 100 {
		t.Errorf("%d of 1800 fixes of the stand are left, want at most 100", left)
	}
}

// A phone's position paces by metres about the place where it stands: half an hour of that is
// a stand as well, and the passes before and behind it stay whole.
func TestCleanPacingPhone(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 0))
	for _, quality := range []geo.Quality{geo.QualityUnknown, geo.QualitySingle} {
		line := straight(100)
		last := line[99]
		dx, dy := 0.0, 0.0
		for k := range 1800 {
			dx, dy = 0.98*dx+0.3*rng.NormFloat64(), 0.98*dy+0.3*rng.NormFloat64() // 1.5 m about the place
			line = append(line, spot{last.x + dx, last.y + dy, last.t + float64(k+1), geo.Working, 0})
		}
		line = onwards(line, 100, 1)
		line = with(line, 0, len(line), func(_ int, s *spot) { s.quality = quality })
		got, _ := checkContract(t, draw(line))
		if left := got.Fixes() - 200; left > 360 {
			t.Errorf("quality %d: %d of 1800 fixes of the stand are left, want at most 360", quality, left)
		}
	}
	// Driving to and fro by 12 m for a minute is no wandering.
	shunt := straight(50)
	for k := range 60 {
		shunt = append(shunt, spot{shunt[49].x + 6*math.Sin((float64(k)+0.3)*2*math.Pi/30), 0, shunt[49].t + float64(k+1), geo.Lifted, geo.QualityUnknown})
	}
	if _, aside := checkContract(t, draw(onwards(shunt, 50, 1))); len(aside) > 0 {
		t.Errorf("a shunt: %s", said(aside))
	}
}

func TestCleanLeavesCleanLogsAlone(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 0))
	for _, hz := range []float64{1, 5, 10} {
		for _, quality := range []geo.Quality{geo.QualityUnknown, geo.QualitySingle, geo.QualityFixed} {
			line := field(12, hz, 0.02, rng)
			raw := draw(with(line, 0, len(line), func(_ int, s *spot) { s.quality = quality }))
			got, aside := checkContract(t, raw)
			if len(aside) > 0 {
				t.Errorf("%g Hz, quality %d: %s", hz, quality, said(aside))
			}
			if !reflect.DeepEqual(got.Line, raw.Line) || &got.Line.FlatCoords()[0] != &raw.Line.FlatCoords()[0] {
				t.Errorf("%g Hz: not the track itself", hz)
			}
			if per := testing.AllocsPerRun(3, func() { geo.Clean(raw) }); per > 3 {
				t.Errorf("%g allocations for a clean log, want at most 3", per)
			}
		}
	}
}

// Log gaps are true, with or without times. Those drawn here lie ten fixes apart or more:
// without times a few fixes between two gaps cannot be told from a throw.
func TestCleanLeavesLogGapsAlone(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 0))
	for range 50 {
		all := field(6, []float64{1, 10}[rng.IntN(2)], 0.02, rng)
		var line []spot
		for quarter := range 4 {
			piece := all[quarter*len(all)/4 : (quarter+1)*len(all)/4]
			from := 5 + rng.IntN(len(piece)-10)
			to := from + rng.IntN(len(piece)-5-from)
			line = slices.Concat(line, piece[:from], piece[to:])
		}
		for _, l := range [][]spot{line, untimed(line)} {
			if _, aside := checkContract(t, draw(l)); len(aside) > 0 {
				t.Fatal(said(aside))
			}
		}
	}
}

// A log of a 5 Hz receiver at 10 Hz: every second fix goes.
func TestCleanHalvesADoubledLog(t *testing.T) {
	line := field(4, 5, 0.02, rand.New(rand.NewPCG(1, 1)))
	var doubled []spot
	for _, s := range line {
		doubled = append(doubled, s, spot{s.x, s.y, s.t + 0.1, s.state, s.quality})
	}
	got, aside := checkContract(t, draw(doubled))
	// The second and the last fix of a part stay.
	if got.Fixes() != len(line)+2 || len(aside) != len(line)-2 || aside[0].Why != geo.FaultRepeat {
		t.Errorf("%d fixes left and %d runs, want %d and %d", got.Fixes(), len(aside), len(line)+2, len(line)-2)
	}
}

// A track that begins at the last fix of the one before, which worked, and with the
// fix on the spot at which the tool was lifted: that one says where the pass ends.
func TestCleanKeepsTheSwitchAtTheStart(t *testing.T) {
	lifted := []spot{{0, 0, 0, geo.Lifted, 0}, {0, 0, 1, geo.Lifted, 0}, {2, 0, 2, geo.Lifted, 0}, {2, 0, 3, geo.Lifted, 0}, {4, 0, 4, geo.Lifted, 0}}
	got, aside := checkContract(t, draw(lifted))
	if said(aside) != "with a repeated position 3+1" || got.Fixes() != 4 {
		t.Errorf("%d fixes left: %s", got.Fixes(), said(aside))
	}
}

func TestCleanKeepsItsContractOnMessyLogs(t *testing.T) {
	seed := check.Seed(t)
	seen := map[geo.Fault]int{}
	for k := range uint64(400) {
		raw := messy(rand.New(rand.NewPCG(seed, k)))
		_, aside := checkContract(t, raw)
		for _, s := range aside {
			seen[s.Why]++
		}
		if t.Failed() {
			t.Fatalf("log %d", k)
		}
	}
	for _, why := range []geo.Fault{geo.FaultClock, geo.FaultRepeat, geo.FaultThrown, geo.FaultStanding} {
		if seen[why] < 20 {
			t.Errorf("%q came up %d times in 400 logs: too tame", why, seen[why])
		}
	}
}

// The set drives off in the steps that it drove: no gap opens behind a stand.
func TestCleanKeepsDrivingOff(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	line := field(1, 10, 0.01, rng)[:400]
	last := line[399]
	for k := range 600 {
		s := last
		s.x, s.y, s.t = last.x+0.01*rng.NormFloat64(), last.y+0.01*rng.NormFloat64(), last.t+float64(k+1)/10
		line = append(line, s)
	}
	for k := range 200 {
		s := last
		s.x, s.t = last.x+0.25*float64(k+1), last.t+60+float64(k+1)/10
		line = append(line, s)
	}
	for _, quality := range []geo.Quality{geo.QualityUnknown, geo.QualityFixed} {
		got, aside := checkContract(t, draw(with(line, 0, len(line), func(_ int, s *spot) { s.quality = quality })))
		flat := got.Line.FlatCoords()
		for k := 3; k < len(flat); k += 3 {
			d := math.Hypot((flat[k]-flat[k-3])*math.Cos(54*math.Pi/180), flat[k+1]-flat[k-2]) / metre
			if d > 0.5 {
				t.Errorf("quality %d: step of %.2f m over %.1f s, want at most two usual steps of 0.25 m", quality, d, flat[k+2]-flat[k-1])
			}
		}
		if len(aside) != 1 || aside[0].Why != geo.FaultStanding || aside[0].Fixes < 580 {
			t.Errorf("quality %d: %s", quality, said(aside))
		}
	}
}

func TestCleanFindings(t *testing.T) {
	line := with(straight(200), 50, 52, func(k int, s *spot) { s.y += 406 * float64(k-49) })
	line = with(line, 90, 91, func(_ int, s *spot) { s.y -= 300 })
	line = with(line, 0, 20, func(_ int, s *spot) { s.t -= 16911 * 86400 })
	line = with(line, 150, 200, func(_ int, s *spot) { s.t -= 3600 })
	line = with(line, 120, 121, func(_ int, s *spot) { s.x = math.NaN() })
	raw := draw(line)
	_, aside := checkContract(t, raw)
	var got []string
	for _, f := range geo.Findings(raw, 1, aside) {
		got = append(got, fmt.Sprintf("%v %v %s", f.Lost, f.At != nil, f.What))
	}
	want := []string{
		"true false 1 of 200 fixes in 1 run without position (first: fix 121, 2026-04-14 06:02:00 UTC): set aside",
		"false true 20 of 200 fixes in 1 run with a wrong clock (first: fix 1, 1979-12-26 06:00:00 UTC, off by -16911 days): time set aside, place kept",
		"false true 3 of 200 fixes in 2 runs thrown far off (first: fix 51, 2026-04-14 06:00:50 UTC, up to 812 m off): set aside",
		"false true the clock goes back 1 time (first: fix 151, 2026-04-14 05:02:30 UTC, by 1 h): times kept",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// Layouts and columns a reader may give.
func TestCleanOddTracks(t *testing.T) {
	if got, aside := geo.Clean(geo.Track{}); got.Line != nil || aside != nil {
		t.Error("an empty track must come back as it is")
	}
	short := draw(with(straight(30), 3, 5, func(_ int, s *spot) { s.x = 4 }))
	short.Width = short.Width[:7]
	if got, aside := geo.Clean(short); got.Fixes() != 30 || aside != nil {
		t.Error("a column that does not fit: the track must come back as it is")
	}
	bare := geo.Track{Line: geom.NewMultiLineStringFlat(geom.XY, []float64{10, 54, 10, 54, 10.0001, 54}, []int{6})}
	if got, aside := geo.Clean(bare); got.Fixes() != 2 || said(aside) != "with a repeated position 1+1" || got.Line.Layout() != geom.XY {
		t.Errorf("without time: %s", said(aside))
	}
	high := geo.Track{Line: geom.NewMultiLineStringFlat(geom.XYZM, []float64{0, 0, 3, 7, 10, 54, 4, 8, 10.0001, 54, 5, 9}, []int{4, 12})}
	if got, aside := geo.Clean(high); said(aside) != "without position 0+1" || !slices.Equal(got.Line.Ends(), []int{8}) || got.Line.FlatCoords()[2] != 4 {
		t.Errorf("with height: %s", said(aside))
	}
	none := draw(with(straight(3), 0, 3, func(_ int, s *spot) { s.x = math.NaN() }))
	if got, aside := checkContract(t, none); got.Fixes() != 0 || len(aside) != 1 {
		t.Errorf("no position at all: %d fixes left", got.Fixes())
	}
}

// A field on the 180° meridian is a field like any other.
func TestCleanAcrossTheDateLine(t *testing.T) {
	raw := draw(with(straight(100), 50, 51, func(_ int, s *spot) { s.y += 500 }))
	flat := raw.Line.FlatCoords()
	for k := 0; k < len(flat); k += 3 {
		if flat[k] += 169.9985; flat[k] > 180 {
			flat[k] -= 360
		}
	}
	if flat[0] < 0 || flat[len(flat)-3] > 0 {
		t.Fatal("the track does not cross ±180°")
	}
	if _, aside := checkContract(t, raw); said(aside) != "thrown far off 50+1" {
		t.Errorf("set aside: %s", said(aside))
	}
}
