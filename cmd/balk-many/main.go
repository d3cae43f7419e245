// Command balk-many works the logs of many fields: for balk batch on this computer, or on many machines, against a PostgreSQL with PostGIS that is there.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"slices"
	"strconv"
	"syscall"

	"balk/cmd/internal/job"
	"balk/cmd/internal/many"
	"balk/cmd/internal/queue"
	"balk/export/words"

	"github.com/spf13/cobra"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // the next one ends the process at once
	if len(os.Args) > 2 && os.Args[2] == "database" && (os.Args[1] == "run" || os.Args[1] == "far") {
		os.Exit(asked(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
	}
	if len(os.Args) > 1 && slices.Contains([]string{"run", "far", "child"}, os.Args[1]) { // for balk batch, and for workers
		os.Exit(queue.Serve(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr, sources))
	}
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// Exit codes, as those of balk.
const (
	ok        = 0
	failed    = 1
	wrongCall = 2
	lost      = 3 // done, and some of it could not be judged
)

// run does one call.
func run(ctx context.Context, args []string, in io.Reader, out, errs io.Writer) int {
	p := &program{in: in, out: out, Language: words.Spoken(args)}
	root := p.root(errs)
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errs)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return p.code
	}
	fmt.Fprintf(errs, "balk-many: %s\n", p.Fault(err.Error()))
	if _, is := errors.AsType[*job.WrongCall](err); is {
		return wrongCall
	}
	return failed
}

// root is the command line.
func (p *program) root(errs io.Writer) *cobra.Command {
	root := &cobra.Command{
		Use: "balk-many", Short: "the logs of many fields, on many machines", SilenceErrors: true, SilenceUsage: true, Version: job.Program(),
		Long: "balk-many works the logs of many fields on any number of machines, against a PostgreSQL with PostGIS.\ncmd/balk-many/README.md says how it is set up and what it costs.",
		PersistentPreRunE: func(*cobra.Command, []string) error {
			p.log = logTo(errs, p.logForm)
			if err := p.Language.Validate(); err != nil {
				return &job.WrongCall{Err: err}
			}
			return nil
		},
	}
	root.CompletionOptions.DisableDefaultCmd = true
	root.PersistentFlags().StringVar(&p.url, "database", os.Getenv("BALK_DATABASE"), "the database, as postgres://user@host:5432/name; the password by PGPASSWORD or ~/.pgpass; without it BALK_DATABASE")
	root.PersistentFlags().StringVar(&p.logForm, "log", "text", "form of the log on stderr: text or json")
	root.PersistentFlags().StringVar((*string)(&p.Language), "language", string(p.Language), "language of what is told: en or de (en if not given); the log on stderr stays English")
	root.AddCommand(p.enqueue(), p.worker(), p.status(), p.cancel(), p.again(), p.results())
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return &job.WrongCall{Err: err} })
	return root
}

// program is a call.
type program struct {
	words.Language // of what it tells on stdout, and of why it could not
	in             io.Reader
	out            io.Writer
	log            *slog.Logger
	logForm, url   string
	code           int
}

// logTo is the log on a writer.
func logTo(w io.Writer, form string) *slog.Logger {
	if form == "json" {
		return slog.New(slog.NewJSONHandler(w, nil))
	}
	return slog.New(slog.NewTextHandler(w, nil))
}

// open connects to the database.
func (p *program) open(ctx context.Context) (*many.Database, error) {
	if p.logForm != "text" && p.logForm != "json" {
		return nil, &job.WrongCall{Err: fmt.Errorf("--log %s: must be text or json", p.logForm)}
	}
	if p.url == "" {
		return nil, &job.WrongCall{Err: errors.New("no database is named: --database, or BALK_DATABASE")}
	}
	return many.Open(ctx, p.url, p.log)
}

// with is a command that does something with the database.
func (p *program) with(use, short string, args cobra.PositionalArgs, do func(ctx context.Context, d *many.Database, args []string) error) *cobra.Command {
	return &cobra.Command{Use: use, Short: short, Args: wrongly(args), RunE: func(c *cobra.Command, args []string) error {
		d, err := p.open(c.Context())
		if err != nil {
			return err
		}
		defer d.Close()
		return do(c.Context(), d, args)
	}}
}

// wrongly makes a wrong call of arguments that do not fit.
func wrongly(args cobra.PositionalArgs) cobra.PositionalArgs {
	return func(c *cobra.Command, given []string) error {
		if err := args(c, given); err != nil {
			return &job.WrongCall{Err: err}
		}
		return nil
	}
}

// batchOf is the batch that is named, or the newest.
func batchOf(ctx context.Context, d *many.Database, args []string) (int64, error) {
	if len(args) == 0 {
		return d.Newest(ctx)
	}
	id, err := strconv.ParseInt(args[0], 10, 64)
	if err != nil || id < 1 {
		return 0, &job.WrongCall{Err: fmt.Errorf("batch %q: must be its number", args[0])}
	}
	return id, nil
}

// json writes a thing for programs.
func (p *program) json(v any) error {
	e := json.NewEncoder(p.out)
	e.SetIndent("", "  ")
	return e.Encode(v)
}
