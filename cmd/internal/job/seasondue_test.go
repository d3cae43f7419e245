package job

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"balk/export/words"
)

// TestWhatIsDue: days since the last cut, and from when on the next is due, by hand. Only operations that cut count.
func TestWhatIsDue(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "kept")
	addTo(t, seasonOf(t, dir, noon, "cuts"))
	addTo(t, seasonOf(t, dir, noon.AddDate(0, 0, 10), "seeds"))
	shown := func(days int, want DueWanted) SeasonReport {
		rep, err := ShowSeason(t.Context(), SeasonShow{Farm: dir, Field: "Short Acre", Day: noon.AddDate(0, 0, days), Due: want}, noon, nil)
		if err != nil {
			t.Fatal(err)
		}
		return rep
	}
	for _, c := range []struct {
		name string
		days int
		want DueWanted
		said string
	}{
		{"nothing wanted", 30, DueWanted{}, "Last cut: operation 1 on " + noon.Format(time.DateOnly) + ", 30 days ago."},
		{"since a while", 30, DueWanted{Days: 14}, "The next one is due since " + noon.AddDate(0, 0, 14).Format(time.DateOnly) + ", by 14 days."},
		{"not yet", 13, DueWanted{Days: 14}, "The next one is due on " + noon.AddDate(0, 0, 14).Format(time.DateOnly) + ", by 14 days."},
	} {
		d := shown(c.days, c.want).Due
		if d == nil || !strings.Contains(strings.Join(d.Words(words.English), " "), c.said) {
			t.Errorf("%s: %+v, want %q", c.name, d, c.said)
		}
	}
	if d := shown(-1, DueWanted{}).Due; d != nil {
		t.Errorf("before the first cut: %+v", d)
	}
	warm := 120.0
	d := Due{Operation: 1, Cut: noon, Warmth: &warm, Base: 5, Until: noon, Wanted: DueWanted{Warmth: 100}}
	if s := strings.Join(d.Words(words.English), " "); !strings.Contains(s, "120 degree days, more than the 100 after which") {
		t.Error(s)
	}
	if d.Wanted.Warmth = 150; !strings.Contains(strings.Join(d.Words(words.German), " "), "120 Gradtage, von 150") {
		t.Error(d.Words(words.German))
	}
	if err := (DueWanted{Warmth: 1}).validate(Station{}); err == nil {
		t.Error("due by warmth without weather")
	}
}

// TestSeasonOfAYear: operations of other years are left out, of the sums and of what they did together.
func TestSeasonOfAYear(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "kept")
	addTo(t, seasonOf(t, dir, noon, "cuts"))
	addTo(t, seasonOf(t, dir, noon.AddDate(1, 0, 0), "cuts"))
	for year, n := range map[int]int{0: 2, noon.Year(): 1, noon.Year() + 1: 1, noon.Year() + 2: 0} {
		rep, err := ShowSeason(t.Context(), SeasonShow{Farm: dir, Field: "Short Acre", Season: year, Day: noon.AddDate(2, 0, 0)}, noon, nil)
		if err != nil || len(rep.Operations) != n || rep.Totals.All.Operations != n || (rep.Across == nil) != (n == 0) || n > 0 && len(rep.Across.All.Operations) != n {
			t.Errorf("%d: %d operations, want %d (%v)", year, len(rep.Operations), n, err)
		}
	}
}
