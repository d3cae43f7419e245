package geo_test

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"balk/geo"
	"balk/geo/read"
	"balk/testdata/check"
)

// openTracks are the tracks of a real log; origin and licences are in SOURCES.md.
func openTracks(t *testing.T, name string) (path string, tracks []geo.Track) {
	t.Helper()
	path = check.Shared(t, "open", name)
	tracks, _, err := read.Tracks(path, read.TrackOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return path, tracks
}

// What is set aside from real logs, per track. None of them has fixes thrown off or dated
// wrong: their greatest speeds are below 11 m/s, and their times run on but for two
// steps back of some seconds in the combine's. The seeding drill stood for 52 s early, and for
// 48 s before the night; the other logs of that day are of a set on its way.
func TestCleanOpenLogs(t *testing.T) {
	for _, c := range []struct {
		file                 string
		track                int
		repeats, least, most int // standing: least to most
		clockBack            int
	}{
		{"seeding_ca_2019_1hz.csv", 0, 2, 90, 100, 0},
		{"seeding_ca_2019_1hz.csv", 1, 0, 0, 0, 0},
		{"seeding_ca_2019_1hz.csv", 2, 0, 0, 0, 0},
		{"seeding_ca_2019_1hz.csv", 3, 0, 0, 0, 0},
		{"combine_us_corn_3s.csv", 0, 0, 0, 0, 2},
		{"isobus", 0, 1, 15, 35, 0},
		{"isobus", 1, 19, 700, 770, 0},
		{"isobus", 2, 2, 200, 260, 0},
	} {
		_, tracks := openTracks(t, c.file)
		raw := tracks[c.track]
		_, aside := checkContract(t, raw)
		for _, f := range geo.Findings(raw, c.track+1, aside) {
			t.Logf("%s: %s", c.file, f.What)
		}
		fixes, back := map[geo.Fault]int{}, 0
		for _, s := range aside {
			fixes[s.Why] += s.Fixes
			if s.Fixes == 0 {
				back++
			}
		}
		if fixes[geo.FaultNoFix]+fixes[geo.FaultThrown]+fixes[geo.FaultClock] > 0 || fixes[geo.FaultRepeat] > c.repeats ||
			fixes[geo.FaultStanding] < c.least || fixes[geo.FaultStanding] > c.most || back != c.clockBack {
			t.Errorf("%s, track %d: %v and %d times the clock back; want at most %d repeats, %d to %d standing, %d times back",
				c.file, c.track+1, fixes, back, c.repeats, c.least, c.most, c.clockBack)
		}
	}
}

// The machine's own speed, which Clean does not see, is the second opinion on what
// stands: it says 0 at nearly all fixes set aside, and seldom elsewhere.
func TestCleanStandsWhereTheMachineSaysSo(t *testing.T) {
	var stood, moved, zeros, asideAll, kept int
	for _, name := range []string{"TLG00004.csv", "TLG00009.csv", "TLG00021.csv"} {
		path, tracks := openTracks(t, filepath.Join("isobus", name))
		speeds := machineSpeeds(t, path)
		if len(tracks) != 1 || tracks[0].Fixes() != len(speeds) {
			t.Fatalf("%s: %d tracks and %d speeds do not fit", name, len(tracks), len(speeds))
		}
		_, aside := geo.Clean(tracks[0])
		still := make([]bool, len(speeds))
		for _, s := range aside {
			for k := s.First; k < s.First+s.Fixes; k++ {
				still[k] = still[k] || s.Why == geo.FaultStanding
			}
		}
		for k, v := range speeds {
			switch {
			case still[k] && v == 0:
				stood++
			case still[k]:
				moved++
			case v == 0:
				zeros++
			}
			if still[k] {
				asideAll++
			} else {
				kept++
			}
		}
	}
	t.Logf("of %d fixes set aside the machine stood at %d and moved at %d; of %d kept it stood at %d", asideAll, stood, moved, kept, zeros)
	if asideAll < 900 || 100*moved > 5*asideAll || 100*zeros > 10*kept {
		t.Errorf("too many fixes set aside while it moved (%d of %d) or kept while it stood (%d of %d)", moved, asideAll, zeros, kept)
	}
}

// machineSpeeds is the column speed_raw of a log.
func machineSpeeds(t *testing.T, path string) (speeds []int) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[1:] {
		v, err := strconv.Atoi(row[7])
		if rows[0][7] != "speed_raw" || err != nil {
			t.Fatalf("column 8 of %s is %s with %q", path, rows[0][7], row[7])
		}
		speeds = append(speeds, v)
	}
	return speeds
}
