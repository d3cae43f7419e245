package coverage

import (
	"cmp"
	"math"
	"slices"
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

// lapsOf are laps from none to lapMost. A spacing is its kind's median (where right sides meet, left sides, or a right and a left one) and what it is off by,
// x. A lap cures only x: a bar that hangs aside, and lines laid too far apart, are in the medians, and have remedies of their own. At an overlap o
// lines lie W − o apart, neighbours W − o + x, so that
//
//	missed = mean of max(0, x − o) / (W − o)        double = mean of max(0, o − x) / (W − o)
//
// of a bar that works its full width W. kinds are the spacings, m.
func lapsOf(planned, width float64, kinds ...[]float64) []Lap {
	var off []float64
	for _, kind := range kinds {
		if len(kind) == 0 {
			continue
		}
		usual := quartiles(slices.Clone(kind))[1]
		for _, s := range kind {
			off = append(off, s-usual)
		}
	}
	if len(off) < fewSpacings {
		return nil
	}
	overlaps := []float64{width - planned}
	for k := 0; float64(k)*lapStep <= min(lapMost, lapWide*width)+logRounding; k++ {
		if o := float64(k) * lapStep; math.Abs(o-overlaps[0]) > logRounding {
			overlaps = append(overlaps, o)
		}
	}
	slices.Sort(overlaps)
	// Of the sorted x the sum of those above o, and below, by sums from the left.
	slices.Sort(off)
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
func (s Spacing) plannedLap() int {
	return slices.IndexFunc(s.Laps, func(l Lap) bool { return math.Abs(l.Overlap-(s.Width-s.Planned)) <= logRounding })
}

// Better are the lap as planned, and the least one at which a quarter of that is missed at most; ok is false where little is missed between passes, or no lap
// cures it.
func (s Spacing) Better() (now, then Lap, ok bool) {
	const (
		worth = 0.002 // of the ground: less is not worth more way
		cured = 0.25
	)
	k := s.plannedLap()
	if k < 0 || s.Laps[k].Missed < worth {
		return Lap{}, Lap{}, false
	}
	for _, l := range s.Laps[k+1:] {
		if l.Missed <= cured*s.Laps[k].Missed {
			return s.Laps[k], l, true
		}
	}
	return Lap{}, Lap{}, false
}
