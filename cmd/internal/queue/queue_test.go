package queue

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/crew"
	"balk/cmd/internal/job"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// side of the invented square fields, which lie in a row, and the width of the set, m.
const side, width = 30.0, 6.0

var home = geo.LocalAt(orb.Point{11.5, 48.1})

// season writes n invented fields with a log each, every twentieth log broken, and gives what to do with them.
func season(t testing.TB, dir string, n int) batch.Spec {
	t.Helper()
	var fields []string
	for i := range n {
		east := float64(i) * 2 * side
		var ring []string
		for _, c := range [][2]float64{{0, 0}, {side, 0}, {side, side}, {0, side}, {0, 0}} {
			p := home.Point(plane.XY{X: east + c[0], Y: c[1]})
			ring = append(ring, fmt.Sprintf("[%.9f,%.9f]", p[0], p[1]))
		}
		fields = append(fields, fmt.Sprintf(`{"type":"Feature","properties":{"name":"Field %d"},"geometry":{"type":"Polygon","coordinates":[[%s]]}}`, i+1, strings.Join(ring, ",")))
		var log strings.Builder
		log.WriteString("time,longitude,latitude,state\n")
		at := time.Date(2026, 4, 14, 6, 0, 0, 0, time.UTC).Add(time.Duration(i) * time.Hour)
		for row := range 5 {
			if i%7 == 3 && row == 2 {
				continue // left out
			}
			for k := 0.0; k <= side; k += 3 {
				y := k
				if row%2 == 1 {
					y = side - k
				}
				p := home.Point(plane.XY{X: east + width*(float64(row)+0.5), Y: y})
				fmt.Fprintf(&log, "%s,%.9f,%.9f,working\n", at.Format(time.RFC3339), p[0], p[1])
				at = at.Add(time.Second)
			}
		}
		text := log.String()
		if i%20 == 7 {
			text = `{"type":"FeatureCollection","features":[{"type":"Fea`
		}
		put(t, filepath.Join(dir, "logs", fmt.Sprintf("%02d", i%10), fmt.Sprintf("%05d.csv", i)), text)
	}
	s := batch.Spec{Sources: []string{filepath.Join(dir, "logs")}, Out: filepath.Join(dir, "out")}
	s.Check = job.Spec{Boundary: put(t, filepath.Join(dir, "fields.geojson"), `{"type":"FeatureCollection","features":[`+strings.Join(fields, ",\n")+"]}")}
	s.Check.Use(rig.Implement{Name: "harrow", Width: width}, drive.WidthGiven)
	return s
}

func put(t testing.TB, path, text string) string {
	t.Helper()
	if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), os.WriteFile(path, []byte(text), 0o644)); err != nil {
		t.Fatal(err)
	}
	return path
}

func read(t testing.TB, parts ...string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(parts...))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// TestMain lets this test be a process that works operations, and the program that is asked.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && (os.Args[1] == "child" || os.Args[1] == "run") {
		os.Exit(Serve(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr, batch.Sources))
	}
	os.Exit(m.Run())
}

// worked is what comes of a run.
func worked(t testing.TB, s batch.Spec) (batch.Report, error) {
	t.Helper()
	s.Most = cmp.Or(s.Most, time.Minute)
	return Run(t.Context(), s, os.Args[0], batch.Sources, nil, nil)
}

// Any number of workers gives the same tables, and a second run works nothing out again.
func TestWorkers(t *testing.T) {
	dir := t.TempDir()
	s := season(t, dir, 40)
	var first string
	for _, workers := range []int{1, 4} {
		s.Out, s.Workers = filepath.Join(dir, fmt.Sprint("out", workers)), workers
		rep, err := worked(t, s)
		if err != nil {
			t.Fatal(err)
		}
		if rep.Logs != 38 || rep.Totals.All.Operations != 38 || len(rep.Faults) != 2 || rep.Totals.All.Fields != 38 {
			t.Errorf("%d workers: %d logs, %+v, %d failed", workers, rep.Logs, rep.Totals.All, len(rep.Faults))
		}
		if n := strings.Count(read(t, s.Out, "failures.csv"), "failed,0"); n != 2 {
			t.Errorf("%d workers: failures.csv lists %d:\n%s", workers, n, read(t, s.Out, "failures.csv"))
		}
		all := read(t, s.Out, "results.csv") + read(t, s.Out, "totals.csv")
		if first == "" {
			first = all
		}
		if all != first {
			t.Errorf("the tables of %d workers are others than those of one", workers)
		}
	}
	began := modified(t, s.Out)
	again, err := worked(t, s)
	if err != nil || again.Totals.All.Operations != 38 {
		t.Fatalf("again: %v, %+v", err, again.Totals.All)
	}
	if now := modified(t, s.Out); now != began {
		t.Errorf("the store was written again: %s, before %s", now, began)
	}
}

