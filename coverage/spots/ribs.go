package spots

import (
	"cmp"
	"slices"

	"balk/geo"
)

// RibPlace is a place of the bar at which ribs stand more often than chance puts them: a sweep that is lost or worn.
type RibPlace struct {
	At      float64 `json:"at"`      // m from the bar's left end
	Section int     `json:"section"` // of the bar
	Passes  int     `json:"passes"`  // with a rib there ...
	Looked  int     `json:"looked"`  // ... of those that were brushed free there
	Chance  float64 `json:"chance"`  // by which ribs anywhere in the strips would meet so often, for all places together (Bonferroni)
}

// ribReach: ribs so far from each other along the bar may be one sweep's, m: a ruler is laid by hand, and the bar sways (common
// practice, no source).
const ribReach = 0.10

// rib is one of the bar, with where on the bar it might have been seen.
type rib struct {
	of       whose
	op       int
	at       float64
	from, to float64
}

// ribPlaces finds places of the bar with ribs of many passes. For each rib as a place the passes are counted that have another rib
// within ribReach of it, against ribs anywhere in their strips: pass k would have one there by the chance
// 1 − Π(1 − share of the strip within reach), so the count is a sum of unlike draws (Poisson 1837), whose tail is summed
// exactly. The place of a rib is not counted for itself, and chances are multiplied by the number of ribs that are places.
func ribPlaces(checks []geo.SpotCheck, ties []Tie, ops []Operation) []RibPlace {
	var ribs []rib
	type strip struct {
		of       whose
		op       int
		from, to float64
	}
	var strips []strip
	for _, t := range ties {
		c := checks[t.Check]
		if t.Operation < 0 || !c.Brushed() {
			continue
		}
		from, to := c.From, c.From+c.Length
		if c.Length == 0 {
			from, to = 0, ops[t.Operation].Width
		}
		strips = append(strips, strip{group(t), t.Operation, from, to})
		for _, r := range c.Ribs {
			ribs = append(ribs, rib{group(t), t.Operation, r.At, from, to})
		}
	}
	var out []RibPlace
	for len(ribs) > 0 {
		best := RibPlace{Chance: 1}
		var place rib
		for _, at := range ribs {
			hit, other := map[whose]bool{}, map[whose]float64{} // other: the chance that it has none there
			for _, r := range ribs {
				if r.of == at.of || r.op != at.op {
					continue
				}
				if _, known := other[r.of]; !known {
					other[r.of] = 1
				}
				window := min(r.to, at.at+ribReach) - max(r.from, at.at-ribReach)
				other[r.of] *= 1 - min(1, max(0, window)/(r.to-r.from))
				hit[r.of] = hit[r.of] || r.at >= at.at-ribReach-touch && r.at <= at.at+ribReach+touch
			}
			count := 0
			for _, h := range hit {
				if h {
					count++
				}
			}
			if count+1 < leastPasses {
				continue
			}
			chances := make([]float64, 0, len(other))
			for _, none := range other {
				chances = append(chances, 1-none)
			}
			slices.Sort(chances)
			if p := min(1, float64(len(ribs))*orMore(chances, count)); p < best.Chance {
				best, place = RibPlace{Passes: count + 1, Chance: p}, at
			}
		}
		if best.Chance >= 1-confidence {
			break
		}
		sum, n := 0.0, 0.0
		ribs = slices.DeleteFunc(ribs, func(r rib) bool {
			one := r.op == place.op && r.at >= place.at-ribReach-touch && r.at <= place.at+ribReach+touch
			if one {
				sum, n = sum+r.at, n+1
			}
			return one
		})
		best.At = sum / n
		best.Section = ops[place.op].section(best.At)
		looked := map[whose]bool{}
		for _, s := range strips {
			if s.op == place.op && best.At >= s.from && best.At <= s.to {
				looked[s.of] = true
			}
		}
		best.Looked = len(looked)
		out = append(out, best)
	}
	slices.SortFunc(out, func(a, b RibPlace) int { return cmp.Compare(a.At, b.At) })
	return out
}

// orMore is the chance that of draws with these chances so many or more succeed.
func orMore(chances []float64, count int) float64 {
	is := make([]float64, len(chances)+1) // by how many succeeded
	is[0] = 1
	for k, p := range chances {
		for n := k + 1; n > 0; n-- {
			is[n] = is[n]*(1-p) + is[n-1]*p
		}
		is[0] *= 1 - p
	}
	sum := 0.0
	for n := len(is) - 1; n >= max(0, count); n-- { // the smallest first
		sum += is[n]
	}
	return min(1, sum)
}
