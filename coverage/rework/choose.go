package rework

import (
	"slices"

	"balk/coverage"
)

// Why is the reason a piece of missed ground is not worked again.
type Why string

const (
	WhySliver Why = "too thin to be listed as a strip"
	WhyNoise  Why = "only possible"
	WhyUnsure Why = "not certainly missed"
	WhySmall  Why = "smaller than the least area"
	WhyNarrow Why = "narrower than the least width"
	WhyWay    Why = "not worth the way"
	WhyLess   Why = "too little won per minute"
	WhyTime   Why = "beyond the minutes given"
	WhyShare  Why = "beyond the share given"
)

// Skip is missed ground that is not worked again.
type Skip struct {
	Strip  int     `json:"strip,omitempty"` // its number in the result; 0 = pieces that have none
	Pieces int     `json:"pieces"`
	Area   float64 `json:"area"` // m²
	Why    Why     `json:"why"`
	Worth  float64 `json:"worth,omitempty"` // money, value of the ground; with WhyWay
	Cost   float64 `json:"cost,omitempty"`  // money for the passes and the detour to them; with WhyWay
}

// choose gives the strips that are worth working if the way to them is, as indices,
// and puts all other missed ground into p.Skipped.
func (w *works) choose(p *Plan) []int {
	var wanted []int
	listed := w.r.SliverArea + w.r.Noise.Area
	for k, s := range w.r.Strips {
		listed += s.Area
		if why := w.o.against(s); why != "" {
			p.Skipped = append(p.Skipped, Skip{Strip: s.Number, Pieces: 1, Area: s.Area, Why: why})
			continue
		}
		wanted = append(wanted, k)
	}
	if w.r.Noise.Pieces > 0 {
		p.Skipped = append(p.Skipped, Skip{Pieces: w.r.Noise.Pieces, Area: w.r.Noise.Area, Why: WhyNoise})
	}
	if w.r.Slivers > 0 || w.r.SliverArea > 0 {
		p.Skipped = append(p.Skipped, Skip{Pieces: w.r.Slivers, Area: w.r.SliverArea, Why: WhySliver})
	}
	p.Rounding = w.r.Balance.Missed - listed
	return wanted
}

// against is the reason not to work a strip again whatever the way; "" = none.
func (o Options) against(s coverage.Strip) Why {
	switch {
	case slices.Contains(o.First, s.Number):
		return ""
	case o.CertainOnly && s.Surety != coverage.SuretyCertain:
		return WhyUnsure
	case s.Area < o.LeastArea:
		return WhySmall
	case s.MaxWidth < o.LeastWidth:
		return WhyNarrow
	}
	return ""
}
