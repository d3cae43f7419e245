package sheet

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"balk/coverage/plan"
	"balk/export/words"
	"balk/geo/plane"

	"github.com/go-fonts/dejavu/dejavumathtexgyre"
)

func TestLettersThatAreLackingAreSaid(t *testing.T) {
	name := "Field \U0001D400" // a letter of mathematics that the sheet's own fonts lack
	r := everything()
	r.Field.Name = name
	if got := textOf(t, printed(t, r, Page{}), 1); !strings.HasPrefix(got, "Field [U+1D400] ") {
		t.Errorf("%.60s", got)
	}
}

func TestTimesInWords(t *testing.T) {
	from := time.Date(2026, 7, 1, 21, 30, 0, 0, time.UTC)
	for _, c := range []struct {
		zone *time.Location
		to   time.Time
		want string
	}{
		{nil, from.Add(time.Hour), "2026-07-01 21:30 to 22:30 UTC"},
		{time.UTC, from.Add(4 * time.Hour), "2026-07-01 21:30 to 2026-07-02 01:30 UTC"},
		{time.FixedZone("CEST", 7200), from.Add(time.Hour), "2026-07-01 23:30 to 2026-07-02 00:30 CEST (UTC+02:00)"},
		{time.FixedZone("+0545", 20700), from.Add(time.Hour), "2026-07-02 03:15 to 04:15 UTC+05:45"},
		{time.FixedZone("GMT", 0), from.Add(time.Hour), "2026-07-01 21:30 to 22:30 GMT (UTC+00:00)"},
		{nil, time.Time{}, ""},
	} {
		if got := (Page{Zone: c.zone}).span(from, c.to); got != c.want {
			t.Errorf("%v: %q, want %q", c.zone, got, c.want)
		}
	}
}

// The sheet of a plan looks for fonts as that of an operation does, for the implement's own name too.
func TestFontsForAPlan(t *testing.T) {
	p := planOn(t, []plane.Polygon{{levelRing(-150, -90, 300, 180)}}, 6, plan.Options{Speed: 8})
	p.Field.Name = "Acre " + "\U0001D400"
	p.Plan.Implement.Name = "Sweep " + "\U0001D401"
	page := Page{Language: words.German}
	if got := textOf(t, printedPlan(t, p, page), 1); !strings.Contains(got, "Acre [U+1D400]") || !strings.Contains(got, "Sweep [U+1D401]") {
		t.Errorf("without a folder:\n%.200s", got)
	}
	page.FontFolders = []string{t.TempDir()}
	if err := os.WriteFile(filepath.Join(page.FontFolders[0], "a.ttf"), dejavumathtexgyre.TTF, 0o600); err != nil {
		t.Fatal(err)
	}
	if got := textOf(t, printedPlan(t, p, page), 1); strings.Contains(got, "U+") {
		t.Errorf("with a folder:\n%.200s", got)
	}
}
