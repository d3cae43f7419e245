package cli

import (
	"bytes"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/pflag"
)

// TestNumbersOutOfRange: every flag that is a number says of −1, in English and in German, in which range it must be, without a word of the other
// language, and no range that begins with a 0 which it then refuses.
func TestNumbersOutOfRange(t *testing.T) {
	farm := filepath.Join(t.TempDir(), "farm")
	if code, _, said := run(t.Context(), "demo", farm); code != done {
		t.Fatal(said)
	}
	calls := map[string][]string{
		"check":    {"none.geojson", "none.csv", "--width", "6"},
		"handover": {"none.geojson", "none.csv", "--width", "6", "--out", "none", "--per-hour", "1", "--per-km", "1"},
		"compare":  {"none.geojson", "--widths", "6", "--speed", "8"},
		"turn":     {"none.geojson", "--implement", filepath.Join(farm, "sweep-mounted.toml")},
	}
	said := func(args ...string) string {
		var out bytes.Buffer
		if code := Run(t.Context(), args, strings.NewReader(""), &out, &out); code == done {
			t.Errorf("%q: done, of files that are not there", args)
		}
		return out.String()
	}
	range0, wide := regexp.MustCompile(`from 0 to|0 or more|not be below 0`), regexp.MustCompile(`\de\+\d{3}`)
	seen := 0
	for _, c := range verbs(&voice{}).Commands() {
		call, ok := calls[c.Name()]
		if !ok {
			continue
		}
		c.Flags().VisitAll(func(f *pflag.Flag) {
			if _, ok := f.Value.(measure); !ok && f.Name != "width" && !slices.Contains([]string{"int", "float64", "uint"}, f.Value.Type()) {
				return
			}
			give := func(value string) []string {
				args := []string{c.Name()}
				for i := 0; i < len(call); i++ {
					if call[i] == "--"+f.Name {
						i++
						continue
					}
					args = append(args, call[i])
				}
				return append(args, "--"+f.Name, value)
			}
			seen++
			english := said(give("-1")...)
			if wide.MatchString(english) {
				t.Errorf("%s --%s -1: %s", c.Name(), f.Name, english)
			}
			if range0.MatchString(english) {
				if zero := said(give("0")...); strings.Contains(zero, "above 0") {
					t.Errorf("%s --%s: of −1 it is said %q, of 0 %q", c.Name(), f.Name, english, zero)
				}
			}
			german := said(append(give("-1"), "--language", "de")...)
			if words := untranslated(german); len(words) > 0 {
				t.Errorf("%s --%s -1: %q in %s", c.Name(), f.Name, words, german)
			}
			t.Logf("%s --%s -1: %s%s", c.Name(), f.Name, english, german)
		})
	}
	if seen < 40 {
		t.Errorf("%d flags that are numbers: the test does not see them", seen)
	}
}
