package words

import (
	"cmp"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"balk/geo"

	"github.com/paulmach/orb"
)

func TestWordsAndNumbersOfALanguage(t *testing.T) {
	at := time.Date(2026, 4, 14, 6, 30, 0, 0, time.UTC)
	for _, c := range []struct{ situation, got, want string }{
		{"a number, in English", English.Say("%s only possible, %.1f m²", English.Count(1, "strip"), 2.5), "1 strip only possible, 2.5 m²"},
		{"a number, in German", German.Say("%s only possible, %.1f m²", German.Count(1, "strip"), 2.5), "1 Streifen nur möglich, 2,5 m²"},
		{"no language is English", Language("").Say("page %d of %d", 1, 3), "page 1 of 3"},
		{"places of a number counted by a star", German.Say("%.*f° %s", 3, 11.57, German.Word("E")), "11,570° O"},
		{"a round length", German.Say("%g m", 0.5), "0,5 m"},
		{"a place keeps its points, latitude first", Place(orb.Point{11.57, 48.14}), "48.140000, 11.570000"},
		{"hectares", German.Digits("0.6250"), "0,6250"},
		{"many turns", German.Count(2, "turn"), "2 Wendungen"},
		{"one turn", German.Count(1, "turn"), "1 Wendung"},
		{"a percent sign", German.Say("Pass-to-pass error %.3f m (95 %%): missed %s to %s.", 0.02, "1", "2"), "Spur-zu-Spur-Genauigkeit 0,020 m (95 %): nicht bearbeitet 1 bis 2."},
		{"an instant", English.Instant(at, time.FixedZone("CEST", 7200)), "2026-04-14 08:30 CEST"},
		{"summer time, in German", German.Instant(at, time.FixedZone("CEST", 7200)), "14.04.2026 08:30 MESZ"},
		{"winter time, in German", German.Instant(at, time.FixedZone("CET", 3600)), "14.04.2026 07:30 MEZ"},
		{"an instant, in German", German.Instant(at, nil), "14.04.2026 06:30 UTC"},
		{"a time without a date", German.Instant(time.Date(1970, 1, 1, 6, 30, 0, 0, time.UTC), time.FixedZone("CEST", 7200)), "06:30 (kein Datum aufgezeichnet)"},
		{"29 s", Hours(29), "0:00"},
		{"30 s", Hours(30), "0:01"},
		{"61 min", Hours(3660), "1:01"},
		{"half a minute up", Clock(90), "0:02 h"},
		{"just an hour", Clock(59*60 + 30), "1:00 h"},
		{"not yet an hour", Clock(59*60 + 29), "0:59 h"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", c.situation, c.got, c.want)
		}
	}
	if got := HaPerHour(1); got != 0.36 {
		t.Errorf("1 m²/s is %g ha/h, want 0.36", got)
	}
	for l, known := range map[Language]bool{"": true, English: true, German: true, "fr": false, "EN": false} {
		if err := l.Validate(); (err == nil) != known {
			t.Errorf("%q: %v", l, err)
		}
	}
}

// Both forms of the cautions name every danger, in either language (DESIGN, section 6), and the long form has a head for each.
func TestCautionsNameEveryDanger(t *testing.T) {
	for l, dangers := range map[Language][]string{
		English: {"overhead lines", "fold", "slopes", "rollover", "wet ground", "drains", "drawbar and axle loads", "revers", "road", "permits", "bystanders", "buried services", "no legal survey", "local rules", "the machine's manual", "licensed practice"},
		German:  {"freileitungen", "klappen", "hänge", "kippgefahr", "boden", "dräne", "achslasten", "einknicken", "rückwärtsfahren", "genehmigungen", "personen", "verlegte leitungen", "keine amtliche vermessung", "örtliche vorschriften", "betriebsanleitung", "sachkunde"},
	} {
		var long strings.Builder
		for _, c := range l.Cautions() {
			if c.Head == "" || c.Text == "" {
				t.Errorf("%s: %q says %q", l, c.Head, c.Text)
			}
			long.WriteString(c.Head + " " + c.Text + " ")
		}
		for form, text := range map[string]string{"at length": long.String(), "after work": l.AfterWork(), "before work": l.BeforeWork()} {
			for _, d := range dangers {
				if !strings.Contains(strings.ToLower(text), d) {
					t.Errorf("%s, %s: no %q in %q", l, form, d, text)
				}
			}
		}
	}
}

