package plan

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
)

// TestKnown asks for ways twice, and of sets made slimmer, with what is known kept and forgotten: what is known is what is found out.
func TestKnown(t *testing.T) {
	for _, im := range []rig.Implement{mounted(6), trailed(5)} {
		fresh, err := turnerOf(im, twentyHectares)
		if err != nil {
			t.Fatal(err)
		}
		kept := *fresh
		fits, differ, stand := 0, 0, 0
		for far := 0.0; far <= 8; far += 0.1 { // from the edge
			from := turn.Pose{Heading: 0.3}
			from.At.X, from.At.Y = 100, 3.6+far
			to := from.Moved(14, 9, 2.1)
			rooms := [2]bool{}
			for i, lacks := range []float64{0, 0.8} {
				at := turn.Pose{At: plane.XY{X: 100, Y: far}}
				fresh.known = newKnown()
				want := fresh.slimBy(lacks).noRoom(at)
				for range 2 {
					if got := kept.slimBy(lacks).noRoom(at); got != want {
						t.Fatalf("%s at %g m: no room %v, found out %v", im.Name, far, got, want)
					}
				}
				rooms[i] = want
			}
			if rooms[0] != rooms[1] {
				stand++
			}
			for _, reversing := range []bool{false, true} {
				all := [2]bool{}
				for i, lacks := range []float64{0, 0.8} {
					fresh.known = newKnown()
					a, want, err := fresh.slimBy(lacks).firstWord(from, to, reversing, true)
					if err != nil {
						t.Fatal(err)
					}
					for range 2 {
						b, got, err := kept.slimBy(lacks).firstWord(from, to, reversing, true)
						if err != nil || got != want || !reflect.DeepEqual(a, b) {
							t.Fatalf("%s at %g m: %v of %g s, found out %v of %g s, %v", im.Name, far, got, b.seconds, want, a.seconds, err)
						}
					}
					if all[i] = want; want {
						fits++
					}
				}
				if all[0] != all[1] {
					differ++
				}
			}
		}
		if fits < 20 || differ == 0 || stand == 0 {
			t.Errorf("%s: %d ways fit, %d slim alone, where %d slim sets alone stand: the test does not test what it is for", im.Name, fits, differ, stand)
		}
	}
	// No two paths share a key, whatever of them differs.
	tr, err := turnerOf(mounted(6), twentyHectares)
	if err != nil {
		t.Fatal(err)
	}
	p := turn.Path{Pieces: []turn.Arc{{Length: 1, From: 0.1, To: 0.1}, {Length: 2}}}
	keys := map[[32]byte]bool{}
	for i := range 8 {
		q := turn.Path{From: p.From, Pieces: []turn.Arc{p.Pieces[0], p.Pieces[1]}}
		who := tr
		switch i {
		case 1:
			q.From.At.X = 1
		case 2:
			q.From.At.Y = 1
		case 3:
			q.From.Heading = 1
		case 4:
			q.Pieces[0].Length = 2
		case 5:
			q.Pieces[1].To = 0.1
		case 6:
			q.Pieces = q.Pieces[:1]
		case 7:
			who = tr.slimBy(0.1)
		}
		keys[who.keyOf(q)] = true
	}
	if len(keys) != 8 {
		t.Errorf("8 paths have %d keys", len(keys))
	}
}

// TestLeaves holds what is said before ways are looked for to looking at each of them: where the set has no room at an end, none of the ways between fits.
func TestLeaves(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 1))
	said, fit := 0, 0
	for i := range 400 {
		im := []rig.Implement{mounted(6), trailed(5)}[i%2]
		tr, err := turnerOf(im, box(120, 60))
		if err != nil {
			t.Fatal(err)
		}
		pose := func() turn.Pose {
			return turn.Pose{At: plane.XY{X: 120 * rng.Float64(), Y: 60 * rng.Float64()}, Heading: geo.Heading(2 * math.Pi * rng.Float64())}
		}
		from, to := pose(), pose()
		words, err := turn.Words(from, to, tr.runRadius(), tr.reverses)
		if err != nil {
			t.Fatal(err)
		}
		fits := false
		for _, p := range words {
			ok, err := tr.drives(p)
			if err != nil {
				t.Fatal(err)
			}
			fits = fits || ok
		}
		switch leaves := tr.leaves(from, to); {
		case leaves && fits:
			t.Errorf("%s from %v to %v: no room at an end, but a way fits", im.Name, from, to)
		case leaves:
			said++
		case fits:
			fit++
		}
	}
	if said < 50 || fit < 50 {
		t.Errorf("%d times no room, %d times a way fits: the test does not test what it is for", said, fit)
	}
}
