package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/queue"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"balk": main,
		"balk-many": func() {
			os.Exit(queue.Serve(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr, batch.Sources))
		},
	})
}

// TestScript looks at the command from outside: stdout, stderr, exit code, files
// left behind.
func TestScript(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error { // cases of repaired faults lie in $ISSUES
			issues, err := filepath.Abs(filepath.Join("..", "..", "testdata", "issues"))
			e.Setenv("ISSUES", issues)
			return err
		},
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
// given, compares what stands there with a value or with another file:
// json FILE [a.b.c VALUE], json FILE a.b.c in FILE
func jsonFile(ts *testscript.TestScript, neg bool, args []string) {
	switch {
	case !neg && len(args) == 1:
		var v any
		ts.Check(json.Unmarshal([]byte(ts.ReadFile(args[0])), &v))
	case !neg && len(args) == 3:
		if got := member(ts, args[0], args[1]); got != args[2] {
			ts.Fatalf("%s: %s is %s, want %s", args[0], args[1], got, args[2])
		}
	case !neg && len(args) == 4 && args[2] == "in":
		if one, other := member(ts, args[0], args[1]), member(ts, args[3], args[1]); one != other {
			ts.Fatalf("%s is %s in %s and %s in %s", args[1], one, args[0], other, args[3])
		}
	default:
		ts.Fatalf("usage: json FILE [member.member VALUE | member.member in FILE]")
	}
}

// member is what stands in a JSON file under a path of members.
func member(ts *testscript.TestScript, file, path string) string {
	var v any
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(file)), &v))
	for name := range strings.SplitSeq(path, ".") {
		m, ok := v.(map[string]any)
		if !ok {
			ts.Fatalf("%s: no object above %q", file, name)
		}
		if v, ok = m[name]; !ok {
			ts.Fatalf("%s: no member %q", file, name)
		}
	}
	return fmt.Sprint(v)
}
