package job

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"balk/cmd/internal/farm"
	"balk/coverage/drive"
	"balk/coverage/plan"
	"balk/coverage/rig"
	"balk/coverage/season"
	"balk/coverage/spots"
	"balk/export/words"

	"github.com/paulmach/orb"
)

// seasonOf is the spec of an operation of a farm: the invented drive on the acre, begun at some time.
func seasonOf(t *testing.T, dir string, start time.Time, does ...string) SeasonAdd {
	t.Helper()
	s := spec(t)
	s.Tracks, s.Out, s.Farm = []string{formats[0].write(t, t.TempDir(), driven(start))}, "", dir
	return SeasonAdd{Spec: s, Done: farm.Work{Does: does}}
}

func addTo(t *testing.T, s SeasonAdd) SeasonAdded {
	t.Helper()
	rep, err := AddToSeason(t.Context(), s, nil)
	if err != nil {
		t.Fatal(err)
	}
	return rep
}

func fieldShown(t *testing.T, dir string) SeasonReport {
	t.Helper()
	rep, err := ShowSeason(t.Context(), SeasonShow{Farm: dir, Field: "Short Acre", Day: noon.AddDate(0, 0, 30).Truncate(24 * time.Hour)}, noon, nil)
	if err != nil {
		t.Fatal(err)
	}
	return rep
}

// near wants two areas to agree to a thousandth of a square metre.
func alike(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 1e-3 {
		t.Errorf("%s: %.4f m², want %.4f", what, got, want)
	}
}

// TestSeasonAcrossOperations: an operation driven twice is missed by all where it was missed once, worked twice where it was worked, and
// lies at no angle to itself; what is kept of it is what is worked out anew.
func TestSeasonAcrossOperations(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "kept")
	first := seasonOf(t, dir, noon, "cuts")
	if rep := addTo(t, first); len(rep.Operations) != 1 || rep.Operations[0].Number != 1 {
		t.Fatalf("%+v", rep.Operations)
	}
	check, err := Run(t.Context(), first.Spec, nil)
	if err != nil {
		t.Fatal(err)
	}
	one := fieldShown(t, dir)
	alike(t, "missed by one", one.Across.All.Missed, check.Balance.Missed)
	if one.Across.Cut == nil || math.Abs(one.Across.Cut.Days-29.5) > 0.2 || one.Across.Seeding != nil {
		t.Errorf("the last cut was %+v, seeding %v", one.Across.Cut, one.Across.Seeding)
	}
	if rep := addTo(t, seasonOf(t, dir, noon, "cuts")); !rep.Operations[0].There || rep.Operations[0].Number != 1 {
		t.Errorf("added twice: %+v", rep.Operations)
	}
	addTo(t, seasonOf(t, dir, noon.AddDate(0, 0, 20), "seeds"))
	two := fieldShown(t, dir)
	a := two.Across
	alike(t, "missed by both", a.All.Missed, check.Balance.Missed)
	alike(t, "worked twice", a.All.Times[1], check.Balance.Field-check.Balance.Missed-check.Balance.Unknown)
	if len(a.Each) != 2 || a.Doing(season.Cuts) == nil || a.Doing(season.Rolls) != nil || len(a.Pairs) != 1 || a.Pairs[0].Angle > 0.5 {
		t.Errorf("%d components, pairs %+v", len(a.Each), a.Pairs)
	}
	s := a.Seeding
	alike(t, "seeded and cut", s.Both, a.All.Times[1])
	alike(t, "all of seeding", s.Both+s.NeverCut+s.NotSeeded+s.Unknown+a.Pairs[0].Neither, check.Balance.Field)
	again, err := json.Marshal(fieldShown(t, dir))
	if err != nil {
		t.Fatal(err)
	}
	if was, err := json.Marshal(two); err != nil || string(again) != string(was) {
		t.Errorf("kept, it is\n%.400s\nand was\n%.400s (%v)", again, was, err)
	}
	list, err := ListSeason(t.Context(), dir, plan.Rates{Hour: 60, Litre: 2})
	if err != nil || len(list.Operations) != 2 || list.Totals.All.Operations != 2 || list.Totals.All.Cost != 2*60*check.Effort.OnField/3600 {
		t.Errorf("%+v (%v)", list.Totals, err)
	}
}

