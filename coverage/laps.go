package coverage

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/drive"
	"balk/coverage/pattern"
)

// Lap is what would be missed and worked twice between passes, had lines been laid with another overlap, and driven as unevenly.
type Lap struct {
	Overlap float64 `json:"overlap"` // m
	Missed  float64 `json:"missed"`  // share of the ground between lines that the full width would not touch
	Double  float64 `json:"double"`  // share of it that would be worked twice
	Way     float64 `json:"way"`     // so many times the way of the overlap planned now
}

const (
	lapStep = 0.02 // m
	lapMost = 0.4  // m; wider laps are no answer to spread
	// lapWide: the widest lap looked at, of the width.
	lapWide = 0.15
)

// The sides of passes that meet at a join. A bar that hangs aside makes their spacings differ.
const (
	kindRights = iota
	kindLefts
	kindSameWay
)

func kindOf(back bool, side int) int {
	switch {
	case !back:
		return kindSameWay
	case side == toRight:
		return kindRights
	}
	return kindLefts
}

// joinSpacings is how far another pass lies along a stretch of one.
type joinSpacings struct {
	pass, other int
	kind        int
	opening     float64   // m per m of way; 0 = too few places tell it
	off         []float32 // m, spacings, from place to place
}

// laps are what spacings make of other overlaps; none where the log cannot tell strips, or another width worked than was said.
func (r *Result) laps(all []joinSpacings) []Lap {
	if r.Telling.Strips == GraspNone || r.Spacing.Misfit() {
		return nil
	}
	return lapsOf(r.Spacing, unevenly(all, r.Spacing.Every, r.Patterns))
}

// unevenly is what spacings are off by that a lap cures, m, ascending; nil where there are too few. A spacing is that which its kind has in the median (a bar that
// hangs aside, and lines laid too far apart, are in there), what a pattern makes of its join, and the rest. Of a line that was shifted the
// one join has its shift; of rows that turn against each other, or slide aside, each join opens by as much as all of them do. These have remedies of their own.
func unevenly(all []joinSpacings, every float64, patterns []pattern.Pattern) (off []float64) {
	var kinds [kindSameWay + 1][]float64
	straight := make([][]float64, len(all)) // without what patterns make of openings
	for k, j := range all {
		opening, middle := j.opens(patterns), float64(len(j.off)-1)/2
		for i, s := range j.off {
			straight[k] = append(straight[k], float64(s)-opening*(float64(i)-middle)*every)
		}
		kinds[j.kind] = append(kinds[j.kind], straight[k]...)
	}
	var usual [len(kinds)]float64
	for k, spacings := range kinds {
		if len(spacings) > 0 {
			usual[k] = quartiles(spacings)[1]
		}
	}
	for k, j := range all {
		mean := 0.0
		for _, s := range straight[k] {
			mean += s / float64(len(j.off))
		}
		shift := j.shifted(patterns, mean-usual[j.kind])
		for _, s := range straight[k] {
			off = append(off, s-usual[j.kind]-shift)
		}
	}
	if len(off) < fewSpacings {
		return nil
	}
	slices.Sort(off)
	return off
}

// opens is how much of a join's opening patterns make, m per m; never more than it shows.
func (j joinSpacings) opens(patterns []pattern.Pattern) (by float64) {
	for _, p := range patterns {
		if min(j.pass, j.other) < p.Passes[0] || max(j.pass, j.other) > p.Passes[1] {
			continue
		}
		switch {
		case p.Kind == pattern.Fan:
			by += p.By
		case p.Kind == pattern.Slide && j.kind != kindSameWay: // one slides as the other does, the other way
			by += 2 * p.By
		}
	}
	return math.Copysign(min(by, math.Abs(j.opening)), j.opening)
}

// shifted is how much of what a join is wider than usual a shift of the line makes.
func (j joinSpacings) shifted(patterns []pattern.Pattern, wider float64) (by float64) {
	first, last := min(j.pass, j.other), max(j.pass, j.other)
	for _, p := range patterns {
		if p.Kind == pattern.Shifted && first < p.Passes[0] && last >= p.Passes[0] && last <= p.Passes[1] {
			by = max(by, min(p.By, wider))
		}
	}
	return by
}