// Lines break before the letter that would be the 81st, and only between words; so many bytes as a letter has.
func TestWrap(t *testing.T) {
	a := func(n int) string { return strings.Repeat("ä", n) }
	for name, c := range map[string]struct{ text, want string }{
		"nothing":                 {" \n ", ""},
		"one word":                {"one", "  one"},
		"spaces of all kinds":     {" one\n\ttwo  ", "  one two"},
		"80 letters":              {a(38) + " " + a(39), "  " + a(38) + " " + a(39)},
		"81 letters":              {a(39) + " " + a(39), "  " + a(39) + "\n  " + a(39)},
		"three words, 80 letters": {a(25) + " " + a(25) + " " + a(26), "  " + a(25) + " " + a(25) + " " + a(26)},
		"three words, 81 letters": {a(26) + " " + a(25) + " " + a(26), "  " + a(26) + " " + a(25) + "\n  " + a(26)},
		"after a break anew":      {a(50) + " " + a(50) + " " + a(27), "  " + a(50) + "\n  " + a(50) + " " + a(27)},
		"a word longer than all":  {"x " + a(100) + " y", "  x\n  " + a(100) + "\n  y"},
	} {
		if got := Wrap(c.text, "  "); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

// speaking are the rooms whose words are looked for here.
var speaking = []string{".", "../answer", "../sheet", "../record", "../../cmd/internal/cli", "../../cmd/internal/web", "../../cmd/balk-many"}

// sources are the parsed files of a package without its tests.
func sources(t *testing.T, dir string) []*ast.File {
	t.Helper()
	names, err := filepath.Glob(dir + "/*.go")
	if err != nil {
		t.Fatal(err)
	}
	var files []*ast.File
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") || dir == "." && slices.Contains([]string{"german.go", "terminal.go", "page.go", "files.go", "findings.go", "faults.go", "unreadable.go"}, name) {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, f)
	}
	if len(files) == 0 {
		t.Fatalf("%s: no source", dir)
	}
	return files
}

// literal is the value of a string literal.
func literal(n ast.Node) (string, bool) {
	b, ok := n.(*ast.BasicLit)
	if !ok || b.Kind != token.STRING {
		return "", false
	}
	s, err := strconv.Unquote(b.Value)
	return s, err == nil
}

// constants are the values of the string constants of a type in a package's source.
func constants(t *testing.T, dir, of string) []string {
	t.Helper()
	var out []string
	for _, f := range sources(t, dir) {
		ast.Inspect(f, func(n ast.Node) bool {
			v, ok := n.(*ast.ValueSpec)
			if !ok || len(v.Values) != 1 {
				return true
			}
			name, _ := v.Type.(*ast.Ident)
			if s, ok := literal(v.Values[0]); ok && s != "" && name != nil && name.Name == of {
				out = append(out, s)
			}
			return true
		})
	}
	if len(out) == 0 {
		t.Fatalf("no constants of type %s in %s", of, dir)
	}
	return out
}

// asked is all that the code asks the table of words for: at is the place of the English in a call.
func asked(t *testing.T) map[string]bool {
	t.Helper()
	at := map[string]int{"Say": 0, "Word": 0, "Count": 1, "line": 0, "item": 0, "head": 0, "area": 0, "part": 0, "begin": 0, "put": 0, "row": 0, "heads": 0, "add": 1, "say": 0}
	out := map[string]bool{}
	for _, dir := range speaking {
		for _, f := range sources(t, dir) {
			ast.Inspect(f, func(n ast.Node) bool {
				call, ok := n.(*ast.CallExpr)
				if !ok {
					return true
				}
				fun, ok := call.Fun.(*ast.SelectorExpr)
				if !ok {
					return true
				}
				k, ok := at[fun.Sel.Name]
				if !ok || k >= len(call.Args) {
					return true
				}
				for _, more := range call.Args[k:] { // the heads of columns
					if s, ok := literal(more); ok && fun.Sel.Name == "heads" {
						out[s] = true
					}
				}
				s, ok := literal(call.Args[k])
				if ok && fun.Sel.Name == "Count" {
					out["%d "+plural(s)] = true
					s = "%d " + s
				}
				if ok {
					out[s] = true
				}
				return true
			})
		}
	}
	for _, c := range cautions {
		out[c.Head], out[c.Text] = true, true
	}
	for _, s := range slices.Concat(constants(t, "../../coverage", "Cause"), constants(t, "../../coverage", "Surety"), constants(t, "../../coverage/turn", "Kind"), constants(t, "../../coverage/season", "Component"), []string{ofLog, ofPlan, watch, first, kneeling}) {
		out[s] = true
	}
	return out
}

// Whatever the code says, the table of words has German for it, with the same values in it.
func TestGermanIsWhole(t *testing.T) {
	said := asked(t)
	if len(said) < 150 {
		t.Fatalf("found %d words: the test does not see the code", len(said))
	}
	verb := regexp.MustCompile(`%[-+.*0-9]*[a-z%]`)
	alike := regexp.MustCompile(`\b(km|ha|cm|in|m|l|h|s|min)\b|[NSW]`)
	for s := range said {
		g, ok := inGerman(s)
		if bare := alike.ReplaceAllString(verb.ReplaceAllString(s, ""), ""); !ok && regexp.MustCompile(`\pL`).MatchString(bare) {
			t.Errorf("no German for %q", s)
		}
		if a, b := verb.FindAllString(s, -1), verb.FindAllString(g, -1); ok && !slices.Equal(a, b) {
			t.Errorf("%q has the values %v, its German %v", s, a, b)
		}
	}
	for s, g := range german {
		if s == g {
			t.Errorf("German for %q is the same", s)
		}
	}
}

// What layers and their columns are called in files for people has its German: the title, or the name where there is none.
func TestTitlesOfLayersAreGerman(t *testing.T) {
	seen := 0
	for _, name := range []string{"layers.go", "states.go", "mark.go"} { // those of a season stay English, in GeoJSON alone
		f, err := parser.ParseFile(token.NewFileSet(), "../vector/"+name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			lit, ok := n.(*ast.CompositeLit)
			if !ok {
				return true
			}
			named := map[string]string{}
			for _, e := range lit.Elts {
				if kv, ok := e.(*ast.KeyValueExpr); ok {
					if key, ok := kv.Key.(*ast.Ident); ok {
						named[key.Name], _ = literal(kv.Value)
					}
				}
			}
			_, column := named["Holds"]
			_, layer := named["Style"]
			if title := cmp.Or(named["Title"], named["Name"]); (column || layer) && title != "" {
				seen++
				if _, ok := inGerman(title); !ok {
					t.Errorf("%q, a title in files, has no German", title)
				}
			}
			return true
		})
	}
	if seen < 40 {
		t.Errorf("%d titles seen", seen)
	}
}

