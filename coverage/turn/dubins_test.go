package turn

import (
	"fmt"
	"math"
	"testing"

	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
)

// name is the word with a letter for every piece, also those of no length.
func (w word) name() string {
	var s string
	for _, p := range w.pieces[:w.n] {
		s += map[float64]string{1: "L", 0: "S", -1: "R"}[p.steer]
	}
	return s
}

// TestWordsOfThePublishedTable: 216 rows, six words for 36 configurations; lengths and
// feasibility. The table's 13 digits allow 1e-12.
func TestWordsOfThePublishedTable(t *testing.T) {
	rows := check.Rows(t, "turning/dubins_words.csv")
	if len(rows) != 216 {
		t.Fatalf("%d rows, want 216", len(rows))
	}
	for _, row := range rows {
		a, b, d := row.Number("a"), row.Number("b"), row.Number("d")
		from, to := Pose{Heading: geo.Heading(a)}, Pose{plane.XY{X: d}, geo.Heading(b)}
		name := fmt.Sprintf("%s from %.4g to %.4g over %g", row.Text("word"), a, b, d)
		found := false
		forwardWords(seen(from, to, 1), func(w word) {
			if w.name() != row.Text("word") {
				return
			}
			found = true
			if err := leadsTo(w.path(from, 1, Forward), to); err != nil {
				t.Errorf("%s: %v", name, err)
			}
			for i, p := range w.pieces[:w.n] {
				if want := row.Number(fmt.Sprintf("seg%d", i+1)); math.Abs(p.drive-want) > 1e-9 {
					t.Errorf("%s: piece %d is %.15g, want %.15g", name, i+1, p.drive, want)
				}
			}
			if want := row.Number("length"); math.Abs(w.length()-want) > 1e-9 {
				t.Errorf("%s: length %.15g, want %.15g", name, w.length(), want)
			}
		})
		if want := row.Text("feasible") == "1"; found != want {
			t.Errorf("%s: feasible %v, want %v", name, found, want)
		}
	}
}

func TestShortestOfThePublishedTable(t *testing.T) {
	for _, row := range check.Rows(t, "turning/dubins_shortest.csv") {
		a, b, d := row.Number("a"), row.Number("b"), row.Number("d")
		p, err := Dubins(Pose{Heading: geo.Heading(a)}, Pose{plane.XY{X: d}, geo.Heading(b)}, 1)
		if err != nil {
			t.Fatal(err)
		}
		if want := row.Number("length"); math.Abs(p.Length()-want) > 1e-9 {
			t.Errorf("from %.4g to %.4g over %g: %s of %.15g, want %s of %.15g", a, b, d, p.Word(), p.Length(), row.Text("word"), want)
		}
	}
}
