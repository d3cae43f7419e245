package job

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"balk/cmd/internal/demo"
	"balk/coverage/drive"
)

// TestInferredWorkOnTheDemo hides the work state of the demo's first log: what is driven with the tool lifted, straight
// across the field and along worked rows, is not worked twice. Without looking at the ground it was half as much again.
func TestInferredWorkOnTheDemo(t *testing.T) {
	farm := t.TempDir()
	if _, err := demo.Write(t.Context(), farm, 1, func(string) {}); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(farm, "sweep-mounted.toml"))
	if err != nil {
		t.Fatal(err)
	}
	im, err := decodeImplement(text)
	if err != nil {
		t.Fatal(err)
	}
	s := Spec{Boundary: filepath.Join(farm, "fields.geojson"), Tracks: []string{filepath.Join(farm, "track-pond.geojson")}}
	s.Use(im, drive.WidthFile)
	s.Work.Rounds = 3
	checked := func(e drive.Evidence) Report {
		s.Work.Working = e
		r, err := Run(t.Context(), s, nil)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	known, told := checked(drive.EvidenceLogged), checked(drive.EvidenceInferred)
	a, b := known.Balance.Twice+known.Balance.More, told.Balance.Twice+told.Balance.More
	t.Logf("worked twice or more: logged %.0f m², inferred %.0f m², doubt %+v", a, b, told.Doubt)
	if math.Abs(b-a) > 0.2*a {
		t.Errorf("worked twice or more: %.0f m², want %.0f within a fifth", b, a)
	}
	if told.Doubt == nil || told.Doubt.Double[0] > a || told.Doubt.Double[1] < a {
		t.Errorf("doubt %+v does not hold the %.0f m² that are worked twice or more", told.Doubt, a)
	}
	if known.Doubt != nil {
		t.Errorf("logged, but doubt %+v", known.Doubt)
	}
}
