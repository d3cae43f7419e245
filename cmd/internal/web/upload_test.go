package web_test

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"balk/cmd/internal/web"
)

// zipped is a zip of files.
func zipped(t *testing.T, files map[string][]byte) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range slices.Sorted(maps.Keys(files)) {
		w, err := z.Create(name)
		if err == nil {
			_, err = w.Write(files[name])
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// A folder as it lies about, in several formats and with things that are nothing here, and a zip of it, give what their boundary, logs and set give.
func TestMixedFolders(t *testing.T) {
	dir := farm(t)
	files := map[string][]byte{"notes/photo.jpg": {0xff, 0xd8, 0xff, 0xe0}, "sheet.pdf": []byte("%PDF-1.4\n"), ".DS_Store": {0, 0, 0, 1}}
	for _, name := range []string{"fields.geojson", "fields.shp", "fields.shx", "fields.dbf", "fields.prj", "fields.cpg", "fields.zip", "track-pond.geojson", "track-pond.zip", "track-elbow.geojson", "sweep-mounted.toml", "README.txt"} {
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		files[name] = text
	}
	second := maps.Clone(files)
	second["sweep-trailed.toml"] = append(second["sweep-mounted.toml"], "# another\n"...)
	keep := filepath.Join(t.TempDir(), "kept")
	v := visit(t, "--keep", keep)
	put := func(files map[string][]byte) (s web.Source, status int, said string) {
		body, head := form(t, files, map[string]string{"rounds": "3"})
		status, _, text := v.ask("POST", "/api/sources", body, head)
		if status == http.StatusOK {
			if err := json.Unmarshal(text, &s); err != nil {
				t.Fatal(err)
			}
		}
		return s, status, string(text)
	}
	want := reported(t, pond(dir)...)
	for name, given := range map[string]map[string][]byte{"a folder": files, "a zip of it": {"farm.zip": zipped(t, files)}, "a zip in a folder": {"x/farm.ZIP": zipped(t, files), "x/readme.md": []byte("hello")}} {
		s, status, said := put(given)
		if status != http.StatusOK {
			t.Errorf("%s: %d %s", name, status, said)
			continue
		}
		if len(s.Files) != 3 { // one boundary, two logs
			t.Errorf("%s: the files %q", name, s.Files)
		}
		var seen web.View
		if err := json.Unmarshal(v.get("/api/operations/"+s.ID+".1/view?haste=1"), &seen); err != nil {
			t.Fatal(err)
		}
		if seen.Balance.Missed != want.Balance.Missed || !strings.Contains(seen.Command, "sweep-mounted.toml") {
			t.Errorf("%s: %g m² missed, want %g; %s", name, seen.Balance.Missed, want.Balance.Missed, seen.Command)
		}
	}
	bomb := map[string][]byte{"a.geojson": make([]byte, 80<<20), "b.txt": []byte("x")}
	for name, c := range map[string]struct {
		files map[string][]byte
		want  string
	}{
		"two sets":                 {second, "more than one file describes a set"},
		"a way out":                {map[string][]byte{"f.zip": zipped(t, map[string][]byte{"../../out.geojson": files["fields.geojson"], "b.txt": nil})}, "no name for a file"},
		"a way out, as on Windows": {map[string][]byte{"f.zip": zipped(t, map[string][]byte{`..\..\out.geojson`: files["fields.geojson"], "b.txt": nil})}, "no name for a file"},
		"its own call":             {map[string][]byte{"f.zip": zipped(t, map[string][]byte{"call.json": nil, "b.txt": nil})}, "no name for a file"},
		"a bomb":                   {map[string][]byte{"f.zip": zipped(t, bomb)}, "the limit is 200 to 1"},
		"nothing of use":           {map[string][]byte{"b.txt": []byte("hello"), "c.pdf": []byte("%PDF-1.4")}, "no log is among the files"},
	} {
		if _, status, said := put(c.files); status != http.StatusUnprocessableEntity || !strings.Contains(said, c.want) {
			t.Errorf("%s: %d %.300s, want %q", name, status, said, c.want)
		}
	}
	left, err := os.ReadDir(keep)
	if err != nil || len(left) != 3 {
		t.Errorf("%d folders left, want 3: %v", len(left), err)
	}
	if out, err := filepath.Glob(filepath.Join(filepath.Dir(keep), "*.geojson")); err != nil || len(out) > 0 {
		t.Error(fmt.Sprint("outside: ", out, err))
	}
}

// The log of a weather station among the files is told apart from boundary and logs, and told as balk check tells it; of two stations none is taken.
func TestWeatherAmongTheFiles(t *testing.T) {
	dir := farm(t)
	files := map[string][]byte{}
	for _, name := range []string{"fields.geojson", "track-pond.geojson", "sweep-mounted.toml", "weather.csv"} {
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		files[name] = text
	}
	v := visit(t, "--keep", filepath.Join(t.TempDir(), "kept"))
	body, head := form(t, files, map[string]string{"rounds": "3"})
	status, _, text := v.ask("POST", "/api/sources", body, head)
	var s web.Source
	if err := json.Unmarshal(text, &s); err != nil || status != http.StatusOK || len(s.Files) != 2 {
		t.Fatalf("%d %s: %v", status, text, err)
	}
	v.get("/api/sources/" + s.ID + "/events")
	var seen web.View
	if err := json.Unmarshal(v.get("/api/operations/"+s.ID+".1/view?haste=1"), &seen); err != nil {
		t.Fatal(err)
	}
	want := reportedWeather(t, append(pond(dir), "--weather", filepath.Join(dir, "weather.csv"))...)
	if !strings.HasPrefix(seen.Weather, "Weather: first rain of 1 mm or more "+want) || strings.Contains(seen.Weather, "..") || !strings.Contains(seen.Command, "--weather ") {
		t.Errorf("%q, want it to rain after %s; the command %q", seen.Weather, want, seen.Command)
	}
	files["station.csv"] = files["weather.csv"]
	body, head = form(t, files, map[string]string{"rounds": "3"})
	if status, _, text := v.ask("POST", "/api/sources", body, head); status < 400 || !strings.Contains(string(text), "station.csv, weather.csv") {
		t.Errorf("two stations: %d %s", status, text)
	}
}

// reportedWeather is how long it took to the first rain, by balk check.
func reportedWeather(t *testing.T, args ...string) string {
	t.Helper()
	out, code := balk(t, append([]string{"check", "--json"}, args...)...)
	var r struct {
		Weather struct{ After, FirstRain time.Time }
	}
	if err := json.Unmarshal([]byte(out), &r); code != 0 || err != nil {
		t.Fatalf("%d %v: %.300s", code, err, out)
	}
	return fmt.Sprintf("%.0f h after it", r.Weather.FirstRain.Sub(r.Weather.After).Hours())
}
