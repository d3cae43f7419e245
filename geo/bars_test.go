package geo_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"balk/geo"
)

// abreast writes a point per section for every fix of a drive: n sections, so far apart, the first on the left. on
// says whether a section works at a fix; nil: all do. drop: those that do not are not written.
func abreast(drive []spot, n int, apart float64, on func(fix, section int) bool, drop bool) (out []spot) {
	for k, s := range drive {
		a, b := drive[max(0, k-1)], drive[min(len(drive)-1, k+1)]
		l := math.Hypot(b.x-a.x, b.y-a.y)
		for i := range n {
			right := (float64(i) - float64(n-1)/2) * apart
			p := s
			p.x, p.y = s.x+right*(b.y-a.y)/l, s.y-right*(b.x-a.x)/l
			if on != nil && !on(k, i) {
				if p.state = geo.Lifted; drop {
					continue
				}
			}
			out = append(out, p)
		}
	}
	return out
}

// TestPointsOfOneTimeAreOneBar: whatever the number of sections and the order in the file, the middle of the bar goes
// where it went, to the rounding of the plane.
func TestPointsOfOneTimeAreOneBar(t *testing.T) {
	drive := rows(3, 120, 2)
	for _, n := range []int{2, 3, 8, 16} {
		for _, apart := range []float64{0.5, 0.75, 3} {
			for _, order := range []string{"by time", "by section", "random"} {
				name := fmt.Sprintf("%d sections, %g m apart, %s", n, apart, order)
				track := points(abreast(drive, n, apart, nil, false))
				track.Width = nil
				all := upTo(track.Fixes())
				switch order {
				case "by section":
					all = all[:0]
					for i := range n {
						for k := range drive {
							all = append(all, k*n+i)
						}
					}
				case "random":
					all = rand.New(rand.NewPCG(uint64(n), 1)).Perm(track.Fixes())
				}
				if track.Width = make([]float64, track.Fixes()); true {
					for k := range track.Width {
						track.Width[k] = math.NaN()
					}
				}
				got, said, err := geo.Bars([]geo.Track{reordered(track, all)})
				if err != nil || len(got) != 1 || got[0].Fixes() != len(drive) || len(said) != 1 {
					t.Errorf("%s: %d tracks, %v, %v", name, len(got), said, err)
					continue
				}
				want := points(drive).Line.FlatCoords()
				for i, v := range got[0].Line.FlatCoords() {
					if i%3 < 2 && math.Abs(v-want[i]) > 1e-8 || i%3 == 2 && v != want[i] {
						t.Errorf("%s: fix %d: %v, want %v", name, i/3, v, want[i])
						break
					}
				}
				if got[0].Width != nil || got[0].Offset != nil || !strings.Contains(said[0].What, fmt.Sprintf("%d points of each time stand side by side, %.2f m apart", n, apart)) {
					t.Errorf("%s: width %v, said %v", name, got[0].Width, said)
				}
			}
		}
	}
}

// TestBarsOfWhichSectionsAreOff: eight sections of 0.75 m; from fix 20 to 39 the two on the right are off, and
// either say so or are not written. Then the bar is 4.5 m wide and its middle 0.75 m to the left.
func TestBarsOfWhichSectionsAreOff(t *testing.T) {
	drive := rows(2, 120, 2)
	off := func(fix, section int) bool { return !(fix >= 20 && fix < 40 && section >= 6) }
	for _, drop := range []bool{false, true} {
		for _, logged := range []float64{0.75, 6, math.NaN()} {
			track := points(abreast(drive, 8, 0.75, off, drop))
			for k := range track.Width {
				track.Width[k] = logged
			}
			got, said, err := geo.Bars([]geo.Track{track})
			if err != nil || len(got) != 1 {
				t.Fatal(err)
			}
			one := got[0]
			want := points(drive).Line.FlatCoords()
			for k := range drive {
				wide, offset := 6.0, 0.0
				if k >= 20 && k < 40 {
					wide, offset = 4.5, -0.75
				}
				if math.Abs(one.Width[k]-wide) > 1e-3 || math.Abs(one.Offset[k]-offset) > 1e-3 || math.Abs(one.Line.FlatCoords()[3*k+1]-want[3*k+1]) > 1e-8 || one.State[k] != geo.Working {
					t.Errorf("dropped %v, width logged %g, fix %d: %g m wide, %g m to the right", drop, logged, k, one.Width[k], one.Offset[k])
					break
				}
			}
			if !strings.Contains(said[0].What, "at 20 of which some of them do not work or are missing") {
				t.Errorf("dropped %v: said %v", drop, said)
			}
		}
	}
}

