package farm

import (
	"errors"
	"path/filepath"
	"testing"
	"time"

	"balk/geo"

	"github.com/paulmach/orb"
)

// Spot checks are kept with their operation, each once, also through plain files; after the operation was removed they stay on the field.
func TestSpotsAreKept(t *testing.T) {
	dir, ctx := t.TempDir(), t.Context()
	f := made(t, dir)
	number := added(t, f, entry(t, f, 1, 1))
	other := added(t, f, entry(t, f, 2, 1))
	at := orb.Point{11.01, 48.101}
	checks := []geo.SpotCheck{
		{File: "a.csv", Record: 1, ID: "1", At: &at, Time: time.Date(2026, 4, 15, 8, 0, 0, 0, time.UTC), Cut: geo.IsSo, Depths: []geo.SpotValue{{At: -1, Value: 0.04}}, Note: "dry; \"crumbly\"\nand stony"},
		{File: "a.csv", Record: 2, Pass: 3, Join: &geo.SpotJoin{Lap: -0.02}},
	}
	for k, want := range []int{2, 0} {
		if fresh, err := f.AddSpots(ctx, number, checks); err != nil || fresh != want {
			t.Errorf("time %d: %d new ones (%v), want %d", k+1, fresh, err, want)
		}
		checks[0].File, checks[0].Record = "renamed.csv", 7
	}
	field, err := f.Find(ctx, "1")
	if err != nil {
		t.Fatal(err)
	}
	same := func(f *Farm, operation int64) {
		t.Helper()
		got, err := f.Spots(ctx, field.Number)
		if err != nil || len(got) != 2 {
			t.Fatalf("%+v (%v)", got, err)
		}
		for k, s := range got {
			if want := checks[k]; s.Operation != operation || s.Check.ID != want.ID || !s.Check.Time.Equal(want.Time) || s.Check.Note != want.Note || s.Check.Pass != want.Pass || (s.Check.At == nil) != (want.At == nil) || s.Check.File != "" {
				t.Errorf("%+v, want %+v", s, want)
			}
		}
		if got[0].Check.At == nil || *got[0].Check.At != at || got[1].Check.Join == nil || got[1].Check.Join.Lap != -0.02 {
			t.Errorf("%+v", got)
		}
	}
	same(f, number)
	again := filepath.Join(t.TempDir(), "again")
	if err := Import(ctx, again, exported(t, f)); err != nil {
		t.Fatal(err)
	}
	same(made(t, again), number)
	if got, err := f.Spots(ctx, other); err != nil || len(got) != 0 {
		t.Errorf("%d on the other field (%v)", len(got), err)
	}
	if err := f.Remove(ctx, number, time.Now()); err != nil {
		t.Fatal(err)
	}
	same(f, 0)
	none, ok := errors.AsType[*NoOperation](func() error { _, err := f.AddSpots(ctx, number, checks); return err }())
	if !ok || none.Number != number {
		t.Error("kept with an operation that is not there")
	}
}
