package bucket

import (
	"errors"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"balk/cmd/internal/batch"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
)

// store serves objects as a store does, and names itself by the usual variables.
func store(t *testing.T, objects map[string]string) {
	t.Helper()
	mem := s3mem.New()
	if err := mem.CreateBucket("season"); err != nil {
		t.Fatal(err)
	}
	for key, text := range objects {
		if _, err := mem.PutObject("season", key, map[string]string{"Last-Modified": "Mon, 02 Jan 2006 15:04:05 GMT"}, strings.NewReader(text), int64(len(text)), nil); err != nil {
			t.Fatal(err)
		}
	}
	s := httptest.NewServer(gofakes3.New(mem).Server())
	t.Cleanup(s.Close)
	t.Setenv("AWS_ENDPOINT_URL", s.URL)
	t.Setenv("AWS_ENDPOINT_URL_S3", "")
	t.Setenv("AWS_REGION", "us-east-1")
	t.Setenv("AWS_ACCESS_KEY_ID", "anyone")
	t.Setenv("AWS_SECRET_ACCESS_KEY", "anything")
}

func logsOf(t *testing.T, name string) (logs []batch.Log, err error) {
	t.Helper()
	for l, err := range Logs(t.Context(), name) {
		if err != nil {
			return nil, err
		}
		logs = append(logs, l)
	}
	return logs, nil
}

func TestLogs(t *testing.T) {
	store(t, map[string]string{
		"2026/a/north.geojson":           "{}",
		"2026/a/rows.shp":                "shp",
		"2026/a/rows.dbf":                "dbf",
		"2026/a/rows.PRJ":                "prj",
		"2026/b/alone.dbf":               "a table",
		"2026/b/TASKDATA/TASKDATA.XML":   "<x/>",
		"2026/b/TASKDATA/TLG00001.BIN":   "01",
		"2026/b/TASKDATA/TLG00001.XML":   "<y/>",
		"2026/.hidden/x.csv":             "x",
		"2026/c/.x.csv":                  "x",
		"2026/d/name with spaces, ä.csv": "x",
		"2025/old.csv":                   "x",
	})
	logs, err := logsOf(t, "s3://season/2026/")
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, l := range logs {
		names = append(names, l.Name)
	}
	want := []string{"a/north.geojson", "a/rows.shp", "b/TASKDATA/TASKDATA.XML", "b/alone.dbf", "d/name with spaces, ä.csv"}
	if !slices.Equal(names, want) {
		t.Fatalf("%q, wanted %q", names, want)
	}
	for name, beside := range map[string][]string{"a/rows.shp": {"rows.PRJ", "rows.dbf", "rows.shp"}, "b/TASKDATA/TASKDATA.XML": {"TASKDATA.XML", "TLG00001.BIN", "TLG00001.XML"}, "d/name with spaces, ä.csv": {"name with spaces, ä.csv"}} {
		l := logs[slices.Index(names, name)]
		file, done, err := Fetch(t.Context(), l)
		if err != nil {
			t.Fatal(err)
		}
		var found []string
		entries, err := os.ReadDir(filepath.Dir(file))
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			found = append(found, e.Name())
		}
		if !slices.Equal(found, beside) || filepath.Base(file) != beside[slices.Index(beside, filepath.Base(file))] {
			t.Errorf("%s: %q, wanted %q", name, found, beside)
		}
		done()
		if _, err := os.Stat(filepath.Dir(file)); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s: left behind (%v)", name, err)
		}
	}
}

// A listing comes in pages of 1000 keys (the S3 interface, ListObjectsV2).
func TestMoreThanAPage(t *testing.T) {
	objects := map[string]string{}
	for i := range 1203 {
		objects["x/"+strings.Repeat("y", i%5)+string(rune('a'+i%26))+strings.Repeat("z", i/26)] = "x"
	}
	store(t, objects)
	logs, err := logsOf(t, "s3://season")
	if err != nil || len(logs) != len(objects) {
		t.Fatalf("%d logs of %d, %v", len(logs), len(objects), err)
	}
}

func TestFaultsOfTheStore(t *testing.T) {
	store(t, map[string]string{"a": "x"})
	logs, err := logsOf(t, "s3://season")
	if err != nil || len(logs) != 1 || logs[0].Path != "s3://season/a" {
		t.Fatal(logs, err)
	}
	if _, done, err := Fetch(t.Context(), batch.Log{Name: "b", Path: "s3://season/b"}); !errors.Is(err, fs.ErrNotExist) || !strings.Contains(err.Error(), "s3://season/b") {
		t.Errorf("an object that is not there: %v", err)
	} else {
		done()
	}
	t.Setenv("TMPDIR", filepath.Join(t.TempDir(), "none"))
	if _, _, err := Fetch(t.Context(), logs[0]); err == nil || errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrPermission) {
		t.Errorf("a machine without a folder for logs is a fault of the log: %v", err)
	}
	if _, err := logsOf(t, "s3://other"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a bucket that is not there: %v", err)
	}
	for _, name := range []string{"s3://", "s3:///x", "https://x"} {
		if _, err := logsOf(t, name); err == nil || !strings.Contains(err.Error(), "must be like") {
			t.Errorf("%s: %v", name, err)
		}
	}
	t.Setenv("AWS_ENDPOINT_URL", "host:9000")
	if _, err := logsOf(t, "s3://season"); err == nil || !strings.Contains(err.Error(), "must be like https") {
		t.Errorf("an endpoint without scheme: %v", err)
	}
	refuses := httptest.NewServer(http.HandlerFunc(func(out http.ResponseWriter, _ *http.Request) {
		out.WriteHeader(http.StatusForbidden)
		_, _ = out.Write([]byte(`<?xml version="1.0"?><Error><Code>AccessDenied</Code></Error>`))
	}))
	t.Cleanup(refuses.Close)
	t.Setenv("AWS_ENDPOINT_URL", refuses.URL)
	if _, err := logsOf(t, "s3://season"); !errors.Is(err, fs.ErrPermission) {
		t.Errorf("a store that refuses: %v", err)
	}
}
