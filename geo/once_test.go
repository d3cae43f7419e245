package geo_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"balk/geo"

	geom "github.com/twpayne/go-geom"
)

// logged is a log of its own: spots with columns, or without any (bare).
func logged(number int, bare bool, parts ...[]spot) geo.Track {
	t := draw(parts...)
	t.Came.Log = number
	t.Source = "log" + string(rune('a'+number))
	t.Speed = nil
	if bare {
		t.State, t.Width, t.Heading, t.Offset, t.Quality, t.HDOP = nil, nil, nil, nil, nil, nil
	}
	return t
}

// moved are spots at another time and place, with a receiver's own noise; nil: without any.
func moved(spots []spot, dt, dx, dy, noise float64, rng *rand.Rand) []spot {
	return with(spots, 0, len(spots), func(_ int, s *spot) {
		s.t += dt
		s.x, s.y = s.x+dx, s.y+dy
		if rng != nil {
			s.x, s.y = s.x+noise*rng.NormFloat64(), s.y+noise*rng.NormFloat64()
		}
	})
}

// rounded is a track with its places rounded to so many decimals of a degree.
func rounded(t geo.Track, decimals int) geo.Track {
	flat := append([]float64(nil), t.Line.FlatCoords()...)
	unit := math.Pow10(decimals)
	for i := range flat {
		if i%3 < 2 {
			flat[i] = math.Round(flat[i]*unit) / unit
		}
	}
	t.Line = geom.NewMultiLineStringFlat(geom.XYM, flat, t.Line.Ends())
	return t
}

func every(spots []spot, n int) (out []spot) {
	for k := 0; k < len(spots); k += n {
		out = append(out, spots[k])
	}
	return out
}

// TestOnceSituations: how many fixes are left of each log.
func TestOnceSituations(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	drive := rows(8, 200, 2)
	n := len(drive)
	back := moved(drive, 7200, 0, 0, 0, rng)
	half := n / 2
	working := func() (parts [][]spot) { // a device that logs rows only
		for r := range 8 {
			parts = append(parts, drive[101*r:101*(r+1)])
		}
		return parts
	}()
	var turns []spot // and one that logs the turns too, without a work state
	for r := range 8 {
		turns = append(turns, drive[101*r:101*(r+1)]...)
		last := drive[101*(r+1)-1]
		for k := 1; k < 10; k++ {
			turns = append(turns, spot{x: last.x + float64(k%5), y: last.y + 0.6*float64(k), t: last.t + float64(k)})
		}
	}
	for _, c := range []struct {
		name string
		logs []geo.Track
		left []int // by log
	}{
		{"the same file twice", []geo.Track{logged(0, false, drive), logged(1, false, drive)}, []int{n, 0}},
		{"three times", []geo.Track{logged(0, false, drive), logged(1, false, drive), logged(2, false, drive)}, []int{n, 0, 0}},
		{"a copy with places of 7 decimals and times 1 ms off", []geo.Track{logged(0, false, drive), rounded(logged(1, false, moved(drive, 0.001, 0, 0, 0, rng)), 7)}, []int{n, 0}},
		{"a copy with times cut to 2 s", []geo.Track{logged(0, false, drive), logged(1, false, with(drive, 0, n, func(_ int, s *spot) { s.t = 2 * math.Floor(s.t/2) }))}, []int{n, 0}},
		{"a copy that knows less comes first", []geo.Track{logged(0, true, drive), logged(1, false, drive)}, []int{0, n}},
		{"a copy in parts", []geo.Track{logged(0, false, drive), logged(1, false, working...)}, []int{n, 0}},
		{"a copy thinned to every fifth fix", []geo.Track{logged(0, false, every(drive, 5)), logged(1, false, drive)}, []int{0, n}},
		{"a copy without times", []geo.Track{logged(0, true, untimed(drive)), logged(1, true, drive)}, []int{0, n}},
		{"two copies without times", []geo.Track{logged(0, true, untimed(drive)), rounded(logged(1, true, untimed(drive)), 7)}, []int{n, 0}},
		{"a thinned copy without times", []geo.Track{logged(0, true, untimed(every(drive, 7))), logged(1, true, untimed(drive))}, []int{0, n}},
		{"driven back without times", []geo.Track{logged(0, true, untimed(drive[:101])), logged(1, true, untimed(backwards(drive[:101])))}, []int{101, 101}},
		{"a second drive two hours later", []geo.Track{logged(0, false, drive), logged(1, false, back)}, []int{n, n}},
		{"a second drive a minute later on the same line", []geo.Track{logged(0, false, drive[:101]), logged(1, false, moved(drive[:101], 160, 0, 0, 0, rng))}, []int{101, 101}},
		{"two files that overlap", []geo.Track{logged(0, false, drive[:half+50]), logged(1, false, drive[half-50:])}, []int{half + 50, n - half - 50}},
		{"a device with a work state and one without, with a receiver of its own", []geo.Track{logged(0, true, moved(drive, 0.4, 0.7, 0.4, 0.3, rng)), logged(1, false, drive)}, []int{0, n}},
		{"a device on the implement, 7 m behind", []geo.Track{logged(0, true, moved(drive, 3.5, 0, 0.2, 0.02, rng)), logged(1, false, drive)}, []int{0, n}},
		{"a device whose clock is 18 s ahead", []geo.Track{logged(0, true, moved(drive, 18, 0, 0, 0.3, rng)), logged(1, false, drive)}, []int{0, n}},
		{"a device that logs rows only, and one that logs turns too but no work state", []geo.Track{logged(0, true, turns), logged(1, false, working...)}, []int{5, n}},
		{"two sets side by side, 6 m apart", []geo.Track{logged(0, false, drive), logged(1, false, moved(drive, 0, 0, 6*8, 0, rng))}, []int{n, n}},
		{"two sets in neighbouring rows, the second 5 s behind", []geo.Track{logged(0, false, drive[:101]), logged(1, false, moved(drive[:101], 5, 0, 6, 0.1, rng))}, []int{101, 101}},
		{"two sets that meet in opposite rows", []geo.Track{logged(0, false, drive[:101]), logged(1, false, with(drive[:101], 0, 101, func(_ int, s *spot) { s.x, s.y = 200-s.x, 1 }))}, []int{101, 101}},
		{"a log that says of rows what another one says, and goes on", []geo.Track{logged(0, false, drive[:300]), logged(1, true, drive)}, []int{300, n - 300}},
		{"a hole of a quarter of an hour that another device fills", []geo.Track{logged(0, false, drive[:200], moved(drive[300:], 1800, 0, 0, 0, rng)),
			logged(1, true, drive[:200], with(drive[200:300], 0, 100, func(k int, s *spot) { s.t += 600 }), moved(drive[300:], 1800, 0, 0, 0, rng))}, []int{n - 100, 100}},
	} {
		before := make([]geo.Track, len(c.logs))
		copy(before, c.logs)
		kept, said := geo.Once(c.logs, 2.5)
		left := make([]int, len(c.logs))
		all := 0
		for _, k := range kept {
			left[k.Came.Log] += k.Fixes()
		}
		for i, l := range left {
			if d := l - c.left[i]; d < -4 || d > 4 || (l == 0) != (c.left[i] == 0) {
				t.Errorf("%s: %d of %d fixes of log %d are left, %d wanted; said %v", c.name, l, c.logs[i].Fixes(), i, c.left[i], said)
			}
			all += before[i].Fixes() - l
		}
		told := 0
		for _, s := range said {
			told += s.Fixes
			if f := s.Finding(); f.Lost || !strings.Contains(f.What, "used once") {
				t.Errorf("%s: said %q", c.name, f)
			}
		}
		if told != all {
			t.Errorf("%s: %d fixes left out, %d said", c.name, all, told)
		}
		again, more := geo.Once(kept, 2.5)
		if len(more) > 0 || len(again) != len(kept) {
			t.Errorf("%s: taken away once more: %v", c.name, more)
		}
	}
}

