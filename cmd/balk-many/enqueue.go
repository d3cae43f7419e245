package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/bucket"
	"balk/cmd/internal/job"
	"balk/cmd/internal/many"
	"balk/cmd/internal/queue"
	"balk/coverage/drive"

	"github.com/spf13/cobra"
)

// enqueue puts a batch into the queue.
func (p *program) enqueue() *cobra.Command {
	watch := false
	var fields, implement, rules string
	c := p.with("enqueue [SOURCE...]", "put a batch into the queue: folders, lists, logs, s3://bucket/prefix; without a source its whole Spec comes in as JSON", cobra.ArbitraryArgs, func(ctx context.Context, d *many.Database, args []string) error {
		spec := batch.Spec{Sources: args, Rules: rules}
		switch {
		case len(args) == 0:
			var err error
			if spec, err = queue.SpecOn(p.in, func() {}); err != nil {
				return err
			}
		case fields == "" || implement == "":
			return &job.WrongCall{Err: errors.New("a source needs --fields and --implement")}
		default:
			im, err := new(job.Call).Implement(implement)
			if err != nil {
				return err
			}
			spec.Check.Boundary = fields
			spec.Check.Use(im, drive.WidthFile)
		}
		began := time.Now()
		id, running, n, err := put(ctx, d, spec)
		if err != nil {
			return err
		}
		if running {
			p.log.Info("the same batch is in the queue already, and was left as it is", "batch", id)
		} else {
			p.log.Info("put into the queue", "batch", id, "logs", n, "seconds", time.Since(began).Seconds())
		}
		if !watch {
			return p.say("batch %d: %s in the queue\nbalk-many status %d tells how far it is\n", id, p.Count(n, "log"), id)
		}
		return p.watch(ctx, d, id)
	})
	c.Flags().StringVar(&fields, "fields", "", "file of the field boundaries")
	c.Flags().StringVar(&implement, "implement", "", "file of the implement, where rules name no other")
	c.Flags().StringVar(&rules, "rules", "", "table that says which set, farm and driver logs are of")
	c.Flags().BoolVar(&watch, "watch", false, "tell how far it is until it is done")
	return c
}

// put puts a batch into the queue. logs is how many it has.
func put(ctx context.Context, d *many.Database, spec batch.Spec) (id int64, running bool, logs int, err error) {
	if err := everywhere(&spec); err != nil {
		return 0, false, 0, err
	}
	source, err := sources(ctx, spec.Sources, spec.Out)
	if err != nil {
		return 0, false, 0, err
	}
	spec.Out, spec.Workers, spec.Memory, spec.Most = "", 0, 0, 0 // the same batch, wherever its tables are written; workers have limits of their own
	// What cannot be worked is told here, and not by every worker.
	b, _, err := batch.Open(ctx, spec, source, new(job.Call))
	if err != nil {
		return 0, false, 0, err
	}
	all, err := b.Logs(ctx)
	if err != nil {
		return 0, false, 0, err
	}
	id, running, err = d.Enqueue(ctx, spec, all)
	return id, running, len(all), err
}

// everywhere makes the paths of a Spec mean the same wherever it is read.
func everywhere(s *batch.Spec) error {
	c := &s.Check
	paths := []*string{&s.Rules, &c.Boundary, &c.Plan, &c.Weather.File, &c.Farm}
	for i := range s.Sources {
		paths = append(paths, &s.Sources[i])
	}
	for _, p := range paths {
		if *p == "" || strings.HasPrefix(*p, bucket.Scheme) {
			continue
		}
		abs, err := filepath.Abs(*p)
		if err != nil {
			return err
		}
		*p = abs
	}
	return nil
}

// watch tells how far a batch is until it is done: on a terminal each second in one line, elsewhere a line each half minute.
func (p *program) watch(ctx context.Context, d *many.Database, id int64) error {
	form, end, pause := "%s\n", "", 30*time.Second
	if f, is := p.out.(*os.File); is {
		if info, err := f.Stat(); err == nil && info.Mode()&os.ModeCharDevice != 0 {
			form, end, pause = "\r\x1b[K%s", "\n", time.Second
		}
	}
	for told := (time.Time{}); ; {
		s, err := d.Status(ctx, id)
		if err != nil && ctx.Err() == nil {
			return err
		}
		if err == nil && (s.Done() || time.Since(told) >= pause) {
			if _, err := fmt.Fprintf(p.out, form, far(p.Language, s)); err != nil {
				return err
			}
			told = time.Now()
		}
		if err == nil && s.Done() {
			if s.Lost() {
				p.code = lost
			}
			_, err = fmt.Fprint(p.out, end)
			return err
		}
		select {
		case <-ctx.Done():
			return p.say("%swork goes on; balk-many status %d tells how far it is\n", end, id)
		case <-time.After(time.Second):
		}
	}
}

// status tells how far a batch is.
func (p *program) status() *cobra.Command {
	asJSON, watch := false, false
	c := p.with("status [BATCH]", "how far a batch is, the newest if none is named", cobra.MaximumNArgs(1), func(ctx context.Context, d *many.Database, args []string) error {
		id, err := batchOf(ctx, d, args)
		if err != nil {
			return err
		}
		if watch {
			return p.watch(ctx, d, id)
		}
		s, err := d.Status(ctx, id)
		if err != nil {
			return err
		}
		if asJSON {
			return p.json(s)
		}
		_, err = fmt.Fprintln(p.out, far(p.Language, s))
		return err
	})
	c.Flags().BoolVar(&asJSON, "json", false, "for programs")
	c.Flags().BoolVar(&watch, "watch", false, "go on until it is done")
	return c
}

// cancel takes out of the queue what is left of a batch.
func (p *program) cancel() *cobra.Command {
	return p.with("cancel BATCH", "take out of the queue what is left of a batch; what is done stays", cobra.ExactArgs(1), func(ctx context.Context, d *many.Database, args []string) error {
		id, err := batchOf(ctx, d, args)
		if err != nil {
			return err
		}
		n, err := d.Cancel(ctx, id)
		if err != nil {
			return err
		}
		return p.say("batch %d: %s cancelled\n", id, p.Count(n, "bundle"))
	})
}

// again puts bundles that were given up or cancelled back into the queue.
func (p *program) again() *cobra.Command {
	return p.with("again BATCH", "put back into the queue what was given up or cancelled", cobra.ExactArgs(1), func(ctx context.Context, d *many.Database, args []string) error {
		id, err := batchOf(ctx, d, args)
		if err != nil {
			return err
		}
		n, err := d.Again(ctx, id)
		if err != nil {
			return err
		}
		return p.say("batch %d: %s in the queue again\n", id, p.Count(n, "bundle"))
	})
}