// TestBarsLeavesAlone: a clock coarser than the log, fixes written twice, and a log with a time per fix.
func TestBarsLeavesAlone(t *testing.T) {
	drive := rows(4, 120, 0.4) // 5 Hz
	for name, track := range map[string]geo.Track{
		"a time per fix":                  points(drive),
		"five fixes a second, times in s": points(with(drive, 0, len(drive), func(_ int, s *spot) { s.t = math.Floor(s.t) })),
		"every fix twice":                 points(twiceEach(drive)),
		"no times":                        points(untimed(abreast(drive, 8, 0.75, nil, false))),
		"lines":                           draw(abreast(drive, 8, 0.75, nil, false)),
	} {
		got, said, err := geo.Bars([]geo.Track{track})
		if err != nil || len(said) > 0 || len(got) != 1 || !sameTrack(got[0], track) {
			t.Errorf("%s: %v, %v", name, said, err)
		}
	}
}

func twiceEach(spots []spot) (out []spot) {
	for _, s := range spots {
		out = append(out, s, s)
	}
	return out
}

// TestPointsOfOneTimeThatAreNoBar: two machines in one file, with the same seconds, cannot be told apart without a
// column that does; with one they are two tracks.
func TestPointsOfOneTimeThatAreNoBar(t *testing.T) {
	a := rows(4, 120, 2)
	b := with(a, 0, len(a), func(k int, s *spot) { s.x, s.y = 200-s.y, 70+s.x })
	var both []spot
	for k := range a {
		both = append(both, a[k], b[k])
	}
	if _, _, err := geo.Bars([]geo.Track{points(both)}); err == nil || !strings.Contains(err.Error(), "neither in a row square to the way nor along it") {
		t.Errorf("two machines in one file: %v", err)
	}
	one, two := points(a), points(b)
	one.Came.Section, two.Came.Section = "1", "2"
	if got, said, err := geo.Bars([]geo.Track{one, two}); err != nil || len(said) > 0 || len(got) != 2 {
		t.Errorf("told apart by a column: %d tracks, %v, %v", len(got), said, err)
	}
}

// TestSectionsOfOneLogAreOneBar: by column, side by side and on the antenna's place; of other times they stay tracks.
func TestSectionsOfOneLogAreOneBar(t *testing.T) {
	drive := rows(3, 120, 2)
	sections := func(apart float64, late float64) (out []geo.Track) {
		for i := range 4 {
			var one []spot
			for k, s := range abreast(drive, 4, apart, nil, false) {
				if k%4 == i {
					s.t += late * float64(i)
					one = append(one, s)
				}
			}
			track := points(one)
			for k := range track.Width {
				track.Width[k] = 1.5
			}
			track.Came.Section = fmt.Sprint(i)
			out = append(out, track)
		}
		return out
	}
	for _, apart := range []float64{1.5, 0} {
		got, said, err := geo.Bars(sections(apart, 0))
		if err != nil || len(got) != 1 || len(said) != 1 || got[0].Fixes() != len(drive) || got[0].Width[5] != 6 {
			t.Errorf("%g m apart: %d tracks, %v, %v", apart, len(got), said, err)
			continue
		}
		want := "4 points of each time, a section each, stand on one place"
		if apart > 0 {
			want = "4 points of each time stand side by side, 1.50 m apart"
		}
		if !strings.HasPrefix(said[0].What, want) {
			t.Errorf("%g m apart: said %v", apart, said)
		}
	}
	if got, _, err := geo.Bars(sections(1.5, 0.2)); err != nil || len(got) != 4 {
		t.Errorf("of other times: %d tracks, %v", len(got), err)
	}
}

// TestRealLogsAreNoBars: they have a time per fix, or sections that are days.
func TestRealLogsAreNoBars(t *testing.T) {
	for _, name := range []string{"seeding_ca_2019_1hz.csv", "combine_us_corn_3s.csv", "isobus/TLG00009.csv", "isobus"} {
		_, tracks := openTracks(t, name)
		if got, said, err := geo.Bars(tracks); err != nil || len(said) > 0 || len(got) != len(tracks) {
			t.Errorf("%s: %d tracks of %d, %v, %v", name, len(got), len(tracks), said, err)
		}
	}
}

