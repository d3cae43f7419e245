package cli

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
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
	moved(t, filepath.Join(farm, "fields.geojson"), filepath.Join(farm, "moved.geojson"), 0.8)
	for _, field := range []string{"pond", "elbow", "ribbon"} {
		for _, language := range []string{"en", "de"} {
			for name, more := range map[string][]string{"as logged": nil, "error given": {"--pass-error", "0.3"}, "cannot tell": {"--pass-error", "2.5"}, "another width": {"--width", "4.5"},
				"boundary moved": nil} {
				fields := "fields.geojson"
				if name == "boundary moved" {
					fields = "moved.geojson"
				}
				args := append([]string{"check", filepath.Join(farm, fields), filepath.Join(farm, "track-"+field+".geojson"),
					"--implement", filepath.Join(farm, "sweep-mounted.toml"), "--language", language}, more...)
				text := strings.ReplaceAll(run(args...), farm+string(filepath.Separator), "farm/")
				lines := strings.Split(strings.TrimRight(text, "\n"), "\n")
				if len(lines) > 24 {
					t.Errorf("%s, %s, %s: %d lines:\n%s", field, language, name, len(lines), text)
				}
				want := map[string]string{"en": "0.80 m off the boundary towards 270°", "de": "0,80 m"}[language]
				if flat := strings.Join(strings.Fields(text), " "); name == "boundary moved" && field == "pond" && !strings.Contains(flat, want) {
					t.Errorf("%s: no word of a boundary 0.80 m off:\n%s", language, text)
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

// moved writes fields so many metres farther east: more than a receiver with fixed quality errs by.
func moved(t *testing.T, from, to string, metres float64) {
	t.Helper()
	b, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	var all any
	if err := json.Unmarshal(b, &all); err != nil {
		t.Fatal(err)
	}
	var move func(v any)
	move = func(v any) {
		switch v := v.(type) {
		case map[string]any:
			for _, of := range v {
				move(of)
			}
		case []any:
			if east, ok := v[0].(float64); ok && len(v) == 2 {
				v[0] = east + metres/(111320*math.Cos(v[1].(float64)*math.Pi/180)) // degrees of the equator's 40,075 km
				return
			}
			for _, of := range v {
				move(of)
			}
		}
	}
	move(all)
	if b, err = json.Marshal(all); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(to, b, 0o644); err != nil {
		t.Fatal(err)
	}
}
