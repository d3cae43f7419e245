package cli

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"runtime/debug"
	"strings"
	"testing"

	"balk/cmd/internal/help"
	"balk/cmd/internal/job"
	"balk/coverage/rig"
)

// Every verb and every topic has its page, and what is neither has none.
func TestHelpKnowsVerbsAndTopics(t *testing.T) {
	_, all, _ := run(context.Background(), "help")
	for _, name := range append([]string{"check", "compare", "demo", "handover", "season", "spots", "turn"}, help.Topics...) {
		code, stdout, stderr := run(context.Background(), "help", name)
		if strings.Contains(stdout, "[]") {
			t.Errorf("help %s: brackets about nothing:\n%s", name, stdout)
		}
		title, text := help.Page(name)
		if code != done || stderr != "" || !strings.Contains(stdout, help.Plain(text)) {
			t.Errorf("help %s: code %d, stderr %q, stdout\n%s", name, code, stderr, stdout)
		}
		if !strings.Contains(all, name+strings.Repeat(" ", 12-len(name))+title) {
			t.Errorf("help does not list %s as %q:\n%s", name, title, all)
		}
	}
	for _, args := range [][]string{{"help", "nonsense"}, {"help", "check", "more"}} {
		if code, stdout, stderr := run(context.Background(), args...); code != wrongCall || stdout != "" || !strings.Contains(stderr, "no such verb or topic") {
			t.Errorf("%v: code %d, stdout %q, stderr %q", args, code, stdout, stderr)
		}
	}
}

// Shells are told of verbs and topics, and each shell gets its script.
func TestCompletion(t *testing.T) {
	code, stdout, _ := run(context.Background(), "__complete", "help", "")
	if code != done || !strings.Contains(stdout, "\nstates\t") || !strings.Contains(stdout, "\nturn\t") || strings.Contains(stdout, "__") {
		t.Errorf("code %d\n%s", code, stdout)
	}
	for _, shell := range []string{"bash", "zsh", "fish", "powershell"} {
		if code, stdout, stderr := run(context.Background(), "completion", shell); code != done || !strings.Contains(stdout, "balk") || stderr != "" {
			t.Errorf("%s: code %d, %d bytes, %q", shell, code, len(stdout), stderr)
		}
	}
}

// The blocks of the page on implement files are one whole file, which a reader takes and in which every key that there is
// stands; with those of bars in place of the sweeps of the set.
func TestHelpOnImplementFilesIsOne(t *testing.T) {
	_, text := help.Page("implement")
	file, bars := "", ""
	for i, part := range strings.Split(text, "```toml\n") {
		block, _, ok := strings.Cut(part, "```")
		if i == 0 || !ok {
			continue
		}
		if !strings.Contains(block, "[[bar]]") {
			file += block
		}
		if !strings.HasPrefix(block, "[sweeps]") {
			bars += block
		}
	}
	other := filepath.Join(t.TempDir(), "bars.toml")
	if err := os.WriteFile(other, []byte(bars), 0o644); err != nil {
		t.Fatal(err)
	}
	if im, err := (&job.Call{}).Implement(other); err != nil || len(im.Bars) != 2 || im.Bars[1].Component != "fine" {
		t.Errorf("%+v, %v, of\n%s", im.Bars, err, bars)
	}
	path := filepath.Join(t.TempDir(), "set.toml")
	if err := os.WriteFile(path, []byte(file), 0o644); err != nil {
		t.Fatal(err)
	}
	im, err := (&job.Call{}).Implement(path)
	if err != nil || im.Validate() != nil {
		t.Fatalf("%v, %v, of\n%s", err, im.Validate(), file)
	}
	said, err := json.Marshal(im)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(said), `"drawbar":3.4`) {
		t.Errorf("read as %s", said)
	}
	var keys func(of reflect.Type)
	keys = func(of reflect.Type) {
		for i := range of.NumField() {
			f := of.Field(i)
			key, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			inside := f.Type.Kind() == reflect.Struct
			if want := map[bool]string{false: "\n" + key + " = ", true: "\n[" + key + "]"}[inside]; !strings.Contains("\n"+file, want) && key != "drawbarRadius" && key != "each" && key != "bar" { // each in place of a rule, bars of sweeps
				t.Errorf("the page has no %q", want)
			}
			if inside {
				keys(f.Type)
			}
		}
	}
	keys(reflect.TypeFor[rig.Implement]())
}

func TestVersion(t *testing.T) {
	settings := func(pairs ...string) (s []debug.BuildSetting) {
		for i := 0; i < len(pairs); i += 2 {
			s = append(s, debug.BuildSetting{Key: pairs[i], Value: pairs[i+1]})
		}
		return s
	}
	const revision, time = "44cb3bc0123456789abcdef0123456789abcdef0", "2026-11-26T03:52:02Z"
	for name, c := range map[string]struct {
		of   debug.BuildInfo
		want string
	}{
		"at a tag":         {debug.BuildInfo{Main: debug.Module{Version: "v1.2.0"}, Settings: settings("vcs.revision", revision, "vcs.time", time)}, "v1.2.0"},
		"between two tags": {debug.BuildInfo{Main: debug.Module{Version: "v1.2.1-0.20261126035202-44cb3bc01234"}, Settings: settings("vcs.revision", revision, "vcs.time", time)}, "commit 44cb3bc01234 of 2026-11-26"},
		"with changes": {debug.BuildInfo{Main: debug.Module{Version: "v0.0.0-20261126035202-44cb3bc01234+dirty"}, Settings: settings("vcs.revision", revision, "vcs.time", time, "vcs.modified", "true")},
			"commit 44cb3bc01234 of 2026-11-26, changed since"},
		"without a repository": {debug.BuildInfo{Main: debug.Module{Version: "(devel)"}}, "without a version"},
	} {
		if got := job.Version(&c.of, true); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
	if got := job.Version(nil, false); got != "without a version" {
		t.Errorf("no information: %q", got)
	}
	if code, stdout, _ := run(context.Background(), "--version"); code != done || !strings.HasPrefix(stdout, "balk ") {
		t.Errorf("code %d, %q", code, stdout)
	}
}
