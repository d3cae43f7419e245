// Command mutants puts small faults into the code, one at a time, and sees whether a test
// turns red. A fault that no test notices points at what nothing holds.
//
//	go run ./.ci/mutants -state FILE [-room DIR]... [-per-room N] [-seed N] [-budget 30m]
//
// For every room it first runs each test alone to learn how long it takes and which lines
// it goes through. A mutant is then tried on the tests that go through its line, quick ones
// first; if they all pass, on the commands' scripts. The repository is never changed:
// faults reach the compiler by an overlay. Results are added to the state file, a JSON
// object a line; a mutant of an unchanged room that stands there is not tried again.
package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// result is one mutant and what became of it.
type result struct {
	Room   string  `json:"room"`
	Hash   string  `json:"hash"` // of the room's files: results of other files count no more
	File   string  `json:"file"`
	Line   int     `json:"line"`
	Column int     `json:"column"`
	Kind   string  `json:"kind"`
	From   string  `json:"from"`
	To     string  `json:"to"`
	Fate   string  `json:"fate"` // killed, survived, survivedOwn or noProgram
	By     string  `json:"by,omitempty"`
	Took   float64 `json:"seconds"`
}

func (r result) key() string {
	return fmt.Sprintf("%s %s:%d:%d %s %s", r.Hash, r.File, r.Line, r.Column, r.Kind, r.To)
}

// scripts is the room whose tests see every other room from outside.
const scripts = "cmd/balk"

func main() {
	var rooms list
	flag.Var(&rooms, "room", "folder of a room, such as geo/plane; may be repeated (none: every room)")
	state := flag.String("state", "", "file of results, made if need be")
	perRoom := flag.Int("per-room", 25, "mutants to try in each room")
	seed := flag.Uint64("seed", 1, "of the choice of mutants")
	budget := flag.Duration("budget", 24*time.Hour, "begin no further mutant after this time")
	table := flag.Bool("table", false, "only print the table of the results that hold for the code as it is")
	least := flag.Float64("least", 0, "percentage of mutants that must be killed, else the exit code is 1")
	ownOnly := flag.Bool("own", false, "try mutants on their own room's tests only; those that survive are tried on the scripts by a later call without it")
	skip := flag.String("skip", "", "leave out tests whose name matches, as go test -skip does")
	flag.Parse()
	if err := run(rooms, *state, *perRoom, *seed, *budget, *least, *table, *ownOnly, *skip); err != nil {
		fmt.Fprintln(os.Stderr, "mutants:", err)
		os.Exit(1)
	}
}

type list []string

func (l *list) String() string     { return strings.Join(*l, " ") }
func (l *list) Set(s string) error { *l = append(*l, filepath.ToSlash(filepath.Clean(s))); return nil }

func run(rooms []string, state string, perRoom int, seed uint64, budget time.Duration, least float64, table, ownOnly bool, skip string) error {
	if state == "" {
		return errors.New("-state names the file of results")
	}
	if len(rooms) == 0 {
		var err error
		if rooms, err = everyRoom(); err != nil {
			return err
		}
	}
	known, err := readState(state)
	if err != nil {
		return err
	}
	if table {
		return printTable(rooms, known, least)
	}
	tmp, err := os.MkdirTemp("", "mutants-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(tmp)
	end := time.Now().Add(budget)
	for _, room := range rooms {
		if err := tryRoom(room, tmp, state, known, perRoom, seed, end, ownOnly, skip); err != nil {
			return fmt.Errorf("%s: %w", room, err)
		}
	}
	return printTable(rooms, known, least)
}

// everyRoom is every folder below the four tops that holds code.
func everyRoom() (rooms []string, err error) {
	for _, top := range []string{"geo", "coverage", "export", "cmd"} {
		err = errors.Join(err, filepath.WalkDir(top, func(path string, d fs.DirEntry, err error) error {
			if err != nil || !d.IsDir() {
				return err
			}
			if d.Name() == "testdata" {
				return fs.SkipDir
			}
			if files, _ := sources(path); len(files) > 0 {
				rooms = append(rooms, filepath.ToSlash(path))
			}
			return nil
		}))
	}
	return rooms, err
}

// sources are the files of a room that are code and not tests.
func sources(room string) ([]string, error) {
	files, err := filepath.Glob(filepath.Join(room, "*.go"))
	return slices.DeleteFunc(files, func(f string) bool {
		return strings.HasSuffix(f, "_test.go") || filepath.Base(f) == "doc.go"
	}), err
}

// roomHash is a hash of all files of a room, tests too.
func roomHash(room string) (string, error) {
	files, err := filepath.Glob(filepath.Join(room, "*.go"))
	if err != nil {
		return "", err
	}
	h := sha256.New()
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			return "", err
		}
		fmt.Fprintln(h, f, len(b))
		h.Write(b)
	}
	return fmt.Sprintf("%x", h.Sum(nil)[:6]), nil
}