// modified are the rows of a store with how long each took: a row worked out again took another time.
func modified(t *testing.T, out string) string {
	t.Helper()
	s, err := OpenStore(t.Context(), out, false)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var b strings.Builder
	for r, err := range s.Rows(t.Context()) {
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintln(&b, r.Key, r.Took)
	}
	return b.String()
}

// TestKilled kills a run again and again at random, until it ends by itself: each operation is there once, none is lost.
func TestKilled(t *testing.T) {
	if dir := os.Getenv("BALK_BATCH_DIE"); dir != "" {
		s := season(t, dir, 60)
		if _, err := worked(t, s); err != nil {
			t.Fatal(err)
		}
		return
	}
	dir, clean := t.TempDir(), t.TempDir()
	s := season(t, clean, 60)
	if _, err := worked(t, s); err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(1, 2))
	kills := 0
	for ended := false; !ended; {
		c := exec.Command(os.Args[0], "-test.run", "^TestKilled$")
		c.Env = append(os.Environ(), "BALK_BATCH_DIE="+dir)
		var said bytes.Buffer
		c.Stdout, c.Stderr = &said, &said
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		done := make(chan error, 1)
		go func() { done <- c.Wait() }()
		var after <-chan time.Time
		if kills < 8 {
			after = time.After(time.Duration(50+r.IntN(500)) * time.Millisecond)
		}
		select {
		case err := <-done:
			if err != nil {
				t.Fatalf("after %d kills: %v\n%s", kills, err, said.String())
			}
			ended = true
		case <-after:
			if err := c.Process.Kill(); err != nil && !errors.Is(err, os.ErrProcessDone) {
				t.Fatal(err)
			}
			<-done
			kills++
		}
	}
	t.Logf("%d kills", kills)
	got, want := read(t, dir, "out", "results.csv"), read(t, clean, "out", "results.csv")
	if got != want {
		t.Errorf("after %d kills the results are others:\n%s\nwant\n%s", kills, got, want)
	}
	seen := map[string]bool{}
	for line := range strings.Lines(got) {
		if seen[line] {
			t.Errorf("twice: %s", line)
		}
		seen[line] = true
	}
}

// kept notes what is kept, and how often.
type kept struct {
	sync.Mutex
	times map[string]int
	fails int // so many changes fail first
}

func (k *kept) keep(_ context.Context, some []entry) error {
	k.Lock()
	defer k.Unlock()
	if k.fails > 0 && len(some) > 0 {
		k.fails--
		return errors.New("the disk is full")
	}
	if k.times == nil {
		k.times = map[string]int{}
	}
	for _, e := range some {
		k.times[e.key]++
	}
	return nil
}

// A fault of machinery is tried again, and stops no other work; one that stays is told, and what was done stays done: all is kept, once. What could not be
// kept is done again.
func TestFaultsOfMachinery(t *testing.T) {
	for _, fails := range []int{0, 1} {
		var mu sync.Mutex
		calls := map[int]int{}
		store := &kept{fails: fails}
		r := &run{dir: t.TempDir(), workers: 2, keep: store.keep}
		err := r.all(t.Context(), "", 40, func(_ context.Context, i int) (entry, error) {
			mu.Lock()
			defer mu.Unlock()
			if calls[i]++; i == 11 && calls[i] == 1 {
				return entry{}, errors.New("the disk is full")
			}
			if i == 12 {
				return entry{}, nil // nothing to keep
			}
			return entry{key: fmt.Sprint(i)}, nil
		})
		if err != nil {
			t.Fatal(err)
		}
		again := 0
		for i := range 40 {
			if calls[i] > 1 {
				again++
			}
			if store.times[fmt.Sprint(i)] != map[bool]int{true: 0, false: 1}[i == 12] || calls[i] < 1 || calls[i] > 2+fails {
				t.Errorf("%d was called %d times and kept %d times", i, calls[i], store.times[fmt.Sprint(i)])
			}
		}
		if fails == 0 && again != 1 || fails == 1 && again < 1 {
			t.Errorf("%d changes failed, and %d were called again", fails, again)
		}
	}
}