// The table holds no German that nobody asks for: its English is written in some room that is printed.
func TestGermanIsSaid(t *testing.T) {
	written := asked(t)
	for _, dir := range append([]string{"../../coverage", "../../coverage/turn", "../../coverage/drive", "../../coverage/drying", "../../coverage/rework", "../../coverage/spots", "../../cmd/internal/job", "../vector"}, speaking...) {
		for _, f := range sources(t, dir) {
			ast.Inspect(f, func(n ast.Node) bool {
				if s, ok := literal(n); ok {
					written[s] = true
				}
				return true
			})
		}
	}
	for said := range written {
		written[strings.Trim(said, " \n")] = true
	}
	for _, table := range []map[string]string{german, onTerminal, onPage, onFiles} {
		for s := range table {
			if !written[s] {
				t.Errorf("German for %q, which is never said", s)
			}
		}
	}
}

// silent are the rooms that know no language, whose sentences Told puts into one.
var silent = []string{"../../geo", "../../geo/crs", "../../geo/read", "../../geo/read/internal/isobus", "../../coverage", "../../coverage/rig", "../../coverage/drive", "../../coverage/drying", "../../coverage/plan", "../../coverage/turn", "../../coverage/rework",
	"../../coverage/season", "../../coverage/spots", "../../export/record", "../../export/vector", "../../export/words", "../../cmd/internal/farm", "../../cmd/internal/folder", "../../cmd/internal/job", "../../cmd/internal/batch", "../../cmd/internal/crew", "../../cmd/internal/many", "../../cmd/internal/bucket", "../../cmd/internal/queue", "../../cmd/internal/cli", "../../cmd/internal/web", "../../cmd/balk-many"}