func backwards(spots []spot) []spot {
	out := make([]spot, len(spots))
	for k, s := range spots {
		out[len(spots)-1-k] = s
	}
	return out
}

// TestOnceOfRealLogs: given twice, copied with less and in another order of files, a real log is used once; given
// once, nothing of it is taken. The three logs of the task data are of other days.
func TestOnceOfRealLogs(t *testing.T) {
	for _, name := range []string{"seeding_ca_2019_1hz.csv", "combine_us_corn_3s.csv", "isobus"} {
		_, tracks := openTracks(t, name)
		fixes := 0
		for i := range tracks {
			if name == "isobus" {
				tracks[i].Came.Log = i
			}
			fixes += tracks[i].Fixes()
		}
		if kept, said := geo.Once(tracks, 2.5); len(said) > 0 || len(kept) != len(tracks) {
			t.Errorf("%s, given once: %v", name, said)
		}
		var twice []geo.Track
		for _, one := range tracks {
			less := rounded(one, 7)
			less.Quality, less.Heading = nil, nil
			less.Came.Log += 100
			twice = append(twice, less)
		}
		kept, _ := geo.Once(append(twice, tracks...), 2.5)
		left := 0
		for _, k := range kept {
			left += k.Fixes()
		}
		if left < fixes || left > fixes+20 {
			t.Errorf("%s, given twice: %d fixes are left of %d", name, left, fixes)
		}
	}
}

// Ten times the fixes take ten times as long.
func BenchmarkOnce(b *testing.B) {
	for _, n := range []int{10, 100, 1000} {
		b.Run(fmt.Sprintf("fixes=%d", n*101), func(b *testing.B) {
			drive := rows(n, 200, 2)
			tracks := []geo.Track{logged(0, true, moved(drive, 0.4, 0.7, 0.4, 0, rand.New(rand.NewPCG(1, 1)))), logged(1, false, drive)}
			for b.Loop() {
				if kept, _ := geo.Once(tracks, 2.5); len(kept) != 1 {
					b.Fatal(len(kept))
				}
			}
		})
	}
}

// And putting fixes in order, n log n.
func BenchmarkInOrder(b *testing.B) {
	for _, n := range []int{10, 100, 1000} {
		b.Run(fmt.Sprintf("fixes=%d", n*101), func(b *testing.B) {
			whole := points(rows(n, 200, 2))
			shuffled := reordered(whole, rand.New(rand.NewPCG(1, 1)).Perm(whole.Fixes()))
			for b.Loop() {
				if got, _ := geo.InOrder(shuffled, 0); got.Speed[1] != 1 {
					b.Fatal(got.Speed[:2])
				}
			}
		})
	}
}
