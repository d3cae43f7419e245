package many

import (
	"context"
	"errors"
	"fmt"
	"time"

	"balk/cmd/internal/batch"

	"github.com/jackc/pgx/v5"
)

// Status is how far a batch is.
type Status struct {
	Batch      int64     `json:"batch"`
	Made       time.Time `json:"made"`
	Logs       int       `json:"logs"`
	Surveyed   int       `json:"surveyed"`   // of them
	LogsFailed int       `json:"logsFailed"` // of these
	Shared     bool      `json:"shared"`     // among operations: before, their number is not known
	Operations int       `json:"operations"` // of the batch
	Worked     int       `json:"worked"`     // of them, now or before
	Failed     int       `json:"failed"`     // of these
	Open       int       `json:"open"`       // bundles that are not finished ...
	GivenUp    int       `json:"givenUp"`    // ... of them those tried too often, with Fault the last reason of one
	Cancelled  int       `json:"cancelled"`  // ... and those that were cancelled
	Fault      string    `json:"fault,omitempty"`
	Rate       float64   `json:"rate"`      // operations per second in the last minute
	Remaining  float64   `json:"remaining"` // s at that rate; 0 = not known
	Workers    int       `json:"workers"`   // that were heard of within their lease and have a bundle
}

// Done tells whether nothing is left to do.
func (s Status) Done() bool { return s.Open == s.GivenUp+s.Cancelled && (s.Shared || s.Open > 0) }

// Lost tells whether part of it could not be judged.
func (s Status) Lost() bool { return s.LogsFailed+s.Failed+s.GivenUp+s.Cancelled > 0 }

// Short is it as a run on one computer tells it.
func (s Status) Short() batch.Status {
	return batch.Status{Batch: s.Batch, Logs: s.Logs, Looked: s.Surveyed, LogsFailed: s.LogsFailed, Tasks: s.Operations, Done: s.Worked, Failed: s.Failed, Running: !s.Done(), Workers: s.Workers,
		GivenUp: s.GivenUp + s.Cancelled, Why: s.Fault, Rate: s.Rate, Left: s.Remaining}
}

// Status says how far a batch is.
func (d *Database) Status(ctx context.Context, id int64) (s Status, err error) {
	s.Batch = id
	var recent int
	err = insist(ctx, d.log, func(ctx context.Context) error {
		return d.pool.QueryRow(ctx, `SELECT made, shared,
		(SELECT count(*) FROM balk.log WHERE batch = b.id), (SELECT count(*) FROM balk.log WHERE batch = b.id AND survey IS NOT NULL), (SELECT count(*) FROM balk.log WHERE batch = b.id AND survey->>'state' = 'failed'), (SELECT count(*) FROM balk.operation WHERE batch = b.id),
		(SELECT count(DISTINCT r.key) FROM balk.result r JOIN balk.operation o ON o.key = r.key WHERE o.batch = b.id),
		(SELECT count(DISTINCT r.key) FROM balk.result r JOIN balk.operation o ON o.key = r.key WHERE o.batch = b.id AND r.state = 'failed'),
		(SELECT count(DISTINCT r.key) FROM balk.result r JOIN balk.operation o ON o.key = r.key WHERE o.batch = b.id AND r.at > now() - interval '1 minute'),
		(SELECT count(*) FROM balk.bundle WHERE batch = b.id AND NOT done),
		(SELECT count(*) FROM balk.bundle u JOIN balk.river_job j ON j.id = u.job WHERE u.batch = b.id AND NOT done AND j.state = 'discarded'),
		(SELECT count(*) FROM balk.bundle u JOIN balk.river_job j ON j.id = u.job WHERE u.batch = b.id AND NOT done AND j.state = 'cancelled'),
		coalesce((SELECT j.errors[array_upper(j.errors, 1)]->>'error' FROM balk.bundle u JOIN balk.river_job j ON j.id = u.job WHERE u.batch = b.id AND NOT done AND j.errors IS NOT NULL ORDER BY j.state = 'discarded' DESC, j.id DESC LIMIT 1), ''),
		(SELECT count(DISTINCT l.worker) FROM balk.lease l JOIN balk.bundle u ON u.job = l.job WHERE u.batch = b.id AND l.until > now())
		FROM balk.batch b WHERE id = $1`, id).Scan(&s.Made, &s.Shared, &s.Logs, &s.Surveyed, &s.LogsFailed, &s.Operations, &s.Worked, &s.Failed, &recent, &s.Open, &s.GivenUp, &s.Cancelled, &s.Fault, &s.Workers)
	})
	if errors.Is(err, pgx.ErrNoRows) {
		return s, fmt.Errorf("there is no batch %d", id)
	}
	s.Rate = float64(recent) / 60
	if since := time.Since(s.Made).Seconds(); since < 60 && since > 0 {
		s.Rate = float64(recent) / since
	}
	if left := s.Operations - s.Worked; left > 0 && s.Rate > 0 {
		s.Remaining = float64(left) / s.Rate
	}
	return s, err
}

// Newest is the batch that was put in last.
func (d *Database) Newest(ctx context.Context) (id int64, err error) {
	err = d.pool.QueryRow(ctx, "SELECT id FROM balk.batch ORDER BY made DESC, id DESC LIMIT 1").Scan(&id)
	if errors.Is(err, pgx.ErrNoRows) {
		return 0, errors.New("there is no batch in this database")
	}
	return id, err
}

// unfinished are the jobs of bundles of a batch that are not done.
func (d *Database) unfinished(ctx context.Context, id int64, states ...string) ([]int64, error) {
	rows, err := d.pool.Query(ctx, "SELECT j.id FROM balk.bundle b JOIN balk.river_job j ON j.id = b.job WHERE b.batch = $1 AND NOT b.done AND j.state::text = ANY($2) ORDER BY j.id", id, states)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[int64])
}

// Cancel takes what is left of a batch out of the queue. Bundles in hand are ended.
func (d *Database) Cancel(ctx context.Context, id int64) (n int, err error) {
	return d.each(ctx, id, func(ctx context.Context, client *sender, job int64) error {
		_, err := client.JobCancel(ctx, job)
		return err
	}, "available", "pending", "retryable", "running", "scheduled")
}

// Again puts what was given up or cancelled back.
func (d *Database) Again(ctx context.Context, id int64) (n int, err error) {
	return d.each(ctx, id, func(ctx context.Context, client *sender, job int64) error {
		_, err := client.JobRetry(ctx, job)
		return err
	}, "cancelled", "discarded")
}

// each does something with each unfinished job of a batch that is in one of some states.
func (d *Database) each(ctx context.Context, id int64, do func(context.Context, *sender, int64) error, states ...string) (int, error) {
	if _, err := d.Status(ctx, id); err != nil {
		return 0, err
	}
	client, err := d.sender()
	if err != nil {
		return 0, err
	}
	jobs, err := d.unfinished(ctx, id, states...)
	if err != nil {
		return 0, err
	}
	for i, job := range jobs {
		if err := do(ctx, client, job); err != nil {
			return i, err
		}
	}
	return len(jobs), nil
}
