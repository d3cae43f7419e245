package folder

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// result is an invented one: the same names and others by version, in folders below too.
func result(version string, names ...string) Result {
	r := Result{Verb: "check", Report: func(w io.Writer, m Manifest) error {
		return json.NewEncoder(w).Encode(map[string]any{"version": version, member: m})
	}}
	for _, n := range names {
		r.Files = append(r.Files, File{Name: n, Write: func(w io.Writer) error {
			_, err := io.WriteString(w, strings.Repeat(version+" "+n+"\n", 50))
			return err
		}})
	}
	return r
}

func first() Result  { return result("first", "a.txt", "b.txt", "plan-2/TASKDATA/T.XML", "plan-2.txt") }
func second() Result { return result("second", "a.txt", "b.txt", "new/c.txt", "d.txt") }

func quiet(string) {}

func mustFill(t *testing.T, dir string, r Result) Manifest {
	t.Helper()
	m, err := Fill(t.Context(), dir, r, quiet)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// snapshot is what lies in a folder, by path.
func snapshot(t testing.TB, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil || rel == "." {
			return err
		}
		if d.IsDir() {
			all[filepath.ToSlash(rel)+"/"] = ""
			return nil
		}
		text, err := os.ReadFile(path)
		all[filepath.ToSlash(rel)] = string(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func names(all map[string]string) []string { return slices.Sorted(maps.Keys(all)) }

func write(t testing.TB, dir, name, text string) {
	t.Helper()
	path := place(dir, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// wholes are the two results as they lie in a folder each.
func wholes(t testing.TB) (one, two map[string]string) {
	t.Helper()
	for _, w := range []struct {
		all     *map[string]string
		results []Result
	}{{&one, []Result{first()}}, {&two, []Result{first(), second()}}} {
		dir := t.TempDir()
		for _, r := range w.results {
			if _, err := Fill(context.Background(), dir, r, quiet); err != nil {
				t.Fatal(err)
			}
		}
		*w.all = snapshot(t, dir)
	}
	return one, two
}

// The second run of a verb leaves nothing of the first that it does not write, and everything of others.
func TestFillLeavesNothingOldAndNothingOfOthers(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "deep", "out")
	m := mustFill(t, dir, first())
	if got, want := m.Paths("x"), []string{"x/a.txt", "x/b.txt", "x/plan-2/TASKDATA/T.XML", "x/plan-2.txt", "x/report.json"}; !slices.Equal(got, want) && filepath.Separator == '/' {
		t.Errorf("paths %q, want %q", got, want)
	}
	want := []string{"a.txt", "b.txt", "plan-2.txt", "plan-2/", "plan-2/TASKDATA/", "plan-2/TASKDATA/T.XML", "report.json"}
	if got := names(snapshot(t, dir)); !slices.Equal(got, want) {
		t.Fatalf("first: %q, want %q", got, want)
	}
	write(t, dir, "mine.txt", "mine")
	write(t, dir, "plan-2/notes.txt", "mine")
	write(t, dir, "plan-2.txt", "mine, with the name of an old result")
	mustFill(t, dir, second())
	got := snapshot(t, dir)
	want = []string{"a.txt", "b.txt", "d.txt", "mine.txt", "new/", "new/c.txt", "plan-2.txt", "plan-2/", "plan-2/notes.txt", "report.json"}
	if !slices.Equal(names(got), want) {
		t.Errorf("second: %q, want %q", names(got), want)
	}
	for _, n := range []string{"mine.txt", "plan-2/notes.txt", "plan-2.txt"} {
		if !strings.HasPrefix(got[n], "mine") {
			t.Errorf("%s is %q", n, got[n])
		}
	}
	if !strings.HasPrefix(got["a.txt"], "second") {
		t.Errorf("a.txt is %.20q", got["a.txt"])
	}
	// The same again: the same bytes.
	mustFill(t, dir, second())
	if again := snapshot(t, dir); !maps.Equal(again, got) {
		t.Errorf("the same run again gives %q", names(again))
	}
}

// Another verb in the same folder takes what bears its names, and leaves the rest; the list knows both.
func TestVerbsInOneFolder(t *testing.T) {
	dir := t.TempDir()
	mustFill(t, dir, first())
	turn := result("turn", "a.txt", "turn.svg")
	turn.Verb = "turn"
	m := mustFill(t, dir, turn)
	if len(m.Results) != 2 || len(m.of("check")) != 3 || len(m.of("turn")) != 2 {
		t.Errorf("the list is %+v", m)
	}
	mustFill(t, dir, second())
	want := []string{"a.txt", "b.txt", "d.txt", "new/", "new/c.txt", "report.json", "turn.svg"}
	if got := names(snapshot(t, dir)); !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// What is not balk's own is never written over, by what it is and not by its name.
func TestFillRefuses(t *testing.T) {
	for name, change := range map[string]func(dir string){
		"a changed file":       func(dir string) { write(t, dir, "b.txt", "changed") },
		"changed, as long":     func(dir string) { write(t, dir, "b.txt", strings.Repeat("fiRst b.txt\n", 50)) },
		"a file of a new name": func(dir string) { write(t, dir, "d.txt", "mine") },
		"a folder in the way":  func(dir string) { write(t, dir, "d.txt/x", "mine") },
		"a file for a folder":  func(dir string) { write(t, dir, "new", "mine") },
		"a changed report": func(dir string) {
			write(t, dir, Report, strings.Replace(snapshot(t, dir)[Report], "first", "FIRST", 1))
		},
		"another's report":      func(dir string) { write(t, dir, Report, `{"files":["a.txt"]}`) },
		"no report any more":    func(dir string) { os.Remove(place(dir, Report)) },
		"a link for a file":     func(dir string) { os.Remove(place(dir, "b.txt")); os.Symlink("a.txt", place(dir, "b.txt")) },
		"a link that is broken": func(dir string) { os.Symlink("nowhere", place(dir, "d.txt")) },
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			mustFill(t, dir, first())
			change(dir)
			before := snapshotLinks(t, dir)
			var list []string
			for _, f := range second().Files {
				list = append(list, f.Name)
			}
			var way *InTheWay
			if err := Check(t.Context(), dir, append(list, Report), quiet); !errors.As(err, &way) {
				t.Errorf("before the work: %v", err)
			}
			if _, err := Fill(t.Context(), dir, second(), quiet); !errors.As(err, &way) {
				t.Errorf("%v, want a refusal", err)
			}
			if after := snapshotLinks(t, dir); !maps.Equal(after, before) {
				t.Errorf("%q became %q", names(before), names(after))
			}
		})
	}
	file := filepath.Join(t.TempDir(), "file")
	write(t, filepath.Dir(file), "file", "x")
	var way *InTheWay
	for _, dir := range []string{file, filepath.Join(file, "below")} {
		if _, err := Fill(t.Context(), dir, first(), quiet); !errors.As(err, &way) {
			t.Errorf("%s: %v", dir, err)
		}
		if err := Check(t.Context(), dir, []string{"a"}, quiet); err == nil {
			t.Errorf("%s: no error before the work", dir)
		}
	}
}

// snapshotLinks is snapshot with links as such.
func snapshotLinks(t *testing.T, dir string) map[string]string {
	all := map[string]string{}
	filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			t.Fatal(err)
		}
		text := d.Type().String()
		if d.Type().IsRegular() {
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			text = string(b)
		}
		all[path] = text
		return nil
	})
	return all
}

