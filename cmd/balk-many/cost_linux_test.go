package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/crew"
	"balk/cmd/internal/job"
)

// plain works the batch whose Spec is on stdin in one loop, without queue, store or other processes: it writes the rows to a file as they come, and the same
// tables from it.
func plain(ctx context.Context, in io.Reader) error {
	var spec batch.Spec
	if err := json.NewDecoder(in).Decode(&spec); err != nil {
		return err
	}
	source, err := sources(ctx, spec.Sources, spec.Out)
	if err != nil {
		return err
	}
	b, findings, err := batch.Open(ctx, spec, source, new(job.Call))
	if err != nil {
		return err
	}
	logs, err := b.Logs(ctx)
	if err != nil {
		return err
	}
	var surveys []batch.Survey
	for _, l := range logs {
		s, err := b.Survey(ctx, l, forgetful{})
		if err != nil {
			return err
		}
		surveys = append(surveys, s)
	}
	kept, err := os.CreateTemp(filepath.Dir(spec.Out), "rows")
	if err != nil {
		return err
	}
	defer kept.Close()
	lines := json.NewEncoder(kept)
	for _, t := range b.Share(surveys) {
		of, err := b.Work(ctx, t)
		if err != nil {
			return err
		}
		for _, r := range of {
			if err := lines.Encode(r); err != nil {
				return err
			}
		}
	}
	if _, err := kept.Seek(0, io.SeekStart); err != nil {
		return err
	}
	rep := batch.Report{Findings: findings}
	return rep.Fill(ctx, spec, surveys, b.Bounded(func(yield func(batch.Row, error) bool) {
		for d := json.NewDecoder(kept); d.More(); {
			var r batch.Row
			if err := d.Decode(&r); !yield(r, err) || err != nil {
				return
			}
		}
	}), func(string) {})
}

// forgetful keeps no survey.
type forgetful struct{}

func (forgetful) Surveyed(context.Context, string) (s batch.Survey, is bool, err error) {
	return s, false, nil
}
func (forgetful) KeepSurvey(context.Context, string, batch.Survey) error { return nil }

// What the queue takes on top of the work, as processor time of all processes beside that of a plain loop on one processor, which collects its garbage as Go
// does, or as seldom as the processes of the queue (crew.Floor); and how much sooner two processors are done than one, which says something
// on a quiet machine only, beside what two loops on two processors do at once. Nothing is asked of these figures here: BALK_COST says of how
// many logs (40).
func TestWhatTheQueueCosts(t *testing.T) {
	n := 40
	if text := os.Getenv("BALK_COST"); text != "" {
		var err error
		if n, err = strconv.Atoi(text); err != nil {
			t.Fatal(err)
		}
	}
	pin, err := exec.LookPath("taskset")
	if err != nil {
		t.Log("there is no taskset: all run on as many processors as there are")
	}
	t.Run("small logs, a twentieth of whole fields", func(t *testing.T) { whatTheQueueCosts(t, pin, n, mostlySmall) })
	t.Run("logs of whole fields", func(t *testing.T) { whatTheQueueCosts(t, pin, n/2, wholeFields) })
}

func whatTheQueueCosts(t *testing.T, pin string, n, every int) {
	dir := t.TempDir()
	spec := season(t, dir, n, every)
	var first []byte
	runs := 0
	start := func(what string, processors, on int) (end func() (spent, took time.Duration)) {
		runs++
		spec.Out, spec.Workers = filepath.Join(dir, fmt.Sprint(what, runs)), processors
		text, err := json.Marshal(spec)
		if err != nil {
			t.Fatal(err)
		}
		call := []string{os.Args[0], what}
		if pin != "" && processors == 1 {
			call = append([]string{pin, "-c", strconv.Itoa(on)}, call...)
		}
		c := exec.Command(call[0], call[1:]...)
		in, err := c.StdinPipe() // open until the end: who asked being gone ends it
		if err != nil {
			t.Fatal(err)
		}
		var said bytes.Buffer
		c.Stderr = &said
		began := time.Now()
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		if _, err := in.Write(text); err != nil {
			t.Fatal(err)
		}
		out := spec.Out
		return func() (spent, took time.Duration) {
			if err := c.Wait(); err != nil {
				t.Fatalf("%s: %v\n%s", what, err, said.String())
			}
			took = time.Since(began)
			table, err := os.ReadFile(filepath.Join(out, "totals.csv"))
			if err != nil {
				t.Fatal(err)
			}
			if first == nil {
				first = table
			}
			if !bytes.Equal(table, first) || bytes.Count(table, []byte("\n")) < 8 {
				t.Errorf("%s on %d: other totals than the first:\n%s", what, processors, table)
			}
			return c.ProcessState.UserTime() + c.ProcessState.SystemTime(), took // with those of its own processes (wait4)
		}
	}
	run := func(what string, processors int) (spent, took time.Duration) { return start(what, processors, 0)() }
	const times = 3 // by turns, of which the least counts: what others do on the machine makes processor time longer, never shorter
	const never = time.Duration(math.MaxInt64)
	loop, seldom, queued, one, two, alone, both := never, never, never, never, never, never, never
	for range times {
		spent, _ := run("plain", 1)
		loop = min(loop, spent)
		spent, took := run("seldom", 1)
		seldom, alone = min(seldom, spent), min(alone, took)
		other := start("seldom", 1, 1)
		_, took = run("seldom", 1)
		_, longer := other()
		both = min(both, max(took, longer))
		spent, took = run("run", 1)
		queued, one = min(queued, spent), min(one, took)
		_, took = run("run", 2)
		two = min(two, took)
	}
	more := func(than time.Duration) float64 { return 100 * (queued.Seconds()/than.Seconds() - 1) }
	t.Logf("%d logs: %.2f s of processor in a loop, %.2f in one that collects its garbage as seldom as the queue, %.2f with the queue on one processor: %+.1f and %+.1f %%; two processors %.2f times as fast as one, where two loops at once do %.2f times as much as one", n, loop.Seconds(), seldom.Seconds(), queued.Seconds(), more(loop), more(seldom), one.Seconds()/two.Seconds(), 2*alone.Seconds()/both.Seconds())
}

// asPlain is what TestMain does as "plain" and "seldom".
func asPlain(as string) int {
	if as == "seldom" {
		defer crew.Floor()()
	}
	if err := plain(context.Background(), os.Stdin); err != nil && !errors.Is(err, io.EOF) {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}
