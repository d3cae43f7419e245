package geo_test

import (
	"os"
	"path/filepath"
	"testing"

	"balk/geo"
	"balk/geo/read"
)

// Real logs (open/SOURCES.md): what is set aside there.
func TestCleanOpenLogs(t *testing.T) {
	dir := os.Getenv("BALK_SHARED")
	if dir == "" {
		t.Skip("skipped: BALK_SHARED is not set")
	}
	for _, c := range []struct{ file string }{
		{"seeding_ca_2019_1hz.csv"},
		{"combine_us_corn_3s.csv"},
		{"isobus"},
		{"isobus/TLG00004.csv"}, {"isobus/TLG00009.csv"}, {"isobus/TLG00021.csv"},
	} {
		tracks, _, err := read.Tracks(filepath.Join(dir, "open", c.file))
		if err != nil {
			t.Error(err)
			continue
		}
		for n, raw := range tracks {
			_, aside := checkContract(t, raw)
			t.Logf("%s track %d: %d fixes, %d parts; columns state %v quality %v", c.file, n+1, raw.Fixes(), len(raw.Line.Ends()), raw.State != nil, raw.Quality != nil)
			for _, f := range geo.Findings(raw, n+1, aside) {
				t.Log("  ", f.What)
			}
			for i, s := range aside {
				if i < 60 && s.Why != geo.FaultRepeat {
					t.Logf("     %s %d+%d %v %v off %.1f by %g", s.Why, s.First, s.Fixes, s.From, s.To.Sub(s.From), s.Off, s.By)
				}
			}
		}
	}
}
