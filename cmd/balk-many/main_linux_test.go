package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/signal"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/many"
	"balk/cmd/internal/queue"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/export/words"
	"balk/testdata/postgres"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
	"github.com/parquet-go/parquet-go"
)

// TestMain lets this test be the process that a worker starts.
func TestMain(m *testing.M) {
	if len(os.Args) == 2 && (os.Args[1] == "plain" || os.Args[1] == "seldom") {
		os.Exit(asPlain(os.Args[1]))
	}
	if len(os.Args) == 3 && os.Args[1] == "child" || len(os.Args) == 2 && os.Args[1] == "run" {
		os.Exit(queue.Serve(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr, sources))
	}
	if len(os.Args) > 1 && os.Args[1] == "worker" {
		ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
		defer stop()
		os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
	}
	os.Exit(databases.Run(m))
}

var databases postgres.Shared

// called is a call that ends with an exit code.
func called(t *testing.T, want int, in string, args ...string) (out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	if code := run(t.Context(), args, strings.NewReader(in), &o, &e); code != want {
		t.Fatalf("%q: exit %d, wanted %d\n%s%s", args, code, want, o.String(), e.String())
	}
	return o.String(), e.String()
}

// Three invented fields side by side, of 60 by 40 m, and the log of rows of 6 m on each.
func fieldsAndLogs() (fields string, logs map[string]string) {
	logs = map[string]string{}
	var rings []string
	const metre = 1 / 111194.0
	for f := range 3 {
		west := 11.5 + float64(f)*0.002
		at := func(x, y float64) string { return fmt.Sprintf("%.8f,%.8f", west+x*metre*1.5, 48.1+y*metre) }
		rings = append(rings, fmt.Sprintf(`{"type":"Feature","properties":{"name":"Field %d"},"geometry":{"type":"Polygon","coordinates":[[[%s],[%s],[%s],[%s],[%s]]]}}`, f, at(0, 0), at(60, 0), at(60, 40), at(0, 40), at(0, 0)))
		var log strings.Builder
		log.WriteString("time,longitude,latitude,state\n")
		for k := range 60 {
			row, along := k/6, float64(k%6*8)
			if row%2 == 1 {
				along = 40 - along
			}
			fmt.Fprintf(&log, "2026-04-1%dT06:%02d:%02dZ,%s,working\n", f+1, k*5/60, k*5%60, at(float64(row)*6+3, along))
		}
		logs[fmt.Sprintf("farm %d/log.csv", f)] = log.String()
	}
	return `{"type":"FeatureCollection","features":[` + strings.Join(rings, ",") + `]}`, logs
}

