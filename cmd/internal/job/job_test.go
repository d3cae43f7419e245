package job

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"balk/cmd/internal/folder"
	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/export/sheet/paper"
	"balk/geo"
)

const (
	acre = `{"type":"Feature","properties":{"name":"Short Acre"},"geometry":{"type":"Polygon","coordinates":[[[11.57,48.14],[11.572,48.14],[11.572,48.141],[11.57,48.141],[11.57,48.14]]]}}`
	line = `{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[11.5701,48.1405],[11.5705,48.1405],[11.571,48.1405],[11.5715,48.1405],[11.5719,48.1405]]}}`
)

// spec puts field and track into a folder of their own.
func spec(t *testing.T) Spec {
	t.Helper()
	dir := t.TempDir()
	s := Spec{Boundary: filepath.Join(dir, "field.geojson"), Tracks: []string{filepath.Join(dir, "track.geojson")}, Out: filepath.Join(dir, "out"), Work: drive.Work{Width: 5}}
	for path, text := range map[string]string{s.Boundary: acre, s.Tracks[0]: line} {
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

func TestReportSurvivesJSON(t *testing.T) {
	s := spec(t)
	rep, err := Run(context.Background(), s, nil)
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(filepath.Join(s.Out, reportFile))
	if err != nil {
		t.Fatal(err)
	}
	var back Report
	if err := json.Unmarshal(b, &back); err != nil {
		t.Fatal(err)
	}
	if back.Balance != rep.Balance || back.Used != rep.Used || len(back.Strips) != len(rep.Strips) || len(back.Files) != len(s.checkedNames()) || !reflect.DeepEqual(back.Spec.Work, s.Work) {
		t.Errorf("read back %+v, wrote %+v", back, rep)
	}
	if rep.Balance.Once <= 0 || rep.Lost() {
		t.Errorf("balance %+v, findings %v", rep.Balance, rep.Findings)
	}
}

// An interruption at any step must leave no folder, no half file and nothing
// hidden behind, and must be told as such.
func TestInterruptionLeavesNothing(t *testing.T) {
	for step := range 4 {
		s := spec(t)
		ctx, cancel := context.WithCancel(context.Background())
		_, err := Run(ctx, s, &Call{Progress: func(_ string, done, of int) {
			if done == step {
				cancel()
			}
		}})
		if !errors.Is(err, context.Canceled) {
			t.Errorf("step %d: %v, want the interruption", step, err)
		}
		left, err := os.ReadDir(filepath.Dir(s.Boundary))
		if err != nil || len(left) != 2 {
			t.Errorf("step %d: %v left behind (%v), want the two inputs", step, left, err)
		}
		cancel()
	}
}

// A file that cannot be made is left out, and that of an earlier result goes with it; the others are there,
// and the report lists what is.
func TestOneFileThatCannotBeMade(t *testing.T) {
	s := spec(t)
	if _, err := Run(context.Background(), s, nil); err != nil {
		t.Fatal(err)
	}
	rep := Report{Spec: s}
	bad := coverage.Result{Balance: ground.Balance{Field: 1, Residual: 1}} // no map is drawn of it
	var some *folder.Unwritten
	if err := rep.write(context.Background(), bad, new(Call)); !errors.As(err, &some) || len(some.Files) != 1 || some.Files[0].Name != mapFile || len(rep.Files) != len(s.checkedNames())-1 {
		t.Errorf("error %v, files %v", err, rep.Files)
	}
	left, err := os.ReadDir(s.Out)
	if err != nil || len(left) != len(s.checkedNames())-1 {
		t.Errorf("%d files in the folder, want %d (%v)", len(left), len(s.checkedNames())-1, err)
	}
	text, err := os.ReadFile(filepath.Join(s.Out, reportFile))
	if err != nil {
		t.Fatal(err)
	}
	var back Report
	if err := json.Unmarshal(text, &back); err != nil || !reflect.DeepEqual(back.Files, rep.Files) || back.Folder == nil || !reflect.DeepEqual(back.Folder, rep.Folder) {
		t.Errorf("the report lists %v, want %v (%v)", back.Files, rep.Files, err)
	}
}

// What panics before the folder is filled is the trouble of its file too.
func TestPanicsBeforeTheFolderIsFilled(t *testing.T) {
	pictures, err := Pictures{pictureSVG, picturePNG}.outputs(func() ([]*paper.Leaf, error) { panic("no page") })
	if err != nil {
		t.Fatal(err)
	}
	tasks, findings := prepared(output{name: "T.XML"}, func() ([]geo.Finding, error) { panic("no task") })
	if len(findings) > 0 {
		t.Errorf("findings %v", findings)
	}
	s := spec(t)
	rep := Report{Spec: s}
	good := output{name: "good.txt", write: func(w io.Writer) error { _, err := io.WriteString(w, "good"); return err }}
	err = new(Call).fill(t.Context(), s.Out, "test", slices.Concat(pictures, tasks, []output{good}), &rep.Placed, func(w io.Writer) error { return rep.JSON(w) })
	var some *folder.Unwritten
	if !errors.As(err, &some) || len(some.Files) != 3 || !strings.Contains(err.Error(), "sheet-1.png is not written") || !strings.Contains(err.Error(), "no task") || !strings.Contains(err.Error(), "job_test.go:") {
		t.Errorf("%v", err)
	}
	left, err := os.ReadDir(s.Out)
	if err != nil || len(left) != 2 || len(rep.Files) != 2 {
		t.Errorf("%v left, %q listed, want good.txt and the report (%v)", left, rep.Files, err)
	}
}

func TestChooseAField(t *testing.T) {
	fields := []geo.Field{{Name: "Mill", Number: 1}, {Name: "mill", Number: 2}, {Name: "", Number: 3}, {Name: "4", Number: 5}, {Name: "Twin", Number: 6}, {Name: "Twin", Number: 7}, {Name: "name=4", Number: 8}, {Name: "0.5 ha", Number: 9}}
	for want, number := range map[string]int{"Mill": 1, "mill": 2, "3": 3, "name=4": 5, "name=Mill": 1, "name=": 3, "6": 6, "06": 6, "name=name=4": 8, "0.5 ha": 9} {
		if f, err := choose(fields, want, "f"); err != nil || f.Number != number {
			t.Errorf("%q: field %d (%v), want %d", want, f.Number, err, number)
		}
	}
	for want, say := range map[string]string{"MILL": "2 fields named", "Twin": "by its number", "name=Twin": "by its number", "99": "no field number 99", "4": "the field of that name is --field name=4", "name=99": "no field named \"99\"", "99999999999999999999": "no field number"} {
		_, err := choose(fields, want, "f")
		var call *WrongCall
		if !errors.As(err, &call) || !strings.Contains(err.Error(), say) || !strings.Contains(err.Error(), "  3  (no name)") && !strings.HasSuffix(want, "Twin") && want != "MILL" {
			t.Errorf("%q: %v, want %q", want, err, say)
		}
	}
	if f, err := choose(fields[:1], "", "f"); err != nil || f.Number != 1 {
		t.Errorf("the only field: %v", err)
	}
}

func TestSpecSaysWhatIsWrong(t *testing.T) {
	good := Spec{Boundary: "f", Tracks: []string{"t"}, Work: drive.Work{Width: 5}}
	if err := good.Validate(); err != nil {
		t.Error(err)
	}
	for name, change := range map[string]func(*Spec){
		"no boundary":     func(s *Spec) { s.Boundary = "" },
		"no track":        func(s *Spec) { s.Tracks = nil },
		"a nameless one":  func(s *Spec) { s.Tracks = []string{"t", ""} },
		"no width":        func(s *Spec) { s.Work.Width = 0 },
		"overlap = width": func(s *Spec) { s.Work.Overlap = 5 },
	} {
		s := good
		change(&s)
		if s.Validate() == nil {
			t.Errorf("%s: no error", name)
		}
		var call *WrongCall
		if _, err := Run(context.Background(), s, nil); !errors.As(err, &call) {
			t.Errorf("%s: %v is no fault of the call", name, err)
		}
	}
}
