package cli

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"balk/export/words"
	"balk/geo"
)

// What is found in log after log is said once, with how often; what comes three times at most, or differs in more than numbers,
// is said each time.
func TestFindingsOfOneKindAreSummed(t *testing.T) {
	var found []geo.Finding
	for i := range 21 {
		if i%5 != 0 {
			found = append(found, geo.Finding{File: fmt.Sprintf("log-%d.csv", i), Record: 2 + i, What: fmt.Sprintf("a time without zone is taken as UTC (%d times, here first)", 100*i)})
		}
	}
	found = append(found, geo.Finding{File: "a.csv", What: "other"}, geo.Finding{File: "b.csv", What: "other"}, geo.Finding{File: "c.csv", What: "other"})
	for i := range 4 {
		found = append(found, geo.Finding{File: "f.shp", Record: i, Lost: true, What: fmt.Sprintf(`left out: ring %d of "North %d" crosses itself at 1.%d, 2`, i, i, i)})
	}
	got := summed(words.English, found)
	want := []string{
		"log-1.csv, record 3: a time without zone is taken as UTC (100 times, here first)\nand 15 more of this kind, in 16 files in all (--json lists them)",
		"a.csv: other", "b.csv: other", "c.csv: other",
		"f.shp: left out: ring 0 of \"North 0\" crosses itself at 1.0, 2\nand 3 more of this kind (--json lists them)",
	}
	if !slices.Equal(got, want) {
		t.Errorf("%s\nwant %s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	for text, want := range map[string]string{"1.5 m of 2": "# m of #", `"a 1" b`: `" b`, "no": "no", "1,000.": "#"} {
		if got := withoutNumbers(text); got != want {
			t.Errorf("%q: %q", text, got)
		}
	}
	if summed(words.English, nil) != nil {
		t.Error("nothing was found, and something is said")
	}
}
