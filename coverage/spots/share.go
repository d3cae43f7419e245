package spots

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/chance"
)

// Share is a share of places with its limits at 95 %.
type Share struct {
	Places    int     `json:"places"`    // looked at
	Have      int     `json:"have"`      // of them have it
	Passes    int     `json:"passes"`    // on which they lie
	Effective float64 `json:"effective"` // checks that count where those of one pass share its fault; see effective
	Lower     float64 `json:"lower"`     // two-sided bounds (Clopper-Pearson), by Effective
	Upper     float64 `json:"upper"`
	AtLeast   float64 `json:"atLeast"` // one-sided bound, by Effective
	Alone     float64 `json:"alone"`   // the same, were each check on a pass of its own
}

// whose is the pass that a check shares its fault with.
type whose struct{ operation, pass, check int }

// group is the pass of a check; one that has none is alone.
func group(t Tie) whose {
	if t.Pass == 0 {
		return whose{operation: -1, check: t.Check}
	}
	return whose{operation: t.Operation, pass: t.Pass}
}

// shareOf is the share of the ties that have something.
func shareOf(ties []Tie, has func(Tie) bool) Share {
	s := Share{Places: len(ties)}
	sizes := map[whose]int{}
	for _, t := range ties {
		sizes[group(t)]++
		if has(t) {
			s.Have++
		}
	}
	groups := make([]int, 0, len(sizes))
	for _, m := range sizes {
		groups = append(groups, m)
	}
	slices.Sort(groups)
	s.Passes, s.Effective = len(groups), effective(groups)
	if s.Places == 0 {
		s.Upper = 1
		return s
	}
	n := s.Effective
	k := n * float64(s.Have) / float64(s.Places)
	if s.Have == s.Places {
		k = n // without rounding
	}
	s.Lower, s.Upper = bounds(k, n, confidence)
	s.AtLeast, s.Alone = atLeast(k, n, confidence), atLeast(float64(s.Have), float64(s.Places), confidence)
	return s
}

// Mean is a mean over places, with the interval that holds it at 95 %.
type Mean struct {
	Places    int     `json:"places"`
	Passes    int     `json:"passes"`
	Mean      float64 `json:"mean"`
	Deviation float64 `json:"deviation,omitempty"` // standard deviation of places; 0 for one of them
	Low       float64 `json:"low,omitempty"`       // interval; Low = High = 0 where places lie on one pass only
	High      float64 `json:"high,omitempty"`
}

// Limited says whether the mean has an interval.
func (m Mean) Limited() bool { return m.Passes > 1 }

// value is one of a mean.
type value struct {
	of whose
	v  float64
}

// meanOf is the mean of values. Those of one pass are taken for one draw: the variance of the mean is that between
// passes, G/(G − 1)·Σ(Σ over a pass of (v − mean))²/n² of G passes (linearised, Cochran 1977 chapter 11, from memory), with
// Student's t of G − 1 degrees of freedom. With one check per pass it is s²/n. read is how finely a value is read, m: a spread that
// rounding hides is not taken for none. se is the standard error of the mean.
func meanOf(values []value, read float64) (m Mean, se float64) {
	m.Places = len(values)
	if m.Places == 0 {
		return m, 0
	}
	n := float64(m.Places)
	for _, v := range values {
		m.Mean += v.v / n
	}
	slices.SortStableFunc(values, func(a, b value) int {
		return cmp.Or(cmp.Compare(a.of.operation, b.of.operation), cmp.Compare(a.of.pass, b.of.pass), cmp.Compare(a.of.check, b.of.check))
	})
	var squares, between, sum float64
	for i, v := range values {
		d := v.v - m.Mean
		squares += d * d
		sum += d
		if i+1 == len(values) || values[i+1].of != v.of {
			m.Passes++
			between += sum * sum
			sum = 0
		}
	}
	if m.Places > 1 {
		m.Deviation = math.Sqrt(squares / (n - 1))
	}
	if m.Passes < 2 {
		return m, 0
	}
	g := float64(m.Passes)
	se = math.Sqrt(max(g/(g-1)*between/(n*n), read*read/12/g))
	reach := chance.WithinT(confidence, g-1) * se
	m.Low, m.High = m.Mean-reach, m.Mean+reach
	return m, se
}
