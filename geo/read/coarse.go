package read

import (
	"fmt"
	"math"
)

// coarseFixes is how many fixes it takes to tell the step of the coordinates:
// that none of 20 fixes has another digit by chance, twice over, is a matter of
// 1 in 10^40.
const coarseFixes = 20

// coarseStep is the step of coordinates, in metres north-south, from which it is
// said: a strip of 6 cm, the narrowest worth a walk, cannot be seen with it.
const coarseStep = 0.05

// minute is a minute of latitude, in metres: the nautical mile.
const minute = 1852.0

// step keeps the most decimals that coordinates have, trailing zeros apart.
type step struct {
	fixes    int
	decimals int
}

// see takes in a coordinate written as mantissa and number of decimals.
func (s *step) see(mantissa uint64, decimals int) {
	for decimals > s.decimals && mantissa%10 == 0 {
		mantissa /= 10
		decimals--
	}
	s.decimals = max(s.decimals, decimals)
}

// seeValue takes in a coordinate in degrees, to nine decimals (0.1 mm).
func (s *step) seeValue(degrees float64) {
	if s.decimals < 9 {
		s.see(uint64(math.Round(math.Abs(degrees)*1e9)), 9)
	}
}

// note says that the step is too coarse, if it is. unit is what the decimals are
// of, in metres and in words.
func (s *step) note(t *tally, unit float64, words string) {
	if d := unit * math.Pow10(-s.decimals); s.fixes >= coarseFixes && d >= coarseStep {
		t.add(0, nil, false, fmt.Sprintf("coordinates have %d decimals of %s, a step of %.2g m north-south: too coarse to tell strips narrower than that (limit %g m)", s.decimals, words, d, coarseStep))
	}
}
