package many

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	neturl "net/url"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/crew"
	"balk/cmd/internal/job"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/postgres"

	"github.com/jackc/pgx/v5"
	"github.com/paulmach/orb"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"
)

// asProcess is set where this test is run again as something else.
const asProcess = "BALK_MANY_TEST_AS"

func TestMain(m *testing.M) {
	switch os.Getenv(asProcess) {
	case "child":
		memory, err := strconv.ParseUint(os.Args[len(os.Args)-1], 10, 64)
		if err == nil {
			err = crew.Child(context.Background(), os.Stdin, os.Stdout, memory, odd{batch.Tree{}})
		}
		ended(err)
	case "worker":
		ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
		defer stop()
		d, err := Open(ctx, os.Args[1], slog.New(slog.NewTextHandler(os.Stderr, nil)))
		if err == nil {
			err = d.Work(ctx, options(1), time.Minute, NewMeters())
		}
		ended(err)
	}
	os.Exit(databases.Run(m))
}

func ended(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(0)
}

var databases postgres.Shared

func opened(t *testing.T, url string) *Database {
	t.Helper()
	d, err := Open(t.Context(), url, slog.New(slog.NewTextHandler(testWriter{t}, nil)))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(d.Close)
	return d
}

type testWriter struct{ t *testing.T }

func (w testWriter) Write(p []byte) (int, error) {
	w.t.Logf("%s", p)
	return len(p), nil
}

// options are those of workers in these tests: short leases and turns.
func options(workers int) Options {
	program, err := os.Executable()
	if err != nil {
		panic(err)
	}
	return Options{Name: NameOf(), Workers: workers, Processors: 1, Memory: 256 << 20, Most: 20 * time.Second, Lease: 1500 * time.Millisecond, Turn: 30 * time.Second,
		Program: "/usr/bin/env", Arguments: []string{asProcess + "=child", program}, Source: odd{batch.Tree{}}}
}

// odd opens files, with logs that take all memory, all time, or the process with them when they are opened; or that cannot be had the first
// time.
type odd struct{ batch.Source }

var hoard [][]byte

