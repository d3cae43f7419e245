package many

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"os"
	"sync"
	"time"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/crew"
	"balk/cmd/internal/job"
	"balk/geo"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivertype"
)

// Options are those of a worker. All are needed but Memory.
type Options struct {
	Name       string        // of this worker, as no other has it
	Workers    int           // operations at a time, each in a process of its own
	Processors int           // that each of them uses
	Memory     uint64        // bytes of address space each of them may take; 0 = no limit
	Most       time.Duration // that one operation may take
	Lease      time.Duration // after which a worker that is not heard of loses its bundles
	Turn       time.Duration // after which the rest of a bundle goes back to the queue
	Program    string        // that is started as child, with Arguments and the limit of memory
	Arguments  []string
	Source     batch.Source // opens logs
}

// worker takes bundles from the queue.
type worker struct {
	river.WorkerDefaults[bundleArgs]
	*Database
	Options
	*Meters
	driver *riverpgxv5.Driver
	client *river.Client[pgx.Tx]
	crew   *crew.Crew
	stops  <-chan struct{} // closed: what is in hand is finished, and nothing begun

	mu    sync.Mutex
	jobs  map[int64]bool // in hand
	specs map[int64][]byte
}

// Work takes bundles until ctx ends; then operations in hand are finished, for as long as grace lasts, and the rest goes back to the queue.
func (d *Database) Work(ctx context.Context, o Options, grace time.Duration, m *Meters) error {
	driver := riverpgxv5.New(d.pool)
	w := &worker{Database: d, Options: o, Meters: m, driver: driver, stops: ctx.Done(), jobs: map[int64]bool{}, specs: map[int64][]byte{}}
	w.crew = &crew.Crew{Program: o.Program, Arguments: o.Arguments, Processors: o.Processors, Memory: o.Memory, Most: o.Most, Bound: true, Took: m.took.add, Died: func(how string) {
		m.deaths.Add(1)
		d.log.Warn("a process died with a log or operation in hand", "how", how)
	}}
	workers := river.NewWorkers()
	river.AddWorker(workers, w)
	var err error
	w.client, err = river.NewClient(driver, &river.Config{
		ID: o.Name, Schema: schema, Logger: quiet(d.log), Workers: workers, RetryPolicy: backOff{},
		Queues:     map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: o.Workers}},
		JobTimeout: o.Turn + 2*o.Most + time.Minute, // the last operation of a turn may be tried twice
		// The queue's own rescue is for what the leases do not see; it must come after the time that a bundle may take.
		RescueStuckJobsAfter: o.Turn + 2*o.Most + time.Minute + o.Lease,
		SoftStopTimeout:      grace,
		FetchPollInterval:    500 * time.Millisecond,
	})
	if err != nil {
		return err
	}
	if err := w.client.Start(ctx); err != nil {
		return err
	}
	d.log.Info("worker begun", "name", o.Name, "workers", o.Workers)
	tick := time.NewTicker(o.Lease / 3)
	defer tick.Stop()
	for {
		select {
		case <-w.client.Stopped():
			w.crew.End()
			d.log.Info("worker ended", "name", o.Name)
			return nil
		case <-tick.C:
			w.beat()
		}
	}
}

// beat renews the leases of this worker and looks after those of others. Where the database does not answer the next beat tries again.
func (w *worker) beat() {
	ctx, cancel := context.WithTimeout(context.Background(), w.Lease/3)
	defer cancel()
	w.mu.Lock()
	var jobs []int64
	for id := range w.jobs {
		jobs = append(jobs, id)
	}
	w.mu.Unlock()
	err := w.renew(ctx, jobs, w.Name, w.Lease)
	if err == nil {
		err = w.rescue(ctx)
	}
	w.beaten(err == nil)
	if err != nil {
		w.log.Warn("leases not renewed", "error", err)
	}
}

// Timeout is that of the client: see Work.
func (w *worker) Timeout(*river.Job[bundleArgs]) time.Duration { return 0 }

// backOff is when a bundle is tried again: after twice the time of the last time, up to ten minutes, never all at once.
type backOff struct{}

// NextRetry is that of river.ClientRetryPolicy.
func (backOff) NextRetry(j *rivertype.JobRow) time.Time {
	pause := min(time.Second<<min(j.Attempt, 10), 10*time.Minute)
	return time.Now().Add(pause/2 + rand.N(pause/2))
}