// Who interrupts a run gets it back at once, and what it had done is kept, so that it goes on where it was.
func TestInterrupted(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	var n atomic.Int64
	store := &kept{}
	r := &run{dir: t.TempDir(), workers: 2, keep: store.keep}
	err := r.all(ctx, "", 1000, func(ctx context.Context, i int) (entry, error) {
		if n.Add(1) == 20 {
			stop()
		}
		return entry{key: fmt.Sprint(i)}, ctx.Err()
	})
	if !errors.Is(err, context.Canceled) || n.Load() > 30 {
		t.Errorf("%v after %d calls, 20 were let through", err, n.Load())
	}
	if len(store.times) < 18 { // another may have been in hand when it ended
		t.Errorf("%d kept, at least 18 were done", len(store.times))
	}
}

func TestStatusAndLock(t *testing.T) {
	dir := t.TempDir()
	s := season(t, dir, 12)
	if _, err := StatusOf(t.Context(), s.Out); err == nil || !strings.Contains(err.Error(), "no folder of a batch") {
		t.Errorf("before: %v", err)
	}
	if _, err := worked(t, s); err != nil {
		t.Fatal(err)
	}
	st, err := StatusOf(t.Context(), s.Out)
	if err != nil || st != (batch.Status{Logs: 12, Looked: 12, LogsFailed: 1, Tasks: 11, Done: 11}) {
		t.Errorf("%+v, %v", st, err)
	}
	free, err := hold(t.Context(), s.Out)
	if err != nil {
		t.Fatal(err)
	}
	if st, err = StatusOf(t.Context(), s.Out); err != nil || !st.Running {
		t.Errorf("while it runs: %+v, %v", st, err)
	}
	if _, err := worked(t, s); !errors.As(err, new(*AtWork)) {
		t.Errorf("two at once: %v", err)
	}
	if err := free(); err != nil {
		t.Fatal(err)
	}
	if _, err := worked(t, s); err != nil {
		t.Errorf("after it: %v", err)
	}
	put(t, filepath.Join(s.Out, Dir, storeFile), "no database")
	if _, err := worked(t, s); err == nil || !strings.Contains(err.Error(), "no results that can be read") {
		t.Errorf("a broken store: %v", err)
	}
}

