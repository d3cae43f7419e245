package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"os"
	"time"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/many"
	"balk/cmd/internal/queue"
)

// asked does what balk batch asks of the database BALK_DATABASE: "run database" has its workers work the batch whose Spec is on stdin, waits for
// them and writes its report; "far database [BATCH]" writes how far one is.
func asked(ctx context.Context, args []string, in io.Reader, out, errs io.Writer) int {
	return queue.Told(ctx, errs, func(ctx context.Context, end func(), tell func(batch.Message)) error {
		d, err := many.Open(ctx, os.Getenv("BALK_DATABASE"), slog.New(slog.DiscardHandler))
		if err != nil {
			return err
		}
		defer d.Close()
		if args[0] == "far" {
			id, err := batchOf(ctx, d, args[2:])
			if err != nil {
				return err
			}
			s, err := d.Status(ctx, id)
			if err != nil {
				return err
			}
			return json.NewEncoder(out).Encode(s.Short())
		}
		spec, err := queue.SpecOn(in, end)
		if err != nil {
			return err
		}
		id, _, _, err := put(ctx, d, spec)
		if err != nil {
			return err
		}
		if err := waited(ctx, d, id, tell); err != nil {
			return err
		}
		rep, err := report(ctx, d, id, spec, func(s string) { tell(batch.Message{Say: s}) })
		if err != nil {
			return err
		}
		return rep.JSON(out)
	})
}

// lonely is for how long nobody works a batch before that is said.
const lonely = 20 * time.Second

// waited tells how far a batch is until it is done.
func waited(ctx context.Context, d *many.Database, id int64, tell func(batch.Message)) error {
	began, said := time.Now(), false
	for {
		asking := time.Now()
		s, err := d.Status(ctx, id)
		if err != nil {
			return err
		}
		if s.Done() {
			return nil
		}
		p := batch.Progress{What: "reading logs", Done: s.Surveyed, Of: s.Logs, Since: time.Since(began)}
		if s.Shared {
			p = batch.Progress{What: "checking operations", Done: s.Worked, Of: s.Operations, Since: time.Since(began), Rate: s.Rate}
		}
		tell(batch.Message{Progress: &p})
		if s.Workers == 0 && !said && time.Since(began) > lonely {
			said = true
			tell(batch.Message{Say: "no worker is at work on the queue of this database: balk-many worker is one"})
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(500*time.Millisecond + 50*time.Since(asking)): // to ask takes the database at most a fiftieth of the time
		}
	}
}

// report puts together what came of a batch, as of one on this computer, and fills the folder of the Spec where it names one.
func report(ctx context.Context, d *many.Database, id int64, spec batch.Spec, say func(string)) (rep batch.Report, err error) {
	s, err := d.Status(ctx, id)
	if err != nil {
		return rep, err
	}
	surveys, err := d.Surveys(ctx, id, s.Fault)
	if err != nil {
		return rep, err
	}
	if rep.Faults, err = d.Unworked(ctx, id, s.Fault); err != nil {
		return rep, err
	}
	if !s.Shared {
		rep.Faults = append(rep.Faults, batch.Fault{File: spec.Check.Boundary, What: fmt.Sprintf("logs were not shared out among fields: %s", s.Fault)})
	}
	if rep.Findings, err = d.Findings(ctx, id); err != nil {
		return rep, err
	}
	return rep, rep.Fill(ctx, spec, surveys, d.Rows(ctx, id), say)
}

// folder writes the tables of a batch into a folder, as balk batch --out does.
func (p *program) folder(ctx context.Context, d *many.Database, id int64, dir string) error {
	spec, err := d.Spec(ctx, id)
	if err != nil {
		return err
	}
	spec.Out = dir
	rep, err := report(ctx, d, id, spec, func(s string) { p.log.Info(s) })
	if err == nil && len(rep.Faults)+len(rep.Lost) > 0 {
		p.code = lost
	}
	return err
}
