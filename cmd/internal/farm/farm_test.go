package farm

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/paulmach/orb"
)

// piece is an invented field some way to the east.
func piece(n int) Field {
	x := 11 + float64(n)/100
	return Field{Name: fmt.Sprintf("Piece %d (invented)", n), Official: fmt.Sprintf("ZZ-%03d", n),
		Boundary: orb.MultiPolygon{{{{x, 48.1}, {x + 1./300, 48.1}, {x + 1./300, 48.1 + 1./700}, {x, 48.1 + 1./700}, {x, 48.1}}}}}
}

// entry is an invented operation on it, of one kept log.
func entry(t testing.TB, f *Farm, field, day int) Entry {
	t.Helper()
	l, err := f.Keep("track.geojson", strings.NewReader(fmt.Sprintf("log %d %d", field, day)))
	if err != nil {
		t.Fatal(err)
	}
	begin := time.Date(2026, 4, 1, 6, 0, 0, 0, time.UTC).AddDate(0, 0, day)
	return Entry{Field: piece(field), Set: Set{"sweep", "width = 6.0\n"}, Begin: begin, End: begin.Add(time.Hour),
		Work: Work{Does: []string{"cuts"}, DepthSet: 4.5, Driver: "N. N., \"quoted\"\nand broken", CropBefore: "=1+1"}, Sum: Sum{Area: 47041.25, Worked: 46000, Missed: 1e3 / 3, Seconds: 3600.5},
		Options: json.RawMessage(`{"work":{"width":6}}`), Program: "balk test", Form: 1, Report: json.RawMessage(`{"answer":["` + strings.Repeat("x", 3000) + `"]}`), Logs: []Log{l}}
}

func made(t testing.TB, dir string) *Farm {
	t.Helper()
	f, err := OpenToChange(context.Background(), dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := f.Close(); err != nil {
			t.Error(err)
		}
	})
	return f
}

func added(t testing.TB, f *Farm, e Entry) int64 {
	t.Helper()
	n, err := f.Add(context.Background(), e)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// What is put in comes out, in the order of time; numbers are never given twice; the same logs are not added again.
func TestOperationsAreKept(t *testing.T) {
	ctx, dir := t.Context(), t.TempDir()
	f := made(t, dir)
	late := added(t, f, entry(t, f, 1, 40))
	early := added(t, f, entry(t, f, 1, 3))
	added(t, f, entry(t, f, 2, 3))
	var twice *Twice
	if _, err := f.Add(ctx, entry(t, f, 1, 3)); !errors.As(err, &twice) || twice.Number != early {
		t.Errorf("added twice: %v", err)
	}
	other := entry(t, f, 1, 3)
	log, err := f.Keep("same driving.zip", strings.NewReader("the same in another form"))
	if err != nil {
		t.Fatal(err)
	}
	other.Logs, other.Begin, other.Sum.Worked = []Log{log}, other.Begin.Add(900*time.Millisecond), 1.001*other.Sum.Worked
	if _, err := f.Add(ctx, other); !errors.As(err, &twice) || twice.Number != early || !twice.Driving {
		t.Errorf("the same driving in other files: %v", err)
	}
	for what, e := range map[string]Entry{"later": {Begin: other.Begin.Add(time.Minute), End: other.End}, "longer": {Begin: other.Begin, End: other.End.Add(time.Minute)}} {
		one := other
		one.Begin, one.End = e.Begin, e.End
		n, err := f.Add(ctx, one)
		if err != nil {
			t.Errorf("%s: %v", what, err)
			continue
		}
		if err := f.Remove(ctx, n, other.Begin); err != nil {
			t.Error(err)
		}
	}
	field, err := f.Find(ctx, "ZZ-001")
	if err != nil || !orb.Equal(field.Boundary, piece(1).Boundary) {
		t.Fatalf("%+v (%v)", field, err)
	}
	for _, name := range []string{"piece 1 (INVENTED)", fmt.Sprint("#", field.Number)} {
		if same, err := f.Find(ctx, name); err != nil || same.Number != field.Number {
			t.Errorf("%s: field %d (%v)", name, same.Number, err)
		}
	}
	all, err := f.Operations(ctx, field.Number)
	if err != nil || len(all) != 2 || all[0].Number != early || all[1].Number != late {
		t.Fatalf("%+v (%v)", all, err)
	}
	want := entry(t, f, 1, 3)
	if o := all[0]; !o.Begin.Equal(want.Begin) || !o.End.Equal(want.End) || o.Sum != want.Sum || o.Driver != want.Work.Driver || o.DepthSet != 4.5 || o.Set != "sweep" || o.Soil != "" {
		t.Errorf("%+v", o)
	}
	c, err := f.Checked(ctx, early)
	if err != nil || string(c.Report) != string(want.Report) || string(c.Options) != string(want.Options) || len(c.Logs) != 1 || c.Logs[0] != want.Logs[0] {
		t.Errorf("%.200v (%v)", c, err)
	}
	if text, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(c.Logs[0].Kept))); err != nil || string(text) != "log 1 3" {
		t.Errorf("the log is %q (%v)", text, err)
	}
	if err := f.Remove(ctx, late, want.Begin); err != nil {
		t.Fatal(err)
	}
	if n := added(t, f, entry(t, f, 1, 50)); n <= late+1 {
		t.Errorf("number %d is given again after %d was removed", n, late)
	}
	var removed string
	if err := f.conn.QueryRowContext(ctx, "SELECT rows FROM removed WHERE number = ?", late).Scan(&removed); err != nil || !strings.Contains(removed, want.Work.CropBefore) || !strings.Contains(removed, `"sha`) && !strings.Contains(removed, "operation_log") {
		t.Errorf("removed: %.300s (%v)", removed, err)
	}
	var none *NoOperation
	if err := f.Remove(ctx, late, want.Begin); !errors.As(err, &none) {
		t.Errorf("removed twice: %v", err)
	}
}

