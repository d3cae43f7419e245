package queue

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/job"
)

// Serve does what another program asks: "run" works the batch whose Spec is on stdin and writes its report, "far DIR" writes the Status
// of a run, both as JSON. It gives the exit code: 0, 1, 2 for a wrong call, 130 when ctx ended.
func Serve(ctx context.Context, args []string, in io.Reader, out, errs io.Writer) int {
	lines := json.NewEncoder(errs)
	tell := func(m batch.Message) { _ = lines.Encode(m) } // who asked may be gone: then nobody wants to know
	err := serve(ctx, args, in, out, tell)
	if err == nil {
		return 0
	}
	tell(batch.Message{Error: err.Error()})
	switch {
	case ctx.Err() != nil:
		return 130
	case errors.As(err, new(*job.WrongCall)):
		return 2
	}
	return 1
}

func serve(ctx context.Context, args []string, in io.Reader, out io.Writer, tell func(batch.Message)) error {
	if len(args) == 2 && args[0] == "far" {
		st, err := StatusOf(ctx, args[1])
		if err != nil {
			return err
		}
		return json.NewEncoder(out).Encode(st)
	}
	if len(args) != 1 || args[0] != "run" {
		return &job.WrongCall{Err: fmt.Errorf("%q: must be run, or far DIR", args)}
	}
	var spec batch.Spec
	d := json.NewDecoder(in)
	d.DisallowUnknownFields()
	if err := d.Decode(&spec); err != nil {
		return &job.WrongCall{Err: fmt.Errorf("the Spec on stdin: %w", err)}
	}
	call := &job.Call{Say: func(s string) { tell(batch.Message{Say: s}) }}
	rep, err := Run(ctx, spec, call, func(p batch.Progress) { tell(batch.Message{Progress: &p}) })
	if err != nil {
		return err
	}
	return rep.JSON(out)
}
