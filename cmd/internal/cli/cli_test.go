package cli

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/pflag"
)

func run(ctx context.Context, args ...string) (code int, stdout, stderr string) {
	var out, err bytes.Buffer
	code = Run(ctx, args, strings.NewReader(""), &out, &err)
	return code, out.String(), err.String()
}

func TestInterruptedIs130(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	dir := t.TempDir()
	code, stdout, stderr := run(ctx, "demo", filepath.Join(dir, "farm"))
	if code != interrupted || stdout != "" || stderr != "balk: interrupted\n" {
		t.Errorf("code %d, stdout %q, stderr %q", code, stdout, stderr)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
		t.Errorf("%v left behind (%v)", left, err)
	}
}

// Everything but results carries the program's name, line by line.
func TestRemarksCarryTheName(t *testing.T) {
	for _, args := range [][]string{{}, {"check"}, {"nonsense"}, {"check", "a", "b", "--width", "5"}, {"check", "a", "b", "--width", "-5"}} {
		code, stdout, stderr := run(context.Background(), args...)
		if code == done || stdout != "" || stderr == "" {
			t.Errorf("%v: code %d, stdout %q, stderr %q", args, code, stdout, stderr)
		}
		for line := range strings.Lines(stderr) {
			if !strings.HasPrefix(line, "balk: ") {
				t.Errorf("%v: %q lacks the name", args, line)
			}
		}
	}
}

// The table of exit codes in help is the table in the code.
func TestHelpNamesTheExitCodes(t *testing.T) {
	code, stdout, _ := run(context.Background(), "help")
	if code != done {
		t.Errorf("help: code %d", code)
	}
	for _, want := range []string{"0    done", "1    could not", "2    wrong call", "3    done, but part of the input was unusable", "130  interrupted"} {
		if !strings.Contains(stdout, want) {
			t.Errorf("help lacks %q", want)
		}
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no space left") }

func TestResultThatCannotBeWrittenIsAnError(t *testing.T) {
	var stderr bytes.Buffer
	if code := Run(context.Background(), []string{"help"}, nil, full{}, &stderr); code != couldNot || !strings.Contains(stderr.String(), "no space left") {
		t.Errorf("code %d, stderr %q", code, stderr.String())
	}
}

func TestMeasureTakesPlainNumbersAndItsUnit(t *testing.T) {
	for text, want := range map[string]float64{"5": 5, "5m": 5, "5 m": 5, "0,10": 0.1, "5,5 m": 5.5, "1,0000": 1, "0,125": 0.125, "-0,125 m": -0.125, " 0.10 ": 0.1, "1e1": 10} {
		var v float64
		if err := (measure{&v, "m"}).Set(text); err != nil || v != want {
			t.Errorf("%q: %g (%v), want %g", text, v, err, want)
		}
	}
	for _, text := range []string{"", "m", "5ft", "5cm", "5,125", "00,125", "1,2,3", "NaN", "Inf", "5 s"} {
		v := 7.0
		if err := (measure{&v, "m"}).Set(text); err == nil || v != 7 {
			t.Errorf("%q: %g, want an error", text, v)
		}
	}
}

func TestProgressOnlyOnATerminal(t *testing.T) {
	var b bytes.Buffer
	v := &voice{err: &b}
	v.progress("reading", 0, 3)
	if b.Len() > 0 {
		t.Errorf("a pipe got %q", b.String())
	}
	v.live = true
	v.progress("reading", 0, 3)
	v.say("a remark")
	if want := "\r\x1b[Kbalk: reading (1/3)\r\x1b[Kbalk: a remark\n"; b.String() != want {
		t.Errorf("a terminal got %q, want %q", b.String(), want)
	}
}

// Flags that leave no choice between them are a wrong call, before any file is opened; so is a call without what it cannot do without.
func TestFlagsThatDoNotGoTogether(t *testing.T) {
	for _, args := range [][]string{
		{"check", "a", "b", "--width", "5", "--rounds", "2", "--headland", "12"},
		{"check", "a", "b"},
		{"handover", "a", "b", "--width", "5", "--rounds", "2", "--headland", "12", "--out", filepath.Join(t.TempDir(), "out")},
		{"handover", "a", "b"},
		{"handover", "a", "b", "--width", "5", "--rank", "2"},
		{"compare", "a", "--widths", "6"},
		{"compare", "a", "--speed", "8"},
	} {
		if code, stdout, stderr := run(context.Background(), args...); code != wrongCall || stdout != "" {
			t.Errorf("%v: code %d, stdout %q, stderr %q", args, code, stdout, stderr)
		}
	}
}

// What is asked for with a flag alone does not happen without it.
func TestSwitchesAreOff(t *testing.T) {
	for _, c := range verbs(&voice{}).Commands() {
		c.Flags().VisitAll(func(f *pflag.Flag) {
			if f.Value.Type() == "bool" && f.DefValue != "false" {
				t.Errorf("%s --%s is %s if not given", c.Name(), f.Name, f.DefValue)
			}
		})
	}
}

// What a flag is if it is not given stands in its text; that it is nothing stands nowhere.
func TestFlagsSayNoEmptyDefault(t *testing.T) {
	for _, c := range verbs(&voice{}).Commands() {
		for _, one := range append(c.Commands(), c) {
			if usage := one.Flags().FlagUsages(); strings.Contains(usage, "(default )") || strings.Contains(usage, "(default [])") {
				t.Errorf("%s: %s", one.CommandPath(), usage)
			}
		}
	}
}

// Progress is for character devices: not for memory, files, pipes, or where all vanishes.
func TestTerminal(t *testing.T) {
	if terminal(&bytes.Buffer{}) {
		t.Error("memory is taken for a terminal")
	}
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	defer w.Close()
	file, err := os.Create(filepath.Join(t.TempDir(), "file"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	null, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer null.Close()
	for name, f := range map[string]*os.File{"a pipe": w, "a file": file, "the null device": null} {
		if terminal(f) {
			t.Errorf("%s is taken for a terminal", name)
		}
	}
	zero, err := os.Open("/dev/zero") // a character device that is not the null device, where there is one
	if err != nil {
		t.Skip(err)
	}
	if !terminal(zero) {
		t.Error("a character device is not taken for a terminal")
	}
	if zero.Close(); terminal(zero) {
		t.Error("a closed file is taken for a terminal")
	}
}