func (o odd) Open(ctx context.Context, l batch.Log) (string, func(), error) {
	once := func(what string) bool {
		f, err := os.OpenFile(l.Path+"."+what, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
		return err == nil && f.Close() == nil
	}
	switch {
	case strings.Contains(l.Name, "hungry-later") && once("surveyed"):
	case strings.Contains(l.Name, "hungry"):
		for {
			hoard = append(hoard, make([]byte, 16<<20))
		}
	case strings.Contains(l.Name, "slow") && !once("surveyed") && once("begun"):
		for _, err := os.Stat(l.Path + ".go"); err != nil; _, err = os.Stat(l.Path + ".go") {
			time.Sleep(10 * time.Millisecond)
		}
	case strings.Contains(l.Name, "endless"):
		<-ctx.Done()
	case strings.Contains(l.Name, "unlucky") && once("died"):
		os.Exit(3)
	case strings.Contains(l.Name, "away") && once("away"):
		return "", func() {}, fmt.Errorf("%s: the store does not answer", l.Name)
	}
	return o.Source.Open(ctx, l)
}

// The invented ground of these tests: fields of 60 by 40 m beside each other, each worked in rows of 6 m with one of them left out.
var home = geo.LocalAt(orb.Point{11.5, 48.1})

const long, broad, apart, width = 40.0, 60.0, 40.0, 6.0

// ground writes fields and a log for each into a folder, one in 20 of them broken, and gives the Spec of their batch.
func ground(t *testing.T, fields int) batch.Spec {
	t.Helper()
	dir := t.TempDir()
	write := func(name, text string) {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	inRow := int(math.Ceil(math.Sqrt(float64(fields))))
	at := func(field int, x, y float64) orb.Point {
		return home.Point(plane.XY{X: float64(field%inRow)*(broad+apart) + x, Y: float64(field/inRow)*(long+apart) + y})
	}
	begun := time.Date(2026, 4, 14, 6, 0, 0, 0, time.UTC)
	var all strings.Builder
	all.WriteString(`{"type":"FeatureCollection","features":[`)
	for f := range fields {
		var ring []string
		for _, c := range [][2]float64{{0, 0}, {broad, 0}, {broad, long}, {0, long}, {0, 0}} {
			p := at(f, c[0], c[1])
			ring = append(ring, fmt.Sprintf("[%.9f,%.9f]", p[0], p[1]))
		}
		if f > 0 {
			all.WriteString(",\n")
		}
		fmt.Fprintf(&all, `{"type":"Feature","properties":{"name":"Field %d"},"geometry":{"type":"Polygon","coordinates":[[%s]]}}`, f, strings.Join(ring, ","))
		name := fmt.Sprintf("logs/%03d/%d.csv", f/100, f)
		var log strings.Builder
		log.WriteString("time,longitude,latitude,state\n")
		switch f % 60 {
		case 19: // no log
			write(name, "what is this\n")
			continue
		case 39: // a head only
		case 59: // cut off in the middle of a number
			log.WriteString("2026-04-14T06:00:00Z,11.5,4")
		default:
			now := begun.AddDate(0, 0, f%28)
			for row := range int(broad / width) {
				if row == 4 {
					continue
				}
				for k := 0.0; k <= long; k += 8 {
					y := k
					if row%2 == 1 {
						y = long - k
					}
					p := at(f, width*(float64(row)+0.5), y)
					fmt.Fprintf(&log, "%s,%.9f,%.9f,working\n", now.Format(time.RFC3339), p[0], p[1])
					now = now.Add(4 * time.Second)
				}
				now = now.Add(20 * time.Second)
			}
		}
		write(name, log.String())
	}
	write("fields.geojson", all.String()+"]}")
	spec := batch.Spec{Sources: []string{filepath.Join(dir, "logs")}}
	spec.Check.Boundary = filepath.Join(dir, "fields.geojson")
	spec.Check.Use(rig.Implement{Width: width}, drive.WidthGiven)
	return spec
}

// forgets keeps nothing of logs.
type forgets struct{}

func (forgets) Surveyed(context.Context, string) (s batch.Survey, is bool, err error) { return }
func (forgets) KeepSurvey(context.Context, string, batch.Survey) error                { return nil }

// alone works a batch without queue and database, and gives its rows as lines, sorted.
func alone(t *testing.T, spec batch.Spec) []string {
	t.Helper()
	source, err := batch.Sources(t.Context(), spec.Sources, "")
	if err != nil {
		t.Fatal(err)
	}
	b, _, err := batch.Open(t.Context(), spec, source, new(job.Call))
	if err != nil {
		t.Fatal(err)
	}
	logs, err := b.Logs(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var surveys []batch.Survey
	for _, l := range logs {
		s, err := b.Survey(t.Context(), l, forgets{})
		if err != nil {
			t.Fatal(err)
		}
		surveys = append(surveys, s)
	}
	var lines []string
	for _, task := range b.Share(surveys) {
		rows, err := b.Work(t.Context(), task)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			lines = append(lines, line(t, r))
		}
	}
	slices.Sort(lines)
	return lines
}

// line is a row without what differs from time to time.
func line(t *testing.T, r batch.Row) string {
	t.Helper()
	r.Took = 0
	text, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	return string(text) + fmt.Sprint(r.Boundary)
}

// same compares lines, and shows the first that differ.
func same(t *testing.T, want, got []string) {
	t.Helper()
	if len(want) != len(got) {
		t.Errorf("%d rows, and %d were wanted", len(got), len(want))
	}
	for i := range min(len(want), len(got)) {
		if want[i] != got[i] {
			t.Errorf("row %d:\n%s\nwanted:\n%s", i, got[i], want[i])
			return
		}
	}
}

// kept are the rows of a batch in the database, as lines, sorted.
func kept(t *testing.T, d *Database, id int64) []string {
	t.Helper()
	var lines []string
	for r, err := range d.Rows(t.Context(), id) {
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, line(t, r))
	}
	slices.Sort(lines)
	return lines
}

// enqueued puts a batch into the queue.
func enqueued(t *testing.T, d *Database, spec batch.Spec) int64 {
	t.Helper()
	source, err := batch.Sources(t.Context(), spec.Sources, "")
	if err != nil {
		t.Fatal(err)
	}
	var logs []batch.Log
	for l, err := range source.Logs(t.Context()) {
		if err != nil {
			t.Fatal(err)
		}
		logs = append(logs, l)
	}
	id, running, err := d.Enqueue(t.Context(), spec, logs)
	if err != nil || running {
		t.Fatal(running, err)
	}
	return id
}

// wait waits until a batch is done.
func wait(t *testing.T, d *Database, id int64, most time.Duration) Status {
	t.Helper()
	for until := time.Now().Add(most); ; time.Sleep(50 * time.Millisecond) {
		s, err := d.Status(t.Context(), id)
		if err == nil && s.Done() {
			return s
		}
		if time.Now().After(until) {
			t.Fatalf("not done in %s: %+v, %v", most, s, err)
		}
	}
}

// here works bundles in this process until the test ends or stop is called.
func here(t *testing.T, d *Database, o Options) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- d.Work(ctx, o, time.Minute, NewMeters()) }()
	stop = sync.OnceFunc(func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
	t.Cleanup(stop)
	return stop
}

