package turn

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"balk/geo"
	"balk/geo/plane"
)

// ReedsShepp is the shortest path from pose to pose that may reverse and nowhere
// bends tighter than r (m).
func ReedsShepp(from, to Pose, r float64) (Path, error) {
	if err := wayFault(from, to, r); err != nil {
		return Path{}, err
	}
	var best word
	shortest := math.Inf(1)
	reversingWords(seen(from, to, r), &shortest, func(w word) {
		if l := w.length(); l < shortest {
			best, shortest = w, l
		}
	})
	return best.path(from, r, Reversing), nil
}

// threePieces is the slow second opinion's inner part, for radius 1: the shortest of all ways
// of arc, straight, arc and of three arcs, each piece in either gear. It is found from the circles alone
// (centres, tangents), and takes more words than Reeds & Shepp need.
func threePieces(from, to Pose) float64 {
	at := func(p Pose) (place, heading complex128) {
		return complex(p.At.X, p.At.Y), cmplx.Rect(1, float64(p.Heading))
	}
	p1, h1 := at(from)
	p2, h2 := at(to)
	best := math.Inf(1)
	// An arc from one heading to another is driven the shorter way round, in one gear or the other.
	arc := func(a, b complex128) float64 { return math.Abs(cmplx.Phase(b / a)) }
	for _, side1 := range []complex128{1i, -1i} {
		c1 := p1 + side1*h1
		for _, side2 := range []complex128{1i, -1i} {
			c2 := p2 + side2*h2
			v := c2 - c1
			d := cmplx.Abs(v)
			// Straights: where both circles have the same tangent, as seen with its heading.
			if side1 == side2 {
				if d == 0 {
					best = math.Min(best, arc(h1, h2))
				} else {
					for _, h := range []complex128{v / complex(d, 0), -v / complex(d, 0)} {
						best = math.Min(best, arc(h1, h)+d+arc(h, h2))
					}
				}
			} else if d >= 2 {
				u := math.Sqrt(d*d - 4)
				for _, u := range []float64{u, -u} { // v = u·h + side1·h − side2·h
					h := v / (complex(u, 0) + side2 - side1)
					best = math.Min(best, arc(h1, h)+math.Abs(u)+arc(h, h2))
				}
			}
			// A middle circle that touches both from outside stands 2 from either centre.
			if side1 == side2 && d <= 4 && d > 0 {
				for _, side := range []float64{1, -1} {
					m := c1 + v/2 + v/complex(d, 0)*complex(0, side*math.Sqrt(4-d*d/4))
					// Where it touches, the radius c → touch is half of c → m, and the heading is −touch/side.
					ha, hb := -(m-c1)/2/side1, -(m-c2)/2/side2
					best = math.Min(best, arc(h1, ha)+arc(ha, hb)+arc(hb, h2))
				}
			}
		}
	}
	return best
}

// searched is the second opinion on the shortest way with reversing, for radius 1: every first arc and every
// last arc out of a grid of n per radian up to π/2 in both gears and to both sides, or none, and three
// pieces between them. So it covers all words of up to five pieces, finely.
func searched(from, to Pose, n int) float64 {
	arcs := []Arc{{}}
	for k := 1; float64(k)/float64(n) <= math.Pi/2; k++ {
		l := float64(k) / float64(n)
		arcs = append(arcs, Arc{l, 1, 1}, Arc{-l, 1, 1}, Arc{l, -1, -1}, Arc{-l, -1, -1})
	}
	best := math.Inf(1)
	for _, first := range arcs {
		start := from.Moved(first.travel())
		for _, last := range arcs {
			outer := math.Abs(first.Length) + math.Abs(last.Length)
			if outer >= best {
				continue
			}
			goal := to.Moved(Arc{-last.Length, last.To, last.From}.travel())
			best = math.Min(best, outer+threePieces(start, goal))
		}
	}
	return best
}

