package queue

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"runtime"
	"sync/atomic"
	"time"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/crew"
	"balk/cmd/internal/job"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"
)

const (
	// A bundle of the queue has at most so many logs or tasks: whatever they are, a bundle costs the queue some milliseconds.
	largestBundle = 100
	// A bundle is this part of what is left for each worker: the last ones are small, so that no worker waits long for another.
	bundlesEach = 4
	// A bundle that a fault of machinery ends is tried so often, after 1 and 16 s more.
	attempts = 3
	// glance is how often progress is told.
	glance = 500 * time.Millisecond
	// What is found out is kept in one change for so much time: a change takes as long as keeping ten results. A kill loses that work, which is done again.
	held = 200 * time.Millisecond
)

// Sources are those of names, without what lies in the folder out (batch.Sources).
type Sources func(ctx context.Context, named []string, out string) (batch.Source, error)

// Run works a batch in the folder Out of its Spec, by processes of a program that do what Serve does with "child". What is wrong with logs
// is in the report. Errors as job.Run; then what was done so far is kept, and the next run goes on from it.
func Run(ctx context.Context, s batch.Spec, program string, sources Sources, call *job.Call, progress func(batch.Progress)) (rep batch.Report, err error) {
	source, err := sources(ctx, s.Sources, s.Out)
	if err != nil {
		return rep, err
	}
	b, findings, err := batch.Open(ctx, s, source, call)
	rep.Findings = findings
	if err != nil {
		return rep, err
	}
	store, err := OpenStore(ctx, s.Out, true)
	if err != nil {
		return rep, err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	free, err := hold(ctx, s.Out)
	if err != nil {
		return rep, err
	}
	defer func() { err = errors.Join(err, free()) }()
	logs, err := b.Logs(ctx)
	if err != nil {
		return rep, err
	}
	say := func(string) {}
	if call != nil && call.Say != nil {
		say = call.Say
	}
	work := crew.Work{}
	if work.Spec, err = json.Marshal(s); err != nil {
		return rep, err
	}
	r := &run{dir: filepath.Join(s.Out, Dir), workers: s.Workers, keep: store.Keep, progress: progress}
	if r.workers == 0 {
		r.workers = runtime.GOMAXPROCS(0)
	}
	// Where there are fewer logs than processors each process has several of them.
	c := &crew.Crew{Program: program, Arguments: []string{"child"}, Memory: uint64(s.Memory) << 20, Most: s.Most, Processors: max(1, runtime.GOMAXPROCS(0)/max(1, min(r.workers, len(logs))))}
	defer c.End()
	if err := store.Begin(ctx, len(logs)); err != nil {
		return rep, err
	}
	surveyed := store.Surveyed
	if some, err := store.AnySurvey(ctx); err != nil {
		return rep, err
	} else if !some {
		surveyed = nil
	}
	surveys := make([]batch.Survey, len(logs))
	err = r.all(ctx, "reading logs", len(logs), func(ctx context.Context, i int) (e entry, err error) {
		surveys[i], e.key, err = c.Survey(ctx, work, logs[i], surveyed)
		e.survey = &surveys[i]
		return e, err
	})
	if err != nil {
		return rep, err
	}
	tasks, err := store.Plan(ctx, surveys, b.Share(surveys))
	if err != nil {
		return rep, err
	}
	err = r.all(ctx, "checking operations", len(tasks), func(ctx context.Context, i int) (entry, error) {
		worked, err := c.Work(ctx, work, tasks[i])
		return entry{key: tasks[i].Key, rows: worked.Rows}, err
	})
	if err != nil {
		return rep, err
	}
	return rep, rep.Fill(ctx, s, surveys, b.Bounded(store.Rows(ctx)), say)
}

// run is a run at work.
type run struct {
	dir      string
	workers  int
	keep     func(context.Context, []entry) error
	progress func(batch.Progress) // nil = nobody asks
}

// bundle is what the queue hands out: some numbers.
type bundle struct {
	From int `json:"from"`
	To   int `json:"to"`
}

// Kind is the name of bundles in the queue.
func (bundle) Kind() string { return "bundle" }

// worker does what the numbers of a bundle stand for. What was done of it stays done when it comes again.
type worker struct {
	river.WorkerDefaults[bundle]
	ctx  context.Context // of the run
	do   func(ctx context.Context, i int) (entry, error)
	keep func(context.Context, []entry) error
	turn chan struct{} // has room for as many as work at a time: one bundle more is in hand, so that nobody waits for the queue to be asked
	done []atomic.Bool // and kept
	n    atomic.Int64
}

// Work is called by the queue. A fault of one number stops no other; the first is given back, and the bundle comes again.
func (w *worker) Work(_ context.Context, j *river.Job[bundle]) error {
	var first error
	failed := func(err error) {
		if first == nil {
			first = err
		}
	}
	var some []entry
	var numbers []int
	since := time.Now()
	keep := func() {
		if err := w.keep(context.WithoutCancel(w.ctx), some); err != nil { // what is done is kept, though the run is to end
			failed(err)
		} else {
			for _, i := range numbers {
				w.done[i].Store(true)
			}
			w.n.Add(int64(len(numbers)))
		}
		some, numbers, since = nil, nil, time.Now()
	}
	for i := j.Args.From; i < j.Args.To; i++ {
		if w.done[i].Load() {
			continue
		}
		err := w.ctx.Err()
		var e entry
		if err == nil {
			w.turn <- struct{}{}
			e, err = w.do(w.ctx, i)
			<-w.turn
		}
		if err != nil {
			failed(err)
			continue
		}
		if numbers = append(numbers, i); e.key != "" {
			some = append(some, e)
		}
		if time.Since(since) >= held {
			keep()
		}
	}
	keep()
	return first
}

// all does something for all numbers below n, by the queue.
func (r *run) all(ctx context.Context, what string, n int, do func(ctx context.Context, i int) (entry, error)) (err error) {
	if n == 0 || ctx.Err() != nil {
		return ctx.Err()
	}
	path := filepath.Join(r.dir, queueFile)
	for _, suffix := range []string{"", "-wal", "-shm", "-journal"} { // of a process that is gone: what it left undone has no rows
		if err := os.Remove(path + suffix); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	db, err := open(path, patience, "journal_mode(WAL)", "synchronous(OFF)") // lost with the power, it is built anew
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1)
	defer func() { err = errors.Join(err, db.Close()) }()
	driver := riversqlite.New(db)
	quiet := slog.New(slog.DiscardHandler)
	migrator, err := rivermigrate.New(driver, &rivermigrate.Config{Logger: quiet})
	if err != nil {
		return err
	}
	if _, err := migrator.Migrate(ctx, rivermigrate.DirectionUp, nil); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	w := &worker{ctx: ctx, do: do, keep: r.keep, turn: make(chan struct{}, r.workers), done: make([]atomic.Bool, n)}
	known := river.NewWorkers()
	river.AddWorker(known, w)
	client, err := river.NewClient(driver, &river.Config{
		Workers: known, Queues: map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: r.workers + 1}}, Logger: quiet, MaxAttempts: attempts,
		FetchCooldown: 10 * time.Millisecond, FetchPollInterval: 20 * time.Millisecond, JobTimeout: -1,
		PollOnly: true, // all bundles are there before it starts: there is nobody to listen to
	})
	if err != nil {
		return err
	}
	var bundles []river.InsertManyParams
	for from := 0; from < n; {
		to := from + bundleOf(n-from, r.workers)
		bundles = append(bundles, river.InsertManyParams{Args: bundle{from, to}})
		from = to
	}
	ended, unsubscribe := client.SubscribeConfig(&river.SubscribeConfig{
		Kinds: []river.EventKind{river.EventKindJobCompleted, river.EventKindJobFailed, river.EventKindJobCancelled}, ChanSize: attempts*len(bundles) + 1, // none is dropped
	})
	defer unsubscribe()
	const most = 1000 // rows of one INSERT
	for from := 0; from < len(bundles); from += most {
		if _, err := client.InsertManyFast(ctx, bundles[from:min(from+most, len(bundles))]); err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
	}
	if err := client.Start(context.WithoutCancel(ctx)); err != nil {
		return err
	}
	failed := r.wait(ctx, what, len(bundles), ended, w)
	stop := client.Stop
	if ctx.Err() != nil {
		stop = client.StopAndCancel
	}
	if err := stop(context.WithoutCancel(ctx)); err != nil {
		return err
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return failed
}

// bundleOf is the size of the next bundle where so many logs or tasks are left: large ones first, that cost the queue little, and single
// ones at the end (guided self-scheduling: Polychronopoulos and Kuck, IEEE Transactions on Computers 36, 1987, from memory).
func bundleOf(left, workers int) int { return min(max(left/(workers*bundlesEach), 1), largestBundle) }

// wait waits until all bundles are done or given up, and tells progress. It gives the first reason of one given up.
func (r *run) wait(ctx context.Context, what string, bundles int, ended <-chan *river.Event, w *worker) error {
	tick := time.NewTicker(glance)
	defer tick.Stop()
	began := time.Now()
	var first error
	for bundles > 0 {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-tick.C:
			if r.progress != nil {
				r.progress(batch.Progress{What: what, Done: int(w.n.Load()), Of: len(w.done), Since: time.Since(began)})
			}
		case e := <-ended:
			switch {
			case e.Kind == river.EventKindJobCompleted:
				bundles--
			case e.Job.FinalizedAt != nil: // no attempt is left
				bundles--
				if n := len(e.Job.Errors); first == nil && n > 0 {
					first = fmt.Errorf("given up after %d attempts: %s", n, e.Job.Errors[n-1].Error)
				}
			}
		}
	}
	return first
}
