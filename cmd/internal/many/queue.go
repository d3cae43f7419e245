package many

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"

	"balk/cmd/internal/batch"
	"balk/geo"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
)

// What a bundle is of.
const (
	surveying = "survey" // logs are looked at
	sharing   = "share"  // all of them are shared out among operations
	working   = "work"   // operations are worked
)

// PerBundle is how many logs or operations a bundle has, and Heavy how many bytes of logs make it full before: one pass of the queue takes
// about 100 ms, whatever it carries, and a bundle should not take many minutes.
const (
	PerBundle = 100
	Heavy     = 256 << 20
)

// bundleArgs is what the queue carries.
type bundleArgs struct {
	Batch  int64 `json:"batch"`
	Bundle int64 `json:"bundle"`
}

// Kind is the name of such jobs in the queue.
func (bundleArgs) Kind() string { return "bundle" }

// attempts is how often a bundle is tried before it is given up. Those of killed workers count too.
const attempts = 25

// queue puts bundles into the queue.
func queue(ctx context.Context, client *sender, tx pgx.Tx, bundles []bundleArgs) error {
	params := make([]river.InsertManyParams, len(bundles))
	for i, b := range bundles {
		params[i] = river.InsertManyParams{Args: b, InsertOpts: &river.InsertOpts{MaxAttempts: attempts}}
	}
	for from := 0; from < len(params); from += 1000 {
		to := min(from+1000, len(params))
		put, err := client.InsertManyTx(ctx, tx, params[from:to])
		if err != nil {
			return fmt.Errorf("the queue: %w", err)
		}
		var ids, jobs []int64
		for i, p := range put {
			ids, jobs = append(ids, bundles[from+i].Bundle), append(jobs, p.Job.ID)
		}
		if _, err := tx.Exec(ctx, "UPDATE balk.bundle b SET job = n.job FROM unnest($1::bigint[], $2::bigint[]) AS n (id, job) WHERE b.id = n.id", ids, jobs); err != nil {
			return err
		}
	}
	return nil
}

// openBundles makes bundles of a kind, without what is in them.
func openBundles(ctx context.Context, tx pgx.Tx, id int64, kind string, n int) ([]bundleArgs, error) {
	rows, err := tx.Query(ctx, "INSERT INTO balk.bundle (batch, kind) SELECT $1, $2 FROM generate_series(1, $3::int) RETURNING batch, id", id, kind, n)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[bundleArgs])
}

// sender is a client of the queue that works no jobs.
type sender = river.Client[pgx.Tx]

func (d *Database) sender() (*sender, error) {
	return river.NewClient(riverpgxv5.New(d.pool), &river.Config{Schema: schema, Logger: quiet(d.log)})
}

// Enqueue puts a batch into the queue: its logs are surveyed, and what they hold is worked. The same Spec is the same batch: its results are
// kept, and what changed since is worked. running: it is in the queue already, and was left as it is.
func (d *Database) Enqueue(ctx context.Context, spec batch.Spec, logs []batch.Log) (id int64, running bool, err error) {
	text, err := json.Marshal(spec)
	if err != nil {
		return 0, false, err
	}
	sum := sha256.Sum256(text)
	client, err := d.sender()
	if err != nil {
		return 0, false, err
	}
	err = pgx.BeginFunc(ctx, d.pool, func(tx pgx.Tx) error {
		if err := tx.QueryRow(ctx, "INSERT INTO balk.batch (mark, spec) VALUES ($1, $2) ON CONFLICT (mark) DO UPDATE SET made = now() RETURNING id", hex.EncodeToString(sum[:]), text).Scan(&id); err != nil {
			return err
		}
		if err := tx.QueryRow(ctx, `SELECT EXISTS (SELECT FROM balk.bundle b JOIN balk.river_job j ON j.id = b.job
			WHERE b.batch = $1 AND NOT b.done AND j.state NOT IN ('cancelled', 'discarded'))`, id).Scan(&running); err != nil || running {
			return err
		}
		for _, table := range []string{"bundle", "log", "operation"} {
			if _, err := tx.Exec(ctx, "DELETE FROM balk."+table+" WHERE batch = $1", id); err != nil {
				return err
			}
		}
		if _, err := tx.Exec(ctx, "UPDATE balk.batch SET shared = false, fault = '' WHERE id = $1", id); err != nil {
			return err
		}
		kind, n := surveying, (len(logs)+PerBundle-1)/PerBundle
		if n == 0 {
			kind, n = sharing, 1
		}
		bundles, err := openBundles(ctx, tx, id, kind, n)
		if err != nil {
			return err
		}
		if _, err := tx.CopyFrom(ctx, pgx.Identifier{schema, "log"}, []string{"batch", "place", "bundle", "log"}, pgx.CopyFromSlice(len(logs), func(i int) ([]any, error) {
			return []any{id, i, bundles[i/PerBundle].Bundle, logs[i]}, nil
		})); err != nil {
			return err
		}
		return queue(ctx, client, tx, bundles)
	})
	return id, running, err
}

// Spec is that of a batch.
func (d *Database) Spec(ctx context.Context, id int64) (spec batch.Spec, err error) {
	err = d.pool.QueryRow(ctx, "SELECT spec FROM balk.batch WHERE id = $1", id).Scan(&spec)
	return spec, err
}

// Findings are those on the boundaries of a batch.
func (d *Database) Findings(ctx context.Context, id int64) (all []geo.Finding, err error) {
	err = d.pool.QueryRow(ctx, "SELECT findings FROM balk.batch WHERE id = $1", id).Scan(&all)
	return all, err
}

// plan makes tasks all those of a batch, in place of those it had, and queues bundles of those without rows.
func (d *Database) plan(ctx context.Context, client *sender, tx pgx.Tx, id int64, tasks []batch.Task) error {
	if _, err := tx.Exec(ctx, "DELETE FROM balk.operation WHERE batch = $1", id); err != nil {
		return err
	}
	keys := make([]string, len(tasks))
	for i, t := range tasks {
		keys[i] = t.Key
	}
	rows, err := tx.Query(ctx, "SELECT DISTINCT key FROM balk.result WHERE key = ANY($1)", keys)
	if err != nil {
		return err
	}
	has := map[string]bool{}
	var key string
	if _, err := pgx.ForEachRow(rows, []any{&key}, func() error { has[key] = true; return nil }); err != nil {
		return err
	}
	in := make([]int, len(tasks)) // which bundle each is in
	n, filled, heavy := 0, 0, int64(0)
	for i, t := range tasks {
		if has[t.Key] {
			in[i] = -1
			continue
		}
		if n == 0 || filled == PerBundle || heavy+t.Bytes > Heavy {
			n, filled, heavy = n+1, 0, 0
		}
		in[i], filled, heavy = n-1, filled+1, heavy+t.Bytes
	}
	bundles, err := openBundles(ctx, tx, id, working, n)
	if err != nil {
		return err
	}
	if _, err := tx.CopyFrom(ctx, pgx.Identifier{schema, "operation"}, []string{"batch", "key", "place", "bundle", "task"}, pgx.CopyFromSlice(len(tasks), func(i int) ([]any, error) {
		bundle := int64(0)
		if in[i] >= 0 {
			bundle = bundles[in[i]].Bundle
		}
		return []any{id, tasks[i].Key, i, bundle, tasks[i]}, nil
	})); err != nil {
		return err
	}
	if _, err := tx.Exec(ctx, "UPDATE balk.batch SET shared = true WHERE id = $1", id); err != nil {
		return err
	}
	return queue(ctx, client, tx, bundles)
}
