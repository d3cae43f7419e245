package drive

import (
	"slices"

	"balk/geo"
)

// delay has the bar follow the logged work state by the delays of the set: what was logged at the button, or by a sensor that
// is late itself, becomes when the bar was in and out. A lowering or lifting is known to lie between two fixes,
// and so it does that much later, which may be over several:
//
//	logged    lifted ·     │     ·  working  ·     ·    between two fixes
//	the bar          ·     ·     ·     │     ·     ·    later by the delay
//
// From the first fix behind the latest instant on the bar is working, and how long before that fix it may have come in is kept for
// settleSwitches. A bar that would be lifted before it is in does not work; one that would be lowered before it is out
// stays in. Nothing moves at the ends of the log, at breaks and gaps, and where no times are logged, which is said.
//
// Where the recorder adds a fix at each change of the state (see marks) it changed just before that one, not anywhere in the step. Settled: states are those of a layer
// of balk's own, whose steps to changes are as long as they came out.
func (t *trail) delay(w Work, settled bool) []geo.Finding {
	if t.State == nil || w.Working == EvidenceInferred || w.Working == EvidenceAll {
		return nil
	}
	within := 0.0
	if !settled {
		within = t.marks()
	}
	if w.LowerDelay == 0 && w.LiftDelay == 0 && within == 0 {
		return nil
	}
	if !t.timed {
		return []geo.Finding{{File: t.source, Record: t.tracks[0].record,
			What: "no times are logged: the bar is taken to follow the logged work state at once, not by the delays of the set"}}
	}
	l := limitsOf(t, w)
	t.lag = map[[2]int][2]float64{}
	type run struct{ logged, really span }
	var runs []run
	parts := byBreaks(t)
	for _, r := range byState(t) {
		for parts[0].to < r.from {
			parts = parts[1:]
		}
		in, out := r.from, r.to
		if from := r.from; t.switched(from, from-1, l) {
			latest := t.seconds[from] + w.LowerDelay
			for in < parts[0].to && t.seconds[in] < latest {
				in++
			}
			for in > parts[0].from && t.seconds[in-1] >= latest {
				in--
			}
			t.lag[[2]int{in, in - 1}] = [2]float64{t.seconds[in] - latest, t.seconds[in] - t.before(from, within) - w.LowerDelay}
		}
		if to := r.to; t.switched(to, to+1, l) {
			earliest := t.before(to+1, within) + w.LiftDelay
			for out > parts[0].from && t.seconds[out] > earliest {
				out--
			}
			for out < parts[0].to && t.seconds[out+1] <= earliest {
				out++
			}
			t.lag[[2]int{out, out + 1}] = [2]float64{earliest - t.seconds[out], t.seconds[to+1] + w.LiftDelay - t.seconds[out]}
		}
		runs = append(runs, run{r, span{in, out}})
	}
	t.logged = t.State
	t.State = slices.Clone(t.State)
	for _, r := range runs {
		for k := r.logged.from; k <= r.logged.to; k++ {
			t.State[k] = geo.Lifted
		}
	}
	for _, r := range runs {
		for k := r.really.from; k <= r.really.to; k++ {
			if t.State[k] = t.logged[k]; t.State[k] == geo.Lifted {
				t.State[k] = geo.Working
			}
		}
	}
	return nil
}