// Every part of the table of findings is written in one of the rooms that know no language.
func TestFindingsAreSaid(t *testing.T) {
	var all strings.Builder
	for _, dir := range silent {
		for _, f := range sources(t, dir) {
			ast.Inspect(f, func(n ast.Node) bool {
				if s, ok := literal(n); ok {
					all.WriteString(s + "\n")
				}
				return true
			})
		}
	}
	for e := range spokenFor() {
		for _, part := range verb.Split(e, -1) {
			if part = strings.Trim(part, " \"():,"); len(part) > 12 && !strings.Contains(part, "states") && !inPieces(all.String(), part, 3) {
				t.Errorf("%q of %q is never said", part, e)
			}
		}
	}
}

// inPieces says whether a text is in another, in so many pieces at most: as sentences are put together.
func inPieces(all, part string, most int) bool {
	if part = strings.Trim(part, " :,;()"); strings.Contains(all, part) {
		return true
	}
	for i := range part {
		if most > 1 && part[i] == ' ' && strings.Contains(all, strings.Trim(part[:i], " :,;()")) && inPieces(all, part[i:], most-1) {
			return true
		}
	}
	return false
}

// A sentence made from a format of the table comes out as its German with the same values, whatever other formats there are.
func TestToldByItsFormat(t *testing.T) {
	for e, g := range spokenFor() {
		var values, german []any
		for _, v := range verb.FindAllString(e, -1) {
			switch v[len(v)-1] {
			case 'd':
				values, german = append(values, 17), append(german, 17)
			case 'f', 'g', 'e':
				values, german = append(values, 2.25), append(german, comma(2.25))
			case 'q':
				values, german = append(values, "two words"), append(german, "two words")
			case 's':
				values, german = append(values, "X, Y"), append(german, "X, Y")
			}
		}
		english := fmt.Sprintf(e, values...)
		if got, want := German.Told(english), fmt.Sprintf(g, german...); got != want {
			t.Errorf("%q: %q, want %q", english, got, want)
		}
		if got := English.Told(english); got != english {
			t.Errorf("in English %q became %q", english, got)
		}
	}
	at := orb.Point{11.5, 48.25}
	for want, f := range map[string]geo.Finding{
		"a.csv, Datensatz 3, bei 11.500000, 48.250000: Zeiten sind als Tageszahlen einer Tabelle genommen (Tage seit 1899-12-30)": {File: "a.csv", Record: 3, At: &at, What: "times are taken as serial dates of a spreadsheet (days since 1899-12-30)"},
		"a.csv: eine leere Geometrie: weggelassen (4-mal, hier zuerst)":                                                           {File: "a.csv", What: "an empty geometry: left out (4 times, here first)"},
		"a.csv: 3 von 9 GPS-Punkten sind dieselbe Fahrt wie in b (eine Kopie, gleiche Orte und Zeiten): einmal verwendet; was sie darüber hinaus hat, wird verwendet": {
			File: "a.csv", What: "3 of 9 fixes are the same driving as in b (a copy, same places and times): used once; what it has beyond that is used"},
		"a.csv: 2 von 9 GPS-Punkten in 1 Folge weit verworfen (zuerst: GPS-Punkt 4, 2026-04-14 06:30:00 UTC, bis 12 m daneben): beiseite gelegt": {
			File: "a.csv", What: "2 of 9 fixes in 1 run thrown far off (first: fix 4, 2026-04-14 06:30:00 UTC, up to 12 m off): set aside"},
		"a.csv: something new": {File: "a.csv", What: "something new"},
	} {
		if got := German.Finding(f); got != want {
			t.Errorf("%q, want %q", got, want)
		}
		if got := English.Finding(f); got != f.String() {
			t.Errorf("%q, want %q", got, f.String())
		}
	}
}

