package cli

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"
)

// TestFirstScreen: the answer with its balance and cautions fits into 24 lines of 80 columns, in either language, and is read aloud without a
// table of statistics.
func TestFirstScreen(t *testing.T) {
	farm := filepath.Join(t.TempDir(), "farm")
	run := func(args ...string) string {
		t.Helper()
		var out, remarks bytes.Buffer
		if code := Run(t.Context(), args, strings.NewReader(""), &out, &remarks); code != done {
			t.Fatalf("%v: exit %d: %s", args, code, remarks.String())
		}
		return out.String()
	}
	run("demo", farm)
	for _, field := range []string{"pond", "elbow", "ribbon"} {
		for _, language := range []string{"en", "de"} {
			for name, more := range map[string][]string{"as logged": nil, "error given": {"--pass-error", "0.3"}, "cannot tell": {"--pass-error", "2.5"}, "another width": {"--width", "4.5"}} {
				args := append([]string{"check", filepath.Join(farm, "fields.geojson"), filepath.Join(farm, "track-"+field+".geojson"),
					"--implement", filepath.Join(farm, "sweep-mounted.toml"), "--language", language}, more...)
				text := strings.ReplaceAll(run(args...), farm+string(filepath.Separator), "farm/")
				lines := strings.Split(strings.TrimRight(text, "\n"), "\n")
				if len(lines) > 24 {
					t.Errorf("%s, %s, %s: %d lines:\n%s", field, language, name, len(lines), text)
				}
				for _, l := range lines {
					if utf8.RuneCountInString(l) > 80 {
						t.Errorf("%s, %s, %s: %d columns: %s", field, language, name, utf8.RuneCountInString(l), l)
					}
				}
				for _, word := range []string{"±", "95 %", "99 %", "median", "Median", "deviation", "Abweichung", "surety"} {
					if strings.Contains(text, word) {
						t.Errorf("%s, %s, %s: %q in\n%s", field, language, name, word, text)
					}
				}
			}
		}
	}
}
