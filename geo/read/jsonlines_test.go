package read

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// Of several texts in a file one that is broken loses itself only, wherever it stands and whatever is wrong with it: it is named by its
// record. A single text that breaks off is used up to there, as before.
func TestBrokenLine(t *testing.T) {
	point := func(k int) string {
		return feature1(fmt.Sprintf(`{"time":"2024-05-31T17:30:%02dZ"}`, k), fmt.Sprintf(`{"type":"Point","coordinates":[11.%d,48.1]}`, k+1))
	}
	line := func(k int) string {
		return feature1(`{"name":"a"}`, fmt.Sprintf(`{"type":"LineString","coordinates":[[11.%d,48.1],[11.%d,48.2]]}`, k+1, k+1))
	}
	long := func(k int) string { // beyond what is read at a time
		return feature1(`{}`, fmt.Sprintf(`{"type":"LineString","coordinates":[%s[11.%d,48.2]]}`, strings.Repeat("[11,48.1],", 7000), k+1))
	}
	field := func(k int) string {
		return feature1(fmt.Sprintf(`{"name":"f%d"}`, k), fmt.Sprintf(`{"type":"Polygon","coordinates":[[[11.%d,48],[11.%d,48.001],[11.%d01,48.001],[11.%d,48]]]}`, k, k, k, k))
	}
	faults := map[string]func(s string) string{
		"cut off in the middle":      func(s string) string { return s[:len(s)/2] },
		"cut off in a string":        func(s string) string { return s[:6] },
		"without its last brace":     func(s string) string { return s[:len(s)-1] },
		"with a bracket too many":    func(s string) string { return s + "]" },
		"with a bare word":           func(s string) string { return strings.Replace(s, "48.", "north", 1) },
		"words":                      func(string) string { return "position lost" },
		"a list":                     func(string) string { return "[1,2,3]" },
		"with a comma for a dot":     func(s string) string { return strings.Replace(s, "11.", "1 1,", 1) },
		"a brace":                    func(string) string { return "{" },
		"an escape that is none":     func(s string) string { return strings.Replace(s, "type", `ty\pe`, 1) },
		"two commas":                 func(s string) string { return strings.Replace(s, ",", ",,", 1) },
		"closed by the wrong brace":  func(s string) string { return strings.Replace(s, "]}", "}}", 1) },
		"a number that is no number": func(s string) string { return strings.Replace(s, "48.", "4-8.", 1) },
	}
	apart := map[string][2]string{"lines": {"", "\n"}, "lines that end as Windows has it": {"", "\r\n"}, "record separators": {"\x1e", "\n"}, "blank lines between": {"", "\n\n"}}
	for kind, of := range map[string]func(int) string{"points": point, "lines": line, "long lines": long, "fields": field} {
		for how, mark := range apart {
			for fault, broken := range faults {
				for k := range 5 {
					if kind == "long lines" && k%2 == 0 && k < 4 {
						continue
					}
					if k == 0 && (how != "record separators" && (kind == "long lines" || fault == "words" || fault == "a list" || fault == "a brace") || strings.HasPrefix(fault, "words") || fault == "a list") {
						continue // the first line says what the file is
					}
					var b strings.Builder
					for i := range 5 {
						s := of(i)
						if i == k {
							s = broken(s)
						}
						b.WriteString(mark[0] + s + mark[1])
					}
					situation := fmt.Sprintf("%s in %s, number %d %s", kind, how, k+1, fault)
					var got int
					var lost []string
					if kind == "fields" {
						fields, findings, err := GeoJSONFields(strings.NewReader(b.String()), "f", Options{})
						if err != nil {
							t.Errorf("%s: %v", situation, err)
							continue
						}
						for _, f := range findings {
							lost = append(lost, fmt.Sprintf("%d %t", f.Record, f.Lost))
						}
						got = len(fields)
					} else {
						tracks, findings, err := GeoJSONTracks(strings.NewReader(b.String()), "f", TrackOptions{})
						if err != nil {
							t.Errorf("%s: %v", situation, err)
							continue
						}
						for _, f := range findings {
							lost = append(lost, fmt.Sprintf("%d %t", f.Record, f.Lost))
						}
						if got = len(tracks); kind == "points" {
							got = tracks[0].Fixes()
						}
					}
					want := 4
					if fault == "with a bracket too many" { // behind what is whole
						want = 5
					}
					if got != want || len(lost) == 0 || slices.Max(lost) != slices.Min(lost) || lost[0] != fmt.Sprintf("%d true", k+1) {
						t.Errorf("%s: %d of 5 read, lost %v", situation, got, lost)
					}
				}
			}
		}
	}
}

// A collection written line by line is one text.
func TestBrokenCollection(t *testing.T) {
	for _, head := range []string{"{\n\"type\": \"FeatureCollection\",\n\"features\": [\n", "{\"type\":\"FeatureCollection\",\"features\":[\n"} {
		text := head + feature1(`{}`, square) + ",\n" + feature1(`{}`, square)[:40]
		fields, findings, err := GeoJSONFields(strings.NewReader(text+"\n]}"), "f", Options{})
		if err != nil || len(fields) != 1 || len(findings) != 1 || !strings.Contains(findings[0].What, "unreadable after this record") {
			t.Errorf("%.30q: %d fields, %v, %v", head, len(fields), findings, err)
		}
	}
}