// Sentences that rooms put together come out whole: what it is of, what is wrong, and what to do; names of files, flags and values stay.
func TestFaultsPutTogether(t *testing.T) {
	for english, want := range map[string]string{
		"implement set.toml: line 2: width: a number is wanted, not a text":                                                                    "Gerät set.toml: Zeile 2: width: eine Zahl ist nötig, nicht ein Text",
		"farm/balk.toml, line 2: rounds: is a text: must be a whole number":                                                                    "farm/balk.toml, Zeile 2: rounds: ist Text, nötig ist ganze Zahl",
		"--days april: \"april\": must be a day like 2026-04-14, or two with .. between, perhaps with times as in 2026-04-14T15:30":            "--days april: \"april\": muss ein Tag sein wie 2026-04-14, oder zwei mit .. dazwischen, auch mit Uhrzeit wie in 2026-04-14T15:30",
		"--headland and --rounds: only one of them may be given\nsee: balk help check":                                                         "--headland und --rounds: nur eines davon darf angegeben sein\nsiehe: balk help check",
		"z.csv: left out: no track in it: longitude \"x\" is no number: left out; hint: a track is a line per fix with longitude and latitude": "z.csv: weggelassen: keine Spur darin: Länge \"x\" ist keine Zahl: weggelassen; Hinweis: eine Spur ist eine Zeile je GPS-Punkt mit Länge und Breite",
		"zone of the log: unknown time zone Atlantis":                                                                                          "Zeitzone der Aufzeichnung: unbekannte Zeitzone Atlantis",
		"f.geojson, record 2, at 11.5, 48.1: left out: boundary ring 1 at 11.5, 48.1 breaks the rule \"does not cross itself\"":                "f.geojson, Datensatz 2, bei 11.5, 48.1: weggelassen: Grenzring 1 bei 11.5, 48.1 verletzt die Regel \"kreuzt sich nicht selbst\"",
		"  2  East and West  (5 fixes)":                                                                                     "  2  East and West  (5 GPS-Punkte)",
		"overlap 6.5 m: must be below the working width of 6 m":                                                             "Überlappung 6,5 m: muss unter der Arbeitsbreite von 6 m liegen",
		"chek: no such verb; did you mean check?":                                                                           "chek: kein solcher Befehl; ist check gemeint?",
		"implement set.toml: line 3: overlp: no such name in a description; did you mean overlap?":                          "Gerät set.toml: Zeile 3: overlp: kein solcher Name in einer Beschreibung; ist overlap gemeint?",
		"farm/balk.toml, line 2: implemnt: no such value is known; did you mean implement?":                                 "farm/balk.toml, Zeile 2: implemnt: ein solcher Wert ist nicht bekannt; ist implement gemeint?",
		"x.geojson, record 1: no track could be read: byte 58: found '}' where '\"' is wanted":                              "x.geojson, Datensatz 1: keine Spur konnte gelesen werden: Byte 58: '}' gefunden, wo '\"' nötig ist",
		"x.kml, record 1: no field boundary could be read: byte 23: an element ends here that is not the last one to begin": "x.kml, Datensatz 1: keine Grenze eines Schlags konnte gelesen werden: Byte 23: hier endet ein Element, das nicht als letztes begann",
		"log: no such verb":             "log: kein solcher Befehl",
		"--width: must be given":        "--width: muss angegeben sein",
		"log: permission denied":        "log: keine Berechtigung",
		"something new: and more of it": "something new: and more of it",
	} {
		if got := German.Fault(english); got != want {
			t.Errorf("%q: %q, want %q", english, got, want)
		}
		if got := English.Fault(english); got != english {
			t.Errorf("in English %q became %q", english, got)
		}
	}
}

