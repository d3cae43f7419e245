package coverage

import (
	"math/rand/v2"
	"strings"
	"testing"

	"balk/coverage/drive"
)

// TestWhiteNoiseIsTakenOut: ten fixes a second with 2 cm of white noise, beside the log without
// noise. Taken from neighbouring fixes the heading would swing the bar and tear thousands of teeth.
func TestWhiteNoiseIsTakenOut(t *testing.T) {
	const seed = 5
	t.Logf("seed %d", seed)
	p := plans()[0]
	w := drive.Work{Width: 6, Overlap: 0.1, Rounds: p.rounds}
	run := func(white float64) Result {
		rng := rand.New(rand.NewPCG(seed, 1))
		log, _ := shiftOf(p, w, rng).logged(10, 0, white, 0, rng)
		return checked(t, log, w)
	}
	exact, noisy := run(0), run(0.02)
	t.Logf("missed %.1f m² in %d strips, with noise %.1f in %d", exact.Balance.Missed, len(exact.Strips), noisy.Balance.Missed, len(noisy.Strips))
	said := func(r Result) bool {
		for _, f := range r.Findings {
			if strings.Contains(f.What, "white noise") {
				return true
			}
		}
		return false
	}
	if said(exact) || !said(noisy) {
		t.Errorf("white noise is said of the exact log: %v, of the noisy one: %v", said(exact), said(noisy))
	}
	if d := noisy.Balance.Missed / exact.Balance.Missed; d < 0.85 || d > 1.15 {
		t.Errorf("missed %.1f m², without noise %.1f", noisy.Balance.Missed, exact.Balance.Missed)
	}
	if len(noisy.Strips) > 2*len(exact.Strips)+10 {
		t.Errorf("%d strips, without noise %d", len(noisy.Strips), len(exact.Strips))
	}
}

// TestAPhonesLogIsToldFromItsMotion: white noise of metres at one fix a second. From fix to fix the way is several times as long as it
// was, and turns all the time; estimated it is told as work, and its length and speed are those driven.
func TestAPhonesLogIsToldFromItsMotion(t *testing.T) {
	const seed = 6
	t.Logf("seed %d", seed)
	p := plans()[0]
	w := drive.Work{Width: 6, Overlap: 0.1, Rounds: p.rounds}
	run := func(white float64) Result {
		rng := rand.New(rand.NewPCG(seed, 1))
		log, _ := shiftOf(p, w, rng).logged(1, 0, white, 0, rng)
		log.State = nil
		return checked(t, log, w)
	}
	exact, noisy := run(0), run(4)
	t.Logf("working %.0f m at %.2f m/s, with noise %.0f at %.2f", exact.Effort.Working.Metres, exact.Effort.Speed.Median, noisy.Effort.Working.Metres, noisy.Effort.Speed.Median)
	for what, share := range map[string]float64{
		"metres": noisy.Effort.Working.Metres / exact.Effort.Working.Metres,
		"speed":  noisy.Effort.Speed.Median / exact.Effort.Speed.Median,
		"ground": noisy.Balance.Swath / exact.Balance.Swath,
	} {
		if share < 0.85 || share > 1.15 {
			t.Errorf("working %s: %.2f of what they are without noise", what, share)
		}
	}
}