// lapsOf are laps from none to lapMost. At an overlap o lines lie W − o apart, neighbours W − o + x of which x is uneven, ascending, so that
//
//	missed = mean of max(0, x − o) / (W − o)        double = mean of max(0, o − x) / (W − o)
//
// of a bar that works its full width W.
func lapsOf(s Spacing, off []float64) []Lap {
	if len(off) == 0 {
		return nil
	}
	planned, width := s.Planned, s.Width
	overlaps := []float64{width - planned}
	for k := 0; float64(k)*lapStep <= min(lapMost, lapWide*width)+logRounding; k++ {
		if o := float64(k) * lapStep; math.Abs(o-overlaps[0]) > logRounding {
			overlaps = append(overlaps, o)
		}
	}
	slices.Sort(overlaps)
	// The sum of those above o, and below, by sums from the left.
	sums := make([]float64, len(off)+1)
	for i, x := range off {
		sums[i+1] = sums[i] + x
	}
	n := float64(len(off))
	var out []Lap
	for _, o := range overlaps {
		below, _ := slices.BinarySearch(off, o)
		missed := sums[len(off)] - sums[below] - o*(n-float64(below))
		double := o*float64(below) - sums[below]
		out = append(out, Lap{Overlap: o, Missed: missed / n / (width - o), Double: double / n / (width - o), Way: planned / (width - o)})
	}
	return out
}

// Cheapest are the lap as planned and the one that costs least, with what either costs by the m²: the way driven at so much an hour of the set, and ground
// missed between passes at so much a m². ok is false where a price or a spacing is not known.
func (r Result) Cheapest(perHour, perMissed float64) (now, best Lap, costs [2]float64, ok bool) {
	s, capacity := r.Spacing, r.Effort.EffectiveCapacity
	k := s.plannedLap()
	if k < 0 || !(capacity > 0 && perHour > 0 && perMissed > 0) {
		return Lap{}, Lap{}, costs, false
	}
	cost := func(l Lap) float64 { return perHour/3600/capacity*l.Way + perMissed*l.Missed }
	now = s.Laps[k]
	best = slices.MinFunc(s.Laps, func(a, b Lap) int { return cmp.Compare(cost(a), cost(b)) })
	return now, best, [2]float64{cost(now), cost(best)}, true
}

// plannedLap is the place of the lap as planned; -1: it is not there.
func (s Spacing) plannedLap() int { return slices.IndexFunc(s.Laps, s.AsPlanned) }

// AsPlanned says whether a lap is the one that was planned.
func (s Spacing) AsPlanned(l Lap) bool { return math.Abs(l.Overlap-(s.Width-s.Planned)) <= logRounding }

// Better are the lap as planned, and the least one at which a quarter of that is missed at most; ok is false where little is missed between passes, no more than
// the receiver's own error would show of rows without fault, or no lap cures it.
func (r Result) Better() (now, then Lap, ok bool) {
	const (
		worth = 0.002 // of the ground: less is not worth more way
		cured = 0.25
	)
	s := r.Spacing
	k := s.plannedLap()
	if k < 0 || s.Laps[k].Missed < max(worth, r.erring(s.Laps[k].Overlap)) {
		return Lap{}, Lap{}, false
	}
	for _, l := range s.Laps[k+1:] {
		if l.Missed <= cured*s.Laps[k].Missed {
			return s.Laps[k], l, true
		}
	}
	return Lap{}, Lap{}, false
}

// Trade are the lap as planned, every 10 cm beside it, and the one that is better: what is missed and worked twice at each. None where nothing is known of laps.
func (r Result) Trade() (out []Lap) {
	const every = 0.1 // m
	k := r.Spacing.plannedLap()
	_, then, ok := r.Better()
	for i, l := range r.Spacing.Laps {
		if i == k || ok && l == then || math.Abs(l.Overlap-every*math.Round(l.Overlap/every)) <= logRounding {
			out = append(out, l)
		}
	}
	return out
}

// erring is the share of the ground that is missed at an overlap o by a log of rows without fault, whose receiver errs from pass to pass by σ as a standard
// deviation: the mean of max(0, x − o) of a normal x, σ·φ(o/σ) − o·Φ(−o/σ), of what lies between lines.
func (r Result) erring(o float64) float64 {
	from := r.Noise.PassErrorFrom
	if sigma := r.Noise.PassError / drive.In95; sigma > 0 && (from == fromGiven || from == fromQuality) {
		z := o / sigma
		return (sigma*math.Exp(-z*z/2)/math.Sqrt(2*math.Pi) - o*math.Erfc(z/math.Sqrt2)/2) / r.Spacing.Planned
	}
	return 0
}
