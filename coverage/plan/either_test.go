package plan

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"balk/coverage/rig"
	"balk/geo/plane"
	"balk/testdata/check"
)

// TestEither holds the form in which a round is driven to that found by looking for the way to both, from places all over a field: what is left out for what it takes without its way is never
// the better one, be what is missed dear or cheap.
func TestEither(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 1))
	won, spared, turned := map[form]int{}, 0, map[form]int{}
	few := func() bool { return min(spared, turned[smooth], turned[toCorners]) < 3 }
	for i := 0; i < 24 || i < 240 && few(); i++ { // a way decides seldom for the corners
		im := []rig.Implement{mounted(3 + 3*rng.Float64()), trailed(4 + 2*rng.Float64())}[i%2]
		s, err := surveyOf(t.Context(), obstacled(rng), im, Options{Speed: 8, Rounds: 1 + rng.IntN(3), MissedHours: []float64{0.5, 4, 8, 30}[rng.IntN(4)]})
		if err != nil {
			t.Fatal(err)
		}
		if s, err = s.cornered(t.Context(), cornering(rng.IntN(int(cornerings))), false, false); err != nil {
			t.Fatal(err)
		}
		box := s.field[0][0].Bounds()
		var sharp []loop
		for _, l := range s.parts[0].loops {
			if l.corners != nil {
				sharp = append(sharp, l)
			}
		}
		for k := range 24 * len(sharp) {
			l := sharp[k/24]
			beside := rng.IntN(2) == 0
			at := plane.XY{X: box.Min.X + rng.Float64()*(box.Max.X-box.Min.X), Y: box.Min.Y + rng.Float64()*(box.Max.Y-box.Min.Y)}
			h := headingOf(360 * rng.Float64())
			last := Pass{Line: []plane.XY{at.Sub(h.Ahead().Scale(40)), at}, Length: 40}
			d := drawing{survey: s, plan: &Plan{Passes: []Pass{last}}, at: &at, heading: h, inWork: true}
			a, err := d.approach(l)
			if err != nil {
				t.Fatal(err)
			}
			got, how, err := d.either(a, beside)
			if err != nil {
				t.Fatal(err)
			}
			b, err := d.approach(*l.corners)
			if err != nil {
				t.Fatal(err)
			}
			for _, one := range []*approach{&a, &b} {
				if err := d.arrive(one); err != nil {
					t.Fatal(err)
				}
				if one.least > one.seconds {
					t.Errorf("field %d: takes %g s with the way to it, %g without", i, one.seconds, one.least)
				}
			}
			outer := s.turner.steer.Radius + s.width/2
			off := s.price(l.rounded * outer * outer)
			if beside {
				off = s.price(l.rounded * (outer*outer - (outer-s.width)*(outer-s.width)))
			}
			a.seconds, a.open = a.seconds+off, a.open+off
			want, form := a, smooth
			if b.seconds < a.seconds || s.sharp == allCorners {
				want, form = b, toCorners
			}
			if how != form || !reflect.DeepEqual(got.move, want.move) || math.Abs(got.seconds-want.seconds) > 1e-9 || math.Abs(got.open-want.open) > 1e-9 {
				t.Errorf("field %d: form %d of %g s, %g s open, with both looked at %d of %g s, %g s open", i, how, got.seconds, got.open, form, want.seconds, want.open)
			}
			won[form]++
			if first := b.least < a.least+off; first != (form == toCorners) && s.sharp != allCorners {
				turned[form]++ // the way decides
			}
			if b.least >= a.seconds || a.least+off > b.seconds {
				spared++
			}
		}
	}
	if few() {
		t.Errorf("rounded %d times, to the corners %d times, a way spared %d times, decided by the way %d and %d times: the test does not test what it is for", won[smooth], won[toCorners], spared, turned[smooth], turned[toCorners])
	}
}