// tryRoom tries perRoom mutants of a room, those of the state file counted.
func tryRoom(room, tmp, state string, known map[string]result, perRoom int, seed uint64, end time.Time, ownOnly bool, skip string) error {
	hash, err := roomHash(room)
	if err != nil {
		return err
	}
	mutants, err := mutantsOf(room)
	if err != nil {
		return err
	}
	rng := rand.New(rand.NewPCG(seed, uint64(len(room))))
	rng.Shuffle(len(mutants), func(i, j int) { mutants[i], mutants[j] = mutants[j], mutants[i] })
	var t *tests
	done := 0
	for _, m := range mutants {
		m.Room, m.Hash = room, hash
		if r, ok := known[m.key()]; ok && (ownOnly || r.Fate != survivedOwn) {
			if r.Fate != noProgram {
				done++
			}
			continue
		}
		if done >= perRoom || time.Now().After(end) {
			break
		}
		began := time.Now()
		if known[m.key()].Fate == survivedOwn { // its own room's tests need not be asked again
			m.Fate, m.By, err = m.onScripts(tmp)
		} else {
			if t == nil {
				if t, err = learn(room, tmp, skip); err != nil {
					return err
				}
			}
			m.Fate, m.By, err = t.try(m, tmp, ownOnly)
		}
		if err != nil {
			return err
		}
		m.Took = time.Since(began).Seconds()
		known[m.key()] = m.result
		if err := add(state, m.result); err != nil {
			return err
		}
		if m.Fate != noProgram {
			done++
			fmt.Printf("%s:%d:%d %s %q for %q: %s %s (%.1f s)\n", m.File, m.Line, m.Column, m.Kind, m.To, m.From, m.Fate, m.By, m.Took)
		}
	}
	return nil
}

const (
	killed    = "killed"
	survived  = "survived"
	noProgram = "no program" // does not compile: not a mutant

	survivedOwn = "survived its own room" // and was not tried on the scripts
)

func readState(path string) (map[string]result, error) {
	known := map[string]result{}
	b, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return known, nil
	}
	if err != nil {
		return nil, err
	}
	for line := range bytes.Lines(b) {
		var r result
		if json.Unmarshal(line, &r) == nil { // a line cut off by a kill is tried again
			known[r.key()] = r
		}
	}
	return known, nil
}

func add(path string, r result) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	b, err := json.Marshal(r)
	if err == nil {
		_, err = f.Write(append(b, '\n'))
	}
	return errors.Join(err, f.Close())
}

// printTable counts the mutants of the rooms as they are, and lists the survivors. It is
// an error if less than the least percentage was killed.
func printTable(rooms []string, known map[string]result, least float64) error {
	fmt.Println("| room | mutants | killed | % |\n|---|---|---|---|")
	var all, dead int
	var alive []result
	for _, room := range rooms {
		hash, err := roomHash(room)
		if err != nil {
			return err
		}
		n, k := 0, 0
		for _, r := range known {
			if r.Room != room || r.Hash != hash || r.Fate == noProgram {
				continue
			}
			n++
			if r.Fate == killed {
				k++
			} else {
				alive = append(alive, r)
			}
		}
		if n > 0 {
			fmt.Printf("| `%s` | %d | %d | %.0f |\n", room, n, k, 100*float64(k)/float64(n))
		}
		all, dead = all+n, dead+k
	}
	if all > 0 {
		fmt.Printf("| all | %d | %d | %.1f |\n", all, dead, 100*float64(dead)/float64(all))
	}
	slices.SortFunc(alive, func(a, b result) int {
		return strings.Compare(fmt.Sprintf("%s %5d %5d %s", a.File, a.Line, a.Column, a.To), fmt.Sprintf("%s %5d %5d %s", b.File, b.Line, b.Column, b.To))
	})
	if len(alive) > 0 {
		fmt.Println("\n| survived | instead of | stood |\n|---|---|---|")
	}
	cell := func(s string) string {
		return "`" + strings.ReplaceAll(strings.Join(strings.Fields(s), " "), "|", "\\|") + "`"
	}
	for _, r := range alive {
		fmt.Printf("| %s:%d:%d | %s | %s |\n", r.File, r.Line, r.Column, cell(r.From), cell(r.To))
	}
	if share := 100 * float64(dead) / float64(max(all, 1)); share < least {
		return fmt.Errorf("%.0f %% of %d faults were noticed, want at least %g %%", share, all, least)
	}
	return nil
}

// command runs a program below a limit of time and memory: a fault may make a loop
// without end.
func command(limit time.Duration, dir string, env []string, name string, args ...string) ([]byte, error) {
	ctx, cancel := context.WithTimeout(context.Background(), limit)
	defer cancel()
	c := exec.CommandContext(ctx, "bash", append([]string{"-c", `ulimit -v 16000000; exec "$@"`, "sh", name}, args...)...)
	c.Dir, c.Env = dir, append(os.Environ(), env...)
	c.WaitDelay = 2 * time.Second
	out, err := c.CombinedOutput()
	if ctx.Err() != nil {
		return out, ctx.Err()
	}
	return out, err
}