// TestBarsKeepPassesApart: where the file's pass column changes the line breaks, and nowhere else, whatever the first pass is called.
func TestBarsKeepPassesApart(t *testing.T) {
	drive := rows(3, 120, 2) // 61 fixes each
	for _, c := range []struct {
		first int32
		lone  bool // the first bar is a pass of its own
		ends  string
	}{
		{0, false, "[183 366 549]"}, // 61 fixes of three numbers
		{1, false, "[183 366 549]"},
		{1, true, "[3 183 366 549]"},
	} {
		track := points(abreast(drive, 4, 0.75, nil, false))
		for k := range track.Fixes() {
			pass := c.first + int32(k/(4*61))
			if c.lone && k < 4 {
				pass = 9
			}
			track.Came.Pass = append(track.Came.Pass, pass)
		}
		got, _, err := geo.Bars([]geo.Track{track})
		if err != nil || len(got) != 1 {
			t.Fatal(len(got), err)
		}
		if ends := fmt.Sprint(got[0].Line.Ends()); ends != c.ends || got[0].Came.Pass != nil {
			t.Errorf("first pass %d, alone %t: parts end at %s, want %s; passes by point: %v", c.first, c.lone, ends, c.ends, got[0].Came.Pass != nil)
		}
	}
}

// TestBarsHaveTheColumnsOfTheirFirstPoint, but work if any of their points does; and a column that was not logged stays so.
func TestBarsHaveTheColumnsOfTheirFirstPoint(t *testing.T) {
	drive := rows(2, 120, 2)
	const working, lifted, unknown = geo.Working, geo.Lifted, geo.StateUnknown
	for _, c := range []struct {
		name   string
		states [3]geo.WorkState
		want   geo.WorkState
	}{
		{"all work", [3]geo.WorkState{working, working, working}, working},
		{"the last works", [3]geo.WorkState{lifted, lifted, working}, working},
		{"one works, of the others nothing is known", [3]geo.WorkState{unknown, working, unknown}, working},
		{"none works", [3]geo.WorkState{lifted, lifted, lifted}, lifted},
		{"one is lifted, of the others nothing is known", [3]geo.WorkState{unknown, unknown, lifted}, lifted},
		{"nothing is known", [3]geo.WorkState{unknown, unknown, unknown}, unknown},
	} {
		track := points(abreast(drive, 3, 1, nil, false))
		for k := range track.Fixes() {
			i := float64(k % 3)
			track.State[k], track.Quality[k] = c.states[k%3], geo.QualityFixed-geo.Quality(i)
			track.Heading[k], track.Speed[k], track.HDOP[k] = geo.Bearing(90+i), 2+i, 0.5+i
		}
		got, _, err := geo.Bars([]geo.Track{track})
		if err != nil || len(got) != 1 || got[0].Fixes() != len(drive) {
			t.Fatal(c.name, len(got), err)
		}
		one := got[0]
		for k := range drive {
			if one.State[k] != c.want || one.Quality[k] != geo.QualityFixed || one.Heading[k] != 90 || one.Speed[k] != 2 || one.HDOP[k] != 0.5 {
				t.Errorf("%s, fix %d: state %d, quality %d, heading %g, %g m/s, hdop %g", c.name, k, one.State[k], one.Quality[k], one.Heading[k], one.Speed[k], one.HDOP[k])
				break
			}
		}
	}
	bare := points(abreast(drive, 3, 1, nil, false))
	bare.State, bare.Quality, bare.Heading, bare.Speed, bare.HDOP, bare.Width = nil, nil, nil, nil, nil, nil
	got, _, err := geo.Bars([]geo.Track{bare})
	if err != nil || len(got) != 1 {
		t.Fatal(len(got), err)
	}
	if one := got[0]; one.State != nil || one.Quality != nil || one.Heading != nil || one.Speed != nil || one.HDOP != nil || one.Width != nil {
		t.Errorf("nothing logged: %+v", one)
	}
}

// TestBarsWithAGapBetweenWorkingSections: eight sections of 0.75 m; from fix 20 to 39 the third is off. The bar is that
// much narrower, stays where it is, and the gap is told.
func TestBarsWithAGapBetweenWorkingSections(t *testing.T) {
	drive := rows(2, 120, 2)
	off := func(fix, section int) bool { return !(fix >= 20 && fix < 40 && section == 2) }
	for _, drop := range []bool{false, true} {
		track := points(abreast(drive, 8, 0.75, off, drop))
		for k := range track.Width {
			track.Width[k] = 0.75
		}
		got, said, err := geo.Bars([]geo.Track{track})
		if err != nil || len(got) != 1 || len(said) != 1 {
			t.Fatal(len(got), said, err)
		}
		for k := range drive {
			wide := 6.0
			if k >= 20 && k < 40 {
				wide = 5.25
			}
			if one := got[0]; math.Abs(one.Width[k]-wide) > 1e-9 || math.Abs(one.Offset[k]) > 1e-3 {
				t.Errorf("dropped %v, fix %d: %g m wide, %g m to the right", drop, k, one.Width[k], one.Offset[k])
				break
			}
		}
		if !strings.Contains(said[0].What, "at 20 some between working ones do not") {
			t.Errorf("dropped %v: said %v", drop, said)
		}
	}
}