func TestRowsAreThoseOfWorkWithoutADatabase(t *testing.T) {
	t.Parallel()
	d := opened(t, databases.Database(t, false))
	spec := ground(t, 60)
	id := enqueued(t, d, spec)
	stop := here(t, d, options(2))
	s := wait(t, d, id, time.Minute)
	want := alone(t, spec)
	if len(want) < 50 {
		t.Fatalf("%d rows: the test sees nothing", len(want))
	}
	same(t, want, kept(t, d, id))
	if s.Operations != len(want) || s.Worked != len(want) || s.Logs != 60 || s.Surveyed != 60 {
		t.Errorf("%+v", s)
	}

	// The same again: all is there, nothing is worked.
	var before, after time.Time
	last := func(at *time.Time) {
		if err := d.pool.QueryRow(t.Context(), "SELECT max(at) FROM balk.result").Scan(at); err != nil {
			t.Fatal(err)
		}
	}
	last(&before)
	enqueued(t, d, spec)
	wait(t, d, id, time.Minute)
	last(&after)
	stop()
	if before != after {
		t.Errorf("worked again at %s, after %s", after, before)
	}
	same(t, want, kept(t, d, id))
}

// TestKilled kills workers, and their children with them, and the database: no operation is lost, and each is there once.
func TestKilledWorkersAndDatabase(t *testing.T) {
	operations, kills, restarts := 150, 3, 1
	if os.Getenv("BALK_LONG") != "" {
		operations, kills, restarts = 10_000, 50, 3
	}
	url := databases.Database(t, false)
	d := opened(t, url)
	spec := ground(t, operations)
	began := time.Now()
	want := alone(t, spec)
	lonely := time.Since(began)
	began = time.Now()
	id := enqueued(t, d, spec)
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	var procs [3]*exec.Cmd
	begin := func(i int) {
		procs[i] = exec.Command(program, url)
		procs[i].Env = append(os.Environ(), asProcess+"=worker")
		procs[i].Stderr = io.Discard
		procs[i].SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
		if err := procs[i].Start(); err != nil {
			t.Fatal(err)
		}
	}
	kill := func(i int) {
		if err := syscall.Kill(-procs[i].Process.Pid, syscall.SIGKILL); err != nil {
			t.Fatal(err)
		}
		_ = procs[i].Wait() // killed
	}
	for i := range procs {
		begin(i)
	}
	defer func() {
		for i := range procs {
			kill(i)
		}
	}()
	rng := rand.New(rand.NewPCG(20, uint64(operations)))
	// A kill after each part of the work that is as long as the others, and restarts between.
	for k := range kills {
		target := operations * (k + 1) / (kills + 2)
		for until := time.Now().Add(10 * time.Minute); ; time.Sleep(20 * time.Millisecond) {
			s, err := d.Status(t.Context(), id)
			if err == nil && s.Worked+s.Surveyed >= target*2 || time.Now().After(until) {
				break
			}
		}
		i := rng.IntN(len(procs))
		kill(i)
		begin(i)
		if restarts > 0 && k%(kills/restarts) == 0 {
			if err := databases.Server(t).Restart(300 * time.Millisecond); err != nil {
				t.Fatal(err)
			}
		}
	}
	s := wait(t, d, id, time.Duration(operations)*time.Second)
	t.Logf("%d operations: %s without queue, %s with 3 workers, %d kills and %d restarts; %+v", len(want), lonely, time.Since(began), kills, restarts, s)
	same(t, want, kept(t, d, id))
}

