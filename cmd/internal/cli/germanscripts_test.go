package cli

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"balk": inGerman})
}

// kept names the folder in which inGerman leaves what was said.
const kept = "BALK_KEPT"

// inGerman is balk asked for German, where a verb has a language.
func inGerman() {
	args := os.Args[1:]
	telling := len(args) > 0 && slices.Contains([]string{"check", "compare", "turn", "handover", "season", "spots"}, args[0]) && !slices.Contains(args, "--json") && !slices.Contains(args, "--help")
	if telling {
		args = append(slices.Clone(args), "--language", "de")
	}
	var out, remarks bytes.Buffer
	code := Run(context.Background(), args, os.Stdin, &out, &remarks)
	if telling {
		f, err := os.CreateTemp(os.Getenv(kept), "said")
		if err == nil {
			_, err = fmt.Fprintf(f, "%s\n%s%s", strings.Join(args, " "), out.String(), remarks.String())
		}
		if err != nil {
			panic(err)
		}
		f.Close()
	}
	os.Stdout.Write(out.Bytes())
	os.Stderr.Write(remarks.Bytes())
	os.Exit(code)
}

// unheard is a test whose failures do not count: the scripts ask for English.
type unheard struct{ *testing.T }

func (u unheard) Fatal(...any)  { u.SkipNow() }
func (u unheard) FailNow()      { u.SkipNow() }
func (u unheard) Parallel()     {}
func (u unheard) Log(...any)    {}
func (u unheard) Verbose() bool { return false }
func (u unheard) Run(name string, f func(testscript.T)) {
	u.T.Run(name, func(t *testing.T) { f(unheard{t}) })
}

// TestScriptsInGerman: whatever the scripts make balk say, wrong calls and broken files with it, has no English word in German.
func TestScriptsInGerman(t *testing.T) {
	if os.Getenv("BALK_GERMAN") == "" {
		t.Skip("skipped: minutes of work (BALK_GERMAN=1)")
	}
	dir := t.TempDir()
	testscript.RunT(unheard{t}, testscript.Params{
		Dir: filepath.Join("..", "..", "balk", "testdata", "script"),
		Setup: func(e *testscript.Env) error {
			e.Setenv(kept, dir)
			issues, err := filepath.Abs(filepath.Join("..", "..", "..", "testdata", "issues"))
			e.Setenv("ISSUES", issues)
			return err
		},
		ContinueOnError: true,
		Condition:       func(string) (bool, error) { return os.Geteuid() == 0, nil },
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": func(ts *testscript.TestScript, _ bool, args []string) { _ = ts.Exec(args[1], args[2:]...) },
			"json":  func(*testscript.TestScript, bool, []string) {},
		},
	})
	said, err := filepath.Glob(filepath.Join(dir, "said*"))
	if err != nil || len(said) < 200 {
		t.Fatalf("%d calls, %v: the test does not see the scripts", len(said), err)
	}
	for _, name := range said {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		call, text, _ := bytes.Cut(text, []byte("\n"))
		for line := range strings.Lines(string(text)) {
			if words := untranslated(line); len(words) > 0 {
				t.Errorf("balk %s: %q in %s", call, words, line)
			}
		}
	}
}