// What rooms other than the readers of files find has German, whole.
func TestFindingsHaveGerman(t *testing.T) {
	n := 0
	for _, dir := range []string{"../../coverage/drive", "../../coverage", "../../cmd/internal/job"} {
		for _, f := range sources(t, dir) {
			ast.Inspect(f, func(x ast.Node) bool {
				c, ok := x.(*ast.CompositeLit)
				if !ok {
					return true
				}
				for _, e := range c.Elts {
					kv, ok := e.(*ast.KeyValueExpr)
					if !ok || fmt.Sprint(kv.Key) != "What" && fmt.Sprint(kv.Key) != "Why" {
						continue
					}
					value := kv.Value
					if call, ok := value.(*ast.CallExpr); ok && len(call.Args) > 0 {
						value = call.Args[0]
					}
					s, ok := literal(value)
					if !ok {
						continue
					}
					s = strings.ReplaceAll(s, "%v", "%s")
					if n++; findings[s] == "" {
						t.Errorf("%s: no German for %q", dir, s)
					}
				}
				return true
			})
		}
	}
	if n < 20 {
		t.Fatalf("%d findings seen: the test does not see the code", n)
	}
}

// What goes wrong with a call or a file has German, in every room whose errors come to a user. Of the engine's own faults, which
// nobody can mend by another file, nothing is asked here.
func TestFaultsHaveGerman(t *testing.T) {
	builds := map[string]int{"fmt.Errorf": 0, "errors.New": 0, "wrong": 0, "p.fail": 0, "s.wrong": 0, "refuse": 1, "call.step": 0}
	n := 0
	for _, dir := range []string{"../../geo", "../../geo/crs", "../../geo/read", "../../geo/read/internal/isobus", "../../coverage/rig", "../../coverage/drive", "../../coverage/drying", "../../coverage/season", "../../coverage/spots", "../record", ".",
		"../../cmd/internal/farm", "../../cmd/internal/folder", "../../cmd/internal/job", "../../cmd/internal/batch", "../../cmd/internal/crew", "../../cmd/internal/many", "../../cmd/internal/bucket", "../../cmd/internal/queue", "../../cmd/internal/cli", "../../cmd/internal/web", "../../cmd/balk-many"} {
		for _, f := range sources(t, dir) {
			ast.Inspect(f, func(x ast.Node) bool {
				call, ok := x.(*ast.CallExpr)
				if !ok {
					return true
				}
				name := fmt.Sprint(call.Fun)
				if sel, ok := call.Fun.(*ast.SelectorExpr); ok {
					name = fmt.Sprint(sel.X) + "." + sel.Sel.Name
				}
				at, ok := builds[name]
				if !ok || len(call.Args) <= at {
					return true
				}
				s, ok := literal(call.Args[at])
				if !ok {
					return true
				}
				for line := range strings.SplitSeq(strings.NewReplacer("%w", "%s", "%v", "%s").Replace(s), "\n") {
					line = strings.TrimPrefix(line, "hint: ")
					if !regexp.MustCompile(`\pL{2} \pL`).MatchString(verb.ReplaceAllString(line, "")) {
						continue
					}
					n++
					if _, ok := inGerman(line); !ok {
						t.Errorf("%s: no German for %q", dir, line)
					}
				}
				return true
			})
		}
	}
	if n < 300 {
		t.Fatalf("%d sentences seen: the test does not see the code", n)
	}
}
