package many

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivermigrate"
)

// schema is where all tables stand, those of the queue beside ours.
const schema = "balk"

// Database is the one that holds batches, queue and results.
type Database struct {
	pool *pgxpool.Pool
	log  *slog.Logger
}

// Open connects, and brings the form of the tables forward.
func Open(ctx context.Context, url string, log *slog.Logger) (*Database, error) {
	config, err := pgxpool.ParseConfig(url)
	if err != nil {
		return nil, errors.New("--database: must be like postgres://user@host:5432/name, with the password in PGPASSWORD or ~/.pgpass") // the error has parts of the URL in it
	}
	config.MinConns = 0
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return nil, err
	}
	d := &Database{pool, log}
	if err := d.forward(ctx); err != nil {
		pool.Close()
		said := strings.Join(strings.Fields(err.Error()), " ") // each try of a connection is told in a line of its own
		return nil, fmt.Errorf("database %s on %s: %s", config.ConnConfig.Database, config.ConnConfig.Host, said)
	}
	return d, nil
}

// Close ends all connections.
func (d *Database) Close() { d.pool.Close() }

// migrating is the lock that one process holds while it brings the form forward: any number, the same in all versions.
const migrating = 0x62616c6b

// forward brings the form up to date, or refuses a newer one. Two that begin at once take turns.
func (d *Database) forward(ctx context.Context) error {
	conn, err := d.pool.Acquire(ctx)
	if err != nil {
		return err
	}
	defer conn.Release()
	if _, err := conn.Exec(ctx, "SELECT pg_advisory_lock($1)", migrating); err != nil {
		return err
	}
	defer func() {
		if _, err := conn.Exec(context.WithoutCancel(ctx), "SELECT pg_advisory_unlock($1)", migrating); err != nil {
			d.log.Warn("lock of the form not given back", "error", err)
		}
	}()
	have, err := version(ctx, conn.Conn())
	if err != nil {
		return err
	}
	if have > len(steps) {
		return fmt.Errorf("its form has version %d, and this program knows none above %d: use a newer one", have, len(steps))
	}
	if have == 0 {
		if err := prepare(ctx, conn.Conn()); err != nil {
			return err
		}
	}
	migrator, err := rivermigrate.New(riverpgxv5.New(d.pool), &rivermigrate.Config{Schema: schema, Logger: quiet(d.log)})
	if err != nil {
		return err
	}
	if _, err := migrator.Migrate(ctx, rivermigrate.DirectionUp, nil); err != nil {
		return fmt.Errorf("tables of the queue: %w", err)
	}
	for ; have < len(steps); have++ {
		if err := pgx.BeginFunc(ctx, conn.Conn(), func(tx pgx.Tx) error { return step(ctx, tx, have) }); err != nil {
			return fmt.Errorf("form %d: %w", have+1, err)
		}
		d.log.Info("form of the tables brought forward", "version", have+1)
	}
	return nil
}

// version is that of the form; 0: there is none.
func version(ctx context.Context, conn *pgx.Conn) (n int, err error) {
	var there bool
	if err := conn.QueryRow(ctx, "SELECT to_regclass($1) IS NOT NULL", schema+".form").Scan(&there); err != nil || !there {
		return 0, err
	}
	return n, conn.QueryRow(ctx, "SELECT version FROM balk.form").Scan(&n)
}

// prepare makes the schema, and PostGIS if it is not there.
func prepare(ctx context.Context, conn *pgx.Conn) error {
	if _, err := conn.Exec(ctx, "CREATE SCHEMA IF NOT EXISTS balk"); err != nil {
		return err
	}
	var there bool
	if err := conn.QueryRow(ctx, "SELECT EXISTS (SELECT FROM pg_extension WHERE extname = 'postgis')").Scan(&there); err != nil || there {
		return err
	}
	if _, err := conn.Exec(ctx, "CREATE EXTENSION postgis"); err != nil {
		return fmt.Errorf("it has no PostGIS, and none can be made (CREATE EXTENSION postgis by an administrator): %w", err)
	}
	return nil
}

// step takes the form from the version to the next.
func step(ctx context.Context, tx pgx.Tx, have int) error {
	var place string // of PostGIS, whose types steps name
	if err := tx.QueryRow(ctx, "SELECT quote_ident(nspname) FROM pg_extension e JOIN pg_namespace n ON n.oid = e.extnamespace WHERE extname = 'postgis'").Scan(&place); err != nil {
		return err
	}
	if _, err := tx.Exec(ctx, "SET LOCAL search_path = balk, "+place); err != nil {
		return err
	}
	for one := range strings.SplitSeq(steps[have], ";\n") {
		if _, err := tx.Exec(ctx, one); err != nil {
			return err
		}
	}
	_, err := tx.Exec(ctx, "UPDATE balk.form SET version = $1", have+1)
	return err
}

// patience is for how long a change is tried again while the database does not answer; a restart takes less.
const patience = 2 * time.Minute

// insist does a thing again, with pauses that grow, as long as the fault is one of the connection. What it does must be safe to do twice:
// a transaction whose confirmation got lost may have been kept.
func insist(ctx context.Context, log *slog.Logger, do func(context.Context) error) error {
	pause := 100 * time.Millisecond
	for until := time.Now().Add(patience); ; pause = min(2*pause, 5*time.Second) {
		err := do(ctx)
		if err == nil || !connection(err) || ctx.Err() != nil || time.Now().After(until) {
			return err
		}
		log.Warn("database does not answer, trying again", "error", err, "pause", pause)
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(pause):
		}
	}
}

// connection tells whether a fault is of the connection or the server, not of what was asked.
func connection(err error) bool {
	if said, is := errors.AsType[*pgconn.PgError](err); is {
		// https://www.postgresql.org/docs/15/errcodes-appendix.html: 08 connection, 53 resources, 57P shut down, 40 take turns again
		return strings.HasPrefix(said.Code, "08") || strings.HasPrefix(said.Code, "53") || strings.HasPrefix(said.Code, "57P") || strings.HasPrefix(said.Code, "40")
	}
	_, connecting := errors.AsType[*pgconn.ConnectError](err)
	_, network := errors.AsType[net.Error](err)
	return connecting || network || pgconn.SafeToRetry(err) || errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, net.ErrClosed)
}
