package cli

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// machine is the description of an invented mounted set of 5.6 m; four sections.
const machine = `name = "set"
width = 5.6
overlap = 0.10
sections = [1.4, 1.4, 1.4, 1.4]
[mount]
hitch = 1.0
[tractor]
ahead = 4
behind = 1
width = 2.5
[body]
ahead = 0.8
behind = 1
width = 5.7
[turning]
radius = 5.5
speed = 6
`

// rowsField is an invented field of 200 × 120 m with a log of rows 6.3 m apart, 6 m wide by its own
// columns, half of it lifted along one row.
func rowsField(t *testing.T) (field, track, implement string) {
	t.Helper()
	dir := t.TempDir()
	const lon, lat = 11.57, 48.14
	degLat := 1 / 111200.0
	degLon := degLat / math.Cos(lat*math.Pi/180)
	at := func(x, y float64) string { return fmt.Sprintf("[%.9f,%.9f]", lon+x*degLon, lat+y*degLat) }
	field = filepath.Join(dir, "field.geojson")
	write(t, field, `{"type":"Feature","properties":{"name":"Long Acre"},"geometry":{"type":"Polygon","coordinates":[[`+
		strings.Join([]string{at(0, 0), at(200, 0), at(200, 120), at(0, 120), at(0, 0)}, ",")+`]]}}`)
	var features []string
	second := 0
	for row := range 19 {
		for x := 0.0; x <= 200; x += 5 {
			along, width, offset := x, 6.0, 0.0
			if row%2 == 1 {
				along = 200 - x
			}
			if row == 9 {
				width, offset = 3, -1.5
			}
			features = append(features, fmt.Sprintf(`{"type":"Feature","properties":{"time":"2026-04-14T%02d:%02d:%02dZ","width":%g,"offset":%g,"state":%q},"geometry":{"type":"Point","coordinates":%s}}`,
				6+second/3600, second/60%60, second%60, width, offset, "working", at(along, 3.2+6.3*float64(row))))
			second += 2
		}
		features = append(features, fmt.Sprintf(`{"type":"Feature","properties":{"time":"2026-04-14T%02d:%02d:%02dZ","width":6,"offset":0,"state":"lifted"},"geometry":{"type":"Point","coordinates":%s}}`,
			6+second/3600, second/60%60, second%60, at(map[bool]float64{true: 203, false: -3}[row%2 == 0], 6.3+6.3*float64(row))))
		second += 6
	}
	track = filepath.Join(dir, "track.geojson")
	write(t, track, `{"type":"FeatureCollection","features":[`+strings.Join(features, ",\n")+`]}`)
	implement = filepath.Join(dir, "set.toml")
	write(t, implement, machine)
	return field, track, implement
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// told is a report as JSON, by dotted names.
func told(t *testing.T, path string) func(name string) any {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var all map[string]any
	if err := json.Unmarshal(text, &all); err != nil {
		t.Fatal(err)
	}
	return func(name string) any {
		var v any = all
		for part := range strings.SplitSeq(name, ".") {
			m, ok := v.(map[string]any)
			if !ok {
				return nil
			}
			v = m[part]
		}
		return v
	}
}

func number(t *testing.T, v any) float64 {
	t.Helper()
	f, ok := v.(float64)
	if !ok {
		t.Errorf("%v is no number", v)
	}
	return f
}

// One width stands in all that a call prints, writes, draws and works out, whoever says it:
// the flag, the implement file or the log. A larger one never leaves more missed.
func TestOneWidthInEveryConsumer(t *testing.T) {
	field, track, implement := rowsField(t)
	for _, mode := range []struct {
		name string
		args func(width float64) []string
		from string
		of   []float64
	}{
		{"flag alone", func(w float64) []string { return []string{"--width", fmt.Sprint(w), "--overlap", "0.1"} }, "given", []float64{3, 5, 6, 8.5, 12}},
		{"flag over the file", func(w float64) []string { return []string{"--implement", implement, "--width", fmt.Sprint(w)} }, "given", []float64{3, 5.6, 8.5}},
		{"file", func(float64) []string { return []string{"--implement", implement} }, "implement file", []float64{5.6}},
		{"logged, asked for", func(float64) []string { return []string{"--implement", implement, "--width", "logged"} }, "logged", []float64{6}},
	} {
		last := math.Inf(1)
		for _, w := range mode.of {
			name := fmt.Sprintf("%s, %g m", mode.name, w)
			out, over := filepath.Join(t.TempDir(), "check"), filepath.Join(t.TempDir(), "over")
			args := append([]string{field, track, "--rounds", "1", "--pass-error", "0.03"}, mode.args(w)...)
			code, stdout, stderr := run(t.Context(), append(append([]string{"check"}, args...), "--out", out)...)
			if code != done {
				t.Fatalf("%s: exit %d: %s", name, code, stderr)
			}
			half := fmt.Sprintf("%.2f m (%s; %.2f to %.2f m, the whole bar on 94 %% of the way)", w, mode.from, w/2, w)
			head := fmt.Sprintf("width %s, overlap 0.10 m: effective width %.2f m (credited)", half, w-0.1)
			if !strings.Contains(strings.Join(strings.Fields(stdout), " "), head) {
				t.Errorf("%s: %q does not say %q", name, stdout[:200], head)
			}
			consumers(t, name, filepath.Join(out, "report.json"), w, mode.from)
			if drawn, err := os.ReadFile(filepath.Join(out, "map.svg")); err != nil || !strings.Contains(string(drawn), "working width "+half) {
				t.Errorf("%s: the map lacks the width (%v)", name, err)
			}
			if differs := math.Abs(w-6) > 0.03; differs != strings.Contains(stderr, "the log has a bar of 6.00 m") {
				t.Errorf("%s: said %q", name, stderr)
			}
			missed := number(t, told(t, filepath.Join(out, "report.json"))("balance.missed"))
			if missed > last {
				t.Errorf("%s: %.1f m² missed, %.1f m² with less width", name, missed, last)
			}
			if last != math.Inf(1) && missed > 0.99*last && last > 100 {
				t.Errorf("%s: %.1f m² missed, no less than the %.1f m² with less width", name, missed, last)
			}
			last = missed

			if w == 5 || w > 8 {
				continue // a folder of papers takes its time
			}
			code, stdout, stderr = run(t.Context(), append(append([]string{"handover"}, args...), "--least-area", "60", "--out", over)...)
			if code != done {
				t.Fatalf("%s: handover: exit %d: %s", name, code, stderr)
			}
			if !strings.Contains(strings.Join(strings.Fields(stdout), " "), head) {
				t.Errorf("%s: handover: %q does not say %q", name, stdout, head)
			}
			consumers(t, name+", handover", filepath.Join(over, "report.json"), w, mode.from)
			if got := number(t, told(t, filepath.Join(over, "report.json"))("balance.missed")); got != missed {
				t.Errorf("%s: handover misses %.3f m², check %.3f m²", name, got, missed)
			}
			record := told(t, filepath.Join(over, "record.json"))
			if record("width") != w || record("widthFrom") != mode.from || record("widthMost") != w {
				t.Errorf("%s: the record has %v m (%v), up to %v", name, record("width"), record("widthFrom"), record("widthMost"))
			}
			text, err := os.ReadFile(filepath.Join(over, "record.txt"))
			if want := fmt.Sprintf("%.2f m (%s)", w, mode.from); err != nil || !strings.Contains(string(text), want) {
				t.Errorf("%s: the record lacks %q (%v)", name, want, err)
			}
			if strings.Contains(mode.name, "file") { // it says how the set turns
				again := told(t, filepath.Join(over, "rework.json"))
				if again("width") != w || again("overlap") != 0.1 {
					t.Errorf("%s: re-work with %v m, overlap %v", name, again("width"), again("overlap"))
				}
				// Swath by worked metres is what the plan's bar covers (ends lie within the field's rim).
				worked := 0.0
				passes, _ := again("passes").([]any)
				for _, p := range passes {
					worked += number(t, p.(map[string]any)["length"])
				}
				if swath := number(t, again("swath")); len(passes) == 0 || math.Abs(swath/worked-(w-0.1)) > 0.02*w {
					t.Errorf("%s: %d passes of re-work cover %.1f m² on %.1f m: %.3f m wide", name, len(passes), swath, worked, swath/worked)
				}
			}
		}
	}
}

// consumers looks at every number of a report that follows from the width.
func consumers(t *testing.T, name, report string, w float64, from string) {
	t.Helper()
	r := told(t, report)
	for what, want := range map[string]any{
		"spec.implement.width": w, "spec.work.width": w, "spec.work.overlap": 0.1, "spec.implement.overlap": 0.1, "bar.width": w, "bar.from": from, "bar.most": w, "bar.least": w / 2, "bar.logged": 6.0,
		"creditedWidth": w - 0.1, "headland.depth": w - 0.1, "zones.depth": w - 0.1, "spacing.width": w, "spacing.planned": w - 0.1,
	} {
		if got := r(what); got != want {
			t.Errorf("%s: %s is %v, want %v", name, what, got, want)
		}
	}
}

// What a filled folder was made with is judged anew where a flag is given.
func TestFlagsWinOverAFilledFolder(t *testing.T) {
	field, track, implement := rowsField(t)
	dir := t.TempDir()
	checked := filepath.Join(dir, "checked")
	if code, _, stderr := run(t.Context(), "check", field, track, "--implement", implement, "--rounds", "2", "--out", checked); code != done {
		t.Fatal(stderr)
	}
	for _, c := range []struct {
		args                   []string
		width, again, headland float64
	}{
		{nil, 5.6, 5.6, 11},
		{[]string{"--width", "8.5"}, 8.5, 8.5, 16.8},
		{[]string{"--width", "logged"}, 6, 6, 11.8},
		{[]string{"--headland", "20"}, 5.6, 5.6, 20},
		{[]string{"--rounds", "1"}, 5.6, 5.6, 5.5},
		{[]string{"--implement", other(t, dir)}, 5.6, 3, 11},
	} {
		out := filepath.Join(t.TempDir(), "over")
		code, _, stderr := run(t.Context(), append([]string{"handover", checked, "--least-area", "60", "--out", out}, c.args...)...)
		if code != done {
			t.Errorf("%v: exit %d: %s", c.args, code, stderr)
			continue
		}
		r := told(t, filepath.Join(out, "report.json"))
		if got := number(t, r("bar.width")); got != c.width {
			t.Errorf("%v: width %g m, want %g m", c.args, got, c.width)
		}
		if got := number(t, r("rework.width")); got != c.again {
			t.Errorf("%v: re-work with %g m, want %g m", c.args, got, c.again)
		}
		if got := number(t, r("headland.depth")); math.Abs(got-c.headland) > 1e-9 {
			t.Errorf("%v: headland %g m, want %g m", c.args, got, c.headland)
		}
	}
}

// Rounds that are given win over a depth that the folder was made with.
func TestRoundsWinOverAFilledFoldersHeadland(t *testing.T) {
	field, track, _ := rowsField(t)
	dir := t.TempDir()
	checked, out := filepath.Join(dir, "checked"), filepath.Join(dir, "over")
	if code, _, stderr := run(t.Context(), "check", field, track, "--width", "6", "--headland", "20", "--out", checked); code != done {
		t.Fatal(stderr)
	}
	if code, _, stderr := run(t.Context(), "handover", checked, "--rounds", "1", "--out", out); code != done {
		t.Fatal(stderr)
	}
	if got := number(t, told(t, filepath.Join(out, "report.json"))("headland.depth")); got != 6 {
		t.Errorf("headland %g m, want 6 m", got)
	}
}

func other(t *testing.T, dir string) string {
	path := filepath.Join(dir, "other.toml")
	write(t, path, strings.NewReplacer("width = 5.6", "width = 3.0", "sections = [1.4, 1.4, 1.4, 1.4]\n", "", "width = 5.7", "width = 3.1").Replace(machine))
	return path
}

// Before the work, too: the flag wins over the file.
func TestFlagsWinBeforeTheWork(t *testing.T) {
	field, track, implement := rowsField(t)
	code, stdout, stderr := run(t.Context(), "turn", "--implement", implement, "--width", "4", "--overlap", "0.2")
	if code != done || !strings.Contains(stdout, "4.00 m wide (given)") || !strings.Contains(stdout, "rows 3.80 m apart") {
		t.Errorf("turn: exit %d, %s%s", code, stdout, stderr)
	}
	out := filepath.Join(t.TempDir(), "plans")
	code, _, stderr = run(t.Context(), "compare", field, "--implement", implement, "--overlap", "0.3", "--speed", "8", "--out", out)
	if code != done {
		t.Fatalf("compare: exit %d, %s", code, stderr)
	}
	text, err := os.ReadFile(filepath.Join(out, "report.json"))
	if err != nil || !strings.Contains(string(text), `"overlap": 0.3`) || strings.Contains(string(text), `"overlap": 0.1`) {
		t.Errorf("compare: the plan has another overlap (%v)", err)
	}
	for _, args := range [][]string{
		{"turn", "--implement", implement, "--width", "logged"}, {"turn", "--implement", implement, "--width", "0"}, {"turn", "--implement", implement, "--overlap", "6"},
		{"check", field, track, "--width", "logged", "--overlap", "7"},
		{"compare", field, "--implement", implement, "--overlap", "6", "--speed", "8"}, {"check", field, field, "--width", "wide"},
	} {
		if code, stdout, stderr := run(context.Background(), args...); code != wrongCall || stdout != "" {
			t.Errorf("%v: exit %d, %s%s", args, code, stdout, stderr)
		}
	}
}
