package batch

import (
	"cmp"
	"context"
	"fmt"
	"iter"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"balk/cmd/internal/job"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// memory keeps what came of a run as simply as can be.
type memory struct {
	mu      sync.Mutex
	surveys map[string]Survey
	tasks   []Task
	rows    map[string][]Row
	reads   int // surveys that were worked out
	puts    map[string]int
}

func newMemory() *memory {
	return &memory{surveys: map[string]Survey{}, rows: map[string][]Row{}, puts: map[string]int{}}
}

func (m *memory) Surveyed(_ context.Context, key string) (Survey, bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	s, is := m.surveys[key]
	return s, is, nil
}

func (m *memory) KeepSurvey(_ context.Context, key string, s Survey) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.surveys[key] = s
	m.reads++
	return nil
}

func (m *memory) Plan(_ context.Context, tasks []Task) (open []Task, err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.tasks = tasks
	rows := m.rows
	m.rows = map[string][]Row{}
	for _, t := range tasks {
		if r, is := rows[t.Key]; is {
			m.rows[t.Key] = r
		} else {
			open = append(open, t)
		}
	}
	return open, nil
}

func (m *memory) Has(_ context.Context, key string) (bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	_, is := m.rows[key]
	return is, nil
}

func (m *memory) Put(_ context.Context, t Task, rows []Row) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.rows[t.Key] = rows
	m.puts[t.Key]++
	return nil
}

func (m *memory) Rows(context.Context) iter.Seq2[Row, error] {
	return func(yield func(Row, error) bool) {
		var all []Row
		for _, rows := range m.rows {
			all = append(all, rows...)
		}
		slices.SortFunc(all, func(a, b Row) int {
			return cmp.Or(cmp.Compare(a.Field, b.Field), a.Begin.Compare(b.Begin), cmp.Compare(a.Key, b.Key), cmp.Compare(a.Part, b.Part))
		})
		for _, r := range all {
			if !yield(r, nil) {
				return
			}
		}
	}
}

// The invented ground of these tests: two fields of 120 by 60 m beside each other, 40 m apart, and a set of 6 m.
var (
	home  = geo.LocalAt(orb.Point{11.5, 48.1})
	width = 6.0
	begun = time.Date(2026, 4, 14, 6, 0, 0, 0, time.UTC)
)

const long, broad, apart = 120.0, 60.0, 40.0

// east is where a field begins, from 0.
func east(field int) float64 { return float64(field) * (broad + apart) }

func boundary(fields int) string {
	var all []string
	for f := range fields {
		var ring []string
		for _, c := range [][2]float64{{0, 0}, {broad, 0}, {broad, long}, {0, long}, {0, 0}} {
			p := home.Point(plane.XY{X: east(f) + c[0], Y: c[1]})
			ring = append(ring, fmt.Sprintf("[%.9f,%.9f]", p[0], p[1]))
		}
		all = append(all, fmt.Sprintf(`{"type":"Feature","properties":{"name":"Field %c"},"geometry":{"type":"Polygon","coordinates":[[%s]]}}`, 'A'+f, strings.Join(ring, ",")))
	}
	return `{"type":"FeatureCollection","features":[` + strings.Join(all, ",\n") + "]}"
}

// rows are some rows of a field, up and down, a fix each second at 2 m/s, as lines of a table. It gives when they end.
func rows(b *strings.Builder, field, from, to int, at time.Time) time.Time {
	if b.Len() == 0 {
		b.WriteString("time,longitude,latitude,state\n")
	}
	for row := from; row < to; row++ {
		for k := 0.0; k <= long; k += 2 {
			y := k
			if row%2 == 1 {
				y = long - k
			}
			p := home.Point(plane.XY{X: east(field) + width*(float64(row)+0.5), Y: y})
			fmt.Fprintf(b, "%s,%.9f,%.9f,working\n", at.Format(time.RFC3339), p[0], p[1])
			at = at.Add(time.Second)
		}
		at = at.Add(6 * time.Second)
	}
	return at
}

// driven is a log of some rows of one field.
func driven(field, from, to int, at time.Time) string {
	var b strings.Builder
	rows(&b, field, from, to, at)
	return b.String()
}

