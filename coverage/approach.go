package coverage

import (
	"math"
	"slices"

	"balk/geo/plane"
)

// Approach is how to get to a strip: along a neighbouring pass, which the driver knows by its track, or the wheel
// marks it left. The zero value: no pass runs beside the strip.
type Approach struct {
	Pass  int     `json:"pass"`  // number of the neighbour nearest to the strip's place
	Along float64 `json:"along"` // m along it, from where it began
	Aside float64 `json:"aside"` // m from the middle of its bar to the strip's place
	Left  bool    `json:"left"`  // the strip lies to the left as that pass was driven, else to the right
}

// approach is that to a place beside some passes. Of passes as near the lower number serves.
func (s *surroundings) approach(at plane.XY, passes []int) Approach {
	if len(passes) == 0 {
		return Approach{}
	}
	var best Approach
	best.Aside = math.Inf(1)
	for held, far2 := range s.tree.Nearby(at) {
		if far2 > best.Aside*best.Aside {
			break // a box holds its sides
		}
		line, ok := held.line.(*passSides)
		if !ok || !slices.Contains(passes, line.run.Pass.Number) {
			continue
		}
		for i := held.from; i < held.to; i++ {
			h, ok := line.side(i)
			if !ok {
				continue
			}
			t := h.Share(at)
			if away := at.Dist(h.At(t)); away < best.Aside || away == best.Aside && h.pass < best.Pass {
				from := line.run.Stops[i].S
				left := h.B.Sub(h.A).Cross(at.Sub(h.A)) > 0
				best = Approach{Pass: h.pass, Along: from + t*(line.run.Stops[i+1].S-from), Aside: away, Left: left}
			}
		}
	}
	if best.Pass == 0 {
		return Approach{}
	}
	best.Along -= s.began[best.Pass]
	return best
}
