package plan

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/rig"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// TestStable: a field moved and turned, and one worked by a set 1 cm wider, come to the same to 2 %; a strip of 22 m, three and two thirds
// widths, to 5 %; a triangle, where 1 cm saves the last of 38 rows, and its round begins on the other side, to 2.5 %. What remains are ties: which of two ends a round begins at, and which directions are laid out.
func TestStable(t *testing.T) {
	drawn := []int{0, 2, 4, 5, 6}
	if !trial.Long() { // three of the five
		rng := rand.New(rand.NewPCG(check.Seed(t), 14))
		rng.Shuffle(len(drawn), func(i, k int) { drawn[i], drawn[k] = drawn[k], drawn[i] })
		drawn = drawn[:3]
	}
	for _, c := range drawn {
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

// TestWiderOnRealField: a set 1 cm wider comes to the same to 1 % on small open fields. On 39 one more row is needed a degree aside; a direction 0.9° aside that saves 0.8 %, and is
// alone among those beside it, is found with the one width only. On 15 a neck of one arm was passed along the rim with the
// one width and as the crow flies with the other, 5 % apart; on 45 the nose had room beyond the last row with the wider set alone, 5 %; on 49 a side of some centimetres blunted
// the corner past which a round was driven on; on 82 six rounds are best by far, and were not asked for where the search had begun from four or from three, 3 %; on 30 a round in stretches left a third less the other way round, and that was asked for only where
// some centimetre did not fit, 3 %; on 49 a row in a corner that does not pay is seen to with the wider set, whose rows lie another way, 1.1 %. What remains is one row more, or another direction that takes nearly as long.
func TestWiderOnRealField(t *testing.T) {
	sets := map[float64]rig.Implement{5: trailed(5), 6: mounted(6), 3: mounted(3)}
	for _, c := range []struct {
		field int
		width float64
		most  float64
	}{{39, 5, 0.01}, {15, 6, 0.01}, {45, 3, 0.01}, {49, 6, 0.012}, {24, 6, 0.01}, {82, 3, 0.01}, {30, 6, 0.01}} {
		im := sets[c.width]
		im.Body.Width, im.Turning.Radius = c.width, 5.5
		if im.Mount.Trailed {
			im.Mount.DrawbarRadius = 6.5
		}
		var was float64
		for i, wider := range []float64{0, 0.01} {
			w := im
			w.Width += wider
			got, err := Best(t.Context(), trial.OnPlanes(t)[c.field-1], w, Options{Speed: 8}, Objective{})
			if err != nil {
				t.Fatal(err)
			}
			if v := got.Candidate.Value; i == 0 {
				was = v
			} else if math.Abs(v/was-1) > c.most {
				t.Errorf("field %d, %s %g m: %.5f h, %g m wider %.5f h", c.field, im.Name, im.Width, was, wider, v)
			}
		}
	}
}