// A batch out of a store, from its Spec to the file of its results: the same operations, by their keys, as from the disk.
func TestFromAStore(t *testing.T) {
	url := databases.Database(t, false)
	t.Setenv("BALK_DATABASE", url)
	store := s3mem.New()
	if err := store.CreateBucket("season"); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	fields, logs := fieldsAndLogs()
	logs["farm 2/readme.txt"] = "no log at all"
	for name, text := range logs {
		if _, err := store.PutObject("season", "2026/"+name, map[string]string{"Last-Modified": "Mon, 02 Jan 2006 15:04:05 GMT"}, strings.NewReader(text), int64(len(text)), nil); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(dir, "logs", filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	boundary := filepath.Join(dir, "fields.geojson")
	if err := os.WriteFile(boundary, []byte(fields), 0o644); err != nil {
		t.Fatal(err)
	}
	s3 := httptest.NewServer(gofakes3.New(store).Server())
	defer s3.Close()
	t.Setenv("AWS_ENDPOINT_URL", s3.URL)
	t.Setenv("AWS_ACCESS_KEY_ID", "anyone")
	t.Setenv("AWS_SECRET_ACCESS_KEY", "anything")
	t.Setenv("AWS_REGION", "us-east-1")

	l, err := net.Listen("tcp", "127.0.0.1:0") // a port that is free
	if err != nil {
		t.Fatal(err)
	}
	address := l.Addr().String()
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	var worked bytes.Buffer
	ends := make(chan int, 1)
	go func() {
		ends <- run(ctx, []string{"worker", "--log", "json", "--listen", address, "--memory", "512", "--lease", "2s"}, strings.NewReader(""), &worked, &worked)
	}()
	keys := map[string][]string{}
	for _, source := range []string{filepath.Join(dir, "logs"), "s3://season/2026"} {
		spec := batch.Spec{Sources: []string{source}}
		spec.Check.Boundary = boundary
		spec.Check.Use(rig.Implement{Name: "harrow", Width: 6}, drive.WidthFile)
		text, err := json.Marshal(spec)
		if err != nil {
			t.Fatal(err)
		}
		args := []string{"enqueue", "--watch"}
		if source[0] == 's' { // by flags, and not as JSON
			set := filepath.Join(dir, "harrow.toml")
			if err := os.WriteFile(set, []byte("name = \"harrow\"\nwidth = 6.0\n"), 0o644); err != nil {
				t.Fatal(err)
			}
			args = append(args, source, "--fields", boundary, "--implement", set)
		}
		out, _ := called(t, ok, string(text), args...)
		if !strings.Contains(out, "3 of 3 operations worked, 0 of them failed; done") {
			t.Errorf("%s: %s", source, out)
		}
		to := filepath.Join(dir, fmt.Sprintf("results-%d.parquet", len(keys)))
		called(t, ok, "", "results", "--out", to)
		if _, errs := called(t, failed, "", "results", "--out", to); !strings.Contains(errs, "exists") {
			t.Errorf("a file that is there: %s", errs)
		}
		type row struct {
			Key  string   `parquet:"key"`
			Area *float64 `parquet:"area,optional"`
		}
		rows, err := parquet.ReadFile[row](to)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			keys[source] = append(keys[source], r.Key)
			if r.Area == nil || *r.Area < 2300 || *r.Area > 2500 { // 60 · 40 m²; 1.5 m of longitude are 1.002 m here
				t.Errorf("%s: %v m²", source, r.Area)
			}
		}
		if len(rows) != 3 {
			t.Errorf("%s: %d rows", source, len(rows))
		}
	}
	if a, b := keys[filepath.Join(dir, "logs")], keys["s3://season/2026"]; !slices.Equal(a, b) {
		t.Errorf("%q from the disk, %q from the store", a, b)
	}
	answer, err := http.Get("http://" + address + "/healthz")
	if err != nil || answer.StatusCode != http.StatusOK {
		t.Errorf("health: %v, %v", answer, err)
	}
	if err == nil {
		_ = answer.Body.Close() // it was not read
	}
	answer, err = http.Get("http://" + address + "/metrics")
	if err != nil {
		t.Fatal(err)
	}
	told, err := io.ReadAll(answer.Body)
	_ = answer.Body.Close() // it was read whole
	page, fault := os.ReadFile("README.md")
	if err = errors.Join(err, fault); err != nil {
		t.Fatal(err)
	}
	var listed, counted []string // by the page, and by the worker
	for _, m := range regexp.MustCompile("(?m)^\\| `([a-z_]+)`").FindAllSubmatch(page, -1) {
		listed = append(listed, string(m[1]))
	}
	for _, m := range regexp.MustCompile(`(?m)^# TYPE (\S+)`).FindAllSubmatch(told, -1) {
		counted = append(counted, string(m[1]))
	}
	if !slices.Equal(listed, counted) || len(counted) < 6 {
		t.Errorf("README lists %q, /metrics tells %q", listed, counted)
	}
	for _, want := range []string{"\nbalk_operations_total{state=\"judged\"} 3\n", "\nbalk_child_deaths_total 0\n", "\nbalk_logs_surveyed_total 8\n"} {
		if !strings.Contains(string(told), want) {
			t.Errorf("no %q in\n%s", want, told)
		}
	}
	stop()
	if code := <-ends; code != ok {
		t.Errorf("the worker ended with %d:\n%s", code, worked.String())
	}
	for line := range strings.Lines(worked.String()) {
		if !json.Valid([]byte(line)) {
			t.Errorf("no JSON: %s", line)
		}
	}
}

// How far a batch is, in both languages.
func TestFar(t *testing.T) {
	s := many.Status{Batch: 7, Logs: 12, Surveyed: 12, LogsFailed: 1, Shared: true, Operations: 11, Worked: 5, Failed: 2, Open: 3, GivenUp: 1, Cancelled: 1, Fault: "the lease ended: another worker has this bundle", Rate: 2.5, Remaining: 7260, Workers: 1}
	for l, want := range map[words.Language]string{
		words.English: "batch 7: 5 of 11 operations worked, 2 of them failed; 1 log could not be used, 2.5 a second, 2:01 h left; 1 bundle given up; 1 bundle cancelled; 1 worker at work; the last fault: the lease ended: another worker has this bundle",
		words.German:  "Stapel 7: 5 von 11 Arbeitsgängen geprüft, davon 2 fehlgeschlagen; nicht verwendbar: 1 Aufzeichnung, 2,5 je Sekunde, noch 2:01 h; 1 Bündel aufgegeben; 1 Bündel abgebrochen; 1 Arbeiter bei der Arbeit; der letzte Fehler: die Frist ist um: ein anderer hat dieses Bündel",
	} {
		if got := far(l, s); got != want {
			t.Errorf("%s:\n%s, want\n%s", l, got, want)
		}
	}
	early := far(words.German, many.Status{Batch: 7, Logs: 12, Surveyed: 5, Open: 1, Workers: 2})
	if want := "Stapel 7: 5 von 12 Aufzeichnungen angesehen; 2 Arbeiter bei der Arbeit"; early != want {
		t.Errorf("%s, want %s", early, want)
	}
	if done := far(words.English, many.Status{Batch: 7, Logs: 1, Surveyed: 1, Shared: true, Operations: 1, Worked: 1}); done != "batch 7: 1 of 1 operations worked, 0 of them failed; done" {
		t.Error(done)
	}
}

func TestWrongCalls(t *testing.T) {
	t.Setenv("BALK_DATABASE", "")
	url := databases.Database(t, false)
	called(t, failed, "", "status", "--database", url) // its tables are made now
	for args, want := range map[string]struct {
		code int
		says string
	}{
		"worker":                               {wrongCall, "no database"},
		"enqueue logs --database postgres:///": {failed, "database"},
		"worker --wrong":                       {wrongCall, "--wrong"},
		"status 1 2 --database postgres:///":   {wrongCall, "at most 1"},
		"cancel --database postgres:///":       {wrongCall, "1 arg"},
		"status --database mysql://x":          {failed, "must be like postgres://"},
		"status --database postgres://nobody@127.0.0.1:1/x?connect_timeout=2": {failed, "127.0.0.1"},
		"status --log loud --database postgres:///":                           {wrongCall, "text or json"},
		"status --language fr --database postgres:///":                        {wrongCall, "must be en or de"},
		"worker --language de":                                                {wrongCall, "keine Datenbank ist genannt"},
		"status x --language de --database " + url:                            {wrongCall, `Stapel "x": muss seine Nummer sein`},
	} {
		if _, errs := called(t, want.code, "", strings.Fields(args)...); !strings.Contains(errs, want.says) || strings.Count(errs, "\n") != 1 {
			t.Errorf("%s: %s", args, errs)
		}
	}
}