// TestReversingIsWhatTheSearchFinds: no way found is shorter, and the search comes close. Without
// the words of four and five pieces, or of one family, the search finds shorter ways: it can tell.
func TestReversingIsWhatTheSearchFinds(t *testing.T) {
	const (
		seed  = 11
		n     = 12   // outer arcs per radian
		close = 0.03 // radii; a first or last arc off by 1/24 costs a fraction of that
		goals = 200
	)
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	var longer int
	var worst float64
	for range goals {
		from, to := anyPose(rng, 2.5), anyPose(rng, 2.5)
		want := searched(from, to, n)
		got := must(t, ReedsShepp, from, to, 1).Length()
		if got > want+Exact || got < want-close {
			t.Errorf("%+v to %+v: %g r, the search finds %g r", from, to, got, want)
		}
		worst = math.Max(worst, want-got)
		words, err := Words(from, to, 1, true)
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range words {
			if len(w.Pieces) <= 3 {
				if w.Length() > want+1e-3 {
					longer++
				}
				break
			}
		}
	}
	if longer < goals/10 {
		t.Errorf("the search was shorter than three pieces for %d of %d goals only: it would not see missing words", longer, goals)
	}
	t.Logf("the search came within %.3g r; shorter than three pieces for %d of %d goals", worst, longer, goals)
}

// families of words, each with the pieces left to choose: an arc of 0 to π/2 (c), the same arc
// again (=), a quarter (q), a straight (s). From Reeds & Shepp 1990, table of section 8, written anew.
var familyWords = []struct{ steer, pieces, gears string }{
	{"LSL", "csc", "+++"}, {"LSR", "csc", "+++"}, {"LRL", "ccc", "+-+"}, {"LRL", "ccc", "+--"}, {"LRL", "ccc", "++-"},
	{"LRLR", "cc=c", "++--"}, {"LRLR", "cc=c", "+--+"},
	{"LRSL", "cqsc", "+---"}, {"LRSR", "cqsc", "+---"}, {"LSRL", "csqc", "+++-"}, {"RSRL", "csqc", "+++-"},
	{"LRSLR", "cqsqc", "+---+"},
}

// TestReversingIsNeverLongerThanAnyWord drives every family of words with its pieces out of
// a fine grid, in all four images. Each family must be shortest somewhere, or it would not be in the list.
func TestReversingIsNeverLongerThanAnyWord(t *testing.T) {
	const steps = 12 // of each arc up to a quarter and of the straight up to 3 radii
	for _, fam := range familyWords {
		shortest := 0
		for _, image := range []struct{ steer, gear float64 }{{1, 1}, {1, -1}, {-1, 1}, {-1, -1}} {
			for n := range steps * steps * steps {
				free := []int{n % steps, n / steps % steps, n / steps / steps}
				p := Path{From: Pose{plane.XY{X: 3, Y: 1}, 1}}
				var middle float64
				for i := range fam.steer {
					k := map[byte]float64{'L': 1, 'S': 0, 'R': -1}[fam.steer[i]] * image.steer
					l := math.Pi / 2
					switch fam.pieces[i] {
					case 'c', 's':
						l = (float64(free[0]) + 0.5) / steps * math.Pi / 2
						if fam.pieces[i] == 's' {
							l *= 2
						}
						free = free[1:]
						middle = l
					case '=':
						l = middle
					}
					gear := image.gear
					if fam.gears[i] == '-' {
						gear = -gear
					}
					p.Pieces = append(p.Pieces, Arc{gear * l, k, k})
				}
				end := p.End()
				end.Heading = geo.Heading(math.Remainder(float64(end.Heading), 2*math.Pi))
				got := must(t, ReedsShepp, p.From, end, 1)
				if got.Length() > p.Length()+Exact {
					t.Fatalf("%s of %.10g r, but %s of %.10g r leads there too: %+v", got.Word(), got.Length(), p.Word(), p.Length(), p.Pieces)
				}
				if got.Word() == p.Word() && math.Abs(got.Length()-p.Length()) < Exact {
					shortest++
				}
			}
		}
		if shortest < 20 {
			t.Errorf("%s %s: shortest in %d places only", fam.steer, fam.gears, shortest)
		}
	}
}
