package coverage

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/geo"
	"balk/geo/plane"
)

// plans are the situations of the truth test. Origin of the plane is the lower
// left corner of the field.
func plans() []plan {
	box := rectangle(0, 0, 240, 110)
	ell := []plane.XY{{X: 0, Y: 0}, {X: 240, Y: 0}, {X: 240, Y: 60}, {X: 130, Y: 60}, {X: 130, Y: 120}, {X: 0, Y: 120}}
	hole := rectangle(100, 50, 116, 62)
	return []plan{
		{"rectangle, plain U", [][]plane.XY{box}, "U", 2, false},
		{"rectangle, bulb, road", [][]plane.XY{box}, "bulb", 2, true},
		{"rectangle, fishtail", [][]plane.XY{box}, "fishtail", 2, false},
		{"no headland, plain U", [][]plane.XY{box}, "U", 0, false},
		{"no headland, bulb, road", [][]plane.XY{box}, "bulb", 0, true},
		{"no headland, fishtail", [][]plane.XY{box}, "fishtail", 0, false},
		{"L-shape, bulb, road", [][]plane.XY{ell}, "bulb", 2, true},
		{"L-shape, plain U", [][]plane.XY{ell}, "U", 2, false},
		{"obstacle, bulb", [][]plane.XY{box, hole}, "bulb", 2, false},
		{"obstacle, fishtail, road", [][]plane.XY{box, hole}, "fishtail", 2, true},
	}
}

// score is how much of the way was told rightly, in metres.
type score struct {
	work, lifted           float64 // truly
	workRight, liftedRight float64 // of it told so
}

func (s score) right() float64 {
	return (s.workRight + s.liftedRight) / (s.work + s.lifted)
}

func (s *score) add(o score) {
	s.work, s.lifted, s.workRight, s.liftedRight = s.work+o.work, s.lifted+o.lifted, s.workRight+o.workRight, s.liftedRight+o.liftedRight
}

// scored compares the log's steps with what is known of them: both fixes in work.
func scored(t *testing.T, log []Stretch, truth []plane.XY, state []geo.WorkState) (s score) {
	t.Helper()
	k := 0
	for _, one := range log {
		for range len(one.Line) - 1 {
			k++
			d := truth[k].Dist(truth[k-1])
			if state[k] == geo.Working && state[k-1] == geo.Working {
				if s.work += d; one.Worked {
					s.workRight += d
				}
			} else if s.lifted += d; !one.Worked {
				s.liftedRight += d
			}
		}
	}
	if k != len(truth)-1 {
		t.Fatalf("%d steps in the log, want %d", k, len(truth)-1)
	}
	return s
}

// TestInferredWorkAgainstTheTruth hides the state of logs of which it is known.
func TestInferredWorkAgainstTheTruth(t *testing.T) {
	const seed = 20260414
	t.Logf("seed %d", seed)
	for _, c := range []struct {
		name                string
		rate, wander, white float64 // 1/s, m, m
		right, area         float64 // share of the way; share of the field
	}{
		{"1 Hz, 2 cm", 1, 0.02, 0.01, 0.98, 0.01},
		{"10 Hz, 2 cm", 10, 0.02, 0.01, 0.98, 0.01},
		{"1 Hz, 50 cm", 1, 0.5, 0.01, 0.97, 0.02},
		{"10 Hz, 50 cm", 10, 0.5, 0.01, 0.97, 0.02},
	} {
		t.Run(c.name, func(t *testing.T) {
			var all score
			worst := 0.0
			for n, p := range plans() {
				w := Work{Width: 6, Overlap: 0.1, Rounds: p.rounds}
				rng := rand.New(rand.NewPCG(seed, uint64(n)))
				log, truth := shiftOf(p, w, rng).logged(c.rate, c.wander, c.white, rng)
				state := log.state[0]
				known := log.check(t, w)
				log.state = nil
				told := log.check(t, w)
				sc := scored(t, told.Log, truth, state)
				off := balanceOff(known.Balance, told.Balance)
				t.Logf("%-28s right %.4f: work %.4f of %.0f m, lifted %.4f of %.0f m; balance off by %.4f of the field", p.name, sc.right(), sc.workRight/sc.work, sc.work, sc.liftedRight/sc.lifted, sc.lifted, off)
				worst = max(worst, off)
				all.add(sc)
			}
			t.Logf("right %.4f, balance off by %.4f at worst", all.right(), worst)
			if all.right() < c.right || worst > c.area {
				t.Errorf("right %.4f, want %.3f; balance off by %.4f of the field, want at most %.3f", all.right(), c.right, worst, c.area)
			}
		})
	}
}

// balanceOff is the greatest difference of two balances, as a share of the field.
func balanceOff(a, b Balance) float64 {
	worst := 0.0
	for _, d := range []float64{a.Missed - b.Missed, a.Unknown - b.Unknown, a.Once - b.Once, a.Twice - b.Twice, a.More - b.More} {
		worst = max(worst, math.Abs(d)/a.Field)
	}
	return worst
}
