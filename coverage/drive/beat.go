package drive

import (
	"math"
	"slices"

	"balk/coverage/motion"
)

const (
	// beatStep and beatEven: a log without times is taken as one of a clock that beats evenly where its usual step is no longer than the
	// first, and all but a twentieth are no longer than so many usual ones. White noise far above the step makes it 1.9 (the 95th
	// hundredth of a Rayleigh distribution by its median). A line that was thinned, or drawn by hand, is not like that.
	beatStep = 2.5 // m, that of a fix a second at 9 km/h
	beatEven = 3.0
	// beatPace is how fast the machine is then thought to go. Only what is a standstill depends on it.
	beatPace = 2.0 // m/s
	// beatChord: a chord of so many times the noise tells the way.
	beatChord = 30.0
)

// beat gives the fixes of a dense log without times those of a clock that beats evenly, until unbeat. Its noise would else be taken for
// driving: bars that swing about and lap each other at every step. It returns the usual step without noise, in metres; 0: the log
// is none of that kind.
func (t *trail) beat() float64 {
	var steps []float64
	t.steps(func(_ int, d float64) { steps = append(steps, d) })
	if len(steps) == 0 {
		return 0
	}
	slices.Sort(steps)
	if usual := steps[len(steps)/2]; usual == 0 || usual > beatStep || steps[len(steps)*19/20] > beatEven*usual {
		return 0
	}
	t.tick(1)
	stretches := t.stretches(t.timedParts())
	noise := motion.Noise(sample(stretches))
	step := 0.0
	for many := 1; !math.IsNaN(noise); many *= 2 {
		chord := chordOf(stretches, many)
		if chord == 0 {
			break // the machine stands
		}
		if step = chord / float64(many); chord >= beatChord*noise {
			break
		}
	}
	if step == 0 {
		t.unbeat()
		return 0
	}
	t.tick(step / beatPace)
	return step
}

// chordOf is the usual distance between fixes so many apart, 0 where no part is that long.
func chordOf(parts []motion.Stretch, many int) float64 {
	var chords []float64
	for _, p := range parts {
		for k := 0; k+many < len(p.At); k += many {
			chords = append(chords, p.At[k].Dist(p.At[k+many]))
		}
	}
	if len(chords) == 0 {
		return 0
	}
	return Median(chords)
}

// tick sets the times of all fixes, so many seconds apart.
func (t *trail) tick(seconds float64) {
	for k := range t.seconds {
		t.seconds[k] = float64(k) * seconds
	}
}

// unbeat takes the times away again.
func (t *trail) unbeat() {
	for k := range t.seconds {
		t.seconds[k] = math.NaN()
	}
}
