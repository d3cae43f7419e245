package plan

import (
	"math"
	"testing"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// TestStable: a field moved and turned, and one worked by a set 1 cm wider, come to the same to 2 %; a strip of 22 m, three and two thirds
// widths, to 5 %; a triangle, where 1 cm saves the last of 38 rows, and its round begins on the other side, to 2.5 %. What remains are ties: which of two ends a round begins at, and which directions are laid out.
func TestStable(t *testing.T) {
	for _, c := range []int{0, 2, 4, 5, 6} {
		c, most := shapes[c], 0.02
		switch c.name {
		case "narrow, rounds only":
			most = 0.05
		}
		for _, im := range []rig.Implement{mounted(6), trailed(5)} {
			value := func(field []plane.Polygon, im rig.Implement) float64 {
				got, err := Best(t.Context(), field, im, Options{Speed: 8}, Objective{})
				if err != nil {
					t.Fatal(err)
				}
				return got.Candidate.Value
			}
			was := value(c.field, im)
			moved := value(turnedBy(c.field, 0.7, plane.XY{X: 500, Y: -300}), im)
			wide := im
			wide.Width += 0.01
			wider := value(c.field, wide)
			if math.Abs(moved/was-1) > most || math.Abs(wider/was-1) > most {
				t.Errorf("%s, %s %g m: %.4f h, moved %.4f h, 1 cm wider %.4f h", c.name, im.Name, im.Width, was, moved, wider)
			}
		}
	}
}