// A list that names files outside the folder is refused, whoever made it.
func TestListStaysInTheFolder(t *testing.T) {
	top := t.TempDir()
	dir := filepath.Join(top, "out")
	evil := result("x", "a.txt")
	text := []byte(fmt.Sprintf(`{"folder":{"seal":"%s","results":[{"verb":"check","files":[{"name":"../mine","bytes":4,"sha256":"%s"}]}]}}`, unsealed, sum([]byte("mine"))))
	whole, _, err := seal(text)
	if err != nil {
		t.Fatal(err)
	}
	write(t, top, "mine", "mine")
	write(t, dir, Report, string(whole))
	if _, err := Fill(t.Context(), dir, evil, quiet); err == nil || !strings.Contains(err.Error(), "outside the folder") {
		t.Errorf("%v", err)
	}
	id := ".balk-ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	write(t, top, "free/"+id+"/journal", fmt.Sprintf(`{"Steps":[{"name":"../mine","was":{"bytes":4,"sha256":"%s"}}]}`, sum([]byte("mine"))))
	if _, err := Fill(t.Context(), filepath.Join(top, "free"), evil, quiet); err == nil || !strings.Contains(err.Error(), "outside the folder") {
		t.Errorf("%v", err)
	}
	if snapshot(t, top)["mine"] != "mine" {
		t.Error("a file outside the folder was touched")
	}
}

// A file that cannot be made is left out and named, and the one of the earlier result goes: the others are
// there. A panic is such an error.
func TestOneFilesTroubleStopsNoOther(t *testing.T) {
	for name, write := range map[string]func(io.Writer) error{
		"an error": func(w io.Writer) error { io.WriteString(w, "half"); return errors.New("254 bytes at most") },
		"a panic":  func(io.Writer) error { panic("254 bytes at most") },
	} {
		for _, placed := range []bool{false, true} {
			t.Run(fmt.Sprint(name, ", placed ", placed), func(t *testing.T) {
				dir := t.TempDir()
				mustFill(t, dir, first())
				r := result("second", "a.txt", "b.txt", "d.txt")
				r.Files[1].Write = write
				if placed {
					r.Files[1].Place = func(_ context.Context, path string) error {
						f, err := os.Create(path)
						if err != nil {
							t.Fatal(err)
						}
						defer f.Close()
						return write(f)
					}
				}
				m, err := Fill(t.Context(), dir, r, quiet)
				var some *Unwritten
				if !errors.As(err, &some) || len(some.Files) != 1 || some.Files[0].Name != "b.txt" || some.Left != 2 || !strings.Contains(err.Error(), "b.txt is not written") || !strings.Contains(err.Error(), "254 bytes") {
					t.Errorf("%v", err)
				}
				if name == "a panic" && !strings.Contains(err.Error(), "folder_test.go:") {
					t.Errorf("%v: where?", err)
				}
				if got, want := names(snapshot(t, dir)), []string{"a.txt", "d.txt", "report.json"}; !slices.Equal(got, want) {
					t.Errorf("%q, want %q", got, want)
				}
				if len(m.of("check")) != 2 {
					t.Errorf("the list is %+v", m)
				}
				mustFill(t, dir, second())
			})
		}
	}
}

// A report that cannot be made, an interruption: the folder is as it was, and one that was not there is not.
func TestFailedFillLeavesTheFolderAsItWas(t *testing.T) {
	stopped, stop := context.WithCancel(t.Context())
	bad := second()
	bad.Report = func(io.Writer, Manifest) error { panic("no report") }
	late := second()
	late.Report = func(w io.Writer, m Manifest) error { stop(); return second().Report(w, m) }
	unlisted := second()
	unlisted.Report = func(w io.Writer, m Manifest) error { _, err := io.WriteString(w, "{}"); return err }
	for name, c := range map[string]struct {
		ctx context.Context
		r   Result
	}{"report": {t.Context(), bad}, "interruption": {stopped, late}, "no list": {t.Context(), unlisted}} {
		top := t.TempDir()
		if _, err := Fill(c.ctx, filepath.Join(top, "x", "out"), c.r, quiet); err == nil {
			t.Errorf("%s: no error", name)
		}
		if got := names(snapshot(t, top)); len(got) > 0 {
			t.Errorf("%s: %q left behind", name, got)
		}
		mustFill(t, top, first())
		before := snapshot(t, top)
		if _, err := Fill(c.ctx, top, c.r, quiet); err == nil {
			t.Errorf("%s: no error", name)
		}
		if after := snapshot(t, top); !maps.Equal(before, after) {
			t.Errorf("%s: %q became %q", name, names(before), names(after))
		}
	}
}

// A disk that fails at any change of it, once or from then on, leaves one whole result, and after the next
// call nothing else. What it says names no file that is there meanwhile only.
func TestDiskFailsAnywhere(t *testing.T) {
	one, two := wholes(t)
	full := errors.New("no space left (on purpose)")
	var old, late int
	for _, forever := range []bool{false, true} {
		for n := 1; ; n++ {
			dir := t.TempDir()
			mustFill(t, dir, first())
			var mu sync.Mutex
			count := 0
			fault = func(what, name string) error {
				mu.Lock()
				defer mu.Unlock()
				if count++; count == n || forever && count > n {
					return &fs.PathError{Op: what, Path: name, Err: full}
				}
				return nil
			}
			_, err := Fill(t.Context(), dir, second(), quiet)
			fault = func(string, string) error { return nil }
			if err == nil {
				if n < 20 {
					t.Fatalf("only %d changes of the disk were seen", n)
				}
				break // it has fewer
			}
			if !errors.Is(err, full) || strings.Contains(err.Error(), ".balk-") {
				t.Fatalf("change %d: %v; want the full disk, and no name of what lies there meanwhile", n, err)
			}
			if err := Settle(t.Context(), dir, quiet); err != nil {
				t.Fatalf("change %d: %v", n, err)
			}
			switch got := snapshot(t, dir); {
			case maps.Equal(got, one):
				old++
			case maps.Equal(got, two):
				late++
			default:
				t.Errorf("change %d failed, forever %v: %q is neither result", n, forever, names(got))
			}
			mustFill(t, dir, second())
			if got := snapshot(t, dir); !maps.Equal(got, two) {
				t.Errorf("change %d: after the next call %q", n, names(got))
			}
		}
	}
	if old == 0 || late == 0 {
		t.Errorf("%d times the old result, %d times the new: both must come", old, late)
	}
}

// A file whose last bytes find no room is an error, though every write before the last went well.
func TestFailedFlush(t *testing.T) {
	dir := t.TempDir()
	mustFill(t, dir, first())
	before := snapshot(t, dir)
	fault = func(what, name string) error {
		if what == "write" && filepath.Base(name) == "d.txt" {
			return syscall.ENOSPC
		}
		return nil
	}
	defer func() { fault = func(string, string) error { return nil } }()
	if _, err := Fill(t.Context(), dir, second(), quiet); !errors.Is(err, syscall.ENOSPC) || !strings.Contains(err.Error(), "d.txt") {
		t.Errorf("%v, want the full disk and the file", err)
	}
	if after := snapshot(t, dir); !maps.Equal(before, after) {
		t.Errorf("%q became %q", names(before), names(after))
	}
}

// One file that can be moved by nobody stops the whole: those already in place are taken back at once.
func TestOneFileCannotBeReplaced(t *testing.T) {
	for _, stuck := range []string{"a.txt", "b.txt", "plan-2.txt", "report.json", "c.txt"} {
		dir := t.TempDir()
		mustFill(t, dir, first())
		before := snapshot(t, dir)
		fault = func(what, name string) error {
			if what == "rename" && filepath.Base(name) == stuck && strings.Contains(name, oldFiles) != (stuck == "c.txt") {
				return syscall.EPERM
			}
			return nil
		}
		_, err := Fill(t.Context(), dir, second(), quiet)
		fault = func(string, string) error { return nil }
		if !errors.Is(err, syscall.EPERM) {
			t.Errorf("%s: %v", stuck, err)
		}
		if after := snapshot(t, dir); !maps.Equal(before, after) {
			t.Errorf("%s stuck: %q became %q", stuck, names(before), names(after))
		}
	}
}

// What cannot be taken back at once is taken back by the next call, which says so.
func TestTakenBackByTheNextCall(t *testing.T) {
	dir := t.TempDir()
	mustFill(t, dir, first())
	before := snapshot(t, dir)
	fault = func(what, name string) error {
		fresh := strings.Contains(name, newFiles+string(filepath.Separator))
		if what == "rename" && (name == place(dir, "d.txt") || fresh && filepath.Base(name) == "a.txt") { // the last new file to its place, the first one back
			return syscall.EPERM
		}
		return nil
	}
	_, err := Fill(t.Context(), dir, second(), quiet)
	fault = func(string, string) error { return nil }
	if !errors.Is(err, syscall.EPERM) {
		t.Errorf("%v, want both faults of the disk", err)
	}
	outcome := outcomeOf(t, dir)
	if !strings.Contains(outcome, "taken back") {
		t.Fatalf("%q is left, outcome %q", stagedIn(t, dir), outcome)
	}
	var said []string
	if err := Settle(t.Context(), dir, func(s string) { said = append(said, s) }); err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(said, []string{dir + ": " + outcome}) {
		t.Errorf("said %q, want %q", said, outcome)
	}
	if after := snapshot(t, dir); !maps.Equal(before, after) {
		t.Errorf("%q became %q", names(before), names(after))
	}
}

const (
	dieAt   = "BALK_FOLDER_DIE_AT"   // the number of the change of the disk before which the process kills itself
	dieDir  = "BALK_FOLDER_DIE_DIR"  // the folder it fills
	dieVerb = "BALK_FOLDER_DIE_VERB" // "fill" or "settle"
)

// TestMain is also the process that is killed.
func TestMain(m *testing.M) {
	toDisk = func(*os.File) error { return nil } // processes die here, the machine does not
	dir := os.Getenv(dieDir)
	if dir == "" {
		os.Exit(m.Run())
	}
	var n, count int
	fmt.Sscan(os.Getenv(dieAt), &n)
	var mu sync.Mutex
	fault = func(string, string) error {
		mu.Lock()
		if count++; count == n {
			p, _ := os.FindProcess(os.Getpid())
			p.Kill()
			select {} // until it comes
		}
		mu.Unlock()
		return nil
	}
	var err error
	if os.Getenv(dieVerb) == "settle" {
		err = Settle(context.Background(), dir, quiet)
	} else {
		_, err = Fill(context.Background(), dir, second(), func(s string) { fmt.Fprintln(os.Stderr, s) })
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// killed runs this process again and says whether it was killed before it came to its end.
func killed(t *testing.T, dir, verb string, at int) bool {
	t.Helper()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), dieDir+"="+dir, dieVerb+"="+verb, fmt.Sprint(dieAt, "=", at))
	text, err := c.CombinedOutput()
	if err == nil {
		return false
	}
	var exit *exec.ExitError
	if !errors.As(err, &exit) || exit.ExitCode() == 1 && runtime.GOOS != "windows" {
		t.Fatalf("%v\n%s", err, text)
	}
	return true
}

// outcomeOf is what is to be said when what a call left in dir is settled.
func outcomeOf(t *testing.T, dir string) string {
	t.Helper()
	outcome := ""
	for _, own := range stagedIn(t, dir) {
		switch {
		case filepath.Base(own) == lockFile:
		case there(filepath.Join(own, committed)):
			outcome = "the result of a call that was cut off is finished"
		case there(filepath.Join(own, undone)):
			outcome = "a result that could not be put in its place is taken back, the earlier one stands"
		default:
			outcome = "what a call left that was cut off is removed, no result was touched"
		}
	}
	return outcome
}

// A process killed before any change of the disk, and its successor killed too: the next call finds or makes
// one whole result, and its holder's lock is taken over.
func TestKilledAnywhere(t *testing.T) {
	one, two := wholes(t)
	var old, late int
	for n := 1; ; n++ {
		dir := t.TempDir()
		mustFill(t, dir, first())
		if !killed(t, dir, "fill", n) {
			if n < 20 {
				t.Fatalf("only %d changes of the disk were seen", n)
			}
			break
		}
		if n%2 == 0 { // the next call is killed as well, somewhere
			killed(t, dir, "settle", 1+n%7)
		}
		var said []string
		outcome := outcomeOf(t, dir)
		if err := Settle(t.Context(), dir, func(s string) { said = append(said, s) }); err != nil {
			t.Fatalf("killed before change %d: %v", n, err)
		}
		if outcome != "" && (len(said) == 0 || said[len(said)-1] != dir+": "+outcome) {
			t.Errorf("killed before change %d: said %q, want %q last", n, said, outcome)
		}
		switch got := snapshot(t, dir); {
		case maps.Equal(got, one):
			old++
		case maps.Equal(got, two):
			late++
		default:
			t.Errorf("killed before change %d: %q is neither result", n, names(got))
		}
		if n%2 == 1 && (len(said) == 0 || !strings.Contains(said[0], "is gone: its lock is taken over")) {
			t.Errorf("killed before change %d: said %q", n, said)
		}
		mustFill(t, dir, second())
		if got := snapshot(t, dir); !maps.Equal(got, two) {
			t.Errorf("killed before change %d: after the next call %q", n, names(got))
		}
	}
	if old < 5 || late < 5 {
		t.Errorf("%d times the old result, %d times the new: both must come", old, late)
	}
}

