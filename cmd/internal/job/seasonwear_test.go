package job

import (
	"fmt"
	"slices"
	"testing"

	"balk/cmd/internal/farm"
	"balk/export/words"
)

// Reports of three operations of two sets, and of one whose sweeps are not known; then another layout of the first set. Figures are made up, sums by hand.
func TestWearOverASeason(t *testing.T) {
	var r SeasonReport
	add := func(set, cutting string, life float64) {
		t.Helper()
		text := fmt.Sprintf(`{"spec":{"work":{"sweeps":{"life":%g}}},"ribbons":{"area":1,"cutting":[%s]},"passes":[]}`, life, cutting)
		if cutting == "" {
			text = `{"spec":{},"passes":[]}`
		}
		if err := r.wear(farm.Operation{Number: 1, Set: set}, []byte(text)); err != nil {
			t.Fatal(err)
		}
	}
	add("wide", "1000,1100.5,1200", 0)
	add("narrow", "500,500", 100)
	add("harrow", "", 0)
	add("wide", "1000,1000,1000", 200)
	add("wide", "10,10,10,10", 0)
	if len(r.Wear) != 3 {
		t.Fatalf("%+v", r.Wear)
	}
	if w := r.Wear[0]; w.Set != "wide" || w.Operations != 2 || w.Life != 200 || !slices.Equal(w.Cutting, []float64{2000, 2100.5, 2200}) {
		t.Errorf("%+v", w)
	}
	if w := r.Wear[1]; w.Set != "narrow" || w.Operations != 1 || !slices.Equal(w.Cutting, []float64{500, 500}) {
		t.Errorf("%+v", w)
	}
	r.Spec.Language = words.English
	if got, want := r.WearWords()[0], "wide, 2 operations: a sweep went from 2.00 to 2.20 km in the ground, up to 1.1 % of its life (sweep 3)."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	// A set of two bars, of which the second alone has sweeps, and one whose both have: each by itself.
	r.Wear = nil
	for _, text := range []string{
		`{"spec":{"implement":{"bar":[{"name":"tines"},{"name":"shares","sweeps":{"life":50}}]}},"bars":{"each":[{"name":"tines"},{"name":"shares","ribbons":{"cutting":[300,400]}}]}}`,
		`{"spec":{"implement":{"bar":[{"name":"tines"},{"name":"shares","sweeps":{"life":50}}]}},"ribbons":{"cutting":[7]},"bars":{"each":[{"name":"tines"},{"name":"shares","ribbons":{"cutting":[30,40]}}]}}`,
	} {
		if err := r.wear(farm.Operation{Number: 1, Set: "drill"}, []byte(text)); err != nil {
			t.Fatal(err)
		}
	}
	if len(r.Wear) != 2 || r.Wear[0].Set != "drill, shares" || r.Wear[0].Operations != 2 || r.Wear[0].Life != 50 || !slices.Equal(r.Wear[0].Cutting, []float64{330, 440}) || r.Wear[1].Set != "drill, tines" || r.Wear[1].Cutting[0] != 7 {
		t.Errorf("%+v", r.Wear)
	}
	if err := r.wear(farm.Operation{}, []byte(`{"spec":{},"bars":{"each":[{"ribbons":{"cutting":[1]}}]}}`)); err == nil {
		t.Error("bars of a set without any are taken")
	}
	if err := r.wear(farm.Operation{}, []byte(`{"cutting":`)); err == nil {
		t.Error("a report that breaks off is taken")
	}
}
