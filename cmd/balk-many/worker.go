package main

import (
	"context"
	"fmt"
	"os"
	"time"

	"balk/cmd/internal/job"
	"balk/cmd/internal/many"

	"github.com/spf13/cobra"
)

// worker works what is in the queue.
func (p *program) worker() *cobra.Command {
	o := many.Options{Name: many.NameOf(), Arguments: []string{"child"}, Source: opener{}}
	var memory int
	var listen string
	var grace time.Duration
	c := p.with("worker", "work what is in the queue, until SIGTERM", cobra.NoArgs, func(ctx context.Context, d *many.Database, _ []string) error {
		switch {
		case o.Workers < 1 || o.Workers > 1000:
			return &job.WrongCall{Err: fmt.Errorf("--workers %d: must be from 1 to 1000", o.Workers)}
		case o.Processors < 1:
			return &job.WrongCall{Err: fmt.Errorf("--processors %d: must be 1 or more", o.Processors)}
		case memory != 0 && memory < 64:
			return &job.WrongCall{Err: fmt.Errorf("--memory %d: must be 64 MiB or more, or 0 for no limit", memory)}
		case o.Most < time.Second || o.Turn < time.Second || o.Lease < time.Second:
			return &job.WrongCall{Err: fmt.Errorf("--most, --turn and --lease must be 1s or more")}
		}
		o.Memory = uint64(memory) << 20
		var err error
		if o.Program, err = os.Executable(); err != nil {
			return err
		}
		meters := many.NewMeters()
		if listen != "" {
			serving, stop := context.WithCancel(context.WithoutCancel(ctx)) // answers until the last operation is done
			defer stop()
			ends, err := meters.Serve(serving, listen, o.Lease)
			if err != nil {
				return err
			}
			go func() {
				if err := <-ends; err != nil {
					p.log.Error("metrics are not told any more", "error", err)
				}
			}()
		}
		return d.Work(ctx, o, grace, meters)
	})
	f := c.Flags()
	f.IntVar(&o.Workers, "workers", 1, "operations at a time, each in a process of its own")
	f.IntVar(&o.Processors, "processors", 1, "processors for each of them")
	f.IntVar(&memory, "memory", 2048, "MiB that each of them may take; 0 = no limit")
	f.DurationVar(&o.Most, "most", 10*time.Minute, "time that one operation may take")
	f.DurationVar(&o.Turn, "turn", 5*time.Minute, "time after which the rest of a bundle goes back to the queue")
	f.DurationVar(&o.Lease, "lease", 30*time.Second, "time after which the work of a worker that is not heard of is given to others")
	f.DurationVar(&grace, "grace", time.Minute, "time that operations in hand have to be finished after SIGTERM")
	f.StringVar(&listen, "listen", "", "address of /metrics and /healthz, such as :9464; \"\" = none")
	return c
}
