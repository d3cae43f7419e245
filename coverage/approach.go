package coverage

import (
	"cmp"
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

// approachReach is how far around a strip's place its passes are looked for at first; then twice as far, and so on.
const approachReach = 4.0 // m, more than half of most bars

// approach is that to a place beside some passes. Of passes as near the lower number serves, of one pass the earlier place.
func (s *surroundings) approach(at plane.XY, passes []int) Approach {
	if len(passes) == 0 {
		return Approach{}
	}
	var best Approach
	stop := 0 // of the best
	best.Aside = math.Inf(1)
	for searched := 0.0; best.Aside > searched && searched < 2*plane.Limit; { // all sides no farther than that have been looked at
		reach := max(approachReach, 2*searched)
		for held := range s.tree.In((plane.Box{Min: at, Max: at}).Grown(reach)) {
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
				away := at.Dist(h.At(t))
				if away < best.Aside || away == best.Aside && cmp.Or(cmp.Compare(h.pass, best.Pass), cmp.Compare(i, stop)) < 0 {
					from := line.run.Stops[i].S
					left := h.B.Sub(h.A).Cross(at.Sub(h.A)) > 0
					best = Approach{Pass: h.pass, Along: from + t*(line.run.Stops[i+1].S-from), Aside: away, Left: left}
					stop = i
				}
			}
		}
		searched = reach
	}
	if best.Pass == 0 {
		return Approach{}
	}
	best.Along -= s.began[best.Pass]
	return best
}