// renamed changes a log of the ground: another name, which does what odd.Open says.
func renamed(t *testing.T, spec batch.Spec, field int, name string) {
	t.Helper()
	dir := filepath.Join(spec.Sources[0], "000")
	if err := os.Rename(filepath.Join(dir, fmt.Sprintf("%d.csv", field)), filepath.Join(dir, name)); err != nil {
		t.Fatal(err)
	}
}

// One log that takes all memory, one that never ends, one whose process dies once, and one that cannot be had once: the first two are
// failures with their reason, the others and all else are worked.
func TestCulprits(t *testing.T) {
	t.Parallel()
	d := opened(t, databases.Database(t, false))
	spec := ground(t, 12)
	for field, name := range map[int]string{2: "hungry.csv", 4: "endless.csv", 6: "unlucky.csv", 8: "away.csv"} {
		renamed(t, spec, field, name)
	}
	o := options(1)
	o.Most = 1500 * time.Millisecond
	id := enqueued(t, d, spec)
	here(t, d, o)
	s := wait(t, d, id, time.Minute)
	if s.Operations != 10 || s.Worked != 10 || s.Failed != 0 || s.GivenUp != 0 {
		t.Errorf("%+v", s)
	}
	faults := map[string]string{}
	for _, l := range surveysOf(t, d, id) {
		if l.Fault != nil {
			faults[filepath.Base(l.Log.Name)] = l.Fault.What
		}
	}
	if len(faults) != 2 || !strings.Contains(faults["hungry.csv"], "256 MiB") || !strings.Contains(faults["hungry.csv"], "out of memory") || !strings.Contains(faults["endless.csv"], "took longer than 1.5s") {
		t.Errorf("%q", faults)
	}
}

func surveysOf(t *testing.T, d *Database, id int64) (all []batch.Survey) {
	t.Helper()
	rows, err := d.pool.Query(t.Context(), "SELECT survey FROM balk.log WHERE batch = $1 ORDER BY place", id)
	if err != nil {
		t.Fatal(err)
	}
	var s batch.Survey
	for rows.Next() {
		s = batch.Survey{}
		if err := rows.Scan(&s); err != nil {
			t.Fatal(err)
		}
		all = append(all, s)
	}
	if rows.Err() != nil {
		t.Fatal(rows.Err())
	}
	return all
}

// An operation that its child dies of, after a survey that went well, is a row that says why; those before and behind it are worked.
func TestCulpritAmongOperations(t *testing.T) {
	t.Parallel()
	d := opened(t, databases.Database(t, false))
	spec := ground(t, 8)
	renamed(t, spec, 3, "hungry-later.csv")
	id := enqueued(t, d, spec)
	here(t, d, options(1))
	wait(t, d, id, time.Minute)
	rows := 0
	for r, err := range d.Rows(t.Context(), id) {
		if err != nil {
			t.Fatal(err)
		}
		rows++
		if hungry := r.FieldName == "Field 3"; hungry != (r.State == batch.Failed) || hungry && (!strings.Contains(r.Fault.What, "256 MiB") || !strings.Contains(r.Fault.File, "hungry") || r.Boundary == nil) {
			t.Errorf("%+v %v", r, r.Fault)
		}
	}
	if rows != 8 {
		t.Errorf("%d rows of 8", rows)
	}
}