// Plan forgets what is not of the run any more.
func TestPlan(t *testing.T) {
	s, err := OpenStore(t.Context(), t.TempDir(), true)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	tasks := []batch.Task{{Key: "a"}, {Key: "b"}, {Key: "c"}}
	for _, one := range tasks[:2] {
		rows, err := crew.KeptOf([]batch.Row{{Key: one.Key, Part: 1, State: batch.Judged}, {Key: one.Key, Part: 2, State: batch.Failed}})
		if err == nil {
			err = s.Keep(t.Context(), []entry{{key: one.Key, rows: rows}})
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	open, err := s.Plan(t.Context(), nil, tasks[1:])
	if err != nil || len(open) != 1 || open[0].Key != "c" {
		t.Errorf("open %v, %v, want c", open, err)
	}
	var keys []string
	for r, err := range s.Rows(t.Context()) {
		if err != nil {
			t.Fatal(err)
		}
		keys = append(keys, fmt.Sprint(r.Key, r.Part))
	}
	if want := []string{"b1", "b2"}; !slices.Equal(keys, want) {
		t.Errorf("rows %v, want %v", keys, want)
	}
}

// Bundles get smaller towards the end, where single ones are left for all workers, and there are few of them.
func TestBundles(t *testing.T) {
	for _, workers := range []int{1, 2, 16} {
		for _, n := range []int{1, 7, 200, 10_000} {
			last, single, bundles := largestBundle, 0, 0
			for left := n; left > 0; left -= last {
				size := bundleOf(left, workers)
				if size < 1 || size > last || size > left {
					t.Fatalf("%d left for %d workers: a bundle of %d after one of %d", left, workers, size, last)
				}
				if last = size; size == 1 {
					single++
				}
				bundles++
			}
			if most := n/largestBundle + 4*workers*8; single < min(n, workers) || bundles > most {
				t.Errorf("%d for %d workers: %d bundles of at most %d, %d of one", n, workers, bundles, most, single)
			}
		}
	}
}

// Rows come as they were kept, in their order, and one that cannot be read is an error with the file, after none behind it.
func TestRows(t *testing.T) {
	dir := t.TempDir()
	s, err := OpenStore(t.Context(), dir, true)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	const n = 1000
	var some []entry
	for i := range n {
		key := fmt.Sprintf("%04d", (i*617)%n) // 617 and n have no factor in common: each once
		row := batch.Row{Key: key, Part: 1, Field: i % 7, Answer: strings.Repeat("answer ", i%5)}
		text, err := json.Marshal(row)
		if err != nil {
			t.Fatal(err)
		}
		some = append(some, entry{key: key, rows: []crew.Kept{{Part: 1, Field: row.Field, Row: text}}})
	}
	if err := s.Keep(t.Context(), some); err != nil {
		t.Fatal(err)
	}
	got := 0
	var last batch.Row
	for r, err := range s.Rows(t.Context()) {
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(some, func(e entry) bool { return e.key == r.Key })
		if r.Field < last.Field || r.Field == last.Field && r.Key <= last.Key || r.Field != i%7 || r.Answer != strings.Repeat("answer ", i%5) {
			t.Fatalf("%+v after %+v", r, last)
		}
		got, last = got+1, r
	}
	if got != n {
		t.Errorf("%d rows of %d", got, n)
	}
	if _, err := s.db.ExecContext(t.Context(), `UPDATE row SET row = '{"key":' WHERE field = 3 AND key = (SELECT max(key) FROM row WHERE field = 3)`); err != nil {
		t.Fatal(err)
	}
	got = 0
	for r, err := range s.Rows(t.Context()) {
		if got++; err != nil {
			if !strings.HasPrefix(err.Error(), s.path+": ") || r.Key != "" {
				t.Errorf("%v, %+v", err, r)
			}
			got = -got
		} else if got < 0 || r.Field > 3 {
			t.Fatalf("%+v behind the one that cannot be read", r)
		}
	}
	if got >= 0 {
		t.Error("no error")
	}
}

// A run whose asker is gone ends by itself, and the next goes on where it was.
func TestEndsWithItsAsker(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	s := season(t, dir, 480) // far more than are done before progress is first told
	s.Most = time.Minute
	text, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(os.Args[0], "run")
	in, err := c.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	said, err := c.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(c.Start(), wrote(in, text)); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(said)
	for lines.Scan() && !strings.Contains(lines.Text(), `"Done":`) { // it is at work
	}
	if err := in.Close(); err != nil { // as the system does for a process that was killed
		t.Fatal(err)
	}
	var last string
	for lines.Scan() {
		last = lines.Text()
	}
	err = c.Wait()
	ended, is := errors.AsType[*exec.ExitError](err)
	if !is || ended.ExitCode() != 130 || !strings.Contains(last, "context canceled") {
		t.Errorf("%v, %s", err, last)
	}
	st, err := StatusOf(t.Context(), s.Out)
	if err != nil || st.Running {
		t.Errorf("%+v, %v", st, err)
	}
	if rep, err := worked(t, s); err != nil || rep.Totals.All.Operations != 456 {
		t.Errorf("%+v, %v", rep.Totals.All, err)
	}
}

func wrote(w io.Writer, text []byte) error {
	_, err := w.Write(text)
	return err
}

// A log that takes more than its process may have, and one that takes longer, are failures with their reason; the others are worked.
func TestLimits(t *testing.T) {
	t.Parallel()
	if runtime.GOOS != "linux" {
		t.Skip("memory is limited on Linux")
	}
	dir := t.TempDir()
	s := season(t, dir, 4)
	s.Memory, s.Workers = 64, 1 // the others need less than 32, the large one 110 to 144 (measured)
	var log strings.Builder     // of 1,500,000 fixes on the second field
	log.WriteString("time,longitude,latitude,state\n")
	p := home.Point(plane.XY{X: 2*side + 3, Y: 3})
	at := time.Date(2026, 5, 14, 6, 0, 0, 0, time.UTC)
	for i := range 1_500_000 {
		fmt.Fprintf(&log, "%s,%.9f,%.9f,working\n", at.Add(time.Duration(i)*time.Second).Format(time.RFC3339), p[0]+float64(i%97)*1e-7, p[1]+float64(i/97)*1e-8)
	}
	put(t, filepath.Join(dir, "logs", "99", "large.csv"), log.String())
	rep, err := worked(t, s)
	if err != nil {
		t.Fatal(err)
	}
	if rep.Totals.All.Operations != 4 || len(rep.Faults) != 1 || !strings.Contains(rep.Faults[0].String(), "99/large.csv: it could not be worked within the limits of 64 MiB and 1m0s: ") {
		t.Errorf("%+v, %v", rep.Totals.All, rep.Faults)
	}
	s.Memory, s.Most, s.Out = 0, time.Millisecond, s.Out+"2"
	const longer = "took longer than 1ms"
	if rep, err = worked(t, s); err != nil && !strings.Contains(err.Error(), longer) || err == nil && (len(rep.Faults) != 5 || !strings.Contains(rep.Faults[0].What, longer)) {
		t.Errorf("%v, %v", rep.Faults, err) // on a busy machine looking which fields a log is of takes that long
	}
}