// TestStepsOfASeasonCountOn: the steps of reading an operation again count as those of the season, which never go back.
func TestStepsOfASeasonCountOn(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "kept")
	addTo(t, seasonOf(t, dir, noon, "cuts"))
	addTo(t, seasonOf(t, dir, noon.AddDate(0, 0, 10), "seeds"))
	addTo(t, seasonOf(t, dir, noon.AddDate(0, 0, 20), "rolls"))
	var told []string
	last := 0
	_, err := ShowSeason(t.Context(), SeasonShow{Farm: dir, Field: "Short Acre", Day: noon.AddDate(0, 0, 30).Truncate(24 * time.Hour)}, noon, &Call{Progress: func(what string, done, of int) {
		told = append(told, fmt.Sprintf("%s %d/%d", what, done, of))
		if of != 4 || done < last {
			t.Errorf("%q", told)
		}
		last = done
	}})
	if err != nil || len(told) < 7 {
		t.Errorf("%q (%v)", told, err)
	}
}

// TestCorrectionsAreHonoured: each kind of correction changes what is worked out of the operation, in the check and in the season, and it
// is said.
func TestCorrectionsAreHonoured(t *testing.T) {
	half := orb.Polygon{{{11.57, 48.14}, {11.571, 48.14}, {11.571, 48.141}, {11.57, 48.141}, {11.57, 48.14}}}
	dir := filepath.Join(t.TempDir(), "kept")
	s := seasonOf(t, dir, noon, "cuts")
	addTo(t, s)
	plain, err := Run(t.Context(), s.Spec, nil)
	if err != nil {
		t.Fatal(err)
	}
	field, missed := plain.Balance.Field, plain.Balance.Missed
	for name, c := range map[string]struct {
		farm.Correction
		is func(r Report) bool
	}{
		"lifted over the western half": {farm.Correction{Kind: farm.Lifted, Place: half}, func(r Report) bool { return r.Balance.Missed > missed+1500 && r.Balance.Field == field }},
		"lifted for a while":           {farm.Correction{Kind: farm.Lifted, Begin: noon, End: noon.Add(50 * time.Second)}, func(r Report) bool { return r.Balance.Missed > missed+300 && r.Balance.Missed < missed+700 }},
		"worked all the time":          {farm.Correction{Kind: farm.Worked, Begin: noon}, func(r Report) bool { return r.Balance.Missed < missed }},
		"a pass set aside":             {farm.Correction{Kind: farm.Aside, End: noon.Add(50 * time.Second)}, func(r Report) bool { return r.Fixes == plain.Fixes && r.Balance.Missed > missed+300 }},
		"an obstacle":                  {farm.Correction{Kind: farm.Obstacle, Place: orb.Polygon{{{11.5715, 48.1405}, {11.5716, 48.1405}, {11.5716, 48.1406}, {11.5715, 48.1406}, {11.5715, 48.1405}}}}, func(r Report) bool { return r.Balance.Field < field-80 && r.Balance.Field > field-86 }},
		"another boundary":             {farm.Correction{Kind: farm.Boundary, Place: half}, func(r Report) bool { return math.Abs(r.Balance.Field-field/2) < 1 }},
		"an obstacle of later":         {farm.Correction{Kind: farm.Obstacle, Place: half, Begin: noon.AddDate(1, 0, 0)}, nil},
		"a boundary turned about":      {farm.Correction{Kind: farm.Boundary, Place: turnedRing(half)}, func(r Report) bool { return math.Abs(r.Balance.Field-field/2) < 1 }},
		"of another operation":         {farm.Correction{Kind: farm.Lifted, Place: half, Operation: -1}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			of := filepath.Join(t.TempDir(), "farm")
			if err := os.CopyFS(of, os.DirFS(dir)); err != nil {
				t.Fatal(err)
			}
			c.Field, c.Who, c.Why, c.Made = 1, "N. N.", "seen", noon
			correct(t, of, c.Correction)
			s := s.Spec
			s.Farm = of
			r, err := Run(t.Context(), s, nil)
			if err != nil {
				t.Fatal(err)
			}
			said := ""
			for _, f := range r.Findings {
				if f.File == of {
					said += f.What
				}
			}
			if c.is == nil {
				if r.Balance != plain.Balance || said != "" {
					t.Errorf("missed %.1f of %.1f m², as before %.1f; %s", r.Balance.Missed, r.Balance.Field, missed, said)
				}
				return
			}
			if !c.is(r) || !strings.Contains(said, string(c.Kind)+" (1)") {
				t.Errorf("missed %.1f of %.1f m², before %.1f of %.1f; %q", r.Balance.Missed, r.Balance.Field, missed, field, said)
			}
			alike(t, "in the season", fieldShown(t, of).Across.All.Missed, r.Balance.Missed)
		})
	}
	// Of the operation of the farm alone: in the season, not in a check of the same log.
	correct(t, dir, farm.Correction{Kind: farm.Lifted, Place: half, Field: 1, Operation: 1, Who: "N. N.", Why: "seen", Made: noon})
	if r, err := Run(t.Context(), s.Spec, nil); err != nil || r.Balance != plain.Balance {
		t.Errorf("missed %.1f m² (%v)", r.Balance.Missed, err)
	}
	if got := fieldShown(t, dir).Across.All.Missed; got < missed+1500 {
		t.Errorf("missed %.1f m² in the season, before %.1f", got, missed)
	}
}