// A worker that is stopped finishes what is in hand and gives back the rest at once: the next goes on without waiting for a lease.
func TestStopGivesBack(t *testing.T) {
	t.Parallel()
	d := opened(t, databases.Database(t, false))
	spec := ground(t, 12)
	renamed(t, spec, 5, "slow.csv")
	slow := filepath.Join(spec.Sources[0], "000", "slow.csv")
	id := enqueued(t, d, spec)
	o := options(1)
	o.Lease = time.Minute
	stop := here(t, d, o)
	for _, err := os.Stat(slow + ".begun"); err != nil; _, err = os.Stat(slow + ".begun") {
		time.Sleep(10 * time.Millisecond)
	}
	time.AfterFunc(200*time.Millisecond, func() {
		if err := os.WriteFile(slow+".go", nil, 0o600); err != nil {
			t.Error(err)
		}
	})
	stop()
	if s, err := d.Status(t.Context(), id); err != nil || s.Worked != 6 || s.Done() { // fields 0 to 4, and that in hand
		t.Fatalf("%+v, %v", s, err)
	}
	var running, faults int
	if err := d.pool.QueryRow(t.Context(), "SELECT count(*) FILTER (WHERE state = 'running'), coalesce(max(cardinality(errors)), 0) FROM balk.river_job").Scan(&running, &faults); err != nil || running+faults != 0 {
		t.Errorf("%d jobs are held by a worker that ended, %d have faults (%v)", running, faults, err)
	}
	o.Name = NameOf()
	here(t, d, o)
	wait(t, d, id, 20*time.Second)
	same(t, alone(t, spec), kept(t, d, id))
}

// A worker that comes back after its lease ended has nothing to say: the bundle is another's.
func TestLostLease(t *testing.T) {
	t.Parallel()
	d := opened(t, databases.Database(t, false))
	w := &worker{Database: d, Options: options(1)}
	if err := d.take(t.Context(), 1, w.Name, time.Minute); err != nil {
		t.Fatal(err)
	}
	b := &inHand{worker: w, job: 1}
	changes := 0
	change := func(pgx.Tx) error { changes++; return nil }
	if err := b.kept(t.Context(), change); err != nil {
		t.Fatal(err)
	}
	if err := d.take(t.Context(), 1, "another", time.Minute); err != nil {
		t.Fatal(err)
	}
	if err := d.renew(t.Context(), []int64{1}, w.Name, time.Minute); err != nil {
		t.Fatal(err)
	}
	if err := b.kept(t.Context(), change); !errors.Is(err, errLost) || changes != 1 {
		t.Errorf("%v, %d changes", err, changes)
	}
}

// What is cancelled is not worked, and what is put back is.
func TestCancelAndAgain(t *testing.T) {
	t.Parallel()
	d := opened(t, databases.Database(t, false))
	spec := ground(t, 5)
	id := enqueued(t, d, spec)
	if n, err := d.Cancel(t.Context(), id); n != 1 || err != nil {
		t.Fatal(n, err)
	}
	if s, err := d.Status(t.Context(), id); err != nil || !s.Done() || s.Cancelled != 1 {
		t.Errorf("%+v, %v", s, err)
	}
	if n, err := d.Again(t.Context(), id); n != 1 || err != nil {
		t.Fatal(n, err)
	}
	here(t, d, options(1))
	if s := wait(t, d, id, time.Minute); s.Worked != 5 || s.Cancelled != 0 {
		t.Errorf("%+v", s)
	}
	if _, err := d.Cancel(t.Context(), 99); err == nil || !strings.Contains(err.Error(), "no batch 99") {
		t.Error(err)
	}
}

// The form is brought forward by whoever comes first, also in a database without PostGIS; a newer one is refused.
func TestForm(t *testing.T) {
	t.Parallel()
	url := databases.Database(t, true)
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			d, err := Open(t.Context(), url, slog.New(slog.DiscardHandler))
			if err != nil {
				t.Error(err)
				return
			}
			d.Close()
		})
	}
	all.Wait()
	d := opened(t, url)
	// By the tables of the standard (OGC 06-104r4, geometry_columns): what and where a general reader looks for.
	var kind string
	var number int
	if err := d.pool.QueryRow(t.Context(), "SELECT type, srid FROM geometry_columns WHERE f_table_schema = 'balk' AND f_table_name = 'result' AND f_geometry_column = 'boundary'").Scan(&kind, &number); err != nil || kind != "MULTIPOLYGON" || number != 4326 {
		t.Errorf("%s %d, %v", kind, number, err)
	}
	if _, err := d.pool.Exec(t.Context(), "UPDATE balk.form SET version = 99"); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), url, slog.New(slog.DiscardHandler)); err == nil || !strings.Contains(err.Error(), "version 99") {
		t.Errorf("a newer form: %v", err)
	}
	if _, err := Open(t.Context(), "mysql://secret@x", slog.New(slog.DiscardHandler)); err == nil || strings.Contains(err.Error(), "secret") {
		t.Errorf("no such database: %v", err)
	}
}

