package spots

import (
	"math"
	"slices"

	"balk/coverage/chance"
	"balk/geo"
)

// ofRuler is how finely a depth is read off a ruler in the ground, m (common practice, no source).
const ofRuler = 0.005

// held is the share of all places that a tolerance interval holds.
const held = 0.90

// Band is from where to where a depth is wanted, m. The zero one wants nothing.
type Band struct {
	Least float64 `json:"least"`
	Most  float64 `json:"most"`
}

func (b Band) holds(v float64) bool { return v >= b.Least-touch && v <= b.Most+touch }

// touch: depths are told to a millimetre, so that a limit and a reading that are the same differ by rounding only.
const touch = 1e-9 // m

// Depth is how deep it was, by places: that of a place is the mean of its readings.
type Depth struct {
	What     string  `json:"what,omitempty"` // of what; "" = of the cut
	Mean     Mean    `json:"mean"`           // m
	Least    float64 `json:"least"`          // of places, m
	Most     float64 `json:"most"`
	Between  float64 `json:"between"`           // at least so much of all places lies between these two (Wilks 1941), 95 %
	Held     float64 `json:"held"`              // share of all places that ...
	HeldLow  float64 `json:"heldLow,omitempty"` // ... lies from here ...
	HeldHigh float64 `json:"heldHigh,omitempty"`
	Band     *Band   `json:"band,omitempty"`
	In       *Share  `json:"in,omitempty"` // of places whose depth lies in Band
}

// depthOf sums up depths of places.
func depthOf(what string, values []value, ties []Tie, band *Band) Depth {
	d := Depth{What: what, Held: held, Least: math.Inf(1), Most: math.Inf(-1)}
	for _, v := range values {
		d.Least, d.Most = min(d.Least, v.v), max(d.Most, v.v)
	}
	if band != nil {
		at := map[int]float64{}
		for k, v := range values {
			at[ties[k].Check] = v.v
		}
		in := shareOf(ties, func(t Tie) bool { return band.holds(at[t.Check]) })
		d.Band, d.In = band, &in
	}
	d.Mean, _ = meanOf(slices.Clone(values), ofRuler)
	// Checks of one pass agree, so they tell less of the spread: as many as there are passes are counted.
	d.Between = between(d.Mean.Passes, confidence)
	if d.Mean.Passes > 1 {
		reach := toleranceFactor(d.Mean.Passes, held, confidence) * max(d.Mean.Deviation, ofRuler/math.Sqrt(12))
		d.HeldLow, d.HeldHigh = d.Mean.Mean-reach, d.Mean.Mean+reach
	}
	return d
}

// middleDepth is the depth at the place of a check.
func middleDepth(c geo.SpotCheck) (float64, bool) {
	sum := 0.0
	for _, d := range c.Depths {
		sum += d.Value
	}
	return sum / float64(len(c.Depths)), len(c.Depths) > 0
}

// depthsAt are the depths of a check with their places on the bar; those without a place are spread evenly over the
// strip brushed free, or over the bar.
func depthsAt(c geo.SpotCheck, width float64) []geo.SpotValue {
	from, length := c.From, c.Length
	if length == 0 {
		from, length = 0, width
	}
	out := slices.Clone(c.Depths)
	for k := range out {
		if out[k].At < 0 {
			out[k].At = from + length*(float64(k)+0.5)/float64(len(out))
		}
	}
	return out
}

// SectionDepth is how much deeper a section of the bar works than the others beside it at the same places.
type SectionDepth struct {
	Section  int     `json:"section"`
	Deeper   Mean    `json:"deeper"`   // m than the mean of the other sections; below 0: shallower
	Chance   float64 `json:"chance"`   // by which a section that is no deeper would seem so by as much, for all sections together (Holm 1979)
	Stands   bool    `json:"stands"`   // out: Chance is below 5 %
	Sections int     `json:"sections"` // tested
}

// leastPasses: with fewer passes Student's t says nothing of use.
const leastPasses = 3

// sectionDepths tests each section against the others at the same places (a paired t test, so that soil and speed, which are
// theirs together, cancel), passes taken for draws as in meanOf. Of k sections the chances are corrected by Holm's (1979) steps.
// Where one stands out, that with the least chance and of two as sure the deeper, it is told, and the others are tested without
// it: beside a deep section all others seem shallow.
func sectionDepths(checks []geo.SpotCheck, ties []Tie, ops []Operation) []SectionDepth {
	var told []SectionDepth
	out := map[int]bool{}
	for {
		tested := sectionTests(checks, ties, ops, out)
		best := -1
		for k, s := range tested {
			if s.Stands && (best < 0 || s.Chance < tested[best].Chance || s.Chance == tested[best].Chance && s.Deeper.Mean > tested[best].Deeper.Mean) {
				best = k
			}
		}
		if best < 0 {
			told = append(told, tested...)
			slices.SortFunc(told, func(a, b SectionDepth) int { return a.Section - b.Section })
			return told
		}
		told = append(told, tested[best])
		out[tested[best].Section] = true
	}
}

// sectionTests are the tests of the sections that are not left out.
func sectionTests(checks []geo.SpotCheck, ties []Tie, ops []Operation, leftOut map[int]bool) []SectionDepth {
	deeper := map[int][]value{}
	for _, t := range ties {
		if t.Operation < 0 {
			continue
		}
		o := &ops[t.Operation]
		sums, counts := make([]float64, len(o.Sections)+1), make([]float64, len(o.Sections)+1)
		for _, d := range depthsAt(checks[t.Check], o.Width) {
			if s := o.section(d.At); !leftOut[s] {
				sums[s] += d.Value
				counts[s]++
			}
		}
		total, seen := 0.0, 0.0
		for s := range sums {
			if counts[s] > 0 {
				sums[s] /= counts[s]
				total += sums[s]
				seen++
			}
		}
		if seen < 2 {
			continue
		}
		for s := range sums {
			if counts[s] > 0 {
				deeper[s] = append(deeper[s], value{group(t), sums[s] - (total-sums[s])/(seen-1)})
			}
		}
	}
	var out []SectionDepth
	for s, values := range deeper {
		m, se := meanOf(values, ofRuler)
		if m.Passes >= leastPasses {
			out = append(out, SectionDepth{Section: s, Deeper: m, Chance: chance.BeyondT(m.Mean/se, float64(m.Passes-1))})
		}
	}
	slices.SortFunc(out, func(a, b SectionDepth) int { return a.Section - b.Section })
	chances := make([]float64, len(out))
	for k := range out {
		chances[k] = out[k].Chance
	}
	for k, p := range holm(chances) {
		out[k].Chance, out[k].Stands, out[k].Sections = p, p < 1-confidence, len(out)
	}
	return out
}

// holm corrects the chances of several tests made together (Holm 1979): the k-th smallest of m is multiplied by m − k + 1, and
// none is smaller than one before it.
func holm(chances []float64) []float64 {
	order := make([]int, len(chances))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case chances[a] < chances[b]:
			return -1
		case chances[a] > chances[b]:
			return 1
		}
		return 0
	})
	out, most := make([]float64, len(chances)), 0.0
	for k, i := range order {
		most = max(most, min(1, chances[i]*float64(len(chances)-k)))
		out[i] = most
	}
	return out
}