func turnedRing(p orb.Polygon) orb.Polygon {
	p = p.Clone()
	p[0].Reverse()
	return p
}

func correct(t *testing.T, dir string, c farm.Correction) {
	t.Helper()
	f, err := farm.OpenToChange(context.Background(), dir)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if c.Operation == -1 { // one on the same field that the log is not of
		e := farm.Entry{Field: farm.Field{Name: "Short Acre"}, Set: farm.Set{Name: "s", Description: "width = 1\n"}, Work: farm.Work{Does: []string{"combs"}}, Options: json.RawMessage("{}"), Report: json.RawMessage("{}")}
		all, err := f.Fields(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		e.Field.Boundary = all[0].Boundary
		if c.Operation, err = f.Add(t.Context(), e); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := f.Correct(t.Context(), c); err != nil {
		t.Fatal(err)
	}
}

// TestSetsAreKeptAsTheyAre: the description of a set that a farm keeps gives the same set again, whatever stands in it.
func TestSetsAreKeptAsTheyAre(t *testing.T) {
	im := Assumed(6, 0.1)
	im.Name, im.Sections, im.LowerDelay, im.Mount.Hitch = "a \"quoted\" set <6 m>\n", []float64{2, 2.5, 1.5}, -1e-7, 1.6
	for _, one := range []rig.Implement{im, {Name: "bare", Width: 1e-3}} {
		set, err := setOf(one, "")
		if err != nil || set.Name != one.Name {
			t.Fatalf("%+v (%v)", set, err)
		}
		if got, err := decodeImplement([]byte(set.Description)); err != nil || !reflect.DeepEqual(got, one) {
			t.Errorf("%v\n%s\nis %+v\nof %+v", err, set.Description, got, one)
		}
	}
}

// TestGateOfAFarm: where a farm has a gate for the field, the walk to spot checks and the way of re-work begin there, as if the call had named it; a gate
// that the call names wins.
func TestGateOfAFarm(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "kept")
	s := seasonOf(t, dir, noon, "cuts")
	s.Use(Assumed(5, 0), drive.WidthFile)
	addTo(t, s)
	gate, other := orb.Point{11.57, 48.1409}, orb.Point{11.5718, 48.14}
	walk := func(farm string, gate *orb.Point) float64 {
		spec := s.Spec
		spec.Farm = farm
		rep, err := PlanSpots(t.Context(), SpotsPlanSpec{Spec: spec, Gate: gate, Draw: spots.Draw{Places: 6}}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return rep.Walk
	}
	again := func(farm string, gate *orb.Point) orb.Point {
		spec := s.Spec
		spec.Farm, spec.Out = farm, filepath.Join(t.TempDir(), "out")
		rep, err := Handover(t.Context(), HandoverSpec{Spec: spec, Gate: gate, Paperwork: Paperwork{Language: words.English}}, nil)
		if err != nil || rep.Rework == nil {
			t.Fatalf("%+v (%v)", rep.Rework, err)
		}
		return rep.Rework.Gate
	}
	named, none, elsewhere := walk("", &gate), walk(dir, nil), walk("", &other)
	namedAgain, elsewhereAgain := again("", &gate), again("", &other)
	correct(t, dir, farm.Correction{Kind: farm.Gate, Place: gate, Field: 1, Who: "N. N.", Why: "it is there", Made: noon})
	if got := walk(dir, nil); got != named || got == none {
		t.Errorf("a walk of %.1f m, want %.1f as from the gate named; %.1f without a gate", got, named, none)
	}
	if got := walk(dir, &other); got != elsewhere {
		t.Errorf("a walk of %.1f m, want %.1f from the gate that the call names", got, elsewhere)
	}
	if got := again(dir, nil); got != namedAgain || got == elsewhereAgain {
		t.Errorf("re-work from %v, want %v", got, namedAgain)
	}
	if got := again(dir, &other); got != elsewhereAgain {
		t.Errorf("re-work from %v, want %v", got, elsewhereAgain)
	}
}

// TestGoingBackToWhatAllMissed: of the strips that operations missed together a re-work is planned with the set of the last one: it wins no more than they
// missed, and visits strips by their numbers. A set that is not described well enough has none.
func TestGoingBackToWhatAllMissed(t *testing.T) {
	for name, described := range map[string]bool{"a set that can be planned with": true, "one of two cuts": true, "a bare width": false} {
		t.Run(name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "kept")
			for day := range 2 {
				does := "cuts"
				if name == "one of two cuts" && day == 0 {
					does = "loosens"
				}
				s := seasonOf(t, dir, noon.AddDate(0, 0, 20*day), does)
				if described {
					s.Use(Assumed(5, 0), drive.WidthFile)
				}
				addTo(t, s)
			}
			out := filepath.Join(t.TempDir(), "out")
			rep, err := ShowSeason(t.Context(), SeasonShow{Farm: dir, Field: "Short Acre", Day: noon.AddDate(0, 0, 30), Out: out}, noon, nil)
			if err != nil {
				t.Fatal(err)
			}
			if (rep.Back != nil) != described || (rep.BackWords() != "") != described {
				t.Fatalf("%+v", rep.Back)
			}
			text, err := os.ReadFile(filepath.Join(out, "rework.json"))
			if (err == nil) != described {
				t.Fatal(err)
			}
			if !described {
				return
			}
			if missed := rep.Across.Main().Missed; !(rep.Back.Caught > 0.3*missed && rep.Back.Caught <= missed+1e-6 && rep.Back.Minutes > 0) {
				t.Errorf("%+v of %.1f m²", rep.Back, missed)
			}
			var plan Rework
			if err := json.Unmarshal(text, &plan); err != nil || len(plan.Chosen) != rep.Back.Strips || plan.Missed != rep.Across.Main().Missed {
				t.Fatalf("%d strips, %.3f m² missed (%v)", len(plan.Chosen), plan.Missed, err)
			}
			for _, v := range plan.Chosen {
				if s := rep.Across.Main().Strips[v.Strip-1]; s.Number != v.Strip || s.Area != v.Area {
					t.Errorf("visit %+v, strip %+v", v, s)
				}
			}
		})
	}
}