// Work does a bundle.
func (w *worker) Work(ctx context.Context, j *river.Job[bundleArgs]) error {
	w.mu.Lock()
	w.jobs[j.ID] = true
	w.mu.Unlock()
	defer func() {
		w.mu.Lock()
		delete(w.jobs, j.ID)
		w.mu.Unlock()
	}()
	if err := insist(ctx, w.log, func(ctx context.Context) error { return w.take(ctx, j.ID, w.Name, w.Lease) }); err != nil {
		return err
	}
	b := &inHand{worker: w, bundleArgs: j.Args, job: j.ID, until: time.Now().Add(w.Turn)}
	var kind string
	err := insist(ctx, w.log, func(ctx context.Context) error {
		return w.pool.QueryRow(ctx, "SELECT kind FROM balk.bundle WHERE id = $1", b.Bundle).Scan(&kind)
	})
	switch {
	case errors.Is(err, pgx.ErrNoRows):
		return nil // the batch was put in anew since
	case err != nil:
	case kind == surveying:
		err = b.survey(ctx)
	case kind == sharing:
		err = b.share(ctx)
	case kind == working:
		err = b.work(ctx)
	default:
		err = fmt.Errorf("bundle %d is of kind %q, which this version does not know", b.Bundle, kind)
	}
	switch {
	case errors.Is(err, errTurn):
		return river.JobSnooze(0)
	case err != nil:
		w.log.Warn("bundle not finished, it is tried again", "batch", b.Batch, "bundle", b.Bundle, "attempt", j.Attempt, "error", err)
	}
	return err
}

// errTurn: the rest of the bundle is for another turn.
var errTurn = errors.New("the turn is over")

// inHand is a bundle that is worked.
type inHand struct {
	*worker
	bundleArgs
	job   int64
	until time.Time
}

// over tells whether nothing more is begun.
func (b *inHand) over() bool {
	select {
	case <-b.stops:
		return true
	default:
		return time.Now().After(b.until)
	}
}

// spec is that of a batch, as JSON in a line.
func (w *worker) spec(ctx context.Context, id int64) (text []byte, err error) {
	w.mu.Lock()
	text = w.specs[id]
	w.mu.Unlock()
	if text != nil {
		return text, nil
	}
	err = insist(ctx, w.log, func(ctx context.Context) error {
		return w.pool.QueryRow(ctx, "SELECT spec::text FROM balk.batch WHERE id = $1", id).Scan(&text)
	})
	if err == nil {
		w.mu.Lock()
		w.specs[id] = text
		w.mu.Unlock()
	}
	return text, err
}

// kept confirms a change, if this worker still has its bundle.
func (b *inHand) kept(ctx context.Context, change func(tx pgx.Tx) error) error {
	return insist(ctx, b.log, func(ctx context.Context) error {
		return pgx.BeginFunc(ctx, b.pool, func(tx pgx.Tx) error {
			var has bool
			err := tx.QueryRow(ctx, "UPDATE balk.lease SET until = now() + $3 WHERE job = $1 AND worker = $2 RETURNING true", b.job, b.Name, b.Lease).Scan(&has)
			if errors.Is(err, pgx.ErrNoRows) {
				return errLost
			}
			if err != nil {
				return err
			}
			return change(tx)
		})
	})
}

// faults are those of machinery in a bundle. They have mostly one cause: the first is told, and how many came after it.
type faults struct {
	first error
	n     int
}

func (f *faults) add(err error) {
	if f.n++; f.n == 1 {
		f.first = err
	}
}

func (f *faults) err() error {
	if f.n == 1 {
		return f.first
	}
	return fmt.Errorf("%w; it is not the only one: %d failed", f.first, f.n)
}

// survey looks at the logs of a bundle.
func (b *inHand) survey(ctx context.Context) error {
	type open struct {
		Place int
		Log   batch.Log
	}
	logs, err := list[open](ctx, b.worker, "SELECT place, log FROM balk.log WHERE bundle = $1 AND survey IS NULL ORDER BY place", b.Bundle)
	if err != nil {
		return err
	}
	spec, err := b.spec(ctx, b.Batch)
	if err != nil {
		return err
	}
	var failed faults
	for _, l := range logs {
		if b.over() {
			return errTurn
		}
		s, key, err := b.crew.Survey(ctx, crew.Work{Batch: b.Batch, Spec: spec}, l.Log, b.surveyed)
		if err != nil {
			if ctx.Err() != nil {
				return err
			}
			failed.add(err)
			continue
		}
		if err := b.kept(ctx, func(tx pgx.Tx) error {
			if key != "" {
				if _, err := tx.Exec(ctx, "INSERT INTO balk.survey (key, survey) VALUES ($1, $2) ON CONFLICT (key) DO NOTHING", key, s); err != nil {
					return err
				}
			}
			_, err := tx.Exec(ctx, "UPDATE balk.log SET survey = $3 WHERE batch = $1 AND place = $2", b.Batch, l.Place, s)
			return err
		}); err != nil {
			return err
		}
		b.logs.Add(1)
	}
	if failed.n > 0 {
		return failed.err()
	}
	return b.kept(ctx, func(tx pgx.Tx) error {
		// One bundle after the other, so that just one finds that it is the last.
		if _, err := tx.Exec(ctx, "SELECT FROM balk.batch WHERE id = $1 FOR UPDATE", b.Batch); err != nil {
			return err
		}
		changed, err := tx.Exec(ctx, "UPDATE balk.bundle SET done = true WHERE id = $1 AND NOT done", b.Bundle)
		if err != nil || changed.RowsAffected() == 0 {
			return err
		}
		var last bool
		if err := tx.QueryRow(ctx, "SELECT NOT EXISTS (SELECT FROM balk.bundle WHERE batch = $1 AND kind = $2 AND NOT done)", b.Batch, surveying).Scan(&last); err != nil || !last {
			return err
		}
		bundles, err := openBundles(ctx, tx, b.Batch, sharing, 1)
		if err != nil {
			return err
		}
		return queue(ctx, b.client, tx, bundles)
	})
}

