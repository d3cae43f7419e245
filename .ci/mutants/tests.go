package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// tests are those of a room: how long each takes, and which lines it goes through.
type tests struct {
	room  string
	names []string // quick ones first
	took  map[string]time.Duration
	lines map[string]map[string][]span // by test and file
}

type span struct{ from, to int }

// env keeps trials alike: no data from outside the repository.
var env = []string{"BALK_SHARED="}

const whileTesting = 10 * time.Minute // for one test of unchanged code

// learn runs each test of a room alone, on the code as it is.
func learn(room, tmp, skip string) (*tests, error) {
	t := &tests{room: room, took: map[string]time.Duration{}, lines: map[string]map[string][]span{}}
	bin := filepath.Join(tmp, "plain.test")
	if out, err := command(whileTesting, ".", env, "go", "test", "-c", "-cover", "-o", bin, "./"+room); err != nil {
		return nil, fmt.Errorf("%w\n%s", err, out)
	}
	if _, err := os.Stat(bin); err != nil {
		return t, nil // no tests
	}
	out, err := command(whileTesting, room, env, bin, "-test.list", ".")
	if err != nil {
		return nil, fmt.Errorf("%w\n%s", err, out)
	}
	left, err := regexp.Compile(skip)
	if err != nil {
		return nil, err
	}
	for name := range strings.Lines(string(out)) {
		name = strings.TrimSpace(name)
		if strings.HasPrefix(name, "Benchmark") || !regexp.MustCompile(`^\w+$`).MatchString(name) || skip != "" && left.MatchString(name) {
			continue
		}
		profile := filepath.Join(tmp, "cover")
		began := time.Now()
		if out, err := command(whileTesting, room, env, bin, "-test.run", "^"+name+"$", "-test.count=1", "-test.coverprofile="+profile); err != nil {
			return nil, fmt.Errorf("%s is red before any fault: %w\n%s", name, err, out)
		}
		t.took[name] = time.Since(began)
		if t.lines[name], err = covered(profile); err != nil {
			return nil, err
		}
		t.names = append(t.names, name)
	}
	slices.SortStableFunc(t.names, func(a, b string) int { return int(t.took[a] - t.took[b]) })
	return t, nil
}

// covered reads a coverage profile: "balk/geo/cut.go:12.30,14.2 1 5".
func covered(profile string) (map[string][]span, error) {
	f, err := os.Open(profile)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	lines := map[string][]span{}
	in := bufio.NewScanner(f)
	for in.Scan() {
		place, rest, ok := strings.Cut(in.Text(), ".go:")
		if !ok || strings.HasSuffix(rest, " 0") {
			continue
		}
		var a, b, c, d int
		if _, err := fmt.Sscanf(rest, "%d.%d,%d.%d", &a, &b, &c, &d); err != nil {
			return nil, fmt.Errorf("%s: %w", in.Text(), err)
		}
		file := strings.TrimPrefix(place, "balk/") + ".go"
		lines[file] = append(lines[file], span{a, c})
	}
	return lines, in.Err()
}

// through are the tests that go through a line.
func (t *tests) through(file string, line int) (names []string, took time.Duration) {
	for _, name := range t.names {
		if slices.ContainsFunc(t.lines[name][file], func(s span) bool { return s.from <= line && line <= s.to }) {
			names, took = append(names, name), took+t.took[name]
		}
	}
	return names, took
}

// quick tests are run in one go, the others one by one after them.
const quick = 300 * time.Millisecond

// try says what becomes of a mutant, and which tests turned red.
func (t *tests) try(m mutant, tmp string, ownOnly bool) (fate, by string, err error) {
	overlay, err := m.overlay(tmp)
	if err != nil {
		return "", "", err
	}
	names, _ := t.through(m.File, m.Line)
	bin := filepath.Join(tmp, "mutant.test")
	if out, err := command(whileTesting, ".", env, "go", "test", "-c", "-overlay", overlay, "-o", bin, "./"+t.room); err != nil {
		if len(out) == 0 {
			return "", "", err
		}
		return noProgram, "", nil
	}
	var rounds [][]string
	for i, name := range names {
		if i == 0 || t.took[name] > quick {
			rounds = append(rounds, nil)
		}
		rounds[len(rounds)-1] = append(rounds[len(rounds)-1], name)
	}
	for _, round := range rounds {
		limit := 20 * time.Second
		for _, name := range round {
			limit += 10 * t.took[name]
		}
		out, err := command(limit, t.room, env, bin, "-test.run", "^("+strings.Join(round, "|")+")$", "-test.count=1", "-test.failfast")
		if by, red := verdict(out, err); red {
			return killed, by, nil
		}
	}
	if t.room == scripts {
		return survived, "", nil
	}
	if ownOnly {
		return survivedOwn, "", nil
	}
	return m.onScripts(tmp)
}

// onScripts tries a mutant on the tests that see the whole program from outside.
func (m mutant) onScripts(tmp string) (fate, by string, err error) {
	overlay, err := m.overlay(tmp)
	if err != nil {
		return "", "", err
	}
	out, err := command(whileTesting, ".", env, "go", "test", "-count=1", "-failfast", "-timeout", "3m", "-overlay", overlay, "./"+scripts, "./cmd/internal/job")
	if by, red := verdict(out, err); red {
		return killed, by, nil
	}
	return survived, "", nil
}

var failed = regexp.MustCompile(`(?m)^\s*--- FAIL: (\S+)`)

// verdict says whether a run of tests was red, and by which of them.
func verdict(out []byte, err error) (by string, red bool) {
	switch {
	case err == nil:
		return "", false
	case errors.Is(err, context.DeadlineExceeded):
		return "no end", true
	}
	if m := failed.FindSubmatch(out); m != nil {
		return string(m[1]), true
	}
	return "panic or exit", true
}

// overlay writes the file with the fault in it, and the note to the compiler that it
// stands for the one in the repository.
func (m mutant) overlay(tmp string) (string, error) {
	src, err := os.ReadFile(m.File)
	if err != nil {
		return "", err
	}
	changed := filepath.Join(tmp, strconv.Itoa(m.Line)+"-"+filepath.Base(m.File))
	text := string(src[:m.at]) + m.with + string(src[m.end:])
	if err := os.WriteFile(changed, []byte(text), 0o644); err != nil {
		return "", err
	}
	path, err := filepath.Abs(m.File)
	if err != nil {
		return "", err
	}
	note, err := json.Marshal(map[string]map[string]string{"Replace": {path: changed}})
	if err != nil {
		return "", err
	}
	name := filepath.Join(tmp, "overlay.json")
	return name, os.WriteFile(name, note, 0o644)
}