// TestKeptOnAnotherDay: what is kept of a field's operations serves other days too, and tells on each what is worked out anew; also before the last
// operation, where another one was the last.
func TestKeptOnAnotherDay(t *testing.T) {
	dir, fresh := filepath.Join(t.TempDir(), "kept"), filepath.Join(t.TempDir(), "fresh")
	for day := range 2 {
		addTo(t, seasonOf(t, dir, noon.AddDate(0, 0, 20*day), "cuts"))
	}
	if err := os.CopyFS(fresh, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	shown := func(dir string, day int) string {
		rep, err := ShowSeason(t.Context(), SeasonShow{Farm: dir, Field: "Short Acre", Day: noon.AddDate(0, 0, day).Truncate(24 * time.Hour)}, noon, nil)
		if err != nil {
			t.Fatal(err)
		}
		rep.Spec.Farm = ""
		text, err := json.Marshal(rep)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	for _, day := range []int{30, 45, 10, 31} {
		again := filepath.Join(t.TempDir(), "again")
		if err := os.CopyFS(again, os.DirFS(fresh)); err != nil {
			t.Fatal(err)
		}
		if kept, anew := shown(dir, day), shown(again, day); kept != anew {
			t.Errorf("day %d: kept, it is\n%.600s\nand worked out anew\n%.600s", day, kept, anew)
		}
	}
}

// A farm that another process is just about to make, its file there and still empty, corrects nothing; one that is not there is an error.
func TestAFarmThatIsBeingMade(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, farm.File), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	s := seasonOf(t, dir, time.Date(2026, 4, 14, 8, 0, 0, 0, time.UTC), "cuts")
	if rep := addTo(t, s); len(rep.Operations) != 1 || rep.Operations[0].Error != "" {
		t.Errorf("%+v", rep)
	}
	s.Spec.Farm = filepath.Join(dir, "missing")
	if _, err := Run(t.Context(), s.Spec, nil); err == nil {
		t.Error("a farm that is not there, and no error")
	}
}
