package ground

import (
	"math/rand/v2"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/testdata/trial"
)

// TestLayWithoutLayers: areas and headland are the very same whether layers are drawn or not.
func TestLayWithoutLayers(t *testing.T) {
	for seed := range uint64(4) {
		s := trial.Operation(rand.New(rand.NewPCG(seed, 3)))
		for _, w := range []drive.Work{{Width: 5, Overlap: 0.1, Headland: 8}, {Width: 5}} {
			want, err := operatedOn(t, s.Field(), []geo.Track{s.Track()}, w)
			if err != nil {
				t.Fatal(err)
			}
			got, err := Lay(t.Context(), want.Layers.Field, want.Layers.Field, want.Runs, want.LiftedLines, w, false)
			if err != nil {
				t.Fatal(err)
			}
			if got.Balance != want.Balance || got.Headland != want.Headland || got.Layers.Missed != nil {
				t.Errorf("seed %d, headland %g m: %+v %+v, want %+v %+v", seed, w.Headland, got.Balance, got.Headland, want.Balance, want.Headland)
			}
			if want.Balance.Missed == 0 || w.Headland > 0 && want.Headland.Missed == 0 {
				t.Errorf("seed %d: the sketch is too tame: %+v", seed, want.Balance)
			}
		}
	}
}
