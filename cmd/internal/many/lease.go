package many

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivertype"
)

// errLost: the bundle was given to another worker, since this one was not heard of for a lease.
var errLost = errors.New("the lease ended: another worker has this bundle")

// rescuing is the lock of the one process that rescues at a time: any number, the same in all versions.
const rescuing = migrating + 1

// take takes the lease of a queued job for a worker, from whoever had it.
func (d *Database) take(ctx context.Context, job int64, worker string, lease time.Duration) error {
	_, err := d.pool.Exec(ctx, `INSERT INTO balk.lease (job, worker, until) VALUES ($1, $2, now() + $3)
		ON CONFLICT (job) DO UPDATE SET worker = excluded.worker, until = excluded.until`, job, worker, lease)
	return err
}

// renew tells that a worker is alive and has some jobs. A lease that was taken by another stays with it.
func (d *Database) renew(ctx context.Context, jobs []int64, worker string, lease time.Duration) error {
	_, err := d.pool.Exec(ctx, "UPDATE balk.lease SET until = now() + $3 WHERE job = ANY($1) AND worker = $2", jobs, worker, lease)
	return err
}

// rescue gives the jobs of workers that are not heard of any more back to the queue, and queues again the bundles that it has let go of
// unfinished: a worker that was thought dead ends them there when it comes back. Jobs that were given up or cancelled stay so.
func (w *worker) rescue(ctx context.Context) error {
	return pgx.BeginFunc(ctx, w.pool, func(tx pgx.Tx) error {
		var alone bool
		if err := tx.QueryRow(ctx, "SELECT pg_try_advisory_xact_lock($1)", rescuing).Scan(&alone); err != nil || !alone {
			return err // another does it
		}
		rows, err := tx.Query(ctx, `SELECT j.id, j.attempt, now(), coalesce(l.until, j.attempted_at + $1) AS ended FROM balk.river_job j LEFT JOIN balk.lease l ON l.job = j.id
			WHERE j.state = 'running' AND j.kind = $2 AND coalesce(l.until, j.attempted_at + $1) < now() ORDER BY j.id LIMIT 1000`, w.Lease, bundleArgs{}.Kind())
		if err != nil {
			return err
		}
		p := riverdriver.JobRescueManyParams{Schema: schema}
		var job int64
		var attempt int
		var now, ended time.Time
		if _, err := pgx.ForEachRow(rows, []any{&job, &attempt, &now, &ended}, func() error {
			said, err := json.Marshal(rivertype.AttemptError{At: now, Attempt: attempt, Error: fmt.Sprintf("its worker was not heard of since its lease ended at %s", ended.UTC().Format(time.RFC3339))})
			p.ID, p.Error, p.State = append(p.ID, job), append(p.Error, said), append(p.State, string(rivertype.JobStateAvailable))
			p.FinalizedAt, p.ScheduledAt = append(p.FinalizedAt, nil), append(p.ScheduledAt, now)
			p.StuckHorizon = now
			return err
		}); err != nil {
			return err
		}
		if len(p.ID) > 0 {
			if _, err := w.driver.UnwrapExecutor(tx).JobRescueMany(ctx, &p); err != nil {
				return err
			}
			w.rescued.Add(int64(len(p.ID)))
			w.log.Warn("bundles of workers that are not heard of are given to others", "jobs", p.ID)
		}
		if _, err := tx.Exec(ctx, "DELETE FROM balk.lease l WHERE until < now() AND NOT EXISTS (SELECT FROM balk.river_job j WHERE j.id = l.job AND j.state = 'running')"); err != nil {
			return err
		}
		rows, err = tx.Query(ctx, `SELECT b.batch, b.id FROM balk.bundle b LEFT JOIN balk.river_job j ON j.id = b.job
			WHERE NOT b.done AND (j.id IS NULL OR j.state = 'completed') ORDER BY b.id LIMIT 1000`)
		if err != nil {
			return err
		}
		open, err := pgx.CollectRows(rows, pgx.RowToStructByPos[bundleArgs])
		if err != nil || len(open) == 0 {
			return err
		}
		w.log.Warn("bundles that were let go of unfinished are queued again", "bundles", len(open))
		return queue(ctx, w.client, tx, open)
	})
}