func put(t *testing.T, dir, name, text string) string {
	t.Helper()
	path := filepath.Join(dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// season is a folder of invented logs, with all that a batch has to tell apart. It gives the file of boundaries.
func season(t *testing.T, dir string) string {
	t.Helper()
	field := put(t, dir, "fields.geojson", boundary(2))
	var both strings.Builder // one log over both fields
	rows(&both, 1, 0, 9, rows(&both, 0, 0, 10, begun).Add(time.Minute))
	put(t, dir, "logs/hill/both.csv", both.String())
	week := begun.AddDate(0, 0, 21)
	put(t, dir, "logs/hill/left.csv", driven(1, 0, 5, week)) // two logs of one operation
	put(t, dir, "logs/dale/right.csv", driven(1, 5, 10, week.Add(time.Minute)))
	put(t, dir, "logs/dale/again.csv", driven(0, 0, 10, week)+strings.TrimPrefix(driven(0, 0, 10, week.AddDate(0, 0, 1)), "time,longitude,latitude,state\n")) // next day over the same ground
	put(t, dir, "logs/dale/nowhere.csv", driven(40, 0, 5, week))
	put(t, dir, "logs/dale/cut.geojson", `{"type":"FeatureCollection","features":[{"type":"Fea`)
	put(t, dir, "logs/README.txt", "nothing to see here\n")
	put(t, dir, "logs/copy.geojson", boundary(1))
	return field
}

func specOf(field string) Spec {
	s := job.Spec{Boundary: field}
	s.Use(rig.Implement{Name: "harrow", Width: width}, drive.WidthGiven)
	return Spec{Check: s}
}

func open(t *testing.T, s Spec, source Source) *Batch {
	t.Helper()
	b, _, err := Open(t.Context(), s, source, nil)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// run is a run without a queue.
func run(t *testing.T, b *Batch, kept *memory) (surveys []Survey, worked int) {
	t.Helper()
	logs, err := b.Logs(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range logs {
		s, err := b.Survey(t.Context(), l, kept)
		if err != nil {
			t.Fatal(err)
		}
		surveys = append(surveys, s)
	}
	todo, err := kept.Plan(t.Context(), b.Share(surveys))
	if err != nil {
		t.Fatal(err)
	}
	for _, one := range todo {
		rows, err := b.Work(t.Context(), one)
		if err == nil {
			err = kept.Put(t.Context(), one, rows)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	return surveys, len(todo)
}

func all(t *testing.T, kept *memory) (out []Row) {
	t.Helper()
	for r, err := range kept.Rows(t.Context()) {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, r)
	}
	return out
}

// told are rows in short.
func told(rows []Row) (out []string) {
	for _, r := range rows {
		out = append(out, fmt.Sprintf("%s %s %s %s %.2f of %.2f ha", r.FieldName, r.State, r.Begin.Format("01-02"), strings.Join(r.Logs, "+"), r.Worked/1e4, r.Area/1e4))
	}
	return out
}

// Passes every six days hang together in one task, and each is an operation of its own, with the figures that it has alone. One more log has all of them worked
// again: which of them it belongs to only working it tells.
func TestPassesEverySixDays(t *testing.T) {
	dir := t.TempDir()
	field := put(t, dir, "fields.geojson", boundary(1))
	var alone []string
	for k := range 5 {
		text := driven(0, 0, 10-k%2, begun.AddDate(0, 0, 6*k)) // every second one leaves a row out, and is another's
		text = strings.ReplaceAll(strings.Replace(text, ",state", ",state,driver", 1), "working", "working,"+[]string{"Anna", "Bea"}[k%2])
		put(t, dir, fmt.Sprintf("logs/pass %d.csv", k), text)
		put(t, dir, fmt.Sprintf("alone %d/pass %d.csv", k, k), text)
		kept := newMemory()
		run(t, open(t, specOf(field), Tree{Dir: filepath.Join(dir, fmt.Sprintf("alone %d", k))}), kept)
		alone = append(alone, told(all(t, kept))...)
	}
	drivers := func(kept *memory) (who []string) {
		for _, r := range all(t, kept) {
			who = append(who, r.Driver)
		}
		return who
	}
	kept := newMemory()
	b := open(t, specOf(field), Tree{Dir: filepath.Join(dir, "logs")})
	if _, worked := run(t, b, kept); worked != 1 {
		t.Errorf("%d tasks, want one", worked)
	}
	if got := told(all(t, kept)); len(alone) != 5 || !slices.Equal(got, alone) {
		t.Errorf("together:\n%s\nalone:\n%s", strings.Join(got, "\n"), strings.Join(alone, "\n"))
	}
	if got := drivers(kept); !slices.Equal(got, []string{"Anna", "Bea", "Anna", "Bea", "Anna"}) {
		t.Errorf("driven by %q", got)
	}
	put(t, dir, "logs/pass 5.csv", driven(0, 0, 10, begun.AddDate(0, 0, 30)))
	if _, worked := run(t, b, kept); worked != 1 {
		t.Errorf("%d tasks with one pass more, want one", worked)
	}
	if got := told(all(t, kept)); len(got) != 6 || !slices.Equal(got[:5], alone) {
		t.Errorf("with one pass more:\n%s", strings.Join(got, "\n"))
	}
	put(t, dir, "logs/pass 6.csv", driven(0, 0, 10, begun.AddDate(0, 0, 38))) // eight days later
	if _, worked := run(t, b, kept); worked != 1 {
		t.Errorf("%d tasks with one more after eight days, want that alone", worked)
	}
}

func TestSeason(t *testing.T) {
	dir := t.TempDir()
	kept := newMemory()
	b := open(t, specOf(season(t, dir)), Tree{Dir: filepath.Join(dir, "logs")})
	surveys, worked := run(t, b, kept)

	states := map[string]State{}
	for _, s := range surveys {
		states[s.Log.Name] = s.State
		if (s.State == Judged) != (s.Fault == nil) || s.Fault != nil && (s.Fault.What == "" || !strings.HasSuffix(s.Fault.File, s.Log.Name) || strings.Contains(s.Fault.String(), dir)) {
			t.Errorf("%s: %s, %v", s.Log.Name, s.State, s.Fault)
		}
	}
	for name, want := range map[string]State{"hill/both.csv": Judged, "hill/left.csv": Judged, "dale/right.csv": Judged, "dale/again.csv": Judged,
		"dale/nowhere.csv": Failed, "dale/cut.geojson": Failed, "README.txt": NoLog, "copy.geojson": NoLog} {
		if states[name] != want {
			t.Errorf("%s: %s, want %s", name, states[name], want)
		}
	}
	got := told(all(t, kept))
	want := []string{
		"Field A judged 04-14 hill/both.csv 0.72 of 0.72 ha",
		"Field A judged 05-05 dale/again.csv 0.72 of 0.72 ha",
		"Field A judged 05-06 dale/again.csv 0.72 of 0.72 ha",
		"Field B judged 04-14 hill/both.csv 0.65 of 0.72 ha", // nine rows of ten
		"Field B judged 05-05 dale/right.csv+hill/left.csv 0.72 of 0.72 ha",
	}
	if !slices.Equal(got, want) {
		t.Errorf("rows\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if worked != 4 {
		t.Errorf("%d tasks, want 4", worked)
	}

	// A second run finds all of it, wherever the folder lies now; the same driving by another set does not.
	moved := filepath.Join(t.TempDir(), "moved")
	if err := os.CopyFS(moved, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	reads := kept.reads
	spec := specOf(filepath.Join(moved, "fields.geojson"))
	if _, again := run(t, open(t, spec, Tree{Dir: filepath.Join(moved, "logs")}), kept); again != 0 || kept.reads != reads {
		t.Errorf("worked %d tasks and read %d logs again", again, kept.reads-reads)
	}
	put(t, moved, "logs/hill/left.csv", driven(1, 0, 4, begun.AddDate(0, 0, 21)))
	if _, again := run(t, open(t, spec, Tree{Dir: filepath.Join(moved, "logs")}), kept); again != 1 || kept.reads != reads+1 {
		t.Errorf("one log changed: worked %d tasks and read %d logs", again, kept.reads-reads)
	}
	spec.Check.Use(rig.Implement{Name: "harrow", Width: width, Overlap: 0.1}, drive.WidthGiven)
	if _, again := run(t, open(t, spec, Tree{Dir: filepath.Join(moved, "logs")}), kept); again != 4 {
		t.Errorf("another set: worked %d tasks, want 4", again)
	}
}

// What a batch says of an operation is what a check of the same files says.
func TestSameAsCheck(t *testing.T) {
	dir := t.TempDir()
	spec := specOf(season(t, dir))
	kept := newMemory()
	run(t, open(t, spec, Tree{Dir: filepath.Join(dir, "logs")}), kept)
	check := spec.Check
	check.Tracks = []string{filepath.Join(dir, "logs")}
	each, err := job.Each(t.Context(), check, nil)
	if err != nil {
		t.Fatal(err)
	}
	var totals Totals
	rows := all(t, kept)
	for _, r := range rows {
		totals.Add(r)
	}
	totals.Done()
	if len(each.Operations) != len(rows) || math.Abs(totals.All.Worked-each.Total.Worked) > 1e-6 || math.Abs(totals.All.Missed-each.Total.Missed) > 1e-6 || totals.All.Fields != each.Total.Fields {
		t.Errorf("totals %+v, of a check %+v", totals.All, each.Total)
	}
	for i, o := range each.Operations {
		if o.Report == nil || strings.Join(slices.Concat(o.Report.Settle, o.Report.Answer), " ") != rows[i].Answer || o.Report.Sum() != rows[i].Sum {
			t.Errorf("%s: %+v, of a check %+v", o.Field.Name, rows[i], o)
		}
	}
}

func TestTotals(t *testing.T) {
	dir := t.TempDir()
	spec := specOf(season(t, dir))
	put(t, dir, "comb.toml", "name = \"comb\"\nwidth = 6.0\n[sweeps]\ncount = 24\nspacing = 0.25\nwidth = 0.3\nbeams = [0]\nlife = 100\n")
	spec.Rules = put(t, dir, "rules.csv", "folder;from;set;by\nhill;;;N. N.\n*;2026-05-01;comb.toml;\n")
	kept := newMemory()
	run(t, open(t, spec, Tree{Dir: filepath.Join(dir, "logs")}), kept)
	var totals Totals
	for _, r := range all(t, kept) {
		totals.Add(r)
	}
	totals.Done()
	of := func(list []Named) (out []string) {
		for _, n := range list {
			out = append(out, fmt.Sprintf("%s: %d on %d, %.2f", n.Name, n.Operations, n.Fields, n.Worked/1e4))
		}
		return out
	}
	for _, c := range []struct {
		what string
		got  []Named
		want []string
	}{
		{"farms", totals.Farms, []string{"dale: 2 on 1, 1.44", "dale, hill: 1 on 1, 0.72", "hill: 2 on 2, 1.37"}},
		{"sets", totals.Sets, []string{"comb: 3 on 2, 2.16", "harrow: 2 on 2, 1.37"}},
		{"drivers", totals.Drivers, []string{": 2 on 1, 1.44", "N. N.: 3 on 2, 2.09"}},
		{"months", totals.Months, []string{"2026-04: 2 on 2, 1.37", "2026-05: 3 on 2, 2.16"}},
	} {
		if got := of(c.got); !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.what, got, c.want)
		}
	}
	// Rows are straight, so each sweep went as far as the set did between fixes, and half an interval more, a metre, at both ends of each row: fixes are
	// logged only at work.
	went := 0.0
	for _, r := range all(t, kept) {
		if r.Set == "comb" {
			went += r.Metres
		}
	}
	went += 2 * went / long
	if len(totals.Wear) != 1 || totals.Wear[0].Set != "comb" || totals.Wear[0].Operations != 3 || totals.Wear[0].Life != 100 || len(totals.Wear[0].Cutting) != 24 || went < 1000 {
		t.Fatalf("wear %+v on %g m", totals.Wear, went)
	}
	table := totals.wear()
	for i, m := range totals.Wear[0].Cutting {
		if math.Abs(m-went) > 1e-6*went {
			t.Errorf("sweep %d went %g m, want %g", i+1, m, went)
		}
		if row := table.Features[i].Row; row[2] != i+1 || math.Abs(row[3].(float64)-m/1000) > 1e-9 || math.Abs(row[4].(float64)-m/1e5*100) > 1e-9 {
			t.Errorf("line %d of the table: %v", i, row)
		}
	}
	if len(totals.Worst) != 2 || totals.Worst[0].Name != "Field B" || math.Abs(totals.Worst[0].Missed-long*width) > 1 {
		t.Errorf("worst %+v, want Field B with the row left out first", totals.Worst)
	}
}