// Settle finds what is left from any file of the result, and nothing happens where nothing is left.
func TestSettleFromBelow(t *testing.T) {
	for _, below := range []string{".", "plan-2", "plan-2/TASKDATA"} {
		dir := t.TempDir()
		mustFill(t, dir, first())
		if !killed(t, dir, "fill", 12) {
			t.Fatal("not killed")
		}
		if len(stagedIn(t, dir)) == 0 {
			t.Fatal("nothing is left to settle")
		}
		if err := Settle(t.Context(), place(dir, below), quiet); err != nil {
			t.Fatal(err)
		}
		if left := stagedIn(t, dir); len(left) > 0 {
			t.Errorf("from %s: %q left", below, left)
		}
	}
	if err := Settle(t.Context(), filepath.Join(t.TempDir(), "none"), func(s string) { t.Error(s) }); err != nil {
		t.Error(err)
	}
}

func stagedIn(t *testing.T, dir string) []string {
	t.Helper()
	left, err := filepath.Glob(filepath.Join(dir, ".balk-*"))
	if err != nil {
		t.Fatal(err)
	}
	return left
}

// Something of another put where a killed call was about to put a file: it stays, and is named.
func TestForeignerBetweenTheCalls(t *testing.T) {
	seen := false
	for n := 1; ; n++ {
		dir := t.TempDir()
		mustFill(t, dir, first())
		if !killed(t, dir, "fill", n) {
			break
		}
		if there(place(dir, "d.txt")) {
			continue
		}
		left := stagedIn(t, dir)
		if !slices.ContainsFunc(left, func(p string) bool { return there(filepath.Join(p, committed)) }) {
			continue
		}
		seen = true
		write(t, dir, "d.txt", "mine")
		err := Settle(t.Context(), dir, quiet)
		var way *InTheWay
		if !errors.As(err, &way) || filepath.Base(way.Path) != "d.txt" {
			t.Errorf("%v, want d.txt in the way", err)
		}
		got := snapshot(t, dir)
		if got["d.txt"] != "mine" || !strings.HasPrefix(got["a.txt"], "first") {
			t.Errorf("d.txt is %q, a.txt %.10q", got["d.txt"], got["a.txt"])
		}
		if err := Settle(t.Context(), dir, quiet); err != nil {
			t.Errorf("once more: %v", err)
		}
	}
	if !seen {
		t.Error("no call was killed between commit and the last move")
	}
}

