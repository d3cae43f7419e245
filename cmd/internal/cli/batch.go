package cli

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/job"
	"balk/export/answer"
	"balk/export/words"
	"balk/geo"

	"github.com/spf13/cobra"
)

// manyName is the program that has what batches need and balk has not: the queue alone is 1.3 MiB and 49 packages of others.
const manyName = "balk-many"

// batchVerb is the verb "balk batch".
func batchVerb(v *voice) *cobra.Command {
	var s batch.Spec
	var machine machineFlags
	var slip slipFlags
	var asJSON, all bool
	var database string
	c := &cobra.Command{
		Use:  "batch SOURCE...",
		Args: cobra.MinimumNArgs(1),
		PreRunE: func(c *cobra.Command, args []string) error {
			for _, name := range []string{"field", "days"} {
				if c.Flags().Changed(name) {
					return fmt.Errorf("--%s: a batch takes all fields and days", name)
				}
			}
			if s.Workers < 0 {
				return fmt.Errorf("--workers %d: must be 0 or more", s.Workers)
			}
			if s.Memory != 0 && s.Memory < 64 {
				return fmt.Errorf("--memory %d: must be 64 MiB or more, or 0 for no limit", s.Memory)
			}
			if s.Most < time.Second {
				return fmt.Errorf("--most %s: must be 1s or more", s.Most)
			}
			if err := v.standing(c, args, nil); err != nil {
				return err
			}
			if s.Check.Boundary == "" {
				return fmt.Errorf("--%s: must be given", "fields")
			}
			s.Sources, s.Check.Farm = args, v.farmOf(s.Check.Farm)
			return nil
		},
		RunE: func(c *cobra.Command, _ []string) error {
			if err := machine.into(&v.call, c.Flags(), &slip, &s.Check); err != nil {
				return err
			}
			s.Check.Language = v.Language
			if database != "" && s.Out == "" {
				return v.enqueue(c.Context(), s, database)
			}
			var rep batch.Report
			ask := []string{"run"}
			if database != "" {
				ask = append(ask, "database")
			}
			err := v.many(c.Context(), database, s, &rep, ask...)
			err = v.answer(rep.Findings, err, asJSON, rep.JSON, func(w io.Writer) error { return printBatch(w, rep, all) })
			if n := len(rep.Faults) + len(rep.Lost); err == nil && n > 0 {
				err = &stop{partLost, errors.New(v.Say("done, but part of it could not be used or judged, as %s lists: %d", filepath.Join(s.Out, "failures.csv"), n))}
			}
			return err
		},
	}
	f := c.Flags()
	f.SortFlags = false
	operationFlags(f, &s.Check, &machine, &slip)
	for _, name := range []string{"field", "days"} {
		if err := f.MarkHidden(name); err != nil {
			panic(err) // the flag is added before
		}
	}
	f.StringVar(&s.Rules, "rules", "", "`FILE` of a table that says which set, farm and driver logs are of, by folder, machine, driver and day (balk help batch)")
	f.StringVar(&s.Out, "out", "", "`DIR` of the run: results as tables, its queue and what is done so far")
	f.StringVar(&database, "database", "", "`URL` of a PostgreSQL, postgres://user@host:5432/name, whose workers do the batch (cmd/balk-many/README.md): with --out it is waited for, and DIR gets its tables; without it is put into the queue there")
	f.IntVar(&s.Workers, "workers", 0, "`NUMBER` of operations worked at a time, each in a process of its own (one for each processor if not given)")
	memory := 4096
	if runtime.GOOS != "linux" {
		memory = 0
	}
	f.IntVar(&s.Memory, "memory", memory, "`MIB` of memory that one operation may take, 0 for no limit (on Linux): one that takes more has failed, and the others go on")
	s.Most = 10 * time.Minute
	f.Var(span{&s.Most}, "most", "`TIME` that one operation may take, as 10m: one that takes longer has failed, and the others go on")
	languageFlag(f, &v.Language)
	f.BoolVar(&asJSON, "json", false, "print the report as JSON")
	f.BoolVar(&all, "all", false, "print all totals, fields and failures")
	once(f, "field", "days", "together", "out", "database", "memory", "most", "json", "all", "rules")
	c.MarkFlagsMutuallyExclusive("rounds", "headland")
	c.MarkFlagsOneRequired("width", "implement")
	c.MarkFlagsOneRequired("out", "database")
	for _, name := range []string{"workers", "memory", "most"} { // workers of a database have their own
		c.MarkFlagsMutuallyExclusive(name, "database")
	}
	c.AddCommand(batchStatus(v))
	return c
}

func batchStatus(v *voice) *cobra.Command {
	var asJSON bool
	var database string
	c := &cobra.Command{
		Use:   "status DIR",
		Short: "how far a batch is",
		Args:  cobra.MaximumNArgs(1),
		PreRunE: func(_ *cobra.Command, args []string) error {
			if database == "" && len(args) == 0 {
				return errors.New("must be told which one: its folder, or --database")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			ask := append([]string{"far"}, args...)
			if database != "" {
				ask = append([]string{"far", "database"}, args...)
			}
			var st batch.Status
			err := v.many(c.Context(), database, nil, &st, ask...)
			return v.answer(nil, err, asJSON, func(w io.Writer) error { return json.NewEncoder(w).Encode(st) }, func(w io.Writer) error {
				_, err := fmt.Fprintln(w, v.far(st))
				return err
			})
		},
	}
	c.Flags().StringVar(&database, "database", "", "`URL` of the PostgreSQL whose workers do it, instead of DIR; then a number says which batch, the newest if none is given")
	c.Flags().BoolVar(&asJSON, "json", false, "print it as JSON")
	languageFlag(c.Flags(), &v.Language)
	once(c.Flags(), "json", "database")
	return c
}

// far says how far a batch is.
func (v *voice) far(st batch.Status) string {
	var b strings.Builder
	add := func(format string, values ...any) { b.WriteString(v.Say(format, values...)) }
	if st.Looked < st.Logs {
		add("%d of %s looked at", st.Looked, v.Count(st.Logs, "log"))
	} else {
		add("%d of %s done, of which %d failed", st.Done, v.Count(st.Tasks, "task"), st.Failed)
	}
	if st.LogsFailed > 0 {
		add("; %s could not be used", v.Count(st.LogsFailed, "log"))
	}
	if st.Running && st.Rate > 0 {
		add(", %.1f a second, %s left", st.Rate, words.Clock(st.Left))
	}
	if st.GivenUp > 0 {
		add("; given up or cancelled: %d bundles", st.GivenUp)
	}
	switch {
	case st.Running && (st.Workers > 0 || st.Batch == 0):
		add("; at work")
	case st.Running:
		add("; in the queue, nobody is at work")
	default:
		add("; nobody is at work")
	}
	if st.Why != "" {
		add("; the last fault: %s", v.Told(st.Why))
	}
	return b.String()
}

// enqueue has the second program put a batch into the queue of a database.
func (v *voice) enqueue(ctx context.Context, s batch.Spec, database string) error {
	path, err := secondProgram()
	if err != nil {
		return err
	}
	spec, err := json.Marshal(s)
	if err != nil {
		return err
	}
	c := exec.CommandContext(ctx, path, "enqueue")
	c.Cancel = func() error { return c.Process.Signal(os.Interrupt) }
	c.WaitDelay = time.Minute
	c.Env = append(os.Environ(), "BALK_DATABASE="+database) // all on the machine can read how a program was called
	var told, why bytes.Buffer
	c.Stdin, c.Stdout, c.Stderr = bytes.NewReader(spec), &told, &why
	err = c.Run()
	if ended, ok := errors.AsType[*exec.ExitError](err); ok && why.Len() > 0 {
		return &stop{ended.ExitCode(), errors.New(strings.TrimPrefix(strings.TrimSpace(why.String()), manyName+": "))}
	}
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return v.readable(func(w io.Writer) error {
		_, err := w.Write(told.Bytes())
		return err
	})
}

// secondProgram is the path of the second program, which lies beside this one or in the path.
func secondProgram() (string, error) {
	name := manyName
	if runtime.GOOS == "windows" {
		name += ".exe"
	}
	if own, err := os.Executable(); err == nil {
		beside := filepath.Join(filepath.Dir(own), name)
		if info, err := os.Stat(beside); err == nil && !info.IsDir() {
			return beside, nil
		}
	}
	path, err := exec.LookPath(name)
	if err != nil {
		return "", fmt.Errorf("%s: there is no such program beside balk or in the path, and batches are done by it\nhint: it comes with balk; from the sources it is built by go install ./cmd/balk-many", name)
	}
	return path, nil
}

// many asks the second program, about a database where one is named: what is asked goes there as JSON, and the answer comes so.
func (v *voice) many(ctx context.Context, database string, ask, answer any, args ...string) error {
	path, err := secondProgram()
	if err != nil {
		return err
	}
	question, err := json.Marshal(ask)
	if err != nil {
		return err
	}
	c := exec.CommandContext(ctx, path, args...)
	c.Cancel = func() error { return c.Process.Signal(os.Interrupt) }
	c.WaitDelay = time.Minute
	c.Env = append(os.Environ(), "BALK_DATABASE="+database) // all on the machine can read how a program was called
	var told bytes.Buffer
	c.Stdout = &told
	in, err := c.StdinPipe() // stays open: when this process is gone, however it went, that one ends too
	if err != nil {
		return err
	}
	messages, err := c.StderrPipe()
	if err != nil {
		return err
	}
	if err := c.Start(); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	_, _ = in.Write(question) // one that ended already says why
	why := v.hear(messages)
	err = c.Wait()
	if ended, ok := errors.AsType[*exec.ExitError](err); ok && why != "" {
		if err = errors.New(why); ended.ExitCode() == wrongCall {
			err = &job.WrongCall{Err: err}
		}
		return err
	}
	if err == nil {
		err = json.Unmarshal(told.Bytes(), answer)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}

// hear passes on what the second program tells, until it tells no more: why it ended, if that was an error.
func (v *voice) hear(from io.Reader) (why string) {
	lines := bufio.NewReader(from)
	for {
		line, err := lines.ReadBytes('\n')
		var m batch.Message
		switch {
		case len(bytes.TrimSpace(line)) == 0:
		case json.Unmarshal(line, &m) != nil:
			v.say(string(line)) // what the system or the language says of a program that fell
		case m.Progress != nil:
			v.rate(*m.Progress)
		case m.Say != "":
			v.call.Say(m.Say)
		default:
			why = m.Error
		}
		if err != nil {
			return why
		}
	}
}

// rate shows how far a batch is, how fast it goes and how long it will take.
func (v *voice) rate(p batch.Progress) {
	what := v.Told(p.What)
	if s := p.Since.Seconds(); p.Done > 0 && s >= 1 {
		each := s / float64(p.Done)
		if p.Rate > 0 {
			each = 1 / p.Rate
		}
		what += v.Say(", %.1f a second, %s left", 1/each, words.Clock(each*float64(p.Of-p.Done)))
	}
	v.progress(what, p.Done-1, p.Of)
}

// listedTotals is how many lines of a kind are printed without --all.
const listedTotals = 10

// printBatch writes totals, the worst fields and what failed.
func printBatch(w io.Writer, r batch.Report, all bool) error {
	b := &telling{Language: r.Spec.Check.Language}
	b.text(b.Say("%s with driving on fields; %s of another kind.", b.Count(r.Logs, "log"), b.Count(len(r.NoLogs), "file")), "")
	b.text(totals(b.Language, r.Totals.All, b.Say(", %s missed as logged", answer.Area(b.Language, r.Totals.All.Missed))), "")
	least := func(n int) int {
		if all {
			return n
		}
		return min(n, listedTotals)
	}
	for _, list := range []struct {
		head string
		rows []batch.Named
	}{{"by farm", r.Totals.Farms}, {"by set", r.Totals.Sets}, {"by driver", r.Totals.Drivers}, {"by month", r.Totals.Months}} {
		if len(list.rows) < 2 {
			continue
		}
		b.put("\n%s\n", b.Word(list.head))
		t := b.heads("", "operations", "ha", "missed ha", "%")
		for _, one := range list.rows[:least(len(list.rows))] {
			t.row("%s\t%d\t%s\t%s\t%s\t\n", cmp.Or(geo.Shown(one.Name), "-"), one.Operations, ha(b, one.Area), ha(b, one.Missed), share(b, one.Missed, one.Area))
		}
		if err := t.end(); err != nil {
			return err
		}
		b.more(len(list.rows) - least(len(list.rows)))
	}
	if len(r.Totals.Wear) > 0 {
		b.put("\n%s\n", b.Word("Wear of sweeps"))
		for _, w := range r.Totals.Wear[:least(len(r.Totals.Wear))] {
			b.text(w.Words(b.Language), "  ")
		}
		b.more(len(r.Totals.Wear) - least(len(r.Totals.Wear)))
	}
	if len(r.Totals.Worst) > 0 {
		b.put("\n%s\n", b.Word("fields with most missed ground"))
		t := b.heads("field", "operations", "ha", "missed ha", "%")
		for _, one := range r.Totals.Worst[:least(len(r.Totals.Worst))] {
			t.row("%s\t%d\t%s\t%s\t%s\t\n", cmp.Or(geo.Shown(one.Name), fmt.Sprint(one.Field)), one.Operations, ha(b, one.Area), ha(b, one.Missed), share(b, one.Missed, one.Area))
		}
		if err := t.end(); err != nil {
			return err
		}
		b.more(len(r.Totals.Worst) - least(len(r.Totals.Worst)))
	}
	failed := slices.Concat(r.Faults, r.Lost)
	if len(failed) > 0 {
		b.put("\n%s\n", b.Word("what could not be used"))
		for _, f := range failed[:least(len(failed))] {
			b.text(b.Fault(f.String()), "  ")
		}
		b.more(len(failed) - least(len(failed)))
	}
	return b.closing(w, r.Files, b.AfterWork())
}

// more says that so many are not listed.
func (b *telling) more(n int) {
	if n > 0 {
		b.put("  "+"and %d more (--all)\n", n)
	}
}

func share(b *telling, part, of float64) string {
	if of == 0 {
		return "-"
	}
	return b.Say("%.1f", 100*part/of)
}
