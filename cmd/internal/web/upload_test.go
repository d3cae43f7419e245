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