// Many calls at once: each waits for the others, all succeed, and one result stands.
func TestManyAtOnce(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	var wg sync.WaitGroup
	for i := range 8 {
		wg.Go(func() {
			r := result(fmt.Sprint("run ", i), "a.txt", "b.txt", fmt.Sprintf("own-%d/x.txt", i))
			if _, err := Fill(t.Context(), dir, r, func(s string) {
				if !strings.HasSuffix(s, "waiting for it") { // which a slow machine may do
					t.Errorf("said %s", s)
				}
			}); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	all := snapshot(t, dir)
	if len(all) != 5 || len(stagedIn(t, dir)) > 0 {
		t.Fatalf("left %q", names(all))
	}
	for name, text := range all {
		if name != Report && !strings.HasSuffix(name, "/") && text[:5] != all["a.txt"][:5] {
			t.Errorf("%s is of %q, a.txt of %q", name, text[:5], all["a.txt"][:5])
		}
	}
}

// Who waits says so, once for each holder, and does not wait for ever.
func TestWaiting(t *testing.T) {
	defer func(p, s time.Duration) { patience, silence = p, s }(patience, silence)
	patience, silence = 20*glance, 5*glance
	dir := t.TempDir()
	lockOf := func(id string) {
		text, err := json.Marshal(holder{"elsewhere-" + id, 7, began, "", id})
		if err != nil {
			t.Fatal(err)
		}
		write(t, dir, lockFile, string(text))
	}
	lockOf("a")
	var said []string
	_, err := hold(t.Context(), dir, func(s string) {
		if said = append(said, s); len(said) == 1 {
			lockOf("b")
		}
	})
	if err == nil || !strings.Contains(err.Error(), "is being filled by process 7 on elsewhere-b") || !strings.Contains(err.Error(), "hint: if no balk runs there any more, delete ") {
		t.Errorf("%v", err)
	}
	if len(said) != 2 || !strings.Contains(said[0], "elsewhere-a") || !strings.Contains(said[1], "elsewhere-b") || !strings.HasSuffix(said[1], "waiting for it") {
		t.Errorf("said %q, want each holder once", said)
	}
	if text, err := os.ReadFile(place(dir, lockFile)); err != nil || !strings.Contains(string(text), "elsewhere-b") {
		t.Errorf("the lock is now %q (%v)", text, err)
	}
}

// locks are texts of lock files by situation.
type locks struct{ waits, deads map[string]string }

// systemLocks are situations that only one system tells; was is a process that was.
var systemLocks = func(lockOf func(holder) string, host string, begun time.Time, was int) locks { return locks{} }

// A lock whose holder cannot be asked is waited for, until the call is interrupted; one of a process that is
// no more is taken over by one of many that try.
func TestLocks(t *testing.T) {
	host, err := os.Hostname()
	if err != nil {
		t.Fatal(err)
	}
	lockOf := func(h holder) string {
		text, err := json.Marshal(h)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	begun := time.Date(2026, 4, 14, 6, 0, 0, 0, time.UTC)
	waits := map[string]string{
		"another host": lockOf(holder{host + "-2", 1, begun, "", "x"}),
		"this process": lockOf(holder{host, os.Getpid(), began, mark(), "x"}),
		"just made":    "",
	}
	maps.Copy(waits, systemLocks(lockOf, host, begun, 0).waits)
	for name, text := range waits {
		dir := t.TempDir()
		write(t, dir, lockFile, text)
		ctx, stop := context.WithTimeout(t.Context(), 10*glance)
		if _, err := hold(ctx, dir, quiet); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("%s: %v, want to wait", name, err)
		}
		stop()
	}
	dir := t.TempDir()
	if err := os.Symlink("nowhere", place(dir, lockFile)); err == nil {
		if _, err := hold(t.Context(), dir, quiet); err == nil {
			t.Error("a link to nowhere was taken for a free lock")
		}
	}
	c := exec.Command(os.Args[0], "-test.run", "^$") // a process that was
	if err := c.Run(); err != nil {
		t.Fatal(err)
	}
	deads := map[string]string{
		"this number, begun before": lockOf(holder{host, os.Getpid(), begun, mark(), "x"}),
		"nothing said, long ago":    "",
	}
	maps.Copy(deads, systemLocks(lockOf, host, begun, c.Process.Pid).deads)
	for name, text := range deads {
		dir := t.TempDir()
		write(t, dir, lockFile, text)
		if text == "" {
			past := time.Now().Add(-2 * speechless)
			if err := os.Chtimes(place(dir, lockFile), past, past); err != nil {
				t.Fatal(err)
			}
		}
		var mu sync.Mutex
		var said []string
		var wg sync.WaitGroup
		holding := 0
		for range 6 {
			wg.Go(func() {
				l, err := hold(t.Context(), dir, func(s string) { mu.Lock(); said = append(said, s); mu.Unlock() })
				if err != nil {
					t.Error(err)
					return
				}
				mu.Lock()
				if holding++; holding > 1 {
					t.Errorf("%s: %d hold it at once", name, holding)
				}
				mu.Unlock()
				time.Sleep(time.Millisecond)
				mu.Lock()
				holding--
				mu.Unlock()
				if err := l.free(); err != nil {
					t.Error(err)
				}
			})
		}
		wg.Wait()
		if len(said) != 1 || !strings.Contains(said[0], "its lock is taken over") {
			t.Errorf("%s: said %q, want it once", name, said)
		}
		if left := stagedIn(t, dir); len(left) > 0 {
			t.Errorf("%s: %q left", name, left)
		}
	}
}

// The disk fault must be seen even where a format hides it.
func TestHiddenDiskFault(t *testing.T) {
	r := second()
	r.Files[0].Write = func(w io.Writer) error {
		b := bufio.NewWriterSize(w, 16)
		b.WriteString(strings.Repeat("x", 1<<17))
		if b.Flush() != nil {
			return errors.New("cannot draw")
		}
		return nil
	}
	fault = func(what, name string) error {
		if what == "write" && filepath.Base(name) == "a.txt" {
			return syscall.ENOSPC
		}
		return nil
	}
	defer func() { fault = func(string, string) error { return nil } }()
	top := t.TempDir()
	if _, err := Fill(t.Context(), filepath.Join(top, "out"), r, quiet); !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("%v, want the full disk", err)
	}
	if got := names(snapshot(t, top)); len(got) > 0 {
		t.Errorf("%q left behind", got)
	}
}

// A verb whose files have all been taken by another is no longer listed.
func TestNothingLeftOfAVerb(t *testing.T) {
	entries := func(names ...string) (all []Entry) {
		for _, n := range names {
			all = append(all, Entry{Name: n})
		}
		return all
	}
	m := Manifest{Results: []Listed{{"check", entries("a", "b")}, {"turn", entries("c")}}}
	for _, c := range []struct {
		situation string
		files     []Entry
		want      string
	}{
		{"one of two taken", entries("a"), "compare 1, check 1, turn 1"},
		{"both taken", entries("a", "b"), "compare 2, turn 1"},
		{"all taken", entries("b", "c", "a"), "compare 3"},
		{"others", entries("d"), "compare 1, check 2, turn 1"},
	} {
		var got []string
		for _, r := range m.with("compare", c.files).Results {
			got = append(got, fmt.Sprint(r.Verb, " ", len(r.Files)))
		}
		if strings.Join(got, ", ") != c.want {
			t.Errorf("%s: %q, want %q", c.situation, got, c.want)
		}
	}
	if len(m.Results[0].Files) != 2 {
		t.Error("the list before is changed")
	}
}

// A folder in which nothing was left is looked through once; what is left in it later is found all the same.
func TestSettleAfterNothingWasLeft(t *testing.T) {
	dir := t.TempDir()
	mustFill(t, dir, first())
	hourAgo := time.Now().Add(-time.Hour)
	if err := os.Chtimes(dir, hourAgo, hourAgo); err != nil {
		t.Fatal(err)
	}
	if err := Settle(t.Context(), dir, quiet); err != nil {
		t.Fatal(err)
	}
	if _, is := clean.Load(dir); !is {
		t.Fatal("the folder is looked through each time")
	}
	if !killed(t, dir, "fill", 12) || len(stagedIn(t, dir)) == 0 {
		t.Fatal("nothing is left to settle")
	}
	if err := Settle(t.Context(), dir, quiet); err != nil {
		t.Fatal(err)
	}
	if left := stagedIn(t, dir); len(left) > 0 {
		t.Errorf("%q left", left)
	}
}

// What opening one of many files in a folder costs beside reading it.
func BenchmarkSettle(b *testing.B) {
	for _, n := range []int{100, 10_000} {
		b.Run(fmt.Sprint(n, " files"), func(b *testing.B) {
			dir := b.TempDir()
			for k := range n {
				if err := os.WriteFile(filepath.Join(dir, fmt.Sprint(k, ".geojson")), nil, 0o600); err != nil {
					b.Fatal(err)
				}
			}
			hourAgo := time.Now().Add(-time.Hour)
			if err := os.Chtimes(dir, hourAgo, hourAgo); err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				if err := Settle(b.Context(), dir, quiet); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
