package turn

import (
	"slices"
	"testing"

	"balk/coverage/rig"
)

// The drive from some metres on has the outlines of the whole from there, and its end.
func TestDriveAfter(t *testing.T) {
	im := rig.Implement{Width: 5, Mount: rig.Mount{Trailed: true, Hitch: 1, Drawbar: 4, BarBehind: 1, MaxAngle: 70}, Tractor: rig.Tractor{Ahead: 4, Behind: 1, Width: 2.5},
		Body: rig.Body{Ahead: 1, Behind: 1, Width: 5}, Turning: rig.Turning{Radius: 6, Speed: 6}}
	d, err := Drive(Path{Pieces: []Arc{{Length: 5}, {Length: 10, From: 1.0 / 7, To: 1.0 / 7}}}, im, 0.02)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []float64{0, 3, 5, 11.5, 15, 20} {
		rest := d.After(s)
		first := len(d.Moments) - len(rest.Moments)
		if got := rest.Moments[0].S; s <= 15 && got < s || first > 0 && s <= 15 && d.Moments[first-1].S >= s || s > 15 && len(rest.Moments) != 1 {
			t.Errorf("after %g m: from %.2f m, %d of %d moments", s, got, len(rest.Moments), len(d.Moments))
		}
		for k := range rest.Moments {
			if !slices.Equal(rest.Tractor(k), d.Tractor(first+k)) || !slices.Equal(rest.Implement(k), d.Implement(first+k)) {
				t.Fatalf("after %g m: another outline at moment %d", s, k)
			}
		}
	}
}
