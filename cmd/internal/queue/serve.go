package queue

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/crew"
	"balk/cmd/internal/job"
)

// Serve does what another program asks: "run" works the batch whose Spec is on stdin and writes its report, "far DIR" writes the Status
// of a run, both as JSON; "child MEMORY" is a process of a crew. It gives the exit code: 0, 1, 2 for a wrong call, 130 when ctx ended, or
// stdin: who asked keeps it open for as long as it waits for an answer.
func Serve(ctx context.Context, args []string, in io.Reader, out, errs io.Writer, sources Sources) int {
	return Told(ctx, errs, func(ctx context.Context, end func(), tell func(batch.Message)) error {
		return serve(ctx, end, args, in, out, sources, tell)
	})
}

// Told does something for another program, to which it tells Messages; end ends it before its time. It gives the exit code.
func Told(ctx context.Context, errs io.Writer, do func(ctx context.Context, end func(), tell func(batch.Message)) error) int {
	lines := json.NewEncoder(errs)
	tell := func(m batch.Message) { _ = lines.Encode(m) } // who asked may be gone: then nobody wants to know
	ctx, end := context.WithCancel(ctx)
	defer end()
	err := do(ctx, end, tell)
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

func serve(ctx context.Context, end func(), args []string, in io.Reader, out io.Writer, sources Sources, tell func(batch.Message)) error {
	switch {
	case len(args) == 2 && args[0] == "child":
		memory, err := strconv.ParseUint(args[1], 10, 64)
		if err != nil {
			return &job.WrongCall{Err: err}
		}
		source, err := sources(ctx, nil, "")
		if err != nil {
			return err
		}
		return crew.Child(context.WithoutCancel(ctx), in, out, memory, source)
	case len(args) == 2 && args[0] == "far":
		st, err := StatusOf(ctx, args[1])
		if err != nil {
			return err
		}
		return json.NewEncoder(out).Encode(st)
	case len(args) != 1 || args[0] != "run":
		return &job.WrongCall{Err: fmt.Errorf("%q: must be run, or far DIR", args)}
	}
	spec, err := SpecOn(in, end)
	if err != nil {
		return err
	}
	program, err := os.Executable()
	if err != nil {
		return err
	}
	call := &job.Call{Say: func(s string) { tell(batch.Message{Say: s}) }}
	rep, err := Run(ctx, spec, program, sources, call, func(p batch.Progress) { tell(batch.Message{Progress: &p}) })
	if err != nil {
		return err
	}
	return rep.JSON(out)
}

// SpecOn reads the Spec on stdin, and calls end when that is closed: who asked is no more.
func SpecOn(in io.Reader, end func()) (spec batch.Spec, err error) {
	d := json.NewDecoder(in)
	d.DisallowUnknownFields()
	if err := d.Decode(&spec); err != nil {
		return spec, &job.WrongCall{Err: fmt.Errorf("the Spec on stdin: %w", err)}
	}
	go func() {
		_, _ = io.Copy(io.Discard, in) // however it ends, nobody is there
		end()
	}()
	return spec, nil
}