// Texts that PostgreSQL cannot hold are kept as far as it can.
func TestOddTexts(t *testing.T) {
	t.Parallel()
	d := opened(t, databases.Database(t, false))
	b, _, err := batch.Open(t.Context(), ground(t, 1), odd{}, new(job.Call))
	if err != nil {
		t.Fatal(err)
	}
	row := b.Failed(batch.Task{Key: "k", Field: 1, Farm: "a\x00b\xffc", Parts: []batch.Part{{Log: batch.Log{Name: "\x00"}}}}, "\x00")[0]
	if err := pgx.BeginFunc(t.Context(), d.pool, func(tx pgx.Tx) error { return put(t.Context(), tx, "k", []batch.Row{row}, "w") }); err != nil {
		t.Fatal(err)
	}
	var name string
	if err := d.pool.QueryRow(t.Context(), "SELECT farm FROM balk.result").Scan(&name); err != nil || name != "a\uFFFDb\uFFFDc" {
		t.Errorf("%q, %v", name, err)
	}
	if err := pgx.BeginFunc(t.Context(), d.pool, func(tx pgx.Tx) error { return put(t.Context(), tx, "other", []batch.Row{row}, "w") }); err == nil {
		t.Error("a row of another operation was kept")
	}
}

// What GDAL and a general SQL client find: as many rows, the same areas.
func TestReadByOthers(t *testing.T) {
	t.Parallel()
	url := databases.Database(t, false)
	d := opened(t, url)
	spec := ground(t, 20)
	id := enqueued(t, d, spec)
	here(t, d, options(1))
	wait(t, d, id, time.Minute)
	n, area, strips, missed := 0, 0.0, 0, 0.0
	for r, err := range d.Rows(t.Context(), id) {
		if err != nil {
			t.Fatal(err)
		}
		n++
		area += r.Area
		for _, s := range r.Missing {
			strips++
			missed += s.Area
		}
	}
	run := func(name string, args ...string) string {
		t.Helper()
		program, err := exec.LookPath(name)
		if err != nil {
			check.Skip(t, name+" is not installed")
		}
		out, err := exec.Command(program, args...).CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v\n%s", name, err, out)
		}
		return string(out)
	}
	if got, want := run("psql", "-At", url, "-c", "SELECT count(*), round(sum(area)::numeric, 3), bool_and(ST_IsValid(boundary)) FROM balk.result"), fmt.Sprintf("%d|%.3f|t\n", n, area); got != want {
		t.Errorf("psql: %q, wanted %q", got, want)
	}
	if strips < n/2 {
		t.Fatalf("%d strips: the test sees nothing", strips)
	}
	// Areas of shapes on the ellipsoid, which is the field's plane to 1e-7; corners are rounded to a tenth of a millimetre along some kilometres of edges.
	if got, want := run("psql", "-At", url, "-c", fmt.Sprintf("SELECT count(*), round(sum(area)::numeric, 3), bool_and(ST_IsValid(shape)), abs(sum(ST_Area(shape::geography)) - %.6f) < 0.05 FROM balk.strip", missed)), fmt.Sprintf("%d|%.3f|t|t\n", strips, missed); got != want {
		t.Errorf("psql: %q, wanted %q", got, want)
	}
	parts := strings.Split(url, "?host=")
	at, _, _ := strings.Cut(parts[1], "&")
	host, err := neturl.QueryUnescape(at)
	if err != nil {
		t.Fatal(err)
	}
	for table, features := range map[string]int{"result": n, "strip": strips} {
		got := run("ogrinfo", "-ro", "-so", "PG:dbname="+strings.TrimPrefix(parts[0], "postgres:///")+" host="+host+" user=balk schemas=balk", table)
		for _, want := range []string{fmt.Sprintf("Feature Count: %d", features), "Geometry: Multi Polygon", "WGS 84"} {
			if !strings.Contains(got, want) {
				t.Errorf("%s: ogrinfo does not say %q:\n%s", table, want, got)
			}
		}
	}
}

