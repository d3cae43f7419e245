package main

import (
	"bytes"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"
)

// TestFilesForWorkers: what the compose file, the image and the unit call is a call of this program, and the files they name are
// there. Whether a container engine takes them is not tried.
func TestFilesForWorkers(t *testing.T) {
	const top = "../.."
	call := func(file string, args []string) {
		t.Helper()
		p := &program{in: strings.NewReader(""), out: io.Discard}
		c, rest, err := p.root(io.Discard).Find(args)
		if err == nil {
			err = c.ParseFlags(rest)
		}
		if err != nil || c.Name() != "worker" || c.Flags().NArg() > 0 {
			t.Errorf("%s calls %q: %s, %v", file, args, c.Name(), err)
		}
	}
	there := func(file, name string) {
		t.Helper()
		if _, err := os.Stat(filepath.Join(top, name)); err != nil {
			t.Errorf("%s: %v", file, err)
		}
	}

	text, err := os.ReadFile("compose.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var compose struct {
		Services map[string]struct {
			Image    string
			Build    struct{ Context, Dockerfile string }
			Command  []string
			Volumes  []string
			ReadOnly bool `yaml:"read_only"`
			Profiles []string
			Rest     map[string]any `yaml:",inline"`
		}
		Volumes map[string]any
	}
	d := yaml.NewDecoder(bytes.NewReader(text))
	d.KnownFields(true)
	if err := d.Decode(&compose); err != nil {
		t.Fatal(err)
	}
	worker := compose.Services["worker"]
	call("compose.yaml", worker.Command)
	there("compose.yaml", worker.Build.Dockerfile)
	if filepath.Clean(filepath.Join("cmd/balk-many", worker.Build.Context)) != "." || !worker.ReadOnly {
		t.Errorf("the worker is built in %q, read-only %v", worker.Build.Context, worker.ReadOnly)
	}
	for name, s := range compose.Services {
		if (s.Image == "") == (s.Build.Context == "") {
			t.Errorf("service %s: image %q, built in %q", name, s.Image, s.Build.Context)
		}
		for _, v := range s.Volumes {
			if from, _, _ := strings.Cut(v, ":"); !strings.HasPrefix(from, "$") {
				if _, known := compose.Volumes[from]; !known {
					t.Errorf("service %s: there is no volume %q", name, from)
				}
			}
		}
	}
	if s := compose.Services["store"]; !slices.Equal(s.Profiles, []string{"store"}) { // it must not start unasked
		t.Errorf("the store is of profiles %q", s.Profiles)
	}

	text, err = os.ReadFile("Containerfile")
	if err != nil {
		t.Fatal(err)
	}
	var args []string
	if m := regexp.MustCompile(`(?m)^CMD (\[.*\])$`).FindSubmatch(text); m == nil || json.Unmarshal(m[1], &args) != nil {
		t.Fatal("Containerfile: no list of a command")
	}
	call("Containerfile", args)
	for _, m := range regexp.MustCompile(`(?m)^COPY ([\w./]+) /|go build .* (\./\S+)`).FindAllSubmatch(text, -1) {
		there("Containerfile", string(m[1])+string(m[2]))
	}
	if !regexp.MustCompile(`(?m)^USER [1-9]\d*:[1-9]\d*$`).Match(text) {
		t.Error("Containerfile: nobody is named to run it")
	}

	text, err = os.ReadFile("balk-many.service")
	if err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile(`(?m)^ExecStart=/usr/bin/balk-many (.*)$`).FindSubmatch(text)
	if m == nil {
		t.Fatal("balk-many.service starts nothing")
	}
	call("balk-many.service", strings.Fields(string(m[1])))
}
