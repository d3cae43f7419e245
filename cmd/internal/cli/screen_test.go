package cli

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"
)

// TestFirstScreen: the answer with its balance and cautions fits into 24 lines of 80 columns, in either language, and is read aloud without a
// table of statistics.
func TestFirstScreen(t *testing.T) {
	t.Chdir(t.TempDir())
	farm := filepath.Join(t.TempDir(), "farm")
	run := func(args ...string) string {
		t.Helper()
		var out, remarks bytes.Buffer
		if code := Run(t.Context(), args, strings.NewReader(""), &out, &remarks); code != done {
			t.Fatalf("%v: exit %d: %s", args, code, remarks.String())
		}
		return out.String()
	}
	screen := func(name string, args ...string) string {
		t.Helper()
		text := strings.ReplaceAll(run(args...), filepath.Dir(farm)+string(filepath.Separator), "")
		lines := strings.Split(strings.TrimRight(text, "\n"), "\n")
		if len(lines) > 24 {
			t.Errorf("%s: %d lines:\n%s", name, len(lines), text)
		}
		for _, l := range lines {
			if n := utf8.RuneCountInString(l); n > 80 && !strings.HasPrefix(l, "  balk ") { // a call to copy
				t.Errorf("%s: %d columns: %s", name, n, l)
			}
		}
		for _, word := range []string{"±", "99 %", "median", "Median", "deviation", "Abweichung", "surety"} {
			if strings.Contains(text, word) {
				t.Errorf("%s: %q in\n%s", name, word, text)
			}
		}
		if args[0] == "check" && strings.Contains(text, "95 %") {
			t.Errorf("%s: %q in\n%s", name, "95 %", text)
		}
		return text
	}
	in := func(name string) string { return filepath.Join(farm, name) }
	screen("demo", "demo", farm)
	fields, mounted, trailed := in("fields.geojson"), in("sweep-mounted.toml"), in("sweep-trailed.toml")
	moved(t, fields, in("moved.geojson"), 0.8)
	wandering(t, in("track-pond.geojson"), in("phone.geojson"))
	faulty, faults := twoFaults(t, farm)
	few, many := logsOn(t, farm, 1), logsOn(t, farm, 4)
	for _, language := range []string{"en", "de"} {
		for name, c := range map[string]struct {
			args []string
			want map[string][]string
		}{
			"a telephone's log": {[]string{fields, in("phone.geojson"), "--implement", mounted}, map[string][]string{"en": {"if its receiver is good, which it does not tell; else it may be anything from none to that"}, "de": {"wenn der Empfänger gut ist, was sie nicht sagt"}}},
			"two faults":        {[]string{faulty, faults, "--width", "6", "--overlap", "0.1"}, map[string][]string{"en": {"late", "from pass 15 on"}, "de": {"zu spät", "ab Bahn 15"}}},
			"a folder":          {[]string{fields, few, "--implement", mounted}, map[string][]string{"en": {"Together: 4 operations on 3 fields", `[0-9]+ to [0-9]+ m² missed by 3 of them`, "Not in the sum of what was missed: 1 operation", "settle first"}, "de": {"Zusammen: 4 Arbeitsgänge, 3 Schläge", "nicht bearbeitet bei 3 davon"}}},
			"a season's folder": {[]string{fields, many, "--implement", mounted}, map[string][]string{"en": {"Together: 16 operations", "and 8 with less missed ground"}, "de": {"und 8 mit weniger"}}},
		} {
			text := strings.Join(strings.Fields(screen(name+", "+language, append(append([]string{"check"}, c.args...), "--language", language)...)), " ")
			for _, want := range c.want[language] {
				if !regexp.MustCompile(want).MatchString(text) {
					t.Errorf("%s, %s: no %q in\n%s", name, language, want, text)
				}
			}
		}
		for _, field := range []string{"pond", "elbow", "ribbon"} {
			text := screen(field+", "+language+", boundary moved", "check", in("moved.geojson"), in("track-"+field+".geojson"), "--implement", mounted, "--language", language)
			want := map[string]string{"en": "0.80 m off the boundary towards 270°", "de": "0,80 m"}[language]
			if field == "pond" && !strings.Contains(strings.Join(strings.Fields(text), " "), want) {
				t.Errorf("%s: no word of a boundary 0.80 m off:\n%s", language, text)
			}
			for name, more := range map[string][]string{"as logged": nil, "error given": {"--pass-error", "0.3"}, "cannot tell": {"--pass-error", "2.5"}, "another width": {"--width", "4.5"}} {
				if name == "as logged" { // with files written too
					more = []string{"--rounds", "3", "--out", "out/" + field + "-" + language}
				}
				screen(field+", "+language+", "+name, append([]string{"check", fields, in("track-" + field + ".geojson"), "--implement", mounted, "--language", language}, more...)...)
			}
		}
		for name, args := range map[string][]string{
			"turn":           {"turn", "--implement", mounted},
			"turn, trailed":  {"turn", fields, "--field", "1", "--implement", trailed, "--headland", "20", "--bearing", "178"},
			"compare":        {"compare", fields, "--field", "2", "--implement", mounted, "--implement", trailed, "--speed", "8"},
			"compare, costs": {"compare", fields, "--field", "2", "--widths", "3,6", "--speed", "8", "--per-hour", "80"},
			"handover":       {"handover", fields, in("track-elbow.geojson"), "--implement", trailed, "--out", filepath.Join(language, "handed")},
			"spots read":     {"spots", "read", in("spots.csv"), fields, in("track-pond.geojson"), "--implement", mounted, "--rounds", "3", "--depth", "3..5"},
		} {
			if args[0] == "compare" && language == "en" { // German is longer
				continue
			}
			text := screen(name+", "+language, append(args, "--language", language)...)
			if args[0] == "compare" && (!strings.Contains(text, "8 h (--missed-hours)") || !strings.Contains(text, "2 min ")) {
				t.Errorf("%s, %s: no word of the prices in\n%s", name, language, text)
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
