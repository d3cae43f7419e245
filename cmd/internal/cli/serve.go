package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os/exec"
	"runtime"
	"strconv"
	"strings"

	"balk/cmd/internal/demo"
	"balk/cmd/internal/job"
	"balk/cmd/internal/web"
	"balk/export/words"

	"github.com/spf13/cobra"
)

// serve is the verb "balk serve".
func serve(v *voice) *cobra.Command {
	var s job.Spec
	var machine machineFlags
	var slip slipFlags
	var o web.Options
	var port int
	var host string
	var noOpen bool
	c := &cobra.Command{
		Use:  "serve [FIELD TRACK...]",
		Args: cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if port < 0 || port > 65535 {
				return &stop{wrongCall, fmt.Errorf("port %d: must be from 0, as if not given, to 65535", port)}
			}
			o.Address = net.JoinHostPort(host, strconv.Itoa(port))
			if o.Open = argsOf(v.args[1:]); len(o.Open) > 0 { // told now rather than on the page
				spec, err := specOf(c.Context(), o.Open)
				if err != nil {
					return err
				}
				if err := spec.Validate(); err != nil {
					return &stop{wrongCall, err}
				}
			}
			if !web.Loopback(host) {
				v.say(v.Word("others on the network can reach this page by the address below, which is not encrypted: give it to nobody else"))
			}
			o.Spec, o.Verb, o.Say = specOf, carriedOut, v.say
			o.Demo = func(ctx context.Context, dir string) error {
				_, err := demo.Write(ctx, dir, 1, v.say)
				return err
			}
			o.Ready = func(address string) {
				if v.Language != "" {
					address += "#lang=" + string(v.Language)
				}
				_, _ = fmt.Fprintln(v.out, address)
				_ = v.out.Flush() // who started it may not listen
				v.say(v.Say("files put on the page are kept in %s; Ctrl-C ends it", o.Keep))
				if !noOpen {
					if err := browse(address); err != nil {
						v.say(v.Word("no browser could be opened: open the address yourself"))
					}
				}
			}
			if err := web.Serve(c.Context(), o); err != nil {
				return &stop{couldNot, err}
			}
			return nil
		},
	}
	f := c.Flags()
	f.SortFlags = false
	operationFlags(f, &s, &machine, &slip)
	f.StringVar(&o.Keep, "keep", "balk-page", "`DIR` for files that are put on the page, made when the first one comes; the page finds them there again")
	f.IntVar(&port, "port", 0, "`PORT` to listen on (if not given the same each time for a folder, or any where that is taken)")
	f.StringVar(&host, "host", "127.0.0.1", "`ADDRESS` to listen on; with another than this computer's own others can reach the page, if they know the token in its address")
	f.BoolVar(&noOpen, "no-open", false, "do not open a browser")
	c.MarkFlagsMutuallyExclusive("rounds", "headland")
	languageFlag(f, &v.Language)
	once(f, "keep", "port", "host", "no-open")
	return c
}

// argsOf are the arguments of balk check among those of a call of balk serve, as they were given.
func argsOf(call []string) []string {
	var out []string
	for i := 0; i < len(call); i++ {
		name, _, valued := strings.Cut(call[i], "=")
		switch name {
		case "--keep", "--port", "--host", "--language":
			if !valued {
				i++
			}
		case "--no-open":
		default:
			out = append(out, call[i])
		}
	}
	return out
}

// carriedOut carries out a verb, and gives what it prints and what it remarks. Errors are those of the command; none, where only part
// of the input was unusable: the remarks say so.
func carriedOut(ctx context.Context, args []string) (printed, remarks string, err error) {
	var out, beside strings.Builder
	v := &voice{out: bufio.NewWriter(&out), err: &beside, args: args}
	v.call.Say = func(s string) { v.say(v.Fault(s)) }
	root := verbs(v)
	v.Language = words.Spoken(args)
	root.SetArgs(args)
	root.SetIn(strings.NewReader(""))
	root.SetOut(io.Discard)
	root.SetErr(io.Discard)
	verb, err := root.ExecuteContextC(ctx)
	if err = errors.Join(err, v.out.Flush()); err == nil {
		return out.String(), beside.String(), nil
	}
	if s := stopped(verb, err); s.code != partLost {
		return "", "", s
	}
	return out.String(), beside.String(), nil
}

// specOf is what arguments of balk check mean. Errors are those of the command.
func specOf(ctx context.Context, args []string) (job.Spec, error) {
	var spec *job.Spec
	v := &voice{out: bufio.NewWriter(io.Discard), err: io.Discard, take: func(s job.Spec) { spec = &s }}
	root := verbs(v)
	root.SetArgs(append([]string{"check"}, args...))
	root.SetOut(io.Discard)
	root.SetErr(io.Discard)
	verb, err := root.ExecuteContextC(ctx)
	if err != nil {
		return job.Spec{}, stopped(verb, err)
	}
	if spec == nil {
		return job.Spec{}, &stop{wrongCall, errors.New("that asks for help, not for a check")}
	}
	return *spec, nil
}

// browse opens an address in the browser of the system.
func browse(address string) error {
	switch runtime.GOOS {
	case "windows":
		return exec.Command("rundll32", "url.dll,FileProtocolHandler", address).Start()
	case "darwin":
		return exec.Command("open", address).Start()
	}
	return exec.Command("xdg-open", address).Start()
}