// A field of two names, two numbers or two boundaries is refused, and nothing of it is kept.
func TestOneFieldHasOneName(t *testing.T) {
	f := made(t, t.TempDir())
	added(t, f, entry(t, f, 1, 1))
	for what, change := range map[string]func(*Field){
		"is \"Piece 1 (invented)\" in this farm, and \"Other\" here":   func(x *Field) { x.Name = "Other"; x.Boundary = piece(9).Boundary },
		"has the boundary of \"Piece 1 (invented)\"":                   func(x *Field) { x.Name, x.Official = "Other", "" },
		"has the official number ZZ-001 in this farm, and ZZ-002 here": func(x *Field) { x.Official = "ZZ-002" },
		"has another boundary in this farm: 3.9":                       func(x *Field) { x.Boundary = piece(9).Boundary },
		"a field of a farm has a name":                                 func(x *Field) { x.Name = "" },
	} {
		e := entry(t, f, 1, 2)
		change(&e.Field)
		if _, err := f.Add(t.Context(), e); err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%v, want %q", err, what)
		}
	}
	if all, err := f.Fields(t.Context()); err != nil || len(all) != 1 {
		t.Errorf("%d fields (%v)", len(all), err)
	}
	for _, w := range []Work{{}, {Does: []string{"ploughs"}}, {Does: []string{"cuts", "cuts"}}, {Does: []string{"cuts"}, DepthSet: 400}} {
		e := entry(t, f, 1, 2)
		e.Work = w
		if _, err := f.Add(t.Context(), e); err == nil {
			t.Errorf("%+v: taken", w)
		}
	}
}

