package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/debug"
	"strings"
	"sync"
	"time"

	"balk/cmd/internal/job"
	"balk/export/words"
	"balk/geo"

	"github.com/spf13/cobra"
)

// Run is balk without its process: it carries out args and gives the exit code.
// When ctx is cancelled the code is 130.
func Run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(usualGrowth)
	}
	v := &voice{out: bufio.NewWriter(stdout), err: stderr, live: terminal(stderr), args: args}
	v.call.Progress, v.call.Say = v.progress, func(s string) { v.say(v.Fault(s)) }
	v.call.Input(stdin)
	used := new(memory)
	defer used.rest()
	v.call.Sized(used.opened)
	root := verbs(v)
	v.Language = words.Spoken(args)
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(v.out)
	root.SetErr(stderr)
	verb, err := root.ExecuteContextC(ctx)
	v.clear()
	if flush := v.out.Flush(); err == nil && flush != nil {
		err = &stop{couldNot, fmt.Errorf("cannot write the result: %w", flush)}
	}
	if err == nil {
		return done
	}
	s := stopped(verb, err)
	if s.code == couldNot && ctx.Err() != nil {
		s = &stop{interrupted, errors.New("interrupted")}
	}
	if s.err != nil {
		v.say(v.Fault(s.err.Error()))
	}
	return s.code
}

// stopped is how a verb ended that did not end well.
func stopped(verb *cobra.Command, err error) *stop {
	if s, ok := errors.AsType[*stop](err); ok {
		return s
	}
	return &stop{wrongCall, wrong(verb, err)} // cobra's own: a fault of the call
}

func verbs(v *voice) *cobra.Command {
	var asked bool
	root := &cobra.Command{
		Use:           "balk",
		SilenceErrors: true,
		SilenceUsage:  true,
		RunE: func(c *cobra.Command, args []string) error {
			if asked {
				_, err := fmt.Fprintln(c.OutOrStdout(), "balk", job.Version(debug.ReadBuildInfo()))
				return err
			}
			return errors.New("no verb given")
		},
		Args: cobra.NoArgs,
	}
	alone(v, root)
	root.Flags().BoolVarP(&asked, "version", "v", false, "version for balk")
	root.AddCommand(check(v), compare(v), turnVerb(v), sweepsVerb(v), handover(v), spotsVerb(v), seasonVerb(v), batchVerb(v), serve(v), demonstrate(v))
	explain(root)
	completion(v, root)
	return root
}

// family is a verb that does nothing by itself: one of its own verbs must follow.
func family(v *voice, name string, verbs ...*cobra.Command) *cobra.Command {
	var names []string
	for _, one := range verbs {
		names = append(names, one.Name())
	}
	c := &cobra.Command{
		Use:  name,
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			return fmt.Errorf("%s wants one of %s", name, strings.Join(names, ", "))
		},
	}
	c.AddCommand(verbs...)
	alone(v, c)
	return c
}

// alone lets a call without a verb, or with a mistyped one, name its language.
func alone(v *voice, c *cobra.Command) {
	languageFlag(c.Flags(), &v.Language)
	c.Flags().Lookup("language").Hidden = true
}

// voice keeps results and remarks apart.
type voice struct {
	out            *bufio.Writer  // results
	err            io.Writer      // remarks
	live           bool           // err is a terminal: progress may be shown
	shown          bool           // a progress line stands there
	line           string         // that line
	begun          time.Time      // when it came
	beat           *time.Timer    // runs while it stands there
	call           job.Call       // what the verb does
	words.Language                // of what is said; that of the call, or of a file that holds
	folder         string         // of the file balk.toml that holds; "" = none does
	args           []string       // of the call
	take           func(job.Spec) // takes what balk check would check; nil = it is checked

	mu sync.Mutex // of err and all of progress: work that was interrupted may still tell its progress
}

// say writes a remark, each line of it with the program's name in front. When
// stderr itself is gone there is nobody left to tell.
func (v *voice) say(s string) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.wipe()
	var b strings.Builder
	for line := range strings.SplitSeq(strings.TrimRight(s, "\n"), "\n") {
		b.WriteString("balk: " + geo.Shown(line) + "\n")
	}
	_, _ = io.WriteString(v.err, b.String())
}

// progress shows one line that the next one replaces.
func (v *voice) progress(what string, n, of int) {
	if !v.live {
		return
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	v.line, v.begun = fmt.Sprintf("\r\x1b[Kbalk: %s (%d/%d)", v.Told(what), min(n+1, of), of), time.Now()
	_, _ = io.WriteString(v.err, v.line)
	if v.shown = true; v.beat == nil {
		v.beat = time.AfterFunc(time.Second, v.still)
		return
	}
	v.beat.Reset(time.Second)
}

// still shows behind a line of progress for how many seconds it has stood: what takes long has not stopped.
func (v *voice) still() {
	v.mu.Lock()
	defer v.mu.Unlock()
	if !v.shown {
		return
	}
	if stood := time.Since(v.begun).Seconds(); stood >= 0.5 { // else a new line came just before
		_, _ = fmt.Fprintf(v.err, "%s, %.0f s", v.line, stood)
	}
	v.beat.Reset(time.Second)
}

func (v *voice) clear() {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.wipe()
}

func (v *voice) wipe() {
	if v.shown {
		_, _ = io.WriteString(v.err, "\r\x1b[K")
		if v.shown = false; v.beat != nil {
			v.beat.Stop()
		}
	}
}