// share shares out what logs hold among operations, and queues these.
func (b *inHand) share(ctx context.Context) error {
	text, err := b.spec(ctx, b.Batch)
	if err != nil {
		return err
	}
	var spec batch.Spec
	if err := json.Unmarshal(text, &spec); err != nil {
		return err
	}
	all, findings, err := batch.Open(ctx, spec, b.Source, new(job.Call))
	if err != nil {
		return err
	}
	type one struct{ Survey batch.Survey }
	held, err := list[one](ctx, b.worker, "SELECT survey FROM balk.log WHERE batch = $1 ORDER BY place", b.Batch)
	if err != nil {
		return err
	}
	surveys := make([]batch.Survey, len(held))
	for i, s := range held {
		surveys[i] = s.Survey
	}
	tasks := all.Share(surveys)
	return b.kept(ctx, func(tx pgx.Tx) error {
		changed, err := tx.Exec(ctx, "UPDATE balk.bundle SET done = true WHERE id = $1 AND NOT done", b.Bundle)
		if err != nil || changed.RowsAffected() == 0 {
			return err
		}
		if _, err := tx.Exec(ctx, "UPDATE balk.batch SET findings = $2 WHERE id = $1", b.Batch, append([]geo.Finding{}, findings...)); err != nil {
			return err
		}
		return b.plan(ctx, b.client, tx, b.Batch, tasks)
	})
}

// work works the operations of a bundle that have no rows.
func (b *inHand) work(ctx context.Context) error {
	type open struct{ Task batch.Task }
	tasks, err := list[open](ctx, b.worker, `SELECT task FROM balk.operation o WHERE bundle = $1
		AND NOT EXISTS (SELECT FROM balk.result r WHERE r.key = o.key) ORDER BY place`, b.Bundle)
	if err != nil {
		return err
	}
	spec, err := b.spec(ctx, b.Batch)
	if err != nil {
		return err
	}
	var failed faults
	for _, t := range tasks {
		if b.over() {
			return errTurn
		}
		worked, err := b.crew.Work(ctx, crew.Work{Batch: b.Batch, Spec: spec}, t.Task)
		var rows []batch.Row
		if err == nil {
			rows, err = worked.Decoded()
		}
		if err != nil {
			if ctx.Err() != nil {
				return err
			}
			failed.add(err)
			continue
		}
		if err := b.kept(ctx, func(tx pgx.Tx) error { return put(ctx, tx, t.Task.Key, rows, b.Name) }); err != nil {
			return err
		}
		for _, r := range rows {
			b.count(r.State)
		}
	}
	if failed.n > 0 {
		return failed.err()
	}
	return b.kept(ctx, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, "UPDATE balk.bundle SET done = true WHERE id = $1", b.Bundle)
		return err
	})
}

// list is what a query gives, read whole before the next is asked.
func list[T any](ctx context.Context, w *worker, query string, args ...any) (all []T, err error) {
	err = insist(ctx, w.log, func(ctx context.Context) error {
		rows, err := w.pool.Query(ctx, query, args...)
		if err != nil {
			return err
		}
		all, err = pgx.CollectRows(rows, pgx.RowToStructByPos[T])
		return err
	})
	return all, err
}

// NameOf is a name that no other worker has.
func NameOf() string {
	host, err := os.Hostname()
	if err != nil {
		host = "unnamed"
	}
	return fmt.Sprintf("%s-%d-%08x", host, os.Getpid(), rand.Uint32())
}

// quiet is a log for the queue, which tells much of itself that is no matter of ours.
func quiet(log *slog.Logger) *slog.Logger { return slog.New(atLeast{log.Handler()}) }

// atLeast lets through warnings and what is worse.
type atLeast struct{ slog.Handler }

// Enabled is that of slog.Handler.
func (h atLeast) Enabled(ctx context.Context, l slog.Level) bool {
	return l >= slog.LevelWarn && h.Handler.Enabled(ctx, l)
}

// WithAttrs and WithGroup are those of slog.Handler.
func (h atLeast) WithAttrs(a []slog.Attr) slog.Handler { return atLeast{h.Handler.WithAttrs(a)} }
func (h atLeast) WithGroup(name string) slog.Handler   { return atLeast{h.Handler.WithGroup(name)} }