// files is all that lies in a folder.
func files(t testing.TB, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		name, _ := filepath.Rel(dir, path)
		all[filepath.ToSlash(name)] = string(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func exported(t testing.TB, f *Farm) string {
	t.Helper()
	dir := t.TempDir()
	plain, err := f.Plain(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range plain {
		path := filepath.Join(dir, filepath.FromSlash(p.Name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		file, err := os.Create(path)
		if err == nil {
			err = errors.Join(p.Write(file), file.Close())
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// A farm written as plain files and built of them again is the same: written once more it gives the same files, byte by byte.
func TestPlainFilesAreTheFarm(t *testing.T) {
	ctx := t.Context()
	f := made(t, t.TempDir())
	first := added(t, f, entry(t, f, 1, 1))
	e := entry(t, f, 2, 2)
	e.Begin, e.End, e.Field.Official, e.Field.Frame = time.Time{}, time.Time{}, "", "ETRS89"
	second := added(t, f, e)
	gone := added(t, f, entry(t, f, 1, 9))
	now := time.Date(2026, 5, 1, 12, 0, 0, 5e6, time.UTC)
	field, err := f.Find(ctx, "ZZ-001")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []Correction{
		{Kind: Lifted, Begin: now, End: now.Add(time.Second)}, {Kind: Gate, Place: orb.Point{11.01, 48.1 + 1./3e3}}, {Kind: Obstacle, Place: piece(1).Boundary[0]},
		{Kind: Aside, Operation: first, Place: piece(1).Boundary}, {Kind: Worked, Operation: gone, Begin: now},
	} {
		c.Field, c.Who, c.Made, c.Why = field.Number, "N. N.", now, "a \"reason\",\nlong"
		if _, err := f.Correct(ctx, c); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.Remove(ctx, gone, now); err != nil {
		t.Fatal(err)
	}
	once := exported(t, f)
	dir := t.TempDir()
	if err := Import(ctx, dir, once); err != nil {
		t.Fatal(err)
	}
	again, err := Open(ctx, dir)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	was, is := files(t, once), files(t, exported(t, again))
	if len(was) < 15 || !slices.Equal(slices.Sorted(maps.Keys(was)), slices.Sorted(maps.Keys(is))) {
		t.Errorf("%d files were %q, and are %q", len(was), slices.Sorted(maps.Keys(was)), slices.Sorted(maps.Keys(is)))
	}
	for name, text := range was {
		if is[name] != text {
			t.Errorf("%s was\n%.600s\nand is\n%.600s", name, text, is[name])
		}
	}
	if cs, err := again.Corrections(ctx, field.Number); err != nil || len(cs) != 4 || cs[3].Operation != first || !orb.Equal(cs[2].Place, piece(1).Boundary[0]) {
		t.Errorf("%+v (%v)", cs, err)
	}
	if all, err := again.Operations(ctx, 0); err != nil || len(all) != 2 || all[0].Number != second || !all[0].Begin.IsZero() {
		t.Errorf("%+v (%v)", all, err)
	}

	// What does not fit together is refused, and no farm is left.
	for name, c := range map[string]struct {
		change func(dir string) error
		want   string
	}{
		"a log changed":     {func(dir string) error { return change(dir, "logs/*.geojson", "log", "lug") }, "its content is another than its name says"},
		"a report gone":     {func(dir string) error { return os.Remove(filepath.Join(dir, "result", "1.json")) }, "result"},
		"no number":         {func(dir string) error { return change(dir, "operation.csv", "47041.25", "much") }, `row 1, column area: "much" is no number`},
		"a kind unknown":    {func(dir string) error { return change(dir, "correction.geojson", `"lifted"`, `"lift"`) }, "correction.geojson"},
		"a field not there": {func(dir string) error { return change(dir, "operation.csv", "1,1,1,", "1,77,1,") }, "operation.csv"},
		"a column gone":     {func(dir string) error { return change(dir, "operation.csv", "does", "do") }, `no column "does"`},
		"no farm":           {func(dir string) error { return os.Remove(filepath.Join(dir, "field.geojson")) }, "no farm as plain files"},
	} {
		from, to := t.TempDir(), t.TempDir()
		if err := os.CopyFS(from, os.DirFS(once)); err != nil {
			t.Fatal(err)
		}
		if err := c.change(from); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if err := Import(ctx, to, from); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
		if left, err := Open(ctx, to); err == nil {
			if all, err := left.Fields(ctx); err != nil || len(all) > 0 {
				t.Errorf("%s: %d fields are left (%v)", name, len(all), err)
			}
			left.Close()
		}
	}
	if err := Import(ctx, dir, once); err == nil || !strings.Contains(err.Error(), "there is a farm already") {
		t.Errorf("into a farm: %v", err)
	}
}

func change(dir, pattern, old, new string) error {
	names, err := filepath.Glob(filepath.Join(dir, filepath.FromSlash(pattern)))
	if err != nil || len(names) == 0 {
		return fmt.Errorf("%s: %v", pattern, err)
	}
	text, err := os.ReadFile(names[0])
	if err != nil {
		return err
	}
	changed := strings.Replace(string(text), old, new, 1)
	if changed == string(text) {
		return fmt.Errorf("%s: no %q", names[0], old)
	}
	return os.WriteFile(names[0], []byte(changed), 0o644)
}

// Many who add at once take turns: all that was confirmed is there, once.
func TestManyAtOnce(t *testing.T) {
	dir := t.TempDir()
	const who, each = 4, 6
	var wg sync.WaitGroup
	faults := make(chan error, who*each)
	for w := range who {
		wg.Go(func() {
			for k := range each { // each opens the farm for itself, as a process does
				f, err := OpenToChange(t.Context(), dir)
				if err != nil {
					faults <- err
					return
				}
				l, err := f.Keep("x.csv", strings.NewReader(fmt.Sprint(w, k)))
				if err == nil {
					e := Entry{Field: piece(k), Set: Set{"s", "width = 1\n"}, Begin: time.Unix(int64(1e9+w), 0), Work: Work{Does: []string{"cuts"}}, Options: json.RawMessage("{}"), Report: json.RawMessage("{}"), Logs: []Log{l}}
					_, err = f.Add(t.Context(), e)
				}
				faults <- errors.Join(err, f.Close())
			}
		})
	}
	wg.Wait()
	close(faults)
	for err := range faults {
		if err != nil {
			t.Error(err)
		}
	}
	f := made(t, dir)
	all, err := f.Operations(t.Context(), 0)
	fields, err2 := f.Fields(t.Context())
	if err != nil || err2 != nil || len(all) != who*each || len(fields) != each {
		t.Errorf("%d operations on %d fields (%v, %v)", len(all), len(fields), err, err2)
	}
}

// What is no farm, of a newer form or broken is refused with its path; a folder that cannot be written to can be read.
func TestWhatIsNoFarm(t *testing.T) {
	ctx := t.Context()
	fill := func(text string) string {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, File), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return dir
	}
	var none *NotThere
	for _, dir := range []string{t.TempDir(), filepath.Join(t.TempDir(), "gone"), fill("")} {
		if _, err := Open(ctx, dir); !errors.As(err, &none) || none.Dir != dir {
			t.Errorf("%s: %v", dir, err)
		}
	}
	text := fill(strings.Repeat("no farm at all. ", 100))
	other := t.TempDir()
	db, err := sql.Open("sqlite", filepath.Join(other, File))
	if err == nil {
		_, err = db.Exec("CREATE TABLE farm (name TEXT)")
		err = errors.Join(err, db.Close())
	}
	if err != nil {
		t.Fatal(err)
	}
	newer := t.TempDir()
	f := made(t, newer)
	if err := f.change(ctx, func(t *tx) error { return t.do("UPDATE farm SET form = 7") }); err != nil {
		t.Fatal(err)
	}
	for dir, want := range map[string]string{text: "no farm that can be read", other: "no farm that balk season keeps", newer: "its form has version 7, and this balk knows none above 1"} {
		for _, open := range []func(context.Context, string) (*Farm, error){Open, OpenToChange} {
			if _, err := open(ctx, dir); err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), filepath.Join(dir, File)) {
				t.Errorf("%v, want %q", err, want)
			}
		}
	}
	if os.Geteuid() == 0 || runtime.GOOS == "windows" {
		return // nothing is closed to them
	}
	closed := t.TempDir()
	c := made(t, closed)
	added(t, c, entry(t, c, 1, 1))
	for _, path := range []string{filepath.Join(closed, File), closed} {
		if err := os.Chmod(path, 0o555); err != nil {
			t.Fatal(err)
		}
		defer os.Chmod(path, 0o755)
	}
	ro, err := Open(ctx, closed)
	if err != nil {
		t.Fatal(err)
	}
	defer ro.Close()
	if all, err := ro.Operations(ctx, 0); err != nil || len(all) != 1 {
		t.Errorf("%d operations (%v)", len(all), err)
	}
	w, err := OpenToChange(ctx, closed)
	if err == nil {
		err = errors.Join(w.Remove(ctx, 1, time.Now()), w.Close())
	}
	if !errors.Is(err, fs.ErrPermission) {
		t.Errorf("%v", err)
	}
}

// An older form is brought forward, by one of several at once, and a copy of what was is kept.
func TestFormsAreBroughtForward(t *testing.T) {
	ctx, dir := t.Context(), t.TempDir()
	f := made(t, dir)
	n := added(t, f, entry(t, f, 1, 1))
	defer func(was []string) { steps = was }(steps)
	steps = append(slices.Clone(steps), "ALTER TABLE operation ADD COLUMN note TEXT;")
	if _, err := Open(ctx, dir); err == nil || !strings.Contains(err.Error(), "its form has version 1; balk season add brings it to 2") {
		t.Errorf("%v", err)
	}
	var wg sync.WaitGroup
	for range 3 {
		wg.Go(func() {
			g, err := OpenToChange(ctx, dir)
			if err == nil {
				_, err = g.conn.ExecContext(ctx, "SELECT note FROM operation")
				err = errors.Join(err, g.Close())
			}
			if err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	g := made(t, dir)
	if c, err := g.Checked(ctx, n); err != nil || len(c.Logs) != 1 {
		t.Errorf("%v (%v)", c.Logs, err)
	}
	steps = steps[:1]
	old := t.TempDir()
	text, err := os.ReadFile(filepath.Join(dir, File+".form-1"))
	if err == nil {
		err = os.WriteFile(filepath.Join(old, File), text, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
	was, err := Open(ctx, old)
	if err != nil {
		t.Fatal(err)
	}
	defer was.Close()
	if all, err := was.Operations(ctx, 0); err != nil || len(all) != 1 {
		t.Errorf("the copy has %d operations (%v)", len(all), err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, File+".form-1.half-*")); len(left) > 0 {
		t.Errorf("%q are left", left)
	}
}

// A log is kept whole or not at all.
func TestHalfLogsAreNotKept(t *testing.T) {
	dir := t.TempDir()
	f := made(t, dir)
	broken := errors.New("the disk is gone")
	if _, err := f.Keep("a.csv", io.MultiReader(strings.NewReader("half"), failing{broken})); !errors.Is(err, broken) {
		t.Errorf("%v", err)
	}
	if all := files(t, filepath.Join(dir, Logs)); len(all) > 0 {
		t.Errorf("%v is left", all)
	}
	half := filepath.Join(dir, Logs, ".half-1")
	if err := errors.Join(os.WriteFile(half, nil, 0o644), os.Chtimes(half, time.Time{}, time.Now().Add(-2*abandoned))); err != nil {
		t.Fatal(err)
	}
	made(t, dir)
	if _, err := os.Stat(half); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("an abandoned half is left: %v", err)
	}
}

// An original whose operation was never confirmed goes after a while; those of operations stay, removed ones too, and so does what is no original.
func TestUnconfirmedOriginalsGo(t *testing.T) {
	dir, ctx := t.TempDir(), t.Context()
	f := made(t, dir)
	keep := func(text string) string {
		l, err := f.Keep("a.csv", strings.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(dir, filepath.FromSlash(l.Kept))
		if err := os.Chtimes(path, time.Time{}, time.Now().Add(-2*abandoned)); err != nil {
			t.Fatal(err)
		}
		return path
	}
	var want []string
	for k := range 2 {
		e := entry(t, f, 1, k)
		number := added(t, f, e)
		for _, l := range e.Logs {
			path := filepath.Join(dir, filepath.FromSlash(l.Kept))
			if err := os.Chtimes(path, time.Time{}, time.Now().Add(-2*abandoned)); err != nil {
				t.Fatal(err)
			}
			want = append(want, path)
		}
		if k == 1 {
			if err := f.Remove(ctx, number, time.Now()); err != nil {
				t.Fatal(err)
			}
		}
	}
	orphan := keep("never confirmed")
	fresh, err := f.Keep("a.csv", strings.NewReader("just kept"))
	if err != nil {
		t.Fatal(err)
	}
	note := filepath.Join(dir, Logs, "README.txt")
	if err := errors.Join(os.WriteFile(note, nil, 0o644), os.Chtimes(note, time.Time{}, time.Now().Add(-2*abandoned))); err != nil {
		t.Fatal(err)
	}
	made(t, dir)
	if _, err := os.Stat(orphan); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("an original of no operation is left: %v", err)
	}
	for _, path := range append(want, note, filepath.Join(dir, filepath.FromSlash(fresh.Kept))) {
		if _, err := os.Stat(path); err != nil {
			t.Error(err)
		}
	}
}

// A field is found by its name, by a part that no other has, by its official number or its number; what may mean several is refused.
func TestFieldsAreFound(t *testing.T) {
	f := made(t, t.TempDir())
	for k, name := range []string{"Pond Piece", "Long Pond", "Home", "2"} {
		e := entry(t, f, k+1, k)
		e.Field.Name, e.Field.Official = name, fmt.Sprintf("ZZ-%d", k)
		added(t, f, e)
	}
	for want, name := range map[string]string{"Pond Piece": "Pond Piece", "pond piece": "Pond Piece", "piece": "Pond Piece", "LONG": "Long Pond", "ZZ-2": "Home", "#3": "Home", "3": "Home", "2": "2", "#2": "Long Pond"} {
		if got, err := f.Find(t.Context(), want); err != nil || got.Name != name {
			t.Errorf("%q: %q (%v), want %q", want, got.Name, err, name)
		}
	}
	for want, said := range map[string]string{"pond": "may be one of several in this farm:\n  #2  Long Pond\n  #1  Pond Piece", "": "no field", "Meadow": "no field", "9": "no field"} {
		if _, err := f.Find(t.Context(), want); err == nil || !strings.Contains(err.Error(), said) {
			t.Errorf("%q: %v, want %q", want, err, said)
		}
	}
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }
