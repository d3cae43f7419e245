package coverage

import (
	"math/rand/v2"
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// abreast is a field of n passes of 200 m, every other one driven back, at a spacing of 5.8 m. Its boundary is the middle
// of the outer ones; the passes as logged lie aside to the right of where they were driven, each with errors of its own.
func abreast(n int, aside, scatter float64, rng *rand.Rand) trial.Sketch {
	var ys []float64
	for k := range n {
		right := -aside // pass 0 goes east, and south is to its right
		if k%2 == 1 {
			right = aside
		}
		e := 0.0
		if scatter > 0 {
			e = scatter * rng.NormFloat64()
		}
		ys = append(ys, 5.8*float64(k)+right+e)
	}
	return trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 200, 5.8*float64(n-1))}, Lines: trial.Rows(0, 200, ys...)}
}

// TestBarAside: of n passes at the credited width, every other one driven back, a bar s aside opens every other join by 2s.
// Where the log shows even joins it cannot tell, and 10 cm are laid. Where the joins show that the bar runs s beside the place it was taken at,
// both readings are given: as taken 2s at every other join are missed, as the joins say nothing is.
func TestBarAside(t *testing.T) {
	w := drive.Work{Width: 6, Overlap: 0.2, PassError: 0.02}
	for _, c := range []struct {
		name                string
		passes              int
		aside               float64 // m, of the log
		joins               bool
		by, missed, asTaken float64
	}{
		// Of 9 joins of 10 passes 5 open to the one side and 4 to the other.
		{"even joins", 10, 0, false, asideBy, 200 * 0.2 * 5, 0},
		{"the log 20 cm aside", 10, 0.2, true, -0.2, 0, 200 * 0.4 * 5},
		{"the log 20 cm to the other side", 10, -0.2, true, 0.2, 0, 200 * 0.4 * 4},
		{"the log 1 cm aside: less than a tape tells", 10, 0.01, false, asideBy, 200 * 0.22 * 5, 200 * 0.02 * 5},
		{"too few joins to say so", 7, 0.2, false, asideBy, 200 * 0.6 * 3, 200 * 0.4 * 3},
	} {
		r := checked(t, abreast(c.passes, c.aside, 0, nil), w)
		trial.Near(t, c.name+": missed as taken", r.Balance.Missed, c.asTaken, 0.5)
		a := r.Open.Aside
		if a.Joins != c.joins {
			t.Errorf("%s: %+v, offset %+v", c.name, a, r.Spacing.Offset)
			continue
		}
		trial.Near(t, c.name+": how far aside", a.By, c.by, 1e-6)
		trial.Near(t, c.name+": missed then", a.Missed, c.missed, 0.5)
	}
	// All driven one way: a bar aside opens no join.
	s := abreast(10, 0, 0, nil)
	for k := 1; k < 10; k += 2 {
		line := s.Lines[k]
		s.Lines[k] = []plane.XY{line[len(line)-1], line[0]}
	}
	s.Rings = [][]plane.XY{trial.Rectangle(0, 2, 200, 50)}
	if r := checked(t, s, w); r.Open.Aside != (Aside{}) {
		t.Errorf("driven one way: %+v", r.Open.Aside)
	}
}

// TestOffsetWithinItsDoubt: where passes lie aside by chance only, an offset is told in one field of a hundred, and so is one of no
// more than a tape tells; one of 20 cm in all. Passes whose error is as large as the offset say nothing.
func TestOffsetWithinItsDoubt(t *testing.T) {
	if trial.UnderRaceDetector() {
		t.Skip("a minute there; what runs at the same time is tested elsewhere")
	}
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	w := drive.Work{Width: 6, Overlap: 0.2}
	const fields = 600
	told := func(aside, scatter float64) int {
		n := 0
		for range fields {
			if spacingIn(t, drawn(w, abreast(16, aside, scatter, rng).Lines...), w).Offset.Told() {
				n++
			}
		}
		return n
	}
	// 12 are 1 in 100 and 2.4 deviations more. The scatter is such that doubt, not the tape, decides.
	if n := told(0, 0.15); n > 12 {
		t.Errorf("told in %d of %d fields without an offset", n, fields)
	} else {
		t.Logf("told in %d of %d fields without an offset", n, fields)
	}
	// Half of these lie beyond the tape, by chance a good way; a rule that asks for more than either, not for both, tells 1 in 20 or more of them.
	for _, scatter := range []float64{0.02, 0.05, 0.1} {
		if n := told(tape, scatter); n > 12 {
			t.Errorf("told in %d of %d fields with an offset of %g m, passes off by %g m", n, fields, tape, scatter)
		}
	}
	if n := told(0.2, 0.05); n != fields {
		t.Errorf("an offset of 20 cm told in %d of %d fields", n, fields)
	}
	if n := told(0.1, 0.5); n > fields/10 {
		t.Errorf("an offset of 10 cm told in %d of %d fields, with passes 50 cm off", n, fields)
	}
}

// TestShortJoinsTellLittle: pieces of 12 m that lie 2 m off beside a field of 200 m rows do not drown the offset that these tell.
func TestShortJoinsTellLittle(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	lines := abreast(16, 0.2, 0.02, rng).Lines
	for k := range 8 {
		x, y := 24*float64(k), 5.8*16+2*float64(k%2*2-1)
		lines = append(lines, []plane.XY{{X: x, Y: y}, {X: x + 12, Y: y}})
	}
	w := drive.Work{Width: 6, Overlap: 0.2}
	if o := spacingIn(t, drawn(w, lines...), w).Offset; !o.Told() || o.Joins < 20 || o.Doubt > 0.1 {
		t.Errorf("%+v", o)
	}
}
