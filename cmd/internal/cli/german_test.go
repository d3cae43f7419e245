package cli

import (
	"bytes"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// english are words that no German sentence has. Names of files, flags, and what stands in quotation marks are looked over.
var english = regexp.MustCompile(`(?i)\b(the|of|and|at|by|for|from|with|without|were|are|is|be|has|have|had|not|no|none|if|each|every|other|than|that|this|these|which|who|what|where|when|may|must|can|could|would|` +
	`missed|worked|working|width|overlap|field|boundary|pass|passes|strip|strips|turn|turns|row|rows|log|logged|fix|fixes|track|tracks|time|times|drawbar|headland|left|right|read|written|out|more|most|least|taken|used|given|unknown|known)\b`)

// looked are the letters that are no sentence: paths and names of files, flags and verbs, values of balk.toml, names of the demo farm.
var looked = regexp.MustCompile(`"[^"]*"|[A-Z]\w+ [A-Z]\w+ \(invente|--[a-z-]+( (logged|measured|NAME|NAME=NAME|order=NAME))?|\S*[/\\]\S*|\S+\.(geojson|csv|toml|svg|json|pdf|txt|kml|kmz|gpx|zip|gpkg|gml|xml|nmea)\b|(order|state|time)=\S+|mayReverse|lowerDelay|liftDelay|hitch|` +
	`aus \S+: .*|Zeile \d+: [a-z-]+:|ist [a-z-]+ gemeint|balk (help )?[a-z]+( [a-z]+)?|eines von [a-z, ]+|spots read|time oder date|field\.kept|strip, invented|geplant: row \d+`)

// untranslated are the English words in a German text.
func untranslated(text string) []string {
	return english.FindAllString(looked.ReplaceAllString(text, " "), -1)
}

// TestGermanScreens: every verb, with all it can tell, over the demo farm and over odd input, says nothing in English.
func TestGermanScreens(t *testing.T) {
	dir := t.TempDir()
	farm := filepath.Join(dir, "farm")
	run := func(args ...string) (string, int) {
		var out, remarks bytes.Buffer
		code := Run(t.Context(), args, strings.NewReader(""), &out, &remarks)
		return out.String() + remarks.String(), code
	}
	if said, code := run("demo", farm); code != done {
		t.Fatal(said)
	}
	in := func(name string) string { return filepath.Join(farm, name) }
	log, err := os.ReadFile(in("track-pond.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	odd := filepath.Join(dir, "odd.csv")
	var rows strings.Builder
	rows.WriteString("lon;lat;time;state\n11.5;oops;2026-04-14T06:30:00;1\n")
	for i, p := range regexp.MustCompile(`\[(11\.\d+), ?(48\.\d+)`).FindAllSubmatch(log, 3000) {
		rows.WriteString(string(p[1]) + ";" + string(p[2]) + ";" + "2026-04-14T0" + string(rune('6'+i/3600)) + ":" + two(i/60%60) + ":" + two(i%60) + ";" + []string{"1", "0"}[i/40%8/7] + "\n")
	}
	rows.WriteString("11.57\n\x00\x00\x00\n48;48;48;48;48;48\n")
	if err := os.WriteFile(odd, []byte(rows.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	set, trailed, fields := in("sweep-mounted.toml"), in("sweep-trailed.toml"), in("fields.geojson")
	for name, args := range map[string][]string{
		"check":                 {"check", fields, in("track-pond.geojson"), "--implement", set, "--rounds", "3", "--all"},
		"sweeps":                {"sweeps", set, "--want", "3", "--all", "--out", filepath.Join(dir, "sweeps")},
		"sweeps, reached":       {"sweeps", set, "--want", "1", "--bent", "0.08"},
		"check, trailed":        {"check", fields, in("track-pond.geojson"), "--implement", trailed, "--rounds", "2", "--details"},
		"check, a phone":        {"check", fields, in("track-pond.geojson"), "--implement", set, "--pass-error", "3", "--details"},
		"check, to a folder":    {"check", fields, in("track-ribbon.geojson"), "--implement", set, "--details", "--out", filepath.Join(dir, "checked")},
		"check, the weather":    {"check", fields, in("track-elbow.geojson"), "--implement", set, "--weather", in("weather.csv")},
		"check, an odd log":     {"check", fields, odd, "--width", "6", "--details"},
		"check, the same twice": {"check", fields, in("track-pond.geojson"), in("track-pond.geojson"), "--width", "6", "--working", "inferred", "--all"},
		"compare":               {"compare", fields, "--field", "1", "--implement", set, "--widths", "3", "--speed", "8", "--fuel", "20", "--per-hour", "90"},
		"turn":                  {"turn", fields, "--field", "1", "--implement", trailed, "--headland", "12", "--bearing", "178", "--all"},
		"turn, mounted":         {"turn", "--implement", set},
		"handover":              {"handover", fields, in("track-pond.geojson"), "--implement", set, "--out", filepath.Join(dir, "handed")},
		"spots plan":            {"spots", "plan", fields, in("track-elbow.geojson"), "--implement", trailed, "-n", "5"},
		"spots read":            {"spots", "read", in("spots.csv"), fields, in("track-pond.geojson"), "--implement", set, "--rounds", "3", "--depth", "3..5", "--details"},
		"season add":            {"season", "add", fields, in("track-ribbon.geojson"), "--implement", set, "--does", "cuts", "--farm", filepath.Join(dir, "kept")},
	} {
		said, code := run(append(args, "--language", "de")...)
		if code != done && code != partLost {
			t.Errorf("%s: exit %d: %s", name, code, said)
		}
		if words := untranslated(said); len(words) > 0 {
			t.Errorf("%s: says %q in\n%s", name, words, said)
		}
	}
	kept := filepath.Join(dir, "kept")
	for _, args := range [][]string{ // one after the other
		{"season", "add", fields, in("track-ribbon.geojson"), "--implement", set, "--does", "cuts", "--farm", kept},
		{"season", "list", "--farm", kept, "--all", "--per-hour", "60"},
		{"season", "show", "Long Ribbon (invented)", "--farm", kept, "--out", filepath.Join(dir, "shown")},
		{"season", "export", filepath.Join(dir, "plain"), "--farm", kept},
		{"season", "import", filepath.Join(dir, "plain"), "--farm", filepath.Join(dir, "again")},
		{"season", "remove", "1", "--farm", kept},
		{"season", "show", "Long Ribbon (invented)", "--farm", kept},
		{"compare", fields, "--field", "2", "--widths", "6", "--speed", "8", "--out", filepath.Join(dir, "plans")},
		{"handover", filepath.Join(dir, "plans"), "--out", filepath.Join(dir, "order")},
		{"season"}, {"spots"}, {"chek"}, {"check", "--wdth", "5"}, {"check", fields}, {"check", fields, odd}, {"check", fields, odd, "--width", "0"}, {"check", fields, odd, "--width", "6", "--overlap", "7"},
		{"check", fields, odd, "--width", "wide"}, {"check", odd, fields, "--width", "6"}, {"check", fields, filepath.Join(dir, "none.csv"), "--width", "6"}, {"check", set, odd, "--width", "6"},
		{"turn", fields}, {"compare", fields, "--speed", "8", "--widths", "3", "--gate", "here"}, {"handover", dir, "--out", filepath.Join(dir, "x")},
	} {
		said, _ := run(append(args, "--language", "de")...)
		if words := untranslated(said); len(words) > 0 {
			t.Errorf("%s: says %q in\n%s", args, words, said)
		}
	}
	said, _ := run("check", fields, in("track-pond.geojson"), "--implement", set)
	if len(untranslated(said)) < 20 {
		t.Errorf("the test does not see English: %q in\n%s", untranslated(said), said)
	}
}

func two(n int) string { return string(rune('0'+n/10)) + string(rune('0'+n%10)) }

// TestAllThatIsPrintedIsTold: what a verb prints of a report goes through a telling, so that no text comes to a terminal untranslated.
func TestAllThatIsPrintedIsTold(t *testing.T) {
	letters := regexp.MustCompile(`\pL{2}`)
	for _, name := range []string{"report.go", "driven.go", "weather.go", "turn.go", "compare.go", "handover.go", "handoverplan.go", "each.go", "season.go", "seasontold.go", "spots.go"} {
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok || f.Type.Params == nil {
				continue
			}
			tells := false
			for _, p := range f.Type.Params.List {
				if star, ok := p.Type.(*ast.StarExpr); ok {
					id, _ := star.X.(*ast.Ident)
					tells = tells || id != nil && id.Name == "telling"
				}
			}
			if !tells && !strings.HasPrefix(f.Name.Name, "print") {
				continue
			}
			ast.Inspect(f, func(n ast.Node) bool {
				call, ok := n.(*ast.CallExpr)
				if !ok {
					return true
				}
				fun, ok := call.Fun.(*ast.SelectorExpr)
				if !ok {
					return true
				}
				if id, ok := fun.X.(*ast.Ident); ok && (id.Name == "fmt" || id.Name == "io") {
					for _, a := range call.Args {
						if s, ok := a.(*ast.BasicLit); ok && letters.MatchString(strings.Trim(s.Value, "`\"")) {
							t.Errorf("%s, %s: %s is not told in a language", name, f.Name.Name, s.Value)
						}
					}
				}
				return true
			})
		}
	}
}
