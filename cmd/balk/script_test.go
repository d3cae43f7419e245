package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"balk/cmd/internal/cli"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"balk": func() {
			os.Exit(cli.Run(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
		},
	})
}

// TestScript looks at the command from outside: stdout, stderr, exit code, files
// left behind.
func TestScript(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Condition: func(cond string) (bool, error) {
			if cond == "root" { // the superuser may write into a closed folder
				return os.Geteuid() == 0, nil
			}
			return false, fmt.Errorf("unknown condition %q", cond)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits,
			"json":  jsonFile,
		},
	})
}

// exits runs a command and compares its exit code: exits CODE CMD ARGS...
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE CMD ARGS...")
	}
	got := "0"
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		code, ok := err.(interface{ ExitCode() int })
		if !ok {
			ts.Fatalf("%v", err)
		}
		got = fmt.Sprint(code.ExitCode())
	}
	if got != args[0] {
		ts.Fatalf("exit code %s, want %s", got, args[0])
	}
}

// jsonFile reads a file (or "stdout") as JSON, and if a path of members is
// given, compares what stands there: json FILE [a.b.c VALUE]
func jsonFile(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 && len(args) != 3 {
		ts.Fatalf("usage: json FILE [member.member VALUE]")
	}
	var v any
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(args[0])), &v))
	if len(args) == 1 {
		return
	}
	for name := range strings.SplitSeq(args[1], ".") {
		m, ok := v.(map[string]any)
		if !ok {
			ts.Fatalf("%s: no object above %q", args[0], name)
		}
		if v, ok = m[name]; !ok {
			ts.Fatalf("%s: no member %q", args[0], name)
		}
	}
	if got := fmt.Sprint(v); got != args[2] {
		ts.Fatalf("%s: %s is %s, want %s", args[0], args[1], got, args[2])
	}
}
