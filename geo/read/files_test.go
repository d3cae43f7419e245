package read

import (
	"archive/zip"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// Every file that a reader opens is kept: those named by the call, those in folders and those beside them.
func TestFilesKeepWhatIsOpened(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	// Invented: task data with a header and no records, and the head of a shapefile with nothing behind it.
	tasks := write("tasks/TASKDATA.XML", `<ISO11783_TaskData><TSK A="TSK1"><TLG A="TLG00001"/></TSK></ISO11783_TaskData>`)
	header := write("tasks/TLG00001.XML", `<TIM A="" D="4"><PTN A="" B=""/></TIM>`)
	records := write("tasks/TLG00001.BIN", "\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00")
	head := make([]byte, 100)
	copy(head, []byte{0, 0, 0x27, 0x0a})
	head[27], head[28], head[32] = 50, 0xe8, 1
	head[29] = 3
	shape := write("logs/a.shp", string(head))
	prj := write("logs/a.prj", "no system")
	dbf := write("logs/a.dbf", "no table")
	line := write("logs/deep/b.geojson", "{}")
	plan := write("plan.geojson", "{}")
	packed := filepath.Join(dir, "c.zip")
	z, err := os.Create(packed)
	if err != nil {
		t.Fatal(err)
	}
	if err := zip.NewWriter(z).Close(); err != nil {
		t.Fatal(err)
	}
	z.Close()
	gpkg := write("d.gpkg", sqliteMagic+string(make([]byte, 200)))
	wal := write("d.gpkg-wal", "waiting")
	other := write("e.geojson", "{}")

	var files Files
	var entered []string
	files.Before = func(dir string) error { entered = append(entered, dir); return nil }
	for _, path := range []string{filepath.Join(dir, "tasks"), filepath.Join(dir, "logs"), packed, gpkg} {
		Tracks(path, TrackOptions{Files: &files}) // whether there is a track in it does not matter here
		Fields(path, Options{Files: &files})
	}
	Lines(plan, Taking{}, &files)
	for _, path := range []string{tasks, header, records, shape, prj, dbf, line, plan, packed, gpkg, wal} {
		link := path + ".link"
		if err := os.Link(path, link); err != nil {
			t.Fatal(err)
		}
		info, err := os.Stat(link)
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := files.Opened(info); !ok || got != path {
			t.Errorf("%s was opened, and is kept as %q (%v)", path, got, ok)
		}
	}
	for _, path := range []string{other, filepath.Join(dir, "logs")} {
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := files.Opened(info); ok {
			t.Errorf("%s was not read, and is kept as %q", path, got)
		}
	}
	slices.Sort(entered)
	want := []string{dir, filepath.Join(dir, "logs"), filepath.Join(dir, "logs", "deep"), filepath.Join(dir, "tasks")}
	if !slices.Equal(entered, want) {
		t.Errorf("entered %q, want each folder once: %q", entered, want)
	}
	files.Before = func(string) error { return fs.ErrPermission }
	if _, _, err := Lines(filepath.Join(dir, "elsewhere", "x"), Taking{}, &files); err == nil {
		t.Error("a folder that may not be entered was read from")
	}
}