// Metrics are told in the form that their readers know (https://prometheus.io/docs/instrumenting/exposition_formats/), and health follows
// the database.
func TestMetersAndHealth(t *testing.T) {
	m := NewMeters()
	h := m.handler(time.Second)
	get := func(path string) (int, string) {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
		return w.Code, w.Body.String()
	}
	if code, _ := get("/healthz"); code != http.StatusServiceUnavailable {
		t.Errorf("before the database answered: %d", code)
	}
	m.beaten(true)
	if code, _ := get("/healthz"); code != http.StatusOK {
		t.Errorf("after it answered: %d", code)
	}
	m.beaten(false)
	m.beat.Store(time.Now().Add(-2 * time.Second).UnixNano())
	if code, _ := get("/healthz"); code != http.StatusServiceUnavailable {
		t.Errorf("a lease after it answered: %d", code)
	}
	for _, s := range []batch.State{batch.Judged, batch.Judged, batch.NoWork, batch.Failed, batch.Judged} {
		m.count(s)
	}
	m.took.add(40 * time.Millisecond)
	m.took.add(2 * time.Hour)
	// Read by the library of that form.
	_, text := get("/metrics")
	parser := expfmt.NewTextParser(model.UTF8Validation)
	all, err := parser.TextToMetricFamilies(strings.NewReader(text))
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	states := map[string]float64{}
	for _, one := range all["balk_operations_total"].GetMetric() {
		states[one.GetLabel()[0].GetValue()] = one.GetCounter().GetValue()
	}
	h2 := all["balk_operation_seconds"].GetMetric()[0].GetHistogram()
	if states["judged"] != 3 || states["no work"] != 1 || states["failed"] != 1 || h2.GetSampleCount() != 2 || h2.GetSampleSum() != 7200.04 || h2.GetBucket()[2].GetCumulativeCount() != 1 || h2.GetBucket()[1].GetCumulativeCount() != 0 {
		t.Errorf("%v %v", states, h2)
	}
	if _, err := m.Serve(t.Context(), "300.300.300.300:1", time.Second); err == nil {
		t.Error("an address that there is not")
	}
}

// So many small logs are in the queue within 30 s, and as many operations (BALK_LONG: 100,000).
func TestEnqueueMany(t *testing.T) {
	t.Parallel()
	n := 2_000
	if os.Getenv("BALK_LONG") != "" {
		n = 100_000
	}
	d := opened(t, databases.Database(t, false))
	logs, tasks := make([]batch.Log, n), make([]batch.Task, n)
	for i := range logs {
		logs[i] = batch.Log{Name: fmt.Sprintf("farm %d/log-%d.csv", i/100, i), Path: fmt.Sprintf("/logs/farm %d/log-%d.csv", i/100, i)}
		tasks[i] = batch.Task{Key: fmt.Sprintf("%064x", i), Field: i, Parts: []batch.Part{{Log: logs[i], SHA256: fmt.Sprintf("%064x", i)}}, Bytes: 100_000}
	}
	began := time.Now()
	id, _, err := d.Enqueue(t.Context(), batch.Spec{}, logs)
	if err != nil {
		t.Fatal(err)
	}
	surveys := time.Since(began)
	client, err := d.sender()
	if err != nil {
		t.Fatal(err)
	}
	began = time.Now()
	if err := pgx.BeginFunc(t.Context(), d.pool, func(tx pgx.Tx) error { return d.plan(t.Context(), client, tx, id, tasks) }); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d logs in the queue in %s, as many operations in %s", n, surveys, time.Since(began))
	s, err := d.Status(t.Context(), id)
	var jobs int
	if err == nil {
		err = d.pool.QueryRow(t.Context(), "SELECT count(*) FROM balk.river_job WHERE state = 'available'").Scan(&jobs)
	}
	if err != nil || s.Logs != n || s.Operations != n || jobs != 2*n/PerBundle {
		t.Errorf("%d jobs, %+v, %v", jobs, s, err)
	}
	if _, running, err := d.Enqueue(t.Context(), batch.Spec{}, logs); !running || err != nil {
		t.Errorf("the same again while it is in the queue: %v, %v", running, err)
	}
}
