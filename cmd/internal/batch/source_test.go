package batch

import (
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"balk/geo"
)

func TestTree(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"b/track.csv", "a/TASKDATA/TASKDATA.XML", "a/TASKDATA/TLG00001.xml", "a/TASKDATA/TLG00001.BIN", "a/TASKDATA/photo.jpg", "c/way.shp", "c/way.dbf", "c/way.shx", ".hidden/x.csv", "run/results.csv"} {
		put(t, dir, name, "x")
	}
	var got []string
	for l, err := range (Tree{Dir: dir, Skip: filepath.Join(dir, "run")}).Logs(t.Context()) {
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, l.Name)
	}
	if want := []string{"a/TASKDATA", "a/TASKDATA/photo.jpg", "b/track.csv", "c/way.shp"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestLists(t *testing.T) {
	for situation, c := range map[string]struct{ text, want string }{
		"a table":                      {"log,driver,set\nb.csv,A. B.,comb.toml\na.csv,,\n", "a.csv||; b.csv|A. B.|/comb.toml"},
		"a table with semicolons":      {"\ufeffLog;Farm\na, b.csv;hill\n", "a, b.csv||"},
		"JSON lines":                   {"{\"log\":\"a.csv\",\"driver\":\"A\"}\n\n{\"log\":\"b.csv\"}\n", "a.csv|A|; b.csv||"},
		"a log of its own":             {"time,longitude,latitude\n", ""},
		"GeoJSON":                      {"{\"type\":\"FeatureCollection\"}", ""},
		"an unknown column":            {"log,colour\na.csv,red\n", `line 1, column 2: no such column is known: "colour": must be one of log, set, field, driver, machine, farm`},
		"a column twice":               {"log,log\na.csv,b.csv\n", "line 1, column 2: log stands there twice"},
		"a line without a log":         {"log,driver\n,A\n", "line 2: names no log"},
		"a line too short":             {"log,driver\na.csv\n", "line 2: wrong number of fields"},
		"a log twice":                  {"log\na.csv\na.csv\n", "names the log a.csv twice"},
		"a member that is no text":     {"{\"log\":\"a.csv\"}\n{\"log\":1}\n", "line 2: must be an object whose members are texts"},
		"a member that nobody knows":   {"{\"log\":\"a.csv\",\"colour\":\"red\"}\n", `line 1: no such member is known: "colour"`},
		"broken JSON behind the first": {"{\"log\":\"a.csv\"}\n{\"log\"\n", "line 2: must be an object"},
	} {
		dir := t.TempDir()
		path := put(t, dir, "list", c.text)
		source, err := Sources(t.Context(), []string{path}, "")
		if err != nil {
			if c.want == "" || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%s: %v, want %q", situation, err, c.want)
			}
			continue
		}
		var got []string
		for l, err := range source.Logs(t.Context()) {
			if err != nil {
				t.Fatal(err)
			}
			if l.Path != path {
				got = append(got, l.Name+"|"+l.Driver+"|"+filepath.ToSlash(strings.TrimPrefix(l.Set, dir)))
			}
		}
		if text := strings.Join(got, "; "); text != c.want {
			t.Errorf("%s: %q, want %q", situation, text, c.want)
		}
	}
}

func TestRules(t *testing.T) {
	rules, err := ReadRules([]byte("folder,machine,driver,from,to,set,farm,by\n"+
		"hill,,,,,,Hill Farm,\n"+
		"2026/*,tractor 1*,,,,plough.toml,,\n"+
		",,anna,2026-04-01,2026-04-30,comb.toml,,Anna K.\n"+
		",,,,,harrow.toml,,\n"), "sets")
	if err != nil {
		t.Fatal(err)
	}
	day := func(s string) time.Time { d, _ := time.Parse(time.DateOnly, s); return d.Add(20 * time.Hour) }
	for situation, c := range map[string]struct {
		log   Log
		told  geo.Told
		begun time.Time
		want  string
	}{
		"by folder and machine":       {Log{Name: "2026/north/a.csv"}, geo.Told{Machine: "Tractor 12"}, time.Time{}, "sets/plough.toml, 2026, "},
		"a folder above":              {Log{Name: "hill/far/away/a.csv"}, geo.Told{}, time.Time{}, "sets/harrow.toml, Hill Farm, "},
		"by driver and day":           {Log{Name: "a.csv"}, geo.Told{Driver: "Anna"}, day("2026-04-30"), "sets/comb.toml, , Anna K."},
		"a day later":                 {Log{Name: "a.csv"}, geo.Told{Driver: "Anna"}, day("2026-05-01"), "sets/harrow.toml, , Anna"},
		"no day, and a rule asks one": {Log{Name: "a.csv"}, geo.Told{Driver: "Anna"}, time.Time{}, "sets/harrow.toml, , Anna"},
		"the list wins":               {Log{Name: "hill/a.csv", Set: "own.toml", Farm: "Own", Driver: "B"}, geo.Told{Driver: "Anna"}, day("2026-04-30"), "own.toml, Own, B"},
		"the log's own farm":          {Log{Name: "x/a.csv"}, geo.Told{Farm: "Told"}, time.Time{}, "sets/harrow.toml, Told, "},
	} {
		set, who := rules.about(c.log, c.told, c.begun)
		if got := filepath.ToSlash(set) + ", " + who.Farm + ", " + who.Driver; got != c.want {
			t.Errorf("%s: %q, want %q", situation, got, c.want)
		}
	}
	for text, want := range map[string]string{
		"folder,sett\n":                "no such column",
		"from,set\n14.4.2026,a.toml\n": "line 2: from 14.4.2026: must be a day like 2026-04-14",
		"folder,set\n[a,b.toml\n":      "line 2: [a: brackets must be closed",
		"folder,set\na,\n":             "line 2: says neither set nor farm nor by",
	} {
		if _, err := ReadRules([]byte(text), ""); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

// A log that cannot be brought has no path, only a name.
func TestFaultOfALogThatIsNotThere(t *testing.T) {
	f := faultOf(errors.New("s3://season/monday.csv: not there"), map[string]string{"": "monday.csv", "/tmp/log-1/tuesday.csv": "tuesday.csv"})
	if f.File != "monday.csv, tuesday.csv" || f.What != "s3://season/monday.csv: not there" {
		t.Errorf("%+v", f)
	}
}
